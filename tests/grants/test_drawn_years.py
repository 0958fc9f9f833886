"""Drawn funds of two and three rounds, with what happens between them, against every allocation there is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import prod

import pytest
from tests.stages import draws

from deskmend.errors import InputFaults
from deskmend.grants.fund import FundShared, FundWishes, share_fund
from deskmend.grants.people.columns import Column
from deskmend.grants.people.plans import PlanBasis
from deskmend.grants.people.workers import InProcess
from deskmend.grants.rounds import with_round
from deskmend.grants.terms import FundTerms, ScoreLimit
from deskmend.grants.verify import allocation_faults
from deskmend.intake.catalog import Catalog
from deskmend.intake.ledger import Ledger, LedgerEntry, given_by, new_ledger, state_of_ledger, with_entries
from deskmend.intake.prices import PriceTable
from deskmend.measures import format_amount
from deskmend.planning.plan import NoPlan
from deskmend.planning.reach import Goal
from deskmend.report.letter import letter
from deskmend.report.not_given import CAPPED_BEFORE_THIS_TIME, NOT_THIS_TIME
from deskmend.report.words import item_title

from .engine.brute import best_of_all, spent_together
from .engine.listed import ListedPlans, ListedPool
from .engine.resolved import hold_reasons
from .fund_people import rows, table
from .kept_by_hand import Kept, positive
from .small_funds import every_plan_of, offered_to, year_basis

DRAWN = [pytest.param(seed, marks=pytest.mark.both) for seed in draws(1, 200)]
MOST_ALLOCATIONS = 4_000
"""Most allocations that are tried one after the other; people beyond that wait for another draw."""


class DrawnYear:
    """A fund of up to five people that goes on for two or three rounds, drawn from a seed."""

    def __init__(self, seed: int) -> None:
        every_gain = seed % 2 == 0
        policy = ("most_people", "most_relief", "worst_off_first")[seed % 3]
        self.policy, self.limit = policy, None
        if policy == "most_people":
            self.limit = (ScoreLimit("rosa", 4), ScoreLimit("rosa", 5), ScoreLimit("strain", 9_000_000))[
                seed // 3 % 3
            ]
        score = self.limit is not None and not self.limit.of_strain
        self.goal = Goal(self.limit.score, self.limit.most) if score and self.limit is not None else None
        basis, self.rng = year_basis(seed, self.goal, every_gain)
        self.catalog, self.every_gain = basis.catalog, every_gain
        self.prices = self._with_small_packs(basis.prices)
        self.names = sorted(self.rng.sample(sorted(rows()), self.rng.randint(2, 5)))
        self.rounds = self.rng.choice((2, 3))
        self.kept = Kept()
        self.ledger: Ledger = new_ledger("ledger", "EUR")
        self.gone: set[str] = set()

    def _with_small_packs(self, prices: PriceTable) -> PriceTable:
        """Tape on rolls that one person, two or all can share."""
        tape = replace(prices["tape"], pack=self.rng.choice((150, 250, 2500)))
        return replace(prices, items={**prices.items, "tape": tape})

    def next_prices(self) -> None:
        """Some prices change, stock is counted anew, a thing is not sold any more."""
        items = {}
        for name, item in self.prices.items.items():
            if self.rng.random() < 0.06:
                continue
            if self.rng.random() < 0.4:
                price = item.price * self.rng.randint(80, 130) // 100
                tiers = tuple(tier for tier in item.tiers if tier.price < price)
                item = replace(item, price=price, low=price, high=price, tiers=tiers)
            if item.stock is not None and self.rng.random() < 0.4:
                item = replace(item, stock=self.rng.randint(1, 3), as_of=date(2027, 6, 1))
            items[name] = item
        self.prices = replace(self.prices, items=items)

    def wishes(self, plans: dict[str, list[Column]], base: dict[str, int], groups: list[str]) -> FundWishes:
        rng = self.rng
        dearest = sum(max(plan.cost(base) for plan in mine) for mine in plans.values())
        shares = {}
        if groups and rng.random() < 0.2:
            shares = {group: Fraction(rng.randint(1, 4), 9) for group in groups[:2]}
        caps = {}
        if groups and rng.random() < 0.4:
            caps = {rng.choice(groups): rng.choice((1500, 3000, 6000))}
        return FundWishes(
            max(0, self.kept.spent) + int(dearest * rng.choice((0.2, 0.4, 0.7, 1.0))),
            self.policy,  # type: ignore[arg-type]
            self.limit,
            rng.choice((None, None, 1700, 2500)),
            rng.choice((None, None, 2000, 3500)),
            rng.choice((None, None, None, 500)),
            shares,
            caps,
            every_gain=self.every_gain,
        )

    def happens(self) -> None:
        """One to three things between two rounds, in the ledger and by hand."""
        for _ in range(self.rng.randint(1, 3)):
            entry, minor = self._entry()
            if entry is not None:
                self.ledger = with_entries(self.ledger, [entry])
                self.kept.add_entry(entry, minor)

    def _entry(self) -> tuple[LedgerEntry | None, int]:
        rng = self.rng
        held = sorted(key for key, units in self.kept.held.items() if units)
        kind = rng.choice(
            ("return", "return", "leave", "transfer", "lost", "bought", "refund", "paid", "store")
        )
        minor = rng.randint(1, 300)
        if kind in ("refund", "paid"):
            if kind == "refund" and minor > self.kept.spent:
                return None, 0
            name = rng.choice(["", *self.names])
            return LedgerEntry(entry=kind, id=name, amount=format_amount(minor, "EUR")), minor  # type: ignore[arg-type]
        if kind == "leave" and len(self.names) > 2:
            name = self.names.pop(rng.randrange(len(self.names)))
            return LedgerEntry(entry="leave", id=name), 0
        if kind == "lost" and rng.random() < 0.5:
            steps = sorted((one, step) for one, mine in self.kept.made.items() for step in mine)
            if steps:
                name, step = rng.choice(steps)
                return LedgerEntry(entry="lost", id=name, step=step), 0
        if kind == "store":
            return LedgerEntry(entry="store", item=rng.choice(("keyboard", "desk_lamp")), units=1), 0
        if not held:
            return None, 0
        name, item, size = rng.choice(held)
        units = rng.randint(1, self.kept.held[name, item, size])
        to = rng.choice(self.names)
        if kind not in ("return", "transfer", "lost", "bought") or (kind == "transfer" and to == name):
            return None, 0
        told = LedgerEntry(entry=kind, id=name, item=item, size=size, units=units)  # type: ignore[arg-type]
        return told.model_copy(update={"to": to} if kind == "transfer" else {}), 0


def plans_left(year: DrawnYear, basis: PlanBasis) -> dict[str, list[Column]]:
    """Every plan of everybody by what they have, of no more people than can be tried together."""
    found: dict[str, list[Column]] = {}
    for name in year.names:
        had = year.kept.had(name, year.catalog)
        mine = (every_plan_of if year.every_gain else offered_to)(name, basis, had)
        if prod(map(len, found.values())) * len(mine) <= MOST_ALLOCATIONS:
            found[name] = mine
    return found


def rounds_of(seed: int) -> Iterator[tuple[DrawnYear, FundShared, ListedPool, FundTerms]]:
    """Share round after round; each with every plan there is and the terms as they are by hand."""
    year = DrawnYear(seed)
    every_gain = year.every_gain
    for number in range(year.rounds):
        if number:
            year.happens()
            year.next_prices()
        prices, spare = year.kept.market(year.prices, year.catalog)
        basis = PlanBasis(year.catalog, prices, kept=year.goal, every_gain=every_gain)
        plans = plans_left(year, basis)
        people = tuple(row for row in table().people if row.id in plans)
        base = {name: item.price for name, item in prices.items.items()}
        wishes = year.wishes(plans, base, sorted({row.group for row in people if row.group}))
        given, market = given_by(year.ledger, year.prices, year.catalog)
        assert market == prices
        pool = ListedPool({name: ListedPlans(mine, base) for name, mine in plans.items()})
        try:
            shared = share_fund(
                replace(table(), people=people),
                market,
                wishes,
                InProcess(PlanBasis(year.catalog, market, kept=year.goal, every_gain=every_gain)),
                given,
                steps=True,
                catalog=year.catalog,
            )
        except InputFaults:
            assert wishes.group_share
            return  # earlier rounds have taken from a part that is kept now
        except NoPlan:
            assert wishes.floor is not None
            return
        yield year, shared, pool, year.kept.terms(wishes, prices, spare, shared.applicants)
        year.ledger = with_round(year.ledger, shared, year.catalog, None, "0" * 64)
        year.kept.add_round(shared, year.catalog, prices)
        hold_ledger(year)


def hold_ledger(year: DrawnYear) -> None:
    """The ledger says what was kept by hand."""
    state, kept = state_of_ledger(year.ledger), year.kept
    assert state.spent == kept.spent
    assert positive(state.held.items()) == positive(kept.held.items())
    assert positive(state.store.items()) == positive(kept.store.items())
    assert {name: set(steps) for name, steps in state.made.items() if steps} == {
        name: steps for name, steps in kept.made.items() if steps
    }


@pytest.mark.parametrize("seed", DRAWN)
def test_each_round_of_a_drawn_year_equals_brute_force_and_says_what_is_so(seed: int) -> None:
    for year, shared, pool, terms in rounds_of(seed):
        applicants, found = list(shared.applicants), shared.allocation
        for one in applicants:
            assert one.strain_free == min(p.strain for p in pool.people[one.id].plans if not p.packs)
        best = best_of_all(applicants, pool, terms)
        plans = {one: person.plans for one, person in pool.people.items()}
        assert allocation_faults(applicants, terms, found, plans) == []
        first: tuple[int, ...] = ()
        if terms.policy == "most_people":
            first = (found.relief,)
        elif terms.policy == "worst_off_first":
            strains = sorted((column.strain for column in found.chosen.values()), reverse=True)
            first = tuple(-strain for strain in strains)
        assert (first, found.weighted_relief, -found.spent) == best
        assert (found.status, found.bound) == ("optimal", found.relief)
        hold_reasons(applicants, pool, terms, found)
        hold_letters(shared, year.catalog, year.kept)
        hold_together(shared, pool, terms, year)


def hold_together(shared: FundShared, pool: ListedPool, terms: FundTerms, year: DrawnYear) -> None:
    """Counted with packs that several take from, no allocation is better by more than is told."""
    found = shared.allocation
    assert shared.handed.cost <= found.spent
    if terms.policy == "worst_off_first":
        return
    assert found.together_at_most is not None
    packs = {
        name: shared.prices[name].pack
        for name in shared.prices.items
        if name in year.catalog.items and year.catalog.items[name].shared
    }
    loose = {item: units for (item, size), units in year.kept.store.items() if not size}
    best = best_of_all(
        list(shared.applicants), pool, terms, lambda columns, of: spent_together(columns, of, loose, packs)
    )
    assert best is not None
    most = found.relief + found.together_at_most
    assert (best[0][0] if terms.policy == "most_people" else best[1]) <= most


def hold_letters(shared: FundShared, catalog: Catalog, kept: Kept) -> None:
    """What letters say of things, reasons and earlier rounds is so."""
    waiting = {one.id: one for one in shared.allocation.waiting}
    for name, plan in shared.plans.items():
        text = " ".join(letter(shared, name, catalog).split())
        packs = shared.allocation.chosen[name].packs
        had = kept.had(name, catalog)
        things = sorted({item for item, _ in had.owned} | {item for item, _, _ in had.sized})
        assert ("You have from an earlier round" in text) == bool(things)
        if things:
            list_of = text.partition("You have from an earlier round")[2].partition("Keep these things")[0]
            assert all(item_title(item, catalog) in list_of for item in things)
        assert ("Good news" in text) == bool(packs) == ("You get" in text)
        assert not packs or ("gives you more things" in text) == bool(things)
        got = text.partition("You get")[2].partition("Do this")[0]
        for item, count in packs:
            assert item_title(item.partition("@")[0], catalog) in got
            assert f"{count} pack" in got or catalog.items[item.partition("@")[0]].shared
        if name in waiting and waiting[name].why == "no_help":
            assert "found nothing to buy" in text
        elif name in waiting:
            told = NOT_THIS_TIME[waiting[name].why]
            if waiting[name].why == "cap" and shared.earlier_rounds_cap(name):
                told = CAPPED_BEFORE_THIS_TIME
            assert told in text
        less = plan.strain_before - plan.strain_after
        if plan.options and plan.strain_before:
            assert f"about {(200 * less + plan.strain_before) // (2 * plan.strain_before)} % of that" in text
