"""The frontier of cost and value within a limit of minutes, against brute force and CP-SAT."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples, seeds

from deskmend.choice import Decision, Item, Option, Problem, Table, engines, frontier
from deskmend.choice.elimination.hull import FrontierCase, Hull, Slope
from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.elimination.search import CaseSearch
from deskmend.choice.engines import solve
from deskmend.choice.network import Network, build
from deskmend.choice.open_prices import OpenPrices

from .brute import ladder, point_of, points
from .cpsat import cpsat_best
from .random_problems import random_problem

SEEDS = st.integers(0, 10**6)
SPREADS = st.sampled_from([3, 12, 1000])
MINUTES = st.sampled_from([0, 5, 7, 10, 15, 20, 35, 1000])


def limited(seed: int, minutes: int, spread: int = 12) -> Problem:
    problem = random_problem(seed, tables=6, spread=spread)
    return replace(problem, bounds=(), minutes=minutes)


def scarce(problem: Problem, seed: int) -> Problem:
    """The same with most items not to be bought, and wanted by many decisions."""
    rng = random.Random(seed)
    items = [
        Item(i.name, None, owned=rng.choice([1, 2, 3])) if rng.random() < 0.8 else i for i in problem.items
    ]

    def wanting(option: Option) -> Option:
        return replace(option, use={item.name: 1 for item in items if rng.random() < 0.5})

    decisions = [
        replace(decision, options=(decision.options[0], *map(wanting, decision.options[1:])))
        for decision in problem.decisions
    ]
    return replace(problem, items=tuple(items), decisions=tuple(decisions))


@examples(250)
@given(seed=SEEDS, spread=SPREADS, minutes=MINUTES)
def test_frontier_within_minutes_and_money_is_brute_force(seed: int, spread: int, minutes: int) -> None:
    problem = limited(seed, minutes, spread)
    assert [point_of(problem, point) for point in frontier(problem)] == ladder(problem)


@pytest.mark.parametrize("wider", [0.0, 1e9])
@examples(100)
@given(seed=SEEDS, minutes=MINUTES)
def test_stock_that_is_overdrawn_is_kept_in_parts_and_as_a_whole(
    wider: float, seed: int, minutes: int
) -> None:
    problem = scarce(limited(seed, minutes), seed)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engines, "WIDER", wider)
        assert [point_of(problem, point) for point in frontier(problem)] == ladder(problem)


@examples(200)
@given(seed=SEEDS, value=st.integers(0, 9), cost=st.integers(0, 9), share=st.integers(0, 8), minutes=MINUTES)
def test_points_up_to_a_weighted_sum_are_those_of_brute_force(
    seed: int, value: int, cost: int, share: int, minutes: int
) -> None:
    problem = replace(limited(seed, minutes), money=None)
    points = ladder(problem)
    sums = [value * point.value + cost * point.cost for point in points]
    most = min(sums) + (max(sums) - min(sums)) * share // 6 - 1 if sums else 0
    found = OpenPrices(problem).within(value, cost, most, minutes)
    wanted = [point for point, weighed in zip(points, sums, strict=True) if weighed <= most]
    assert [point_of(problem, point) for point in found] == wanted


def sums(problem: Problem, slope: Slope) -> Iterator[int]:
    return (slope.value * point.value + slope.cost * point.cost for point in points(problem))


@examples(100)
@given(seed=SEEDS, minutes=MINUTES)
def test_what_is_known_of_weighted_sums_never_hides_the_least(seed: int, minutes: int) -> None:
    problem = replace(limited(seed, minutes, 1000), money=None)
    network = build(problem)
    if network.impossible or max(network.sizes[: network.decisions]) == 1:
        return
    case = FrontierCase(CaseSearch(problem, network), minutes)
    Hull([case], None).frontier()
    assert case.empty == (not any(points(problem)))
    if case.empty:
        return
    for slope in [Slope(1, 0), Slope(0, 1), *(Slope(1, 3**k) for k in range(8)), Slope(7, 100)]:
        least = min(sums(problem, slope))
        assert not case.exceeds(slope, least)
        below = case.below(slope, least)
        assert below is None or slope.of(below) == least


@seeds(1, 4)
def test_points_of_medium_problems_are_the_best_for_an_independent_solver(seed: int) -> None:
    """OR-Tools CP-SAT (a general library) is the outside source."""
    problem = random_problem(seed, decisions=10, options=5, tables=14, nodes=4, spread=2000)
    problem = replace(problem, bounds=(), minutes=25, money=None)
    points = frontier(problem)
    assert bool(points) == (cpsat_best(problem) is not None)
    for number, point in enumerate(points):
        assert point.minutes <= 25
        assert cpsat_best(replace(problem, money=point.cost)) == (point.value, point.cost)
        if point.cost:
            below = points[number - 1] if number else None
            wanted = None if below is None else (below.value, below.cost)
            assert cpsat_best(replace(problem, money=point.cost - 1)) == wanted


def knapsack(goods: Sequence[tuple[int, int, int]], minutes: int) -> Problem:
    """Things to take or to leave: value taken off, cost, minutes."""
    decisions = [
        Decision(f"d{k}", [Option("keep"), Option("take", use={f"i{k}": 1}, minutes=time)])
        for k, (_, _, time) in enumerate(goods)
    ]
    items = [Item(f"i{k}", price=cost) for k, (_, cost, _) in enumerate(goods)]
    tables = [Table((f"d{k}",), [value, 0]) for k, (value, _, _) in enumerate(goods)]
    return Problem(decisions, items, tables, minutes=minutes)


@examples(120)
@given(seed=SEEDS, share=st.integers(1, 9), most=st.sampled_from([4, 40]))
def test_knapsacks_with_many_points_are_brute_force(seed: int, share: int, most: int) -> None:
    rng = random.Random(seed)
    goods = [(rng.randint(1, 2 * most), rng.randint(0, most), 5 * rng.randint(0, 12)) for _ in range(9)]
    problem = knapsack(goods, sum(minutes for _, _, minutes in goods) * share // 10)
    problem = replace(problem, money=rng.choice([None, None, 2 * most]))
    assert [point_of(problem, point) for point in frontier(problem)] == ladder(problem)


def test_of_equal_points_in_two_cases_the_one_preferred_is_given() -> None:
    """Nothing costs; no price of minutes shows that the last two, 21 in 25 minutes, beat the first, 20."""
    goods = [(20, 0, 20), (12, 0, 15), (9, 0, 10)]
    problem = knapsack(goods, 25)
    gate = Decision("place", [Option("here"), Option("there", is_fix=False)])
    tables = [
        replace(table, when=("place", place)) for table in problem.tables for place in ("here", "there")
    ]
    problem = replace(problem, decisions=(*problem.decisions, gate), tables=tuple(tables))
    (point,) = frontier(problem)
    assert (point.value, point.minutes) == (20, 25)
    assert point.options == {"d0": "keep", "d1": "take", "d2": "take", "place": "here"}


def test_a_knapsack_within_minutes_has_the_points_worked_out_by_hand() -> None:
    """Values 9, 6, 4 taken off for costs 3, 2, 1 and minutes 20, 10, 10, within 20 minutes."""
    problem = knapsack([(9, 3, 20), (6, 2, 10), (4, 1, 10)], 20)
    # nothing; the third; the second; then both for 3, as the first is not so good and takes all the time
    assert [(r.cost, r.value, r.minutes) for r in frontier(problem)] == [
        (0, 19, 0),
        (1, 15, 10),
        (2, 13, 10),
        (3, 9, 20),
    ]
    assert solve(replace(problem, minutes=None)).value == 0


@seeds(12, 600)
def test_parts_by_packs_have_the_same_frontier(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """As where a case is too wide: so many packs are paid for in a part, and they couple nothing there."""
    problem = limited(seed, random.Random(seed).choice([10, 20, 35, 1000]))
    plain = frontier(problem)
    wide_frontier_case(monkeypatch)
    found = frontier(problem)
    assert [point_of(problem, point) for point in found] == ladder(problem)
    assert [(point.options, point.packs) for point in found] == [(one.options, one.packs) for one in plain]


def wide_frontier_case(monkeypatch: pytest.MonkeyPatch) -> list[Problem]:
    """Let every case be too wide in which packs couple decisions; gives those that were."""
    parted: list[Problem] = []
    made = engines._frontier_case

    def too_wide(problem: Problem, network: Network, *rest: Any) -> FrontierCase:
        if any(shared.item.price is not None for shared in network.shared):
            parted.append(problem)
            raise TooWide("for a test")
        return made(problem, network, *rest)

    monkeypatch.setattr(engines, "_frontier_case", too_wide)
    return parted


def test_many_are_parted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Were none too wide, the test above would hold for nothing."""
    parted = wide_frontier_case(monkeypatch)
    one_by_one: list[Problem] = []
    monkeypatch.setattr(engines, "_point_by_point", lambda problem, *rest: one_by_one.append(problem) or [])
    for seed in range(40):
        frontier(limited(seed, 35))
    assert len(parted) > 10
    assert len(one_by_one) < 10
