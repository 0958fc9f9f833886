"""Worst off first: of all allocations, the one whose sorted strains left are least, from the worst down.

The most strain that anybody keeps is made as small as possible, then the number of people who keep that
much, then the same for all others, and so on.  Each step is a question of the same kind: how many people can
be brought to no more than so much, under what earlier steps have fixed?  Few people: every step is proven.
Many: what is found and what is proven may differ, and the level is then an interval.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from deskmend.grants.engine.arrays import SumLimit, at_most_above, relief_aim, strain_aim
from deskmend.grants.engine.pricing import AimResult, ColumnSearch
from deskmend.grants.terms import StrainLevel, weighted_relief
from deskmend.measures import Micro

__all__ = ["Leveled", "share_worst_off_first"]

MOST_LEVELS = 12
"""Levels worked out where there are too many people for exact answers."""


@dataclass(frozen=True)
class Leveled:
    """What worst off first comes to; the value of the result is weighted relief."""

    result: AimResult
    levels: tuple[StrainLevel, ...]
    """From the worst off."""
    complete: bool
    """Whether everybody was settled, level by level."""


@dataclass(frozen=True)
class _Reached:
    """How many people keep more than some strain: found, and at least; and how."""

    above: int
    at_least: int
    result: AimResult


class _Levels:
    """The levels settled so far, and the best allocation that keeps them."""

    def __init__(self, search: ColumnSearch, first: AimResult) -> None:
        self.search = search
        self.best = first
        self.people = len(search.people)
        self.limits: list[SumLimit] = []
        """What the levels so far have fixed."""
        self.settled = 0
        """People in them."""

    def _above(self, strain: Micro, *limits: SumLimit) -> _Reached:
        """Bring as many people as possible to no more than `strain`."""
        result = self.search.solve(strain_aim(strain, *self.limits, *limits), cheapest=False)
        count = self.people if result.chosen is None else self.people - result.value
        return _Reached(count, self.people if result.impossible else self.people - result.bound, result)

    def next_level(self) -> StrainLevel:
        """Settle the people who are worst off among those not settled yet."""
        strain, lowest = self._least_strain()
        while True:
            # columns not known may leave anything in between: only less than this level itself tells
            reached = self._above(strain - 1, at_most_above(strain, self.settled))
            if reached.above > self.settled:
                break
            self.best = reached.result
            strain = self._worst(reached.result)
        if reached.at_least > self.settled:
            lowest = strain
        people, at_least = reached.above - self.settled, max(1, reached.at_least - self.settled)
        if reached.result.chosen is not None:
            self.best = reached.result
        self.limits += [at_most_above(strain, self.settled), at_most_above(strain - 1, reached.above)]
        self.settled = reached.above
        return StrainLevel(strain, min(strain, lowest), people, at_least if lowest >= strain else 1)

    def _least_strain(self) -> tuple[Micro, Micro]:
        """Halve the strains known between what the rest can hope for and what they have.

        Gives the least strain found that nobody of the rest is left above, and the least that is possible.
        """
        arrays = self.search.arrays(())
        strains = sorted(set(arrays.strain.tolist()))
        least = sorted(np.minimum.reduceat(arrays.strain, arrays.start).tolist(), reverse=True)
        low = strains.index(least[self.settled])
        high = bisect_left(strains, self._worst(self.best))
        lowest = strains[low]
        middle = low
        while low < high:
            reached = self._above(strains[middle])
            if reached.above <= self.settled:
                self.best = reached.result
                high = min(middle, bisect_left(strains, self._worst(reached.result)))
            else:
                if reached.at_least > self.settled:
                    lowest = max(lowest, strains[middle] + 1)
                low = middle + 1
            middle = (low + high) // 2
        return self._worst(self.best), lowest

    def _worst(self, result: AimResult) -> Micro:
        """Most strain left to anybody not settled yet."""
        assert result.chosen is not None
        return sorted((column.strain for column in result.chosen.values()), reverse=True)[self.settled]


def share_worst_off_first(search: ColumnSearch) -> Leveled:
    """Share the fund so that the worst off come first.

    Among equal levels the most weighted relief is taken, then the least money.
    """
    search.ask_everybody()
    search.tell("share")
    # values of single steps are numbers of people: they would only confuse whoever watches relief
    search.silent = True
    first = search.solve(relief_aim(), cheapest=False)
    if first.chosen is None:
        search.silent = False
        return Leveled(first, (), False)
    work = _Levels(search, first)
    levels: list[StrainLevel] = []
    while work.settled < work.people and (search.exact or len(levels) < MOST_LEVELS):
        levels.append(work.next_level())
        if search.deadline.over:
            break
    search.silent = False
    best = search.solve(relief_aim(*work.limits))
    if best.chosen is None:
        assert work.best.chosen is not None
        relief = weighted_relief(search.people, work.best.chosen)
        best = replace(work.best, value=relief, bound=max(relief, first.bound))
    return Leveled(best, _as_chosen(best, levels), work.settled >= work.people)


def _as_chosen(result: AimResult, levels: list[StrainLevel]) -> tuple[StrainLevel, ...]:
    """Write levels as the allocation has them.

    What was proven of a level holds given the levels before it.  Where the allocation turned out better than
    a level that was not proven, what comes after was worked out for other people, and the list ends there.
    """
    assert result.chosen is not None
    counts = Counter(column.strain for column in result.chosen.values())
    written: list[StrainLevel] = []
    for level, strain in zip(levels, sorted(counts, reverse=True), strict=False):
        people = counts[strain]
        if (strain, people) == (level.strain, level.people):
            written.append(level)
            continue
        at_least = level.people_at_least if strain == level.strain_at_least else 1
        written.append(StrainLevel(strain, level.strain_at_least, people, min(at_least, people)))
        break
    return tuple(written)
