"""What to buy first: the exact search over sets of purchases and dates, free of what is bought.

Purchases are kept once made. Each set of them leaves some strain, never more when more is bought. Sought
are the sets, day by day, that leave least strain in all. What a set leaves is dear to work out, so the search
begins with lower bounds and works out only what a best path runs through, until no bound is left on it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["INFEASIBLE", "Found", "Left", "Span", "best_path", "costs_of", "sum_over"]

IntArray = NDArray[np.int64]
INFEASIBLE = 1 << 40
"""Stands for strain where what must be is not to be had [millionths of h/day]; above any strain there is."""
MOST_WORKED_OUT = 3000
"""States worked out before the search stops unproven."""


@dataclass(frozen=True)
class Span:
    """Days in which neither money nor time changes.

    Attributes
    ----------
    day : int
        First day, from 0 [days].
    days : int
        How many [days].
    money : int
        Money that has come in by then [minor units].
    minutes : int or None
        Work that can be done by then [min]; None: no limit.
    """

    day: int
    days: int
    money: int
    minutes: int | None


@dataclass(frozen=True)
class Left:
    """What some purchases leave at best.

    Attributes
    ----------
    strain : int
        The least strain [millionths of h/day].
    used : int
        Purchases it is reached with, as bits.
    minutes : int or None
        Work it takes [min]; None: not known, at most what was allowed.
    """

    strain: int
    used: int
    minutes: int | None


@dataclass(frozen=True)
class Found:
    """The best states, span by span.

    Attributes
    ----------
    path : tuple of int
        Purchases made in each span, as bits.
    total : int
        Strain over all days [millionths of h].
    bound : int
        No path leaves less [millionths of h]; the total where it is proven.
    worked_out : int
        States whose strain was worked out.
    """

    path: tuple[int, ...]
    total: int
    bound: int
    worked_out: int

    @property
    def proven(self) -> bool:
        """Whether no path over these purchases is better."""
        return self.total == self.bound


def costs_of(costs: Sequence[int]) -> IntArray:
    """Cost of every set of purchases [minor units], sets as bits."""
    out = np.zeros(1 << len(costs), dtype=np.int64)
    for number, cost in enumerate(costs):
        bit = 1 << number
        out[bit : 2 * bit] = out[:bit] + cost
    return out


def best_path(
    costs: Sequence[int],
    spans: Sequence[Span],
    at_least: Callable[[int], int],
    left: Callable[[int, int | None], Left],
) -> Found:
    """Find the purchases and dates that leave least strain over all spans.

    Parameters
    ----------
    costs : sequence of int
        Cost of each purchase [minor units].
    spans : sequence of Span
        Money and minutes never fall from one to the next.
    at_least : callable
        (money) -> strain that no purchases for that money can go below [millionths of h/day].
    left : callable
        (purchases as bits, minutes) -> what they leave; the strain never rises with either.

    Returns
    -------
    Found
        Proven unless more states than allowed had to be worked out. Among equals the later, smaller purchase.
    """
    whole = costs_of(costs)
    levels = list(dict.fromkeys(span.minutes for span in spans))
    floor = np.array([at_least(int(cost)) for cost in whole], dtype=np.int64)
    bounds = {level: floor.copy() for level in levels}
    reached = {level: np.full(len(whole), INFEASIBLE, dtype=np.int64) for level in levels}
    worked_out: set[tuple[int, int | None]] = set()
    masks = np.arange(len(whole))

    def work_out(mask: int, level: int | None) -> None:
        found = left(mask, level)
        worked_out.add((mask, level))
        inside, around = (masks & mask) == masks, (masks & found.used) == found.used
        for other in levels[: levels.index(level) + 1]:
            bounds[other][inside] = np.maximum(bounds[other][inside], found.strain)
        least = level if found.minutes is None else found.minutes
        for other in levels:
            if other is None or (least is not None and other >= least):
                reached[other][around] = np.minimum(reached[other][around], found.strain)

    # what everything leaves bounds every set, what is left without one thing every set without it
    everything = len(whole) - 1
    for level in levels:
        work_out(everything, level)
    for number in range(len(costs)):
        work_out(everything & ~(1 << number), levels[-1])
    while True:
        path, bound = _path(whole, spans, bounds)
        states = dict.fromkeys((mask, span.minutes) for mask, span in zip(path, spans, strict=True))
        open_states = [(m, level) for m, level in states if bounds[level][m] < reached[level][m]]
        enough = len(worked_out) >= MOST_WORKED_OUT
        # with all the time there will be a set is soon worked out, and that often rules it out
        unhurried = {mask for mask, _ in open_states if (mask, levels[-1]) not in worked_out}
        if unhurried and not enough:
            for mask in sorted(unhurried):
                work_out(mask, levels[-1])
            continue
        for mask, level in open_states:
            if bounds[level][mask] < reached[level][mask]:
                work_out(mask, level)
        if not open_states or enough:
            total = sum(
                int(reached[span.minutes][m]) * span.days for m, span in zip(path, spans, strict=True)
            )
            return Found(path, total, min(bound, total), len(worked_out))


def _path(
    costs: IntArray, spans: Sequence[Span], bounds: dict[int | None, IntArray]
) -> tuple[tuple[int, ...], int]:
    """Best path where every state leaves what its bound says, and its total."""
    never = np.int64(1) << 61
    reached: list[IntArray] = []
    for span in spans:
        here = bounds[span.minutes] * span.days
        before = _least_within(reached[-1]) if reached else np.zeros(len(costs), dtype=np.int64)
        total = np.where(before >= never, never, before + here)
        reached.append(np.where(costs > span.money, never, total))
    mask = _first(np.flatnonzero(reached[-1] == reached[-1].min()))
    total_strain = int(reached[-1][mask])
    path = [mask]
    for one in reversed(reached[:-1]):
        inside = np.flatnonzero((np.arange(len(costs)) & mask) == np.arange(len(costs)))
        mask = _first(inside[one[inside] == one[inside].min()])
        path.append(mask)
    return tuple(reversed(path)), total_strain


def _least_within(values: IntArray) -> IntArray:
    """Least value over all subsets of every set."""
    out = values.copy()
    bit = 1
    while bit < len(out):
        pairs = out.reshape(-1, 2, bit)
        pairs[:, 1] = np.minimum(pairs[:, 1], pairs[:, 0])
        bit *= 2
    return out


def _first(masks: NDArray[np.int64]) -> int:
    """The smallest set, then the first."""
    return min((int(mask) for mask in masks), key=lambda mask: (mask.bit_count(), mask))


def sum_over(
    order: Sequence[int],
    costs: Sequence[int],
    spans: Sequence[Span],
    strain: Callable[[int, int | None], int],
) -> int:
    """Strain over all days when purchases are made in an order, each as soon as there is money for it.

    Parameters
    ----------
    order : sequence of int
        Numbers of the purchases.
    costs, spans, strain
        As for `best_path`.

    Returns
    -------
    int
        [millionths of h]
    """
    waiting, mask, spent, total = list(order), 0, 0, 0
    for span in spans:
        while waiting and spent + costs[waiting[0]] <= span.money:
            number = waiting.pop(0)
            mask, spent = mask | 1 << number, spent + costs[number]
        total += strain(mask, span.minutes) * span.days
    return total
