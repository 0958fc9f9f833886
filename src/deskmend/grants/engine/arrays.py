"""What is shared, as whole-number arrays: everybody's columns, the aim, the limits, what packs cost.

A column is one plan of one person.  The arrays hold one entry a column, in the order of people's ids.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from deskmend.choice.problem import IntArray, Item
from deskmend.choice.purchases import price_segments
from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms, ItemOrder, PersonalRules, ScoreLimit
from deskmend.measures import Micro, Minor

__all__ = [
    "PLENTY",
    "Aim",
    "AllocationProblem",
    "Assignment",
    "ColumnArrays",
    "Market",
    "OrderRange",
    "SumLimit",
    "at_most_above",
    "better",
    "cheapest_orders",
    "column_arrays",
    "exact_sum",
    "market_of",
    "most_possible",
    "people_aim",
    "people_at_least",
    "relief_aim",
    "strain_aim",
]

PLENTY = 10**7
"""Stands for stock without limit; no order comes near it [packs]."""


@dataclass(frozen=True)
class OrderRange:
    """One way of getting an item: from `low` to `high` packs, those bought all at the same price."""

    low: int
    high: int
    price: Minor
    spare: int = 0
    """How many of the packs lie in store and are paid already."""

    def cost(self, packs: int) -> Minor:
        """What so many packs cost, those in store taken first."""
        return (packs - self.spare) * self.price

    def worth(self, price: Minor, free: bool = False) -> Minor:
        """Most that getting packs this way and passing them on at a price brings; `free`: nothing is paid."""
        gain = price if free else price - self.price
        return gain * (self.high if gain > 0 else self.low) + (0 if free else self.spare * self.price)


Market = Mapping[str, Sequence[OrderRange]]
"""Ways of ordering that are open for each item, rising in packs."""


def market_of(terms: FundTerms, items: Iterable[str]) -> dict[str, tuple[OrderRange, ...]]:
    """List all ways of getting some items, buying none among them; what stock forbids is left out."""
    return {item: _ranges(terms, item) for item in items}


def _ranges(terms: FundTerms, item: str) -> tuple[OrderRange, ...]:
    price, spare = terms.base[item], terms.spare.get(item, 0)
    sold = Item(item, price, stock=terms.stock.get(item), tiers=terms.tiers.get(item, ()))
    ranges = (
        OrderRange(first + spare, PLENTY if last is None else last + spare, each, spare)
        for first, last, each in price_segments(sold)
    )
    # without anything in store the price of buying none matters to nothing but the search for prices
    return OrderRange(0, spare, 0 if spare else price), *ranges


def cheapest_orders(market: Market, needed: Mapping[str, int]) -> tuple[ItemOrder, ...] | None:
    """Get at least so many packs of each item for the least money; None where some stock is too small.

    What lies in store is taken first. Of equally cheap orders that with fewest packs is taken.
    """
    orders = []
    for item, count in needed.items():
        offers = [_order(item, count, way) for way in market[item] if way.high >= count]
        if not offers:
            return None
        orders.append(min(offers, key=lambda order: (order.cost, order.packs)))
    return tuple(orders)


def _order(item: str, count: int, way: OrderRange) -> ItemOrder:
    if way.low == 0:
        return ItemOrder(item, count, 0, way.price, count)
    return ItemOrder(item, count, max(count, way.low) - way.spare, way.price, min(count, way.spare))


NO_SCORE = -1
"""Stands for a score that no limit asks for, or that cannot be given."""


@dataclass(frozen=True, eq=False)
class ColumnArrays:
    """Columns of everybody, person after person, each person's cheapest first at listed prices."""

    people: tuple[Applicant, ...]
    """Sorted by id."""
    columns: tuple[Column, ...]
    items: tuple[str, ...]
    """Items whose packs couple people: with tiers or with a stock that might run out."""
    start: IntArray
    """Number of the first column of each person."""
    owner: IntArray
    """Of each column, like all below: number of its person."""
    strain: IntArray
    """Strain left [`Micro`]; above the cap no less than what the cap allows."""
    plain: IntArray
    """Listed price of what does not couple people [`Minor`]."""
    listed: IntArray
    """Listed price of everything [`Minor`]."""
    score: IntArray
    """Published score that is limited, or `NO_SCORE` [-]."""
    packs: IntArray
    """Packs of each of `items`, one row a column."""
    pot: IntArray
    """`FundTerms.pot_of` of its person."""

    @cached_property
    def relief(self) -> IntArray:
        """Weighted relief [millionths of h/day x thousandths of weight]."""
        weight = np.array([one.weight for one in self.people], dtype=np.int64)
        return np.asarray(weight[self.owner] * (self.strain_free - self.strain), dtype=np.int64)

    @cached_property
    def strain_free(self) -> IntArray:
        """Strain that free fixes leave to the person of each column [`Micro`]."""
        return np.array([one.strain_free for one in self.people], dtype=np.int64)[self.owner]

    def best_of_each(self, score: NDArray[Any]) -> tuple[NDArray[Any], IntArray]:
        """Find the highest score of each person and the first (cheapest) column that has it."""
        most = np.maximum.reduceat(score, self.start)
        numbers = np.where(score == most[self.owner], np.arange(len(score)), len(score))
        return most, np.minimum.reduceat(numbers, self.start)

    def most_packs(self) -> IntArray:
        """Packs of each item if everybody took the column with most of it."""
        if not self.items:
            return np.zeros(0, dtype=np.int64)
        return np.asarray(np.maximum.reduceat(self.packs, self.start, axis=0).sum(axis=0))


