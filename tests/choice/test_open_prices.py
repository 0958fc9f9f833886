"""Prices of some items left open: worked out once, exact at any prices, against brute force."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples

from deskmend.choice import Decision, Item, Option, Problem, Table, open_prices
from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.open_prices import OpenPrices

from .brute import Point, point_of, points
from .random_problems import random_problem

SEEDS = st.integers(0, 10**6)
MINUTES = st.sampled_from([None, 0, 5, 10, 20])


def plain(seed: int) -> Problem:
    """A random problem without side limits and negative values; items have neither tiers nor stock."""
    drawn = random_problem(seed, money=False)
    items = [
        item if item.price is None else replace(item, tiers=(), stock=None, price=item.price + 1)
        for item in drawn.items
    ]
    tables = [
        Table(t.scope, np.asarray(t.values) - min(0, int(t.values.min())), t.when) for t in drawn.tables
    ]
    return replace(drawn, bounds=(), minutes=None, items=items, tables=tables)


def opened(problem: Problem, seed: int) -> tuple[list[str], dict[str, int]]:
    draw = random.Random(seed)
    names = [item.name for item in problem.items if item.price is not None and draw.random() < 0.7]
    return names, {name: draw.randint(0, 9) for name in names if draw.random() < 0.8}


def priced(problem: Problem, prices: dict[str, int]) -> Problem:
    items = [replace(item, price=prices.get(item.name, item.price)) for item in problem.items]
    return replace(problem, items=items)


def packs_of(problem: Problem, point: Point) -> dict[str, int]:
    taken = [d.options[p] for d, p in zip(problem.decisions, point.positions, strict=True)]
    out = {}
    for item in problem.items:
        short = sum(option.use.get(item.name, 0) for option in taken) - item.owned
        out[item.name] = max(0, -(-short // item.pack))
    return out


@examples(300)
@given(seed=SEEDS, value=st.integers(0, 9), cost=st.integers(0, 9), minutes=MINUTES)
def test_least_weighted_sum_at_any_prices_is_brute_force(
    seed: int, value: int, cost: int, minutes: int | None
) -> None:
    problem = plain(seed)
    names, prices = opened(problem, seed)
    if value == cost == 0:
        value = 1
    found = OpenPrices(problem, names).least(value, cost, prices, minutes)
    allowed = [one for one in points(priced(problem, prices)) if minutes is None or one.minutes <= minutes]
    if not allowed:
        assert found is None
        return
    assert found is not None
    at = {item.name: item.price or 0 for item in priced(problem, prices).items}
    spent = sum(at[name] * count for name, count in found.packs.items())
    wanted = min((value * one.value + cost * one.cost, one.value, one.cost) for one in allowed)
    assert (value * found.value + cost * spent, found.value, spent) == wanted


@examples(300)
@given(seed=SEEDS, value=st.integers(1, 9), cost=st.integers(0, 9), minutes=MINUTES, share=st.floats(0, 1))
def test_under_a_ceiling_nothing_is_lost_that_is_not_above_it(
    seed: int, value: int, cost: int, minutes: int | None, share: float
) -> None:
    problem = plain(seed)
    names, prices = opened(problem, seed)
    every = list(points(priced(problem, prices)))
    if not every:
        return
    ceiling = sorted(one.value for one in every)[int(share * (len(every) - 1))]
    asked = OpenPrices(problem, names)
    asked.keep_up_to(ceiling)
    for again in range(2):
        found = asked.least(value, cost, prices, minutes)
        kept = [one for one in every if minutes is None or one.minutes <= minutes]
        below = [value * one.value + cost * one.cost for one in kept if one.value <= ceiling]
        if below:
            assert found is not None
            at = {item.name: item.price or 0 for item in priced(problem, prices).items}
            spent = sum(at[name] * count for name, count in found.packs.items())
            weighed = value * found.value + cost * spent
            assert min(value * one.value + cost * one.cost for one in kept) <= weighed <= min(below)
        if not again:
            # What was let go stays so when memory was freed in between.
            asked.forget()


@examples(150)
@given(seed=SEEDS, value=st.integers(1, 9), cost=st.integers(1, 9), minutes=MINUTES, slack=st.integers(0, 60))
def test_what_nothing_beats_within_a_band_is_brute_force(
    seed: int, value: int, cost: int, minutes: int | None, slack: int
) -> None:
    problem = plain(seed)
    names, prices = opened(problem, seed)
    at = {item.name: item.price or 0 for item in priced(problem, prices).items}
    allowed = [one for one in points(problem) if minutes is None or one.minutes <= minutes]
    if not allowed:
        return

    def figures(point: Point) -> tuple[int, ...]:
        return figures_of(problem, names, point)

    def weighed(point: Point) -> int:
        packs = packs_of(problem, point)
        return value * point.value + cost * sum(at[name] * count for name, count in packs.items())

    most = min(map(weighed, allowed)) + slack
    found = OpenPrices(problem, names).unbeaten(value, cost, prices, most, minutes)
    mine = {figures(point_of(problem, one)) for one in found}
    every = {figures(one) for one in allowed}
    within = {figures(one) for one in allowed if weighed(one) <= most}
    assert unbeaten_of(within, every) <= mine <= every


@examples(150)
@given(seed=SEEDS, minutes=MINUTES, share=st.floats(0, 1))
def test_under_a_ceiling_all_that_nothing_beats_is_listed(
    seed: int, minutes: int | None, share: float
) -> None:
    """As each person of a fund is asked: once for all that leaves no more than what is free."""
    problem = plain(seed)
    names, _ = opened(problem, seed)
    allowed = [one for one in points(problem) if minutes is None or one.minutes <= minutes]
    if not allowed:
        return
    ceiling = sorted(one.value for one in allowed)[int(share * (len(allowed) - 1))]
    asked = OpenPrices(problem, names)
    asked.keep_up_to(ceiling)
    found = [point_of(problem, one) for one in asked.unbeaten(1, 0, None, ceiling, minutes)]
    every = {figures_of(problem, names, one) for one in allowed}
    within = {figures_of(problem, names, one) for one in allowed if one.value <= ceiling}
    assert unbeaten_of(within, every) <= {figures_of(problem, names, one) for one in found} <= every


def figures_of(problem: Problem, names: list[str], point: Point) -> tuple[int, ...]:
    """Value, cost of what has no open price, packs of what has one."""
    packs = packs_of(problem, point)
    rest = sum((item.price or 0) * packs[item.name] for item in problem.items if item.name not in names)
    return (point.value, rest, *(packs[name] for name in names))


def unbeaten_of(some: set[tuple[int, ...]], every: set[tuple[int, ...]]) -> set[tuple[int, ...]]:
    return {
        one
        for one in some
        if not any(two != one and all(a <= b for a, b in zip(two, one, strict=True)) for two in every)
    }


def test_one_search_serves_all_prices() -> None:
    problem = plain(23)
    names = [item.name for item in problem.items if item.price is not None]
    asked = OpenPrices(problem, names)
    for number in range(40):
        prices = {name: (7 * number + 3 * position) % 11 for position, name in enumerate(names)}
        ours = asked.least(2, 3, prices)
        theirs = OpenPrices(priced(problem, prices)).least(2, 3)
        assert ours is not None
        assert theirs is not None
        spent = sum(prices.get(name, 0) * count for name, count in ours.packs.items())
        rest = theirs.cost - sum(prices.get(name, 0) * count for name, count in theirs.packs.items())
        unpriced = ours.cost - sum(
            (item.price or 0) * ours.packs.get(item.name, 0) for item in problem.items if item.name in names
        )
        assert 2 * ours.value + 3 * (spent + unpriced) == 2 * theirs.value + 3 * theirs.cost
        assert rest >= 0


def test_what_does_not_go_with_open_prices_is_refused() -> None:
    problem = plain(5)
    (table, *others) = problem.tables
    negative = Table(table.scope, np.asarray(table.values) - 100, table.when)
    with pytest.raises(ValueError, match="negative values"):
        OpenPrices(replace(problem, tables=[negative, *others]), [problem.items[0].name])
    name = problem.items[0].name
    for bad in (Item(name, None), Item(name, 3, stock=1), Item(name, 3, tiers=[(2, 1)])):
        with pytest.raises(ValueError, match="open price"):
            OpenPrices(replace(problem, items=[bad, *problem.items[1:]]), [name])


def test_sums_beyond_64_bits_are_refused_not_wrapped() -> None:
    decision = Decision("d", [Option("keep"), Option("take", use={"pen": 1}, minutes=5)])
    small = OpenPrices(Problem([decision], [Item("pen", price=3)], [Table(("d",), [7, 0])]), ["pen"])
    with pytest.raises(TooWide):
        small.least(10**18, 10**18, {})
    for price, taken in ((6, "take"), (8, "keep")):
        found = small.least(10**15, 10**15, {"pen": price})
        assert found is not None
        assert found.options == {"d": taken}


def test_as_many_pack_cells_as_are_allowed_are_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two decisions of two options that use one item have four combinations."""
    decisions = [Decision(name, [Option("keep"), Option("take", use={"pen": 1})]) for name in "ab"]
    problem = Problem(decisions, [Item("pen", price=3)], [Table((name,), [7, 0]) for name in "ab"])
    monkeypatch.setattr(open_prices, "MOST_PACK_CELLS", 4)
    found = OpenPrices(problem, ["pen"]).least(1, 1, {})
    assert found is not None
    assert (found.value, found.packs) == (0, {"pen": 2})
    monkeypatch.setattr(open_prices, "MOST_PACK_CELLS", 3)
    with pytest.raises(TooWide, match="too many decisions"):
        OpenPrices(problem, ["pen"])
