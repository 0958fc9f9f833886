"""Reading YAML safely into a tree of texts that know their lines, and writing such a tree.

Only plain structure is taken: mappings, lists and single values, each value as the text that was written.
Nothing is typed here (``no`` stays ``no``, ``1:30`` stays ``1:30``), nothing is built from tags, and what a
parser could blow up on (anchors, tags, deep nesting, several documents, large files) is a fault.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from deskmend.errors import DefectError, Fault, FaultList, InputFaults
from deskmend.intake.reading.text_file import read_bounded_text

Loc = Sequence[str | int]
"""Path to a value: keys and positions in lists, from the top."""

Plain = str | None | list[Any] | dict[str, Any]
"""A tree without lines: mappings, lists, texts, and None for a key with nothing behind it."""


@dataclass(frozen=True, slots=True)
class ScalarNode:
    """One value, as the text that was written."""

    text: str
    """Quotes are taken off."""
    line: int
    quoted: bool = False
    """Whether it stood in quotes or as a block; an empty text without quotes is no value at all."""


@dataclass(frozen=True, slots=True)
class SequenceNode:
    """A list, and the line where it begins."""

    items: tuple[YamlNode, ...]
    line: int


@dataclass(frozen=True, slots=True)
class MappingNode:
    """A mapping, and the line where it begins; of a repeated key only the first is kept."""

    entries: tuple[tuple[ScalarNode, YamlNode], ...]
    line: int


YamlNode = ScalarNode | SequenceNode | MappingNode


@dataclass(frozen=True, slots=True)
class YamlTree:
    """A file's content with its lines."""

    file: str
    """Path as the user gave it."""
    root: YamlNode

    def line_of(self, loc: Loc) -> int:
        """Return the line of the deepest part of a path that exists.

        That is the line of the key for a mapping or list, of the value for a single value; for something
        missing, the line of what it is missing from.
        """
        node, line = self.root, self.root.line
        for part in loc:
            step = _step(node, part)
            if step is None:
                continue
            node, line = step
        return line

    def key_line(self, loc: Loc) -> int:
        """Return the line on which the last key of a path stands; `line_of` where there is no such key."""
        node: YamlNode = self.root
        for part in loc[:-1]:
            step = _step(node, part)
            if step is None:
                return self.line_of(loc)
            node = step[0]
        if isinstance(node, MappingNode) and loc:
            for key, _ in node.entries:
                if key.text == loc[-1]:
                    return key.line
        return self.line_of(loc)


def _step(node: YamlNode, part: str | int) -> tuple[YamlNode, int] | None:
    if isinstance(node, MappingNode):
        for key, value in node.entries:
            if key.text == part:
                single = isinstance(value, ScalarNode) and (value.text or value.quoted)
                return value, value.line if single else key.line
    elif isinstance(node, SequenceNode) and isinstance(part, int) and 0 <= part < len(node.items):
        return node.items[part], node.items[part].line
    return None


def to_plain(node: YamlNode) -> Plain:
    """Drop the lines from a tree; a key with nothing behind it gives None."""
    if isinstance(node, ScalarNode):
        return node.text if node.text or node.quoted else None
    if isinstance(node, SequenceNode):
        return [to_plain(item) for item in node.items]
    return {key.text: to_plain(value) for key, value in node.entries}


MOST_BYTES = 1_000_000
"""Largest file [bytes]."""

MAX_DEPTH = 20
"""Deepest nesting of mappings and lists [levels]."""

MAX_NODES = 50_000
"""Most values in one file; a case needs a few hundred."""

_READ_AGAIN = 5_000
"""Most lines of a text that is read once more where it fails, so that all machines word it alike."""

_ALLOWED_YAML = 'keys and values as "key: value", indented with spaces'


def load_tree(path: str | Path, limit: int = MOST_BYTES) -> YamlTree:
    """Read a YAML file of at most `limit` bytes; `InputFaults` with all that is wrong with it."""
    tree, faults = read_tree(path, limit)
    if tree is None or faults:
        raise InputFaults(faults)
    return tree


def read_tree(path: str | Path, limit: int = MOST_BYTES) -> tuple[YamlTree | None, list[Fault]]:
    """Read a YAML file as far as it goes, so that faults of its content can be told beside its own.

    None where reading ended early; a tree may come with faults, as of keys written twice.
    """
    faults = FaultList(str(path))
    text = read_bounded_text(path, limit, faults)
    tree = None if text is None else parse_tree(text, str(path), faults)
    return tree, list(faults)