def column_arrays(
    people: Sequence[Applicant],
    known: Mapping[str, Sequence[Column]],
    items: Sequence[str],
    terms: FundTerms,
    rules: PersonalRules,
    relaxed: bool = False,
) -> ColumnArrays:
    """Write what is known of people, sorted by id, into arrays; what the rules forbid is left out.

    `relaxed` keeps columns above the cap, but no better than what the cap can buy: what a bound needs, where
    the columns are a Pareto set at other prices than the listed ones.  A person without a permitted column
    makes the whole impossible: ValueError.
    """
    place = {item: number for number, item in enumerate(items)}
    rows: list[tuple[int, int, int, int, int]] = []
    packs: list[tuple[int, int, int]] = []
    columns: list[Column] = []
    start: list[int] = []
    for person in people:
        start.append(len(columns))
        kept = []
        for column in known[person.id]:
            listed = column.cost(terms.base)
            strain = rules.admitted(person, column.strain, listed, relaxed)
            if strain is not None:
                kept.append((listed, strain, column.packs, column))
        if not kept:
            raise ValueError(f"no permitted plan for {person.id!r}")
        kept.sort(key=lambda one: one[:3])
        pot = terms.pot_of(person)
        for listed, strain, _, column in kept:
            plain = listed
            for item, count in column.packs:
                if item in place:
                    packs.append((len(columns), place[item], count))
                    plain -= terms.base[item] * count
            rows.append((strain, plain, listed, NO_SCORE if column.score is None else column.score, pot))
            columns.append(column)
    table = np.array(rows, dtype=np.int64)
    matrix = np.zeros((len(columns), len(items)), dtype=np.int64)
    if packs:
        where = np.array(packs, dtype=np.int64)
        matrix[where[:, 0], where[:, 1]] = where[:, 2]
    strains, plains, listings, scores, pots = (np.ascontiguousarray(one) for one in table.T)
    return ColumnArrays(
        people=tuple(people),
        columns=tuple(columns),
        items=tuple(items),
        start=np.array(start, dtype=np.int64),
        owner=np.repeat(np.arange(len(people), dtype=np.int64), np.diff([*start, len(columns)])),
        strain=strains,
        plain=plains,
        listed=listings,
        score=scores,
        packs=matrix,
        pot=pots,
    )


def exact_sum(numbers: IntArray) -> int:
    """Add up 64-bit whole numbers without overflow."""
    return (int((numbers >> 32).sum()) << 32) + int((numbers & 0xFFFFFFFF).sum())


@dataclass(frozen=True)
class SumLimit:
    """A limit on a sum over all people: what each column uses of it, and the most that all may use."""

    use: Callable[[ColumnArrays], IntArray]
    most: int


@dataclass(frozen=True)
class Aim:
    """What is maximised, the sum over people of each column's value, and under which further limits.

    The value never rises with the strain left, so that the best column is on the Pareto set of money against
    strain.
    """

    value: Callable[[ColumnArrays], IntArray]
    limits: tuple[SumLimit, ...] = ()

    @property
    def is_relief_alone(self) -> bool:
        """Whether a person's best column at any prices is one that weighs strain against money."""
        return self.value is _relief and not self.limits


def _relief(arrays: ColumnArrays) -> IntArray:
    return arrays.relief


def relief_aim(*limits: SumLimit) -> Aim:
    """Aim at the most weighted relief."""
    return Aim(_relief, limits)


