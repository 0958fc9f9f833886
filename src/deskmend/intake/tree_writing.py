"""Writing a tree of texts as YAML that is read back as the same tree; remarks are not part of it."""

from __future__ import annotations

import json
import re

from deskmend.intake.reading.yaml_tree import MappingNode, ScalarNode, SequenceNode, YamlNode

_BARE = re.compile(r"[A-Za-z0-9_.+-][A-Za-z0-9_.+/ -]*", re.ASCII)
"""Texts that need no quotes: no sign that YAML reads anything into, no blank at the end."""
_SHORT = 88
"""Longest group written in one line [characters]."""


def tree_text(root: YamlNode) -> str:
    """Write a tree; groups of a few single values stand in one line, as people write them."""
    return "".join(f"{line}\n" for line in _lines(root))


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
