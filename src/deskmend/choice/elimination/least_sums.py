"""Least sums by plain elimination, over a structure that is worked out once.

Which cells meet does not depend on what they are worth.  So the pairing of cells is kept as indices, and a
pass only gathers, adds and takes the least.  A pass forwards gives the best assignment; a pass backwards
gives, for each cell, the least that everything outside it must add.

That is what labels are dropped by: with a price for each resource instead of its limit, a label and the least
that must still be added to it give a lower limit for every assignment it leads to.  All in whole numbers, so
nothing is dropped wrongly, whatever the prices are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from deskmend.choice.elimination.labels import WORD_LIMIT, Domains, Keep, Labels, matches, pairs_of
from deskmend.choice.elimination.order import EliminationStep
from deskmend.choice.network import VariableNumbers
from deskmend.choice.problem import BoolArray, IntArray

NOWHERE = WORD_LIMIT
"""Stands for the least remainder of a cell that no allowed assignment passes."""

LaterWords = Callable[[int, IntArray], IntArray]
"""What some rows of a relation add to the words after the first: an array of shape (words, rows)."""


class Remainders:
    """For each cell of a scope, the least that everything else must add; given for some cells, each once."""

    def __init__(self, code: IntArray, least: IntArray, cells: int) -> None:
        self._codes: IntArray | None = None
        # A plain array over all cells is faster to look up, a sorted list smaller where most are missing.
        if cells > 8 * code.size + 4096:
            order = np.argsort(code)
            self._codes, self._least = code[order], least[order]
        else:
            self._least = np.full(cells, NOWHERE)
            self._least[code] = least

    def at(self, code: IntArray) -> IntArray:
        """Look cells up; NOWHERE where no assignment passes."""
        if self._codes is None:
            return self._least[code]
        if not self._codes.size:
            return np.full(code.size, NOWHERE)
        place = np.minimum(np.searchsorted(self._codes, code), self._codes.size - 1)
        return np.where(self._codes[place] == code, self._least[place], NOWHERE)


@dataclass
class _Joined:
    """Cells of a scope with the rows of the two relations each of them comes from."""

    scope: VariableNumbers
    cell: IntArray
    left: IntArray
    right: IntArray

    def picked(self, rows: IntArray | BoolArray) -> _Joined:
        """Keep some rows, in this order."""
        return _Joined(self.scope, self.cell[rows], self.left[rows], self.right[rows])


@dataclass
class _Stage:
    """One step: its joins, and how the rows of the last one fall together when the variable leaves.

    Rows of the last join stand group by group, so ``starts`` says where each group begins.  Where nothing is
    joined, ``first`` holds the rows of the one relation in that order.
    """

    joins: list[_Joined]
    first: IntArray
    starts: IntArray
    group: IntArray
    cell: IntArray

    @property
    def bytes(self) -> int:
        """Memory that it takes."""
        arrays = [self.first, self.starts, self.group, self.cell]
        arrays += [array for join in self.joins for array in (join.cell, join.left, join.right)]
        return sum(array.nbytes for array in arrays)

    def members(self, groups: IntArray) -> IntArray:
        """Rows that fall into some groups."""
        counts = np.diff(np.append(self.starts, self.group.size))[groups]
        rows: IntArray = pairs_of(self.starts[groups], counts)[1]
        return rows

    def least(self, rows: IntArray) -> IntArray:
        """Least amount of each group of rows."""
        if not rows.size:
            return rows
        least: IntArray = np.minimum.reduceat(rows, self.starts)
        return least

    def sources(self) -> list[IntArray]:
        """For each row of the last join the row of each join before it, from the last back to the first."""
        rows = [np.arange(self.group.size)]
        for joined in self.joins[::-1]:
            rows.append(joined.left[rows[-1]])
        return rows if self.joins else [rows[0], self.first]


@dataclass(frozen=True)
class Remaining:
    """What must still be added at least, step by step: after each join but the last, and at its end."""

    on_the_way: list[list[Remainders]]
    results: list[Remainders]


class LeastSums:
    """The pairing of cells along some steps, and passes over it.

    It starts from the scope and allowed cells of each relation, each cell once; ``domains`` counts the pairs.
    """

    def __init__(
        self,
        steps: Sequence[EliminationStep],
        cells: Sequence[tuple[VariableNumbers, IntArray]],
        domains: Domains,
    ) -> None:
        self._steps = steps
        self._domains = domains
        self._start = len(cells)
        store = list(cells)
        self._stages: list[_Stage] = []
        for step in steps:
            here = store[step.inputs[0]]
            joins = []
            for number, scope in zip(step.inputs[1:], step.scopes[1:], strict=True):
                joined = _pair(here, store[number], scope, domains)
                joins.append(joined)
                here = joined.scope, joined.cell
            code = domains.recode(here[1], here[0], step.onto)
            order = np.argsort(code, kind="stable")
            code = code[order]
            if joins:
                joins[-1] = joins[-1].picked(order)
                order = order[:0]
            starts, group = _groups(code)
            self._stages.append(_Stage(joins, order, starts, group, code[starts]))
            store.append((step.onto, code[starts]))

    @property
    def bytes(self) -> int:
        """Memory that the pairing takes."""
        return sum(stage.bytes for stage in self._stages)

    def best(self, amounts: Sequence[IntArray], later: LaterWords | None = None) -> IntArray | None:
        """Find the least sum of one amount a cell; None when no assignment is allowed.

        With ``later`` word after word is compared and all are given, shape (1 + words,); it is asked only for
        cells that may be part of a least first word.
        """
        held, ways = self._forwards(amounts, every_join=False)
        least: IntArray = held[-1]
        if not least.size:
            return None
        if later is None:
            return least
        rows = self._rows_of_the_least(held, [way[-1] for way in ways])
        return np.concatenate([least, self._later_words(later, rows)])

    def remaining(self, amounts: Sequence[IntArray]) -> Remaining:
        """Find the least that must still be added, at every point of the steps, to one amount a cell."""
        held, ways = self._forwards(amounts, every_join=True)
        on_the_way: list[list[Remainders]] = []
        results: list[Remainders] = []
        for place, beyond, total, sources in self._backwards(held, [way[-1] for way in ways]):
            step, stage, way = self._steps[place], self._stages[place], ways[place]
            results.append(Remainders(stage.cell, beyond, self._domains.cells(step.onto)))
            # What a row of the full join comes to in all is passed on to each row it was joined from: the
            # least over those rows, less what the row adds itself, is what must be added outside it.
            before_last = list(zip(stage.joins[-2::-1], sources[1:], way[-2:0:-1], strict=False))
            on_the_way.append(
                [
                    Remainders(joined.cell, _least_by(rows, total, own), self._domains.cells(joined.scope))
                    for joined, rows, own in reversed(before_last)
                ]
            )
        return Remaining(on_the_way[::-1], results[::-1])

    def through(self, amounts: Sequence[IntArray]) -> list[IntArray]:
        """Find the least sum of the assignments that pass each cell of each relation given at the start.

        NOWHERE where no allowed assignment passes.
        """
        held, ways = self._forwards(amounts, every_join=False)
        least = [np.full(one.size, NOWHERE) for one in amounts]
        for place, _, total, sources in self._backwards(held, [way[-1] for way in ways]):
            step, stage = self._steps[place], self._stages[place]
            rows = [joined.right[source] for joined, source in zip(stage.joins[::-1], sources, strict=False)]
            for number, row in zip((*step.inputs[:0:-1], step.inputs[0]), (*rows, sources[-1]), strict=True):
                if number < self._start:
                    np.minimum.at(least[number], row, total)
        return least

    def keep_up_to(self, amounts: Sequence[IntArray], most: int) -> None:
        """Let go for good of all that no allowed assignment with at most this sum of amounts passes.

        Every such assignment stays, with all that it is made of, so whatever is asked afterwards has the same
        answer among them; what is above may be gone.
        """
        held, ways = self._forwards(amounts, every_join=False)
        kept = [np.zeros(0, dtype=np.bool_)] * len(self._stages)
        for place, _, total, _ in self._backwards(held, [way[-1] for way in ways]):
            kept[place] = total <= most
        renumbered: dict[int, IntArray] = {}
        for step, stage, rows in zip(self._steps, self._stages, kept, strict=True):
            if not rows.all():
                groups = np.zeros(stage.cell.size, dtype=np.bool_)
                groups[stage.group[rows]] = True
                renumbered[step.output] = np.cumsum(groups) - 1
                stage.cell = stage.cell[groups]
                stage.starts, stage.group = _groups(stage.group[rows])
            self._drop(stage, rows, [renumbered.get(number) for number in step.inputs])

    def _drop(self, stage: _Stage, rows: BoolArray, renumbered: Sequence[IntArray | None]) -> None:
        """Keep some rows of a stage's last join, and of each join before what they come from.

        Its inputs may be left with fewer rows, which have new numbers.
        """
        if not stage.joins:
            stage.first = stage.first[rows]
            if renumbered[0] is not None:
                stage.first = renumbered[0][stage.first]
            return
        for k in range(len(stage.joins) - 1, -1, -1):
            joined = stage.joins[k] if rows.all() else stage.joins[k].picked(rows)
            numbers = renumbered[k + 1]
            if numbers is not None:
                joined.right = numbers[joined.right]
            if k:
                rows = np.zeros(stage.joins[k - 1].left.size, dtype=np.bool_)
                rows[joined.left] = True
                if not rows.all():
                    joined.left = (np.cumsum(rows) - 1)[joined.left]
            elif renumbered[0] is not None:
                joined.left = renumbered[0][joined.left]
            stage.joins[k] = joined

    def _forwards(
        self, amounts: Sequence[IntArray], every_join: bool
    ) -> tuple[list[IntArray], list[list[IntArray]]]:
        """Least amount of each cell of each relation, and sums of each step after its last join or each."""
        held = list(amounts)
        ways: list[list[IntArray]] = []
        for step, stage in zip(self._steps, self._stages, strict=True):
            way = [held[step.inputs[0]] if stage.joins else held[step.inputs[0]][stage.first]]
            for number, joined in zip(step.inputs[1:], stage.joins, strict=True):
                rows = way[-1][joined.left] + held[number][joined.right]
                way = [*way, rows] if every_join else [rows]
            self._domains.spend(way[-1].size)
            ways.append(way)
            held.append(stage.least(way[-1]))
        return held, ways

    def _rows_of_the_least(self, held: Sequence[IntArray], totals: Sequence[IntArray]) -> list[IntArray]:
        """Rows of each step that the least first word can come from, found from the last step back."""
        wanted: dict[int, IntArray] = {self._steps[-1].output: np.zeros(1, dtype=np.int64)}
        found: list[IntArray] = []
        for step, stage, total in zip(self._steps[::-1], self._stages[::-1], totals[::-1], strict=True):
            rows = stage.members(wanted[step.output])
            rows = rows[total[rows] == held[step.output][stage.group[rows]]]
            found.append(rows)
            for number, place in _origins(step, stage, rows):
                if number >= self._start:
                    wanted[number] = np.unique(place)
        return found[::-1]

    def _later_words(self, later: LaterWords, rows: Sequence[IntArray]) -> IntArray:
        """Find the least sum of the later words among some rows of each step."""
        kept: dict[int, tuple[IntArray, IntArray]] = {}
        best: IntArray = np.zeros((0, 0), dtype=np.int64)
        for step, stage, mine in zip(self._steps, self._stages, rows, strict=True):
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

    def _backwards(
        self, held: Sequence[IntArray], totals: Sequence[IntArray]
    ) -> Iterator[tuple[int, IntArray, IntArray, list[IntArray]]]:
        """Carry what must be added outside from the last step to the first.

        For each step: its place, what must be added outside each cell of its result, what each row of its
        last join comes to in all, and what it comes from.
        """
        outside: dict[int, IntArray] = {self._steps[-1].output: np.zeros(1, dtype=np.int64)}
        for place in range(len(self._steps) - 1, -1, -1):
            step, stage = self._steps[place], self._stages[place]
            self._domains.spend(totals[place].size)
            beyond = outside.pop(step.output)
            total = totals[place] + beyond[stage.group]
            sources = stage.sources()
            yield place, beyond, total, sources
            for k, (joined, number) in enumerate(zip(stage.joins[::-1], step.inputs[:0:-1], strict=True)):
                if number >= self._start:
                    outside[number] = _least_by(joined.right[sources[k]], total, held[number])
            if step.inputs[0] >= self._start:
                outside[step.inputs[0]] = _least_by(sources[-1], total, held[step.inputs[0]])


def _groups(code: IntArray) -> tuple[IntArray, IntArray]:
    """Where each run of equal codes starts, and of which run each code is."""
    fresh = np.concatenate(([True], code[1:] != code[:-1])) if code.size else code > 0
    return np.flatnonzero(fresh), np.cumsum(fresh) - 1


def _pair(
    left: tuple[VariableNumbers, IntArray],
    right: tuple[VariableNumbers, IntArray],
    onto: VariableNumbers,
    domains: Domains,
) -> _Joined:
    """Pair the cells of two relations that agree on what they share."""
    (left_scope, left_cell), (right_scope, right_cell) = left, right
    shared = tuple(v for v in left_scope if v in right_scope)
    extra = tuple(v for v in right_scope if v not in left_scope)
    key = domains.recode(right_cell, right_scope, shared)
    order = np.argsort(key, kind="stable")
    first, count = matches(key[order], domains.recode(left_cell, left_scope, shared), domains.cells(shared))
    domains.spend(int(count.sum()))
    a, b = pairs_of(first, count)
    b = order[b]
    domains.cells(onto)
    cell = domains.recode(left_cell, left_scope, onto)[a]
    cell += domains.recode(right_cell, right_scope, onto, part=extra)[b]
    return _Joined(onto, cell, a, b)


def _origins(step: EliminationStep, stage: _Stage, rows: IntArray) -> Iterator[tuple[int, IntArray]]:
    """Trace rows of a step back: each relation joined, and where in it the rows come from."""
    for joined, number in zip(stage.joins[::-1], step.inputs[:0:-1], strict=True):
        yield number, joined.right[rows]
        rows = joined.left[rows]
    yield step.inputs[0], rows if stage.joins else stage.first[rows]


def _least_by(row: IntArray, total: IntArray, own: IntArray) -> IntArray:
    """Least total of the rows that come from each row of a relation, less what that row adds itself."""
    least = np.full(own.size, NOWHERE)
    np.minimum.at(least, row, total)
    return np.where(least < NOWHERE, least - own, NOWHERE)


@dataclass(frozen=True)
class Pruning:
    """Drops labels that cannot lead to a weighted sum of at most ``most``."""

    remaining: Remaining
    weighed: Callable[[Labels], IntArray]
    most: int = WORD_LIMIT

    def on_the_way(self, place: int, joined: int) -> Keep:
        """Tell what to keep of a join of a step, the last excepted."""
        return partial(self._keep, self.remaining.on_the_way[place][joined])

    def result(self, place: int) -> Keep:
        """Tell what to keep of a step's result."""
        return partial(self._keep, self.remaining.results[place])

    def _keep(self, remainders: Remainders, labels: Labels) -> BoolArray:
        kept: BoolArray = self.weighed(labels) + remainders.at(labels.cell) <= self.most
        return kept


@dataclass(frozen=True)
class AnyPruning:
    """Drops labels that none of some prunings keeps: one pass then serves several weighted sums."""

    each: Sequence[Pruning]

    def on_the_way(self, place: int, joined: int) -> Keep:
        """Tell what to keep of a join of a step, the last excepted."""
        return partial(_any, [one.on_the_way(place, joined) for one in self.each])

    def result(self, place: int) -> Keep:
        """Tell what to keep of a step's result."""
        return partial(_any, [one.result(place) for one in self.each])


def _any(keeps: Sequence[Keep], labels: Labels) -> BoolArray:
    kept = keeps[0](labels)
    for keep in keeps[1:]:
        kept |= keep(labels)
    return kept
