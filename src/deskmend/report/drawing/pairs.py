"""Two workplaces drawn side by side: one scale, floors level."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from deskmend.planning.beside import Beside
from deskmend.report.drawing.person import modes_of
from deskmend.report.drawing.side import side_view
from deskmend.report.drawing.svg import in_one_frame

__all__ = ["DrawnPair", "drawn_pairs"]


@dataclass(frozen=True)
class DrawnPair:
    """One task in one mode in both; None where one has no such task, or does not do it so."""

    task: tuple[str | None, str | None]
    mode: str
    svg: tuple[str | None, str | None]


def drawn_pairs(pair: Beside) -> Iterator[DrawnPair]:
    """Draw every task of two workplaces as it is there, with the fixes that were asked about."""
    for task in pair.tasks:
        modes = [
            () if name is None else modes_of(one.after, name)
            for one, name in zip(pair.both, task, strict=True)
        ]
        for mode in dict.fromkeys([*modes[0], *modes[1]]):
            svg = [
                side_view(one.after, one.after, name, mode, one.strain, one.strain).svg
                if name is not None and mode in modes[number]
                else None
                for number, (one, name) in enumerate(zip(pair.both, task, strict=True))
            ]
            first, second = in_one_frame(svg)
            yield DrawnPair(task, mode, (first, second))
