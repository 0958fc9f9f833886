"""What a set of fixes takes and costs, worked out piece by piece without the optimiser."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from deskmend.intake.case import Case
from deskmend.intake.price_table import PricedItem, PriceTable
from deskmend.planning.offers import OptionSpec, piece_item

__all__ = ["Bill", "BillLine", "bill_of", "cheapest_packs", "minutes_of"]


@dataclass(frozen=True)
class BillLine:
    """One item bought: packs, and their cost [minor units]."""

    item: str
    packs: int
    cost: int


@dataclass(frozen=True)
class Bill:
    """What has to be bought.

    Attributes
    ----------
    lines : tuple of BillLine
        Bought items, by name.
    missing : tuple of str
        Items that are needed, not owned, and cannot be bought.
    """

    lines: tuple[BillLine, ...]
    missing: tuple[str, ...]

    @property
    def total(self) -> int:
        """Cost of all lines [minor units]."""
        return sum(line.cost for line in self.lines)


def cheapest_packs(priced: PricedItem, need: int) -> tuple[int, int] | None:
    """Packs and cost of at least so many units.

    Parameters
    ----------
    priced : PricedItem
        Pack size, prices and stock.
    need : int
        Units.

    Returns
    -------
    (packs, cost) or None
        The least cost over pack counts that suffice, fewest packs among equals;
        every pack of an order gets the price of the highest tier it reaches.
        None where the stock does not suffice.
    """
    least = -(-need // priced.pack)
    counts = {least, *(tier.from_packs for tier in priced.tiers if tier.from_packs > least)}
    found = []
    for packs in sorted(counts):
        if priced.stock is not None and packs > priced.stock:
            continue
        price = priced.price
        for tier in priced.tiers:
            if packs >= tier.from_packs:
                price = tier.price
        found.append((packs * price, packs))
    return (min(found)[1], min(found)[0]) if found else None


def uses_of(chosen: Iterable[OptionSpec]) -> Counter[str]:
    """Units of every item; what is carried is taken once, however many places it serves."""
    use: Counter[str] = Counter()
    carried: set[str] = set()
    for option in chosen:
        if option.fix.carried:
            if option.fix.id in carried:
                continue
            carried.add(option.fix.id)
        use.update(option.use)
    return use


def minutes_of(chosen: Iterable[OptionSpec]) -> int:
    """Work of a set of fixes [min]; what is carried is made once."""
    total = 0
    carried: set[str] = set()
    for option in chosen:
        if option.fix.carried and option.fix.id in carried:
            continue
        carried.add(option.fix.id)
        total += option.fix.minutes
    return total


def bill_of(chosen: Iterable[OptionSpec], case: Case, prices: PriceTable) -> Bill:
    """Work out what a set of fixes costs.

    Parameters
    ----------
    chosen : iterable of OptionSpec
        The fixes.
    case : Case
        For what is owned.
    prices : PriceTable
        What can be bought.
    """
    owned: Counter[str] = Counter()
    for name, own in case.owns.items():
        owned[name] += own.count
        owned.update(piece_item(name, piece) for piece in own.pieces)
    lines, missing = [], []
    for item, units in sorted(uses_of(chosen).items()):
        need = units - owned[item]
        if need <= 0:
            continue
        packs = cheapest_packs(prices.items[item], need) if item in prices.items else None
        if packs is None:
            missing.append(item)
        elif packs[0]:
            lines.append(BillLine(item, *packs))
    return Bill(tuple(lines), tuple(missing))
