"""One way to share the fund over a sheet of plans: what it needs, and whether the fund and stock allow it.

What packs cost when all are ordered together: tiers over the whole order, surplus, stock.

Prices for what is scarce, and the bound that any such prices prove.

Whoever takes a plan pays for it: ``money`` for each minor unit of what does not couple people, ``money x
prices[j]`` for each pack of a coupling item, ``pots`` for listed money where parts of the fund are kept, and
``rows`` for the further limits.  The fund, the market and the limits are paid out in return.  Whatever the
prices, no allocation is worth more than what everybody's best plan leaves, plus what is paid out: summed in
whole numbers, so that the bound needs no margin.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np

from deskmend.errors import DefectError
from deskmend.grants.engine.arrays import Aim, IntArray, Sheet, exact_sum
from deskmend.grants.people.columns import Column
from deskmend.grants.terms import Order, Terms

__all__ = [
    "Duals",
    "Segment",
    "Shared",
    "Task",
    "best_order",
    "best_orders",
    "exact_total",
    "fits",
    "kept_parts",
    "needed_packs",
    "paid_out",
    "people_total",
    "pot_prices",
    "scores",
    "segments",
    "way_worth",
]

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


Market = Mapping[str, Sequence[Segment]]
WIDEST = 1 << 62


@dataclass(frozen=True)
class Duals:
    """Whole-number prices, all to be divided by `unit`.

    Attributes
    ----------
    unit : int
        What one unit of value counts.
    money : int
        Price of a minor unit of money.
    prices : tuple of int
        For each coupling item, the price of a pack in minor units of money.
    pots : tuple of int
        Price of listed money, for people outside all groups with a share and for each of these groups; empty
        where no shares are kept.  None of the later exceeds the first.
    rows : tuple of int
        Price of each further limit.
    free : bool
        The fund is no limit: nothing is paid for money, and `money` is only the measure of pack prices.
    """

    unit: int
    money: int
    prices: tuple[int, ...]
    pots: tuple[int, ...] = ()
    rows: tuple[int, ...] = ()
    free: bool = False


def kept_parts(terms: Terms) -> tuple[int, tuple[int, ...]]:
    """Give the money open to all, and the parts kept for each group, sorted by group [minor units]."""
    kept = tuple(int(terms.fund * terms.group_share[group]) for group in sorted(terms.group_share))
    return int(terms.fund * (1 - sum(terms.group_share.values(), Fraction(0)))), kept


def pot_prices(duals: Duals, terms: Terms, items: Sequence[str], pot: int) -> tuple[int, dict[str, int]]:
    """Give what money counts for people of a pot, and the pack prices they see.

    Parameters
    ----------
    duals : Duals
        Prices.
    terms : Terms
        Listed prices.
    items : sequence of str
        Coupling items.
    pot : int
        0, or 1 + number of the group.

    Returns
    -------
    (int, dict)
        Factor on money [-] and price of a pack [minor units], rounded down, which keeps a bound a bound.
    """
    if duals.free:
        packs = dict(zip(items, duals.prices, strict=True))
        return duals.money, {item: packs.get(item, 0) for item in terms.base}
    share = duals.pots[pot] if duals.pots else 0
    money = duals.money + share
    if money == 0:
        return 0, {item: terms.base[item] for item in items}
    return money, {
        item: (duals.money * price + share * terms.base[item]) // money
        for item, price in zip(items, duals.prices, strict=True)
    }


def fits(sheet: Sheet, aim: Aim, terms: Terms, duals: Duals) -> bool:
    """Tell whether 64 bits hold the scores of every plan."""
    widest = duals.unit * int(np.abs(aim.value(sheet)).max(initial=0))
    most = sheet.packs.max(axis=0, initial=0).tolist()
    for pot in range(max(1, len(duals.pots))):
        money, prices = pot_prices(duals, terms, sheet.items, pot)
        packs = sum(prices[item] * count for item, count in zip(sheet.items, most, strict=True))
        plain = 0 if duals.free else int(sheet.plain.max(initial=0))
        widest = max(widest, money * (plain + packs))
    rows = zip(duals.rows, aim.rows, strict=True)
    widest += sum(price * int(np.abs(row.use(sheet)).max(initial=0)) for price, row in rows)
    return 4 * widest < WIDEST


def scores(sheet: Sheet, aim: Aim, terms: Terms, duals: Duals) -> IntArray:
    """What each plan leaves when it is paid for, times `Duals.unit`.

    Raises
    ------
    DefectError
        Where 64 bits do not hold the numbers.
    """
    if not fits(sheet, aim, terms, duals):
        raise DefectError("prices too large to add up")
    score = duals.unit * aim.value(sheet)
    for pot in range(max(1, len(duals.pots))):
        money, prices = pot_prices(duals, terms, sheet.items, pot)
        pack = np.array([money * prices[item] for item in sheet.items], dtype=np.int64)
        paid = sheet.packs @ pack
        if not duals.free:
            paid = paid + money * sheet.plain
        score = score - (paid if not duals.pots else np.where(sheet.pot == pot, paid, 0))
    for price, row in zip(duals.rows, aim.rows, strict=True):
        score = score - price * row.use(sheet)
    return score


def exact_total(sheet: Sheet, aim: Aim, terms: Terms, duals: Duals, market: Market) -> int:
    """Bound the value of every allocation, times `Duals.unit`.

    Parameters
    ----------
    sheet : Sheet
        For each person at least one best plan at these prices.
    aim : Aim
        What is maximised.
    terms : Terms
        Fund, prices, shares.
    duals : Duals
        Prices, any.
    market : mapping of str to sequence of Segment
        Ways of ordering each coupling item that are open.

    Returns
    -------
    int
        No allocation is worth more than this divided by `Duals.unit`, rounded down.
    """
    return people_total(sheet, aim, terms, duals) + paid_out(aim, terms, duals, sheet.items, market)


def people_total(sheet: Sheet, aim: Aim, terms: Terms, duals: Duals) -> int:
    """What everybody's best plans leave when they are paid for, times `Duals.unit`."""
    best, _ = sheet.best_of_each(scores(sheet, aim, terms, duals))
    return exact_sum(best)


