"""A problem in which the prices of some items stay open: worked out once, asked at any prices of theirs.

Packs of an open item are counted beside the cost, as a resource of their own. For that they go through the
reduction as tables, so that no option is dropped because of what a pack happens to cost; there they share the
numbers of the value tables, strain in the lowest digits, packs in the digits above, and are taken apart again
before anything is searched.

The best assignment when value and cost are weighed against each other, also within a limit of minutes.

What takes time is worked out once for a problem, when it is first asked, and serves every pair of weights.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from math import prod

import numpy as np

from deskmend.choice.cases import cases_of, lower_edge, preference
from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.elimination.search import Elimination, WeightedSearch, Weights
from deskmend.choice.elimination.tree import Resource
from deskmend.choice.engines import frontier
from deskmend.choice.network import Factor, Network, SideLimit, build
from deskmend.choice.problem import LARGEST_TOTAL, IntArray, Item, Problem, Table
from deskmend.choice.result import Choice, choice_from, evaluate, verify

__all__ = ["OpenPrices", "Weighted"]


class Weighted:
    """A problem asked again and again under other weights.

    Parameters
    ----------
    problem : Problem
        What to choose from, without side limits; its limits of money and minutes are left aside, and so is
        what it says comes first.

    Raises
    ------
    ValueError
        It has side limits.
    """

    def __init__(self, problem: Problem) -> None:
        if problem.bounds:
            raise ValueError("a problem with side limits cannot be weighed")
        self.problem = replace(problem, money=None, minutes=None, first="value")
        self._made: tuple[list[WeightedSearch], list[Choice]] | None = None

    @property
    def bytes(self) -> int:
        """Memory that its searches take, about [bytes]."""
        return 0 if self._made is None else sum(search.tree.bytes for search in self._made[0])

    def least(self, value_weight: int, cost_weight: int, minutes: int | None = None) -> Choice | None:
        """Find the assignment with the least weighted sum of value and cost.

        Parameters
        ----------
        value_weight, cost_weight : int
            Not negative [-].
        minutes : int or None
            Limit of the work [min].

        Returns
        -------
        Choice or None
            Of equal sums the one with less value, then less cost, minutes, fixes, then catalog order; scored
            again from the problem. None where nothing is allowed.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        searches, found = self._cases(minutes)
        for search in searches:
            best = search.best(Weights(value_weight, {"cost": cost_weight}), minutes)
            if best is not None:
                found.append(search.choice(best))
        if not found:
            return None

        def rank(choice: Choice) -> tuple[int, tuple[int, ...]]:
            weighed = value_weight * choice.value + cost_weight * choice.cost
            return weighed, preference(self.problem, choice)

        least = min(found, key=rank)
        verify(self.problem, least)
        return least

    def frontier(self, minutes: int) -> list[Choice]:
        """Find every cost at which the best value within a limit of minutes changes.

        Parameters
        ----------
        minutes : int
            Limit of the work [min].

        Returns
        -------
        list of Choice
            As `deskmend.choice.engines.frontier` gives them.
        """
        return frontier(replace(self.problem, minutes=minutes))

    def within(
        self, value_weight: int, cost_weight: int, most: int, minutes: int | None = None
    ) -> list[Choice]:
        """Find every point of the frontier whose weighted sum of value and cost is at most so much.

        Parameters
        ----------
        value_weight, cost_weight : int
            Not negative [-].
        most : int
            Largest weighted sum that is wanted.
        minutes : int or None
            Limit of the work [min].

        Returns
        -------
        list of Choice
            Cost strictly rising, value strictly falling, each the best by preference at its cost.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        searches, found = self._cases(minutes)
        weights = Weights(value_weight, {"cost": cost_weight})
        for search in searches:
            # Passes count from the least of every table; the problem counts from 0.
            some = search.up_to(weights, minutes, most - value_weight * search.shift)
            found += map(search.choice, some)
        rungs = [
            rung
            for rung in lower_edge(self.problem, found)
            if value_weight * rung.value + cost_weight * rung.cost <= most
        ]
        for rung in rungs:
            verify(self.problem, rung)
        return rungs

    def _cases(self, minutes: int | None) -> tuple[list[WeightedSearch], list[Choice]]:
        """Give the searches of all cases, and what is best within a limit where reduction left no choice."""
        if self._made is None:
            searches: list[WeightedSearch] = []
            settled: list[Choice] = []
            for case in cases_of(self.problem):
                network = build(case)
                if network.impossible:
                    continue
                if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
                    searches.append(WeightedSearch(Elimination(case, network), case))
                else:
                    scored = evaluate(case, network.names_of([0] * network.decisions))
                    if not scored.violations:
                        settled.append(choice_from(case, scored, "reduction"))
            self._made = searches, settled
        searches, settled = self._made
        return searches, [choice for choice in settled if minutes is None or choice.minutes <= minutes]


MOST_CELLS = 20_000
"""Most cells of a table that counts the packs of one item."""

UNBOUNDED = 10**12
"""At most so many packs: more than there ever are, since nothing is to be kept to."""


@dataclass(frozen=True)
class _Digits:
    """Where the packs of each open item stand above the value: items, and what one pack counts for."""

    items: tuple[str, ...]
    units: tuple[int, ...]

    def parted(self, values: IntArray) -> list[IntArray]:
        """Value, then packs of each item."""
        out = []
        for unit in reversed(self.units):
            out.append(values // unit)
            values = values % unit
        return [values, *reversed(out)]


class OpenPrices:
    """A problem asked again and again at other prices of some items, and under other weights.

    Parameters
    ----------
    problem : Problem
        What to choose from, without side limits and without negative values; its limits of money and minutes
        are left aside.
    items : sequence of str
        Whose prices stay open: without tiers and stock.

    Raises
    ------
    ValueError
        The problem has side limits or negative values, or an open item has tiers or stock or no price.
    TooWide
        Packs of an item hang on too many decisions, or the tables are too entangled.
    """

    def __init__(self, problem: Problem, items: Sequence[str]) -> None:
        if problem.bounds or any(table.values.size and table.values.min() < 0 for table in problem.tables):
            raise ValueError("side limits and negative values do not go with open prices")
        self.problem = problem = replace(problem, money=None, minutes=None, first="value")
        by_name = {item.name: item for item in problem.items}
        self.items = tuple(name for name in items if name in by_name)
        opened = [by_name[name] for name in self.items]
        if any(item.price is None or item.tiers or item.stock is not None for item in opened):
            raise ValueError("an item with an open price has a price, and neither tiers nor stock")
        mixed, digits = _mixed(problem, opened)
        self._searches: list[WeightedSearch] = []
        self._settled: list[Choice] = []
        for case in cases_of(mixed):
            network = build(case)
            if network.impossible:
                continue
            if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
                _take_apart(network, digits)
                self._searches.append(WeightedSearch(Elimination(case, network), problem))
            else:
                scored = evaluate(problem, network.names_of([0] * network.decisions))
                if not scored.violations:
                    self._settled.append(choice_from(problem, scored, "reduction"))

    @property
    def bytes(self) -> int:
        """Memory that it takes, about [bytes]."""
        return sum(search.tree.bytes for search in self._searches)

    def forget_passes(self) -> None:
        """Let go of most of the memory; what is needed is made again."""
        for search in self._searches:
            search.tree.forget_passes()

    def least(
        self,
        value_weight: int,
        cost_weight: int,
        prices: Mapping[str, int],
        minutes: int | None = None,
    ) -> Choice | None:
        """Find the assignment with the least weighted sum of value and cost at some prices.

        Parameters
        ----------
        value_weight, cost_weight : int
            Not negative, not both 0 [-].
        prices : mapping of str to int
            Price of a pack of open items [minor units]; the problem's own where none is given.
        minutes : int or None
            Limit of the work [min].

        Returns
        -------
        Choice or None
            Of equal sums the one with less value, then less cost; then one of several, always the same. Its
            cost is that at the problem's own prices. None where nothing is allowed.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        at = self._at(prices)
        if not cost_weight:
            # Where money counts for nothing it still settles ties.
            value_weight, cost_weight = value_weight * (1 + self._most_cost(at)), 1
        weights = self._weights(value_weight, cost_weight, at)
        found = [choice for choice in self._settled if minutes is None or choice.minutes <= minutes]
        for search in self._searches:
            best = search.best(weights, minutes)
            if best is not None:
                found.append(search.choice(best))
        if not found:
            return None

        def rank(choice: Choice) -> tuple[int, int, int, tuple[int, ...]]:
            cost = _cost(choice, at)
            weighed = value_weight * choice.value + cost_weight * cost
            return weighed, choice.value, cost, preference(self.problem, choice)

        least = min(found, key=rank)
        verify(self.problem, least)
        return least

    def unbeaten(
        self,
        value_weight: int,
        cost_weight: int,
        prices: Mapping[str, int],
        most: int,
        minutes: int | None = None,
    ) -> list[Choice]:
        """Find every assignment up to a weighted sum that no other beats in all that could matter.

        Parameters
        ----------
        value_weight, cost_weight : int
            Not negative [-].
        prices : mapping of str to int
            Price of a pack of open items [minor units]; the problem's own where none is given.
        most : int
            Largest weighted sum of value and cost at these prices.
        minutes : int or None
            Limit of the work [min].

        Returns
        -------
        list of Choice
            At least all whose value, packs of each open item and cost of all else no other equals or beats
            together; costs at the problem's own prices.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        at = self._at(prices)
        weights = self._weights(value_weight, cost_weight, at)
        found = [choice for choice in self._settled if minutes is None or choice.minutes <= minutes]
        for search in self._searches:
            some = search.any()
            if some is None:
                continue
            # Passes count from the least of every table; the problem counts from 0.
            own = search.choice(some)
            whole = value_weight * own.value + cost_weight * _cost(own, at)
            above = most - whole + weights.of(some)
            found += [search.choice(one) for one in search.up_to(weights, minutes, above)]
        for choice in found:
            verify(self.problem, choice)
        return found

    def _at(self, prices: Mapping[str, int]) -> dict[str, int]:
        own = {item.name: item.price or 0 for item in self.problem.items}
        return own | {name: prices[name] for name in self.items if name in prices}

    def _weights(self, value_weight: int, cost_weight: int, at: Mapping[str, int]) -> Weights:
        costs: dict[Resource, int] = {"cost": cost_weight}
        costs |= {number: cost_weight * at[name] for number, name in enumerate(self.items)}
        return Weights(value_weight, costs)

    def _most_cost(self, at: Mapping[str, int]) -> int:
        """More than any assignment costs at some prices."""
        total = 0
        for item in self.problem.items:
            uses = (max(o.use.get(item.name, 0) for o in d.options) for d in self.problem.decisions)
            total += at[item.name] * -(-sum(uses) // item.pack)
        return total


def _cost(choice: Choice, at: Mapping[str, int]) -> int:
    return sum(at[name] * packs for name, packs in choice.packs.items())


def _mixed(problem: Problem, opened: Sequence[Item]) -> tuple[Problem, _Digits]:
    """Problem that counts packs of open items in the digits above its values, and where they stand."""
    unit = 1 + sum(int(table.values.max()) for table in problem.tables if table.values.size)
    tables, units = list(problem.tables), []
    for item in opened:
        scope, packs = _packs(problem, item)
        if unit * (1 + int(packs.max())) >= LARGEST_TOTAL:
            raise TooWide("packs and values do not fit into 64 bits together")
        if scope:
            tables.append(Table(scope, packs * unit))
        units.append(unit)
        unit *= 1 + int(packs.max())
    names = {item.name for item in opened}
    decisions = [
        replace(
            decision,
            options=[
                replace(option, use={k: v for k, v in option.use.items() if k not in names})
                for option in decision.options
            ],
        )
        for decision in problem.decisions
    ]
    items = [item for item in problem.items if item.name not in names]
    mixed = replace(problem, decisions=decisions, items=items, tables=tables)
    return mixed, _Digits(tuple(item.name for item in opened), tuple(units))


def _packs(problem: Problem, item: Item) -> tuple[tuple[str, ...], IntArray]:
    """Packs of an item for every combination of the decisions that use it."""
    users = [d for d in problem.decisions if any(option.use.get(item.name) for option in d.options)]
    if prod(len(decision.options) for decision in users) > MOST_CELLS:
        raise TooWide(f"packs of {item.name!r} hang on too many decisions")
    uses = [np.array([o.use.get(item.name, 0) for o in d.options], dtype=np.int64) for d in users]
    total = reduce(np.add.outer, uses) if uses else np.zeros((), dtype=np.int64)
    packs: IntArray = -(-np.maximum(0, total - item.owned) // item.pack)
    return tuple(decision.name for decision in users), packs


def _take_apart(network: Network, digits: _Digits) -> None:
    """Part values and packs again: packs become side limits that nothing is kept to."""
    counted: list[list[Factor]] = [[] for _ in digits.items]
    tables = []
    for factor in network.tables:
        value, *packs = digits.parted(factor.values)
        if value.any():
            tables.append(Factor(factor.scope, value, factor.gate))
        for own, part in zip(counted, packs, strict=True):
            if part.any():
                own.append(Factor(factor.scope, part, factor.gate))
    network.tables = tables
    network.limits = [SideLimit(factors, UNBOUNDED) for factors in counted]
