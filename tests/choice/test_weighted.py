"""Value and cost weighed against each other, within a limit of minutes, against brute force."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples

from deskmend.choice import Bound, Decision, Item, Option, Problem, Table, frontier
from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.open_prices import OpenPrices

from .brute import ladder, point_of, points
from .random_problems import random_problem

SEEDS = st.integers(0, 10**6)
MINUTES = st.sampled_from([None, 0, 5, 10, 20, 35])


def unlimited(seed: int, spread: int = 12) -> Problem:
    return replace(random_problem(seed, spread=spread, money=False), bounds=(), minutes=None)


@examples(300)
@given(seed=SEEDS, value=st.integers(0, 9), cost=st.integers(0, 9), minutes=MINUTES)
def test_least_weighted_sum_is_brute_force_with_all_ties(
    seed: int, value: int, cost: int, minutes: int | None
) -> None:
    problem = unlimited(seed)
    allowed = [one for one in points(problem) if minutes is None or one.minutes <= minutes]
    found = OpenPrices(problem).least(value, cost, minutes=minutes)
    if not allowed:
        assert found is None
        return
    assert found is not None
    wanted = min(allowed, key=lambda one: (value * one.value + cost * one.cost, one.key("value")))
    assert point_of(problem, found) == wanted


@examples(250)
@given(seed=SEEDS, spread=st.sampled_from([3, 12, 1000]), minutes=st.sampled_from([0, 5, 10, 20, 35]))
def test_frontier_within_minutes_is_brute_force(seed: int, spread: int, minutes: int) -> None:
    problem = unlimited(seed, spread)
    points = frontier(replace(problem, minutes=minutes))
    assert [point_of(problem, point) for point in points] == ladder(replace(problem, minutes=minutes))


def test_answers_do_not_depend_on_what_was_asked_before() -> None:
    problem = unlimited(17, 1000)
    asked = OpenPrices(problem)
    weights = [(value, cost) for value in range(5) for cost in range(5)]
    first = [asked.least(value, cost, minutes=10) for value, cost in weights]
    again = [asked.least(value, cost, minutes=10) for value, cost in reversed(weights)]
    assert first == again[::-1] == [OpenPrices(problem).least(*one, minutes=10) for one in weights]


def small() -> Problem:
    decision = Decision("d", [Option("keep"), Option("take", use={"pen": 1}, minutes=5)])
    return Problem([decision], [Item("pen", price=3)], [Table(("d",), [7, 0])])


def test_sums_beyond_64_bits_are_refused_not_wrapped() -> None:
    with pytest.raises(TooWide):
        OpenPrices(small()).least(10**18, 10**18)
    found = OpenPrices(small()).least(10**15, 10**15)
    assert found is not None
    assert found.options == {"d": "take"}


def test_side_limits_are_refused() -> None:
    with pytest.raises(ValueError, match="side limits"):
        OpenPrices(replace(small(), bounds=(Bound([Table(("d",), [0, 1])], 1),)))
