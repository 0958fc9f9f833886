"""Search for the prices under which the bound is lowest, by cutting planes within a box.

The bound is convex in the prices and linear between kinks.  Each evaluation gives its slope for several
parts of the people; a small linear program over all slopes seen proposes the next prices, not too far from
the best so far.  Floating numbers do here: whatever prices come out, the bound is then proven in whole
numbers (`duals.exact_total`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from deskmend.choice.program.solver import least_point
from deskmend.grants.engine.arrays import Aim, Sheet
from deskmend.grants.engine.prices import PLENTY, Duals, Segment, kept_parts
from deskmend.grants.terms import Terms

__all__ = ["DualSearch"]

FloatArray = NDArray[np.float64]

PARTS = 8
"""Parts of the people that give slopes of their own."""
ROUNDS = 120
"""Most evaluations of one search."""
KEPT = 40
"""Slopes kept of earlier evaluations."""
CLOSE = 1e-6
"""Promised gain, as a part of the bound, at which a search ends."""
FREE_STEPS = 1 << 16
"""Steps of pack prices where the fund is no limit."""
WIDEST_VALUE = 52
"""Bits that the value of one plan may take, in units of the rounded prices."""
LARGEST_PRICE = 1 << 22
"""Largest price of a pack in minor units that the rounded prices use."""


@dataclass
class DualSearch:
    """The bound of one aim over one sheet, as a function of prices.

    Parameters
    ----------
    sheet : Sheet
        All plans known.
    aim : Aim
        What is maximised.
    terms : Terms
        Fund, prices, shares.
    market : mapping of str to sequence of Segment
        Ways of ordering each coupling item that are open.
    """

    sheet: Sheet
    aim: Aim
    terms: Terms
    market: Mapping[str, Sequence[Segment]]
    point: FloatArray | None = None
    _use: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        """Gather what every plan uses of what is priced, each scaled to about one in all."""
        sheet, terms = self.sheet, self.terms
        self._value = self.aim.value(sheet).astype(np.float64)
        uses = [sheet.plain, *sheet.packs.T]
        most = np.maximum(1, sheet.most_packs())
        rights: list[float] = [terms.fund]
        units: list[float] = [max(1, terms.fund)]
        for item, packs in zip(sheet.items, most, strict=True):
            rights.append(0)
            units.append(float(min(max(1, terms.stock.get(item, PLENTY)), packs)))
        self._most = most
        if sheet.shares:
            common, kept = kept_parts(terms)
            for pot, right in enumerate((common, *kept)):
                uses.append(np.where(sheet.pot == pot, sheet.listed, 0))
                rights.append(right)
                units.append(max(1, terms.fund))
        for row in self.aim.rows:
            uses.append(row.use(sheet))
            rights.append(row.right)
            units.append(max(1, len(sheet.people)))
        best, _ = sheet.best_of_each(self._value)
        self._scale = max(1.0, float(best.sum()))
        self._units = np.array(units)
        self._rights = np.array(rights) / self._units
        self._use = np.stack(uses, axis=1) / self._units
        self._value /= self._scale
        count = len(sheet.people)
        self._parts = np.unique(np.arange(0, count, max(1, -(-count // PARTS))))

    def _market_slopes(self, number: int) -> list[tuple[float, float]]:
        """Worth of each open way to order an item: factors of its price and of money, both scaled."""
        item = self.sheet.items[number]
        unit = self._units[1 + number]
        found = []
        for one in self.market[item]:
            high = max(one.low, min(one.high, int(self._most[number])))
            found += [(end / unit, one.price * end / self._units[0]) for end in sorted({one.low, high})]
        return found

    def value(self, point: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """Bound at some prices, and worth and use of the best plans of each part."""
        score = self._value - self._use @ point
        best, number = self.sheet.best_of_each(score)
        bound = float(best.sum() + self._rights @ point)
        for item in range(len(self.sheet.items)):
            bound += max(p * point[1 + item] - m * point[0] for p, m in self._market_slopes(item))
        worth = np.add.reduceat(self._value[number], self._parts)
        use = np.add.reduceat(self._use[number], self._parts, axis=0)
        return bound, worth, use

    def run(self, rounds: int = ROUNDS) -> tuple[float, Duals]:
        """Search, and give the lowest bound over the sheet and its prices in whole numbers."""
        highest = self._highest()
        items = range(len(self.sheet.items))
        slopes = [self._market_slopes(number) for number in items]
        if self.point is None:
            self.point = highest * 0.25
        centre = np.minimum(self.point, highest)
        best, worth, use = self.value(centre)
        cuts = [(worth, use)]
        radius = 0.5
        for _ in range(rounds):
            proposal = self._propose(centre, radius, highest, cuts, slopes)
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
            found, worth, use = self.value(point)
            cuts = [*cuts[-KEPT:], (worth, use)]
            if found < best - 0.1 * gain:
                if at_edge:
                    radius = min(1.0, 2 * radius)
            elif found > best:
                radius = max(radius / 3, 1e-4)
            if found < best:
                centre, best = point, found
        self.point = centre
        return best * self._scale, self._rounded(centre)

    def _highest(self) -> FloatArray:
        """Prices above which nothing is worth having."""
        money = 1.5
        found = [money]
        for number, item in enumerate(self.sheet.items):
            unit = self._units[1 + number]
            dearest = max(one.price for one in self.market[item])
            found.append(money * dearest * unit / self._units[0] + 1.5)
        pots = 1 + len(self.sheet.shares) if self.sheet.shares else 0
        return np.array(found + [money] * pots + [20.0] * len(self.aim.rows))

    def _propose(
        self,
        centre: FloatArray,
        radius: float,
        highest: FloatArray,
        cuts: Sequence[tuple[FloatArray, FloatArray]],
        slopes: Sequence[Sequence[tuple[float, float]]],
    ) -> tuple[FloatArray, float] | None:
        """Minimise the greatest of all slopes seen over the box around the best prices."""
        width, parts, items = len(centre), len(self._parts), len(slopes)
        lower = np.maximum(0.0, centre - radius * highest)
        upper = np.minimum(highest, centre + radius * highest)
        total = width + parts + items
        rows: list[tuple[list[float], float]] = []
        for worth, use in cuts:
            for part in range(parts):
                row = [0.0] * total
                row[:width] = (-use[part]).tolist()
                row[width + part] = -1.0
                rows.append((row, -float(worth[part])))
        for number, ways in enumerate(slopes):
            for price, money in ways:
                row = [0.0] * total
                row[1 + number], row[0], row[width + parts + number] = price, -money, -1.0
                rows.append((row, 0.0))
            last = self.market[self.sheet.items[number]][-1]
            if last.high >= PLENTY:
                row = [0.0] * total
                row[1 + number] = 1.0 / self._units[1 + number]
                row[0] = -last.price / self._units[0]
                rows.append((row, 0.0))
        for group in range(len(self.sheet.shares)):
            row = [0.0] * total
            row[1 + items], row[2 + items + group] = -1.0, 1.0
            rows.append((row, 0.0))
        cost = [*self._rights.tolist(), *([1.0] * (parts + items))]
        ends = [*lower.tolist(), *([-50.0] * (parts + items))], [*upper.tolist(), *([50.0] * (parts + items))]
        found = least_point(cost, rows, *ends)
        if found is None:
            return None
        return np.array(found[:width]), float(np.dot(cost, found))

    def _rounded(self, point: FloatArray) -> Duals:
        """Write prices as whole numbers; sixteen bits of the price of money are enough to keep a bound."""
        prices = np.maximum(0.0, point) * self._scale / self._units
        items = len(self.sheet.items)
        money, dearest_pack = float(prices[0]), float(prices[1 : 1 + items].max(initial=0))
        free = not self.sheet.shares and dearest_pack > LARGEST_PRICE * money
        money = dearest_pack / FREE_STEPS if free else max(money, dearest_pack / LARGEST_PRICE)
        dearest = int(np.abs(self.aim.value(self.sheet)).max(initial=1))
        room = WIDEST_VALUE - dearest.bit_length()
        unit = 1 << max(0, min(room, 16 - math.ceil(math.log2(money)))) if money > 0 else 1
        whole = round(money * unit)
        packs = []
        for number, item in enumerate(self.sheet.items):
            price = round(float(prices[1 + number]) / money) if whole else 0
            last = self.market[item][-1]
            most = 0 if free else last.price
            packs.append(min(price, most) if last.high >= PLENTY else price)
        pots: list[int] = []
        if self.sheet.shares:
            pots = [round(float(p) * unit) for p in prices[1 + items : 2 + items + len(self.sheet.shares)]]
            pots = [min(pot, pots[0]) for pot in pots]
        rows = [round(float(p) * unit) for p in prices[len(prices) - len(self.aim.rows) :]]
        return Duals(unit, whole, tuple(packs), tuple(pots), tuple(rows if self.aim.rows else ()), free)
