"""Labels: for each cell of a scope, the assignments behind it that may still be best.

A label carries what it takes of each limited resource and its preference, packed into few 64-bit words that
add up without ever overflowing.  A cell without labels is forbidden.  Joining adds labels up; projecting a
variable out keeps, cell by cell, the labels that no other label of the cell beats in every resource and in
preference.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from deskmend.choice.network import VariableNumbers
from deskmend.choice.problem import BoolArray, IntArray

WORD_LIMIT = 2**62

LARGEST_SUM = WORD_LIMIT // 2
"""No weighted sum may reach it."""

PAIRS_AT_ONCE = 1 << 20
"""Pairs joined at a time, which bounds the memory used."""

PAIRS_COMPARED_AT_ONCE = 1 << 16
"""At most so many pairs of labels are all compared at once."""

INT64_MAX = np.iinfo(np.int64).max


class TooWide(RuntimeError):
    """More cells or labels, or larger sums, than are handled."""


@dataclass(frozen=True)
class PackedField:
    """Where a field lives: its word, what one unit of it is there, and how far it may reach."""

    word: int
    unit: int
    most: int


@dataclass(frozen=True)
class Packing:
    """A mixed radix over words: comparing words one after the other compares fields in order."""

    fields: tuple[PackedField, ...]
    words: int

    def put(self, field: int, amounts: IntArray) -> IntArray:
        """Pack n amounts of one field, each within its reach, into an array of shape (words, n)."""
        where = self.fields[field]
        packed = np.zeros((self.words, amounts.size), dtype=np.int64)
        packed[where.word] = amounts.ravel() * where.unit
        return packed

    def get(self, field: int, words: Sequence[int]) -> int:
        """Read the total of one field off a packed sum."""
        where = self.fields[field]
        return words[where.word] // where.unit % (where.most + 1)


def pack(most: Sequence[int]) -> Packing:
    """Lay out fields of these largest totals so that no sum of one can reach into its neighbour.

    They fill as few words as taking them in order gives.  TooWide when a field alone does not fit.
    """
    groups: list[list[int]] = []
    room = 0
    for reach in most:
        if reach + 1 > WORD_LIMIT:
            raise TooWide(f"a total of {reach} does not fit 62 bits")
        if not groups or room // (reach + 1) < 1:
            groups.append([])
            room = WORD_LIMIT
        groups[-1].append(reach)
        room //= reach + 1
    fields: list[PackedField] = []
    for word, group in enumerate(groups):
        # The last field of a word has the smallest unit, so that the first decides first.
        unit = 1
        laid = []
        for reach in reversed(group):
            laid.append(PackedField(word, unit, reach))
            unit *= reach + 1
        fields.extend(reversed(laid))
    return Packing(tuple(fields), max(1, len(groups)))


@dataclass
class Labels:
    """Labels of the cells of a relation, cell by cell: taken (resources, n), packed preference (words, n)."""

    cell: IntArray
    taken: IntArray
    words: IntArray

    def __len__(self) -> int:
        """Count the labels."""
        return int(self.cell.size)

    def select(self, chosen: IntArray | BoolArray) -> Labels:
        """Keep some labels."""
        return Labels(self.cell[chosen], self.taken[:, chosen], self.words[:, chosen])

    def of(self, cells: IntArray) -> tuple[IntArray, IntArray | None]:
        """Where the labels of some cells start, and how many there are; None: one of each cell there is.

        Labels stand in order of cells.
        """
        most = int(cells.max(initial=-1)) + 1
        if most <= self.cell.size and np.array_equal(self.cell, np.arange(self.cell.size)):
            return cells, None
        count = np.bincount(self.cell, minlength=most)
        return (count.cumsum() - count)[cells], count[cells]


Keep = Callable[[Labels], BoolArray]
"""Tells which labels are worth keeping at all."""


class Domains:
    """Sizes of variables, codes of cells over scopes, and a count of the pairs joined."""

    def __init__(self, sizes: list[int], most_pairs: float = 1e18) -> None:
        self.sizes = sizes
        self.pairs = 0
        self.most_pairs = most_pairs

    def spend(self, pairs: int) -> None:
        """Count pairs of labels joined; TooWide when it is too many."""
        self.pairs += pairs
        if self.pairs > self.most_pairs:
            raise TooWide(f"more than {self.most_pairs:.0f} pairs of labels")

    def cells(self, scope: VariableNumbers) -> int:
        """Count the cells of a scope; TooWide when a code would not fit."""
        cells = prod(self.sizes[variable] for variable in scope)
        if cells >= WORD_LIMIT:
            raise TooWide(f"a scope of {len(scope)} variables has {cells} cells")
        return cells

    def recode(
        self,
        cell: IntArray,
        scope: VariableNumbers,
        wanted: VariableNumbers,
        part: VariableNumbers | None = None,
    ) -> IntArray:
        """Code of cells over another scope; variables of it that are not given count as state 0.

        ``part`` are the variables taken over; None: all that both scopes have.  Where nothing changes, it is
        the same array.
        """
        if scope == wanted and part is None:
            return cell
        code: IntArray | None = None
        for first, last in _runs(scope, wanted, scope if part is None else part):
            here = prod(self.sizes[v] for v in scope[last + 1 :])
            # A division costs more than all else here, so none is done that changes nothing.
            digits = cell if here == 1 else cell // here
            if first:
                digits = digits % prod(self.sizes[v] for v in scope[first : last + 1])
            stride = prod(self.sizes[v] for v in wanted[wanted.index(scope[last]) + 1 :])
            added = digits if stride == 1 else digits * stride
            code = added if code is None else code + added
        return np.zeros_like(cell) if code is None else code


def _runs(
    scope: VariableNumbers, wanted: VariableNumbers, taken: VariableNumbers
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
    left: Labels,
    right: Labels | None,
    pairs: tuple[IntArray, IntArray],
    domains: Domains,
    caps: IntArray,
    onto: IntArray | None = None,
    keep: Keep | None = None,
) -> Labels:
    """Add up the labels of cells that are paired, without what is beaten or not kept.

    ``onto`` is the cell that each pair falls into, rising; None: each has one of its own, and what is beaten
    may stay.  Without anything on the right the labels of the left cells are taken as they are.
    """
    first, count = left.of(pairs[0])
    second, more = (first, None) if right is None else right.of(pairs[1])
    if count is None and more is None:
        domains.spend(first.size)
        cell = np.arange(first.size) if onto is None else onto
        return _kept(_added(left, first, right, second, cell), onto is None, keep, caps)
    count = np.ones_like(first) if count is None else count
    more = np.ones_like(first) if more is None else more
    ends = (count * more).cumsum()
    domains.spend(int(ends[-1]) if ends.size else 0)
    parts: list[Labels] = []
    start = 0
    while start < first.size:
        done = int(ends[start - 1]) if start else 0
        stop = max(start + 1, int(np.searchsorted(ends, done + PAIRS_AT_ONCE, side="right")))
        others = more[start:stop]
        each = count[start:stop] * others
        pair, place = pairs_of(np.zeros_like(each), each)
        place, rest = np.divmod(place, others[pair])
        place += first[start:stop][pair]
        rest += second[start:stop][pair]
        pair += start
        cell = pair if onto is None else onto[pair]
        part = _added(left, place, right, rest, cell)
        parts.append(_kept(part, onto is None and pair.size <= 2 * each.size, keep, caps))
        start = stop
    if len(parts) <= 1:
        return parts[0] if parts else _added(left, first, right, second, first)
    whole = Labels(
        np.concatenate([part.cell for part in parts]),
        np.concatenate([part.taken for part in parts], axis=1),
        np.concatenate([part.words for part in parts], axis=1),
    )
    return _kept(whole, onto is None, None, caps)


def _added(left: Labels, first: IntArray, right: Labels | None, second: IntArray, cell: IntArray) -> Labels:
    taken, words = left.taken.take(first, axis=1), left.words.take(first, axis=1)
    if right is not None:
        taken += right.taken.take(second, axis=1)
        words += right.words.take(second, axis=1)
    return Labels(cell, taken, words)


def _kept(labels: Labels, beaten_too: bool, keep: Keep | None, caps: IntArray) -> Labels:
    if keep is not None:
        labels = labels.select(keep(labels).nonzero()[0])
    return labels if beaten_too else unbeaten(labels, caps)


def matches(key: IntArray, asked: IntArray, cells: int) -> tuple[IntArray, IntArray]:
    """Find where each asked key starts in the sorted keys, and how often it stands there.

    Every key is below ``cells``.
    """
    if cells <= 4 * (key.size + asked.size) + 1024:
        counts = np.bincount(key, minlength=cells)
        starts = np.cumsum(counts) - counts
        return starts[asked], counts[asked]
    first = np.searchsorted(key, asked, side="left")
    return first, np.searchsorted(key, asked, side="right") - first


def in_order(code: IntArray, cells: int) -> IntArray:
    """Places of codes in rising order, equal ones as they stand; every code is below ``cells``."""
    # so short numbers are sorted digit by digit
    return np.argsort(code.astype(np.uint16) if cells <= 1 << 16 else code, kind="stable")


def found_once(key: IntArray, asked: IntArray, cells: int) -> tuple[IntArray, IntArray]:
    """Which asked keys stand among sorted keys, each there once, and where.

    Every key is below ``cells``.
    """
    if cells <= 4 * (key.size + asked.size) + 1024:
        place = np.full(cells, -1)
        place[key] = np.arange(key.size)
        where = place[asked]
        found = np.flatnonzero(where >= 0)
    else:
        where = np.searchsorted(key, asked)
        found = np.flatnonzero(key[np.minimum(where, key.size - 1)] == asked) if key.size else where[:0]
    return found, where[found]


def pairs_of(first: IntArray, count: IntArray) -> tuple[IntArray, IntArray]:
    """Pair each row k with ``count[k]`` places in a row from ``first[k]`` on."""
    ends = np.cumsum(count)
    rows = np.repeat(np.arange(count.size), count)
    return rows, np.repeat(first - ends + count, count) + np.arange(rows.size)


def unbeaten(labels: Labels, caps: IntArray) -> Labels:
    """Keep the labels of each cell that no other label of the cell beats, and none beyond a cap.

    Labels that take the same and are equally good differ in their option positions, so one of them is better.
    """
    # resource by resource: a reduction over so short an axis takes several times as long
    within = np.ones(len(labels), dtype=np.bool_)
    for taken, cap in zip(labels.taken, caps, strict=True):
        within &= taken <= cap
    if not within.all():
        labels = labels.select(np.flatnonzero(within))
    if (labels.cell[1:] > labels.cell[:-1]).all():
        # each cell has but one, as it stands
        return labels
    labels = labels.select(_sorted(labels))
    return labels.select(_staircase(labels) if caps.size == 1 else _pareto(labels))


def _sorted(labels: Labels) -> IntArray:
    """Sort by cell, first resource, first word, then everything else."""
    most = int(labels.taken[0].max()) + 1
    cells = int(labels.cell.max()) + 1
    if cells * most < WORD_LIMIT:
        major = [labels.cell * most + labels.taken[0]]
    else:
        major = [labels.taken[0], labels.cell]
    order = np.lexsort((labels.words[0], *major))
    if labels.words.shape[0] == 1 and labels.taken.shape[0] == 1:
        return order
    same = (
        (labels.cell[order[1:]] == labels.cell[order[:-1]])
        & (labels.taken[0][order[1:]] == labels.taken[0][order[:-1]])
        & (labels.words[0][order[1:]] == labels.words[0][order[:-1]])
    )
    if not same.any():
        return order
    # Ties are rare: only those are sorted by the rest, which is many words wide.
    tied = np.zeros(order.size, dtype=np.bool_)
    tied[1:] |= same
    tied[:-1] |= same
    places = np.flatnonzero(tied)
    group = np.concatenate(([0], np.cumsum(~same)))[places]
    part = order[places]
    rest = [*labels.words[:0:-1, part], *labels.taken[:0:-1, part], group]
    order[places] = part[np.lexsort(rest)]
    return order


def _staircase(labels: Labels) -> BoolArray:
    """One resource: along rising use, a label must be better than everything before it in its cell."""
    word = labels.words[0]
    fresh = np.concatenate(([True], labels.cell[1:] != labels.cell[:-1]))
    least = _least_before(word, fresh)
    again = np.zeros(word.size, dtype=np.bool_)
    again[1:] = ~fresh[1:] & (labels.taken[0][1:] == labels.taken[0][:-1]) & (word[1:] == word[:-1])
    # An equal first word at a higher use may still be better in a later word, so it stays.
    strict = labels.words.shape[0] == 1
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
    # A running minimum by doubling the reach, since the words fill 64 bits and cannot be lifted by cell.
    reach = 1
    while reach < longest:
        earlier = np.where(group[reach:] == group[:-reach], least[:-reach], INT64_MAX)
        least[reach:] = np.minimum(least[reach:], earlier)
        reach *= 2
    return least


def _pareto(labels: Labels) -> IntArray:
    """Several resources: take the first label of each cell, drop what it beats, and again.

    Once few pairs are left, all are compared at once: what is beaten by a label that is beaten itself is
    beaten by one that stays.
    """
    packed = _side_by_side(labels.taken, labels.words[0])
    kept: list[IntArray] = []
    left = np.arange(len(labels))
    cell = labels.cell
    while left.size:
        starts = np.flatnonzero(np.concatenate(([True], cell[1:] != cell[:-1])))
        count = np.diff(np.append(starts, left.size))
        behind = np.arange(left.size) - np.repeat(starts, count)
        if behind.sum() <= PAIRS_COMPARED_AT_ONCE:
            second, first = pairs_of(np.repeat(starts, count), behind)
            beaten = np.zeros(left.size, dtype=np.bool_)
            beaten[second[_beats(labels, packed, left[first], left[second])]] = True
            kept.append(left[~beaten])
            break
        # Nothing sorted behind it takes less of everything, so the first label of a cell stays.
        kept.append(left[starts])
        stays = (behind > 0) & ~_beats(labels, packed, np.repeat(left[starts], count), left)
        left, cell = left[stays], cell[stays]
    return np.sort(np.concatenate(kept))


def _beats(
    labels: Labels, packed: tuple[IntArray, int] | None, first: IntArray, second: IntArray
) -> BoolArray:
    """Tell which labels of the first beat those of the second, one by one; those stand behind them in order.

    All that is compared stands side by side in one number where it fits: a field of the one less that of the
    other borrows its guard bit exactly where it is the smaller.
    """
    word = labels.words[0]
    beaten: BoolArray
    if packed is None:
        beaten = word[first] <= word[second]
        for amounts in labels.taken:
            beaten &= amounts[first] <= amounts[second]
    else:
        fields, guards = packed
        beaten = ((fields[second] | guards) - fields[first]) & guards == guards
    if labels.words.shape[0] > 1:
        tied = np.flatnonzero(beaten)
        tied = tied[word[first[tied]] == word[second[tied]]]
        beaten[tied] = ~_later_words_better(labels, first[tied], second[tied])
    return beaten


def _side_by_side(taken: IntArray, word: IntArray) -> tuple[IntArray, int] | None:
    """Pack amounts and the rank of a word into one number each, with the guard bits above its fields.

    None where 62 bits do not hold them.
    """
    ranks = np.unique(word, return_inverse=True)[1].reshape(word.shape)
    packed: IntArray = np.zeros(word.size, dtype=np.int64)
    guards, shift = 0, 0
    for amounts in (*taken, ranks):
        above = amounts - amounts.min()
        bits = int(above.max()).bit_length()
        if shift + bits + 1 > 62:
            return None
        packed += above << shift
        guards |= 1 << (shift + bits)
        shift += bits + 1
    return packed, guards


def _later_words_better(labels: Labels, pivot: IntArray, left: IntArray) -> BoolArray:
    """Tell, of labels that equal the pivot in the first word, where one is better in a later one."""
    undecided = np.ones(left.size, dtype=np.bool_)
    better: BoolArray = np.zeros(left.size, dtype=np.bool_)
    for words in labels.words[1:]:
        better |= undecided & (words[left] < words[pivot])
        undecided &= words[left] == words[pivot]
    return better
