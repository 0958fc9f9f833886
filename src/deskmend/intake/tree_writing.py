"""Writing a tree of texts as YAML that is read back as the same tree; remarks are not part of it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping

from deskmend.errors import DefectError, FaultList
from deskmend.intake.reading.yaml_tree import (
    Loc,
    MappingNode,
    ScalarNode,
    SequenceNode,
    YamlNode,
    parse_tree,
    to_plain,
)

_BARE = re.compile(r"[A-Za-z0-9_.+-][A-Za-z0-9_.+/ -]*", re.ASCII)
"""Texts that need no quotes: no sign that YAML reads anything into, no blank at the end."""
_SHORT = 88
"""Longest group written in one line [characters]."""


def tree_text(root: YamlNode) -> str:
    """Write a tree; groups of a few single values stand in one line, as people write them."""
    return "".join(f"{line}\n" for line in _lines(root))


def tree_of(plain: object) -> YamlNode:
    """Give the tree of nested groups and lists of texts; the other way round from `to_plain`."""
    if isinstance(plain, Mapping):
        return MappingNode(tuple((ScalarNode(str(key), 0), tree_of(one)) for key, one in plain.items()), 0)
    if isinstance(plain, list | tuple):
        return SequenceNode(tuple(map(tree_of, plain)), 0)
    return ScalarNode(str(plain), 0)


def with_value(node: YamlNode | None, loc: Loc, value: YamlNode) -> YamlNode:
    """Give a tree with a value at a path; what is missing on the way is made."""
    if not loc:
        return value
    part, rest = loc[0], loc[1:]
    if isinstance(part, int):
        if not isinstance(node, SequenceNode):
            raise DefectError(f"no list to put {part} into")
        items = list(node.items)
        items[part] = with_value(items[part], rest, value)
        return SequenceNode(tuple(items), node.line)
    entries = list(node.entries) if isinstance(node, MappingNode) else []
    for at, (key, there) in enumerate(entries):
        if key.text == part:
            entries[at] = (key, with_value(there, rest, value))
            break
    else:
        entries.append((ScalarNode(part, 0), with_value(None, rest, value)))
    return MappingNode(tuple(entries), 0)


def without_value(node: YamlNode, loc: Loc) -> YamlNode:
    """Give a tree without what stands at a path of keys; the same tree where nothing stands there."""
    if not isinstance(node, MappingNode):
        return node
    part, rest = loc[0], loc[1:]
    entries = [
        (key, without_value(there, rest) if rest and key.text == part else there)
        for key, there in node.entries
        if rest or key.text != part
    ]
    return MappingNode(tuple(entries), node.line)


def text_with(text: str, root: YamlNode) -> str:
    """Write a tree over the text that it came from, and keep what has not changed to the letter.

    Kept is what stands under each first key whose value is as it was, remarks too. Where the text is not
    written key by key, the whole of it is written anew.
    """
    old = parse_tree(text, "", FaultList(""))
    if old is None or not isinstance(old.root, MappingNode) or not isinstance(root, MappingNode):
        return tree_text(root)
    lines = text.splitlines(keepends=True)
    starts = [key.line - 1 for key, _ in old.root.entries]
    ends = [*starts[1:], len(lines)]
    pieces = {key.text: lines[a:b] for (key, _), a, b in zip(old.root.entries, starts, ends, strict=True)}
    was = {key.text: to_plain(value) for key, value in old.root.entries}
    out = lines[: starts[0]] if starts else lines
    for key, value in root.entries:
        mine = pieces.get(key.text, [])
        if key.text in was and was[key.text] == to_plain(value):
            out += mine
            continue
        if out and not out[-1].endswith("\n"):
            out[-1] += "\n"
        behind = next((at for at, line in enumerate(reversed(mine)) if line.strip() and line[0] != "#"), 0)
        out += [
            *tree_text(MappingNode(((key, value),), 0)).splitlines(keepends=True),
            *mine[len(mine) - behind :],
        ]
    written = "".join(out)
    again = parse_tree(written, "", FaultList(""))
    return written if again is not None and to_plain(again.root) == to_plain(root) else tree_text(root)


def _lines(node: YamlNode) -> list[str]:
    if isinstance(node, ScalarNode):
        return [_scalar(node)]
    out = []
    if isinstance(node, MappingNode):
        for key, value in node.entries:
            name = _scalar(key)
            flat = _flat(value)
            if flat is not None:
                out.append(f"{name}: {flat}".rstrip())
            else:
                out.append(f"{name}:")
                out += [f"  {line}" for line in _lines(value)]
        return out
    for item in node.items:
        flat = _flat(item)
        first, *rest = [flat] if flat is not None else _lines(item)
        out.append(f"- {first}")
        out += [f"  {line}" for line in rest]
    return out


def _flat(node: YamlNode) -> str | None:
    """Give a node in one line; None where it is too long or too deep for that."""
    if isinstance(node, ScalarNode):
        return _scalar(node)
    if isinstance(node, SequenceNode):
        parts = [_flat(one) for one in node.items]
        text = None if None in parts else f"[{', '.join(part or '' for part in parts)}]"
    else:
        pairs = [(_scalar(key), _flat(value)) for key, value in node.entries]
        told = [f"{key}: {value}".rstrip() for key, value in pairs if value is not None]
        text = None if len(told) < len(pairs) else f"{{{', '.join(told)}}}"
    return text if text is not None and len(text) <= _SHORT else None


def _scalar(node: ScalarNode) -> str:
    if not node.text and not node.quoted:
        return ""
    if _BARE.fullmatch(node.text) and not node.text.endswith(" ") and node.text.strip("-."):
        return node.text
    return json.dumps(node.text, ensure_ascii=False)
