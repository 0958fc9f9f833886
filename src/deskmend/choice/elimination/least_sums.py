"""Dropping of labels that cannot lead to an assignment as good as wanted.

With a price for each resource instead of its limit, a label and the least that must still be added to it
give a lower limit for every assignment it leads to.  All in whole numbers, so nothing is dropped wrongly,
whatever the prices are.

Passes of plain elimination, without resources, over a structure that is worked out once.

Which cells meet does not depend on what they are worth.  So the pairing of cells is kept as indices, and a
pass only gathers, adds and takes the least.  A pass forwards gives the best assignment; a pass backwards
gives, for each cell, the least that everything outside it must add.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.elimination.labels import WORD_LIMIT, Domains, Keep, Relation, matches
from deskmend.choice.elimination.order import Step
from deskmend.choice.network import Scope
from deskmend.choice.problem import BoolArray, IntArray

NOWHERE = WORD_LIMIT
"""Stands for the least remainder of a cell that no allowed assignment passes."""


Later = Callable[[int, IntArray], IntArray]
"""What some rows of a relation add to the later words."""


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

    def members(self, groups: IntArray) -> IntArray:
        """Rows that fall into some groups."""
        counts = np.diff(np.append(self.starts, self.order.size))[groups]
        ends = np.cumsum(counts)
        offset = np.repeat(self.starts[groups] - ends + counts, counts)
        rows: IntArray = self.order[offset + np.arange(int(ends[-1]))]
        return rows


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

    def best(self, amounts: Sequence[IntArray], later: Later | None = None) -> IntArray | None:
        """Find the least sum, comparing word after word.

        Parameters
        ----------
        amounts : sequence of integer array
            What each cell of each relation adds to the first word.
        later : callable, optional
            ``later(number, rows)`` gives what some cells of a relation add to the words after it, an array of
            shape (words, rows); asked only of cells that may be part of a least sum.

        Returns
        -------
        integer array of shape (1 + words,), or None
            None when no assignment is allowed.
        """
        held = list(amounts)
        totals: list[IntArray] = []
        for step, stage in zip(self._plan, self._stages, strict=True):
            rows = held[step.inputs[0]]
            for number, joined in zip(step.inputs[1:], stage.joins, strict=True):
                rows = rows[joined.left] + held[number][joined.right]
            self._domains.spend(rows.size)
            totals.append(rows)
            held.append(_least_by_group(rows, stage))
        least: IntArray = held[-1]
        if not least.size:
            return None
        if later is None:
            return least
        return np.concatenate([least, self._later_words(later, self._rows_of_the_least(held, totals))])

    @property
    def bytes(self) -> int:
        """Memory that the pairing takes [bytes]."""
        total = 0
        for stage in self._stages:
            total += stage.order.nbytes + stage.starts.nbytes + stage.group.nbytes + stage.cell.nbytes
            total += sum(j.cell.nbytes + j.left.nbytes + j.right.nbytes for j in stage.joins)
        return total

    def _rows_of_the_least(self, held: Sequence[IntArray], totals: Sequence[IntArray]) -> list[IntArray]:
        """Rows of each step that the least first word can come from, found from the last step back."""
        wanted: dict[int, IntArray] = {self._plan[-1].output: np.zeros(1, dtype=np.int64)}
        found: list[IntArray] = []
        for step, stage, total in zip(self._plan[::-1], self._stages[::-1], totals[::-1], strict=True):
            rows = stage.members(wanted[step.output])
            rows = rows[total[rows] == held[step.output][stage.group[rows]]]
            found.append(rows)
            for number, place in _origins(step, stage, rows):
                if number >= self._start:
                    wanted[number] = np.unique(place)
        return found[::-1]

    def _later_words(self, later: Later, rows: Sequence[IntArray]) -> IntArray:
        """Find the least sum of the later words among some rows of each step."""
        kept: dict[int, tuple[IntArray, IntArray]] = {}
        best: IntArray = np.zeros((0, 0), dtype=np.int64)
        for step, stage, mine in zip(self._plan, self._stages, rows, strict=True):
            total: IntArray | None = None
            for number, place in _origins(step, stage, mine):
                if number < self._start:
                    added = later(number, place)
                else:
                    groups, sums = kept[number]
                    added = sums[:, np.searchsorted(groups, place)]
                total = added if total is None else total + added
            assert total is not None
            group = stage.group[mine]
            order = np.lexsort((*total[::-1], group))
            ranked = group[order]
            first = order[np.concatenate(([True], ranked[1:] != ranked[:-1]))]
            best = total[:, first]
            kept[step.output] = group[first], best
        least: IntArray = best[:, 0]
        return least

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
            held.append(_least_by_group(way[-1], stage))
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


def _least_by_group(rows: IntArray, stage: _Stage) -> IntArray:
    """Least amount of each group of rows."""
    if not rows.size:
        return rows
    least: IntArray = np.minimum.reduceat(rows[stage.order], stage.starts)
    return least


def _origins(step: Step, stage: _Stage, rows: IntArray) -> Iterator[tuple[int, IntArray]]:
    """Trace rows of a step back: each relation joined, and where in it the rows come from."""
    for joined, number in zip(stage.joins[::-1], step.inputs[:0:-1], strict=True):
        yield number, joined.right[rows]
        rows = joined.left[rows]
    yield step.inputs[0], rows


def _least_by(row: IntArray, total: IntArray, own: IntArray) -> IntArray:
    """Least total of the rows that come from each row of a relation, less what that row adds itself."""
    least = np.full(own.size, NOWHERE)
    np.minimum.at(least, row, total)
    return np.where(least < NOWHERE, least - own, NOWHERE)


@dataclass(frozen=True)
class Pruning:
    """Drops labels that cannot lead to an assignment as good as wanted.

    Parameters
    ----------
    remaining : Remaining
        What must still be added, in priced units.
    weights : sequence of int
        Price of each resource.
    leading_weight : int
        Weight of what leads the order of preference.
    leading_unit : int
        What one unit of it is in the first word.
    most : int
        Priced sum that no wanted assignment exceeds.
    """

    remaining: Remaining
    weights: Sequence[int]
    leading_weight: int
    leading_unit: int
    most: int

    def on_the_way(self, place: int, joined: int) -> Keep:
        """Tell what to keep of a join on the way.

        Parameters
        ----------
        place : int
            Position of the step.
        joined : int
            Position of the join.

        Returns
        -------
        callable
            True where a label of the relation may still lead to a wanted assignment.
        """
        return self._keep(self.remaining.on_the_way[place][joined])

    def result(self, place: int) -> Keep:
        """Tell what to keep of a step's result.

        Parameters
        ----------
        place : int
            Position of the step.

        Returns
        -------
        callable
            True where a label of the relation may still lead to a wanted assignment.
        """
        return self._keep(self.remaining.results[place])

    def _keep(self, remainders: Remainders) -> Keep:
        def keep(relation: Relation) -> BoolArray:
            priced: IntArray = relation.words[0] // self.leading_unit * self.leading_weight
            for weight, taken in zip(self.weights, relation.taken, strict=True):
                priced = priced + weight * taken
            return priced + remainders.at(relation.cell) <= self.most

        return keep
