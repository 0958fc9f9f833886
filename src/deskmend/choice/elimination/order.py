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
from operator import getitem

from deskmend.choice.elimination.labels import WORD_LIMIT
from deskmend.choice.network import VariableNumbers

MOST_ORDERS = 400
KEPT_ORDERS = 256
"""Orders that are kept for whoever asks again."""
KEPT_ORDERS_OF_ALIKE = 16
"""Orders that are kept of networks much alike."""
EFFORT = 15_000
"""Elementary evaluations the search may spend."""

WORTH_AN_EVALUATION = 20_000.0
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


class KnownOrders:
    """Orders in which the variables of networks much alike left, by name.

    Any order gives the same answers; only how long that takes hangs on which is taken.
    """

    def __init__(self) -> None:
        self._places: list[dict[str, int]] = []

    def order_of(self, names: Mapping[int, str]) -> VariableNumbers | None:
        """Variables as one of the orders has them; None where none holds all of them."""
        for place in self._places:
            if all(name in place for name in names.values()):
                return tuple(sorted(names, key=lambda variable: place[names[variable]]))
        return None

    def note(self, names: Sequence[str]) -> None:
        """Keep an order that none has told so."""
        asked = set(names)
        if not any(list(names) == [name for name in place if name in asked] for place in self._places):
            self._places.insert(0, {name: k for k, name in enumerate(names)})
            del self._places[KEPT_ORDERS_OF_ALIKE:]


_Relation = tuple[int, int, float, float]
"""A relation as ordering sees it: variables as bits, those of them that are nodes which others of them
determine, logarithm of the labels of a cell, labels of all."""

EXACT = 2.0**53
"""Logarithms of whole numbers beyond 1 are whole multiples of its inverse: they add up without rounding."""
MOST_LOG = 300.0
"""Logarithm of what counts as endless."""
ENDLESS = math.exp(MOST_LOG)
BYTE = 8


class _CellLogs(dict[int, float]):
    """Logarithm of the cells of sets of variables, rounded once; worked out when first asked for."""

    def __init__(self, sizes: Sequence[int]) -> None:
        logs = [int(math.log(size) * EXACT) if size else 0 for size in sizes]
        self._by_byte = [_sums_of_some(logs[start : start + BYTE]) for start in range(0, len(logs), BYTE)]

    def __missing__(self, variables: int) -> float:
        by_byte = variables.to_bytes(len(self._by_byte), "little")
        self[variables] = cells = sum(map(getitem, self._by_byte, by_byte)) / EXACT
        return cells


def _sums_of_some(numbers: Sequence[int]) -> list[int]:
    """The sum of each subset of some numbers, a subset as bits."""
    sums = [0]
    for number in numbers:
        sums += [one + number for one in sums]
    return sums


class _Told(dict[int, int]):
    """Nodes in sets of variables whose parents are in them too: their links can be joined again."""

    def __init__(self, parents: Mapping[int, int]) -> None:
        self._parents = {1 << node: by for node, by in parents.items()}
        self._nodes = sum(self._parents)

    def __missing__(self, variables: int) -> int:
        told, nodes, others = 0, variables & self._nodes, ~variables
        while nodes:
            node = nodes & -nodes
            if not self._parents[node] & others:
                told |= node
            nodes ^= node
        self[variables] = told
        return told


