"""One person's problem of choice, cut out of the tables of a cohort.

What the person cannot choose, what makes no difference to this person and states that only others have are
left out, so the problem is about as small as if the person had been modelled alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from deskmend.choice import Decision, Item, Mask, Problem, Table
from deskmend.planning.cohort_grid import CohortNode
from deskmend.planning.grid import AnyArray, GridBuilder, alike_along
from deskmend.planning.table_tidying import absorbed, added_up

__all__ = ["CohortTables", "problem_of"]

MOST_REACH = 100_000
"""Most combinations of options gone through to find what can occur together: many problems have to be cut."""

Scope = tuple[str, ...]


@dataclass(frozen=True, eq=False)
class CohortTables:
    """What makes up everybody's problem; the first axis of every array is the people's, or has length 1.

    Attributes
    ----------
    decisions : sequence of Decision
        All options of anybody.
    forbidden : sequence of mapping
        Partial assignments that may not occur.
    tables, masks : sequence of (tuple of str, ndarray)
        Scopes and values, or what is allowed.
    nodes : sequence of CohortNode
        Each after those in its scope.
    offset : ndarray of int, shape (people,)
        Value that nothing chosen changes.
    """

    decisions: Sequence[Decision]
    forbidden: Sequence[Mapping[str, str | int]]
    tables: Sequence[tuple[Scope, AnyArray]]
    masks: Sequence[tuple[Scope, AnyArray]]
    nodes: Sequence[CohortNode]
    offset: AnyArray


def problem_of(cohort: CohortTables, person: int, items: Sequence[Item]) -> tuple[Problem, int]:
    """Cut out one person's problem.

    Parameters
    ----------
    cohort : CohortTables
        Everybody's.
    person : int
        Position in the cohort.
    items : sequence of Item
        What the person can use up.

    Returns
    -------
    problem : Problem
        Without limits.
    offset : int
        Value that nothing chosen changes.
    """
    cut = _Cut(cohort, person)
    tables = added_up([Table(*cut.trimmed(scope, values)) for scope, values in cohort.tables])
    offset = int(cohort.offset[person % cohort.offset.shape[0]])
    offset += sum(int(table.values) for table in tables if not table.scope)
    kept, nodes = absorbed([t for t in tables if t.scope], cut.builder.nodes, cut.masks)
    decisions = cut.decisions()
    names = {decision.name: {option.name for option in decision.options} for decision in decisions}
    forbidden = [
        entry
        for entry in cohort.forbidden
        if all(name in names and option in names[name] for name, option in entry.items())
    ]
    used = {item for decision in decisions for option in decision.options for item in option.use}
    mine = [item for item in items if item.name in used]
    reached = [
        Mask(scope, allowed, implied=True)
        for scope in dict.fromkeys((*(t.scope for t in kept), *(n.scope for n in nodes)))
        if len(scope) > 1 and (allowed := cut.builder.reach(scope)) is not None
    ]
    return Problem(decisions, mine, kept, forbidden, None, None, nodes, (*cut.masks, *reached)), offset


class _Cut:
    """Which states of each variable a person has, and the person's nodes."""

    def __init__(self, cohort: CohortTables, person: int) -> None:
        self.cohort = cohort
        self.person = person
        self.open: dict[str, AnyArray] = {d.name: self._options(d) for d in cohort.decisions}
        self.builder = GridBuilder(MOST_REACH)
        for name, options in self.open.items():
            self.builder.decision(name, options.size)
        for node in cohort.nodes:
            self._add_node(node)
        self.masks = self._masks()
        for mask in self.masks:
            self.builder.rule(mask)

    def mine(self, values: AnyArray) -> AnyArray:
        """The person's part of an array."""
        return np.asarray(values[self.person % values.shape[0]])

    def _options(self, decision: Decision) -> AnyArray:
        allowed: Any = np.ones(len(decision.options), dtype=np.bool_)
        for scope, mask in self.cohort.masks:
            if scope == (decision.name,):
                allowed = allowed & self.mine(mask)
        return np.flatnonzero(allowed)

    def _add_node(self, node: CohortNode) -> None:
        scope, index = self.trimmed(node.scope, node.index)
        met = np.bincount(index.ravel(), minlength=node.size) > 0
        states = np.flatnonzero(met)
        self.open[node.name] = states
        if states.size == 1:
            return
        self.builder.add_node(node.name, scope, (np.cumsum(met) - 1)[index], int(states.size))

    def trimmed(self, scope: Scope, values: AnyArray) -> tuple[Scope, AnyArray]:
        """The person's array over the variables that make a difference."""
        cut = self.mine(values)[np.ix_(*(self.open[v] for v in scope))] if scope else self.mine(values)
        left = list(scope)
        for axis in reversed(range(len(left))):
            if alike_along(cut, axis):
                cut = np.take(cut, 0, axis=axis)
                del left[axis]
        return tuple(left), cut

    def _masks(self) -> list[Mask]:
        """What cannot go together, of the rules that say anything."""
        decided = {decision.name for decision in self.cohort.decisions}
        out = []
        for scope, allowed in self.cohort.masks:
            if len(scope) == 1 and scope[0] in decided:
                continue
            left, mine = self.trimmed(scope, allowed)
            if left or not bool(mine):
                out.append(Mask(left, mine))
        return out

    def decisions(self) -> list[Decision]:
        """Decisions with the options that the person has, where there are two or more."""
        return [
            Decision(d.name, [d.options[k] for k in self.open[d.name]])
            for d in self.cohort.decisions
            if self.open[d.name].size > 1
        ]
