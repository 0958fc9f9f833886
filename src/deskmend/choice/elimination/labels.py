"""Relations of labels: for each cell of a scope, the assignments behind it that may still be best.

A label carries what it takes of each limited resource and its packed preference.  A cell without labels
is forbidden.  Joining adds labels up; projecting a variable out keeps, cell by cell, the labels that no
other label of the cell beats in every resource and in preference.

Order of preference packed into few 64-bit words that add up without ever overflowing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from deskmend.choice.problem import BoolArray, IntArray

WORD_LIMIT = 2**62

LARGEST_SUM = WORD_LIMIT // 2
"""No weighted sum may reach it."""


@dataclass(frozen=True)
class Slot:
    """Where a field lives: its word, what one unit of it is there, and how far it may reach."""

    word: int
    unit: int
    most: int


@dataclass(frozen=True)
class Packing:
    """A mixed radix over words: comparing words one after the other compares fields in order.

    Parameters
    ----------
    slots : tuple of Slot
        One a field, in order of preference.
    words : int
        Number of words.
    """

    slots: tuple[Slot, ...]
    words: int

    def put(self, field: int, amounts: IntArray) -> IntArray:
        """Pack amounts of one field, as an array of shape (words, n).

        Parameters
        ----------
        field : int
            Position in the order of preference.
        amounts : integer array
            Each within 0..most of the field.

        Returns
        -------
        integer array
            Shape (words, n).
        """
        slot = self.slots[field]
        packed = np.zeros((self.words, amounts.size), dtype=np.int64)
        packed[slot.word] = amounts.ravel() * slot.unit
        return packed

    def get(self, field: int, words: Sequence[int]) -> int:
        """Read one field back.

        Parameters
        ----------
        field : int
            Position in the order of preference.
        words : sequence of int
            A packed sum.

        Returns
        -------
        int
            The field's total.
        """
        slot = self.slots[field]
        return words[slot.word] // slot.unit % (slot.most + 1)


def pack(most: Sequence[int]) -> Packing:
    """Lay out fields so that no sum of a field can reach into its neighbour.

    Parameters
    ----------
    most : sequence of int
        Largest total of each field, in order of preference; each below WORD_LIMIT.

    Returns
    -------
    Packing
        With as few words as filling them in order gives.

    Raises
    ------
    OverflowError
        When a field alone does not fit a word.
    """
    groups: list[list[int]] = []
    room = 0
    for reach in most:
        if reach + 1 > WORD_LIMIT:
            raise OverflowError(f"a total of {reach} does not fit 62 bits")
        if not groups or room // (reach + 1) < 1:
            groups.append([])
            room = WORD_LIMIT
        groups[-1].append(reach)
        room //= reach + 1
    slots: list[Slot] = []
    for word, group in enumerate(groups):
        unit = 1
        laid = []
        for reach in reversed(group):
            laid.append(Slot(word, unit, reach))
            unit *= reach + 1
        slots.extend(reversed(laid))
    return Packing(tuple(slots), max(1, len(groups)))


CHUNK = 1 << 20
"""Pairs joined at a time, which bounds the memory used."""

INT64_MAX = np.iinfo(np.int64).max


@dataclass
class Relation:
    """Labels over a scope.

    Parameters
    ----------
    scope : tuple of int
        Variable numbers in rising order.
    cell : integer array, shape (n,)
        Cell of each label in row-major order over the scope.
    taken : integer array, shape (resources, n)
        What the label takes of each resource.
    words : integer array, shape (words, n)
        Its packed preference; less is better.
    """

    scope: tuple[int, ...]
    cell: IntArray
    taken: IntArray
    words: IntArray

    def __len__(self) -> int:
        """Count the labels."""
        return int(self.cell.size)

    def select(self, chosen: IntArray | BoolArray) -> Relation:
        """Keep some labels."""
        return Relation(self.scope, self.cell[chosen], self.taken[:, chosen], self.words[:, chosen])


Keep = Callable[[Relation], BoolArray]


class TooWide(RuntimeError):
    """More labels than were allowed."""


class Domains:
    """Sizes of variables, and codes of cells over scopes.

    Parameters
    ----------
    sizes : sequence of int
        Number of states of each variable.
    most_pairs : float
        Pairs of labels that may be joined in all.
    """

    def __init__(self, sizes: list[int], most_pairs: float = 1e18) -> None:
        self.sizes = sizes
        self.pairs = 0
        self.most_pairs = most_pairs

    def spend(self, pairs: int) -> None:
        """Count pairs of labels joined; TooWide when it is too many."""
        self.pairs += pairs
        if self.pairs > self.most_pairs:
            raise TooWide(f"more than {self.most_pairs:.0f} pairs of labels")

    def cells(self, scope: tuple[int, ...]) -> int:
        """Count the cells of a scope; OverflowError when a code would not fit."""
        cells = 1
        for variable in scope:
            cells *= self.sizes[variable]
        if cells >= WORD_LIMIT:
            raise OverflowError(f"a scope of {len(scope)} variables has {cells} cells")
        return cells

    def strides(self, scope: tuple[int, ...]) -> dict[int, int]:
        """How far the code of a cell moves when a variable's state rises by one."""
        strides = {}
        stride = 1
        for variable in reversed(scope):
            strides[variable] = stride
            stride *= self.sizes[variable]
        return strides

    def recode(
        self,
        cell: IntArray,
        scope: tuple[int, ...],
        wanted: tuple[int, ...],
        part: tuple[int, ...] | None = None,
    ) -> IntArray:
        """Code of cells over another scope; variables of it that are not given count as state 0.

        Parameters
        ----------
        cell : integer array
            Codes over ``scope``.
        scope, wanted : tuple of int
            Scopes, in rising order.
        part : tuple of int or None
            Take over only these variables; None: all that both scopes have.

        Returns
        -------
        integer array
            Codes over ``wanted``.
        """
        code = np.zeros_like(cell)
        there = self.strides(wanted)
        for first, last in _runs(scope, wanted, scope if part is None else part):
            here = prod(self.sizes[v] for v in scope[last + 1 :])
            # a division costs more than all else here, so none is done that changes nothing
            digits = cell if here == 1 else cell // here
            if first:
                digits = digits % prod(self.sizes[v] for v in scope[first : last + 1])
            stride = there[scope[last]]
            code += digits if stride == 1 else digits * stride
        return code