def _brought(arrays: ColumnArrays, limit: ScoreLimit) -> IntArray:
    """1 for each column that keeps a limit which free fixes leave its person above."""
    above = np.array([limit.broken(one.strain_free, one.score_free) for one in arrays.people], dtype=bool)
    figure = arrays.strain if limit.of_strain else arrays.score
    kept = (figure != NO_SCORE) & (figure <= limit.most)
    return np.asarray(above[arrays.owner] & kept, dtype=np.int64)


def people_aim(limit: ScoreLimit) -> Aim:
    """Aim at the most people brought under a limit that free fixes leave them above."""
    return Aim(lambda arrays: _brought(arrays, limit))


def people_at_least(limit: ScoreLimit, count: int) -> SumLimit:
    """Require so many people to be brought under a limit."""
    return SumLimit(lambda arrays: -_brought(arrays, limit), -count)


def strain_aim(most: Micro, *limits: SumLimit) -> Aim:
    """Aim at the most people with no more strain than `most`."""
    return Aim(lambda arrays: np.asarray(arrays.strain <= most, dtype=np.int64), limits)


def at_most_above(strain: Micro, people: int) -> SumLimit:
    """Allow so many people to be left with more than `strain`."""
    return SumLimit(lambda arrays: np.asarray(arrays.strain > strain, dtype=np.int64), people)


def most_possible(aim: Aim, people: Sequence[Applicant]) -> int:
    """What no allocation exceeds whatever it costs: no strain left, or everybody counted."""
    if aim.value is _relief:
        return sum(one.weight * one.strain_free for one in people)
    return len(people)


@dataclass(frozen=True)
class Assignment:
    """One column for each person, by number, such that every limit is kept; what it is worth and costs."""

    numbers: IntArray
    value: int
    spent: Minor


def better(one: Assignment | None, other: Assignment | None, thrift: bool = False) -> Assignment | None:
    """Give the one worth more, with `thrift` among equals the cheaper; else the first."""
    if one is None or other is None:
        return other if one is None else one
    if other.value == one.value:
        return other if thrift and other.spent < one.spent else one
    return other if other.value > one.value else one


@dataclass(frozen=True, eq=False)
class AllocationProblem:
    """An aim over columns under the terms of a fund."""

    arrays: ColumnArrays
    aim: Aim
    terms: FundTerms

    @cached_property
    def value(self) -> IntArray:
        """Value of each column."""
        return self.aim.value(self.arrays)

    @cached_property
    def uses(self) -> list[IntArray]:
        """What each column uses of each further limit."""
        return [limit.use(self.arrays) for limit in self.aim.limits]

    @cached_property
    def market(self) -> Market:
        """All ways of ordering the coupling items."""
        return market_of(self.terms, self.arrays.items)

    def orders_for(self, packs: IntArray) -> tuple[ItemOrder, ...] | None:
        """Cheapest orders of so many packs of the coupling items; None where stock is too small."""
        return cheapest_orders(self.market, dict(zip(self.arrays.items, packs.tolist(), strict=True)))

    def checked(self, numbers: IntArray) -> Assignment | None:
        """Add up a choice of columns, one a person; None where it breaks a limit."""
        arrays = self.arrays
        orders = self.orders_for(arrays.packs[numbers].sum(axis=0))
        if orders is None:
            return None
        spent = exact_sum(arrays.plain[numbers]) + sum(order.cost for order in orders)
        if spent > self.terms.fund or not self._keeps_groups(numbers):
            return None
        if any(
            exact_sum(use[numbers]) > limit.most
            for use, limit in zip(self.uses, self.aim.limits, strict=True)
        ):
            return None
        return Assignment(numbers, exact_sum(self.value[numbers]), spent)

    def _keeps_groups(self, numbers: IntArray) -> bool:
        """Whether the part of each group with a share is left whole, and none is given more than its cap."""
        if not self.terms.pot_numbers:
            return True
        listed = [
            exact_sum(self.arrays.listed[numbers[self.arrays.pot[numbers] == pot]])
            for pot in self.terms.drawn_on
        ]
        return self.terms.keeps_shares(listed) and self.terms.keeps_group_caps(listed)

    def chosen(self, assignment: Assignment) -> dict[str, Column]:
        """Write an assignment as the plan of each person."""
        numbers = assignment.numbers.tolist()
        return {
            one.id: self.arrays.columns[number]
            for one, number in zip(self.arrays.people, numbers, strict=True)
        }
