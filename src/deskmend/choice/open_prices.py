"""A problem asked again and again at other prices and weights; what takes time is worked out once.

Packs of an item with an open price are counted beside the cost, as a resource of their own.  For that they go
through the reduction as tables, so that no option is dropped because of what a pack happens to cost; there
they share the numbers of the value tables, value in the lowest digits, packs in the digits above, and are
taken apart again before anything is searched.  With no price left open, only the weights vary.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import reduce
from math import prod

import numpy as np

from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.elimination.search import CaseSearch, Limits
from deskmend.choice.elimination.tree import CaseAssignment, Objective
from deskmend.choice.gates import cases_of
from deskmend.choice.network import Factor, Limit, Network, Resource, build, settled
from deskmend.choice.problem import LARGEST_TOTAL, IntArray, Item, Problem, Table, most_used
from deskmend.choice.result import Choice, Disagreement, best_choice, evaluate, preference, rungs_of, verify
from deskmend.measures import Minor, Minutes

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
        rungs = rungs_of(self.problem, found)
        return [rung for rung in rungs if value_weight * rung.value + cost_weight * rung.cost <= most]

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
