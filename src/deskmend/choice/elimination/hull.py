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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, cmp_to_key
from itertools import pairwise

from deskmend.choice.elimination.labels import LARGEST_SUM, TooWide
from deskmend.choice.elimination.search import CaseSearch, Limits, keeps, multipliers_of
from deskmend.choice.elimination.tree import CaseAssignment, Objective
from deskmend.choice.result import Choice, lower_edge
from deskmend.measures import Minor, Minutes


@dataclass(frozen=True, eq=False)
class FrontierPoint:
    """An assignment of one case by what it costs and what it is worth, in the figures of the problem."""

    cost: Minor
    value: int
    case: FrontierCase
    found: CaseAssignment

    def choice(self) -> Choice:
        """Score it again from its case."""
        return self.case.search.choice(self.found)


@dataclass(frozen=True)
class Slope:
    """Weight of value and of cost, neither negative and not both 0."""

    value: int
    cost: int

    def of(self, point: FrontierPoint) -> int:
        """Weighted sum of a point."""
        return self.value * point.value + self.cost * point.cost

    def turn(self, other: Slope) -> int:
        """Positive where the other weighs cost more, for the same weight of value."""
        return self.value * other.cost - self.cost * other.value

    @property
    def objective(self) -> Objective:
        """The same for a search of one case."""
        return Objective(self.value, {"cost": self.cost} if self.cost else {})


def _by_slope(one: tuple[Slope, int], other: tuple[Slope, int]) -> int:
    """Compare by how much cost weighs against value."""
    return other[0].turn(one[0])


class FrontierCase:
    """One case of a problem within a limit of minutes, and what is known of its least weighted sums.

    Sums are in the figures of the problem; a search counts them without its shift.  Of a larger value than
    ``wanted`` nothing is wanted.
    """

    def __init__(self, search: CaseSearch, minutes: Minutes | None, wanted: int | None = None) -> None:
        self.search = search
        if wanted is not None:
            search.tree.keep_up_to(wanted - search.tree.offset)
        self.limits: Limits = {} if minutes is None else {"minutes": minutes}
        self._known: list[tuple[Slope, int]] = []
        self._met: dict[tuple[Slope, int], int] = {}
        best = search.any()
        if best is not None:
            self._note(Slope(1, 0), self.point(best).value)
            if not keeps(best, self.limits):
                best = search.tree.thriftiest("minutes")
        self.empty = best is None or not keeps(best, self.limits)

    def point(self, found: CaseAssignment) -> FrontierPoint:
        """Give an assignment with its figures in the problem."""
        return FrontierPoint(found.taken["cost"], found.leading + self.search.shift, self, found)

    def points(self) -> Iterator[FrontierPoint]:
        """Every assignment within the limit that was met so far."""
        return (self.point(found) for found in self.search.tree.pool if keeps(found, self.limits))

    @cached_property
    def thriftiest(self) -> FrontierPoint:
        """The assignment that costs least, of those the best; the case is not empty."""
        slope = Slope(0, 1)
        found = self.search.best(slope.objective, self.limits)
        assert found is not None
        return self._found(slope, found)

    def finest(self, most: int) -> FrontierPoint | None:
        """Give the best assignment, where its value is at most some amount."""
        slope = Slope(1, 0)
        if self.exceeds(slope, most):
            return None
        found = self.search.best(slope.objective, self.limits, most - self.search.shift)
        if found is None:
            self._note(slope, most + 1)
            return None
        return self._found(slope, found)

    def _found(self, slope: Slope, found: CaseAssignment) -> FrontierPoint:
        """Keep what has the least weighted sum of all within the limit."""
        point = self.point(self.search.tree.meet(found))
        self._note(slope, slope.of(point))
        return point

    def below(self, slope: Slope, most: int) -> FrontierPoint | None:
        """Find the assignment with the least weighted sum, or within a limit of minutes the best one met.

        None where its sum is above an amount.
        """
        least = self._least(slope, most)
        if least > most:
            return None
        tree, objective, counted = self.search.tree, slope.objective, slope.value * self.search.shift
        found: CaseAssignment | None
        if not self.limits:
            found = tree.best(objective)
        else:
            multipliers = multipliers_of(tree, objective, self.limits, most - counted)
            if multipliers is None:
                return None
            self._note(slope, multipliers.least + counted)
            found = multipliers.best
        point = None if found is None else self.point(found)
        return None if point is None or slope.of(point) > most else point

    def up_to(self, wanted: Sequence[tuple[Slope, int, Minor]]) -> None:
        """Meet every assignment that may be on the frontier with some weighted sum and cost."""
        fresh: list[tuple[Objective, int]] = []
        money = 0
        for slope, most, highest in wanted:
            if self._least(slope, most) <= most and self._met.get((slope, highest), most - 1) < most:
                self._met[slope, highest] = most
                fresh.append((slope.objective, most - slope.value * self.search.shift))
                money = max(money, highest)
        if fresh:
            for found in self.search.up_to(fresh, {"cost": money, **self.limits}):
                self.search.tree.meet(found)

    def _least(self, slope: Slope, most: int) -> int:
        """Give the least weighted sum without a limit; where it is above an amount, anything above."""
        if self.exceeds(slope, most):
            return most + 1
        counted = self.search.least(slope.objective)
        least = most + 1 if counted is None else counted + slope.value * self.search.shift
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
                # The same direction, perhaps in other units.
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


