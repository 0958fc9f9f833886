"""The sizes told with a proof are those of the problem that was solved."""

from __future__ import annotations

import numpy as np

from deskmend.choice import Decision, Option, Problem, Table
from deskmend.planning.model.cohorts import TableSizes, sizes_of


def test_sizes_are_counted_over_all_tables() -> None:
    def decision(name: str, count: int) -> Decision:
        return Decision(name, [Option(f"o{number}") for number in range(count)])

    problem = Problem(
        decisions=[decision("a", 2), decision("b", 3), decision("c", 4)],
        tables=[
            Table(("a",), np.zeros(2, dtype=np.int64)),
            Table(("a", "b", "c"), np.zeros((2, 3, 4), dtype=np.int64)),
        ],
    )
    assert sizes_of(problem) == TableSizes(decisions=3, options=9, nodes=0, tables=2, cells=26, largest=24)


def test_a_problem_without_tables_has_sizes_too() -> None:
    assert sizes_of(Problem(decisions=[])) == TableSizes(0, 0, 0, 0, 0, 0)
