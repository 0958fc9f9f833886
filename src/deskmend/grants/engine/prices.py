"""Prices for what is scarce, the bound that any such prices prove, and the search for the lowest.

Whoever takes a column pays for it: ``money`` for each minor unit of what does not couple people, ``money x
packs[j]`` for each pack of a coupling item, ``pots`` for listed money where parts of the fund are kept,
``caps`` for it where a group may not be given more, and ``limits`` for the further limits.  The fund, the
market and the limits are paid out in return.  Whatever the prices, no allocation is worth more than what
everybody's best column leaves, plus what is paid out (Lagrangian duality): summed in whole numbers, so that
the bound needs no margin.

The bound is convex in the prices and linear between kinks.  Each evaluation gives its slope for several
parts of the people; a small linear program over all slopes seen proposes the next prices, not too far from
the best so far.  Floating numbers do here: whatever prices come out, the bound is then proven in whole
numbers (`prices.bound_total`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deskmend.choice.problem import IntArray
from deskmend.choice.program.solver import least_point
from deskmend.errors import DefectError
from deskmend.grants.engine.arrays import PLENTY, Aim, AllocationProblem, Market, OrderRange, exact_sum
from deskmend.grants.terms import FundTerms

__all__ = [
    "DualSearch",
    "Duals",
    "PricePoint",
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


PricePoint = NDArray[np.float64]
"""A price for each of: money, packs of each coupling item, pots, caps of groups, further limits; each scaled
to about one."""

SLOPE_PARTS = 8
"""Parts of the people that give slopes of their own."""
ROUNDS = 120
"""Most evaluations of one search."""
SLOPES_KEPT = 40
"""Slopes kept of earlier evaluations."""
CLOSE = 1e-6
"""Promised gain, as a part of the bound, at which a search ends."""
FREE_STEPS = 1 << 16
"""Steps of pack prices where the fund is no limit."""
WIDEST_VALUE = 52
"""Bits that the value of one column may take, in units of the rounded prices."""
LARGEST_PRICE = 1 << 22
"""Largest price of a pack in minor units that the rounded prices use."""


class DualSearch:
    """The bound over columns known, as a function of prices, where some ways of ordering are open.

    It begins at `point`, in a search over the same items where there was one, and leaves the best prices
    there.
    """

    def __init__(self, problem: AllocationProblem, market: Market, point: PricePoint | None = None) -> None:
        self.problem = problem
        self.market = market
        self.point = point
        arrays, terms = problem.arrays, problem.terms
        self._most_packs = np.maximum(1, arrays.most_packs())
        uses = [arrays.plain, *arrays.packs.T]
        rights: list[float] = [terms.fund]
        units: list[float] = [max(1, terms.fund)]
        for item, packs in zip(arrays.items, self._most_packs, strict=True):
            rights.append(0)
            units.append(float(min(max(1, terms.stock.get(item, PLENTY)), packs)))
        for pot, money in enumerate(terms.pots):
            mine = arrays.pot == pot if pot else (arrays.pot == 0) | (arrays.pot >= len(terms.pots))
            uses.append(np.where(mine, arrays.listed, 0))
            rights.append(float(money))
            units.append(max(1, terms.fund))
        for pot, most in terms.pot_caps:
            uses.append(np.where(arrays.pot == pot, arrays.listed, 0))
            rights.append(float(most))
            units.append(max(1, terms.fund))
        for limit, use in zip(problem.aim.limits, problem.uses, strict=True):
            uses.append(use)
            rights.append(limit.most)
            units.append(max(1, len(arrays.people)))
        value = problem.value.astype(np.float64)
        best, _ = arrays.best_of_each(value)
        self._scale = max(1.0, float(best.sum()))
        self._units = np.array(units)
        self._rights = np.array(rights) / self._units
        self._use = np.stack(uses, axis=1) / self._units
        self._value = value / self._scale
        count = len(arrays.people)
        self._parts = np.unique(np.arange(0, count, max(1, -(-count // SLOPE_PARTS))))
        self._ways = [self._slopes_of(number, ways) for number, ways in enumerate(market.values())]

    def _slopes_of(self, number: int, ways: Sequence[OrderRange]) -> list[tuple[float, float]]:
        """What each end of each way to order an item is worth: factors of its price and of that of money."""
        unit, money = self._units[1 + number], self._units[0]
        most = int(self._most_packs[number])
        return [
            (end / unit, way.cost(end) / money)
            for way in ways
            for end in sorted({way.low, max(way.low, min(way.high, most))})
        ]

    def _evaluate(self, point: PricePoint) -> tuple[float, PricePoint, PricePoint]:
        """Bound at some prices, and worth and use of the best columns of each part."""
        best, number = self.problem.arrays.best_of_each(self._value - self._use @ point)
        bound = float(best.sum() + self._rights @ point)
        for price, ways in zip(point[1:], self._ways, strict=False):
            bound += max(packs * price - money * point[0] for packs, money in ways)
        worth = np.add.reduceat(self._value[number], self._parts)
        use = np.add.reduceat(self._use[number], self._parts, axis=0)
        return bound, worth, use

    def run(self) -> Duals:
        """Search, and give the best prices in whole numbers."""
        highest = self._highest()
        if self.point is None:
            self.point = highest * 0.25
        centre = np.minimum(self.point, highest)
        best, worth, use = self._evaluate(centre)
        cuts = [(worth, use)]
        radius = 0.5
        for _ in range(ROUNDS):
            proposal = self._propose(centre, radius, highest, cuts)
            if proposal is None:
                break
            point, promised = proposal
            gain = best - promised
            at_edge = bool(np.any(np.abs(point - centre) > 0.999 * radius * np.maximum(highest, 1e-12)))
            if gain <= CLOSE * max(abs(best), 1e-9):
                if not at_edge or radius >= 1:
                    break
                radius = min(1.0, 4 * radius)
                continue
            found, worth, use = self._evaluate(point)
            cuts = [*cuts[-SLOPES_KEPT:], (worth, use)]
            if found < best - 0.1 * gain:
                if at_edge:
                    radius = min(1.0, 2 * radius)
            elif found > best:
                radius = max(radius / 3, 1e-4)
            if found < best:
                centre, best = point, found
        self.point = centre
        return self._rounded(centre)

    def _highest(self) -> PricePoint:
        """Prices above which nothing is worth having."""
        money = 1.5
        packs = [
            money * max(way.price for way in ways) * unit / self._units[0] + 1.5
            for ways, unit in zip(self.market.values(), self._units[1:], strict=False)
        ]
        pots = [money] * (len(self.problem.terms.pots) + len(self.problem.terms.pot_caps))
        return np.array([money, *packs, *pots, *([20.0] * len(self.problem.aim.limits))])

    def _propose(
        self,
        centre: PricePoint,
        radius: float,
        highest: PricePoint,
        cuts: Sequence[tuple[PricePoint, PricePoint]],
    ) -> tuple[PricePoint, float] | None:
        """Minimise the greatest of all slopes seen over the box around the best prices."""
        width, parts, items = len(centre), len(self._parts), len(self._ways)
        lower = np.maximum(0.0, centre - radius * highest)
        upper = np.minimum(highest, centre + radius * highest)
        # numbers of the program: the prices, then what each part of the people and each item's market get
        total = width + parts + items
        rows: list[tuple[list[float], float]] = []

        def at_most(right: float, factors: dict[int, float]) -> None:
            row = [0.0] * total
            for number, factor in factors.items():
                row[number] = factor
            rows.append((row, right))

        for worth, use in cuts:
            for part in range(parts):
                row = [0.0] * total
                row[:width] = (-use[part]).tolist()
                row[width + part] = -1.0
                rows.append((row, -float(worth[part])))
        for number, (ways, slopes) in enumerate(zip(self.market.values(), self._ways, strict=True)):
            for packs, money in slopes:
                at_most(0.0, {0: -money, 1 + number: packs, width + parts + number: -1.0})
            if ways[-1].high >= PLENTY:
                # a price above that of any amount bought would let the market gain without end
                unit = self._units[1 + number]
                at_most(0.0, {0: -ways[-1].price / self._units[0], 1 + number: 1.0 / unit})
        for group in range(len(self.problem.terms.group_share)):
            at_most(0.0, {1 + items: -1.0, 2 + items + group: 1.0})
        if groups := len(self.problem.terms.group_share):
            at_most(0.0, {1 + items: 1.0 - groups, **{2 + items + one: 1.0 for one in range(groups)}})
        cost = [*self._rights.tolist(), *([1.0] * (parts + items))]
        ends = [*lower.tolist(), *([-50.0] * (parts + items))], [*upper.tolist(), *([50.0] * (parts + items))]
        found = least_point(cost, rows, *ends)
        if found is None:
            return None
        return np.array(found[:width]), float(np.dot(cost, found))

    def _rounded(self, point: PricePoint) -> Duals:
        """Write prices as whole numbers; sixteen bits of the price of money are enough to keep a bound."""
        prices = (np.maximum(0.0, point) * self._scale / self._units).tolist()
        items, terms = len(self.market), self.problem.terms
        pots, caps = len(terms.pots), len(terms.pot_caps)
        money, dearest_pack = prices[0], max(prices[1 : 1 + items], default=0.0)
        free = not pots and not caps and dearest_pack > LARGEST_PRICE * money
        money = dearest_pack / FREE_STEPS if free else max(money, dearest_pack / LARGEST_PRICE)
        room = WIDEST_VALUE - int(np.abs(self.problem.value).max(initial=1)).bit_length()
        unit = 1 << max(0, min(room, 16 - math.ceil(math.log2(money)))) if money > 0 else 1
        whole = round(money * unit)
        packs = []
        for price, ways in zip(prices[1:], self.market.values(), strict=False):
            rounded = round(price / money) if whole else 0
            last = ways[-1]
            packs.append(min(rounded, 0 if free else last.price) if last.high >= PLENTY else rounded)
        listed = [round(price * unit) for price in prices[1 + items : 1 + items + pots]]
        capped, limits = (
            tuple(round(price * unit) for price in some)
            for some in (
                prices[1 + items + pots : 1 + items + pots + caps],
                prices[1 + items + pots + caps :],
            )
        )
        return Duals(unit, whole, tuple(packs), _lowered(listed), capped, limits, free)


def _lowered(pots: Sequence[int]) -> tuple[int, ...]:
    """Bring rounded prices of pots down to what `Duals.pots` allows."""
    if not pots:
        return ()
    first, *groups = (min(one, pots[0]) for one in pots)
    most, sums = (len(groups) - 1) * first, sum(groups)
    return first, *(one * most // sums if sums > most else one for one in groups)
