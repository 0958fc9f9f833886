"""The search over sets of purchases and dates equals trying them all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import permutations, product

import numpy as np
from tests.stages import seeds

from deskmend.planning.dates import BestUse, Span, best_path, costs_of, sum_over

Strain = Callable[[int, int | None], int]


def falling(rng: np.random.Generator, count: int, levels: Sequence[int | None]) -> Strain:
    """Any strain that never rises with purchases or minutes, with jumps where things only help together."""
    worth = {mask: int(rng.integers(0, 40)) * (rng.random() < 0.5) for mask in range(1 << count)}
    start = sum(worth.values()) + 100

    def strain(mask: int, minutes: int | None) -> int:
        level = levels.index(minutes) + 1
        gain = sum(worth[part] for part in range(1 << count) if part & mask == part)
        return start - gain * level // len(levels)

    return strain


def tried(costs: Sequence[int], spans: Sequence[Span], strain: Strain) -> int:
    """Least sum over every date, or none, for every purchase."""
    best: int | None = None
    for dates in product(range(len(spans) + 1), repeat=len(costs)):
        total = 0
        for number, span in enumerate(spans):
            mask = sum(1 << n for n, date in enumerate(dates) if date <= number)
            if sum(cost for n, cost in enumerate(costs) if mask >> n & 1) > span.money:
                break
            total += strain(mask, span.minutes) * span.days
        else:
            best = total if best is None else min(best, total)
    assert best is not None
    return best


@seeds(3, 24)
def test_best_path_equals_trying_every_date_of_every_purchase(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 7))
    number = 3 if count == 6 else 4
    costs = [int(cost) for cost in rng.integers(1, 12, count)]
    levels: list[int | None] = [30, 60, None] if seed % 2 else [None]
    spans = []
    money = int(rng.integers(0, 10))
    for place in range(number):
        minutes = levels[min(place, len(levels) - 1)]
        spans.append(Span(place * 10, int(rng.integers(1, 30)), money, minutes))
        money += int(rng.integers(0, 12))
    strain = falling(rng, count, levels)
    whole = costs_of(costs)

    def at_least(paid: int) -> int:
        return min(strain(mask, levels[-1]) for mask in range(1 << count) if whole[mask] <= paid)

    def best_use(mask: int, minutes: int | None) -> BestUse:
        value = strain(mask, minutes)
        same = (part for part in range(mask + 1) if part & mask == part and strain(part, minutes) == value)
        return BestUse(value, next(same) if seed % 3 else mask, minutes if seed % 4 else None)

    found = best_path(costs, spans, at_least, best_use)
    assert found.proven
    assert found.total == tried(costs, spans, strain)
    for mask, following, span in zip(found.path, [*found.path[1:], found.path[-1]], spans, strict=True):
        assert mask & following == mask
        assert whole[mask] <= span.money
    for order in permutations(range(count)):
        assert sum_over(order, costs, spans, strain) >= found.total


def test_a_naive_order_waits_for_its_next_purchase() -> None:
    """By hand: 5 a month; where the thing for 10 comes first, the other waits for it."""
    left = {0: 100, 1: 80, 2: 50, 3: 20}
    spans = [Span(day * 10, 10, day * 5, None) for day in range(4)]
    assert sum_over([1, 0], [5, 10], spans, lambda mask, _: left[mask]) == 1000 + 1000 + 500 + 200
    assert sum_over([0, 1], [5, 10], spans, lambda mask, _: left[mask]) == 1000 + 800 + 800 + 200


def test_costs_of_sets_add_up() -> None:
    assert costs_of([1, 10, 100]).tolist() == [0, 1, 10, 11, 100, 101, 110, 111]
