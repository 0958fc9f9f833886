"""Passes of plain elimination, without resources, over a structure that is worked out once.

Which cells meet does not depend on what they are worth.  So the pairing of cells is kept as indices, and a
pass only gathers, adds and takes the least.  A pass forwards gives the best assignment; a pass backwards
gives, for each cell, the least that everything outside it must add.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.elimination_plan import Step
from deskmend.choice.labels import Domains, matches
from deskmend.choice.network import Scope
from deskmend.choice.packing import WORD_LIMIT
from deskmend.choice.validation import IntArray

NOWHERE = WORD_LIMIT
"""Stands for the least remainder of a cell that no allowed assignment passes."""


class Remainders:
    """For each cell of a scope, the least that everything else must add.

    Parameters
    ----------
    code : integer array
        Cells, each once.
    least : integer array
        An amount for each.
    cells : int
        Number of cells of the scope.
    """

    def __init__(self, code: IntArray, least: IntArray, cells: int) -> None:
        self._codes: IntArray | None = None
        if cells > 8 * code.size + 4096:
            order = np.argsort(code)
            self._codes, self._least = code[order], least[order]
        else:
            self._least = np.full(cells, NOWHERE)
            self._least[code] = least

    def at(self, code: IntArray) -> IntArray:
        """Look cells up; NOWHERE where no assignment passes.

        Parameters
        ----------
        code : integer array
            Cells.

        Returns
        -------
        integer array
            The least remainder of each.
        """
        if self._codes is None:
            return self._least[code]
        if not self._codes.size:
            return np.full(code.size, NOWHERE)
        place = np.minimum(np.searchsorted(self._codes, code), self._codes.size - 1)
        return np.where(self._codes[place] == code, self._least[place], NOWHERE)


@dataclass
class _Joined:
    """Cells of a scope with the rows of the two relations each of them comes from."""

    scope: Scope
    cell: IntArray
    left: IntArray
    right: IntArray


@dataclass
class _Stage:
    """One step: its joins, and how the rows of the last one fall together when the variable leaves."""

    joins: list[_Joined]
    order: IntArray
    starts: IntArray
    group: IntArray
    cell: IntArray


@dataclass(frozen=True)
class Remaining:
    """The least that must still be added to a label, at every point of a plan.

    Parameters
    ----------
    on_the_way : list of list of Remainders
        For each step, after each join but the last.
    results : list of Remainders
        For each step, after its variable is gone.
    """

    on_the_way: list[list[Remainders]]
    results: list[Remainders]


class Passes:
    """The pairing of cells along a plan.

    Parameters
    ----------
    plan : sequence of Step
        What is joined with what.
    cells : sequence of (tuple of int, integer array)
        Scope and allowed cells of each relation at the start, each cell once.
    domains : Domains
        Sizes of the variables; counts the pairs.
    """

    def __init__(
        self, plan: Sequence[Step], cells: Sequence[tuple[Scope, IntArray]], domains: Domains
    ) -> None:
        self._plan = plan
        self._domains = domains
        self._start = len(cells)
        store = list(cells)
        self._stages: list[_Stage] = []
        for step in plan:
            here = store[step.inputs[0]]
            joins = []
            for number, scope in zip(step.inputs[1:], step.scopes[1:], strict=True):
                joined = _pair(here, store[number], scope, domains)
                joins.append(joined)
                here = joined.scope, joined.cell
            code = domains.recode(here[1], here[0], step.onto)
            order = np.argsort(code, kind="stable")
            ranked = code[order]
            fresh = np.concatenate(([True], ranked[1:] != ranked[:-1])) if ranked.size else ranked > 0
            starts = np.flatnonzero(fresh)
            group = np.empty(code.size, dtype=np.int64)
            group[order] = np.cumsum(fresh) - 1
            self._stages.append(_Stage(joins, order, starts, group, ranked[starts]))
            store.append((step.onto, ranked[starts]))
        self._store = store

    def best(self, words: Sequence[IntArray]) -> IntArray | None:
        """Find the sum of words that is least, comparing word after word.

        Parameters
        ----------
        words : sequence of integer array, each of shape (words, cells)
            What each cell of each relation adds.

        Returns
        -------
        integer array of shape (words,), or None
            None when no assignment is allowed.
        """
        held = list(words)
        for step, stage in zip(self._plan, self._stages, strict=True):
            rows = held[step.inputs[0]]
            for number, joined in zip(step.inputs[1:], stage.joins, strict=True):
                rows = rows[:, joined.left] + held[number][:, joined.right]
            self._domains.spend(rows.shape[1])
            held.append(_least_rows(rows, stage))
        final = held[-1]
        return final[:, 0] if final.shape[1] else None

    def remainders(self, amounts: Sequence[IntArray]) -> Remaining:
        """Run forwards and backwards over one amount a cell.

        Parameters
        ----------
        amounts : sequence of integer array
            What each cell of each relation adds.

        Returns
        -------
        Remaining
            The least that must still be added, at every point of the plan.
        """
        held = list(amounts)
        ways: list[list[IntArray]] = []
        for step, stage in zip(self._plan, self._stages, strict=True):
            way = [held[step.inputs[0]]]
            for number, joined in zip(step.inputs[1:], stage.joins, strict=True):
                way.append(way[-1][joined.left] + held[number][joined.right])
            self._domains.spend(2 * way[-1].size)
            ways.append(way)
            ranked = way[-1][stage.order]
            held.append(np.minimum.reduceat(ranked, stage.starts) if ranked.size else ranked)
        return self._backwards(held, ways)

    def _backwards(self, held: Sequence[IntArray], ways: Sequence[Sequence[IntArray]]) -> Remaining:
        """Carry what must be added outside from the last step to the first."""
        outside: dict[int, IntArray] = {self._plan[-1].output: np.zeros(1, dtype=np.int64)}
        on_the_way: list[list[Remainders]] = [[] for _ in self._plan]
        results: list[Remainders] = []
        for place in range(len(self._plan) - 1, -1, -1):
            step, stage, way = self._plan[place], self._stages[place], ways[place]
            beyond = outside[step.output]
            results.append(self._remainders(step.onto, stage.cell, beyond))
            total = way[-1] + beyond[stage.group]
            # rows of the full join traced back through the joins, the last first
            row = np.arange(total.size)
            for k in range(len(stage.joins) - 1, -1, -1):
                joined, number = stage.joins[k], step.inputs[k + 1]
                if k < len(stage.joins) - 1:
                    rest = _least_by(row, total, way[k + 1])
                    on_the_way[place].insert(0, self._remainders(joined.scope, joined.cell, rest))
                if number >= self._start:
                    outside[number] = _least_by(joined.right[row], total, held[number])
                row = joined.left[row]
            if step.inputs[0] >= self._start:
                outside[step.inputs[0]] = _least_by(row, total, held[step.inputs[0]])
        results.reverse()
        return Remaining(on_the_way, results)

    def _remainders(self, scope: Scope, cell: IntArray, least: IntArray) -> Remainders:
        return Remainders(cell, least, self._domains.cells(scope))


def _pair(
    left: tuple[Scope, IntArray], right: tuple[Scope, IntArray], onto: Scope, domains: Domains
) -> _Joined:
    """Pair the cells of two relations that agree on what they share."""
    (left_scope, left_cell), (right_scope, right_cell) = left, right
    shared = tuple(v for v in left_scope if v in right_scope)
    extra = tuple(v for v in right_scope if v not in left_scope)
    key = domains.recode(right_cell, right_scope, shared)
    order = np.argsort(key, kind="stable")
    first, count = matches(key[order], domains.recode(left_cell, left_scope, shared), domains.cells(shared))
    total = int(count.sum())
    domains.spend(total)
    a = np.repeat(np.arange(left_cell.size), count)
    b = order[np.repeat(first - (np.cumsum(count) - count), count) + np.arange(total)]
    domains.cells(onto)
    cell = domains.recode(left_cell, left_scope, onto)[a]
    cell += domains.recode(right_cell, right_scope, onto, part=extra)[b]
    return _Joined(onto, cell, a, b)


def _least_rows(rows: IntArray, stage: _Stage) -> IntArray:
    """Keep of each group the column that is least, word after word."""
    if not stage.starts.size:
        return rows[:, :0]
    rows = rows[:, stage.order]
    if rows.shape[0] == 1:
        return np.minimum.reduceat(rows, stage.starts, axis=1)
    counts = np.diff(np.append(stage.starts, rows.shape[1]))
    group = np.repeat(np.arange(stage.starts.size), counts)
    starts = stage.starts
    for word in range(rows.shape[0]):
        least = np.minimum.reduceat(rows[word], starts)
        chosen = np.flatnonzero(rows[word] == least[group])
        if chosen.size < rows.shape[1]:
            rows, group = rows[:, chosen], group[chosen]
            starts = np.flatnonzero(np.concatenate(([True], group[1:] != group[:-1])))
        if rows.shape[1] == starts.size:
            break
    return rows[:, starts]


def _least_by(row: IntArray, total: IntArray, own: IntArray) -> IntArray:
    """Least total of the rows that come from each row of a relation, less what that row adds itself."""
    least = np.full(own.size, NOWHERE)
    np.minimum.at(least, row, total)
    return np.where(least < NOWHERE, least - own, NOWHERE)
