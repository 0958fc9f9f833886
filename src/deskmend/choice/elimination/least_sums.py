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
from copy import copy
from dataclasses import dataclass

import numpy as np

from deskmend.choice.elimination.labels import WORD_LIMIT, Domains, found_once, in_order, matches, pairs_of
from deskmend.choice.elimination.order import EliminationStep
from deskmend.choice.network import VariableNumbers
from deskmend.choice.problem import BoolArray, IntArray

NOWHERE = WORD_LIMIT
"""Stands for the least remainder of a cell that no allowed assignment passes."""

LaterWords = Callable[[int, IntArray], IntArray]
"""What some rows of a relation add to the words after the first: an array of shape (words, rows)."""


AtMost = tuple[Sequence[IntArray], int]
"""What each cell of each relation given at the start adds to a sum, and the largest sum that is wanted."""

SUMS_AT_ONCE = 1 << 22
"""Sums that a pass with several bounds holds at most at a time, if it can."""


@dataclass(frozen=True)
class Joined:
    """For each row of a join the rows of the two relations it comes from."""

    left: IntArray
    right: IntArray

    def picked(self, rows: IntArray | BoolArray) -> Joined:
        """Keep some rows, in this order."""
        return Joined(self.left[rows], self.right[rows])


@dataclass(frozen=True)
class PairedStep:
    """One step: its joins, and how the rows of the last one fall together when the variable leaves.

    Rows of the last join stand group by group, so ``starts`` says where each group begins.  Where nothing is
    joined, ``first`` holds the rows of the one relation in that order.
    """

    joins: list[Joined]
    first: IntArray
    starts: IntArray
    group: IntArray

    @property
    def bytes(self) -> int:
        """Memory that it takes."""
        arrays = [self.first, self.starts, self.group]
        arrays += [array for join in self.joins for array in (join.left, join.right)]
        return sum(array.nbytes for array in arrays)

    def members(self, groups: IntArray) -> IntArray:
        """Rows that fall into some groups."""
        counts = np.diff(np.append(self.starts, self.group.size))[groups]
        rows: IntArray = pairs_of(self.starts[groups], counts)[1]
        return rows

    def sources(self) -> list[IntArray]:
        """For each row of the last join the row of each join before it, from the last back to the first."""
        rows = [np.arange(self.group.size)]
        for joined in self.joins[::-1]:
            rows.append(joined.left[rows[-1]])
        return rows if self.joins else [rows[0], self.first]


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
        self.paired_steps: list[PairedStep] = []
        for step in steps:
            scope, code = store[step.inputs[0]]
            joins = []
            last = len(step.inputs) - 1
            for k, number in enumerate(step.inputs[1:], start=1):
                # what leaves is in no code of the last join
                onto = step.onto if k == last else step.scopes[k]
                domains.cells(step.scopes[k])
                code, joined = _pair((scope, code), store[number], onto, domains)
                joins.append(joined)
                scope = onto
            code = domains.recode(code, scope, step.onto)
            if (code[1:] >= code[:-1]).all():
                first = np.arange(0 if joins else code.size)
            else:
                first = in_order(code, domains.cells(step.onto))
                code = code[first]
                if joins:
                    joins[-1] = joins[-1].picked(first)
                    first = first[:0]
            starts, group = _groups(code)
            self.paired_steps.append(PairedStep(joins, first, starts, group))
            store.append((step.onto, code[starts]))

    @property
    def bytes(self) -> int:
        """Memory that the pairing takes."""
        return sum(paired.bytes for paired in self.paired_steps)

    def best(self, amounts: Sequence[IntArray], later: LaterWords | None = None) -> IntArray | None:
        """Find the least sum of one amount a cell; None when no assignment is allowed.

        With ``later`` word after word is compared and all are given, shape (1 + words,); it is asked only for
        cells that may be part of a least first word.
        """
        held, totals = self._forwards(_side_by_side([amounts]))
        least: IntArray = held[-1][0]
        if not least.size:
            return None
        if later is None:
            return least
        rows = self._rows_of_the_least([one[0] for one in held], [one[0] for one in totals])
        return np.concatenate([least, self._later_words(later, rows)])

    def through(self, amounts: Sequence[IntArray]) -> list[IntArray]:
        """Find the least sum of the assignments that pass each cell of each relation given at the start.

        NOWHERE where no allowed assignment passes.
        """
        held, totals = self._forwards(_side_by_side([amounts]))
        least = [np.full(one.size, NOWHERE) for one in amounts]
        for place, _, total, sources in self._backwards(held, totals):
            step, paired = self._steps[place], self.paired_steps[place]
            rows = [joined.right[source] for joined, source in zip(paired.joins[::-1], sources, strict=False)]
            for number, row in zip((*step.inputs[:0:-1], step.inputs[0]), (*rows, sources[-1]), strict=True):
                if number < self._start:
                    np.minimum.at(least[number], row, total[0])
        return least

    def keep_up_to(self, amounts: Sequence[IntArray], most: int) -> None:
        """Let go for good of all that no allowed assignment with at most this sum of amounts passes.

        Every such assignment stays, with all that it is made of, so whatever is asked afterwards has the same
        answer among them; what is above may be gone.
        """
        self.paired_steps = self.within([(amounts, most)])[0].paired_steps

    def within(self, bounds: Sequence[AtMost]) -> tuple[LeastSums, list[IntArray]]:
        """The same with what is passed by assignments that keep to one of some bounds; more may be gone.

        Beside it, for each step, the least that must still be added for each bound to each cell of its
        result: an array of shape (bounds, cells).
        """
        kept = [np.zeros(paired.group.size, dtype=np.bool_) for paired in self.paired_steps]
        beyond: list[list[IntArray]] = [[] for _ in self.paired_steps]
        at_once = max(1, SUMS_AT_ONCE // max(1, sum(rows.size for rows in kept)))
        for start in range(0, len(bounds), at_once):
            some = bounds[start : start + at_once]
            most = np.array([[one] for _, one in some], dtype=np.int64)
            held, totals = self._forwards(_side_by_side([amounts for amounts, _ in some]))
            for place, outside, total, _ in self._backwards(held, totals):
                kept[place] |= (total <= most).any(axis=0)
                beyond[place].append(outside)
        renumbered: dict[int, IntArray] = {}
        fewer = copy(self)
        fewer.paired_steps = []
        left = []
        for step, paired, rows, each in zip(self._steps, self.paired_steps, kept, beyond, strict=True):
            outside = each[0] if len(each) == 1 else np.concatenate(each)
            starts, group = paired.starts, paired.group
            if not rows.all():
                groups = np.zeros(starts.size, dtype=np.bool_)
                groups[group[rows]] = True
                renumbered[step.output] = groups.cumsum() - 1
                starts, group = _groups(group[rows])
                outside = outside[:, groups]
            joins, first = _fewer(paired, rows, [renumbered.get(number) for number in step.inputs])
            fewer.paired_steps.append(PairedStep(joins, first, starts, group))
            left.append(outside)
        return fewer, left

    def _forwards(self, amounts: Sequence[IntArray]) -> tuple[list[IntArray], list[IntArray]]:
        """Least amounts of each cell of each relation, and sums of each row of the last join of each step.

        Amounts have shape (bounds, cells).
        """
        held = list(amounts)
        totals = []
        for step, paired in zip(self._steps, self.paired_steps, strict=True):
            rows = held[step.inputs[0]]
            if not paired.joins:
                rows = rows.take(paired.first, axis=1)
            for number, joined in zip(step.inputs[1:], paired.joins, strict=True):
                rows = rows.take(joined.left, axis=1)
                rows += held[number].take(joined.right, axis=1)
            self._domains.spend(rows.size)
            totals.append(rows)
            held.append(np.minimum.reduceat(rows, paired.starts, axis=1) if paired.starts.size else rows)
        return held, totals

    def _rows_of_the_least(self, held: Sequence[IntArray], totals: Sequence[IntArray]) -> list[IntArray]:
        """Rows of each step that the least first word can come from, found from the last step back."""
        wanted: dict[int, IntArray] = {self._steps[-1].output: np.zeros(1, dtype=np.int64)}
        found: list[IntArray] = []
        for step, paired, total in zip(self._steps[::-1], self.paired_steps[::-1], totals[::-1], strict=True):
            rows = paired.members(wanted[step.output])
            rows = rows[total[rows] == held[step.output][paired.group[rows]]]
            found.append(rows)
            for number, place in _origins(step, paired, rows):
                if number >= self._start:
                    wanted[number] = np.unique(place)
        return found[::-1]

    def _later_words(self, later: LaterWords, rows: Sequence[IntArray]) -> IntArray:
        """Find the least sum of the later words among some rows of each step."""
        kept: dict[int, tuple[IntArray, IntArray]] = {}
        best: IntArray = np.zeros((0, 0), dtype=np.int64)
        for step, paired, mine in zip(self._steps, self.paired_steps, rows, strict=True):
            total: IntArray | None = None
            for number, place in _origins(step, paired, mine):
                if number < self._start:
                    added = later(number, place)
                else:
                    groups, sums = kept[number]
                    added = sums[:, np.searchsorted(groups, place)]
                total = added if total is None else total + added
            assert total is not None
            group = paired.group[mine]
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
        last join comes to in all, both of shape (sums, ...), and what it comes from.
        """
        last = np.zeros((len(held[-1]), 1), dtype=np.int64)
        outside: dict[int, IntArray] = {self._steps[-1].output: last}
        for place in range(len(self._steps) - 1, -1, -1):
            step, paired = self._steps[place], self.paired_steps[place]
            self._domains.spend(totals[place].size)
            beyond = outside.pop(step.output)
            total = beyond.take(paired.group, axis=1)
            total += totals[place]
            sources = paired.sources()
            yield place, beyond, total, sources
            for k, (joined, number) in enumerate(zip(paired.joins[::-1], step.inputs[:0:-1], strict=True)):
                if number >= self._start:
                    outside[number] = _least_by(joined.right[sources[k]], total, held[number])
            if step.inputs[0] >= self._start:
                outside[step.inputs[0]] = _least_by(sources[-1], total, held[step.inputs[0]])


def _side_by_side(each: Sequence[Sequence[IntArray]]) -> list[IntArray]:
    """Amounts of several sums, an array of shape (sums, cells) for each relation."""
    if len(each) == 1:
        return [amounts[np.newaxis] for amounts in each[0]]
    return [np.stack(amounts) for amounts in zip(*each, strict=True)]


def _groups(code: IntArray) -> tuple[IntArray, IntArray]:
    """Where each run of equal codes starts, and of which run each code is."""
    fresh = np.concatenate(([True], code[1:] != code[:-1])) if code.size else code > 0
    return np.flatnonzero(fresh), np.cumsum(fresh) - 1


def _fewer(
    paired: PairedStep, rows: BoolArray, renumbered: Sequence[IntArray | None]
) -> tuple[list[Joined], IntArray]:
    """Some rows of a paired step's last join, and of each join before what they come from.

    Its inputs may be left with fewer rows, which have new numbers.
    """
    if not paired.joins:
        first = paired.first[rows]
        return [], first if renumbered[0] is None else renumbered[0][first]
    joins = []
    for k in range(len(paired.joins) - 1, -1, -1):
        joined = paired.joins[k] if rows.all() else paired.joins[k].picked(rows)
        left, right = joined.left, joined.right
        numbers = renumbered[k + 1]
        if numbers is not None:
            right = numbers[right]
        if k:
            rows = np.zeros(paired.joins[k - 1].left.size, dtype=np.bool_)
            rows[left] = True
            if not rows.all():
                left = (np.cumsum(rows) - 1)[left]
        elif renumbered[0] is not None:
            left = renumbered[0][left]
        joins.append(Joined(left, right))
    return joins[::-1], paired.first


def _pair(
    left: tuple[VariableNumbers, IntArray],
    right: tuple[VariableNumbers, IntArray],
    onto: VariableNumbers,
    domains: Domains,
) -> tuple[IntArray, Joined]:
    """Pair the cells of two relations that agree on what they share; their codes over some variables."""
    (left_scope, left_cell), (right_scope, right_cell) = left, right
    shared = tuple(v for v in left_scope if v in right_scope)
    extra = tuple(v for v in right_scope if v not in left_scope and v in onto)
    asked, cells = domains.recode(left_cell, left_scope, shared), domains.cells(shared)
    if shared == right_scope:
        # its cells stand in order, each once
        a, b = found_once(right_cell, asked, cells)
        domains.spend(a.size)
    else:
        key = domains.recode(right_cell, right_scope, shared)
        order = None if shared == right_scope[: len(shared)] else in_order(key, cells)
        first, count = matches(key if order is None else key[order], asked, cells)
        domains.spend(int(count.sum()))
        a, b = pairs_of(first, count)
        b = b if order is None else order[b]
    cell = domains.recode(left_cell, left_scope, onto)[a]
    if extra:
        cell += domains.recode(right_cell, right_scope, onto, part=extra)[b]
    return cell, Joined(a, b)


def _origins(step: EliminationStep, paired: PairedStep, rows: IntArray) -> Iterator[tuple[int, IntArray]]:
    """Trace rows of a step back: each relation joined, and where in it the rows come from."""
    for joined, number in zip(paired.joins[::-1], step.inputs[:0:-1], strict=True):
        yield number, joined.right[rows]
        rows = joined.left[rows]
    yield step.inputs[0], rows if paired.joins else paired.first[rows]


def _least_by(row: IntArray, total: IntArray, own: IntArray) -> IntArray:
    """Least total of the rows that come from each row of a relation, less what that row adds itself."""
    least = np.full(own.shape, NOWHERE)
    for mine, totals in zip(least, total, strict=True):
        np.minimum.at(mine, row, totals)
    least -= np.where(least < NOWHERE, own, 0)
    return least
