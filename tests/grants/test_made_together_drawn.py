"""Drawn people modelled together: each of their plans is what its fixes do, and what one finds alone."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import pytest
from tests.catalog.small_catalog import shipped_only
from tests.stages import seeds

from deskmend.choice import evaluate
from deskmend.errors import InputFaults
from deskmend.grants.people.check import check_plans, claim_of
from deskmend.grants.people.columns import EVERY_COST, Column, CostBand, pareto
from deskmend.grants.people.offered import OfferedPlans, step_name
from deskmend.grants.people.plans import PersonPlans, PlanBasis, every, made_together, member_of
from deskmend.intake.applicants import ApplicantRow, Decided
from deskmend.intake.given_before import Had
from deskmend.measures import format_amount
from deskmend.planning.model import cohorts
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.options import number_text
from deskmend.planning.reach import Goal

from .fund_people import CATALOG, rows
from .small_funds import FIXES, prices_with

KEPT = (None, Goal("rosa", 3), Goal("rosa", 4), Goal("rosa", 5), Goal("rula", 3), Goal("rula", 4))
ASKED = 4
"""People of each draw who are asked; all others of the scenario are modelled in their company."""


@dataclass(frozen=True)
class Question:
    """What the fund may ask of somebody."""

    prices: dict[str, int]
    at_most: dict[str, int]
    strain_weight: int
    money_weight: int
    width: int
    """Of the band that is asked for beyond the best [weighted]."""


class DrawnPeople:
    """The people of the scenario under drawn rules, with what they have and what was decided for them."""

    def __init__(self, seed: int) -> None:
        self.rng = rng = random.Random(f"made together {seed}")
        # what many can choose makes models of many unlike those of one; of rare fixes there are all kinds
        fixes = set(rng.sample(FIXES, rng.randint(3, 6)))
        fixes |= set(rng.sample([fix.id for fix in CATALOG.fixes], rng.randint(0, 4)))
        self.basis = PlanBasis(
            shipped_only(*sorted(fixes)),
            prices_with(rng),
            use_discomfort=rng.random() < 0.2,
            kept=rng.choice(KEPT),
            every_gain=rng.random() < 0.5,
        )
        self.people = [self._person(rows()[name]) for name in sorted(rows())]
        self.asked = rng.sample(self.people, ASKED)

    def _person(self, row: ApplicantRow) -> tuple[ApplicantRow, Had]:
        rng = self.rng
        member = member_of(row, self.basis, Had())
        options = [one for one in member.offers.options() if one.use and not one.pieces]
        had = Had()
        if options and rng.random() < 0.4:
            tasks = list(member.state.tasks)
            had = self._had(rng.sample(options, min(len(options), rng.randint(1, 2))), tasks)
        fixes = sorted({one.fix.id for one in member.offers.options()})
        if fixes and rng.random() < 0.6:
            row = replace(row, decided=self._decided(fixes))
        return row, had

    def _had(self, taken: list[OptionSpec], tasks: list[str]) -> Had:
        owned: dict[str, int] = {}
        sized: dict[tuple[str, str], int] = {}
        made = set()
        for one in taken:
            if one.is_cut:
                made.add(step_name(one, tasks))
                continue
            for item, units in one.use.items():
                if one.size is not None and self.rng.random() < 0.7:
                    sized[item.partition("@")[0], number_text(one.size)] = units
                else:
                    owned[item.partition("@")[0]] = units
        return Had(
            tuple(sorted(owned.items())),
            tuple(sorted((item, size, units) for (item, size), units in sized.items())),
            tuple(sorted(made)),
        )

    def _decided(self, fixes: list[str]) -> Decided:
        rng = self.rng
        money = format_amount(rng.choice((300, 900, 2500)), self.basis.prices.currency)
        return rng.choice(
            (
                Decided(
                    fixed=tuple(rng.sample(fixes, min(len(fixes), rng.randint(1, 2)))), reason="a reason"
                ),
                Decided(most=money, reason="a reason"),
                Decided(least=money, reason="a reason"),
            )
        )

    def questions(self) -> Iterator[Question]:
        """Three drawn questions, the first at listed prices."""
        rng, items = self.rng, self.basis.prices.items
        for number in range(3):
            changed = rng.sample(sorted(items), 6) if number else []
            limited = rng.sample(sorted(items), 3) if number == 2 else []
            yield Question(
                {name: rng.choice((0, 1, items[name].price // 2, items[name].price * 2)) for name in changed},
                {name: rng.randint(0, 1) for name in limited},
                rng.randint(0, 2000),
                rng.choice((0, 1, 40_000, 2_000_000)),
                rng.choice((0, 10**8, 10**10)),
            )


def shown(column: Column) -> tuple[object, ...]:
    """A column with what makes it, which two columns need not share to be equal."""
    return column.packs, column.strain, column.score, column.choice


def answer(ask: Callable[[], Any]) -> Any:
    """What is found, or the fault that is told instead."""
    try:
        found = ask()
    except InputFaults as faults:
        return str(faults)
    return [shown(one) for one in found] if isinstance(found, list) else found


def left_out(plans: PersonPlans) -> tuple[object, ...] | None:
    found = plans.left_out()
    if found is None:
        return None
    return [one.name for one in found.options], found.cost, found.relief, found.told_from


def hold_true(plans: PersonPlans, columns: list[Column]) -> None:
    """Each plan applied, scored and priced again; in the tables of everybody's model it says the same."""
    given = check_plans([claim_of(plans, one) for one in columns], plans.basis, steps=False)
    listed = {name: item.price for name, item in plans.basis.prices.items.items()}
    for column, one in zip(columns, given, strict=True):
        assert one.bill.total == column.cost(listed)
        taken = dict(column.choice)  # type: ignore[call-overload]
        scored = evaluate(
            plans.base, {d.name: taken.get(d.name, d.options[0].name) for d in plans.base.decisions}
        )
        assert not scored.violations
        assert (scored.value + plans.fixed_strain, scored.cost) == (column.strain, one.bill.total)


