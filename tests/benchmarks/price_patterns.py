"""Prices that a fund may meet: plain, with scarce stock, or ever cheaper in bulk.

Stock and bulk tiers grow with the number of people, so that they matter at any number.
"""

from __future__ import annotations

from dataclasses import replace

from deskmend.intake.prices import PricedItem, PriceTable, Tier

PATTERNS = {
    "plain": "every pack at its listed price",
    "stock": "few footrests and screen stands, and one tier for keyboards and mice, as in the scenario",
    "bulk": "four deep tiers on what is wanted most often",
}
SCENARIO_PEOPLE = 24
"""People that the stock written in the scenario is meant for [-]."""
WANTED_MOST = (
    "tape",
    "ring_binder",
    "carton_box",
    "webbing",
    "seat_cushion",
    "bath_towel",
    "pipe_foam",
    "footrest",
    "keyboard",
)
"""Items of which most packs are given at plain prices: 7 to 20 of each to 48 drawn people."""
BULK = ((12, 90), (6, 75), (3, 60), (2, 45))
"""Deep tiers: one pack for so many people and more, and its price then [% of the listed one]. At plain prices
a seventh to a half of all are given one of these items, so it is doubtful which tier pays."""


def patterned(prices: PriceTable, pattern: str, count: int) -> PriceTable:
    """Give the scenario's prices a pattern.

    Parameters
    ----------
    prices : PriceTable
        The scenario's.
    pattern : str
        One of `PATTERNS`.
    count : int
        People who ask [-].
    """
    plain = {name: replace(item, stock=None, tiers=()) for name, item in prices.items.items()}
    if pattern == "plain":
        items = plain
    elif pattern == "stock":
        items = {
            name: item if item.stock is None else replace(item, stock=item.stock * count // SCENARIO_PEOPLE)
            for name, item in prices.items.items()
        }
    elif pattern == "bulk":
        items = plain | {name: _in_bulk(plain[name], count) for name in WANTED_MOST}
    else:
        raise ValueError(f"no such pattern of prices: {pattern}")
    return replace(prices, items=items)


def _in_bulk(item: PricedItem, count: int) -> PricedItem:
    tiers = []
    for number, (people, percent) in enumerate(BULK):
        price = item.price * percent // 100
        tiers.append(Tier(max(2 + number, count // people), price, price, price))
    return replace(item, tiers=tuple(tiers))
