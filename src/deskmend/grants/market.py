"""What packs cost when all are ordered together: tiers over the whole order, surplus, stock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from deskmend.grants.person import Column
from deskmend.grants.terms import Order, Terms

__all__ = ["Segment", "best_order", "best_orders", "needed_packs", "segments"]

PLENTY = 10**7
"""Stands for stock without limit; no order comes near it [packs]."""


@dataclass(frozen=True)
class Segment:
    """Pack counts that share a price.

    Attributes
    ----------
    low, high : int
        Fewest and most packs bought [-].
    price : int
        Of each pack [minor units].
    """

    low: int
    high: int
    price: int


def segments(terms: Terms, item: str) -> tuple[Segment, ...]:
    """List the ways of ordering an item, buying none among them.

    Parameters
    ----------
    terms : Terms
        Prices, tiers and stock.
    item : str
        Which item.

    Returns
    -------
    tuple of Segment
        Rising in packs; what stock forbids is left out.
    """
    starts = [(1, terms.base[item]), *terms.tiers.get(item, ())]
    most = terms.stock.get(item, PLENTY)
    found = [Segment(0, 0, terms.base[item])]
    for number, (first, price) in enumerate(starts):
        last = starts[number + 1][0] - 1 if number + 1 < len(starts) else most
        if first <= min(last, most):
            found.append(Segment(first, min(last, most), price))
    return tuple(found)


def best_order(terms: Terms, item: str, needed: int) -> Order | None:
    """Order at least so many packs for the least money.

    Parameters
    ----------
    terms : Terms
        Prices, tiers and stock.
    item : str
        Which item.
    needed : int
        Packs to be opened [-].

    Returns
    -------
    Order or None
        Of equally cheap ones that with fewest packs; None where the stock is too small.
    """
    if needed == 0:
        return Order(item, 0, 0, terms.base[item])
    offers = [
        Order(item, needed, max(needed, one.low), one.price)
        for one in segments(terms, item)
        if one.high >= needed
    ]
    return min(offers, key=lambda order: (order.cost, order.packs), default=None)


def needed_packs(columns: Iterable[Column]) -> dict[str, int]:
    """Add up the packs of plans, sorted by item [-]."""
    total: dict[str, int] = {}
    for column in columns:
        for item, count in column.packs:
            total[item] = total.get(item, 0) + count
    return dict(sorted(total.items()))


def best_orders(terms: Terms, needed: Mapping[str, int]) -> tuple[Order, ...] | None:
    """Order everything needed for the least money; None where some stock is too small."""
    orders = []
    for item, count in needed.items():
        order = best_order(terms, item, count)
        if order is None:
            return None
        orders.append(order)
    return tuple(orders)