class Hull:
    """Search for the frontier of all cases together, within money and their minutes.

    What one search finds out about a case serves the next.  TooWide where labels or sums get too many or too
    large.
    """

    def __init__(self, cases: Sequence[FrontierCase], money: Minor | None) -> None:
        self._cases = [case for case in cases if not case.empty]
        self._money = money
        self._corners: list[FrontierPoint] = []

    @cached_property
    def first(self) -> FrontierPoint | None:
        """What costs least, of that what is worth most; None where nothing is allowed within money."""
        every = (case.thriftiest for case in self._cases)
        first = min(every, key=lambda point: (point.cost, point.value), default=None)
        return first if first is None or self._money is None or first.cost <= self._money else None

    def corners(self) -> list[FrontierPoint]:
        """Find the corners of the lower hull within money, by cost; empty when nothing is allowed."""
        return [point for point in self._ends_and_corners if self._money is None or point.cost <= self._money]

    @cached_property
    def _ends_and_corners(self) -> list[FrontierPoint]:
        first = self.first
        if first is None:
            return []
        # Whatever costs as much or more is wanted for less value alone.
        for case in self._cases:
            case.search.keep_up_to(first.value)
        last = min(self._points(), key=lambda point: (point.value, point.cost))
        for case in self._cases:
            last = case.finest(last.value - 1) or last
        self._open(first, last)
        return lower_edge([first, *self._corners, last])

    def frontier(self) -> list[FrontierPoint]:
        """Find the points of the frontier, equal ones of several cases all; empty when nothing is allowed."""
        facets = [
            (left, right, self._between(left, right))
            for left, right in pairwise(self._ends_and_corners)
            if left.cost < right.cost and (self._money is None or left.cost <= self._money)
        ]
        for case in self._cases:
            # what one case was found to hold leaves less to be wanted of the next
            case.up_to([self._wanted(left, right, slope) for left, right, slope in facets])
        return lower_edge(
            point for point in self._points() if self._money is None or point.cost <= self._money
        )

    def _points(self) -> Iterator[FrontierPoint]:
        return (point for case in self._cases for point in case.points())

    def _open(self, left: FrontierPoint, right: FrontierPoint) -> None:
        """Find the corners of the hull between two of its points."""
        todo = [(left, right)]
        while todo:
            left, right = todo.pop()
            if right.cost - left.cost <= 1 or left.value - right.value <= 1:
                continue
            if self._money is not None and left.cost >= self._money:
                continue
            slope = self._between(left, right)
            lowest = left
            for case in self._cases:
                lowest = case.below(slope, slope.of(lowest) - 1) or lowest
            if lowest is not left:
                self._corners.append(lowest)
                todo += [(left, lowest), (lowest, right)]

    def _between(self, left: FrontierPoint, right: FrontierPoint) -> Slope:
        """Weights under which two points are equally good."""
        slope = Slope(right.cost - left.cost, left.value - right.value)
        for case in self._cases:
            largest = case.search.tree.largest(slope.objective) + slope.value * abs(case.search.shift)
            if largest >= LARGEST_SUM:
                raise TooWide("sums do not fit into 64 bits")
        return slope

    def _wanted(self, left: FrontierPoint, right: FrontierPoint, slope: Slope) -> tuple[Slope, int, Minor]:
        """Largest weighted sum and cost that something of the frontier between two corners can have.

        It lies below the stairs of what is known: at its highest just before the next known cost, just below
        the value before.  Equal points are wanted too, since another case may hold one that is preferred.
        """
        highest = right.cost if self._money is None else min(right.cost, self._money)
        between = (
            point
            for point in self._points()
            if left.cost <= point.cost <= highest and right.value <= point.value < left.value
        )
        most, lowest = slope.of(left), left
        for point in lower_edge(between):
            gap = slope.value * (lowest.value - 1) + slope.cost * (point.cost - 1)
            most, lowest = max(most, gap, slope.of(point)), point
        if lowest.value > right.value:
            most = max(most, slope.value * (lowest.value - 1) + slope.cost * highest)
        return slope, most, highest