def parse_tree(text: str, file: str, faults: FaultList, *, pure: bool = False) -> YamlTree | None:
    """Build a tree from decoded YAML text as far as it can be read; None where reading ended early.

    Reading goes on after repeated keys, anchors, aliases, tags and keys that are not single values; it ends
    at broken YAML, nesting over `MAX_DEPTH` and further documents. Compare `faults` too.

    `pure` takes the parser written in Python even where the compiled one is there. Both give the same, but
    for a note glued to a block mark (``|#``), which only the compiled one takes, and for the words in which a
    mark such as ``!:!`` is refused.
    """
    if _refuse_tabs(text, faults):
        return None
    if not pure and yaml.__with_libyaml__:
        trial = FaultList(file, faults.limit)
        builder = _Builder(trial)
        error = _feed(builder, text, yaml.CSafeLoader)
        if error is None:
            faults.extend(trial)
            return None if builder.root is None or builder.stopped else YamlTree(file, builder.root)
        if text.count("\n") > _READ_AGAIN:
            faults.extend(trial)
            _tell(error, text, faults)
            return None
        # The compiled parser refuses some texts that the other takes, and words its refusals otherwise:
        # where it fails on a text of common length the other one decides, so that all machines tell the same.
    builder = _Builder(faults)
    error = _feed(builder, text, yaml.SafeLoader)
    if error is not None:
        _tell(error, text, faults)
    return (
        None if error is not None or builder.root is None or builder.stopped else YamlTree(file, builder.root)
    )


def _tell(error: Exception, text: str, faults: FaultList) -> None:
    if isinstance(error, yaml.MarkedYAMLError):
        _explain(error, text, faults)
    else:
        faults.add(None, "", None, _ALLOWED_YAML, "", "is not readable as YAML")


def _refuse_tabs(text: str, faults: FaultList) -> bool:
    """Refuse tabs anywhere: the two parsers differ over where a tab may stand, and people cannot see it."""
    found = False
    for number, line in enumerate(text.splitlines(), start=1):
        if "\t" in line and not faults.full:
            found = True
            faults.add(number, "", line.strip(), "spaces", "put spaces in place of the tab", "holds a tab")
    return found


def _feed(builder: _Builder, text: str, loader: Any) -> Exception | None:
    """Run a parser; give back what it raised, or None where it came to an end or was stopped."""
    try:
        for event in yaml.parse(text, Loader=loader):
            if not builder.take(event):
                builder.stopped = True
                return None
    except (yaml.YAMLError, ValueError, OverflowError) as error:
        # The parser in Python raises bare ValueErrors: escapes beyond Unicode, huge version numbers.
        return error
    root = builder.root
    if root is None or (isinstance(root, ScalarNode) and not root.text and not root.quoted):
        builder.root = None
        builder.faults.add(None, "", None, "at least one value", "", "is empty")
    return None


@dataclass(slots=True)
class _Open:
    """A mapping or list whose end has not come yet."""

    line: int
    is_mapping: bool
    items: list[YamlNode]
    entries: list[tuple[ScalarNode, YamlNode]]
    seen: dict[str, int]
    key: ScalarNode | None = None
    key_refused: bool = False


