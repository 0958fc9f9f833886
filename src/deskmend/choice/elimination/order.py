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

from deskmend.choice.network import VariableNumbers

MOST_ORDERS = 400
KEPT_ORDERS = 256
"""Orders that are kept for whoever asks again."""
EFFORT = 15_000
"""Elementary evaluations the search may spend."""

WORTH_AN_EVALUATION = 2000.0
"""Labels that one evaluation of the search costs as much time as: the search stops before it costs more
than the work it may save."""


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
    best = search.run(rng, noise=0.0, limit=math.inf)
    assert best is not None
    for number in range(1, tries):
        if search.effort > min(EFFORT, best.work / WORTH_AN_EVALUATION):
            break
        found = search.run(rng, noise=0.3 + 0.9 * (number % 5), limit=best.work)
        if found is not None:
            best = found
    return best


@dataclass(frozen=True)
class _Relation:
    """A relation as ordering sees it: variables as bits, logarithm of the labels of a cell, labels of all."""

    scope: int
    labels: float
    size: float


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
        self.start: dict[int, _Relation] = {}
        self.holding: dict[int, set[int]] = {
            variable: set() for variable in sorted({v for scope in graph.scopes for v in scope})
        }
        for number, scope in enumerate(graph.scopes):
            self.start[number] = self._relation(sum(1 << variable for variable in scope), 0.0)
            for variable in scope:
                self.holding[variable].add(number)
        self.growths = {
            variable: self._growth(variable, [self.start[number] for number in numbers])
            for variable, numbers in self.holding.items()
        }

    def run(self, rng: random.Random, noise: float, limit: float) -> EliminationOrder | None:
        """Eliminate greedily; None when the work passes the limit."""
        relations = dict(self.start)
        holding = {variable: set(numbers) for variable, numbers in self.holding.items()}
        fresh = len(relations)
        growths = {variable: growth + noise * rng.random() for variable, growth in self.growths.items()}
        self.effort += len(growths)
        order = []
        work = 0.0
        while growths:
            variable = min(growths, key=growths.__getitem__)
            joined, labels = 0, 0.0
            for number in holding[variable]:
                relation = relations.pop(number)
                joined |= relation.scope
                labels += relation.labels
            work += self._size(joined, labels)
            if work >= limit:
                return None
            labels = self._labels_after(variable, labels)
            del growths[variable]
            order.append(variable)
            joined &= ~(1 << variable)
            used = holding.pop(variable)
            if joined:
                relations[fresh] = self._relation(joined, labels)
            # Only neighbours of the variable that left cost another amount than before.
            for other in _bits(joined):
                holding[other] -= used
                holding[other].add(fresh)
                growth = self._growth(other, [relations[number] for number in holding[other]])
                growths[other] = growth + noise * rng.random()
                self.effort += 1
            fresh += 1
        return EliminationOrder(tuple(order), work)

    def _growth(self, variable: int, joined: Sequence[_Relation]) -> float:
        """How much larger the result is than what it replaces, as a signed logarithm.

        A step that leaves less behind than it takes away is cheap however large it looks, so this finds
        far better orders than the size of the step itself.
        """
        scope, labels, replaced = 0, 0.0, 0.0
        for relation in joined:
            scope |= relation.scope
            labels += relation.labels
            replaced += relation.size
        growth = self._size(scope & ~(1 << variable), self._labels_after(variable, labels)) - replaced
        return math.copysign(math.log1p(abs(growth)), growth)

    def _labels_after(self, variable: int, labels: float) -> float:
        """Logarithm of the labels a cell holds once a variable has left."""
        return min(self.most_labels, labels + self.cost_logs[variable])

    def _relation(self, scope: int, labels: float) -> _Relation:
        return _Relation(scope, labels, self._size(scope, labels))

    def _size(self, scope: int, labels: float) -> float:
        """Labels of all cells of a scope; what no machine could go through anyway is all alike."""
        return math.exp(min(self._cells(scope) + labels, 300.0))

    def _cells(self, scope: int) -> float:
        """Logarithm of the cells of a scope, nodes that the others determine not counted."""
        known = self.cell_logs.get(scope)
        if known is None:
            counted = scope
            for node in _bits(scope & self.nodes):
                if self.parents[node] & ~scope == 0:
                    counted &= ~(1 << node)
            known = self.cell_logs[scope] = math.fsum(self.logs[variable] for variable in _bits(counted))
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
    """One variable leaves: relations joined in this order, over these scopes, become one over ``onto``."""

    inputs: tuple[int, ...]
    scopes: tuple[VariableNumbers, ...]
    onto: VariableNumbers
    output: int


def steps_of(
    scopes: Sequence[VariableNumbers],
    sizes: Sequence[int],
    links: Mapping[int, int],
    order: Sequence[int],
) -> list[EliminationStep]:
    """Turn an elimination order into steps; the last step joins what has no variable left.

    ``links`` holds for each node the relation that ties it to the variables that determine it.  A link adds
    nothing, so it may be joined again wherever it keeps combinations out that cannot occur.  The steps depend
    only on scopes and sizes, so they are the same whatever the relations hold.
    """
    live = dict(enumerate(scopes))
    tied = {number: frozenset(node for node, link in links.items() if link == number) for number in live}
    steps = []
    output = len(live)
    for leaving in [*order, None]:
        bucket = {number: scope for number, scope in live.items() if leaving is None or leaving in scope}
        if not bucket:
            continue
        join = _JoinOrder(sizes, scopes, links, tied)
        join.run(bucket)
        for number in bucket:
            del live[number]
        onto = tuple(variable for variable in join.reached[-1] if variable != leaving)
        steps.append(EliminationStep(tuple(join.inputs), tuple(join.reached), onto, output))
        live[output] = onto
        left = set(onto)
        tied[output] = frozenset(node for node in join.tied if left.issuperset(scopes[links[node]]))
        output += 1
    return steps


class _JoinOrder:
    """The order in which the relations of one step are joined: what keeps the result small comes first.

    So small relations are added up among themselves before a large one is gone through, once for all of them.
    """

    def __init__(
        self,
        sizes: Sequence[int],
        scopes: Sequence[VariableNumbers],
        links: Mapping[int, int],
        tied: Mapping[int, frozenset[int]],
    ) -> None:
        self._sizes = sizes
        self._scopes = scopes
        self._links = links
        self._tied_by = tied
        self.inputs: list[int] = []
        self.reached: list[VariableNumbers] = []
        self.tied: set[int] = set()

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
            known = held.issuperset(scope) and self._tied_by[number] <= self.tied
            if number not in bucket and known:
                # A link from outside the bucket that would keep nothing more out.
                continue
            held |= set(scope)
            self.tied |= self._tied_by[number]
            self.inputs.append(number)
            self.reached.append(tuple(sorted(held)))

    def _rank(self, held: set[int], number: int, scope: VariableNumbers) -> tuple[int, int, int]:
        tied = self.tied | self._tied_by[number]
        cells = math.prod(self._sizes[variable] for variable in held | set(scope) if variable not in tied)
        return cells, -len(scope), number
