"""Shipped scenarios with a handful of fixes each, and everything that can be chosen of them, one by one.

Nothing here knows of tables or solvers: every combination is applied to the state, scored, priced and held
against the rules by the plain functions.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from pathlib import Path

from deskmend.intake.case import Case, Owned
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.prices import PriceTable
from deskmend.planning.bill import bill_of, minutes_of
from deskmend.planning.inputs import find_prices
from deskmend.planning.model.offers import OptionSpec, offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.reach import score_names
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.risk.scores.day import scores_of
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import state_of

ROOT = Path(__file__).resolve().parents[2]

FIXES = {
    "kitchen_books": (
        "forearms_on_desk",
        "back_towel",
        "back_strap",
        "slope_binder",
        "paper_side",
        "seat_cushion",
    ),
    "shared_chair_papers": ("place", "feet_book", "back_towel", "slope_binder"),
    "counter_calls": ("phone_headset", "stand_by_turns", "other_seat", "keyboard_basic", "mouse_basic"),
}
"""Fixes kept of the catalog: few enough to go through every combination, with a moved task, standing by
turns and another seat among them."""


@dataclass(frozen=True)
class SmallCase:
    """A case with a small catalog."""

    case: Case
    catalog: Catalog
    prices: PriceTable


@dataclass(frozen=True)
class Combination:
    """One combination that keeps to all rules, whatever the money and time."""

    options: tuple[OptionSpec, ...]
    cost: int
    minutes: int
    values: dict[str, int]


@cache
def small_case(name: str) -> SmallCase:
    case = load_case(ROOT / "scenarios" / name / "case.yaml")
    # Two books at most, or the stacks of books alone would be thousands.
    books = case.owns["hardback_book"].pieces[:2]
    case = case.model_copy(update={"owns": {**case.owns, "hardback_book": Owned(len(books), books)}})
    whole = load_catalog()
    kept = tuple(fix for fix in whole.fixes if fix.id in FIXES[name])
    assert {fix.id for fix in kept} == set(FIXES[name])
    return SmallCase(case, replace(whole, fixes=kept), find_prices(case, whole).table)


@cache
def combinations(name: str) -> tuple[Combination, ...]:
    return tuple(_combinations(small_case(name)))


def _combinations(small: SmallCase) -> Iterator[Combination]:
    state = state_of(small.case)
    weights = weights_of(small.case)
    offers = offers_for(small.case, state, small.catalog, small.prices)
    for picked in product(*((None, *offer.options) for offer in offers.decisions)):
        options = tuple(option for option in picked if option is not None)
        try:
            after = state_with(state, options)
        except TwoSets:
            continue
        if breaches(state, after, [(o.fix, o.owner) for o in options]):
            continue
        bill = bill_of(options, small.case, small.prices)
        if bill.missing:
            continue
        strain, scores = score(after, weights), scores_of(after)
        found = {name: scores.reached(name) for name in score_names()}
        values = {name: value for name, value in found.items() if value is not None}
        assert values.keys() == found.keys()
        values |= {"strain": strain.total, **strain.by_region}
        yield Combination(options, bill.total, minutes_of(options), values)