def _runs(
    scope: tuple[int, ...], wanted: tuple[int, ...], taken: tuple[int, ...]
) -> Iterator[tuple[int, int]]:
    """First and last place of each run of variables that follow one another in both scopes."""
    place = {variable: k for k, variable in enumerate(wanted)}
    start: int | None = None
    for k, variable in enumerate(scope):
        here = variable in taken and variable in place
        if here and start is not None and place[variable] == place[scope[k - 1]] + 1:
            continue
        if start is not None:
            yield start, k - 1
        start = k if here else None
    if start is not None:
        yield start, len(scope) - 1


def join(
    left: Relation,
    right: Relation,
    onto: tuple[int, ...],
    domains: Domains,
    caps: IntArray,
    keep: Keep | None = None,
) -> Relation:
    """Add up two relations and project the result onto some of its variables.

    Parameters
    ----------
    left, right : Relation
        What is joined, over any scopes.
    onto : tuple of int
        Variables that stay, in rising order; each in one of the scopes.
    domains : Domains
        Sizes of the variables.
    caps : integer array, shape (resources,)
        Limit of each resource; labels beyond are dropped.
    keep : callable or None
        Tells which labels of the result are worth keeping at all.

    Returns
    -------
    Relation
        Over ``onto``, with the labels that nothing beats.
    """
    if len(left) < len(right):
        left, right = right, left
    shared = tuple(v for v in left.scope if v in right.scope)
    extra = tuple(v for v in right.scope if v not in left.scope and v in onto)
    key = domains.recode(right.cell, right.scope, shared)
    order = np.argsort(key, kind="stable")
    right, key = right.select(order), key[order]
    asked = domains.recode(left.cell, left.scope, shared)
    first, count = matches(key, asked, domains.cells(shared))
    domains.cells(onto)
    left_code = domains.recode(left.cell, left.scope, onto)
    right_code = domains.recode(right.cell, right.scope, onto, part=extra)

    parts: list[Relation] = []
    ends = np.cumsum(count)
    domains.spend(int(ends[-1]) if ends.size else 0)
    start = 0
    while start < len(left):
        done = int(ends[start - 1]) if start else 0
        stop = max(start + 1, int(np.searchsorted(ends, done + CHUNK, side="right")))
        pairs = count[start:stop]
        total = int(pairs.sum())
        if total:
            a = np.repeat(np.arange(start, stop), pairs)
            offset = np.repeat(first[start:stop] - (np.cumsum(pairs) - pairs), pairs)
            b = offset + np.arange(total)
            part = Relation(
                onto,
                left_code[a] + right_code[b],
                left.taken[:, a] + right.taken[:, b],
                left.words[:, a] + right.words[:, b],
            )
            if keep is not None:
                part = part.select(np.flatnonzero(keep(part)))
            parts.append(unbeaten(part, caps))
        start = stop
    if not parts:
        return Relation(onto, left_code[:0], left.taken[:, :0], left.words[:, :0])
    if len(parts) == 1:
        return parts[0]
    whole = Relation(
        onto,
        np.concatenate([part.cell for part in parts]),
        np.concatenate([part.taken for part in parts], axis=1),
        np.concatenate([part.words for part in parts], axis=1),
    )
    return unbeaten(whole, caps)


