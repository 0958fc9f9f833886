"""Prices for what is scarce, and the bound that any such prices prove.

Whoever takes a column pays for it: ``money`` for each minor unit of what does not couple people, ``money x
packs[j]`` for each pack of a coupling item, ``pots`` for listed money where parts of the fund are kept,
``caps`` for it where a group may not be given more, and ``limits`` for the further limits.  The fund, the
market and the limits are paid out in return.  Whatever the prices, no allocation is worth more than what
everybody's best column leaves, plus what is paid out (Lagrangian duality): summed in whole numbers, so that
the bound needs no margin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.problem import IntArray
from deskmend.errors import DefectError
from deskmend.grants.engine.arrays import Aim, AllocationProblem, exact_sum
from deskmend.grants.engine.orders import Market
from deskmend.grants.terms import FundTerms

__all__ = [
    "Duals",
    "bound_total",
    "column_prices",
    "fits",
    "net_values",
    "no_prices",
    "paid_out",
    "people_total",
    "reduced_costs",
]

WIDEST_SCORE = 1 << 60
"""Largest net value worked with: sums of a few of them still fit 64 bits."""


@dataclass(frozen=True)
class Duals:
    """Whole-number prices, all to be divided by `unit`: what one unit of value counts."""

    unit: int
    money: int
    """Price of a minor unit of money."""
    packs: tuple[int, ...]
    """For each coupling item, the price of a pack in minor units of money."""
    pots: tuple[int, ...] = ()
    """Price of listed money from each of `FundTerms.pots`; none of the later exceeds the first, since a group
    may go on in the pot open to all, nor do they together exceed it so many times as there are groups but
    one, since one of them is always left out where the open money is counted."""
    caps: tuple[int, ...] = ()
    """Price of listed money for each group of `FundTerms.pot_caps`."""
    limits: tuple[int, ...] = ()
    """Price of each further limit of the aim."""
    free: bool = False
    """The fund is no limit: nothing is paid for money, and `money` is only the measure of pack prices."""


def no_prices(problem: AllocationProblem) -> Duals:
    """Nothing costs anything: what is known where no prices were looked for."""
    return Duals(1, 0, (0,) * len(problem.arrays.items), limits=(0,) * len(problem.aim.limits))


def listed_price(duals: Duals, terms: FundTerms, pot: int) -> int:
    """Give the price of listed money for people of a pot, beside that of money."""
    share = duals.pots[pot if pot < len(duals.pots) else 0] if duals.pots else 0
    if not duals.caps:
        return share
    capped = zip(terms.pot_caps, duals.caps, strict=True)
    return share + sum(price for (number, _), price in capped if number == pot)


def column_prices(
    duals: Duals, terms: FundTerms, items: Sequence[str], pot: int
) -> tuple[int, dict[str, int]]:
    """Give the weight of money for people of a pot, and the pack prices they see [`Minor`].

    Pack prices are rounded down, which keeps a bound a bound: a column that seems cheaper only raises it.
    """
    if duals.free:
        packs = dict(zip(items, duals.packs, strict=True))
        return duals.money, {item: packs.get(item, 0) for item in terms.base}
    share = listed_price(duals, terms, pot)
    money = duals.money + share
    if money == 0:
        return 0, {item: terms.base[item] for item in items}
    return money, {
        item: (duals.money * price + share * terms.base[item]) // money
        for item, price in zip(items, duals.packs, strict=True)
    }


def fits(problem: AllocationProblem, duals: Duals) -> bool:
    """Tell whether 64 bits hold the net value of every column."""
    arrays = problem.arrays
    widest = duals.unit * int(np.abs(problem.value).max(initial=0))
    most = arrays.packs.max(axis=0, initial=0).tolist()
    plain = 0 if duals.free else int(arrays.plain.max(initial=0))
    for pot in problem.terms.drawn_on:
        money, prices = column_prices(duals, problem.terms, arrays.items, pot)
        packs = sum(prices[item] * count for item, count in zip(arrays.items, most, strict=True))
        widest = max(widest, money * (plain + packs))
    uses = zip(duals.limits, problem.uses, strict=True)
    widest += sum(price * int(np.abs(use).max(initial=0)) for price, use in uses)
    return widest < WIDEST_SCORE


def net_values(problem: AllocationProblem, duals: Duals) -> IntArray:
    """What each column leaves when it is paid for, times `Duals.unit`.

    DefectError where 64 bits do not hold the numbers.
    """
    if not fits(problem, duals):
        raise DefectError("prices too large to add up")
    arrays = problem.arrays
    net = duals.unit * problem.value
    pots = problem.terms.drawn_on if duals.pots or duals.caps else range(1)
    for pot in pots:
        money, prices = column_prices(duals, problem.terms, arrays.items, pot)
        paid = arrays.packs @ np.array([money * prices[item] for item in arrays.items], dtype=np.int64)
        if not duals.free:
            paid = paid + money * arrays.plain
        net = net - (paid if len(pots) == 1 else np.where(arrays.pot == pot, paid, 0))
    for price, use in zip(duals.limits, problem.uses, strict=True):
        net = net - price * use
    return net


def reduced_costs(problem: AllocationProblem, duals: Duals) -> IntArray:
    """What each column leaves less than the best of its person, times `Duals.unit`."""
    net = net_values(problem, duals)
    best, _ = problem.arrays.best_of_each(net)
    return np.asarray(best[problem.arrays.owner] - net, dtype=np.int64)


def people_total(problem: AllocationProblem, duals: Duals) -> int:
    """What everybody's best columns leave when they are paid for, times `Duals.unit`."""
    best, _ = problem.arrays.best_of_each(net_values(problem, duals))
    return exact_sum(best)


def paid_out(aim: Aim, terms: FundTerms, duals: Duals, market: Market) -> int:
    """What fund, market and limits get back for what they give, times `Duals.unit`.

    `market` may leave out ways of ordering, where only the others are to be bounded; its items stand in the
    order of `Duals.packs`.
    """
    total = 0 if duals.free else duals.money * terms.fund
    for ways, price in zip(market.values(), duals.packs, strict=True):
        total += duals.money * max(way.worth(price, duals.free) for way in ways)
    if duals.pots:
        total += math.ceil(sum(price * money for price, money in zip(duals.pots, terms.pots, strict=True)))
    if duals.caps:
        total += sum(price * most for price, (_, most) in zip(duals.caps, terms.pot_caps, strict=True))
    return total + sum(price * limit.most for price, limit in zip(duals.limits, aim.limits, strict=True))


def bound_total(problem: AllocationProblem, duals: Duals, market: Market) -> int:
    """Bound the value of every allocation that orders in ways of `market`, times `Duals.unit`.

    The columns hold at least one best one of each person at these prices.  Divided by the unit and rounded
    down, no allocation is worth more.
    """
    return people_total(problem, duals) + paid_out(problem.aim, problem.terms, duals, market)