class _Builder:
    """Turns parser events into nodes, with a stack of its own so that depth is bounded by count."""

    def __init__(self, faults: FaultList) -> None:
        self.faults = faults
        self.root: YamlNode | None = None
        self.stopped = False
        self._stack: list[_Open] = []
        self._documents = 0
        self._nodes = 0

    def take(self, event: Any) -> bool:
        """Take one event; False ends the reading, with a fault recorded."""
        line = event.start_mark.line + 1
        if isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                self.faults.add(line, "", None, "one document", 'remove the line "---"', "a second document")
                return False
        elif isinstance(event, yaml.AliasEvent):
            self._fault(line, f"*{event.anchor}", "no aliases", "write the value out again")
            return self._value(ScalarNode("", line), line)
        elif isinstance(event, yaml.ScalarEvent):
            self._refuse_marks(event, line)
            if not event.value.isascii() and any("\ud800" <= one <= "\udfff" for one in event.value):
                self._fault(line, event.value, "characters of Unicode", "")
                return self._value(ScalarNode("", line), line)
            quoted = event.style in ("'", '"', "|", ">")
            return self._value(ScalarNode(event.value, line, quoted), line)
        elif isinstance(event, yaml.CollectionStartEvent):
            self._refuse_marks(event, line)
            if len(self._stack) >= MAX_DEPTH:
                self._fault(line, None, f"at most {MAX_DEPTH} levels", "", "is nested too deeply")
                return False
            self._stack.append(_Open(line, isinstance(event, yaml.MappingStartEvent), [], [], {}))
        elif isinstance(event, yaml.CollectionEndEvent):
            done = self._stack.pop()
            if done.is_mapping:
                return self._value(MappingNode(tuple(done.entries), done.line), done.line)
            return self._value(SequenceNode(tuple(done.items), done.line), done.line)
        return True

    def _refuse_marks(self, event: Any, line: int) -> None:
        if event.anchor is not None:
            self._fault(line, f"&{event.anchor}", "no anchors", "write the value out again")
        if event.tag is not None:
            self._fault(line, str(event.tag), "no tags", "leave the mark with ! out")

    def _value(self, node: YamlNode, line: int) -> bool:
        self._nodes += 1
        if self._nodes > MAX_NODES:
            self.faults.add(line, "", None, f"at most {MAX_NODES} values", "", "holds too many values")
            return False
        if not self._stack:
            self.root = node
            return True
        top = self._stack[-1]
        if not top.is_mapping:
            top.items.append(node)
        elif top.key is None and not top.key_refused:
            self._key(top, node, line)
        else:
            if top.key is not None:
                top.entries.append((top.key, _beside(top.key, node)))
            top.key, top.key_refused = None, False
        return not self.faults.full

    def _key(self, top: _Open, node: YamlNode, line: int) -> None:
        if not isinstance(node, ScalarNode) or not (node.text or node.quoted):
            self._fault(line, None, "a single word as key", "", "the key is not a single word")
            top.key_refused = True
        elif node.text in top.seen:
            first = top.seen[node.text]
            self._fault(
                line,
                node.text,
                "each key once",
                "keep one of the two",
                f"key written twice, first on line {first}",
            )
            top.key_refused = True
        else:
            top.seen[node.text] = line
            top.key = node

    def _fault(self, line: int, read: str | None, allowed: str, hint: str, note: str = "") -> None:
        self.faults.add(line, ".".join(self._path()), read, allowed, hint, note)

    def _path(self) -> Iterator[str]:
        for level in self._stack:
            if not level.is_mapping:
                yield str(len(level.items))
            elif level.key is not None:
                yield level.key.text


def _beside(key: ScalarNode, node: YamlNode) -> YamlNode:
    """Give a value left out the line of its key: the parsers differ over where it would stand."""
    if isinstance(node, ScalarNode) and not node.text and not node.quoted:
        return ScalarNode("", key.line)
    return node


def _explain(error: yaml.MarkedYAMLError, text: str, faults: FaultList) -> None:
    """Say in our own words what broke, since the two parsers word and place it differently."""
    lines = text.splitlines() or [""]
    mark = error.problem_mark or error.context_mark
    row = min(mark.line if mark is not None else 0, len(lines) - 1)
    opened = error.context_mark.line if error.context_mark is not None else row
    problem = f"{error.context or ''} {error.problem or ''}"
    hint = ""
    if "quoted scalar" in problem:
        row, hint = min(opened, len(lines) - 1), "a quotation mark is opened and not closed"
    elif "flow" in problem:
        row, hint = (
            min(opened, len(lines) - 1),
            "a bracket is opened and not closed, or a comma is missing",
        )
    elif "mapping values are not allowed" in problem:
        hint = 'put quotes around a text that holds ": "'
    elif "expected ':'" in problem or "simple key" in problem:
        hint = 'a key needs ": " behind it'
    elif "block" in problem:
        hint = "lines of one group begin at the same column"
    elif "directive" in problem or "document start" in problem:
        hint = "leave out lines that begin with %"
    faults.add(row + 1, "", lines[row].strip(), _ALLOWED_YAML, hint, "is not readable as YAML")


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
