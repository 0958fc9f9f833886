"""Worst off first: of all allocations, the one whose sorted strains left are least, from the worst down.

The most strain that anybody keeps is made as small as possible, then the number of people who keep that
much, then the same for all others, and so on.  Each step is a question of the same kind: how many people can
be brought to no more than so much, under what earlier steps have fixed?  Few people: every step is proven.
Many: what is found and what is proven may differ, and the level is then an interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deskmend.grants.aims import SideRow, at_most_above, relief_aim, strain_aim
from deskmend.grants.search import Found, Search
from deskmend.grants.terms import Level

__all__ = ["Leveled", "share_worst_off_first"]

MOST_LEVELS = 8
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
        Whether the levels cover everybody.
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

    def above(self, strain: int) -> _Reached:
        """Bring as many people as possible to no more than `strain`."""
        found = self.search.solve(strain_aim(strain, *self.rows), cheapest=False)
        count = self.people if found.chosen is None else self.people - found.value
        return _Reached(count, self.people if found.impossible else self.people - found.bound, found)

    def strains(self) -> list[int]:
        """List what anybody can be left with, and the least of each, worst first."""
        sheet = self.search.sheet(())
        self.least = sorted(np.minimum.reduceat(sheet.strain, sheet.start).tolist(), reverse=True)
        return sorted(set(sheet.strain.tolist()))

    def next_level(self, strains: list[int]) -> Level:
        """Settle the people who are worst off among those not settled yet."""
        low = strains.index(self.least[self.settled])
        high = len(strains) - 1
        if self.best is not None and self.best.chosen is not None:
            now = sorted((column.strain for column in self.best.chosen.values()), reverse=True)
            high = strains.index(now[self.settled])
        surely_not = low - 1
        middle = low
        while low < high:
            reached = self.above(strains[middle])
            if reached.above <= self.settled:
                high, self.best = middle, reached.found
            else:
                if reached.at_least > self.settled:
                    surely_not = max(surely_not, middle)
                low = middle + 1
            middle = (low + high) // 2
        strain, lowest = strains[high], strains[surely_not + 1]
        self.rows.append(at_most_above(strain, self.settled))
        below = strains[high - 1] if high else -1
        reached = self.above(below)
        people, at_least = reached.above - self.settled, max(1, reached.at_least - self.settled)
        if reached.found.chosen is not None:
            self.best = reached.found
        self.rows.append(at_most_above(below, reached.above))
        self.settled = reached.above
        return Level(strain, lowest, people, at_least if lowest == strain else 1)


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
    work = _Levels(search)
    first = search.solve(relief_aim(), cheapest=False)
    if first.chosen is None:
        return Leveled(first, (), False)
    work.best = first
    levels: list[Level] = []
    strains = work.strains()
    while work.settled < work.people and (search.exact or len(levels) < MOST_LEVELS):
        levels.append(work.next_level(strains))
        if search.out_of_time:
            break
    final = search.solve(relief_aim(*work.rows))
    best = final if final.chosen is not None else work.best
    return Leveled(best, tuple(levels), work.settled >= work.people)
