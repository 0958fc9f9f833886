"""What is made as large as possible, and what else must hold, as functions of a sheet of plans."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from deskmend.grants.sheet import IntArray, Sheet
from deskmend.grants.terms import Limit

__all__ = [
    "Aim",
    "SideRow",
    "at_most_above",
    "people_aim",
    "people_at_least",
    "relief_aim",
    "relief_of",
    "strain_aim",
]


@dataclass(frozen=True)
class SideRow:
    """A limit on a sum over all people.

    Attributes
    ----------
    use : callable
        Whole number of each plan of a sheet.
    right : int
        What the sum may not exceed.
    """

    use: Callable[[Sheet], IntArray]
    right: int


@dataclass(frozen=True)
class Aim:
    """What to maximise, under which further limits.

    Attributes
    ----------
    value : callable
        Whole number of each plan of a sheet; the sum over people is maximised.  It never rises with the
        strain left, so that the best plan is on the Pareto set of money against strain.
    rows : tuple of SideRow
        Further limits.
    """

    value: Callable[[Sheet], IntArray]
    rows: tuple[SideRow, ...] = ()


def relief_of(sheet: Sheet) -> IntArray:
    """Weighted relief of each plan [millionths of h/day x thousandths of weight]."""
    return sheet.weight * (sheet.strain_free - sheet.strain)


def relief_aim(*rows: SideRow) -> Aim:
    """Aim at the most weighted relief."""
    return Aim(relief_of, rows)


def _brought(sheet: Sheet, limit: Limit) -> IntArray:
    if limit.score == "strain":
        above = sheet.strain_free > limit.most
        kept = sheet.strain <= limit.most
    else:
        free = np.array([-1 if one.rosa_free is None else one.rosa_free for one in sheet.people])
        above = free[sheet.owner] > limit.most
        kept = (sheet.rosa >= 0) & (sheet.rosa <= limit.most)
    return np.asarray(above & kept, dtype=np.int64)


def people_aim(limit: Limit) -> Aim:
    """Aim at the most people brought under a limit that free fixes leave them above."""
    return Aim(lambda sheet: _brought(sheet, limit))


def people_at_least(limit: Limit, count: int) -> SideRow:
    """Require so many people to be brought under a limit."""
    return SideRow(lambda sheet: -_brought(sheet, limit), -count)


def strain_aim(most: int, *rows: SideRow) -> Aim:
    """Aim at the most people with no more strain than `most` [millionths of h/day]."""
    return Aim(lambda sheet: np.asarray(sheet.strain <= most, dtype=np.int64), rows)


def at_most_above(strain: int, people: int) -> SideRow:
    """Allow so many people to be left with more than `strain` [millionths of h/day]."""
    return SideRow(lambda sheet: np.asarray(sheet.strain > strain, dtype=np.int64), people)
