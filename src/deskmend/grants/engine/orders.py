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
    """One way of getting an item: from `low` to `high` packs, those bought all at the same price."""

    low: int
    high: int
    price: Minor
    spare: int = 0
    """How many of the packs lie in store and are paid already."""

    def cost(self, packs: int) -> Minor:
        """What so many packs cost, those in store taken first."""
        return (packs - self.spare) * self.price

    def worth(self, price: Minor, free: bool = False) -> Minor:
        """Most that getting packs this way and passing them on at a price brings; `free`: nothing is paid."""
        gain = price if free else price - self.price
        return gain * (self.high if gain > 0 else self.low) + (0 if free else self.spare * self.price)


Market = Mapping[str, Sequence[OrderRange]]
"""Ways of ordering that are open for each item, rising in packs."""


def market_of(terms: FundTerms, items: Iterable[str]) -> dict[str, tuple[OrderRange, ...]]:
    """List all ways of getting some items, buying none among them; what stock forbids is left out."""
    return {item: _ranges(terms, item) for item in items}


def _ranges(terms: FundTerms, item: str) -> tuple[OrderRange, ...]:
    price, spare = terms.base[item], terms.spare.get(item, 0)
    sold = Item(item, price, stock=terms.stock.get(item), tiers=terms.tiers.get(item, ()))
    ranges = (
        OrderRange(first + spare, PLENTY if last is None else last + spare, each, spare)
        for first, last, each in price_segments(sold)
    )
    # without anything in store the price of buying none matters to nothing but the search for prices
    return OrderRange(0, spare, 0 if spare else price), *ranges


def cheapest_orders(market: Market, needed: Mapping[str, int]) -> tuple[ItemOrder, ...] | None:
    """Get at least so many packs of each item for the least money; None where some stock is too small.

    What lies in store is taken first. Of equally cheap orders that with fewest packs is taken.
    """
    orders = []
    for item, count in needed.items():
        offers = [_order(item, count, way) for way in market[item] if way.high >= count]
        if not offers:
            return None
        orders.append(min(offers, key=lambda order: (order.cost, order.packs)))
    return tuple(orders)


def _order(item: str, count: int, way: OrderRange) -> ItemOrder:
    if way.low == 0:
        return ItemOrder(item, count, 0, way.price, count)
    return ItemOrder(item, count, max(count, way.low) - way.spare, way.price, min(count, way.spare))
