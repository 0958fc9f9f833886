"""Pages as blocks, laid out in fixed width and plain characters for files and pipes.

A screen lays the same blocks out otherwise (`deskmend.report.screen`), a web page writes them as HTML
(`deskmend.report.html.blocks`).
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from itertools import groupby, zip_longest

from deskmend.errors import visible

__all__ = [
    "BAR_CELL",
    "WIDEST",
    "WIDTH",
    "Block",
    "Fold",
    "Heading",
    "Page",
    "Rows",
    "Space",
    "Wrapped",
    "bars",
    "laid_out_by",
    "plain_text",
    "width_in",
    "wrapped",
]

WIDTH = 80
"""Longest line in files and pipes [characters]; fixed, so that the same input gives the same bytes."""
WIDEST, NARROWEST = 100, 40
"""Most and least width that text is laid out for in a window [characters]."""
LEAST_ROOM = 24
"""Least width in which the last column of a table stands beside the others [characters]."""
LEAST_NAME = 12
"""Least width that the first column of a table is brought down to [characters]."""
BAR_CELL = re.compile(r"[#.+]+")
"""A cell that shows strain as a bar."""


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
        """Everything so far, ending in one line end; within `laid_out_by` as it has it."""
        return _laid_out.get()(self._blocks)


def wrapped(text: Wrapped, width: int) -> list[str]:
    """Lines of a text, none longer than `width` [characters]."""
    return textwrap.wrap(
        text.text, width, initial_indent=text.first, subsequent_indent=text.rest, break_on_hyphens=False
    )


def width_in(columns: int) -> int:
    """Width to lay text out for in a window of so many columns."""
    return max(NARROWEST, min(columns, WIDEST))


@contextmanager
def laid_out_by(render: Callable[[Sequence[Block]], str]) -> Iterator[None]:
    """Lay pages out in another way within a ``with`` block."""
    token = _laid_out.set(render)
    try:
        yield
    finally:
        _laid_out.reset(token)


def plain_text(blocks: Sequence[Block], width: int = WIDTH) -> str:
    """Text in plain characters, for files, pipes and terminals that take nothing else."""
    lines: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            lines += textwrap.wrap(block.text, width)
            lines.append("-" * min(len(block.text), width))
        elif isinstance(block, Wrapped):
            lines += wrapped(block, width)
        elif isinstance(block, Rows):
            lines += _columns(block, width)
        elif lines and lines[-1]:
            lines.append("")
    return "\n".join(lines).rstrip("\n") + "\n"


_laid_out: ContextVar[Callable[[Sequence[Block]], str]] = ContextVar("laid_out", default=plain_text)
"""How blocks become text now; `laid_out_by` puts another way in its place."""


def _columns(table: Rows, width: int) -> Iterator[str]:
    """Lines of a table; if it is too wide, its last column is wrapped or stands below, or the first gives."""
    rows, last = table.rows, len(table.rows[0]) - 1
    start, flush = " " * table.indent, last in table.right
    widths = [max(len(row[number]) for row in rows) for number in range(last + 1)]
    room = width - table.indent - sum(widths[:last]) - 2 * last
    below = last > 0 and not flush and room < min(LEAST_ROOM, widths[last])
    if bars(rows, last):
        rows, below = _shortened(rows, room), False
    elif last and (below or flush):
        over = -room - 2 if below else widths[last] - room
        widths[0] = max(widths[0] - max(over, 0), min(LEAST_NAME, widths[0]))
    tail = start + " " * 4 if below else " " * (width - room)
    for row in rows:
        ends = [row[last]] if flush else _parts(row[last], width - len(tail))
        names = _parts(row[0], widths[0]) if last else ends
        beside = [] if below or not last else ends
        for number, (name, end) in enumerate(zip_longest(names or [""], beside, fillvalue="")):
            between = row[1:last] if number == 0 else ("",) * (last - 1)
            cells = (name, *between, end) if last else (name,)
            yield (start + "  ".join(_filled(cells, widths, table.right))).rstrip()
        yield from (tail + end for end in ends if below)


def _parts(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, max(width, 1), break_on_hyphens=False)


def _filled(cells: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> Iterator[str]:
    for number, cell in enumerate(cells):
        yield cell.rjust(widths[number]) if number in right else cell.ljust(widths[number])


def bars(rows: Sequence[Sequence[str]], column: int) -> bool:
    """Whether a column holds bars, its head aside."""
    cells = [row[column] for row in rows[1:] if row[column]]
    return bool(cells) and all(BAR_CELL.fullmatch(cell) for cell in cells)


def _shortened(rows: Sequence[tuple[str, ...]], room: int) -> tuple[tuple[str, ...], ...]:
    """Rows whose bars, in the last column, keep to the room, all by the same measure."""
    longest = max(len(row[-1]) for row in rows if BAR_CELL.fullmatch(row[-1]))
    if longest <= room:
        return tuple(rows)

    def shorter(bar: str) -> str:
        if not BAR_CELL.fullmatch(bar):
            return bar
        out, end = "", 0
        for sign, run in groupby(bar):
            end += len(list(run))
            out += sign * max(end * room // longest - len(out), 0)
        return out or bar[0]

    return tuple((*row[:-1], shorter(row[-1])) for row in rows)
