"""Money month by month: what is bought when keeps to the money, beats naive orders and equals trying all."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from itertools import pairwise, product
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner
from tests.compare.frontiers import ROOT, prepared
from tests.planning.cases import CATALOG, SAMPLE, made
from tests.stages import some

from deskmend.choice import solve
from deskmend.cli import deskmend
from deskmend.planning.dates import Savings, Schedule, _LeastStrain, sequence, spans_of
from deskmend.planning.plan import NoPlan, Plan, plan
from deskmend.planning.ready_case import prepare

CASE = str(ROOT / "scenarios" / "counter_calls" / "case.yaml")


@cache
def planned() -> Plan:
    """A few months of little money, in the smallest scenario."""
    ready = prepared("counter_calls")
    means = ready.case.means.model_copy(
        update={"budget": 200, "saving_per_month": 300, "horizon_months": 6, "minutes_per_week": 30}
    )
    case = ready.case.model_copy(update={"means": means})
    return plan(case, ready.catalog, ready.prices, saving=300)


def schedule() -> Schedule:
    found = planned().schedule
    assert found is not None
    return found


def test_money_is_never_spent_before_it_has_come_in() -> None:
    found = schedule()
    spent = 0
    for stage in planned().stages:
        spent += sum(purchase.cost for purchase in stage.buys)
        assert stage.spent == spent
        assert spent <= 200 + 300 * (stage.day // 30)
    assert planned().limit == 200 + 6 * 300
    assert planned().cost <= found.spent <= planned().limit
    assert found.cost_now <= planned().budget == 200


def test_strain_falls_from_date_to_date_and_work_keeps_its_pace() -> None:
    stages = planned().stages
    assert len(stages) > 2
    for before, after in pairwise(stages):
        assert before.day < after.day or (before.is_today and not after.is_today)
        assert before.strain > after.strain
    for stage in stages:
        work = sum(option.fix.minutes for option in stage.options)
        assert work == stage.minutes <= 30 * (stage.day // 7 + 1)
    assert stages[-1].strain == planned().after.total


def test_naive_orders_are_never_better() -> None:
    found = schedule()
    assert found.bound <= found.total <= min(found.cheapest_first, found.biggest_first)
    assert found.exact


def test_sum_is_the_strain_of_each_date_over_its_days() -> None:
    found = schedule()
    stages = planned().stages
    ends = [*(stage.day for stage in stages[1:]), 6 * 30 + 1]
    days = [end - stage.day for stage, end in zip(stages, ends, strict=True)]
    assert found.total == sum(stage.strain * n for stage, n in zip(stages, days, strict=True))


@pytest.mark.parametrize("whose", some(["plain", "seated_editor"], "plain"))
def test_purchases_and_dates_equal_trying_them_all(whose: str) -> None:
    """Every date, or none, of every purchase; each arrangement is solved for itself from the bare problem."""
    ready = prepare(made(), CATALOG, SAMPLE) if whose == "plain" else prepared(whose)
    first, monthly = (0, 600) if whose == "plain" else (500, 2000)
    found, _ = sequence(ready, Savings(first, monthly, 2), None)
    assert 2 <= len(found.candidates) <= 7
    problem = ready.problem(0, None)
    left = []
    for mask in range(1 << len(found.candidates)):
        had = {p.item: p.packs for n, p in enumerate(found.candidates) if mask >> n & 1}
        items = [replace(i, owned=i.owned + i.pack * had.get(i.name, 0)) for i in problem.items]
        left.append(solve(replace(problem, items=items)).value + ready.fixed_strain)
    sums = []
    spans = [(first, 30), (first + monthly, 30), (first + 2 * monthly, 1)]
    for dates in product(range(4), repeat=len(found.candidates)):
        total = 0
        for number, (money, days) in enumerate(spans):
            mask = sum(1 << n for n, date in enumerate(dates) if date <= number)
            if sum(p.cost for n, p in enumerate(found.candidates) if mask >> n & 1) > money:
                break
            total += left[mask] * days
        else:
            sums.append(total)
    assert found.total == min(sums)


def test_days_are_parted_where_money_or_time_comes_in() -> None:
    """By hand: 30 min a week, 70 suffice, so weeks 0, 1 and 2 differ; money at days 30 and 60."""
    spans = spans_of(Savings(100, 50, 2), None, 30, 70)
    assert [(s.day, s.days, s.money, s.minutes) for s in spans] == [
        (0, 7, 100, 30),
        (7, 7, 100, 60),
        (14, 16, 100, None),
        (30, 30, 150, None),
        (60, 1, 200, None),
    ]
    assert {s.minutes for s in spans_of(Savings(0, 50, 1), 20, 0, 70)} == {0}
    assert {s.minutes for s in spans_of(Savings(0, 50, 1), 20, None, 70)} == {20}


def test_the_saving_of_the_case_counts_where_no_budget_is_asked_for() -> None:
    case = made(means__saving_per_month="20.00", means__budget="0", means__minutes="30")
    over_time = plan(case, CATALOG, SAMPLE)
    assert over_time.schedule is not None
    assert (over_time.budget, over_time.limit) == (0, 12 * 2000)
    assert over_time.schedule.total == plan(case, CATALOG, SAMPLE, saving=2000).schedule.total  # type: ignore[union-attr]
    alone = plan(case, CATALOG, SAMPLE, 500)
    assert alone.schedule is None
    assert alone.limit == 500
    assert any("saving" in warning for warning in alone.warnings)


def test_what_must_be_has_to_be_paid_from_the_money_in_hand() -> None:
    case = made(wishes={"must": ["keyboard_basic"]}, means__budget="0", means__saving_per_month="20.00")
    with pytest.raises(NoPlan, match="money in hand"):
        plan(case, CATALOG, SAMPLE, saving=2000)


@pytest.fixture(scope="module")
def told() -> dict[str, Any]:
    arguments = ["plan", CASE, "--budget", "2", "--saving", "3", "--json"]
    result = CliRunner().invoke(deskmend, arguments)
    proven = json.loads(result.stdout)["sequence"]["proven_over_candidates"]
    assert result.exit_code == (0 if proven else 3), result.stderr
    assert json.loads(result.stdout)["proof"]["status"] == ("optimal" if proven else "not_proven")
    assert CliRunner().invoke(deskmend, arguments).stdout == result.stdout
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def test_document_tells_dates_and_money(told: dict[str, Any]) -> None:
    assert told["limit"] == "38.00"
    assert float(told["cost_now"]) <= float(told["budget"]) == 2.0
    assert float(told["cost"]) <= float(told["sequence"]["spent"]) <= 38.0
    whens = [step["when"] for step in told["steps"]]
    stages = [stage["when"] for stage in told["stages"]]
    assert stages[0] == "today"
    assert set(whens) <= set(stages)
    assert any(when.startswith("after month ") for when in whens)
    assert told["steps"][-1]["strain_after"] == told["strain"]["after"]
    assert told["proof"]["strain_bound"] <= told["strain"]["after"]


def test_names_of_a_plan_over_time_give_its_strain_and_cost(told: dict[str, Any]) -> None:
    names = [word for step in told["steps"] for word in ("--with", step["with"])]
    seen = json.loads(CliRunner().invoke(deskmend, ["assess", CASE, "--json", *names]).stdout)
    assert (seen["strain"]["total"], seen["cost"]) == (told["strain"]["after"], told["cost"])
    assert seen["rules_broken"] == []


def test_page_tells_dates_proof_and_what_plain_orders_lose() -> None:
    page = CliRunner().invoke(deskmend, ["plan", CASE, "--budget", "2", "--saving", "3", "--steps"]).stdout
    assert max(map(len, page.splitlines())) <= 80
    for text in (
        "As money comes in",
        "After month ",
        "cheapest first",
        "biggest effect first",
        "Proven: over 360",
    ):
        assert text in " ".join(page.split())


@pytest.mark.parametrize("mask", range(4))
def test_what_is_bought_already_is_free_and_what_is_not_is_dearer_than_all_strain(mask: int) -> None:
    """A use of what is there is never weighed against strain."""
    asked: list[tuple[int, int, dict[str, int], int | None]] = []
    least = object.__new__(_LeastStrain)
    search: Any = SimpleNamespace(least=lambda *question: asked.append(question))
    lines: Any = [SimpleNamespace(item="stand"), SimpleNamespace(item="lamp")]
    least.__dict__.update(_open=search, _forbidding=10**9, purchases=lines)
    assert least._at_once(mask, 90) is None
    prices = {"stand": 0 if mask & 1 else 10**9, "lamp": 0 if mask & 2 else 10**9}
    assert asked == [(1, 1, prices, 90)]
