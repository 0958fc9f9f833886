"""What a total use of an item costs where assignments are searched, and which items couple decisions.

The check of an answer has its own reading of tiers and packs, `deskmend.choice.result.packs_for`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.problem import IntArray, Item
from deskmend.measures import Minor

UNAVAILABLE = -1
"""Stands in a cost vector where no number of packs covers the use."""
MOST_TOTALS = 2_000
"""Where decisions can take more different totals of an item, it counts as one that couples them."""


@dataclass(frozen=True)
class SharedItem:
    """An item whose cost depends on several decisions at once: variable number, and units by option."""

    item: Item
    uses: tuple[tuple[int, IntArray], ...]

    @property
    def most(self) -> int:
        """Largest total use that can occur."""
        return sum(int(use.max()) for _, use in self.uses)


def cost_of(item: Item, totals: Sequence[int]) -> IntArray:
    """Least cost of each total use of an item [minor units], or UNAVAILABLE."""
    segments = price_segments(item)
    costs = []
    for total in totals:
        packs = -(-max(0, total - item.owned) // item.pack)
        offers = [
            max(packs, first) * price for first, last, price in segments if last is None or packs <= last
        ]
        costs.append(min(offers, default=UNAVAILABLE) if packs else 0)
    return np.array(costs, dtype=np.int64)


def price_segments(item: Item) -> list[tuple[int, int | None, Minor]]:
    """Ranges of pack counts of one price: first, last (None: no end), price of each; stock respected."""
    if item.price is None:
        return []
    starts = [(1, item.price), *item.tiers]
    segments: list[tuple[int, int | None, Minor]] = []
    for number, (first, price) in enumerate(starts):
        last = starts[number + 1][0] - 1 if number + 1 < len(starts) else None
        if item.stock is not None:
            last = item.stock if last is None else min(last, item.stock)
        if last is None or first <= last:
            segments.append((first, last, price))
    return segments


def prices_apart(item: Item, uses: Sequence[IntArray]) -> list[IntArray] | None:
    """Price what each decision takes of an item apart, or None where the cost is not the sum of such prices.

    ``uses`` are units by option, a decision each.  So it is where a unit costs the same up to what all can
    take, and where no pack serves two: two lengths of 600 mm take two cords of a metre, apart or together.
    """
    least = [int(use.min()) for use in uses]
    base = sum(least)
    most = sum(int(use.max()) for use in uses)
    at_least, at_most = cost_of(item, [base, most])
    if at_most == UNAVAILABLE:
        return None
    if is_linear(item, most):
        price = 0 if most <= item.owned else item.price or 0
        return [price * use for use in uses]
    apart = [
        cost_of(item, (base - low + use).tolist()) - at_least for low, use in zip(least, uses, strict=True)
    ]
    sums = {(base, int(at_least))}
    for low, use, prices in zip(least, uses, apart, strict=True):
        more = {(int(units) - low, int(price)) for units, price in zip(use, prices, strict=True)}
        sums = {(total + units, cost + price) for total, cost in sums for units, price in more}
        totals = [total for total, _ in sums]
        if len(sums) > MOST_TOTALS or cost_of(item, totals).tolist() != [cost for _, cost in sums]:
            return None
    # The first carries what all take at least.
    return [apart[0] + at_least, *apart[1:]]


def is_linear(item: Item, most: int) -> bool:
    """Tell whether each unit costs the same up to a total use, so that options can be charged one by one."""
    if most <= item.owned:
        return True
    if item.price is None or (item.stock is not None and item.stock * item.pack + item.owned < most):
        return False
    if item.price == 0 and not item.tiers:
        return True
    return item.pack == 1 and item.owned == 0 and not item.tiers
