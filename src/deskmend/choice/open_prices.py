"""A problem asked again and again, at other prices or with fewer options; what takes time is done once.

Packs of an item with an open price are counted beside the cost, as a resource of their own.  For that they go
through the reduction as tables, so that no option is dropped because of what a pack happens to cost; there
they share the numbers of the value tables, value in the lowest digits, packs in the digits above, and are
taken apart again before anything is searched.  With no price left open, only the weights vary.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import reduce
from math import prod
from typing import Any

import numpy as np

from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.elimination.search import CaseSearch, Limits
from deskmend.choice.elimination.tree import CaseAssignment, Objective
from deskmend.choice.network import Factor, Limit, Network, Resource, build, settled
from deskmend.choice.problem import LARGEST_TOTAL, BoolArray, IntArray, Item, Problem, Table, most_used
from deskmend.choice.result import (
    Choice,
    Disagreement,
    best_choice,
    evaluate,
    no_choice,
    non_dominated,
    packs_for,
    preference,
    verify,
)
from deskmend.choice.variants import cases_of
from deskmend.measures import Minor, Minutes

MOST_COMBINATIONS = 1_000_000
"""Combinations that are scored at once; beyond them an engine is asked each time."""
NEVER = 1 << 62
"""Stands for the value of what is not allowed; above any sum of values."""


class TooMany(ValueError):
    """A problem has more combinations than are scored at once."""


class Exhaustive:
    """All combinations of a problem, those within its limits, by value and the further order of preference.

    Raises TooMany, or ValueError where cost comes first or there are side limits.
    """

    def __init__(self, problem: Problem) -> None:
        if problem.first != "value" or problem.bounds:
            raise ValueError("only the least value within money and minutes is looked for")
        self._problem = problem
        self._open = [decision for decision in problem.decisions if len(decision.options) > 1]
        self._shape = tuple(len(decision.options) for decision in self._open)
        if prod(self._shape) > MOST_COMBINATIONS:
            raise TooMany(f"{prod(self._shape)} combinations")
        self._states = self._all_states()
        self._value = self._added(self._worth(table) for table in problem.tables)
        self._cost = np.zeros((), dtype=np.int64)
        allowed = [mask.allowed[self._at(mask.scope)] for mask in problem.masks if not mask.implied]
        allowed += [~self._holds(entry) for entry in problem.forbidden]
        for item in problem.items:
            costs, to_be_had = self._bought(item)
            self._cost = self._cost + costs
            allowed.append(to_be_had)
        self._minutes = self._added(
            self._by_option(d.name, [option.minutes for option in d.options]) for d in problem.decisions
        )
        self._fixes = self._added(
            self._by_option(d.name, [d.is_fix(position) for position in range(len(d.options))])
            for d in problem.decisions
        )
        self._cost = np.broadcast_to(self._cost, self._shape)
        for limit, reached in ((problem.money, self._cost), (problem.minutes, self._minutes)):
            if limit is not None:
                allowed.append(reached <= limit)
        possible: BoolArray = np.ones(self._shape, dtype=np.bool_)
        for one in allowed:
            if not one.all():
                possible &= one
        self._value = np.where(possible, self._value, NEVER)

    def best(self, without: Mapping[str, Collection[str]]) -> Choice:
        """The best combination without some options, by decision; scored again from the problem."""
        left = [
            np.array([k for k, o in enumerate(d.options) if o.name not in without.get(d.name, ())])
            for d in self._open
        ]
        if any(not positions.size for positions in left):
            return no_choice("exhaustive")
        values = self._value
        for axis, positions in enumerate(left):
            first, last = int(positions[0]), int(positions[-1])
            if last - first + 1 == positions.size:
                # a view: nothing is copied
                values = values[(slice(None),) * axis + (slice(first, last + 1),)]
            else:
                values = np.take(values, positions, axis=axis)
        least = values.min()
        if least == NEVER:
            return no_choice("exhaustive")
        found = np.unravel_index(np.flatnonzero(values == least), values.shape)
        best = tuple(positions[places] for positions, places in zip(left, found, strict=True))
        # of equals the first in catalog order is the first of the array
        for level in (self._cost, self._minutes, self._fixes):
            reached = level[best]
            keep = reached == reached.min()
            best = tuple(positions[keep] for positions in best)
        taken = {d.name: d.options[0].name for d in self._problem.decisions}
        for decision, positions in zip(self._open, best, strict=True):
            taken[decision.name] = decision.options[int(positions[0])].name
        scored = evaluate(self._problem, taken)
        if scored.violations or scored.value != least:
            raise Disagreement(f"exhaustive: {taken} scored again: {scored.value}, {scored.violations}")
        return best_choice(self._problem, scored, "exhaustive")

    def _all_states(self) -> dict[str, IntArray]:
        """State of every variable over the decisions behind it, one axis an open decision."""
        states: dict[str, IntArray] = {}
        axes = {decision.name: axis for axis, decision in enumerate(self._open)}
        for decision in self._problem.decisions:
            shape = [1] * len(self._shape)
            if decision.name in axes:
                shape[axes[decision.name]] = -1
            states[decision.name] = np.arange(len(decision.options)).reshape(shape)
        for node in self._problem.nodes:
            states[node.name] = node.index[tuple(states[name] for name in node.scope)]
        return states

    def _at(self, scope: tuple[str, ...]) -> tuple[IntArray, ...]:
        return tuple(self._states[name] for name in scope)

    def _worth(self, table: Table) -> IntArray:
        values = table.values[self._at(table.scope)]
        if table.when is None:
            return values
        return np.where(self._holds({table.when[0]: table.when[1]}), values, 0)

    def _holds(self, entry: Mapping[str, str | int]) -> BoolArray:
        """Where a partial assignment holds."""
        out: Any = True
        for name, state in entry.items():
            out = out & (self._states[name] == self._problem.state_of(name, state))
        return np.asarray(out)

    def _by_option(self, decision: str, numbers: list[int]) -> IntArray:
        return np.array(numbers, dtype=np.int64)[self._states[decision]]

    def _added(self, arrays: Any) -> IntArray:
        """Sum over all combinations; those over the same few decisions are added up first."""
        sums: dict[tuple[int, ...], IntArray] = {}
        for array in arrays:
            sums[array.shape] = sums[array.shape] + array if array.shape in sums else array
        total: IntArray = np.zeros((1,) * len(self._shape), dtype=np.int64)
        for shape in sorted(sums, key=prod):
            total = total + sums[shape]
        return np.broadcast_to(total, self._shape)

    def _bought(self, item: Item) -> tuple[IntArray, BoolArray]:
        """Cost of an item in every combination, and where it is to be had."""
        used = [
            self._by_option(d.name, [option.use.get(item.name, 0) for option in d.options])
            for d in self._problem.decisions
            if any(option.use.get(item.name, 0) for option in d.options)
        ]
        whole: IntArray = np.zeros((1,) * len(self._shape), dtype=np.int64)
        for one in used:
            whole = whole + one
        amounts, which = np.unique(whole, return_inverse=True)
        bought = [packs_for(item, int(amount)) for amount in amounts]
        costs = np.array([0 if one is None else one[1] for one in bought], dtype=np.int64)
        to_be_had = np.array([one is not None for one in bought])
        return costs[which].reshape(whole.shape), to_be_had[which].reshape(whole.shape)


MOST_PACK_CELLS = 20_000
"""Most cells of a table that counts the packs of one item."""

UNBOUNDED = 10**12
"""At most so many packs: more than there ever are, since nothing is to be kept to."""


class OpenPrices:
    """A problem without side limits, some of whose prices stay open; its money and minutes are left aside.

    ValueError where it has side limits, or where prices stay open and it has negative values or an open item
    has tiers or stock or no price.  TooWide where packs of an item hang on too many decisions, or the tables
    are too entangled; its calls raise it where sums do not fit into 64 bits or there are too many labels.
    """

    def __init__(self, problem: Problem, items: Sequence[str] = ()) -> None:
        if problem.bounds:
            raise ValueError("side limits do not go with open prices")
        self.problem = problem = replace(problem, money=None, minutes=None, first="value")
        by_name = {item.name: item for item in problem.items}
        self.items = tuple(name for name in items if name in by_name)
        opened = [by_name[name] for name in self.items]
        if opened and any(table.values.size and table.values.min() < 0 for table in problem.tables):
            raise ValueError("negative values do not go with open prices")
        if any(item.price is None or item.tiers or item.stock is not None for item in opened):
            raise ValueError("an item with an open price has a price, and neither tiers nor stock")
        mixed, units = _mixed(problem, opened)
        self._searches: list[CaseSearch] = []
        self._settled: list[Choice] = []
        for case in cases_of(mixed):
            network = build(case)
            choice = settled(problem, network)
            if choice is None:
                _take_apart(network, units)
                self._searches.append(CaseSearch(problem, network))
            elif choice.found:
                verify(problem, choice)
                self._settled.append(choice)

    @property
    def bytes(self) -> int:
        """Memory that it takes, about."""
        return sum(search.tree.bytes for search in self._searches)

    def forget(self) -> None:
        """Let go of most of the memory; what is needed is made again."""
        for search in self._searches:
            search.tree.forget()

    def keep_up_to(self, value: int) -> None:
        """Let go for good of every assignment of a larger value, however little it costs.

        For whoever knows that none of them is the answer to what is asked from now on: it takes less time.
        """
        for search in self._searches:
            search.keep_up_to(value)

    def least(
        self,
        value_weight: int,
        cost_weight: int,
        prices: Mapping[str, Minor] | None = None,
        minutes: Minutes | None = None,
    ) -> Choice | None:
        """Find the assignment with the least weighted sum of value and cost at some prices of packs.

        Of equal sums the one with less value, then less cost; where prices are open then one of several,
        always the same, else the preferred.  Its cost is at the problem's own prices.  None where nothing is
        allowed.
        """
        at = self._at(prices)
        if self.items and not cost_weight:
            # Where money counts for nothing it still settles ties.
            value_weight, cost_weight = value_weight * (1 + self._most_cost(at)), 1
        objective, limits = self._objective(value_weight, cost_weight, at), _limits(minutes)
        found = self._settled_within(minutes)
        for search in self._searches:
            best = search.best(objective, limits)
            if best is not None:
                found.append(self._choice(search, best))
        if not found:
            return None

        def rank(choice: Choice) -> tuple[int, int, int, tuple[int, ...]]:
            cost = self._cost(choice, at)
            weighed = value_weight * choice.value + cost_weight * cost
            return weighed, choice.value, cost, preference(self.problem, choice)

        return min(found, key=rank)

    def unbeaten(
        self,
        value_weight: int,
        cost_weight: int,
        prices: Mapping[str, Minor] | None,
        most: int,
        minutes: Minutes | None = None,
    ) -> list[Choice]:
        """Find every assignment up to a weighted sum that no other beats in all that could matter.

        At least all whose value, packs of each open item and cost of all else no other equals or beats
        together; costs at the problem's own prices.
        """
        at = self._at(prices)
        objective, limits = self._objective(value_weight, cost_weight, at), _limits(minutes)
        found = self._settled_within(minutes)
        for search in self._searches:
            some = search.any()
            if some is None:
                continue
            # A search counts from the least of every table; the problem counts from 0.
            own = search.choice(some)
            whole = value_weight * own.value + cost_weight * self._cost(own, at)
            above = most - whole + objective.of(some)
            least = search.least(objective)
            if least is not None and least <= above:
                found += [self._choice(search, one) for one in search.up_to([(objective, above)], limits)]
        return found

    def _choice(self, search: CaseSearch, found: CaseAssignment) -> Choice:
        """What a search found, scored by the problem alone; Disagreement where that says otherwise."""
        scored = evaluate(self.problem, search.network.names_of(found.states))
        wrong = list(scored.violations)
        if scored.value != found.leading + search.shift:
            wrong.append(f"value is {found.leading + search.shift}, scored again {scored.value}")
        if wrong:
            raise Disagreement("elimination: " + "; ".join(wrong))
        return best_choice(self.problem, scored, "elimination")

    def within(
        self, value_weight: int, cost_weight: int, most: int, minutes: Minutes | None = None
    ) -> list[Choice]:
        """Find the part of the frontier whose weighted sum at the problem's own prices is at most so much."""
        found = self.unbeaten(value_weight, cost_weight, None, most, minutes)
        points = non_dominated(self.problem, found)
        return [point for point in points if value_weight * point.value + cost_weight * point.cost <= most]

    def _at(self, prices: Mapping[str, Minor] | None) -> dict[str, Minor]:
        own = {item.name: item.price or 0 for item in self.problem.items}
        return own | {name: prices[name] for name in self.items if prices and name in prices}

    def _objective(self, value_weight: int, cost_weight: int, at: Mapping[str, Minor]) -> Objective:
        costs: dict[Resource, int] = {"cost": cost_weight}
        costs |= {number: cost_weight * at[name] for number, name in enumerate(self.items)}
        return Objective(value_weight, costs)

    def _settled_within(self, minutes: Minutes | None) -> list[Choice]:
        return [choice for choice in self._settled if minutes is None or choice.minutes <= minutes]

    def _cost(self, choice: Choice, at: Mapping[str, Minor]) -> Minor:
        if not self.items:
            return choice.cost
        return sum(at[name] * packs for name, packs in choice.packs.items())

    def _most_cost(self, at: Mapping[str, Minor]) -> Minor:
        """More than any assignment costs at some prices."""
        most = most_used(self.problem)
        return sum(at[item.name] * -(-most[item.name] // item.pack) for item in self.problem.items)


def _limits(minutes: Minutes | None) -> Limits:
    return {} if minutes is None else {"minutes": minutes}


def _mixed(problem: Problem, opened: Sequence[Item]) -> tuple[Problem, list[int]]:
    """Problem that counts packs of open items above its values, and what one pack counts for."""
    if not opened:
        return problem, []
    unit = 1 + sum(int(table.values.max()) for table in problem.tables if table.values.size)
    tables, units = list(problem.tables), []
    for item in opened:
        scope, packs = _packs(problem, item)
        most = 1 + int(packs.max())
        if unit * most >= LARGEST_TOTAL:
            raise TooWide("packs and values do not fit into 64 bits together")
        if scope:
            tables.append(Table(scope, packs * unit))
        units.append(unit)
        unit *= most
    names = {item.name for item in opened}
    decisions = []
    for decision in problem.decisions:
        uses = [{k: v for k, v in option.use.items() if k not in names} for option in decision.options]
        options = [replace(option, use=use) for option, use in zip(decision.options, uses, strict=True)]
        decisions.append(replace(decision, options=options))
    items = [item for item in problem.items if item.name not in names]
    return replace(problem, decisions=decisions, items=items, tables=tables), units


def _packs(problem: Problem, item: Item) -> tuple[tuple[str, ...], IntArray]:
    """Packs of an item for every combination of the decisions that use it."""
    users = [d for d in problem.decisions if any(option.use.get(item.name) for option in d.options)]
    if prod(len(decision.options) for decision in users) > MOST_PACK_CELLS:
        raise TooWide(f"packs of {item.name!r} hang on too many decisions")
    uses = [np.array([o.use.get(item.name, 0) for o in d.options], dtype=np.int64) for d in users]
    total = reduce(np.add.outer, uses) if uses else np.zeros((), dtype=np.int64)
    packs: IntArray = -(-np.maximum(0, total - item.owned) // item.pack)
    return tuple(decision.name for decision in users), packs


def _take_apart(network: Network, units: Sequence[int]) -> None:
    """Part values and packs again: packs become limits that nothing is kept to."""
    network.limits = [Limit(number, UNBOUNDED) for number in range(len(units))]
    tables = []
    for factor in network.tables:
        value = factor.values
        for limit, unit in reversed(list(zip(network.limits, units, strict=True))):
            packs, value = np.divmod(value, unit)
            if packs.any():
                limit.factors.append(Factor(factor.scope, packs, factor.gate))
        if value.any():
            tables.append(Factor(factor.scope, value, factor.gate))
    network.tables = tables
