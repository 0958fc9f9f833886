"""In which order variables leave, and the steps over numbered relations that follow from it.

The order comes from a greedy search that climbs by drawn handicaps, with a fixed seed.  The work of an order
is counted, not timed, so that the same problem is solved the same way everywhere.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce
from operator import add, getitem, or_
from typing import NamedTuple

from deskmend.choice.elimination.labels import WORD_LIMIT
from deskmend.choice.network import VariableNumbers

MOST_ORDERS = 400
KEPT_ORDERS = 256
"""Orders that are kept for whoever asks again."""
KEPT_ORDERS_OF_ALIKE = 16
"""Orders that are kept of networks much alike."""
EFFORT = 6_000
"""Elementary evaluations the search may spend."""
HANDICAP = 4.0
"""Largest handicap of a variable, for or against it: a logarithm like that of how much larger a result is."""
DRAWN_ANEW = 0.15
"""Of so many variables the handicap is drawn anew each time."""

WORTH_AN_EVALUATION = 20_000.0
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

    From the greedy order on some variables get another handicap, drawn anew, and what is better stays.
    Problems that differ in values and prices alone have the same graph, so orders found are kept.
    """
    drawn = random.Random(seed).random
    search = _Greedy(graph)
    handicaps, near = dict.fromkeys(search.variables, 0.0), False
    best = search.run(handicaps, near, limit=math.inf)
    assert best is not None
    for number in range(1, tries):
        if search.effort > min(EFFORT, best.work / WORTH_AN_EVALUATION):
            break
        tried = {
            variable: HANDICAP * (drawn() + drawn() - 1) if drawn() < DRAWN_ANEW else before
            for variable, before in handicaps.items()
        }
        other = near != (number % 4 == 1)
        found = search.run(tried, other, limit=best.work)
        if found is not None:
            best, handicaps, near = found, tried, other
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


class _Relation(NamedTuple):
    """A relation as ordering sees it: sets of variables are bits, logarithms whole multiples of 1 / EXACT."""

    scope: int
    tied: int
    """Nodes that others of its variables determine."""
    labels: int
    """Logarithm of the labels of a cell."""
    size: int
    """Labels of all cells."""
    variables: Sequence[int]


EXACT = 2.0**20
"""Logarithms are whole multiples of its inverse: they add up without rounding."""
MOST_LOG = int(300 * EXACT)
"""Logarithm of what counts as endless."""
ENDLESS = int(math.exp(300.0))
BYTE = 8
LARGEST_SCOPE = int(math.log(WORD_LIMIT) * EXACT)
"""Logarithm of the cells from which on a scope is too large for the code of a cell."""


def _log(number: float) -> int:
    return int(math.log(number) * EXACT) if number else 0


def _exp(log: int) -> float:
    """Of a logarithm, up to what counts as endless."""
    return math.exp(log / EXACT) if log < MOST_LOG else ENDLESS


class _CellLogs(dict[int, int]):
    """Logarithm of the cells of sets of variables; worked out when first asked for."""

    def __init__(self, sizes: Sequence[int]) -> None:
        self._by_byte = _by_byte([_log(size) for size in sizes], add)

    def __missing__(self, variables: int) -> int:
        by_byte = variables.to_bytes(len(self._by_byte), "little")
        self[variables] = cells = sum(map(getitem, self._by_byte, by_byte))
        return cells


class _Told(dict[int, int]):
    """Nodes in sets of variables whose parents are in them too: their links can be joined again."""

    def __init__(self, nodes: Iterable[int], children: Sequence[int]) -> None:
        self._nodes = sum(1 << node for node in nodes)
        self._all = (1 << len(children)) - 1
        # the nodes that are not told where a variable is absent
        missed = [own | 1 << variable & self._nodes for variable, own in enumerate(children)]
        self._by_byte = _by_byte(missed, or_)

    def __missing__(self, variables: int) -> int:
        by_byte = (self._all ^ variables).to_bytes(len(self._by_byte), "little")
        self[variables] = told = self._nodes & ~reduce(or_, map(getitem, self._by_byte, by_byte), 0)
        return told


def _by_byte(numbers: Sequence[int], combine: Callable[[int, int], int]) -> list[list[int]]:
    """What each subset of some numbers comes to, eight numbers at a time; a subset as bits."""
    tables = []
    for start in range(0, len(numbers), BYTE):
        table = [0]
        for number in numbers[start : start + BYTE]:
            table += [combine(one, number) for one in table]
        tables.append(table)
    return tables


