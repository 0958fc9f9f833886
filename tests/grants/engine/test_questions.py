"""Waiting list, the next hundred, what scarcity costs, the price of fairness."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.stages import seeds

from deskmend.grants.engine.share import share

from .instances import invented
from .one_piece import most_by_one_program


@seeds(3, 6)
def test_the_next_hundred_lies_between_what_is_found_and_what_is_proven(seed: int) -> None:
    applicants, pool, terms = invented(40 + seed, 12, part=0.2, shares=seed % 3 == 0)
    found = share(applicants, pool, terms, hundred=100)
    more = found.more_money
    assert more is not None
    richer = most_by_one_program(applicants, pool, replace(terms, fund=terms.fund + 100))
    assert richer is not None
    assert more.at_least <= richer[0] - found.relief <= more.at_most


@seeds(3, 8)
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


@pytest.mark.parametrize("policy", ["most_relief", "most_people", "worst_off_first"])
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
    assert {one.id for one in found.waiting} <= left_out
    if policy != "most_people":
        assert served_by_money == left_out
    assert all(one.fund is None or one.fund > terms.fund for one in found.waiting)
    assert not any(one.proven for one in found.waiting)
    funds = [one.fund for one in found.waiting if one.fund is not None]
    assert funds == sorted(funds)


@pytest.mark.parametrize("policy", ["most_people", "worst_off_first"])
def test_the_price_of_fairness_is_what_most_relief_would_give(policy: str) -> None:
    applicants, pool, terms = invented(5, 10, policy=policy, part=0.3)
    found = share(applicants, pool, terms)
    best = most_by_one_program(applicants, pool, replace(terms, policy="most_relief", limit=None))
    assert best is not None
    assert found.most_relief == found.most_relief_bound == best[0]
    assert found.weighted_relief <= best[0]


@pytest.mark.parametrize("weight", [1, 1000, 1_000_000])
@pytest.mark.parametrize("people", [12, 60])
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
        assert found.waiting == ()
