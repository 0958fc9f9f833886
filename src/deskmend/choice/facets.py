"""Frontier of cost and value over all cases of a problem, facet by facet of its lower hull.

First the lower hull: under a weight for value and one for cost the best assignment is one pass, and the
weights that make two known corners equally good either show a corner below both or close the facet between
them.  Then what lies above a facet: everything that can still be on the frontier there has a weighted sum
of at most that of the gaps between the assignments known, which leaves few labels.  (The two phases are a
common way for two criteria: Ulungu and Teghem 1995, from memory.)

The least weighted sum of a case is concave in the weights, so sums at two weights bound it between them:
most cases need not be looked at for most facets.  All in whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cmp_to_key
from itertools import pairwise

import numpy as np

from deskmend.choice.elimination import Elimination
from deskmend.choice.labels import TooWide
from deskmend.choice.packing import LARGEST_SUM
from deskmend.choice.pruning import Pruning
from deskmend.choice.tree import Found


@dataclass(frozen=True, eq=False)
class Point:
    """An assignment of one case by what it costs and what it is worth.

    Parameters
    ----------
    cost, value : int
        Its figures in the problem.
    case : Case
        Its case.
    found : Found
        The assignment.
    """

    cost: int
    value: int
    case: Case
    found: Found


@dataclass(frozen=True)
class Weights:
    """Weight of value and of cost, neither negative and not both 0."""

    value: int
    cost: int

    def of(self, point: Point) -> int:
        """Weighted sum of a point."""
        return self.value * point.value + self.cost * point.cost

    def turn(self, other: Weights) -> int:
        """Positive where the other weighs cost more, for the same weight of value."""
        return self.value * other.cost - self.cost * other.value


def _by_slope(one: tuple[Weights, int], other: tuple[Weights, int]) -> int:
    """Compare by how much cost weighs against value."""
    return other[0].turn(one[0])


class Case:
    """One case of a problem and what is known of its least weighted sums.

    Parameters
    ----------
    search : Elimination
        Its engine.
    """

    def __init__(self, search: Elimination) -> None:
        self.search = search
        self.tree = search.tree
        self._known: list[tuple[Weights, int]] = []
        self._met: dict[tuple[Weights, int], int] = {}
        best = self.tree.unlimited()
        self.empty = best is None
        if best is not None:
            self.shift = search.choice(best).value - best.leading
            self._note(Weights(1, 0), best.leading + self.shift)

    def point(self, found: Found) -> Point:
        """Give an assignment with its figures in the problem."""
        return Point(found.taken["cost"], found.leading + self.shift, self, found)

    def points(self) -> Iterator[Point]:
        """Every assignment met so far."""
        return map(self.point, self.tree.pool)

    def thriftiest(self) -> Point | None:
        """Give the assignment that costs least, of those the best."""
        found = self.tree.thriftiest("cost")
        if found is None:
            return None
        point = self.point(found)
        self._note(Weights(0, 1), point.cost)
        return point

    def _note(self, weights: Weights, least: int) -> None:
        self._known.append((weights, least))
        self._known.sort(key=cmp_to_key(_by_slope))

    def exceeds(self, weights: Weights, most: int) -> bool:
        """Tell whether what is known shows that every sum under some weights is above an amount."""
        before = after = None
        for entry in self._known:
            turn = entry[0].turn(weights)
            if turn == 0:
                return entry[1] * (weights.value + weights.cost) > most * (entry[0].value + entry[0].cost)
            if turn > 0:
                before = entry
            else:
                after = entry
                break
        if before is None or after is None:
            return False
        # weights = (a before + b after) / whole, and the least sum is concave
        a, b = weights.turn(after[0]), before[0].turn(weights)
        return a * before[1] + b * after[1] > most * before[0].turn(after[0])

    def least(self, weights: Weights) -> int:
        """Find the least weighted sum."""
        found = self.tree.least_priced(weights.value, {"cost": weights.cost})
        least = found + weights.value * self.shift
        self._note(weights, least)
        return least

    def best(self, weights: Weights) -> Point:
        """Find the assignment with the least weighted sum, ties settled by preference."""
        best = self.tree.best_priced(weights.value, {"cost": weights.cost})
        assert best is not None
        return self.point(best[0])

    def up_to(self, weights: Weights, most: int, money: int) -> None:
        """Meet every assignment that may be on the frontier with at most a weighted sum and a cost."""
        if self._met.get((weights, money), most - 1) >= most:
            return
        self._met[weights, money] = most
        remaining = self.tree.remaining(weights.value, {"cost": weights.cost})
        wanted = Pruning(
            remaining,
            [weights.cost],
            weights.value,
            self.tree.leading_unit,
            most - weights.value * self.shift,
        )
        limit = np.array([money], dtype=np.int64)
        final = self.tree.labelled(["cost"], limit, wanted)
        for number in range(len(final)):
            self.tree.meet(self.tree.found(final.words[:, number]))


class Facets:
    """Search for the frontier of all cases together, limits other than money left aside.

    Parameters
    ----------
    cases : sequence of Case
        All of them; what one search finds out about a case serves the next.
    money : int or None
        Highest cost looked at.

    Raises
    ------
    TooWide
        Where labels or sums get too many or too large.
    """

    def __init__(self, cases: Sequence[Case], money: int | None) -> None:
        self._cases = [case for case in cases if not case.empty]
        self._money = money
        self._hull: list[Point] = []

    def frontier(self) -> list[Point]:
        """Find the points of the frontier.

        Returns
        -------
        list of Point
            Cost rising, value strictly falling but for equal points of several cases; empty when nothing
            is allowed.
        """
        starts = [point for case in self._cases if (point := case.thriftiest()) is not None]
        if not starts:
            return []
        first = min(starts, key=lambda point: (point.cost, point.value))
        last = min(
            (point for case in self._cases for point in case.points()), key=lambda p: (p.value, p.cost)
        )
        self._open(first, last)
        corners = sorted([first, *self._hull, last], key=lambda point: (point.cost, point.value))
        for left, right in pairwise(corners):
            if (
                left.cost < right.cost
                and left.value > right.value
                and (self._money is None or left.cost <= self._money)
            ):
                self._fill(left, right)
        return self._lower_edge()

    def _open(self, left: Point, right: Point) -> None:
        """Find the corners of the hull between two of its points."""
        todo = [(left, right)]
        while todo:
            left, right = todo.pop()
            if right.cost - left.cost <= 1 or left.value - right.value <= 1:
                continue
            if self._money is not None and left.cost >= self._money:
                continue
            weights = self._between(left, right)
            bar = weights.of(left)
            lowest: Point | None = None
            for case in self._cases:
                most = bar - 1 if lowest is None else weights.of(lowest) - 1
                if case.exceeds(weights, most) or case.least(weights) > most:
                    continue
                lowest = case.best(weights)
            if lowest is not None:
                self._hull.append(lowest)
                todo += [(left, lowest), (lowest, right)]

    def _between(self, left: Point, right: Point) -> Weights:
        weights = Weights(right.cost - left.cost, left.value - right.value)
        for case in self._cases:
            most = weights.value * (case.tree.leading_total + abs(case.shift))
            if most + weights.cost * case.tree.total("cost") >= LARGEST_SUM:
                raise TooWide("sums do not fit into 64 bits")
        return weights

    def _fill(self, left: Point, right: Point) -> None:
        """Meet everything on the frontier between two corners of the hull that follow one another."""
        weights = self._between(left, right)
        highest = right.cost if self._money is None else min(right.cost, self._money)
        for case in self._cases:
            most = self._highest_wanted(left, right, weights, highest)
            if not case.exceeds(weights, most) and case.least(weights) <= most:
                case.up_to(weights, most, highest)

    def _highest_wanted(self, left: Point, right: Point, weights: Weights, highest: int) -> int:
        """Largest weighted sum that something of the frontier between two corners can have.

        Equal points are wanted too, since another case may hold one that is preferred.
        """
        stairs = [
            point
            for case in self._cases
            for point in case.points()
            if left.cost <= point.cost <= highest and point.value >= right.value
        ]
        most, lowest = weights.of(left), left
        for point in sorted(stairs, key=lambda point: (point.cost, point.value)):
            if point.value < lowest.value:
                gap = weights.value * (lowest.value - 1) + weights.cost * (point.cost - 1)
                most, lowest = max(most, gap, weights.of(point)), point
        if lowest.value > right.value:
            most = max(most, weights.value * (lowest.value - 1) + weights.cost * highest)
        return most

    def _lower_edge(self) -> list[Point]:
        points = [point for case in self._cases for point in case.points()]
        points.sort(key=lambda point: (point.cost, point.value))
        edge: list[Point] = []
        for point in points:
            if self._money is not None and point.cost > self._money:
                break
            equal = edge and (point.cost, point.value) == (edge[-1].cost, edge[-1].value)
            if not edge or equal or point.value < edge[-1].value:
                edge.append(point)
        return edge
