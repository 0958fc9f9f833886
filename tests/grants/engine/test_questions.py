"""Waiting list, the next hundred, what scarcity costs, the price of fairness."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from tests.stages import NOW, seeds, some

from deskmend.grants.engine.share import share
from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms

from .instances import invented
from .listed import ListedPlans, ListedPool
from .one_piece import most_by_one_program


@seeds(1, 6)
def test_the_next_hundred_lies_between_what_is_found_and_what_is_proven(seed: int) -> None:
    applicants, pool, terms = invented(40 + seed, 12 if NOW.thorough else 8, part=0.2, shares=seed % 3 == 0)
    found = share(applicants, pool, terms, extra=100)
    more = found.more_money
    assert more is not None
    richer = most_by_one_program(applicants, pool, replace(terms, fund=terms.fund + 100))
    assert richer is not None
    assert more.at_least <= richer[0] - found.relief <= more.at_most


@seeds(2, 8)
def test_the_cost_of_scarcity_lies_between_what_is_found_and_what_is_proven(seed: int) -> None:
    applicants, pool, terms = invented(60 + seed, 12, part=0.6)
    found = share(applicants, pool, terms)
    used_up = {order.item for order in found.orders if order.packs == terms.stock.get(order.item)}
    assert {one.item for one in found.stock_costs} == used_up
    for one in found.stock_costs:
        stock = {item: most for item, most in terms.stock.items() if item != one.item}
        plenty = most_by_one_program(applicants, pool, replace(terms, stock=stock))
        assert plenty is not None
        assert one.at_most is not None
        assert one.at_least <= plenty[0] - found.relief <= one.at_most


@pytest.mark.parametrize(
    "policy", some(["most_relief", "most_people", "worst_off_first"], "most_relief", "most_people")
)
def test_everybody_left_out_is_on_the_waiting_list(policy: str) -> None:
    applicants, pool, terms = invented(3, 20, part=0.15, policy=policy, stock=False, tiers=False)
    found = share(applicants, pool, terms)
    could = {
        one.id
        for one in applicants
        if any(plan.strain < one.strain_free and plan.packs for plan in pool.people[one.id].plans)
    }
    left_out = {one for one, column in found.chosen.items() if not column.packs} & could
    assert left_out
    served_by_money = {one.id for one in found.waiting if one.fund is not None}
    assert {one.id for one in found.waiting if one.why != "no_help"} == left_out == served_by_money
    assert {one.id for one in found.waiting} == {one for one, plan in found.chosen.items() if not plan.packs}
    assert all(one.fund is None or one.fund > one.not_at >= terms.fund for one in found.waiting)
    funds = [one.fund for one in found.waiting if one.fund is not None]
    assert funds == sorted(funds)


@pytest.mark.parametrize("policy", some(["most_people", "worst_off_first"], "most_people"))
def test_the_price_of_fairness_is_what_most_relief_would_give(policy: str) -> None:
    applicants, pool, terms = invented(5, 10, policy=policy, part=0.3)
    found = share(applicants, pool, terms)
    best = most_by_one_program(applicants, pool, replace(terms, policy="most_relief", limit=None))
    assert best is not None
    assert found.most_relief == found.most_relief_bound == best[0]
    assert found.weighted_relief <= best[0]


@pytest.mark.parametrize("weight", some([1, 1000, 1_000_000], 1_000_000))
@pytest.mark.parametrize("people", some([12, 60], 12))
@pytest.mark.parametrize("scarce", [True, False])
def test_more_than_enough_money_serves_everybody_best(people: int, scarce: bool, weight: int) -> None:
    applicants, pool, terms = invented(2, people, stock=scarce)
    applicants = [replace(one, weight=weight) for one in applicants]
    found = share(applicants, pool, replace(terms, fund=10**9))
    best = {one.id: min(plan.strain for plan in pool.people[one.id].plans) for one in applicants}
    most = sum(weight * (one.strain_free - best[one.id]) for one in applicants)
    assert found.relief <= found.bound <= most
    if not scarce:
        assert found.status == "optimal"
        assert found.relief == most
        assert {one.why for one in found.waiting} <= {"no_help"}


CHEAP, DEAR = Column((("mat", 1),), 700), Column((("stand", 1),), 400)
"""Two plans that help, beside one that costs nothing and leaves 1000."""


def waiting_of(*plans: Column, second: int = 1000, **terms: Any) -> tuple[str, ...]:
    """Why somebody waits who is one of two, the other counting a thousand times as much."""
    rules = FundTerms(**{"fund": 1000, "base": {"mat": 500, "stand": 900}, **terms})
    people = [Applicant("first", 1000, 1000, 10**6), Applicant("second", 1000, 1000, second)]
    listed = ListedPlans([Column((), 1000), *plans], rules.base)
    found = share(people, ListedPool({one.id: listed for one in people}), rules)
    assert found.chosen["second"].packs == ()
    return tuple(one.why for one in found.waiting if one.id == "second")


def test_why_somebody_waits_is_true_and_without_it_they_are_served() -> None:
    """Each hindrance is taken away in turn: then nobody waits."""
    assert waiting_of(DEAR) == ("money",)
    assert waiting_of(DEAR, fund=10_000, stock={"stand": 1}) == ("stock",)
    assert waiting_of(CHEAP, DEAR, fund=10_000, cap=400) == ("cap",)
    assert waiting_of() == ("no_help",)
    assert waiting_of(DEAR, fund=10_000, second=0) == ("weight",)
    for plans, terms in (((DEAR,), {"fund": 1800}), ((DEAR,), {"fund": 10_000, "stock": {"stand": 2}})):
        with pytest.raises(AssertionError):
            waiting_of(*plans, **terms)
    with pytest.raises(AssertionError):
        waiting_of(CHEAP, DEAR, fund=10_000, cap=500)


def test_who_may_not_draw_on_what_is_kept_for_others_is_told_so() -> None:
    terms = FundTerms(1000, {"mat": 500}, group_share={"shop": Fraction(1, 2)})
    people = [
        Applicant("away", 1000, 1000),
        Applicant("away2", 1000, 1000),
        Applicant("in", 9, 9, group="shop"),
    ]
    plans = {name: ListedPlans([Column((), 1000), CHEAP], terms.base) for name in ("away", "away2")}
    plans["in"] = ListedPlans([Column((), 9)], terms.base)
    found = share(people, ListedPool(plans), terms)
    why = {one.id: (one.why, one.not_at, one.fund) for one in found.waiting}
    # 500 of 1000 are open to others; a step is 500, and two mats at 500 want 2000 of which half is open
    assert why == {"in": ("no_help", None, None), "away2": ("share", 1500, 2000)}
