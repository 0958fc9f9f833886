"""Pages as a terminal shows them: the same words as in a pipe, with ruled tables, weight and colour.

Laying out text: fixed width and plain characters for files and pipes, tables and weight for a screen.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from io import StringIO
from itertools import groupby

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from deskmend.errors import visible

__all__ = [
    "WIDTH",
    "Block",
    "Heading",
    "Page",
    "Rows",
    "Space",
    "Words",
    "for_screen",
    "screen_text",
    "wrapped",
]

WIDTH = 100
"""Longest line [characters]; fixed, so that the same input gives the same bytes in every window."""

_screen: ContextVar[int | None] = ContextVar("screen", default=None)


@dataclass(frozen=True)
class Heading:
    """Title of a section."""

    text: str


@dataclass(frozen=True)
class Space:
    """An empty line, never two."""


@dataclass(frozen=True)
class Words:
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


Block = Heading | Space | Words | Rows


@contextmanager
def for_screen(width: int) -> Iterator[None]:
    """Lay pages out for a screen of some width within a ``with`` block: escapes for weight and colour.

    Parameters
    ----------
    width : int
        Width of the window [characters].
    """
    token = _screen.set(width)
    try:
        yield
    finally:
        _screen.reset(token)


class Page:
    """Text that grows block by block.

    Every piece of text passes `deskmend.errors.visible`, so nothing a file holds can act on a terminal.
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
        """Add wrapped text.

        Parameters
        ----------
        text : str
            Any text; an empty one adds nothing.
        indent : int
            Columns left free [characters].
        """
        self._wrap(text, " " * indent, " " * indent)

    def point(self, mark: str, text: str, indent: int = 0) -> None:
        """Add wrapped text behind a mark, as ``-`` or ``3.``; further lines stand under the text."""
        first = f"{' ' * indent}{mark} "
        self._wrap(text, first, " " * len(first))

    def points(self, texts: Sequence[str], indent: int = 0, mark: str = "-") -> None:
        """Add one point a text."""
        for text in texts:
            self.point(mark, text, indent)

    def _wrap(self, text: str, first: str, rest: str) -> None:
        if text:
            self._blocks.append(Words(visible(text, None), first, rest))

    def table(
        self, rows: Sequence[Sequence[str]], right: Sequence[int] = (), indent: int = 2, head: bool = False
    ) -> None:
        """Add rows in columns.

        Parameters
        ----------
        rows : sequence of sequence of str
            All rows of one length; the last column takes what is left of the width and is wrapped.
        right : sequence of int
            Numbers of the columns that are set flush right.
        indent : int
            Columns left free [characters].
        head : bool
            Whether the first row names the columns; only a screen shows it otherwise.
        """
        if rows:
            shown = tuple(tuple(visible(cell, None) for cell in row) for row in rows)
            self._blocks.append(Rows(shown, tuple(right), indent, head))

    def text(self) -> str:
        """Everything so far, ending in one line end; within `for_screen` as a screen shows it."""
        width = _screen.get()
        if width is None:
            return _plain(self._blocks)
        from deskmend.report.layout import screen_text

        return screen_text(self._blocks, width)


def wrapped(words: Words, width: int) -> list[str]:
    """Lines of a text.

    Parameters
    ----------
    words : Words
        The text.
    width : int
        Longest line [characters].
    """
    return textwrap.wrap(
        words.text,
        width,
        initial_indent=words.first,
        subsequent_indent=words.rest,
        break_on_hyphens=False,
    )


def _plain(blocks: Sequence[Block]) -> str:
    lines: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            lines += textwrap.wrap(block.text, WIDTH)
            lines.append("-" * min(len(block.text), WIDTH))
        elif isinstance(block, Words):
            lines += wrapped(block, WIDTH)
        elif isinstance(block, Rows):
            lines += _columns(block)
        elif lines and lines[-1]:
            lines.append("")
    return "\n".join(lines).rstrip("\n") + "\n"


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


NARROWEST = 40
"""Least width that text is laid out for [characters]."""
BAR = re.compile(r"[#.+]+")
BAR_STYLES = {"#": "red", ".": "green", "+": "yellow"}


def screen_text(blocks: Sequence[Block], width: int) -> str:
    """Lay a page out for a screen.

    Parameters
    ----------
    blocks : sequence of Block
        The page; its texts hold nothing that could steer a terminal.
    width : int
        Width of the window [characters]; lines grow to no more than `WIDTH`.

    Returns
    -------
    str
        Text with escapes for weight and colour, and with nothing else that acts.
    """
    width = max(NARROWEST, min(width, WIDTH))
    out = StringIO()
    console = Console(
        file=out,
        width=width,
        force_terminal=True,
        color_system="standard",
        no_color=False,
        legacy_windows=False,
        markup=False,
        emoji=False,
        highlight=False,
        _environ={},
    )
    open_line = True
    for block in blocks:
        if isinstance(block, Heading):
            console.print(Text(block.text, style="bold"))
            console.print(Text("─" * min(len(block.text), width), style="dim"))
        elif isinstance(block, Words):
            for number, line in enumerate(wrapped(block, width)):
                console.print(_marked(line, block) if number == 0 else Text(line), soft_wrap=True)
        elif isinstance(block, Rows):
            console.print(Padding(_table(block), (0, 0, 0, block.indent), expand=False))
        elif open_line:
            continue
        else:
            console.print()
        # A ruled table ends in no empty line of its own; two empty lines are one.
        open_line = not isinstance(block, Heading | Words | Rows)
    return out.getvalue().rstrip("\n") + "\n"


def _marked(line: str, words: Words) -> Text:
    """First line with its mark set off: a caution stands out, a number leads."""
    mark = words.first.strip()
    text = Text(line)
    if mark not in ("", "-"):
        start = len(words.first) - len(words.first.lstrip())
        text.stylize("bold yellow" if mark == "!" else "bold", start, start + len(mark))
    return text


def _table(block: Rows) -> Table:
    head = block.rows[0] if block.head else ()
    table = Table(box=SIMPLE_HEAD, show_header=block.head, pad_edge=False, show_edge=False)
    for number in range(len(block.rows[0])):
        last = number == len(block.rows[0]) - 1
        table.add_column(
            Text(head[number]) if head else "",
            justify="right" if number in block.right else "left",
            overflow="fold",
            no_wrap=False,
            ratio=1 if last and not _is_bars(block, number) else None,
        )
    for row in block.rows[1:] if block.head else block.rows:
        table.add_row(*(_cell(cell) for cell in row))
    return table


def _is_bars(block: Rows, number: int) -> bool:
    cells = [row[number] for row in block.rows[1:] if row[number]]
    return bool(cells) and all(BAR.fullmatch(cell) for cell in cells)


def _cell(cell: str) -> Text:
    if not BAR.fullmatch(cell):
        return Text(cell)
    text = Text()
    for sign, run in groupby(cell):
        text.append("".join(run), BAR_STYLES[sign])
    return text
