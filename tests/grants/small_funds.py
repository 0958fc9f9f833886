"""Small funds of real people: a catalog of a few fixes, and every plan there is by trying all of them."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import product

from tests.catalog.small_catalog import shipped_only

from deskmend.grants.people.columns import Column
from deskmend.grants.people.plans import PersonPlans, PlanBasis, member_of
from deskmend.intake.case import Case
from deskmend.intake.given_before import Had
from deskmend.intake.prices import PriceTable, Tier
from deskmend.intake.reading.fields import Owned
from deskmend.planning.bill import Bill, BillLine
from deskmend.planning.model.cohorts import Member
from deskmend.planning.model.offers import Offers, OptionSpec, offers_for
from deskmend.planning.model.rules import breaches_of_many
from deskmend.planning.plan_check import clashes
from deskmend.planning.reach import Goal
from deskmend.planning.score import strain_of_many
from deskmend.planning.selection import state_with
from deskmend.risk.scores.day import score_of
from deskmend.workstation.effects import TwoSets

from .fund_people import PRICES, rows

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


YEAR_FIXES = ("desk_edge_foam", "keyboard_basic", "lamp_task", "mouse_basic", "paper_side", "seat_cushion")
"""Fixes of a fund that goes on: with sizes, cut, and of a thing that may be shared."""


def year_basis(seed: int, kept: Goal | None, every_gain: bool) -> tuple[PlanBasis, random.Random]:
    """Draw prices for a year; the generator goes on to draw people, rules and what happens."""
    rng = random.Random(seed)
    return PlanBasis(shipped_only(*YEAR_FIXES), prices_with(rng), kept=kept, every_gain=every_gain), rng


def fund_basis(seed: int, kept: Goal | None, every_gain: bool) -> tuple[PlanBasis, random.Random]:
    """Draw catalog and prices; the generator goes on to draw people and rules."""
    rng = random.Random(seed)
    fixes = tuple(sorted(rng.sample(FIXES[:-1], 4))) + FIXES[-1:]
    return PlanBasis(shipped_only(*fixes), prices_with(rng), kept=kept, every_gain=every_gain), rng


def every_plan_of(name: str, basis: PlanBasis, had: Had = Had()) -> list[Column]:  # noqa: B008 - frozen
    """Every plan a person can have, by applying each set of fixes; what another beats in all is left out."""
    member = member_of(rows()[name], basis, Had())
    if had != Had():
        member = replace(member, offers=_all_offers(member, basis, had))
    listed, found = basis.listed, []
    for picked in product(*((None, *offer.options) for offer in member.offers.decisions)):
        options = [option for option in picked if option is not None]
        if clashes(options):
            continue
        try:
            after = state_with(member.state, options)
        except TwoSets:
            continue
        found.append((options, after, _bill(options, member.case, listed, had)))
    broken = breaches_of_many(
        [member.state] * len(found),
        [after for _, after, _ in found],
        [[(option.fix, option.owner) for option in options] for options, _, _ in found],
    )
    strains = strain_of_many([after for _, after, _ in found], [member.weights] * len(found))
    shared = {item for item, known in basis.catalog.items.items() if known.shared}
    columns = [
        Column(
            tuple((line.item, line.packs) for line in bill.lines),
            strain,
            None if basis.kept is None else score_of(after, basis.kept.name),
            {line.item: line.units for line in bill.lines if line.item in shared},
        )
        for (_, after, bill), breach, strain in zip(found, broken, strains, strict=True)
        if not breach and not bill.missing
    ]
    kept: list[Column] = []
    for one in sorted(columns, key=lambda column: (column.strain, sum(count for _, count in column.packs))):
        if not any(beats(other, one) for other in kept):
            kept = [other for other in kept if not beats(one, other)] + [one]
    return kept


def _all_offers(member: Member, basis: PlanBasis, had: Had) -> Offers:
    """What could be chosen by whoever has plenty of everything that is made or held."""
    ids = {step.partition("=")[0] for step in had.made}
    items = {material.item for fix in basis.catalog.fixes if fix.id in ids for material in fix.materials}
    items |= {item for item, _ in had.owned} | {item for item, _, _ in had.sized}
    plenty = {**member.case.owns, **{item: Owned(10**6) for item in items}}
    case = member.case.model_copy(update={"owns": plenty})
    return offers_for(case, member.state, basis.catalog, basis.listed)


def _bill(options: Sequence[OptionSpec], case: Case, listed: PriceTable, had: Had) -> Bill:
    """What has to be bought beside what is owned, was given, or is made already."""
    sized = {(item, size): units for item, size, units in had.sized}
    use: Counter[str] = Counter()
    for option in options:
        size = "" if option.size is None else str(option.size).removesuffix(".0")
        if (f"{option.fix.id}={size}" if size else option.fix.id) in had.made:
            continue
        use.update(
            {
                item: units
                for item, units in option.use.items()
                if sized.get((item.partition("@")[0], size), 0) < units
            }
        )
    owned = Counter({item: own.count for item, own in case.owns.items()})
    owned.update(dict(had.owned))
    owned.subtract(dict(had.used_up))
    need = {item: units - max(0, owned[item]) for item, units in sorted(use.items())}
    need = {item: units for item, units in need.items() if units > 0}
    return Bill(
        tuple(
            BillLine(
                item,
                -(-units // listed[item].pack),
                -(-units // listed[item].pack) * listed[item].price,
                units,
            )
            for item, units in need.items()
            if item in listed
        ),
        tuple(item for item in need if item not in listed),
    )


def beats(one: Column, other: Column) -> bool:
    """Whether a plan is as good in packs of everything, units of what is shared, strain and score."""
    mine, theirs = (Counter(dict(column.packs)) for column in (one, other))
    for count, column in ((mine, one), (theirs, other)):
        count.update({f"units of {item}": n for item, n in _units(column).items()})
    scores = (99 if column.score is None else column.score for column in (one, other))
    return (
        one.strain <= other.strain
        and next(scores) <= next(scores)
        and all(count <= theirs.get(item, 0) for item, count in mine.items())
    )


def offered_to(name: str, basis: PlanBasis, had: Had) -> list[Column]:
    """What a person is offered where only what can be told is, each with its units of what is shared."""
    plans = PersonPlans(rows()[name], basis, had)
    case = member_of(rows()[name], basis, Had()).case
    shared = {item for item, known in basis.catalog.items.items() if known.shared}
    offered = []
    for column in plans.offered:
        options = plans.member.offers.taken(dict(column.choice) if isinstance(column.choice, tuple) else {})
        bill = _bill(options, case, basis.listed, had)
        assert tuple((line.item, line.packs) for line in bill.lines) == column.packs
        units = {line.item: line.units for line in bill.lines if line.item in shared}
        offered.append(replace(column, choice=units))
    return offered


def _units(column: Column) -> dict[str, int]:
    return column.choice if isinstance(column.choice, dict) else {}


def _tier(rng: random.Random, price: int) -> Tier:
    lower = price * rng.randint(60, 90) // 100
    return Tier(rng.randint(2, 3), lower, lower, lower)
