"""Each price is right: planned again from a changed price table, a thing stays at it and leaves above."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest
import yaml
from click.testing import CliRunner
from tests.planning.cases import CATALOG, ROOT, SAMPLE, made, plain
from tests.stages import seeds

from deskmend.cli import deskmend
from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.intake.prices import PriceTable, Tier, load_prices
from deskmend.planning.frontier import frontier_of
from deskmend.planning.plan import Plan, plan
from deskmend.planning.ready_case import prepare
from deskmend.planning.worth import Worth, worth_of

CASE = str(ROOT / "scenarios/counter_calls/case.yaml")
DARK_AND_HARD = {"places__0__light__lux": "150", "places__0__seat__surface": "hard"}
BUDGETS = (("plain", 2000), pytest.param("counter_calls", 2000, marks=pytest.mark.thorough))


@cache
def the_case(name: str) -> tuple[Case, PriceTable]:
    if name == "plain":
        return made(**DARK_AND_HARD), SAMPLE
    folder = ROOT / "scenarios" / name
    return load_case(folder / "case.yaml"), load_prices(folder / "prices.csv")


@cache
def worth(name: str, budget: int) -> Worth:
    case, prices = the_case(name)
    return worth_of(prepare(case, CATALOG, prices), budget, None, 5)


def planned_at(name: str, budget: int, item: str, price: int | None) -> Plan:
    """Plan anew from a price table in which one price is another, or is missing."""
    case, prices = the_case(name)
    return plan(case, CATALOG, repriced(prices, item, price), budget, None, every_gain=True)


def repriced(prices: PriceTable, item: str, price: int | None) -> PriceTable:
    """The same prices but for one thing, of which a pack costs so much however many are bought."""
    items = dict(prices.items)
    if price is None:
        del items[item]
    else:
        items[item] = replace(items[item], price=price, low=price, high=price, tiers=())
    return replace(prices, items=items)


def buys(found: Plan, item: str) -> bool:
    return any(line.item == item for line in found.bill.lines)


@pytest.mark.parametrize(("name", "budget"), BUDGETS)
def test_at_its_price_a_thing_stays_and_a_cent_above_it_leaves(name: str, budget: int) -> None:
    found = worth(name, budget)
    assert found.bought
    for one in found.bought:
        assert one.up_to is not None
        assert one.up_to >= one.price
        assert buys(planned_at(name, budget, one.item, one.up_to), one.item)
        above = planned_at(name, budget, one.item, one.up_to + 1)
        assert not buys(above, one.item)
        assert above.after.total == one.strain_without
        assert planned_at(name, budget, one.item, None).after.total == one.strain_without


def in_bulk(seed: int) -> PriceTable:
    """Prices of which many are lower from two or three packs on, at times less for two than for one."""
    draw = Random(seed)
    items = {}
    for name, one in SAMPLE.items.items():
        reduced = one.price * draw.randint(20, 95) // 100
        tiers = (Tier(draw.choice([2, 2, 3]), reduced, reduced, reduced),) if draw.random() < 0.7 else ()
        items[name] = replace(one, pack=max(1, one.pack // 4), tiers=tiers)
    return replace(SAMPLE, items=items)


@pytest.mark.thorough
@seeds(1, 12)
def test_a_price_for_larger_orders_is_the_price_that_is_reckoned_with(seed: int) -> None:
    prices, budget = in_bulk(seed), 1500 + 250 * (seed % 12)
    case, _ = the_case("plain")
    found = worth_of(prepare(case, CATALOG, prices), budget, None)
    lines = {
        line.item: line for line in plan(case, CATALOG, prices, budget, None, every_gain=True).bill.lines
    }
    assert {one.item for one in found.bought} == set(lines)
    for one in found.bought:
        assert one.price * one.packs == lines[one.item].cost
    for one in (*found.bought, *[one for one in found.left_out if prices.items[one.item].tiers][:3]):
        if one.up_to is None:
            continue
        assert (one.up_to >= one.price) == (one.packs > 0)
        if one.up_to >= 0:
            assert buys(
                plan(case, CATALOG, repriced(prices, one.item, one.up_to), budget, None, every_gain=True),
                one.item,
            )
        above = plan(case, CATALOG, repriced(prices, one.item, one.up_to + 1), budget, None, every_gain=True)
        assert not buys(above, one.item)


@pytest.mark.thorough
@pytest.mark.parametrize(("name", "budget"), BUDGETS[1:])
def test_what_is_left_out_comes_in_at_its_price_and_not_a_cent_above(name: str, budget: int) -> None:
    found = worth(name, budget)
    entering = [one for one in found.left_out if one.up_to is not None and one.up_to >= 0]
    assert entering
    for one in entering[:3]:
        assert one.up_to is not None
        assert one.up_to < one.price
        assert buys(planned_at(name, budget, one.item, one.up_to), one.item)
        assert not buys(planned_at(name, budget, one.item, one.up_to + 1), one.item)
    for one in [one for one in found.left_out if one.up_to == -1][:2]:
        assert not buys(planned_at(name, budget, one.item, 0), one.item)


def test_without_a_limit_of_money_what_takes_strain_off_is_worth_any_price() -> None:
    case, prices = the_case("plain")
    ready = prepare(case, CATALOG, prices)
    found = worth_of(ready, None, None)
    best = frontier_of(ready, None)[-1]
    for one in found.bought:
        assert one.strain_without is not None
        assert (one.up_to is None) == (one.strain_without > best.strain)
    assert found.following is None


@pytest.mark.parametrize(("name", "budget"), BUDGETS)
def test_a_substitute_does_without_and_stays_within_the_share(name: str, budget: int) -> None:
    found = worth(name, budget)
    case, prices = the_case(name)
    best = plan(case, CATALOG, prices, budget, None, every_gain=True)
    near = {one.item: one.strain_without for one in found.bought if one.strain_without is not None}
    wanted = {item for item, strain in near.items() if 100 * strain <= 105 * best.after.total}
    assert {other.item for other in found.substitutes} == wanted
    for other in found.substitutes:
        assert all(other.item not in option.use for option in other.options)
        assert other.strain == near[other.item]
        assert other.cost <= budget


@pytest.mark.parametrize(("name", "budget"), BUDGETS)
def test_what_stays_open_is_the_plans_own_strain_and_the_first_dearer_plan_with_less(
    name: str, budget: int
) -> None:
    found = worth(name, budget)
    case, prices = the_case(name)
    ready = prepare(case, CATALOG, prices)
    frontier = frontier_of(ready, None)
    best = [plan for plan in frontier if plan.cost <= budget][-1]
    assert sum(one.term.value for one in found.still_open) == best.strain
    for one in found.still_open:
        key = (one.term.task, one.term.exposure, one.term.region)
        in_plans = [
            sum(t.value for t in plan.score.terms if (t.task, t.exposure, t.region) == key)
            for plan in frontier
            if plan.cost > budget
        ]
        if one.plan is None:
            assert all(value >= one.term.value for value in in_plans)
        else:
            first = next(k for k, value in enumerate(in_plans) if value < one.term.value)
            dearer = [plan for plan in frontier if plan.cost > budget]
            assert (one.plan.cost, one.then) == (dearer[first].cost, in_plans[first])


def test_page_and_document_tell_it(tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(yaml.safe_dump(plain(**DARK_AND_HARD)), encoding="utf-8")
    arguments = ["plan", str(case), "--budget", "20", "--worth", "--quiet"]
    page = CliRunner().invoke(deskmend, arguments)
    assert page.exit_code == 0, page.stderr
    for text in (
        "What each thing is worth here",
        "worth buying up to",
        "What stays, and what would touch it",
    ):
        assert text in page.stdout
    assert max(map(len, page.stdout.splitlines())) <= 80
    document = json.loads(CliRunner().invoke(deskmend, [*arguments, "--json"]).stdout)["worth"]
    assert {one["item"] for one in document["bought"]} == {one.item for one in worth("plain", 2000).bought}
    assert all(float(one["up_to"]) >= float(one["price"]) for one in document["bought"])


def test_worth_and_reach_do_not_go_together() -> None:
    result = CliRunner().invoke(deskmend, ["plan", CASE, "--worth", "--reach", "rosa=4"])
    assert result.exit_code == 2
    assert "--worth" in result.stderr
