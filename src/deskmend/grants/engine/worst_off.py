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

from deskmend.grants.engine.arrays import SideRow, at_most_above, relief_aim, strain_aim
from deskmend.grants.engine.pricing import Found, Search
from deskmend.grants.terms import Level

__all__ = ["Leveled", "share_worst_off_first"]

MOST_LEVELS = 12
"""Levels worked out where there are too many people for exact answers."""


@dataclass(frozen=True)
class Leveled:
    """What worst off first comes to.

    Attributes
    ----------
    found : Found
        The allocation; its value is weighted relief.
    levels : tuple of Level
        From the worst off.
    complete : bool
        Whether everybody was settled, level by level.
    """

    found: Found
    levels: tuple[Level, ...]
    complete: bool


@dataclass(frozen=True)
class _Reached:
    """How many people keep more than some strain: found, and at least; and how."""

    above: int
    at_least: int
    found: Found


class _Levels:
    def __init__(self, search: Search) -> None:
        self.search = search
        self.people = len(search.applicants)
        self.rows: list[SideRow] = []
        self.settled = 0
        self.best: Found | None = None

    def above(self, strain: int, *rows: SideRow) -> _Reached:
        """Bring as many people as possible to no more than `strain`."""
        found = self.search.solve(strain_aim(strain, *self.rows, *rows), cheapest=False)
        count = self.people if found.chosen is None else self.people - found.value
        return _Reached(count, self.people if found.impossible else self.people - found.bound, found)

    def next_level(self) -> Level:
        """Settle the people who are worst off among those not settled yet."""
        sheet = self.search.sheet(())
        strains = sorted(set(sheet.strain.tolist()))
        least = sorted(np.minimum.reduceat(sheet.strain, sheet.start).tolist(), reverse=True)
        low, high = strains.index(least[self.settled]), len(strains) - 1
        if self.best is not None and self.best.chosen is not None:
            high = _place(strains, self._worst(self.best))
        lowest = strains[low]
        middle = low
        while low < high:
            reached = self.above(strains[middle])
            if reached.above <= self.settled:
                self.best = reached.found
                high = min(middle, _place(strains, self._worst(reached.found)))
            else:
                if reached.at_least > self.settled:
                    lowest = max(lowest, strains[middle] + 1)
                low = middle + 1
            middle = (low + high) // 2
        strain = strains[high] if self.best is None else self._worst(self.best)
        while True:
            # plans not known may leave anything in between: only less than this level itself tells
            reached = self.above(strain - 1, at_most_above(strain, self.settled))
            if reached.above > self.settled:
                break
            self.best = reached.found
            strain = self._worst(reached.found)
        if reached.at_least > self.settled:
            lowest = strain
        people, at_least = reached.above - self.settled, max(1, reached.at_least - self.settled)
        if reached.found.chosen is not None:
            self.best = reached.found
        self.rows += [at_most_above(strain, self.settled), at_most_above(strain - 1, reached.above)]
        self.settled = reached.above
        return Level(strain, min(strain, lowest), people, at_least if lowest >= strain else 1)

    def _worst(self, found: Found) -> int:
        """Most strain left to anybody not settled yet."""
        assert found.chosen is not None
        return sorted((column.strain for column in found.chosen.values()), reverse=True)[self.settled]


def _place(strains: list[int], strain: int) -> int:
    """Number of the least strain listed that is no less than this one."""
    return bisect_left(strains, strain)


def share_worst_off_first(search: Search) -> Leveled:
    """Share the fund so that the worst off come first.

    Parameters
    ----------
    search : Search
        People, plans, terms.

    Returns
    -------
    Leveled
        Among equal levels the most weighted relief, then the least money.
    """
    search.ask_everybody()
    search.tell("share")
    # values of single steps are numbers of people: they would only confuse whoever watches relief
    search.silent = True
    work = _Levels(search)
    first = search.solve(relief_aim(), cheapest=False)
    if first.chosen is None:
        search.silent = False
        return Leveled(first, (), False)
    work.best = first
    levels: list[Level] = []
    while work.settled < work.people and (search.exact or len(levels) < MOST_LEVELS):
        levels.append(work.next_level())
        if search.out_of_time:
            break
    search.silent = False
    final = search.solve(relief_aim(*work.rows))
    best = final
    if final.chosen is None:
        assert work.best.chosen is not None
        relief = sum(
            one.weight * (one.strain_free - work.best.chosen[one.id].strain) for one in search.applicants
        )
        best = replace(work.best, value=relief, bound=max(relief, first.bound))
    return Leveled(best, _as_chosen(best, levels), work.settled >= work.people)


def _as_chosen(found: Found, levels: list[Level]) -> tuple[Level, ...]:
    """Write levels as the allocation has them.

    What was proven of a level holds given the levels before it.  Where the allocation turned out better than
    a level that was not proven, what comes after was worked out for other people, and the list ends there.
    """
    assert found.chosen is not None
    counts = Counter(column.strain for column in found.chosen.values())
    written: list[Level] = []
    for level, strain in zip(levels, sorted(counts, reverse=True), strict=False):
        if strain == level.strain and counts[strain] == level.people:
            written.append(level)
            continue
        people_at_least = level.people_at_least if strain == level.strain_at_least else 1
        written.append(
            Level(strain, level.strain_at_least, counts[strain], min(people_at_least, counts[strain]))
        )
        break
    return tuple(written)
