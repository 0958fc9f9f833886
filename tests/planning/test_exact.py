"""The plan against brute force over a small catalog, and properties that hold for every plan."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from tests.planning.cases import CATALOG, ROOT, SAMPLE, SCENARIOS, made
from tests.stages import NOW, some

from deskmend.choice import solve
from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Effect, Fix
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.planning.bill import bill_of, minutes_of
from deskmend.planning.model.offers import offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.plan import plan
from deskmend.planning.ready_case import prepare
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import state_of

SMALL = (
    "screen_books screen_stand keyboard_basic mouse_basic seat_cushion feet_floor feet_book back_towel "
    "back_strap slope_binder middle paper_side"
).split()


def _small(ids: list[str]) -> Catalog:
    fixes = []
    for fix in CATALOG.fixes:
        if fix.id not in ids:
            continue
        if fix.id == "screen_stand" and fix.size is not None:
            fix = fix.model_copy(update={"size": fix.size.model_copy(update={"step": 100.0})})
        fixes.append(fix)
    return replace(CATALOG, fixes=tuple(fixes))


def _brute(
    case: Case, catalog: Catalog, prices: PriceTable, money: int, minutes: int | None
) -> tuple[int, int, int]:
    """Least strain, then cost, then minutes over every combination, by scoring plain states."""
    state, weights = state_of(case), weights_of(case)
    offers = offers_for(case, state, catalog, prices)
    best: tuple[int, int, int] | None = None
    for combo in product(*((None, *offer.options) for offer in offers.decisions)):
        taken = [option for option in combo if option is not None]
        bill = bill_of(taken, case, prices)
        work = minutes_of(taken)
        if bill.missing or bill.total > money or (minutes is not None and work > minutes):
            continue
        try:
            after = state_with(state, taken)
        except TwoSets:
            continue
        if breaches(state, after, [(o.fix, o.owner) for o in taken]):
            continue
        rank = (score(after, weights).total, bill.total, work)
        if best is None or rank < best:
            best = rank
    assert best is not None
    return best


PAPER = {
    "tasks__0__main": "laptop",
    "tasks__0__reference": "paper",
    "tasks__0__writing": "yes",
    "places__0__seat__surface": "hard",
    "places__0__seat__back": "flat",
    "places__0__desk": {"height": "730", "underside": "700", "depth": "700", "edge": "rounded"},
    "owns": {"hardback_book": ["40", "45"], "bath_towel": "1", "webbing": "200"},
    "person__discomfort": {"neck": "7", "lower_back": "2"},
    "means__tools": ["scissors", "needle"],
}


@pytest.mark.parametrize(
    ("ids", "money", "minutes"),
    [
        (SMALL[:5], 4000, None),
        pytest.param([*SMALL[:4], "feet_book"], 6000, 15, marks=pytest.mark.thorough),
        (["seat_cushion", "feet_floor", "feet_book", "back_towel", "back_strap", "slope_binder"], 2000, None),
        pytest.param(
            ["middle", "paper_side", "slope_binder", "mouse_basic", "keyboard_basic"],
            1000,
            None,
            marks=pytest.mark.thorough,
        ),
        (["screen_books", "keyboard_basic", "mouse_basic", "feet_book", "seat_cushion"], 3400, 20),
    ],
)
def test_plan_equals_brute_force(ids: list[str], money: int, minutes: int | None) -> None:
    case, catalog = made(**PAPER), _small(ids)
    found = plan(case, catalog, SAMPLE, budget=money, minutes=minutes, every_gain=True)
    assert (found.after.total, found.cost, found.minutes) == _brute(case, catalog, SAMPLE, money, minutes)


@pytest.mark.parametrize("engine", ["elimination", "program"])
def test_both_engines_give_the_same_plan(engine: Any) -> None:
    ready = prepare(made(**PAPER), _small(SMALL), SAMPLE)
    problem = ready.problem(5000, 60)
    first = solve(problem)
    other = solve(problem, engine=engine)
    assert other.proven
    assert (other.value, other.cost, other.minutes) == (first.value, first.cost, first.minutes)
    assert other.options == first.options


@pytest.mark.thorough
@pytest.mark.both
def test_more_money_never_gives_more_strain() -> None:
    case = made(**PAPER)
    totals = [
        plan(case, CATALOG, SAMPLE, budget=money).after.total
        for money in range(0, 9000, 1500 if NOW.thorough else 3000)
    ]
    assert totals == sorted(totals, reverse=True)


@pytest.mark.thorough
def test_a_useless_free_fix_changes_nothing() -> None:
    case = made(**PAPER)
    useless = Fix(
        id="idle_thing",
        title="Something that changes what no posture asks for",
        kind="rearranged",
        decision="idle",
        stage="desk",
        scope="place",
        effects=(Effect(change="desk.width", set=1500.0),),
        minutes=0,
        how=("Do nothing.",),
    )
    more = replace(
        CATALOG,
        fixes=(*CATALOG.fixes, useless),
        places={**CATALOG.places, "idle_thing": CATALOG.places["feet_floor"]},
    )
    plainly, with_it = (plan(case, c, SAMPLE, budget=3000) for c in (CATALOG, more))
    assert with_it.after.total == plainly.after.total
    assert [s.option.with_name for s in with_it.steps] == [s.option.with_name for s in plainly.steps]


@pytest.mark.both
@pytest.mark.parametrize(
    ("mouse", "at"),
    [
        ("left", "right"),
        pytest.param("right", "right", marks=pytest.mark.thorough),
        pytest.param("left", "left", marks=pytest.mark.thorough),
        pytest.param("right", "left", marks=pytest.mark.thorough),
    ],
)
def test_left_and_right_mirrored_give_mirrored_plans(mouse: str, at: str) -> None:
    pair, catalog = [], CATALOG if NOW.thorough else _small([*SMALL, "forearms_on_desk", "mouse_other_hand"])
    for turn in ({"left": "left", "right": "right"}, {"left": "right", "right": "left"}):
        case = made(
            **PAPER,
            person__writing_hand=turn["left"],
            person__mouse_hand=turn[mouse],
            tasks__0__paper={"at": turn[at]},
            devices__mouse="separate",
            # a number pad is on the right of whoever types: only then is the other hand nearer
            wishes={"never": ["mouse_other_hand"]},
        )
        pair.append(plan(case, catalog, SAMPLE, budget=3000))
    names = [[s.option.with_name for s in found.steps] for found in pair]
    turned = [n.replace("left", "#").replace("right", "left").replace("#", "right") for n in names[1]]
    assert names[0] == turned
    assert pair[0].after.total == pair[1].after.total


@pytest.mark.parametrize("every_gain", [False, True], ids=["distinct", "best"])
@pytest.mark.parametrize("folder", some(SCENARIOS, "counter_calls"), ids=lambda p: p.name)
def test_every_scenario_is_planned_proven_and_ordered(folder: Any, every_gain: bool) -> None:
    case, prices = load_case(folder / "case.yaml"), load_prices(folder / "prices.csv")
    found = plan(case, CATALOG, prices, every_gain=every_gain)
    assert found.proven
    assert found.best is not None
    assert found.strain_bound == found.best.strain <= found.after.total
    if every_gain:
        assert found.strain_bound == found.after.total
    assert sum(step.cost for step in found.steps) == found.cost
    assert sum(step.minutes for step in found.steps) == found.minutes
    last = found.steps[-1].strain_after if found.steps else found.before.total
    assert last == found.after.total
    # no step is taken that would be unsafe on that day
    taken: list[Any] = []
    for step in found.steps:
        taken.append(step.option)
        after = state_with(found.state_before, taken)
        assert not breaches(found.state_before, after, [(o.fix, o.owner) for o in taken])


def test_scenarios_are_as_wanted() -> None:
    cases = {folder.name: load_case(folder / "case.yaml") for folder in SCENARIOS}
    assert len(cases) >= 4
    assert any(case.means.budget == 0 for case in cases.values())
    assert any(case.means.may_alter is False for case in cases.values())
    assert any(len(case.places) == 2 for case in cases.values())
    for folder in SCENARIOS:
        assert "nvented" in (folder / "case.yaml").read_text(encoding="utf-8")


def test_carried_things_are_bought_once() -> None:
    folder = ROOT / "scenarios" / "shared_chair_papers"
    case, prices = load_case(folder / "case.yaml"), load_prices(folder / "prices.csv")
    state = state_of(case)
    offers = offers_for(case, state, CATALOG, prices)
    straps = [o for o in offers.options() if o.fix.id == "slope_binder"]
    assert len(straps) == 2
    assert bill_of(straps, case, prices).total == bill_of(straps[:1], case, prices).total > 0
