"""What is joined with what: an elimination order turned into steps over numbered relations.

In which order to eliminate variables: a randomised greedy search with a fixed seed.

The work of an order is counted, not timed, so that the same problem is solved the same way everywhere.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from deskmend.choice.network import Scope

TRIES = 400
EFFORT = 15_000
"""Elementary evaluations the search may spend."""

WORTH_AN_EVALUATION = 2000.0
"""Labels that one evaluation of the search costs as much time as: the search stops before it costs more
than the work it may save."""


@dataclass(frozen=True)
class Graph:
    """What ordering needs to know of a network.

    Parameters
    ----------
    sizes : sequence of int
        Number of states of each variable.
    scopes : sequence of tuple of int
        Scope of each relation.
    parents : mapping of int to tuple of int
        For each node, the variables that determine it.
    costs : sequence of int
        Number of different costs among the options of each variable.
    most_labels : float
        Labels a cell is assumed to hold at most; beyond it, labels beat each other.
    """

    sizes: Sequence[int]
    scopes: Sequence[tuple[int, ...]]
    parents: Mapping[int, tuple[int, ...]]
    costs: Sequence[int]
    most_labels: float


@dataclass(frozen=True)
class Order:
    """An elimination order with the number of labels it is expected to handle."""

    variables: tuple[int, ...]
    work: float


def find_order(graph: Graph, seed: int = 20_240, tries: int = TRIES) -> Order:
    """Search an elimination order of little work.

    Parameters
    ----------
    graph : Graph
        Variables and scopes.
    seed : int
        Of the random search.
    tries : int
        Most orders tried.

    Returns
    -------
    Order
        The cheapest found; the same on every machine.
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


class _Greedy:
    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        self.logs = [math.log(size) if size else 0.0 for size in graph.sizes]
        self.parents = {
            node: sum(1 << parent for parent in parents) for node, parents in graph.parents.items()
        }
        self.nodes = sum(1 << node for node in self.parents)
        self.variables = sorted({variable for scope in graph.scopes for variable in scope})
        self.effort = 0
        self.cell_logs: dict[int, float] = {}

    def run(self, rng: random.Random, noise: float, limit: float) -> Order | None:
        """Eliminate greedily; None when the work passes the limit."""
        relations: dict[int, tuple[int, float]] = {}
        holding: dict[int, set[int]] = {variable: set() for variable in self.variables}
        for number, scope in enumerate(self.graph.scopes):
            relations[number] = sum(1 << variable for variable in scope), 0.0
            for variable in scope:
                holding[variable].add(number)
        fresh = len(relations)
        prices: dict[int, float] = {}
        order = []
        work = 0.0
        stale = set(self.variables)
        left = set(self.variables)
        while left:
            for variable in sorted(stale):
                prices[variable] = self._growth(variable, holding[variable], relations) + noise * rng.random()
            variable = min(sorted(left), key=prices.__getitem__)
            joined, labels = 0, 0.0
            for number in holding[variable]:
                mask, held = relations.pop(number)
                joined |= mask
                labels += held
            work += math.exp(min(self._cells(joined) + labels, 300.0))
            if work >= limit:
                return None
            labels = min(math.log(self.graph.most_labels), labels + math.log(self.graph.costs[variable]))
            left.discard(variable)
            order.append(variable)
            joined &= ~(1 << variable)
            used = holding.pop(variable)
            stale = {other for other in _bits(joined) if other in left}
            for other in stale:
                holding[other] -= used
                holding[other].add(fresh)
            if joined:
                relations[fresh] = joined, labels
            fresh += 1
        return Order(tuple(order), work)

    def _growth(self, variable: int, numbers: set[int], relations: Mapping[int, tuple[int, float]]) -> float:
        """How much larger the result is than what it replaces, as a signed logarithm.

        A step that leaves less behind than it takes away is cheap however large it looks, so this finds
        far better orders than the size of the step itself.
        """
        scope, labels, replaced = 0, 0.0, 0.0
        for number in numbers:
            mask, held = relations[number]
            scope |= mask
            labels += held
            replaced += math.exp(min(self._cells(mask) + held, 300.0))
        self.effort += 1
        labels = min(math.log(self.graph.most_labels), labels + math.log(self.graph.costs[variable]))
        growth = math.exp(min(self._cells(scope & ~(1 << variable)) + labels, 300.0)) - replaced
        return math.copysign(math.log1p(abs(growth)), growth)

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
class Step:
    """One variable leaves.

    Parameters
    ----------
    inputs : tuple of int
        Relations to join, in this order.
    scopes : tuple of tuple of int
        Scope after each of them has been joined.
    onto : tuple of int
        Scope of the result, without the variable that leaves.
    output : int
        Number of the result.
    """

    inputs: tuple[int, ...]
    scopes: tuple[Scope, ...]
    onto: Scope
    output: int


