"""A file's content as texts that know their lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Loc = Sequence[str | int]
"""Path to a value: keys and positions in lists, from the top."""

Plain = str | None | list[Any] | dict[str, Any]
"""A tree without lines: mappings, lists, texts, and None for a key with nothing behind it."""


@dataclass(frozen=True, slots=True)
class ScalarNode:
    """One value, as the text that was written.

    Attributes
    ----------
    text : str
        The text; quotes are taken off.
    line : int
        Line of the value, from 1.
    quoted : bool
        Whether it stood in quotes or as a block; an empty text without quotes is no value at all.
    """

    text: str
    line: int
    quoted: bool = False


@dataclass(frozen=True, slots=True)
class SequenceNode:
    """A list.

    Attributes
    ----------
    items : tuple of Node
        Its members in order.
    line : int
        Line where it begins.
    """

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True, slots=True)
class MappingNode:
    """A mapping with distinct keys.

    Attributes
    ----------
    entries : tuple of (ScalarNode, Node)
        Keys and values in the order written; of a repeated key only the first.
    line : int
        Line where it begins.
    """

    entries: tuple[tuple[ScalarNode, Node], ...]
    line: int


Node = ScalarNode | SequenceNode | MappingNode


@dataclass(frozen=True, slots=True)
class Tree:
    """A file's content with its lines.

    Attributes
    ----------
    file : str
        Path of the file as the user gave it.
    root : Node
        The outermost value.
    """

    file: str
    root: Node

    def line_of(self, loc: Loc) -> int:
        """Return the line of the deepest part of a path that exists.

        Parameters
        ----------
        loc : sequence of str or int
            Keys and list positions from the top; what does not exist is passed over.

        Returns
        -------
        int
            Line of the key for a mapping or list, of the value for a single value; for something
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
        """Return the line on which the last key of a path stands.

        Parameters
        ----------
        loc : sequence of str or int
            Keys and list positions from the top.

        Returns
        -------
        int
            Line of the key itself; `line_of` where there is no such key.
        """
        node: Node = self.root
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


def _step(node: Node, part: str | int) -> tuple[Node, int] | None:
    if isinstance(node, MappingNode):
        for key, value in node.entries:
            if key.text == part:
                single = isinstance(value, ScalarNode) and (value.text or value.quoted)
                return value, value.line if single else key.line
    elif isinstance(node, SequenceNode) and isinstance(part, int) and 0 <= part < len(node.items):
        return node.items[part], node.items[part].line
    return None


def to_plain(node: Node) -> Plain:
    """Drop the lines from a tree.

    Parameters
    ----------
    node : Node
        Any node.

    Returns
    -------
    dict, list, str or None
        Mappings as dict, lists as list, values as their text; a key with nothing behind it gives None.
    """
    if isinstance(node, ScalarNode):
        return node.text if node.text or node.quoted else None
    if isinstance(node, SequenceNode):
        return [to_plain(item) for item in node.items]
    return {key.text: to_plain(value) for key, value in node.entries}
