"""Small funds of real people: a catalog of a few fixes, and every plan there is by trying all of them."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import product

from deskmend.grants.people.columns import Column
from deskmend.grants.people.plans import PlanBasis, member_of
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import Had
from deskmend.intake.prices import PriceTable, Tier
from deskmend.planning.bill import bill_of
from deskmend.planning.goals import Goal
from deskmend.planning.model.rules import breaches_of_many
from deskmend.planning.plan_check import clashes
from deskmend.planning.score import strain_of_many
from deskmend.planning.selection import state_with
from deskmend.risk.scores.day import score_of
from deskmend.workstation.effects import TwoSets

from .fund_people import CATALOG, PRICES, rows

FIXES = (
    "lamp_task",
    "keyboard_basic",
    "mouse_basic",
    "seat_cushion",
    "desk_edge_foam",
    "feet_rest_bought",
    "back_strap",
    "paper_side",
)
"""Fixes that people of the scenario can do something with, few of them in sizes."""


@cache
def catalog_of(fixes: tuple[str, ...]) -> Catalog:
    """The shipped catalog with these fixes alone."""
    return replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in fixes))


def prices_with(rng: random.Random) -> PriceTable:
    """Prices of the scenario with tiers and stock drawn anew, both small enough to matter to a few."""
    items = {}
    for name, item in PRICES.items.items():
        tiers = ()
        if rng.random() < 0.4:
            tiers = (_tier(rng, item.price),)
        stock = rng.randint(1, 3) if rng.random() < 0.4 else None
        items[name] = replace(item, tiers=tiers, stock=stock)
    return replace(PRICES, items=items)


def fund_basis(seed: int, kept: Goal | None, every_gain: bool) -> tuple[PlanBasis, random.Random]:
    """Draw catalog and prices; the generator goes on to draw people and rules."""
    rng = random.Random(seed)
    fixes = tuple(sorted(rng.sample(FIXES[:-1], 4))) + FIXES[-1:]
    return PlanBasis(catalog_of(fixes), prices_with(rng), kept=kept, every_gain=every_gain), rng


def every_plan_of(name: str, basis: PlanBasis) -> list[Column]:
    """Every plan a person can have, by applying each set of fixes; what another beats in all is left out."""
    member = member_of(rows()[name], basis, Had())
    listed, found = basis.listed, []
    for picked in product(*((None, *offer.options) for offer in member.offers.decisions)):
        options = [option for option in picked if option is not None]
        if clashes(options):
            continue
        try:
            after = state_with(member.state, options)
        except TwoSets:
            continue
        found.append((options, after, bill_of(options, member.case, listed)))
    broken = breaches_of_many(
        [member.state] * len(found),
        [after for _, after, _ in found],
        [[(option.fix, option.owner) for option in options] for options, _, _ in found],
    )
    strains = strain_of_many([after for _, after, _ in found], [member.weights] * len(found))
    columns = {
        Column(
            tuple((line.item, line.packs) for line in bill.lines),
            strain,
            None if basis.kept is None else score_of(after, basis.kept.name),
        )
        for (_, after, bill), breach, strain in zip(found, broken, strains, strict=True)
        if not breach and not bill.missing
    }
    return [one for one in columns if not any(other != one and beats(other, one) for other in columns)]


def beats(one: Column, other: Column) -> bool:
    """Whether a plan is as good as another in packs of everything, strain and score."""
    mine, theirs = dict(one.packs), dict(other.packs)
    scores = (99 if column.score is None else column.score for column in (one, other))
    return (
        one.strain <= other.strain
        and next(scores) <= next(scores)
        and all(count <= theirs.get(item, 0) for item, count in mine.items())
    )


def _tier(rng: random.Random, price: int) -> Tier:
    lower = price * rng.randint(60, 90) // 100
    return Tier(rng.randint(2, 3), lower, lower, lower)