def plan_of(
    scopes: Sequence[Scope],
    sizes: Sequence[int],
    links: Mapping[int, int],
    order: Sequence[int],
) -> list[Step]:
    """Turn an elimination order into steps; the last step joins what has no variable left.

    Parameters
    ----------
    scopes : sequence of tuple of int
        Scope of each relation at the start.
    sizes : sequence of int
        Number of states of each variable.
    links : mapping
        For each node, the relation that ties it to the variables that determine it. A link adds nothing, so
        it may be joined again wherever it keeps combinations out that cannot occur.
    order : sequence of int
        Variables in the order they leave; every variable of the scopes.

    Returns
    -------
    list of Step
        Depending only on scopes and sizes, so that it is the same whatever the relations hold.
    """
    live = dict(enumerate(scopes))
    tied = {number: frozenset(node for node, link in links.items() if link == number) for number in live}
    steps = []
    output = len(live)
    for leaving in [*order, None]:
        bucket = {number: scope for number, scope in live.items() if leaving is None or leaving in scope}
        if not bucket:
            continue
        join = _Join(sizes, scopes, links, tied)
        join.run(bucket)
        for number in bucket:
            del live[number]
        onto = tuple(variable for variable in join.reached[-1] if variable != leaving)
        steps.append(Step(tuple(join.inputs), tuple(join.reached), onto, output))
        live[output] = onto
        left = set(onto)
        tied[output] = frozenset(node for node in join.tied if left.issuperset(scopes[links[node]]))
        output += 1
    return steps


class _Join:
    """The order in which the relations of one step are joined: what keeps the result small comes first.

    So small relations are added up among themselves before a large one is gone through, once for all of them.
    """

    def __init__(
        self,
        sizes: Sequence[int],
        scopes: Sequence[Scope],
        links: Mapping[int, int],
        tied: Mapping[int, frozenset[int]],
    ) -> None:
        self._sizes = sizes
        self._scopes = scopes
        self._links = links
        self._tied_by = tied
        self.inputs: list[int] = []
        self.reached: list[Scope] = []
        self.tied: set[int] = set()

    def run(self, bucket: Mapping[int, Scope]) -> None:
        left = dict(bucket)
        everything = frozenset[int]().union(*left.values())
        for node, link in self._links.items():
            if node in everything and everything.issuperset(self._scopes[link]):
                left.setdefault(link, self._scopes[link])
        held: set[int] = set()
        while left:
            number = min(left, key=lambda number: self._rank(held, number, left[number]))
            scope = left.pop(number)
            if number not in bucket and self._links_known(number, held):
                continue
            held |= set(scope)
            self.tied |= self._tied_by[number]
            self.inputs.append(number)
            self.reached.append(tuple(sorted(held)))

    def _links_known(self, number: int, held: set[int]) -> bool:
        return held.issuperset(self._scopes[number]) and self._tied_by[number] <= self.tied

    def _rank(self, held: set[int], number: int, scope: Scope) -> tuple[int, int, int]:
        return self._cells(held | set(scope), self.tied | self._tied_by[number]), -len(scope), number

    def _cells(self, scope: set[int], tied: set[int] | frozenset[int]) -> int:
        product = 1
        for variable in scope:
            if variable not in tied:
                product *= self._sizes[variable]
        return product
