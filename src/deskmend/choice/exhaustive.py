"""Every combination of a small problem scored at once, to be asked again and again with fewer options."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from math import prod
from typing import Any

import numpy as np

from deskmend.choice.problem import BoolArray, IntArray, Item, Problem, Table
from deskmend.choice.result import Choice, Disagreement, best_choice, evaluate, no_choice, packs_for

__all__ = ["Exhaustive", "TooMany"]

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
