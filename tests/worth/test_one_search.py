"""A plan and what things are worth come from one case made ready and one search over budgets, unchanged."""

from __future__ import annotations

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.choice import Choice, Problem, frontier
from deskmend.planning import frontier as frontiers
from deskmend.planning.budgets import EveryBudget
from deskmend.planning.plan import Plan, budget_plans, plan, planned
from deskmend.planning.ready_case import NoPlan, prepare
from deskmend.planning.worth import worth_of
from deskmend.report.plan import plan_document
from deskmend.report.worth import worth_document

pytestmark = pytest.mark.anew
CASE = made(places__0__light__lux="150", places__0__seat__surface="hard", means__minutes="60")


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> list[int | None]:
    """Money within which the plans of every budget were searched, search by search."""
    made: list[int | None] = []

    def counted(problem: Problem, seconds: float | None = None) -> list[Choice]:
        made.append(problem.money)
        return frontier(problem, seconds)

    monkeypatch.setattr(frontiers, "frontier", counted)
    return made


def _same(one: Plan, other: Plan) -> bool:
    return plan_document(one, CATALOG) == plan_document(other, CATALOG)


@pytest.mark.thorough
def test_dated_purchases_and_worth_share_one_search(searches: list[int | None]) -> None:
    ready = prepare(CASE, CATALOG, SAMPLE)
    every = EveryBudget(ready, CASE.means.minutes)
    dated = planned(ready, 0, saving=500, every=every)
    found = worth_of(ready, dated.limit, dated.minutes_limit, every=every)
    assert searches == [None]
    assert _same(dated, plan(CASE, CATALOG, SAMPLE, 0, saving=500))
    alone = worth_of(prepare(CASE, CATALOG, SAMPLE), dated.limit, dated.minutes_limit)
    assert worth_document(found, "EUR") == worth_document(alone, "EUR")


@pytest.mark.thorough
def test_the_page_searches_once_for_budgets_dates_and_worth(searches: list[int | None]) -> None:
    plans = budget_plans(CASE, CATALOG, SAMPLE, 2000)
    found = worth_of(plans.every.ready, 2000, CASE.means.minutes, every=plans.every)
    dated = planned(plans.every.ready, 2000, saving=500, every=plans.every)
    assert searches == [None]
    alone = worth_of(prepare(CASE, CATALOG, SAMPLE), 2000, CASE.means.minutes)
    assert worth_document(found, "EUR") == worth_document(alone, "EUR")
    assert _same(dated, plan(CASE, CATALOG, SAMPLE, 2000, saving=500))


def test_what_hinders_is_told_as_without_the_shared_search() -> None:
    case = made(wishes={"must": ["keyboard_basic"]})
    told = []
    for every in (None, EveryBudget(prepare(case, CATALOG, SAMPLE), None)):
        with pytest.raises(NoPlan) as caught:
            planned(prepare(case, CATALOG, SAMPLE), 0, saving=1, every=every)
        told.append((caught.value.hinders, caught.value.would_help))
    assert told[0] == told[1]


def test_a_plan_of_the_page_is_the_plan_found_alone() -> None:
    alone = plan(CASE, CATALOG, SAMPLE, 2000)
    (of_page,) = budget_plans(CASE, CATALOG, SAMPLE, at=[2000]).plans
    assert alone.cost > 0
    for name in ("bill", "before", "after", "after_free", "plain_after"):
        assert getattr(of_page, name) == getattr(alone, name), name
    # for what the plan costs no more is possible than for all the money there is
    assert of_page.strain_bound is not None
    assert alone.strain_bound is not None
    assert alone.strain_bound <= of_page.strain_bound <= alone.after.total
    told = [
        [(s.option.with_name, s.cost, s.minutes, s.strain_after) for s in p.steps] for p in (of_page, alone)
    ]
    assert told[0] == told[1]
