"""The sizes told with a proof are those of the problem that was solved."""

from __future__ import annotations

import numpy as np
import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.choice import Decision, Option, Problem, Table
from deskmend.planning.model import tables
from deskmend.planning.model.cohorts import TableSizes, sizes_of
from deskmend.planning.ready_case import TooMuchToChoose, prepare


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


@pytest.mark.anew
@pytest.mark.parametrize(
    ("changes", "would_help"),
    [
        ({}, "refuse fixes that are not wanted"),
        (
            {
                "places__0__seat__height_range": ["380", "500"],
                "places__0__desk__height_range": ["600", "700"],
            },
            "leave out one or two of these ranges, those that matter least: places.den.seat.height_range, "
            "places.den.desk.height_range; what has no range stays as it is",
        ),
    ],
)
def test_what_is_too_much_to_work_out_is_told_with_the_ranges_that_make_it_so(
    changes: dict[str, list[str]], would_help: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "LARGEST_GRID", 50)
    with pytest.raises(TooMuchToChoose) as caught:
        prepare(made(**changes), CATALOG, SAMPLE)
    assert caught.value.would_help == would_help
