"""Frontier of cost and value over all cases of a problem, facet by facet of its lower hull.

First corners of the lower hull: under a weight for value and one for cost the best assignment is one pass,
and the weights that make two known corners equally good either show a corner below both or close the facet
between them.  Then what lies above a facet: everything that can still be on the frontier there has a weighted
sum of at most that of the gaps between the assignments known, which leaves few labels.  (The two phases are a
common way for two criteria: Ulungu and Teghem 1995, from memory.)

Within a limit of minutes a corner is the best that passes with a price of minutes happen to meet.  Nothing
hangs on that: whatever the corners are, the gaps between them hold the rest of the frontier.  Only its two
ends have to be exact.

The least weighted sum of a case is concave in the weights, so bounds of it at two weights bound it between
them: most cases need not be looked at for most facets.  All in whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, cmp_to_key
from itertools import pairwise

from deskmend.choice.elimination.labels import LARGEST_SUM, TooWide
from deskmend.choice.elimination.search import WeightedSearch, Weights
from deskmend.choice.elimination.tree import Found
from deskmend.choice.result import Choice


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

    def choice(self) -> Choice:
        """Score it again from its case."""
        return self.case.search.choice(self.found)


@dataclass(frozen=True)
class Slope:
    """Weight of value and of cost, neither negative and not both 0."""

    value: int
    cost: int

    def of(self, point: Point) -> int:
        """Weighted sum of a point."""
        return self.value * point.value + self.cost * point.cost

    def turn(self, other: Slope) -> int:
        """Positive where the other weighs cost more, for the same weight of value."""
        return self.value * other.cost - self.cost * other.value

    def weights(self) -> Weights:
        """Give the same for a search of one case."""
        return Weights(self.value, {"cost": self.cost} if self.cost else {})


def _by_slope(one: tuple[Slope, int], other: tuple[Slope, int]) -> int:
    """Compare by how much cost weighs against value."""
    return other[0].turn(one[0])


class Case:
    """One case of a problem within a limit of minutes, and what is known of its least weighted sums.

    Parameters
    ----------
    search : WeightedSearch
        The case.
    minutes : int or None
        Limit of the work [min].
    """

    def __init__(self, search: WeightedSearch, minutes: int | None) -> None:
        self.search = search
        self.minutes = minutes
        self._known: list[tuple[Slope, int]] = []
        self._met: dict[tuple[Slope, int], int] = {}
        best = search.any()
        if best is not None:
            self._note(Slope(1, 0), self.point(best).value)
            if not search.fits(best, minutes):
                best = search.tree.thriftiest("minutes")
        self.empty = best is None or not search.fits(best, minutes)

    def point(self, found: Found) -> Point:
        """Give an assignment with its figures in the problem."""
        return Point(found.taken["cost"], found.leading + self.search.shift, self, found)

    def points(self) -> Iterator[Point]:
        """Every assignment within the limit that was met so far."""
        return (self.point(found) for found in self.search.tree.pool if self.search.fits(found, self.minutes))

    @cached_property
    def thriftiest(self) -> Point:
        """The assignment that costs least, of those the best; the case is not empty."""
        found = self.search.tree.thriftiest("cost")
        if found is None or not self.search.fits(found, self.minutes):
            found = self.search.best(Slope(0, 1).weights(), self.minutes)
        assert found is not None
        self.search.tree.meet(found)
        point = self.point(found)
        self._note(Slope(0, 1), point.cost)
        return point

    def finest(self, most: int) -> Point | None:
        """Give the best assignment, where its value is at most some amount."""
        slope = Slope(1, 0)
        if self.exceeds(slope, most):
            return None
        found = self.search.best(slope.weights(), self.minutes, most - self.search.shift)
        if found is None:
            self._note(slope, most + 1)
            return None
        self.search.tree.meet(found)
        point = self.point(found)
        self._note(slope, point.value)
        return point

    def below(self, slope: Slope, most: int) -> Point | None:
        """Find the assignment with the least weighted sum, or within a limit of minutes the best one met.

        None where its sum is above an amount.
        """
        least = self._least(slope, most)
        if least > most:
            return None
        weights, counted = slope.weights(), slope.value * self.search.shift
        if self.minutes is None:
            found = self.search.best(weights, None)
        else:
            priced = self.search.priced(weights, self.minutes, least - counted, most - counted)
            self._note(slope, priced.least + counted)
            found = priced.known
        point = None if found is None else self.point(found)
        return None if point is None or slope.of(point) > most else point

    def up_to(self, slope: Slope, most: int, money: int) -> None:
        """Meet every assignment that may be on the frontier with at most a weighted sum and a cost."""
        least = self._least(slope, most)
        if least > most or self._met.get((slope, money), most - 1) >= most:
            return
        self._met[slope, money] = most
        counted = slope.value * self.search.shift
        weights = slope.weights()
        for found in self.search.up_to(weights, self.minutes, most - counted, least - counted, money):
            self.search.tree.meet(found)

    def _least(self, slope: Slope, most: int) -> int:
        """Give the least weighted sum without a limit; where it is above an amount, anything above."""
        if self.exceeds(slope, most):
            return most + 1
        least = self.search.least(slope.weights()) + slope.value * self.search.shift
        self._note(slope, least)
        return least

    def _note(self, slope: Slope, least: int) -> None:
        self._known.append((slope, least))
        self._known.sort(key=cmp_to_key(_by_slope))

    def exceeds(self, slope: Slope, most: int) -> bool:
        """Tell whether what is known shows that every weighted sum is above an amount."""
        before = after = None
        for entry in self._known:
            turn = entry[0].turn(slope)
            if turn == 0:
                if entry[1] * (slope.value + slope.cost) > most * (entry[0].value + entry[0].cost):
                    return True
            elif turn > 0:
                before = entry
            else:
                after = entry
                break
        if before is None or after is None:
            return False
        # slope = (a before + b after) / whole, and the least sum is concave
        a, b = slope.turn(after[0]), before[0].turn(slope)
        return a * before[1] + b * after[1] > most * before[0].turn(after[0])


class Facets:
    """Search for the frontier of all cases together, within money and their minutes.

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
        starts = [case.thriftiest for case in self._cases]
        if not starts:
            return []
        first = min(starts, key=lambda point: (point.cost, point.value))
        last = min(
            (point for case in self._cases for point in case.points()), key=lambda p: (p.value, p.cost)
        )
        for case in self._cases:
            last = case.finest(last.value - 1) or last
        self._open(first, last)
        for left, right in pairwise(_staircase([first, *self._hull, last])):
            if left.cost < right.cost and (self._money is None or left.cost <= self._money):
                self._fill(left, right)
        known = (point for case in self._cases for point in case.points())
        return _staircase(p for p in known if self._money is None or p.cost <= self._money)

    def _open(self, left: Point, right: Point) -> None:
        """Find the corners of the hull between two of its points."""
        todo = [(left, right)]
        while todo:
            left, right = todo.pop()
            if right.cost - left.cost <= 1 or left.value - right.value <= 1:
                continue
            if self._money is not None and left.cost >= self._money:
                continue
            slope = self._between(left, right)
            bar = slope.of(left)
            lowest: Point | None = None
            for case in self._cases:
                lowest = case.below(slope, (bar if lowest is None else slope.of(lowest)) - 1) or lowest
            if lowest is not None:
                self._hull.append(lowest)
                todo += [(left, lowest), (lowest, right)]

    def _between(self, left: Point, right: Point) -> Slope:
        slope = Slope(right.cost - left.cost, left.value - right.value)
        for case in self._cases:
            tree = case.search.tree
            most = slope.value * (tree.leading_total + abs(case.search.shift))
            if most + slope.cost * tree.total("cost") >= LARGEST_SUM:
                raise TooWide("sums do not fit into 64 bits")
        return slope

    def _fill(self, left: Point, right: Point) -> None:
        """Meet everything on the frontier between two corners of the hull that follow one another."""
        slope = self._between(left, right)
        highest = right.cost if self._money is None else min(right.cost, self._money)
        for case in self._cases:
            case.up_to(slope, self._highest_wanted(left, right, slope, highest), highest)

    def _highest_wanted(self, left: Point, right: Point, slope: Slope, highest: int) -> int:
        """Largest weighted sum that something of the frontier between two corners can have.

        Equal points are wanted too, since another case may hold one that is preferred.
        """
        stairs = [
            point
            for case in self._cases
            for point in case.points()
            if left.cost <= point.cost <= highest and point.value >= right.value
        ]
        most, lowest = slope.of(left), left
        for point in sorted(stairs, key=lambda point: (point.cost, point.value)):
            if point.value < lowest.value:
                gap = slope.value * (lowest.value - 1) + slope.cost * (point.cost - 1)
                most, lowest = max(most, gap, slope.of(point)), point
        if lowest.value > right.value:
            most = max(most, slope.value * (lowest.value - 1) + slope.cost * highest)
        return most


def _staircase(points: Iterable[Point]) -> list[Point]:
    """Points that none is below, by rising cost; equal ones all."""
    edge: list[Point] = []
    for point in sorted(points, key=lambda point: (point.cost, point.value)):
        equal = edge and (point.cost, point.value) == (edge[-1].cost, edge[-1].value)
        if not edge or equal or point.value < edge[-1].value:
            edge.append(point)
    return edge