def project(
    relation: Relation,
    onto: tuple[int, ...],
    domains: Domains,
    caps: IntArray,
    keep: Keep | None = None,
) -> Relation:
    """Project a relation onto some of its variables.

    Parameters
    ----------
    relation : Relation
        What is projected.
    onto : tuple of int
        Variables that stay, in rising order.
    domains : Domains
        Sizes of the variables.
    caps : integer array, shape (resources,)
        Limit of each resource.
    keep : callable or None
        Tells which labels of the result are worth keeping at all.

    Returns
    -------
    Relation
        With the labels that nothing beats.
    """
    code = domains.recode(relation.cell, relation.scope, onto)
    projected = Relation(onto, code, relation.taken, relation.words)
    if keep is not None:
        projected = projected.select(np.flatnonzero(keep(projected)))
    return unbeaten(projected, caps)


def matches(key: IntArray, asked: IntArray, cells: int) -> tuple[IntArray, IntArray]:
    """Find where each asked key starts in the sorted keys, and how often it stands there.

    Parameters
    ----------
    key : integer array
        Sorted.
    asked : integer array
        Keys looked for, in any order.
    cells : int
        Every key is below it.

    Returns
    -------
    (integer array, integer array)
        First position and count of each asked key.
    """
    if cells <= 4 * (key.size + asked.size) + 1024:
        counts = np.bincount(key, minlength=cells)
        starts = np.cumsum(counts) - counts
        return starts[asked], counts[asked]
    first = np.searchsorted(key, asked, side="left")
    return first, np.searchsorted(key, asked, side="right") - first


def unbeaten(relation: Relation, caps: IntArray) -> Relation:
    """Keep the labels of each cell that no other label of the cell beats.

    Parameters
    ----------
    relation : Relation
        Labels in any order.
    caps : integer array, shape (resources,), at least one
        Limit of each resource.

    Returns
    -------
    Relation
        Without labels beyond a cap.  Labels that take the same and are equally good differ in their
        option positions, so that one of them is better.
    """
    within = (relation.taken <= caps[:, None]).all(axis=0)
    if not within.all():
        relation = relation.select(np.flatnonzero(within))
    if len(relation) <= 1:
        return relation
    relation = relation.select(_sorted(relation))
    if caps.size == 1:
        return relation.select(_staircase(relation))
    return relation.select(_pareto(relation))


