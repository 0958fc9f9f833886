"""Small funds in which every policy meets every rule at once, against every allocation there is."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest
from tests.stages import draws

from deskmend.grants.engine.share import share
from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms, ScoreLimit, step_of
from deskmend.grants.verify import allocation_faults

from .brute import best_of_all
from .instances import Fund, invented
from .listed import ListedPlans, ListedPool
from .resolved import hold_reasons

POLICIES = ("most_relief", "most_people", "worst_off_first")
PARTS = (Fraction(1, 10), Fraction(1, 4), Fraction(1, 3), Fraction(333, 1000))


def ruled(seed: int) -> Fund:
    """Draw a fund of up to five people with tiers and stock, and any of the rules together."""
    rng = random.Random(seed)
    applicants, pool, terms = invented(
        seed,
        people=rng.randint(1, 5),
        plans=4,
        policy=POLICIES[seed % 3],
        cap=rng.random() < 0.4,
        floor=rng.random() < 0.3,
        weights=rng.random() < 0.5,
        part=rng.choice((0.15, 0.3, 0.5, 0.8, 1.1)),
    )
    if terms.limit is not None and rng.random() < 0.5:
        terms = replace(terms, limit=ScoreLimit("rosa", rng.randint(3, 6)))
    if rng.random() < 0.6:
        groups = rng.sample(["a", "b", "c"], rng.randint(1, 3))
        terms = replace(terms, group_share={group: rng.choice(PARTS) for group in groups})
    if rng.random() < 0.4:
        spent = {group: rng.randint(0, terms.fund // 4) for group in rng.sample(["a", "b", "c", ""], 2)}
        terms = replace(terms, spent_before=spent)
    if rng.random() < 0.3:
        some = rng.sample(applicants, rng.randint(1, len(applicants)))
        terms = replace(terms, caps={one.id: rng.randint(0, 600) for one in some})
    if rng.random() < 0.4:
        groups = rng.sample(["a", "b", "c"], rng.randint(1, 2))
        terms = replace(terms, group_cap={group: rng.randint(0, 1200) for group in groups})
    return applicants, pool, terms


def first_of(chosen: dict[str, int], value: int, terms: FundTerms) -> tuple[int, ...]:
    """What the policy looks at first, to be compared with brute force."""
    if terms.policy == "most_people":
        return (value,)
    return (
        tuple(-one for one in sorted(chosen.values(), reverse=True)) if terms.policy != "most_relief" else ()
    )


def shares_can_be_kept(terms: FundTerms) -> bool:
    return terms.keeps_shares([0] * len(terms.pots))


RULED = [pytest.param(seed, marks=pytest.mark.both) for seed in draws(7, 200)]


@pytest.mark.parametrize("seed", RULED)
def test_every_rule_together_equals_brute_force(seed: int) -> None:
    applicants, pool, terms = ruled(seed)
    if not shares_can_be_kept(terms):
        pytest.skip("earlier rounds have taken from a part; a fund like that is refused before it is shared")
    best = best_of_all(applicants, pool, terms)
    found = share(applicants, pool, terms, questions=False)
    plans = {one: person.plans for one, person in pool.people.items()}
    assert allocation_faults(applicants, terms, found, plans) == []
    if best is None:
        assert found.status == "infeasible"
        return
    left = {one: column.strain for one, column in found.chosen.items()}
    assert (first_of(left, found.relief, terms), found.weighted_relief, -found.spent) == best
    assert (found.status, found.bound) == ("optimal", found.relief)


def test_what_is_saved_in_bulk_is_spent_beside_a_part_kept_for_a_group() -> None:
    """Ten lamps at 100, or 60 from ten on: 600 of 700, though at listed prices they come to 1000."""
    terms = FundTerms(700, {"lamp": 100}, tiers={"lamp": ((10, 60),)}, group_share={"shop": Fraction(3, 10)})
    people = [Applicant(f"p{k}", 1000, 1000, group="shop" if k < 6 else None) for k in range(10)]
    plans = ListedPlans([Column((), 1000), Column((("lamp", 1),), 400)], terms.base)
    found = share(people, ListedPool({one.id: plans for one in people}), terms, questions=False)
    assert (found.spent, sum(bool(column.packs) for column in found.chosen.values())) == (600, 10)
    assert (found.status, allocation_faults(people, terms, found)) == ("optimal", [])


def test_a_part_counts_over_all_rounds_and_to_the_fraction() -> None:
    """Of 1000 in all a third stays with the shop: 666.67 are for others, 300 of which are gone already."""
    kept = FundTerms(700, {"lamp": 1}, group_share={"shop": Fraction(1, 3)}, spent_before={"": 300})
    assert kept.keeps_shares([366, 0])
    assert not kept.keeps_shares([367, 0])
    two = replace(kept, group_share={"shop": Fraction(1, 3), "home": Fraction(1, 3)})
    assert two.keeps_shares([33, 0, 333])
    assert not two.keeps_shares([34, 0, 333])
    assert two.keeps_shares([0, 366, 366])
    assert not two.keeps_shares([0, 367, 0])


def test_the_smallest_part_of_a_fund_is_plenty_too() -> None:
    """A three-thousandth is open to all: what costs 808 takes 2,424,000, and stock lacks nothing."""
    shares = {"a": Fraction(333, 1000), "b": Fraction(1, 3), "c": Fraction(1, 3)}
    terms = FundTerms(306, {"chair": 404}, group_share=shares, policy="worst_off_first")
    plans = ListedPlans([Column((), 1000), Column((("chair", 2),), 400)], terms.base)
    found = share([Applicant("p", 1000, 1000)], ListedPool({"p": plans}), terms)
    assert [(one.id, one.why, one.not_at is not None) for one in found.waiting] == [("p", "money", True)]


@pytest.mark.parametrize("seed", RULED)
def test_each_reason_is_true_when_the_fund_is_shared_again(seed: int) -> None:
    """Nobody unserved is left out, and what is said of each is held against every allocation there is."""
    applicants, pool, terms = ruled(seed)
    if not shares_can_be_kept(terms):
        pytest.skip("earlier rounds have taken from a part; a fund like that is refused before it is shared")
    found = share(applicants, pool, terms)
    if not found.chosen:
        return
    hold_reasons(applicants, pool, terms, found)


@pytest.mark.parametrize("prices", [(250, 900, 4000), (3, 9, 20), (120_000, 80_000, 500_000)])
def test_a_step_of_money_is_round_and_means_something(prices: tuple[int, ...]) -> None:
    base = {f"item{k}": price for k, price in enumerate(prices)}
    for fund in (0, 1, 999, 123_456, 10**9):
        step = step_of(FundTerms(fund, base))
        assert str(step).rstrip("0") in ("1", "2", "5")
        assert step >= max(sorted(prices)[1], fund // 10)
        assert step <= 5 * max(sorted(prices)[1], fund // 10, 1)


def test_whoever_waits_is_told_of_the_cap_of_their_own_group_only() -> None:
    """Ann's cap keeps her from the dear thing, so she takes the one cheap thing that Ben waits for."""
    base = {"cheap": 50, "dear": 500}
    ann = [Column((), 100), Column((("cheap", 1),), 60), Column((("dear", 1),), 20)]
    ben = [Column((), 50), Column((("cheap", 1),), 30)]
    applicants = [Applicant("ann", 100, 100, 1000, "a"), Applicant("ben", 50, 50, 1000, "b")]
    pool = ListedPool({"ann": ListedPlans(ann, base), "ben": ListedPlans(ben, base)})
    terms = FundTerms(fund=1000, base=base, stock={"cheap": 1}, group_cap={"a": 100, "b": 100})
    found = share(applicants, pool, terms)
    assert [(one.id, one.why) for one in found.waiting] == [("ben", "stock")]
    hold_reasons(applicants, pool, terms, found)