def paid_out(aim: Aim, terms: Terms, duals: Duals, items: Sequence[str], market: Market) -> int:
    """What fund, market and limits get back for what they give, times `Duals.unit`."""
    total = 0 if duals.free else duals.money * terms.fund
    for item, price in zip(items, duals.prices, strict=True):
        total += duals.money * max(way_worth(one, price, duals.free) for one in market[item])
    if duals.pots:
        common, kept = kept_parts(terms)
        total += duals.pots[0] * common + sum(
            price * part for price, part in zip(duals.pots[1:], kept, strict=True)
        )
    return total + sum(price * row.right for price, row in zip(duals.rows, aim.rows, strict=True))


def way_worth(way: Segment, price: int, free: bool = False) -> int:
    """Most that buying packs one way and passing them on at a price can bring, in units of money."""
    gain = price if free else price - way.price
    return gain * (way.high if gain > 0 else way.low)


@dataclass(frozen=True)
class Shared:
    """A choice of one plan a person that keeps every limit.

    Attributes
    ----------
    numbers : integer array
        Plan of each person, as numbers of the sheet.
    value : int
        Sum of the aim's values.
    spent : int
        What the orders cost [minor units].
    """

    numbers: IntArray
    value: int
    spent: int


@dataclass(frozen=True, eq=False)
class Task:
    """An aim over a sheet under the terms of a fund.

    Attributes
    ----------
    sheet : Sheet
        Plans.
    aim : Aim
        What is maximised, under which further limits.
    terms : Terms
        Fund, market, shares.
    """

    sheet: Sheet
    aim: Aim
    terms: Terms

    @cached_property
    def value(self) -> IntArray:
        """Value of each plan."""
        return self.aim.value(self.sheet)

    @cached_property
    def side(self) -> list[tuple[IntArray, int]]:
        """Use and right side of each further limit."""
        return [(row.use(self.sheet), row.right) for row in self.aim.rows]

    def orders_for(self, packs: IntArray) -> tuple[Order, ...] | None:
        """Cheapest orders of so many packs of the coupling items; None where stock is too small."""
        return best_orders(self.terms, dict(zip(self.sheet.items, packs.tolist(), strict=True)))

    def check(self, numbers: IntArray) -> Shared | None:
        """Add up a choice of plans; None where it breaks a limit."""
        sheet = self.sheet
        orders = self.orders_for(sheet.packs[numbers].sum(axis=0))
        if orders is None:
            return None
        spent = exact_sum(sheet.plain[numbers]) + sum(order.cost for order in orders)
        if spent > self.terms.fund:
            return None
        if sheet.shares:
            common, kept = kept_parts(self.terms)
            listed = np.bincount(
                sheet.pot[numbers], weights=sheet.listed[numbers], minlength=1 + len(kept)
            ).astype(np.int64)
            over = sum(max(0, int(used) - part) for used, part in zip(listed[1:], kept, strict=True))
            if int(listed[0]) + over > common:
                return None
        if any(exact_sum(use[numbers]) > right for use, right in self.side):
            return None
        return Shared(numbers, exact_sum(self.value[numbers]), spent)
