"""Laying out text: fixed width, plain characters, nothing that steers a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from deskmend.errors import visible

__all__ = ["WIDTH", "Page"]

WIDTH = 100
"""Longest line [characters]; fixed, so that the same input gives the same bytes in every window."""


class Page:
    """Text that grows line by line.

    Every piece of text passes `deskmend.errors.visible`, so nothing a file holds can act on a terminal.
    """

    def __init__(self) -> None:
        self._lines: list[str] = []

    def heading(self, text: str) -> None:
        """Start a section."""
        self.blank()
        shown = visible(text, None)
        self._lines += textwrap.wrap(shown, WIDTH)
        self._lines.append("-" * min(len(shown), WIDTH))

    def blank(self) -> None:
        """Leave one line empty, never two."""
        if self._lines and self._lines[-1]:
            self._lines.append("")

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
        if not text:
            return
        self._lines += textwrap.wrap(
            visible(text, None),
            WIDTH,
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
        )

    def table(self, rows: Sequence[Sequence[str]], right: Sequence[int] = (), indent: int = 2) -> None:
        """Add rows in columns.

        Parameters
        ----------
        rows : sequence of sequence of str
            All rows of one length; the last column takes what is left of the width and is wrapped.
        right : sequence of int
            Numbers of the columns that are set flush right.
        indent : int
            Columns left free [characters].
        """
        shown = [[visible(cell, None) for cell in row] for row in rows]
        if not shown:
            return
        widths = [max(len(row[number]) for row in shown) for number in range(len(shown[0]))]
        for row in shown:
            cells = [
                cell.rjust(width) if number in right else cell.ljust(width)
                for number, (cell, width) in enumerate(zip(row, widths, strict=True))
            ]
            start = " " * indent + "  ".join(cells[:-1]) + ("  " if len(cells) > 1 else "")
            # A column that leaves the last one no room would wrap to one letter a line.
            room = max(WIDTH - len(start), 20)
            parts = textwrap.wrap(cells[-1], room, break_on_hyphens=False) or [""]
            if len(row) - 1 in right:
                parts = [cells[-1]]
            self._lines.append((start + parts[0]).rstrip())
            self._lines += [" " * len(start) + part for part in parts[1:]]

    def text(self) -> str:
        """Everything so far, ending in one line end."""
        return "\n".join(self._lines).rstrip("\n") + "\n"
