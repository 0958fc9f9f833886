"""Checks that need a whole problem: names that exist, shapes that fit, totals that stay in range."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from deskmend.choice.validation import LARGEST_TOTAL, BoolArray, IntArray

if TYPE_CHECKING:
    from deskmend.choice.problem import Problem, Table


def faults_of(problem: Problem) -> list[str]:
    """List everything in a problem that contradicts something else in it.

    Parameters
    ----------
    problem : Problem
        Its records are each valid by themselves.

    Returns
    -------
    list of str
        One plain sentence a fault; empty when all is well.
    """
    return _Consistency(problem).faults()


class _Consistency:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.found: list[str] = []
        self.sizes: dict[str, int] = {}
        self.options: dict[str, list[str]] = {}

    def faults(self) -> list[str]:
        problem = self.problem
        for decision in problem.decisions:
            self._declare(decision.name, len(decision.options))
            self.options[decision.name] = [option.name for option in decision.options]
        for node in problem.nodes:
            self._fits(f"node {node.name!r}", node.scope, node.index)
            self._declare(node.name, node.size)
        for table in problem.tables:
            self._table(f"table {table.scope!r}", table)
        for number, bound in enumerate(problem.bounds):
            for table in bound.tables:
                self._table(f"bound {number}, table {table.scope!r}", table)
        for mask in problem.masks:
            self._fits(f"mask {mask.scope!r}", mask.scope, mask.allowed)
        for number, entry in enumerate(problem.forbidden):
            if not entry:
                self.found.append(f"forbidden {number} is empty and would forbid everything")
            for variable, state in entry.items():
                self._state(f"forbidden {number}", variable, state)
        self._items()
        self._totals()
        return self.found

    def _declare(self, name: str, size: int) -> None:
        if name in self.sizes:
            self.found.append(f"the name {name!r} is used for two decisions or nodes")
        self.sizes[name] = size

    def _fits(self, what: str, scope: tuple[str, ...], array: IntArray | BoolArray) -> None:
        unknown = [name for name in scope if name not in self.sizes]
        if unknown:
            self.found.extend(f"{what}: {name!r} is no decision or earlier node" for name in unknown)
            return
        wanted = tuple(self.sizes[name] for name in scope)
        if array.shape != wanted:
            self.found.append(f"{what}: the array has shape {array.shape}, its scope needs {wanted}")

    def _state(self, what: str, variable: str, state: object) -> None:
        if variable not in self.sizes:
            self.found.append(f"{what}: {variable!r} is no decision or node")
        elif variable in self.options:
            if state not in self.options[variable]:
                self.found.append(f"{what}: {variable!r} has no option {state!r}")
        elif isinstance(state, bool) or not isinstance(state, int) or not 0 <= state < self.sizes[variable]:
            self.found.append(f"{what}: node {variable!r} has no state {state!r}")

    def _table(self, what: str, table: Table) -> None:
        self._fits(what, table.scope, table.values)
        if table.when is not None:
            self._state(what, *table.when)

    def _items(self) -> None:
        names = [item.name for item in self.problem.items]
        for name in sorted({name for name in names if names.count(name) > 1}):
            self.found.append(f"item {name!r} stands twice")
        known = set(names)
        for decision in self.problem.decisions:
            for option in decision.options:
                for item in sorted(set(option.use) - known):
                    self.found.append(f"{decision.name!r}, option {option.name!r}: item {item!r} is unknown")

    def _totals(self) -> None:
        if self.found:
            return
        problem = self.problem
        self._total("the values", _reach(problem.tables))
        for number, bound in enumerate(problem.bounds):
            self._total(f"the tables of bound {number}", _reach(bound.tables))
        self._total("the minutes", sum(max(o.minutes for o in d.options) for d in problem.decisions))
        cost = 0
        for item in problem.items:
            use = sum(max(o.use.get(item.name, 0) for o in d.options) for d in problem.decisions)
            self._total(f"the use of item {item.name!r}", use)
            starts = [start for start, _ in item.tiers]
            prices = [item.price or 0, *(price for _, price in item.tiers)]
            cost += max([-(-use // item.pack), *starts]) * max(prices)
        self._total("the cost", cost)

    def _total(self, what: str, total: int) -> None:
        if total > LARGEST_TOTAL:
            self.found.append(f"{what} may add up to {total}, beyond {LARGEST_TOTAL}")


def _reach(tables: Sequence[Table]) -> int:
    return sum(int(np.abs(table.values).max()) for table in tables if table.values.size)
