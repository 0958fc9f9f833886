"""Where money begins to buy less, what is planned where nobody says how much, and the short list."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, ROOT, SAMPLE, made, offering

from deskmend.cli import deskmend
from deskmend.intake.case import Case
from deskmend.planning.budgets import MARKED, EveryBudget, stop_of
from deskmend.planning.plan import Plan, budget_plans, plan, planned
from deskmend.planning.ready_case import prepare
from deskmend.report.budgets import stop_of_all_text, stop_text
from deskmend.report.plan import no_steps_text

KITCHEN = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")
SOFA = str(ROOT / "scenarios" / "tall_sofa" / "case.yaml")


@cache
def no_budget() -> Case:
    return made(
        places__0__seat__surface="hard",
        places__0__desk={"height": "740", "underside": "700", "depth": "700", "edge": "rounded"},
        owns={"bath_towel": "1"},
        means__budget=None,
    )


@cache
def every() -> EveryBudget:
    return EveryBudget(prepare(no_budget(), CATALOG, SAMPLE), None)


@cache
def found() -> Plan:
    return planned(every().ready, every=every())


def test_beyond_the_stop_no_money_takes_off_more_than_the_mean_and_up_to_it_none_less() -> None:
    """The definition itself, on every plan of the ladder, in whole numbers."""
    rungs = every().distinct
    stop = stop_of(rungs)
    assert stop is not None
    ahead = (stop.first.strain - stop.plan.strain) * (stop.last.cost - stop.plan.cost)
    assert ahead >= MARKED * (stop.plan.strain - stop.last.strain) * (stop.plan.cost - stop.first.cost)
    cost, gain = stop.last.cost - stop.first.cost, stop.first.strain - stop.last.strain
    for rung in rungs:
        more, off = rung.cost - stop.plan.cost, stop.plan.strain - rung.strain
        if more > 0:
            assert off * cost <= more * gain
        elif more < 0:
            assert off * cost < more * gain


def test_without_a_budget_the_plan_stops_there() -> None:
    stop = found().stop
    assert stop is not None
    assert (found().budget, found().limit, found().cost) == (None, stop.plan.cost, stop.plan.cost)
    assert 0 < found().cost < every().distinct[-1].cost
    assert any("no budget is given" in warning for warning in found().warnings)


@pytest.mark.thorough
def test_the_page_opens_the_same_plan() -> None:
    plans = budget_plans(no_budget(), CATALOG, SAMPLE)
    shown = plans.plans[plans.chosen]
    assert shown.cost == found().cost
    assert plans.enough
    some = budget_plans(no_budget(), CATALOG, SAMPLE, at=[0, 500_000])
    assert some.plans[some.chosen].cost == 0


def test_where_nothing_stands_out_the_cheapest_plan_is_shown() -> None:
    case = made(means__budget=None)
    few = EveryBudget(prepare(case, CATALOG, SAMPLE, never=["keyboard_basic"]), None)
    if stop_of(few.distinct) is None:
        assert planned(few.ready, every=few).cost == few.distinct[0].cost


def test_a_budget_is_kept_to_whatever_lies_beyond() -> None:
    told = plan(no_budget(), CATALOG, SAMPLE, 100_000)
    assert told.limit == 100_000
    assert told.cost == every().distinct[-1].cost
    assert told.stop is not None
    assert found().stop is not None
    assert told.stop.plan.cost == found().stop.plan.cost  # type: ignore[union-attr]


def test_a_smaller_budget_is_told_what_more_money_would_do_up_to_there() -> None:
    """Each plan below the stop, by its own rate up to it; which is never less than what comes beyond."""
    stop = stop_of(every().distinct)
    assert stop is not None
    below = [rung for rung in every().distinct if rung.cost < stop.plan.cost]
    assert below
    beyond = (stop.plan.strain - stop.last.strain) * 100 / (stop.last.cost - stop.plan.cost)
    for rung in below[:1]:
        smaller = planned(every().ready, rung.cost, every=every())
        assert stop_of_all_text(smaller.stop, "EUR") == stop_text(found())
        told = stop_text(smaller)
        rate = (rung.strain - stop.plan.strain) * 100 / (stop.plan.cost - rung.cost)
        assert "begins to buy less" not in told
        assert told.startswith("More money would still help: on the way from this plan to the one for ")
        assert f"{stop.plan.cost / 100:.2f} EUR" in told
        assert f"takes off {rate / 1e6:.2f} strain-hours a day, and {beyond / 1e6:.2f} from there on" in told
        assert rate >= beyond
    assert stop_text(found()).startswith(f"Money begins to buy less at {stop.plan.cost / 100:.2f} EUR")


def test_that_nothing_helps_at_any_price_is_said_of_the_work_that_there_is_time_for() -> None:
    ready = prepare(
        made(means__budget=None), offering("keyboard_basic", "mouse_basic", "screen_books"), SAMPLE
    )
    none = planned(ready, 100_000, 0)
    assert none.does_nothing
    assert planned(ready, 100_000).steps
    assert "at any price, makes a difference that can be told within 0 min of work." in no_steps_text(none)


MORE_AND_MORE = ("screen_books", "keyboard_basic", "mouse_basic")
"""Fixes of which money buys one more after the other, each as good for it as the last."""


def test_where_nothing_stands_out_a_plan_is_told_what_the_next_one_would_do() -> None:
    case = made(means__budget=None)
    few = EveryBudget(prepare(case, offering(*MORE_AND_MORE), SAMPLE), None)
    *_, one, last = few.distinct
    assert stop_of(few.distinct) is None
    told = stop_text(planned(few.ready, last.cost - 1, every=few))
    assert f"the next plan costs {last.cost / 100:.2f} EUR" in told
    assert f"takes off {(one.strain - last.strain) / 1e6:.2f} strain-hours a day more." in told
    assert stop_text(planned(few.ready, last.cost, every=few)) == ""


@cache
def shown(*more: str, case: str = KITCHEN) -> str:
    result = CliRunner().invoke(deskmend, ["plan", case, "--quiet", *more])
    assert result.exit_code == 0, result.stderr
    return result.stdout


def test_the_short_list_comes_first_and_alone() -> None:
    short, whole = shown(), shown("--steps")
    assert 3 * len(short.splitlines()) < len(whole.splitlines())
    for words in ("Cost: ", "Searched exactly: ", "Spent so far: ", "--steps"):
        assert words in short
    assert "How to do each step" not in short
    assert "--with" not in short
    assert "How to do each step" in whole
    assert "--with" in whole
    start = short.partition("A strain-hour is")[0]
    assert whole.startswith(start.rstrip())


def test_the_document_tells_where_to_stop() -> None:
    document = json.loads(shown("--json", case=SOFA))
    stop = document["where_to_stop"]
    assert f"Money begins to buy less at {stop['cost']} EUR" in shown(case=SOFA)
    assert stop["up_to_there"] > stop["mean_of_all"]


@pytest.mark.parametrize("named", [False, True])
def test_invented_prices_are_said_beside_every_total(named: bool, tmp_path: Path) -> None:
    case, page = tmp_path / "case.yaml", tmp_path / "page.html"
    case.write_bytes(Path(KITCHEN).read_bytes())
    prices = ["--prices", str(ROOT / "scenarios/kitchen_books/prices.csv")] if named else []
    said = "(at invented prices)"
    for arguments in (
        ["plan", str(case), *prices],
        ["assess", str(case), "--with", "keyboard_basic", *prices],
        *([] if named else [["report", str(case), "--at", "20", "--out", str(page)]]),
    ):
        result = CliRunner().invoke(deskmend, arguments)
        assert result.exit_code == 0, result.stderr
        told = page.read_text(encoding="utf-8") if arguments[0] == "report" else result.stdout
        text = " ".join(told.split())
        assert (said in text) == (not named)
        if not named and arguments[0] == "plan":
            assert text.count(said) == 2
        assert ("invented sample" in result.stderr) == (not named)


def test_without_budget_and_things_at_home_the_plan_still_does_something() -> None:
    """Nothing is free here and no plan stands out: what costs money is planned rather than nothing."""
    case = made(
        places__0__seat={"height": "465"},
        places__0__desk={"height": "755"},
        owns={},
        means={"currency": "EUR"},
    )
    few = EveryBudget(prepare(case, CATALOG, SAMPLE), None)
    assert not few.distinct[0].options
    assert stop_of(few.distinct) is None
    best = planned(few.ready, every=few)
    assert best.steps
    plans = budget_plans(case, CATALOG, SAMPLE)
    assert plans.plans[plans.chosen].cost == best.cost
    none = planned(few.ready, 0, every=few)
    assert not none.steps
    assert "does not say what there is at home" in no_steps_text(none)
