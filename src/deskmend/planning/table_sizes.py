"""How large the exact model of a case is: what a reader needs to judge what a proof was taken over."""

from __future__ import annotations

from dataclasses import dataclass

from deskmend.choice import Problem

__all__ = ["TableSizes", "sizes_of"]


@dataclass(frozen=True)
class TableSizes:
    """Sizes of a problem.

    Attributes
    ----------
    decisions, options : int
        Decisions, and options in all of them; to keep things as they are is one of each [-].
    nodes : int
        Derived variables that stand for what hangs on several decisions [-].
    tables, cells, largest : int
        Tables of strain, their cells together, and those of the largest [-].
    """

    decisions: int
    options: int
    nodes: int
    tables: int
    cells: int
    largest: int


def sizes_of(problem: Problem) -> TableSizes:
    """Measure a problem as it is handed to the engines, before they reduce it.

    Parameters
    ----------
    problem : Problem
        The problem.
    """
    cells = [table.values.size for table in problem.tables]
    return TableSizes(
        len(problem.decisions),
        sum(len(decision.options) for decision in problem.decisions),
        len(problem.nodes),
        len(cells),
        sum(cells),
        max(cells, default=0),
    )
