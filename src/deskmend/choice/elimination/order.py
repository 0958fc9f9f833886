"""In which order variables leave, and the steps over numbered relations that follow from it.

The order comes from a randomised greedy search with a fixed seed.  The work of an order is counted, not
timed, so that the same problem is solved the same way everywhere.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from deskmend.choice.elimination.labels import WORD_LIMIT
from deskmend.choice.network import VariableNumbers

MOST_ORDERS = 400
KEPT_ORDERS = 256
"""Orders that are kept for whoever asks again."""
EFFORT = 15_000
"""Elementary evaluations the search may spend."""

WORTH_AN_EVALUATION = 2000.0
"""Labels that one evaluation of the search costs as much time as: the search stops before it costs more
than the work it may save."""


LARGEST_SCOPE = math.log(WORD_LIMIT)
"""Logarithm of the cells from which on a scope is too large for the code of a cell."""


@dataclass(frozen=True)
class InteractionGraph:
    """What ordering needs to know: states of each variable, scopes of relations, parents of nodes.

    Also the number of different costs among the options of each variable, and the labels a cell is assumed to
    hold at most; beyond it, labels beat each other.
    """

    sizes: tuple[int, ...]
    scopes: tuple[VariableNumbers, ...]
    parents: tuple[tuple[int, VariableNumbers], ...]
    costs: tuple[int, ...]
    most_labels: float


@dataclass(frozen=True)
class EliminationOrder:
    """Variables in the order they leave, and the number of labels that is expected to take."""

    variables: VariableNumbers
    work: float


@lru_cache(maxsize=KEPT_ORDERS)
def find_order(graph: InteractionGraph, seed: int = 20_240, tries: int = MOST_ORDERS) -> EliminationOrder:
    """Search an elimination order of little work, the same on every machine.

    Problems that differ in values and prices alone have the same graph, so orders found are kept.
    """
    rng = random.Random(seed)
    search = _Greedy(graph)
    best = search.run(rng, noise=0.0, limit=math.inf, near=False)
    assert best is not None
    for number in range(1, tries):
        if search.effort > min(EFFORT, best.work / WORTH_AN_EVALUATION):
            break
        noise = 0.3 + 0.9 * (number % 5)
        found = search.run(rng, noise, limit=best.work, near=number % 2 == 1)
        if found is not None:
            best = found
    return best


@dataclass(frozen=True)
class _Relation:
    """A relation as ordering sees it: variables as bits, logarithm of the labels of a cell, labels of all.

    ``tied`` are nodes of it that other variables of it determine.
    """

    scope: int
    tied: int
    labels: float
    size: float


class _Ties:
    """What determines each node, and whom each variable helps to determine, while variables leave."""

    def __init__(self, parents: Mapping[int, int]) -> None:
        self.by = dict(parents)
        self.whom: dict[int, int] = {}
        for node, by in self.by.items():
            self._helps(by, node)

    def _helps(self, variables: int, node: int) -> None:
        for variable in _bits(variables):
            self.whom[variable] = self.whom.get(variable, 0) | 1 << node

    def without(self, variable: int, tied: int) -> int:
        """Nodes that stay determined in a relation that a variable leaves."""
        if not tied >> variable & 1:
            return tied & ~self.whom.get(variable, 0)
        return tied & ~(1 << variable)

    def leave(self, variable: int, tied: int) -> None:
        """Let what determined a variable stand in its place."""
        if tied >> variable & 1:
            for node in _bits(self.whom.get(variable, 0) & tied):
                self.by[node] = self.by[node] & ~(1 << variable) | self.by[variable]
                self._helps(self.by[variable], node)


class _Greedy:
    """Greedy elimination; sets of variables are bits of a number, sizes are logarithms."""

    def __init__(self, graph: InteractionGraph) -> None:
        self.logs = [math.log(size) if size else 0.0 for size in graph.sizes]
        self.cost_logs = [math.log(count) for count in graph.costs]
        self.most_labels = math.log(graph.most_labels)
        self.parents = {node: sum(1 << parent for parent in parents) for node, parents in graph.parents}
        self.nodes = sum(1 << node for node in self.parents)
        self.effort = 0
        self.cell_logs: dict[int, float] = {}
        self.told: dict[int, int] = {}
        self.start: dict[int, _Relation] = {}
        self.holding: dict[int, set[int]] = {
            variable: set() for variable in sorted({v for scope in graph.scopes for v in scope})
        }
        for number, scope in enumerate(graph.scopes):
            self.start[number] = self._relation(sum(1 << variable for variable in scope), 0, 0.0)
            for variable in scope:
                self.holding[variable].add(number)
        ties = _Ties(self.parents)
        self.growths = {
            variable: self._growth(variable, [self.start[number] for number in numbers], ties, near=True)
            for variable, numbers in self.holding.items()
        }

    def run(self, rng: random.Random, noise: float, limit: float, near: bool) -> EliminationOrder | None:
        """Eliminate greedily; None when the work passes the limit.

        `near`: what to take next is judged as if only its parents determined a node. Where that finds worse
        orders and where better ones, nobody knows before.
        """
        relations = dict(self.start)
        holding = {variable: set(numbers) for variable, numbers in self.holding.items()}
        ties = _Ties(self.parents)
        fresh = len(relations)
        growths = {variable: growth + noise * rng.random() for variable, growth in self.growths.items()}
        self.effort += len(growths)
        order = []
        work = 0.0
        while growths:
            variable = min(growths, key=growths.__getitem__)
            scope, tied, labels = self._joined([relations.pop(number) for number in holding[variable]])
            work += self._size(scope, tied, labels)
            if work >= limit:
                return None
            labels = self._labels_after(variable, labels)
            del growths[variable]
            order.append(variable)
            scope &= ~(1 << variable)
            left = ties.without(variable, tied)
            ties.leave(variable, tied)
            used = holding.pop(variable)
            if scope:
                relations[fresh] = self._relation(scope, left, labels)
            # Only neighbours of the variable that left cost another amount than before.
            for other in _bits(scope):
                holding[other] -= used
                holding[other].add(fresh)
                growth = self._growth(other, [relations[number] for number in holding[other]], ties, near)
                growths[other] = growth + noise * rng.random()
                self.effort += 1
            fresh += 1
        return EliminationOrder(tuple(order), work)

    def _joined(self, relations: Sequence[_Relation]) -> tuple[int, int, float]:
        """Variables of relations joined, nodes of these that others of them determine, labels of a cell."""
        scope, tied, labels = 0, 0, 0.0
        for relation in relations:
            scope |= relation.scope
            tied |= relation.tied
            labels += relation.labels
        return scope, tied | self._told_by(scope), labels

    def _growth(self, variable: int, relations: Sequence[_Relation], ties: _Ties, near: bool) -> float:
        """How much larger the result is than what it replaces, as a signed logarithm.

        A step that leaves less behind than it takes away is cheap however large it looks, so this finds
        far better orders than the size of the step itself.
        """
        scope, tied, labels = self._joined(relations)
        onto = scope & ~(1 << variable)
        tied = self._told_by(onto) if near else ties.without(variable, tied)
        growth = self._size(onto, tied, self._labels_after(variable, labels))
        growth -= sum(relation.size for relation in relations)
        return math.copysign(math.log1p(abs(growth)), growth)

    def _labels_after(self, variable: int, labels: float) -> float:
        """Logarithm of the labels a cell holds once a variable has left."""
        return min(self.most_labels, labels + self.cost_logs[variable])

    def _relation(self, scope: int, tied: int, labels: float) -> _Relation:
        tied |= self._told_by(scope)
        return _Relation(scope, tied, labels, self._size(scope, tied, labels))

    def _size(self, scope: int, tied: int, labels: float) -> float:
        """Labels of all cells of a scope; what cannot be gone through anyway is all alike."""
        # the code of a cell counts what is determined as well
        fits = self._cells(scope) < LARGEST_SCOPE
        return math.exp(min(self._cells(scope & ~tied) + labels, 300.0) if fits else 300.0)

    def _told_by(self, scope: int) -> int:
        """Nodes whose parents are all in a scope: their links can be joined again."""
        known = self.told.get(scope)
        if known is None:
            known = 0
            for node in _bits(scope & self.nodes):
                if self.parents[node] & ~scope == 0:
                    known |= 1 << node
            self.told[scope] = known
        return known

    def _cells(self, free: int) -> float:
        """Logarithm of the cells of some variables."""
        known = self.cell_logs.get(free)
        if known is None:
            known = self.cell_logs[free] = math.fsum(self.logs[variable] for variable in _bits(free))
        return known


def _bits(mask: int) -> list[int]:
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


@dataclass(frozen=True)
class EliminationStep:
    """One variable leaves: relations joined in this order, over these scopes, become one over ``onto``.

    ``cells`` bounds the rows of the last join: those of the variables that no others held there determine;
    infinite where the code of a cell would not fit.
    """

    inputs: tuple[int, ...]
    scopes: tuple[VariableNumbers, ...]
    onto: VariableNumbers
    output: int
    cells: float


Ties = dict[int, frozenset[int]]
"""Nodes of a relation that other variables of it determine, and these."""


def steps_of(
    scopes: Sequence[VariableNumbers],
    sizes: Sequence[int],
    links: Mapping[int, int],
    order: Sequence[int],
    most_cells: float = math.inf,
) -> list[EliminationStep]:
    """Turn an elimination order into steps; the last step joins what has no variable left.

    Where what is joined as a variable leaves would have more than ``most_cells``, it leaves in several steps,
    each with some of the relations: then least sums are not exact but never too high (mini-buckets: Dechter
    and Rish 2003, from memory).

    ``links`` holds for each node the relation that ties it to the variables that determine it.  A link adds
    nothing, so it may be joined again wherever it keeps combinations out that cannot occur.  The steps depend
    only on scopes and sizes, so they are the same whatever the relations hold.
    """
    live = dict(enumerate(scopes))
    tied: dict[int, Ties] = {number: {} for number in live}
    for node, link in links.items():
        tied[link] = tied[link] | {node: frozenset(scopes[link]) - {node}}
    steps = []
    output = len(live)
    for leaving in [*order, None]:
        bucket = {number: scope for number, scope in live.items() if leaving is None or leaving in scope}
        for some in [bucket] if leaving is None else _apart(bucket, scopes, sizes, links, most_cells):
            if not some:
                continue
            join = _JoinOrder(sizes, scopes, links, tied)
            join.run(some)
            for number in some:
                del live[number]
            held = join.reached[-1]
            onto = tuple(variable for variable in held if variable != leaving)
            cells = math.prod(float(sizes[variable]) for variable in held if variable not in join.tied)
            if math.prod(sizes[variable] for variable in held) >= WORD_LIMIT:
                cells = math.inf
            steps.append(EliminationStep(tuple(join.inputs), tuple(join.reached), onto, output, cells))
            live[output] = onto
            tied[output] = join.tied if leaving is None else _ties_without(join.tied, leaving)
            output += 1
    return steps


def _ties_without(tied: Ties, leaving: int) -> Ties:
    """What stays determined once a variable has left: what it determined is told by what determined it."""
    own = tied.get(leaving)
    out = {}
    for node, by in tied.items():
        if leaving in by:
            if own is None:
                continue
            by = by - {leaving} | own
        if node != leaving:
            out[node] = by
    return out


def _apart(
    bucket: Mapping[int, VariableNumbers],
    scopes: Sequence[VariableNumbers],
    sizes: Sequence[int],
    links: Mapping[int, int],
    most_cells: float,
) -> list[dict[int, VariableNumbers]]:
    """Relations that one variable leaves, in groups of so many cells at most; one alone may have more."""
    if math.isinf(most_cells):
        return [dict(bucket)]

    def cells(held: set[int]) -> int:
        told = (node for node, link in links.items() if node in held and held.issuperset(scopes[link]))
        return math.prod(sizes[variable] for variable in held.difference(told))

    groups: list[tuple[set[int], dict[int, VariableNumbers]]] = []
    for number in sorted(bucket, key=lambda number: (-cells(set(bucket[number])), number)):
        scope = bucket[number]
        for held, group in groups:
            if cells(held.union(scope)) <= most_cells:
                held.update(scope)
                group[number] = scope
                break
        else:
            groups.append((set(scope), {number: scope}))
    return [group for _, group in groups]


class _JoinOrder:
    """The order in which the relations of one step are joined: what keeps the result small comes first.

    So small relations are added up among themselves before a large one is gone through, once for all of them.
    """

    def __init__(
        self,
        sizes: Sequence[int],
        scopes: Sequence[VariableNumbers],
        links: Mapping[int, int],
        tied: Mapping[int, Ties],
    ) -> None:
        self._sizes = sizes
        self._scopes = scopes
        self._links = links
        self._tied_by = tied
        self.inputs: list[int] = []
        self.reached: list[VariableNumbers] = []
        self.tied: Ties = {}

    def run(self, bucket: Mapping[int, VariableNumbers]) -> None:
        left = dict(bucket)
        everything = frozenset[int]().union(*left.values())
        for node, link in self._links.items():
            if node in everything and everything.issuperset(self._scopes[link]):
                left.setdefault(link, self._scopes[link])
        held: set[int] = set()
        while left:
            number = min(left, key=lambda number: self._rank(held, number, left[number]))
            scope = left.pop(number)
            known = held.issuperset(scope) and self._tied_by[number].keys() <= self.tied.keys()
            if number not in bucket and known:
                # A link from outside the bucket that would keep nothing more out.
                continue
            held |= set(scope)
            self.tied = self._tied_by[number] | self.tied
            self.inputs.append(number)
            self.reached.append(tuple(sorted(held)))

    def _rank(self, held: set[int], number: int, scope: VariableNumbers) -> tuple[int, int, int]:
        tied, own = self.tied, self._tied_by[number]
        free = (one for one in held | set(scope) if one not in tied and one not in own)
        cells = math.prod(self._sizes[variable] for variable in free)
        return cells, -len(scope), number
