"""Every rung is what solving at its budget gives, nothing better lies between, and knees are where told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made
from tests.stages import some

import deskmend
from deskmend.choice import Problem, frontier, solve
from deskmend.errors import DefectError
from deskmend.planning.budgets import (
    SCREEN_LINES,
    SCREEN_WIDTH,
    change_between,
    compared,
    knee_of,
    screenful,
)
from deskmend.planning.frontier import CheckedPlan, frontier_of
from deskmend.planning.plan_check import verify_plan
from deskmend.planning.ready_case import NoPlan, prepare
from deskmend.planning.score import score

from .frontiers import ladder, prepared, problem_of

WHOLE = some(["kitchen_books", "counter_calls"], "counter_calls")


@pytest.mark.parametrize("scenario", WHOLE)
def test_cost_rises_and_strain_falls_strictly(scenario: str) -> None:
    rungs = ladder(scenario).rungs
    assert len(rungs) > 5
    for cheaper, dearer in pairwise(rungs):
        assert cheaper.cost < dearer.cost
        assert cheaper.strain > dearer.strain
    assert all(rung.choice.proven for rung in rungs)


@pytest.mark.thorough
@pytest.mark.parametrize("scenario", WHOLE)
def test_frontier_is_what_solving_gives_at_every_rung_and_a_cent_below(scenario: str) -> None:
    problem, rungs = problem_of(scenario), ladder(scenario).rungs
    at_rungs_and_below(problem, rungs, 1 if scenario == "counter_calls" else 4)


def test_frontier_of_a_small_case_is_what_solving_gives_at_every_rung_and_a_cent_below() -> None:
    ready = prepare(made(means__tools=["scissors"], means__skill="1", means__minutes="20"), CATALOG, SAMPLE)
    rungs = frontier_of(ready, 20)
    assert len(rungs) > 5
    at_rungs_and_below(ready.problem(None, 20), rungs, 1)


def at_rungs_and_below(problem: Problem, rungs: Sequence[CheckedPlan], step: int) -> None:
    """Solve with the money of every so many rungs, and with a cent less."""
    for number, rung in list(enumerate(rungs))[::step]:
        at = solve(replace(problem, money=rung.cost))
        assert (at.value, at.cost, at.minutes, at.options) == (
            rung.choice.value,
            rung.cost,
            rung.minutes,
            rung.choice.options,
        )
        if number:
            below = solve(replace(problem, money=rung.cost - 1))
            assert (below.value, below.cost) == (rungs[number - 1].choice.value, rungs[number - 1].cost)
    free = solve(problem)
    assert (free.value, free.cost) == (rungs[-1].choice.value, rungs[-1].cost)


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("scenario", "places"), [("low_table_monitor", (5, 11)), ("shared_chair_papers", (8,))]
)
def test_frontier_of_larger_scenarios_is_what_solving_gives(scenario: str, places: tuple[int, ...]) -> None:
    """Solving searches each case by itself; pieces that several places want are shared out in one of them."""
    problem = problem_of(scenario)
    rungs = frontier(problem)
    assert all(rung.proven for rung in rungs)
    for cheaper, dearer in pairwise(rungs):
        assert cheaper.cost < dearer.cost
        assert cheaper.value > dearer.value
    for place in places:
        at = solve(replace(problem, money=rungs[place + 1].cost - 1))
        assert (at.value, at.options) == (rungs[place].value, rungs[place].options)


@pytest.mark.thorough
@pytest.mark.parametrize("scenario", ["worktop_orders", "seated_editor"])
def test_frontier_of_a_scenario_is_what_the_integer_program_gives(scenario: str) -> None:
    problem, rungs = problem_of(scenario), ladder(scenario).rungs
    for below, rung in pairwise(rungs):
        at = solve(replace(problem, money=rung.cost), engine="program")
        assert (at.value, at.options) == (rung.choice.value, rung.choice.options)
        other = solve(replace(problem, money=(below.cost + rung.cost) // 2), engine="program")
        assert (other.value, other.cost) == (below.choice.value, below.cost)


def test_frontier_is_what_the_integer_program_gives() -> None:
    """The other engine shares only the problem with it."""
    ready = prepare(made(means__tools=["scissors"], means__skill="1", means__minutes="20"), CATALOG, SAMPLE)
    rungs = frontier_of(ready, 20)
    for rung in (rungs[0], rungs[len(rungs) // 2]):
        other = solve(ready.problem(rung.cost, 20), engine="program")
        assert (other.value, other.cost, other.options) == (
            rung.choice.value,
            rung.cost,
            rung.choice.options,
        )


@pytest.mark.parametrize("scenario", WHOLE)
def test_every_rung_is_scored_and_priced_without_the_optimiser(scenario: str) -> None:
    ready = prepared(scenario)
    for rung in ladder(scenario).rungs:
        state, _, bill = verify_plan(ready, rung.choice, rung.cost, ready.case.means.minutes)
        assert (score(state, ready.weights).total, bill.total) == (rung.strain, rung.cost)
        assert rung.choice.value + ready.fixed_strain == rung.strain
        assert rung.score.total == sum(rung.score.by_region.values())


def test_a_falsified_rung_is_refused() -> None:
    ready, rung = prepared("counter_calls"), ladder("counter_calls").rungs[2]
    assert rung.choice.figures is not None
    wrong = replace(rung.choice, figures=replace(rung.choice.figures, value=rung.choice.value - 1))
    with pytest.raises(DefectError, match="scored again"):
        verify_plan(ready, wrong, rung.cost, None)


def test_steps_lead_from_one_plan_to_the_next() -> None:
    last: CheckedPlan | None = None
    for rung in ladder("kitchen_books").rungs:
        step = change_between(last, rung)
        names = {o.with_name for o in last.options} if last is not None else set()
        names -= {o.with_name for o in step.leaves} | {one.before.with_name for one in step.resized}
        names |= {o.with_name for o in step.enters} | {one.after.with_name for one in step.resized}
        assert names == {o.with_name for o in rung.options}
        last = rung


def test_budgets_asked_for_with_every_gain_get_the_best_plan_within_them() -> None:
    ready, whole = prepared("counter_calls"), ladder("counter_calls").rungs
    budgets = [2000, 0, 2000, whole[-1].cost * 2, whole[2].cost]
    found = compared(ready, budgets, every_gain=True)
    assert [one.budget for one in found.at] == sorted(set(budgets))
    for one in found.at:
        best = [rung for rung in whole if rung.cost <= one.budget][-1]
        assert one.plan is not None
        assert (one.plan.cost, one.plan.strain) == (best.cost, best.strain)
    costs = [rung.cost for rung in found.rungs]
    assert costs == sorted(set(costs))


def test_budget_and_saving_of_the_case_are_not_looked_at_and_its_minutes_are() -> None:
    rich = made(means__budget="500.00", means__saving_per_month="20.00", means__minutes="20")
    poor = made(means__budget="0", means__minutes="20")
    plans = [compared(prepare(case, CATALOG, SAMPLE)) for case in (rich, poor)]
    figures = [[(rung.cost, rung.strain, rung.minutes) for rung in plan.rungs] for plan in plans]
    assert figures[0] == figures[1]
    assert max(rung.minutes for rung in plans[0].rungs) <= 20
    free = compared(prepare(made(means__minutes=None), CATALOG, SAMPLE))
    assert free.rungs[-1].strain <= plans[0].rungs[-1].strain


def test_what_must_be_stands_on_every_rung_or_it_says_what_hinders() -> None:
    must = {"must": ["keyboard_basic"]}
    found = compared(prepare(made(wishes=must), CATALOG, SAMPLE))
    assert found.rungs[0].cost > 0
    assert all("keyboard_basic" in [o.fix.id for o in rung.options] for rung in found.rungs)
    some = compared(prepare(made(wishes=must), CATALOG, SAMPLE), [0, found.rungs[0].cost])
    assert [one.plan is None for one in some.at] == [True, False]
    with pytest.raises(NoPlan, match="money does not suffice"):
        compared(prepare(made(wishes=must), CATALOG, SAMPLE), [0, 1])


@dataclass(frozen=True)
class Point:
    cost: int
    strain: int


@pytest.mark.parametrize(
    ("points", "knee"),
    [
        ([(0, 100), (10, 40), (100, 0)], 10),
        ([(0, 100), (50, 90), (100, 0)], None),  # over the line: dear things help most
        ([(0, 100), (50, 50), (100, 0)], None),  # on the line
        ([(0, 100), (10, 90), (20, 80), (100, 60)], 20),
        ([(5, 100), (10, 40)], None),
        ([(0, 100), (20, 60), (40, 20), (60, 20 - 1), (80, 0)], 40),
    ],
)
def test_the_knee_is_the_plan_furthest_under_the_straight_line(
    points: list[tuple[int, int]], knee: int | None
) -> None:
    """Worked by hand: distance under the chord from first to last is (gain x span) - (cost x whole gain)."""
    rungs: Any = [Point(*point) for point in points]
    found = knee_of(rungs)
    assert (None if found is None else found.cost) == knee


@pytest.mark.parametrize("at", ["0,20", [], ()])
def test_python_call_takes_a_sequence_of_amounts(at: Any) -> None:
    with pytest.raises(ValueError, match="sequence"):
        deskmend.compare(made(), CATALOG, SAMPLE, at=at)


def test_python_call_takes_money_in_major_units() -> None:
    found = deskmend.compare(made(), CATALOG, SAMPLE, at=["20.00", 5])
    assert [one.budget for one in found.at] == [500, 2000]


def test_a_long_record_is_cut_and_says_so() -> None:
    shown = screenful("x" * 200, [str(number) for number in range(100)]).splitlines()
    assert len(shown) == SCREEN_LINES
    assert [len(shown[0]), shown[0][-3:]] == [SCREEN_WIDTH, "..."]
    assert shown[-1] == "  ... and 82 more"
    whole, cut = (screenful("x", ["y"] * number).splitlines() for number in (19, 20))
    assert whole == ["x", *["  y"] * 19]
    assert cut == ["x", *["  y"] * 18, "  ... and 2 more"]