@pytest.mark.anew
@seeds(1, 16)
def test_who_is_modelled_with_others_is_given_what_one_is_given_alone(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = DrawnPeople(seed)
    # people who have little in common are put together as well, in one draw of two
    if drawn.rng.random() < 0.5:
        for name, most in (("MOST_FOREIGN", 4.0), ("MIXED_FOREIGN", 4.0), ("FEW_OPEN", 0.3)):
            monkeypatch.setattr(cohorts, name, most)
    basis = drawn.basis
    made = made_together(drawn.people, basis)
    questions = list(drawn.questions())
    for row, had in drawn.asked:
        if row.id not in made:
            continue
        together, alone = PersonPlans(row, basis, had, made[row.id]), PersonPlans(row, basis, had)
        assert (together.free.packs, together.free.strain) == (alone.free.packs, alone.free.strain)
        hold_true(together, [together.free])
        if together.free.choice != alone.free.choice:
            # of several that leave as little, which one it is bears on what can be told from it
            continue
        mine = answer(lambda plans=together: list(plans.offered))  # type: ignore[misc]
        assert mine == answer(lambda plans=alone: list(plans.offered))  # type: ignore[misc]
        if isinstance(mine, str):
            continue
        hold_true(together, list(together.offered))
        assert left_out(together) == left_out(alone)
        person = answer(together.applicant)
        assert person == answer(alone.applicant)
        if isinstance(person, str):
            # nothing that is offered is what was decided, and nobody is asked further
            continue
        for asked in questions:
            same_answers(together, alone, asked)


def same_answers(together: PersonPlans, alone: PersonPlans, asked: Question) -> None:
    """As good plans at some prices within some limits, all of them true, and the same of the list kept.

    Where things cost nothing, or as much as each other, several plans are equally good, and which of them is
    found is nobody's claim.
    """
    basis = together.basis
    items = sorted({*basis.coupling, *asked.prices})
    base = {name: item.price for name, item in basis.prices.items.items()}
    for plans in (together, alone):
        # what was found before may serve again, so nobody is asked with more known than the other
        plans.forget_searches()
    told, at = (asked.prices, asked.at_most), {**base, **asked.prices}
    weights = asked.strain_weight, asked.money_weight
    best, own = (plans.best(asked.prices, *weights, asked.at_most) for plans in (together, alone))
    cost = weights[0] * best.strain + weights[1] * best.cost(at)
    assert cost == weights[0] * own.strain + weights[1] * own.cost(at)
    columns = list(together.columns(*told))
    assert figures(columns, at, basis.kept) == figures(list(alone.columns(*told)), at, basis.kept)
    for band in (EVERY_COST, CostBand(asked.prices, *weights, cost + asked.width)):
        found, others = (every(plans, base, items, band) for plans in (together, alone))
        if found is not None and others is not None:
            assert unbeaten(found, items, base, band) == unbeaten(others, items, base, band)
            columns += found
    hold_true(together, [best, *columns])
    if together.listed_only:
        listed = together.offered_alone()
        assert isinstance(listed, OfferedPlans)
        assert list(listed.columns(*told)) == list(together.columns(*told))
        assert shown(listed.best(asked.prices, *weights, asked.at_most)) == shown(best)


def figures(columns: list[Column], at: dict[str, int], kept: Goal | None) -> list[list[tuple[int, int]]]:
    """Money and strain of what is best for some money, of all and of those that keep to the score."""
    keeping = [one for one in columns if kept and one.score is not None and one.score <= kept.at_most]
    return [[(one.cost(at), one.strain) for one in pareto(some, at)] for some in (columns, keeping)]


def unbeaten(
    columns: list[Column], items: list[str], base: dict[str, int], band: CostBand
) -> set[tuple[int, ...]]:
    """What is left, rest of the cost and packs of each plan in a band that no other beats in all of these."""
    rest, at = base | dict.fromkeys(items, 0), {**base, **band.prices}
    told = set()
    for one in columns:
        if band.strain_weight * one.strain + band.money_weight * one.cost(at) <= band.at_most:
            packs = dict(one.packs)
            told.add((one.strain, one.cost(rest), *(packs.get(item, 0) for item in items)))
    return {
        one
        for one in told
        if not any(other != one and all(a <= b for a, b in zip(other, one, strict=True)) for other in told)
    }
