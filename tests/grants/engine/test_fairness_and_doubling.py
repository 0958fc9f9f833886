"""What must not change when rows are shuffled, people are asked one by one, or everything is doubled."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest
from tests.stages import NOW, some

from deskmend.grants.engine.pricing import FULL_UP_TO
from deskmend.grants.engine.share import share
from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms
from deskmend.grants.verify import allocation_faults

from .instances import invented
from .listed import ListedPool


def doubled(
    applicants: list[Applicant], pool: ListedPool, terms: FundTerms
) -> tuple[list[Applicant], ListedPool, FundTerms]:
    twins = [replace(one, id=f"{one.id}b") for one in applicants]
    plans = {**pool.people, **{f"{one}b": people for one, people in pool.people.items()}}
    twice = replace(
        terms,
        fund=2 * terms.fund,
        stock={item: 2 * most for item, most in terms.stock.items()},
        tiers={
            item: tuple((2 * first, price) for first, price in tiers) for item, tiers in terms.tiers.items()
        },
    )
    return [*applicants, *twins], ListedPool(plans), twice


@pytest.mark.parametrize("drawn", some([(1, 6), (2, 15), (3, 20), (4, 35), (5, 90)], (2, 15)))
def test_everything_doubled_bounds_at_least_twice_the_relief(drawn: tuple[int, int]) -> None:
    applicants, pool, terms = invented(*drawn, weights=True)
    once = share(applicants, pool, terms, questions=False)
    twice = share(*doubled(applicants, pool, terms), questions=False)
    assert twice.bound >= 2 * once.relief


@pytest.mark.parametrize(
    "policy", some(["most_relief", "most_people", "worst_off_first"], "most_relief", "most_people")
)
@pytest.mark.parametrize("people", some([12, 70], 12))
def test_shuffled_rows_give_everybody_the_same(policy: str, people: int) -> None:
    applicants, pool, terms = invented(11, people, policy=policy, plans=3)
    if policy == "worst_off_first" and people > 40:
        terms = replace(terms, stock={}, tiers={})
    first = share(applicants, pool, terms)
    random.Random(3).shuffle(applicants)
    assert share(applicants, pool, terms) == first
    assert list(first.chosen) == sorted(one.id for one in applicants)


class _Recording(ListedPool):
    """Notes what everybody is asked; answers one at a time, in the company of nobody."""

    def columns(self, prices: Mapping[str, int], ids: Sequence[str]) -> Mapping[str, Sequence[Column]]:
        return {
            one: next(iter(super(_Recording, self).columns(prices, [one]).values())) for one in reversed(ids)
        }

    def best(
        self, prices: Mapping[str, int], strain_weights: Mapping[str, int], money_weight: int
    ) -> Mapping[str, Column]:
        alone = (
            super(_Recording, self).best(prices, {one: weight}, money_weight)
            for one, weight in strain_weights.items()
        )
        return {one: column for answer in alone for one, column in answer.items()}


@pytest.mark.parametrize("people", some([20, FULL_UP_TO + 60], 20))
def test_nothing_depends_on_who_else_is_in_the_batch(people: int) -> None:
    applicants, pool, terms = invented(5, people, plans=3)
    together = share(applicants, pool, terms, questions=False)
    alone = share(applicants, _Recording(pool.people), terms, questions=False)
    assert alone == together


def test_many_people_are_shared_with_a_small_proven_gap() -> None:
    applicants, pool, terms = invented(21, 2 * FULL_UP_TO, items=8, plans=6, part=0.3, tiers=False)
    found = share(applicants, pool, terms)
    assert allocation_faults(applicants, terms, found) == []
    assert found.gap is not None
    assert 0 <= found.gap < 0.001
    assert found.more_money is not None
    assert 0 <= found.more_money.at_least <= found.more_money.at_most


@pytest.mark.thorough
@pytest.mark.parametrize("seed", some([3, 4], 3))
def test_tiers_over_many_people_are_parted(seed: int) -> None:
    """Thresholds near what is needed leave a gap that only parting the ways of ordering closes."""
    applicants, pool, terms = invented(seed, 120, items=6, plans=6, part=0.3, stock=False)
    found = share(applicants, pool, terms, questions=False)
    assert allocation_faults(applicants, terms, found) == []
    assert found.gap is not None
    assert found.gap < 0.02


@pytest.mark.both
def test_more_money_never_gives_less() -> None:
    applicants, pool, terms = invented(8, 14, part=0.1)
    values = [
        share(applicants, pool, replace(terms, fund=fund), questions=False).relief
        for fund in range(0, terms.fund, max(1, terms.fund // (12 if NOW.thorough else 6)))
    ]
    assert values == sorted(values)
    assert values[0] == 0
