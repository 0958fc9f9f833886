"""Pages as a terminal shows them: the same words as in a pipe, with ruled tables, weight and colour."""

from __future__ import annotations

from collections.abc import Sequence
from io import StringIO
from itertools import groupby

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from deskmend.report.layout import (
    BAR_CELL,
    Block,
    Heading,
    Rows,
    Wrapped,
    bars,
    wrapped,
)

__all__ = ["screen_text"]

BAR_STYLES = {"#": "red", ".": "green", "+": "yellow"}


def screen_text(blocks: Sequence[Block], width: int) -> str:
    """Text with escapes for weight and colour, and with nothing else that acts: the blocks hold none."""
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
        elif isinstance(block, Wrapped):
            for number, line in enumerate(wrapped(block, width)):
                console.print(_marked(line, block) if number == 0 else Text(line), soft_wrap=True)
        elif isinstance(block, Rows):
            console.print(Padding(_table(block), (0, 0, 0, block.indent), expand=False))
        elif open_line:
            continue
        else:
            console.print()
        # A ruled table ends in no empty line of its own; two empty lines are one.
        open_line = not isinstance(block, Heading | Wrapped | Rows)
    return out.getvalue().rstrip("\n") + "\n"


def _marked(line: str, whole: Wrapped) -> Text:
    """First line with its mark set off: a caution stands out, a number leads."""
    mark = whole.first.strip()
    text = Text(line)
    if mark not in ("", "-"):
        start = len(whole.first) - len(whole.first.lstrip())
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
            ratio=1 if last and not bars(block.rows, number) else None,
        )
    for row in block.rows[1:] if block.head else block.rows:
        table.add_row(*(_cell(cell) for cell in row))
    return table


def _cell(cell: str) -> Text:
    if not BAR_CELL.fullmatch(cell):
        return Text(cell)
    text = Text()
    for sign, run in groupby(cell):
        text.append("".join(run), BAR_STYLES[sign])
    return text