class _Greedy:
    """Greedy elimination; sets of variables are bits of a number, sizes are logarithms.

    All that a set of variables tells by itself is kept: what is drawn anew comes to the same sets again.
    """

    def __init__(self, graph: InteractionGraph) -> None:
        self._cost_logs = [math.log(count) for count in graph.costs]
        self._most_labels = math.log(graph.most_labels)
        self._parents = {node: sum(1 << parent for parent in parents) for node, parents in graph.parents}
        self._cells = _CellLogs(graph.sizes)
        self._told = _Told(self._parents)
        self.effort = 0
        self._children: dict[int, int] = dict.fromkeys(range(len(graph.sizes)), 0)
        for node, by in self._parents.items():
            _help(self._children, by, node)
        self._start: dict[int, _Relation] = {}
        self._holding: dict[int, set[int]] = {
            variable: set() for variable in sorted({v for scope in graph.scopes for v in scope})
        }
        for number, scope in enumerate(graph.scopes):
            self._start[number] = self._relation(sum(1 << variable for variable in scope), 0, 0.0)
            for variable in scope:
                self._holding[variable].add(number)
        self._growths = {
            variable: self._growth(variable, [self._start[number] for number in numbers], None)
            for variable, numbers in self._holding.items()
        }

    def run(self, rng: random.Random, noise: float, limit: float, near: bool) -> EliminationOrder | None:
        """Eliminate greedily; None when the work passes the limit.

        `near`: what to take next is judged as if only its parents determined a node. Where that finds worse
        orders and where better ones, nobody knows before.
        """
        relations = dict(self._start)
        holding = {variable: set(numbers) for variable, numbers in self._holding.items()}
        # what determines each node, and whom each variable helps to determine, while variables leave
        by, whom = dict(self._parents), dict(self._children)
        judged = None if near else whom
        fresh = len(relations)
        drawn = rng.random
        growths = {variable: growth + noise * drawn() for variable, growth in self._growths.items()}
        self.effort += len(growths)
        order = []
        work = 0.0
        while growths:
            variable = min(growths, key=growths.__getitem__)
            scope, tied, labels = 0, 0, 0.0
            used = holding.pop(variable)
            for number in used:
                held, told, more, _ = relations.pop(number)
                scope |= held
                tied |= told
                labels += more
            tied |= self._told[scope]
            work += self._size(scope, tied, labels)
            if work >= limit:
                return None
            labels = min(self._most_labels, labels + self._cost_logs[variable])
            del growths[variable]
            order.append(variable)
            scope &= ~(1 << variable)
            if tied >> variable & 1:
                left = tied & ~(1 << variable)
                # what determined it stands in its place
                for node in _bits(whom[variable] & tied):
                    by[node] = by[node] & ~(1 << variable) | by[variable]
                    _help(whom, by[variable], node)
            else:
                left = tied & ~whom[variable]
            if scope:
                relations[fresh] = self._relation(scope, left, labels)
            # Only neighbours of the variable that left cost another amount than before.
            others = _bits(scope)
            for other in others:
                numbers = holding[other]
                numbers -= used
                numbers.add(fresh)
                growth = self._growth(other, [relations[number] for number in numbers], judged)
                growths[other] = growth + noise * drawn()
            self.effort += len(others)
            fresh += 1
        return EliminationOrder(tuple(order), work)

    def _growth(self, variable: int, relations: Sequence[_Relation], whom: Mapping[int, int] | None) -> float:
        """How much larger the result is than what it replaces, as a signed logarithm.

        A step that leaves less behind than it takes away is cheap however large it looks, so this finds
        far better orders than the size of the step itself. `whom` is whom each variable helps to determine;
        None: its children alone.
        """
        # asked some ten thousand times a search, so nothing is called that need not be
        scope, tied, labels, sizes = 0, 0, 0.0, 0.0
        for held, told, more, size in relations:
            scope |= held
            tied |= told
            labels += more
            sizes += size
        own = 1 << variable
        told = self._told[scope]
        if whom is None:
            gone = told & ~self._children[variable]
        else:
            gone = told | tied
            if not gone & own:
                gone &= ~whom[variable]
        scope &= ~own
        growth = ENDLESS
        if self._cells[scope] < LARGEST_SCOPE:
            labels += self._cost_logs[variable]
            if labels > self._most_labels:
                labels = self._most_labels
            labels += self._cells[scope & ~gone]
            if labels < MOST_LOG:
                growth = math.exp(labels)
        growth -= sizes
        return math.log1p(growth) if growth >= 0.0 else -math.log1p(-growth)

    def _relation(self, scope: int, tied: int, labels: float) -> _Relation:
        tied |= self._told[scope]
        return scope, tied, labels, self._size(scope, tied, labels)

    def _size(self, scope: int, tied: int, labels: float) -> float:
        """Labels of all cells of a scope; what cannot be gone through anyway is all alike."""
        # the code of a cell counts what is determined as well
        fits = self._cells[scope] < LARGEST_SCOPE
        return math.exp(min(self._cells[scope & ~tied] + labels, MOST_LOG)) if fits else ENDLESS


def _help(whom: dict[int, int], variables: int, node: int) -> None:
    """Note that some variables help to determine a node."""
    for variable in _bits(variables):
        whom[variable] |= 1 << node


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
