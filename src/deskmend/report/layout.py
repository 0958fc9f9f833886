"""Pages as blocks, laid out in fixed width and plain characters for files and pipes.

A screen lays the same blocks out otherwise (`deskmend.report.screen`), a web page writes them as HTML
(`deskmend.report.html.blocks`).
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextvars import ContextVar
from dataclasses import dataclass

from deskmend.errors import visible

__all__ = ["WIDTH", "Block", "Fold", "Heading", "Page", "Rows", "Space", "Wrapped", "laid_out", "wrapped"]

WIDTH = 100
"""Longest line [characters]; fixed, so that the same input gives the same bytes in every window."""


@dataclass(frozen=True)
class Heading:
    """Title of a section."""

    text: str


@dataclass(frozen=True)
class Space:
    """An empty line, never two."""


@dataclass(frozen=True)
class Wrapped:
    """Wrapped text: what stands before its first line, and before further ones."""

    text: str
    first: str
    rest: str


@dataclass(frozen=True)
class Rows:
    """A table: rows of one length, columns set flush right, whether the first row is its head."""

    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...]
    indent: int
    head: bool


Block = Heading | Space | Wrapped | Rows


@dataclass(frozen=True)
class Fold:
    """One line in plain words for a web page, and what folds out behind it; nothing folds out where empty."""

    line: str
    details: tuple[str, ...] = ()


class Page:
    """Text that grows block by block.

    Every piece of text passes `deskmend.errors.visible`, so nothing a file holds can act on a terminal.
    Indents are in characters; an empty text adds nothing.
    """

    def __init__(self) -> None:
        self._blocks: list[Block] = []

    def heading(self, text: str) -> None:
        """Start a section."""
        self.blank()
        self._blocks.append(Heading(visible(text, None)))

    def blank(self) -> None:
        """Leave one line empty, never two."""
        self._blocks.append(Space())

    def paragraph(self, text: str, indent: int = 0) -> None:
        """Add wrapped text."""
        self._wrap(text, " " * indent, " " * indent)

    def point(self, mark: str, text: str, indent: int = 0) -> None:
        """Add wrapped text behind a mark, as ``-`` or ``3.``; further lines stand under the text."""
        first = f"{' ' * indent}{mark} "
        self._wrap(text, first, " " * len(first))

    def points(self, texts: Sequence[str], indent: int = 0, mark: str = "-") -> None:
        """Add one point a text."""
        for text in texts:
            self.point(mark, text, indent)

    def numbered(self, texts: Sequence[str], start: int = 1, indent: int = 0) -> None:
        """Add one point a text, with numbers from `start` on."""
        for number, text in enumerate(texts, start):
            self.point(f"{number}.", text, indent)

    def _wrap(self, text: str, first: str, rest: str) -> None:
        if text:
            self._blocks.append(Wrapped(visible(text, None), first, rest))

    def table(
        self, rows: Sequence[Sequence[str]], right: Sequence[int] = (), indent: int = 2, head: bool = False
    ) -> None:
        """Add rows in columns, some flush right; the last one takes what is left of the width and is wrapped.

        With `head` the first row names the columns; only a screen or a web page shows it otherwise.
        """
        if rows:
            shown = tuple(tuple(visible(cell, None) for cell in row) for row in rows)
            self._blocks.append(Rows(shown, tuple(right), indent, head))

    def text(self) -> str:
        """Everything so far, ending in one line end; within `for_screen` as a screen shows it."""
        return laid_out.get()(self._blocks)


def wrapped(text: Wrapped, width: int) -> list[str]:
    """Lines of a text, none longer than `width` [characters]."""
    return textwrap.wrap(
        text.text, width, initial_indent=text.first, subsequent_indent=text.rest, break_on_hyphens=False
    )


def _plain(blocks: Sequence[Block]) -> str:
    lines: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            lines += textwrap.wrap(block.text, WIDTH)
            lines.append("-" * min(len(block.text), WIDTH))
        elif isinstance(block, Wrapped):
            lines += wrapped(block, WIDTH)
        elif isinstance(block, Rows):
            lines += _columns(block)
        elif lines and lines[-1]:
            lines.append("")
    return "\n".join(lines).rstrip("\n") + "\n"


laid_out: ContextVar[Callable[[Sequence[Block]], str]] = ContextVar("laid_out", default=_plain)
"""How blocks become text now; `deskmend.report.screen.for_screen` puts another way in its place."""


def _columns(table: Rows) -> Iterator[str]:
    widths = [max(len(row[number]) for row in table.rows) for number in range(len(table.rows[0]))]
    for row in table.rows:
        cells = [
            cell.rjust(width) if number in table.right else cell.ljust(width)
            for number, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        start = " " * table.indent + "  ".join(cells[:-1]) + ("  " if len(cells) > 1 else "")
        # A column that leaves the last one no room would wrap to one letter a line.
        room = max(WIDTH - len(start), 20)
        parts = textwrap.wrap(cells[-1], room, break_on_hyphens=False) or [""]
        if len(row) - 1 in table.right:
            parts = [cells[-1]]
        yield (start + parts[0]).rstrip()
        yield from (" " * len(start) + part for part in parts[1:])
