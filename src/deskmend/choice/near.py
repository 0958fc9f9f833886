"""A good assignment near a known one: what is searched exactly afterwards need not be worse.

Decision after decision is changed, each time where most is gained, until no single change gains anything.
That proves nothing, but a search that knows its value can leave out whatever leads to more.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.problem import BoolArray, IntArray, Problem
from deskmend.choice.purchases import UNAVAILABLE, cost_of
from deskmend.choice.result import Scored, evaluate

__all__ = ["Hint", "good_near"]

MOST_CHANGES = 60
"""Changes after which the search ends; each is the best of all single ones."""


@dataclass
class Hint:
    """What answers to problems much alike have shown: it spares work, and changes no answer.

    A search begins from ``starts``; a unit of money costs ``cost_price`` where what leads counts ``scale``
    times, 0: not known yet.
    """

    starts: Sequence[Mapping[str, str]] = ({},)
    scale: int = 0
    cost_price: int = 0


def good_near(problem: Problem, starts: Iterable[Mapping[str, str]]) -> Scored | None:
    """Find an assignment that keeps to everything, from the best of some starts; None where none is met.

    Of a start counts what the problem has; all else is kept as it is.  Only for problems that look for the
    least value without side limits; of others nothing is told.
    """
    if problem.first != "value" or problem.bounds:
        return None
    many = _Many(problem)
    columns = [many.states(start) for start in starts]
    if not columns:
        return None
    best, rank = many.best(np.stack(columns, axis=1))
    for _ in range(MOST_CHANGES):
        better, its_rank = many.best(many.changes(best))
        if its_rank >= rank:
            break
        best, rank = better, its_rank
    scored = evaluate(problem, many.names(best))
    return None if scored.violations else scored


class _Many:
    """Assignments of a problem, scored at once: a row a decision, a column an assignment."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._sizes = [len(decision.options) for decision in problem.decisions]
        self._minutes = [np.array([o.minutes for o in d.options], dtype=np.int64) for d in problem.decisions]
        masks: dict[tuple[str, ...], BoolArray] = {}
        for mask in problem.masks:
            if not mask.implied:
                known = masks.get(mask.scope)
                masks[mask.scope] = mask.allowed if known is None else known & mask.allowed
        self._masks = list(masks.items())
        self._forbidden = [
            {name: problem.state_of(name, state) for name, state in entry.items()}
            for entry in problem.forbidden
        ]
        self._uses = []
        for item in problem.items:
            uses = [
                (row, np.array([option.use.get(item.name, 0) for option in decision.options], dtype=np.int64))
                for row, decision in enumerate(problem.decisions)
            ]
            used = [(row, units) for row, units in uses if units.any()]
            if used:
                self._uses.append((item, used))

    def states(self, options: Mapping[str, str]) -> IntArray:
        """An assignment as positions of options, the first where it tells none that there is."""
        places = [{option.name: k for k, option in enumerate(d.options)} for d in self._problem.decisions]
        return np.array(
            [
                place.get(options.get(decision.name, ""), 0)
                for place, decision in zip(places, self._problem.decisions, strict=True)
            ],
            dtype=np.int64,
        )

    def names(self, states: IntArray) -> dict[str, str]:
        """An assignment by names."""
        rows = zip(self._problem.decisions, states.tolist(), strict=True)
        return {decision.name: decision.options[position].name for decision, position in rows}

    def changes(self, states: IntArray) -> IntArray:
        """All assignments that differ from one in a single decision."""
        rows = np.repeat(np.arange(len(self._sizes)), self._sizes)
        out = np.repeat(states[:, np.newaxis], rows.size, axis=1)
        out[rows, np.arange(rows.size)] = np.concatenate([np.arange(size) for size in self._sizes])
        return out

    def best(self, states: IntArray) -> tuple[IntArray, tuple[int, ...]]:
        """The best of some assignments, and its rank: what it breaks, is over the money, and is worth."""
        problem = self._problem
        count = states.shape[1]
        at = {decision.name: row for decision, row in zip(problem.decisions, states, strict=True)}
        for node in problem.nodes:
            at[node.name] = node.index[tuple(at[name] for name in node.scope)]
        broken = np.zeros(count, dtype=np.int64)
        for scope, allowed in self._masks:
            broken += ~allowed[tuple(at[name] for name in scope)]
        for entry in self._forbidden:
            broken += np.logical_and.reduce([at[name] == state for name, state in entry.items()])
        cost = np.zeros(count, dtype=np.int64)
        for item, used in self._uses:
            total = sum(units[states[row]] for row, units in used)
            amounts, which = np.unique(total, return_inverse=True)
            costs = cost_of(item, amounts.tolist())[which.ravel()]
            broken += costs == UNAVAILABLE
            cost += np.where(costs == UNAVAILABLE, 0, costs)
        if problem.minutes is not None:
            minutes = sum(own[row] for own, row in zip(self._minutes, states, strict=True))
            broken += minutes > problem.minutes
        over = np.zeros(count, dtype=np.int64)
        if problem.money is not None:
            over = np.maximum(0, cost - problem.money)
        value = np.zeros(count, dtype=np.int64)
        for table in problem.tables:
            worth = table.values[tuple(at[name] for name in table.scope)]
            if table.when is not None:
                gate = table.when[0]
                worth = np.where(at[gate] == problem.state_of(*table.when), worth, 0)
            value += worth
        first = np.lexsort((cost, value, over, broken))[0]
        rank = tuple(int(figure[first]) for figure in (broken, over, value, cost))
        return states[:, first], rank