def _sorted(relation: Relation) -> IntArray:
    """Sort by cell, first resource, first word, then everything else."""
    most = int(relation.taken[0].max()) + 1
    cells = int(relation.cell.max()) + 1
    if cells * most < WORD_LIMIT:
        major = [relation.cell * most + relation.taken[0]]
    else:
        major = [relation.taken[0], relation.cell]
    order = np.lexsort((relation.words[0], *major))
    if relation.words.shape[0] == 1 and relation.taken.shape[0] == 1:
        return order
    same = (
        (relation.cell[order[1:]] == relation.cell[order[:-1]])
        & (relation.taken[0][order[1:]] == relation.taken[0][order[:-1]])
        & (relation.words[0][order[1:]] == relation.words[0][order[:-1]])
    )
    if not same.any():
        return order
    # ties are rare: sort only those by the rest
    tied = np.zeros(order.size, dtype=np.bool_)
    tied[1:] |= same
    tied[:-1] |= same
    places = np.flatnonzero(tied)
    group = np.concatenate(([0], np.cumsum(~same)))[places]
    part = order[places]
    rest = [*relation.words[:0:-1, part], *relation.taken[:0:-1, part], group]
    order[places] = part[np.lexsort(rest)]
    return order


def _staircase(relation: Relation) -> BoolArray:
    """One resource: along rising use, a label must be better than everything before it in its cell."""
    word = relation.words[0]
    fresh = np.concatenate(([True], relation.cell[1:] != relation.cell[:-1]))
    least = _least_before(word, fresh)
    again = np.zeros(word.size, dtype=np.bool_)
    again[1:] = ~fresh[1:] & (relation.taken[0][1:] == relation.taken[0][:-1]) & (word[1:] == word[:-1])
    # an equal first word at a higher use may still be better in a later word, so it stays
    strict = relation.words.shape[0] == 1
    better = word < least if strict else word <= least
    kept: BoolArray = (fresh | better) & ~again
    return kept


def _least_before(word: IntArray, fresh: BoolArray) -> IntArray:
    """Least word of the labels before each label within its cell; the largest number at its start."""
    least = np.full(word.size, INT64_MAX)
    least[1:] = word[:-1]
    least[fresh] = INT64_MAX
    group = np.cumsum(fresh)
    longest = int(np.bincount(group).max())
    # a running minimum by doubling the reach, since the words fill 64 bits and cannot be lifted by cell
    reach = 1
    while reach < longest:
        earlier = np.where(group[reach:] == group[:-reach], least[:-reach], INT64_MAX)
        least[reach:] = np.minimum(least[reach:], earlier)
        reach *= 2
    return least


def _pareto(relation: Relation) -> IntArray:
    """Several resources: take the first label of each cell, drop what it beats, and again."""
    kept: list[IntArray] = []
    left = np.arange(len(relation))
    while left.size:
        cell = relation.cell[left]
        fresh = np.concatenate(([True], cell[1:] != cell[:-1]))
        pivots = left[fresh]
        kept.append(pivots)
        pivot = np.repeat(pivots, np.diff(np.append(np.flatnonzero(fresh), left.size)))
        beaten = (relation.taken[:, pivot] <= relation.taken[:, left]).all(axis=0)
        beaten &= relation.words[0, pivot] <= relation.words[0, left]
        if relation.words.shape[0] > 1:
            beaten &= ~_later_words_better(relation, pivot, left)
        beaten = beaten | fresh
        left = left[~beaten]
    return np.sort(np.concatenate(kept))


def _later_words_better(relation: Relation, pivot: IntArray, left: IntArray) -> BoolArray:
    """Tell where a label equals the pivot in the first word and is better in a later one."""
    undecided = relation.words[0, pivot] == relation.words[0, left]
    better: BoolArray = np.zeros(left.size, dtype=np.bool_)
    for words in relation.words[1:]:
        better |= undecided & (words[left] < words[pivot])
        undecided &= words[left] == words[pivot]
    return better
