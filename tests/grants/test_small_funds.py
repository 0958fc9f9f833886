"""Small funds of real people against every plan of everybody and every allocation of them."""

from __future__ import annotations

import random
from dataclasses import dataclass
from fractions import Fraction

import pytest
from tests.stages import draws, some

from deskmend.grants.engine.share import share
from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.people.plans import PersonPlans, PlanBasis
from deskmend.grants.people.workers import InProcess, People
from deskmend.grants.terms import FundTerms, ScoreLimit
from deskmend.grants.verify import allocation_faults
from deskmend.planning.reach import Goal

from .engine.brute import best_of_all
from .engine.listed import ListedPlans, ListedPool
from .fund_people import rows
from .small_funds import every_plan_of, fund_basis

# 945297: people of unlike decisions modelled together, of whom one keeps to the limit of a score
DRAWN = [945297, *(pytest.param(seed, marks=pytest.mark.both) for seed in draws(0, 200))]


@dataclass(frozen=True)
class SmallFund:
    """A fund drawn from a seed, with every plan that everybody may be given."""

    applicants: list[Applicant]
    people: People
    terms: FundTerms
    plans: ListedPool


def drawn(seed: int, every_gain: bool) -> SmallFund:
    """Up to five people under any policy and rules, with tiers and stock."""
    policy = ("most_people", "most_relief", "worst_off_first")[seed % 3]
    limit = None
    if policy == "most_people":
        limit = (ScoreLimit("rosa", 4), ScoreLimit("rosa", 5), ScoreLimit("strain", 9_000_000))[seed // 3 % 3]
    kept = None if limit is None or limit.of_strain else Goal(limit.score, limit.most)
    basis, rng = fund_basis(seed, kept, every_gain)
    names = sorted(rng.sample(sorted(rows()), rng.randint(1, 5)))
    base = {name: item.price for name, item in basis.prices.items.items()}
    people = People([rows()[name] for name in names], InProcess(basis), base)
    applicants = people.applicants()
    plans = {name: plans_given(name, basis) for name in names}
    dearest = sum(max(plan.cost(base) for plan in mine) for mine in plans.values())
    terms = FundTerms(
        fund=int(dearest * rng.choice((0.2, 0.4, 0.7, 1.0))),
        base=base,
        stock={name: item.stock for name, item in basis.prices.items.items() if item.stock is not None},
        tiers={
            name: tuple((tier.from_packs, tier.price) for tier in item.tiers)
            for name, item in basis.prices.items.items()
            if item.tiers
        },
        policy=policy,  # type: ignore[arg-type]
        limit=limit,
        cap=rng.choice((None, None, 1700, 2500)),
        floor=rng.choice((None, None, None, 500)),
        # now and then a part is kept for a group of which nobody is there
        group_share=shares_of(rng, applicants) | ({"nobody": Fraction(1, 9)} if seed % 4 == 0 else {}),
        group_cap={one.group: rng.choice((0, 1500, 3000)) for one in applicants[:1] if one.group},
    )
    return SmallFund(
        applicants, people, terms, ListedPool({name: ListedPlans(mine, base) for name, mine in plans.items()})
    )


def shares_of(rng: random.Random, applicants: list[Applicant]) -> dict[str, Fraction]:
    groups = sorted({one.group for one in applicants if one.group})
    return {group: Fraction(rng.randint(1, 4), 9) for group in groups[:2]} if rng.random() < 0.5 else {}


def plans_given(name: str, basis: PlanBasis) -> list[Column]:
    """Every plan there is, or where only what can be told is offered, that."""
    return every_plan_of(name, basis) if basis.every_gain else list(PersonPlans(rows()[name], basis).offered)


@pytest.mark.parametrize("every_gain", some([True, False], False))
@pytest.mark.parametrize("seed", DRAWN)
def test_small_funds_of_real_people_equal_brute_force(seed: int, every_gain: bool) -> None:
    fund = drawn(seed, every_gain)
    best = best_of_all(fund.applicants, fund.plans, fund.terms)
    found = share(fund.applicants, fund.people, fund.terms, questions=False)
    plans = {one: person.plans for one, person in fund.plans.people.items()}
    assert allocation_faults(fund.applicants, fund.terms, found, plans) == []
    if best is None:
        assert found.status == "infeasible"
        return
    first: tuple[int, ...] = ()
    if fund.terms.policy == "most_people":
        first = (found.relief,)
    elif fund.terms.policy == "worst_off_first":
        first = tuple(-strain for strain in sorted((c.strain for c in found.chosen.values()), reverse=True))
    assert (first, found.weighted_relief, -found.spent) == best
    assert (found.status, found.bound) == ("optimal", found.relief)
