"""What a total use of an item costs, as a vector over totals, and which items couple decisions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.problem import IntArray, Item

UNAVAILABLE = -1
"""Stands in a cost vector where no number of packs covers the use."""


@dataclass(frozen=True)
class SharedItem:
    """An item whose cost depends on several decisions at once.

    Parameters
    ----------
    item : Item
        What is used.
    uses : tuple of (int, array)
        Variable number, and units used by each of its options [-].
    """

    item: Item
    uses: tuple[tuple[int, IntArray], ...]

    @property
    def most(self) -> int:
        """Largest total use that can occur [-]."""
        return sum(int(use.max()) for _, use in self.uses)


def cost_of(item: Item, totals: Sequence[int]) -> IntArray:
    """Cost of each total use of an item.

    Parameters
    ----------
    item : Item
        What is used.
    totals : sequence of int
        Units used in all [-].

    Returns
    -------
    integer array
        Least cost [minor units], or UNAVAILABLE.
    """
    segments = price_segments(item)
    costs = []
    for total in totals:
        short = max(0, total - item.owned)
        if short == 0:
            costs.append(0)
            continue
        packs = -(-short // item.pack)
        offers = [
            max(packs, first) * price for first, last, price in segments if last is None or packs <= last
        ]
        costs.append(min(offers, default=UNAVAILABLE))
    return np.array(costs, dtype=np.int64)


def price_segments(item: Item) -> list[tuple[int, int | None, int]]:
    """Ranges of pack counts that share a price.

    Parameters
    ----------
    item : Item
        What is bought.

    Returns
    -------
    list of (int, int or None, int)
        First and last pack count (None: no end) and the price of each pack [minor units]; stock respected.
    """
    if item.price is None:
        return []
    starts = [(1, item.price), *item.tiers]
    segments: list[tuple[int, int | None, int]] = []
    for number, (first, price) in enumerate(starts):
        last = starts[number + 1][0] - 1 if number + 1 < len(starts) else None
        if item.stock is not None:
            last = item.stock if last is None else min(last, item.stock)
        if last is None or first <= last:
            segments.append((first, last, price))
    return segments


def is_linear(item: Item, most: int) -> bool:
    """Tell whether an item costs the same for each unit, whatever else is used.

    Parameters
    ----------
    item : Item
        What is used.
    most : int
        Largest total use that can occur [-].

    Returns
    -------
    bool
        True when its cost may be charged option by option.
    """
    if most <= item.owned:
        return True
    if item.price is None or (item.stock is not None and item.stock * item.pack + item.owned < most):
        return False
    if item.price == 0 and not item.tiers:
        return True
    return item.pack == 1 and item.owned == 0 and not item.tiers


def reachable_totals(uses: Sequence[IntArray], most: int | None = None) -> IntArray:
    """All sums that one entry of each vector can make.

    Parameters
    ----------
    uses : sequence of integer array
        Units each option uses [-].
    most : int or None
        Sums beyond it are left out.

    Returns
    -------
    integer array
        Sorted, each once.
    """
    totals = np.zeros(1, dtype=np.int64)
    for use in uses:
        totals = np.unique((totals[:, None] + np.unique(use)[None, :]).ravel())
        if most is not None:
            totals = totals[totals <= most]
    return totals
