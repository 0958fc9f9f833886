"""What packs cost when all are ordered together: tiers over the whole order, surplus, stock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from deskmend.choice.problem import Item
from deskmend.choice.purchases import price_segments
from deskmend.grants.terms import FundTerms, ItemOrder
from deskmend.measures import Minor

__all__ = ["PLENTY", "Market", "OrderRange", "cheapest_orders", "market_of"]

PLENTY = 10**7
"""Stands for stock without limit; no order comes near it [packs]."""


@dataclass(frozen=True)
class OrderRange:
    """One way of ordering an item: from `low` to `high` packs, each at the same price."""

    low: int
    high: int
    price: Minor

    def worth(self, price: Minor, free: bool = False) -> Minor:
        """Most that buying packs this way and passing them on at a price brings; `free`: nothing is paid."""
        gain = price if free else price - self.price
        return gain * (self.high if gain > 0 else self.low)


Market = Mapping[str, Sequence[OrderRange]]
"""Ways of ordering that are open for each item, rising in packs."""


def market_of(terms: FundTerms, items: Iterable[str]) -> dict[str, tuple[OrderRange, ...]]:
    """List all ways of ordering some items, buying none among them; what stock forbids is left out."""
    return {item: _ranges(terms, item) for item in items}


def _ranges(terms: FundTerms, item: str) -> tuple[OrderRange, ...]:
    price = terms.base[item]
    sold = Item(item, price, stock=terms.stock.get(item), tiers=terms.tiers.get(item, ()))
    ranges = (
        OrderRange(first, PLENTY if last is None else last, each)
        for first, last, each in price_segments(sold)
    )
    return OrderRange(0, 0, price), *ranges


def cheapest_orders(market: Market, needed: Mapping[str, int]) -> tuple[ItemOrder, ...] | None:
    """Order at least so many packs of each item for the least money; None where some stock is too small.

    Of equally cheap orders that with fewest packs is taken.
    """
    orders = []
    for item, count in needed.items():
        offers = [
            ItemOrder(item, count, max(count, way.low), way.price)
            for way in market[item]
            if way.high >= count
        ]
        if not offers:
            return None
        orders.append(min(offers, key=lambda order: (order.cost, order.packs)))
    return tuple(orders)