class _Greedy:
    """Greedy elimination; what a set of variables tells by itself is kept, since it comes again."""

    def __init__(self, graph: InteractionGraph) -> None:
        self._cost_logs = [_log(count) for count in graph.costs]
        self._most_labels = _log(graph.most_labels)
        self._parents = {node: sum(1 << parent for parent in parents) for node, parents in graph.parents}
        self._cells = _CellLogs(graph.sizes)
        self._children = dict.fromkeys(range(len(graph.sizes)), 0)
        for node, by in self._parents.items():
            _help(self._children, by, node)
        self._told = _Told(self._parents, list(self._children.values()))
        self.effort = 0
        self.variables = sorted({variable for scope in graph.scopes for variable in scope})
        self._start = {
            number: self._relation(sum(1 << variable for variable in scope), 0, 0)
            for number, scope in enumerate(graph.scopes)
        }
        self._holding: dict[int, set[int]] = {variable: set() for variable in self.variables}
        # of the relations that hold each variable: all their variables, and sums of their labels and sizes
        self._united, self._labels, self._sizes = (dict.fromkeys(self.variables, 0) for _ in range(3))
        for number, relation in self._start.items():
            for variable in relation.variables:
                self._holding[variable].add(number)
                self._united[variable] |= relation.scope
                self._sizes[variable] += relation.size
        self._growths = {
            variable: self._growth(variable, self._united[variable], 0, self._sizes[variable], 0, None)
            for variable in self.variables
        }

    def run(self, handicaps: Mapping[int, float], near: bool, limit: float) -> EliminationOrder | None:
        """Eliminate greedily, variables with a handicap later; None when the work reaches the limit.

        `near`: what to take next is judged as if only its parents determined a node. Where that finds worse
        orders and where better ones, nobody knows before.
        """
        relations = dict(self._start)
        holding = {variable: set(numbers) for variable, numbers in self._holding.items()}
        united, every_label, every_size = dict(self._united), dict(self._labels), dict(self._sizes)
        # what determines each node, and whom each variable helps to determine, while variables leave
        by, whom = dict(self._parents), dict(self._children)
        fresh = len(relations)
        growths = {variable: growth + handicaps[variable] for variable, growth in self._growths.items()}
        self.effort += len(growths)
        order = []
        work = 0.0
        while growths:
            variable = min(growths, key=growths.__getitem__)
            own = 1 << variable
            tied, labels = 0, every_label[variable]
            used = holding.pop(variable)
            for number in used:
                gone = relations.pop(number)
                tied |= gone.tied
                for other in gone.variables:
                    every_label[other] -= gone.labels
                    every_size[other] -= gone.size
            scope = united[variable]
            tied |= self._told[scope]
            work += self._size(scope, tied, labels)
            if work >= limit:
                return None
            del growths[variable]
            order.append(variable)
            scope &= ~own
            if tied & own:
                left = tied & ~own
                # what determined it stands in its place
                for node in _bits(whom[variable] & tied):
                    by[node] = by[node] & ~own | by[variable]
                    _help(whom, by[variable], node)
            else:
                left = tied & ~whom[variable]
            if scope:
                made = self._relation(scope, left, min(self._most_labels, labels + self._cost_logs[variable]))
                relations[fresh] = made
                # Only neighbours of the variable that left cost another amount than before.
                for other in made.variables:
                    numbers = holding[other]
                    numbers -= used
                    numbers.add(fresh)
                    united[other] = everything = united[other] & ~own | scope
                    every_label[other] = labels = every_label[other] + made.labels
                    every_size[other] = sizes = every_size[other] + made.size
                    tied = 0
                    if not near:
                        for number in numbers:
                            tied |= relations[number].tied
                    growth = self._growth(other, everything, labels, sizes, tied, None if near else whom)
                    growths[other] = growth + handicaps[other]
                self.effort += len(made.variables)
            fresh += 1
        return EliminationOrder(tuple(order), work)

    def _growth(
        self, variable: int, scope: int, labels: int, sizes: int, tied: int, whom: Mapping[int, int] | None
    ) -> float:
        """How much larger the result is than what it replaces, as a signed logarithm.

        A step that leaves less behind than it takes away is cheap however large it looks, so this finds
        far better orders than the size of the step itself. `whom` is whom each variable helps to determine;
        None: its children alone, and no node is tied but by its parents.
        """
        # asked some ten thousand times a search, so nothing is called that need not be
        own = 1 << variable
        gone = self._told[scope]
        if whom is None:
            gone &= ~self._children[variable]
        else:
            gone |= tied
            if not gone & own:
                gone &= ~whom[variable]
        scope &= ~own
        growth: float = ENDLESS
        if self._cells[scope] < LARGEST_SCOPE:
            labels += self._cost_logs[variable]
            if labels > self._most_labels:
                labels = self._most_labels
            growth = _exp(labels + self._cells[scope & ~gone])
        growth -= sizes
        return math.log1p(growth) if growth >= 0.0 else -math.log1p(-growth)

    def _relation(self, scope: int, tied: int, labels: int) -> _Relation:
        tied |= self._told[scope]
        return _Relation(scope, tied, labels, int(self._size(scope, tied, labels)), _bits(scope))

    def _size(self, scope: int, tied: int, labels: int) -> float:
        """Labels of all cells of a scope; what cannot be gone through anyway is all alike."""
        # the code of a cell counts what is determined as well
        fits = self._cells[scope] < LARGEST_SCOPE
        return _exp(self._cells[scope & ~tied] + labels) if fits else ENDLESS


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
