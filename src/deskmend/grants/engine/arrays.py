"""What is made as large as possible, and what else must hold, as functions of a sheet of plans.

Plans of many people as whole-number arrays, one entry a plan, people in the order of their ids.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import Limit, PersonalRules, Terms

__all__ = [
    "Aim",
    "IntArray",
    "Sheet",
    "SideRow",
    "at_most_above",
    "exact_sum",
    "make_sheet",
    "people_aim",
    "people_at_least",
    "relief_aim",
    "relief_of",
    "strain_aim",
]

IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Sheet:
    """Plans as arrays.

    Attributes
    ----------
    people : tuple of Applicant
        Sorted by id.
    columns : tuple of Column
        All plans, person after person, cheapest first at listed prices.
    start : integer array
        Number of the first plan of each person.
    owner : integer array
        Number of the person of each plan.
    items : tuple of str
        Items whose packs couple people: with tiers or with a stock that might run out.
    shares : tuple of str
        Groups for which a part of the fund is kept, sorted.
    strain, plain, listed : integer array
        Of each plan: strain left [millionths of h/day], listed price of what does not couple people, and of
        everything [minor units].
    score : integer array
        Published score that is limited, -1 where none is or it cannot be given [-].
    packs : integer array
        Packs of each of `items`, one row a plan [-].
    pot : integer array
        Of each plan: 1 + number of the group in `shares` of its person, 0 for all others.
    """

    people: tuple[Applicant, ...]
    columns: tuple[Column, ...]
    start: IntArray
    owner: IntArray
    items: tuple[str, ...]
    shares: tuple[str, ...]
    strain: IntArray
    plain: IntArray
    listed: IntArray
    score: IntArray
    packs: IntArray
    pot: IntArray

    @property
    def weight(self) -> IntArray:
        """Weight of the person of each plan, in `WEIGHT_UNIT`."""
        return np.array([one.weight for one in self.people], dtype=np.int64)[self.owner]

    @property
    def strain_free(self) -> IntArray:
        """Strain that free fixes leave to the person of each plan [millionths of h/day]."""
        return np.array([one.strain_free for one in self.people], dtype=np.int64)[self.owner]

    def best_of_each(self, score: NDArray[Any]) -> tuple[NDArray[Any], IntArray]:
        """Find the highest score of each person and the first (cheapest) plan that has it."""
        most = np.maximum.reduceat(score, self.start)
        numbers = np.where(score == most[self.owner], np.arange(len(score)), len(score))
        return most, np.minimum.reduceat(numbers, self.start)

    def most_packs(self) -> IntArray:
        """Packs of each item if everybody took the plan with most of it [-]."""
        if not self.items:
            return np.zeros(0, dtype=np.int64)
        return np.asarray(np.maximum.reduceat(self.packs, self.start, axis=0).sum(axis=0))


def make_sheet(
    applicants: Sequence[Applicant],
    plans: Mapping[str, Sequence[Column]],
    items: Sequence[str],
    terms: Terms,
    rules: PersonalRules,
    relaxed: bool = False,
) -> Sheet:
    """Write plans into arrays.

    Parameters
    ----------
    applicants : sequence of Applicant
        Sorted by id.
    plans : mapping of str to sequence of Column
        Plans of each; what the rules forbid is left out.
    items : sequence of str
        Items whose packs couple people.
    terms : Terms
        Listed prices and shares.
    rules : PersonalRules
        Cap and floor of each person.
    relaxed : bool
        Keep plans above the cap, but no better than what the cap can buy: what a bound needs, where the
        plans are a Pareto set at other prices than the listed ones.

    Returns
    -------
    Sheet
        A person without a permitted plan makes the whole impossible: ValueError.
    """
    place = {item: number for number, item in enumerate(items)}
    shares = tuple(sorted(terms.group_share))
    pots = {group: 1 + number for number, group in enumerate(shares)}
    rows: list[tuple[int, int, int, int, int]] = []
    packs: list[tuple[int, int, int]] = []
    columns: list[Column] = []
    start: list[int] = []
    for person in applicants:
        pot = pots.get(person.group or "", 0)
        start.append(len(columns))
        kept = []
        for column in plans[person.id]:
            listed = column.cost(terms.base)
            strain = rules.admitted(person, column.strain, listed, relaxed)
            if strain is not None:
                kept.append((listed, strain, column.packs, column))
        if not kept:
            raise ValueError(f"no permitted plan for {person.id!r}")
        kept.sort(key=lambda one: one[:3])
        for listed, strain, _, column in kept:
            plain = listed
            for item, count in column.packs:
                if item in place:
                    packs.append((len(columns), place[item], count))
                    plain -= terms.base[item] * count
            rows.append((strain, plain, listed, -1 if column.score is None else column.score, pot))
            columns.append(column)
    table = np.array(rows, dtype=np.int64)
    matrix = np.zeros((len(columns), len(items)), dtype=np.int64)
    if packs:
        where = np.array(packs, dtype=np.int64)
        matrix[where[:, 0], where[:, 1]] = where[:, 2]
    lengths = np.diff([*start, len(columns)])
    return Sheet(
        tuple(applicants),
        tuple(columns),
        np.array(start, dtype=np.int64),
        np.repeat(np.arange(len(applicants), dtype=np.int64), lengths),
        tuple(items),
        shares,
        strain=np.ascontiguousarray(table[:, 0]),
        plain=np.ascontiguousarray(table[:, 1]),
        listed=np.ascontiguousarray(table[:, 2]),
        score=np.ascontiguousarray(table[:, 3]),
        packs=matrix,
        pot=np.ascontiguousarray(table[:, 4]),
    )


def exact_sum(numbers: IntArray) -> int:
    """Add up 64-bit whole numbers without overflow."""
    return (int((numbers >> 32).sum()) << 32) + int((numbers & 0xFFFFFFFF).sum())


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
    if limit.of_strain:
        above = sheet.strain_free > limit.most
        kept = sheet.strain <= limit.most
    else:
        free = np.array([-1 if one.score_free is None else one.score_free for one in sheet.people])
        above = free[sheet.owner] > limit.most
        kept = (sheet.score >= 0) & (sheet.score <= limit.most)
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
