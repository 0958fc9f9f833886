"""A network made ready for elimination: parts, order, packed preference, and passes over them.

A network as summands for elimination: for each cell of a scope, what it adds to every figure.

Shared items for elimination: nodes that count up a use, decision by decision.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from deskmend.choice.elimination.labels import Domains, Relation, TooWide, join, pack, project
from deskmend.choice.elimination.least_sums import Passes, Pruning, Remaining
from deskmend.choice.elimination.order import Graph, find_order, plan_of
from deskmend.choice.network import Factor, Network, Scope, with_gate
from deskmend.choice.problem import IntArray
from deskmend.choice.purchases import UNAVAILABLE, SharedItem, cost_of

Resource = str | int
"""What labels keep track of: "cost", "minutes", or the number of a side limit."""


@dataclass
class Part:
    """One summand of a problem: for each cell of a scope, amounts by field and resource."""

    scope: Scope
    cells: IntArray
    amounts: dict[Resource, IntArray]


def parts_of(network: Network) -> list[Part]:
    """Write a network as parts; a cell that a part leaves out is forbidden.

    Parameters
    ----------
    network : Network
        Reduced and not impossible.

    Returns
    -------
    list of Part
        Everything but the shared items.
    """
    return [
        *_option_parts(network),
        *_value_parts(network),
        *_limit_parts(network),
        *_mask_parts(network),
        *_link_parts(network),
    ]


def _option_parts(network: Network) -> list[Part]:
    return [
        Part(
            (variable,),
            np.arange(network.sizes[variable]),
            {
                "cost": network.prices[variable],
                "minutes": network.minutes[variable],
                "fixes": network.fixes[variable],
                "rank": np.arange(network.sizes[variable]),
            },
        )
        for variable in range(network.decisions)
    ]


def _value_parts(network: Network) -> list[Part]:
    parts = []
    for factor in network.tables:
        scope, values = with_gate(factor, network.sizes)
        parts.append(Part(scope, np.arange(values.size), {"value": (values - values.min()).ravel()}))
    return parts


def _limit_parts(network: Network) -> list[Part]:
    parts = []
    for number, limit in enumerate(network.limits):
        for factor in limit.factors:
            scope, values = with_gate(factor, network.sizes)
            parts.append(Part(scope, np.arange(values.size), {number: values.ravel()}))
    return parts


def _mask_parts(network: Network) -> list[Part]:
    return [Part(scope, np.flatnonzero(allowed), {}) for scope, allowed in network.masks]


def _link_parts(network: Network) -> list[Part]:
    parts = []
    for link in network.links:
        scope = tuple(sorted((*link.scope, link.node)))
        states = dict(zip(link.scope, np.indices(link.index.shape).reshape(len(link.scope), -1), strict=True))
        states[link.node] = link.index.ravel()
        cells = np.ravel_multi_index([states[v] for v in scope], [network.sizes[v] for v in scope])
        parts.append(Part(scope, np.sort(cells), {}))
    return parts


@dataclass
class Chain:
    """The nodes that count up one item's use.

    Parameters
    ----------
    parts : list of Part
        How each node follows from the one before, and what the last one costs.
    sizes : list of int
        States of each node.
    parents : dict
        The variables that determine each node.
    """

    parts: list[Part] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    parents: dict[int, Scope] = field(default_factory=dict)


def chain_of(shared: SharedItem, first_node: int) -> Chain:
    """Count an item's use along its decisions, telling sums apart only where the cost may differ later.

    Parameters
    ----------
    shared : SharedItem
        Item with the use of each of its decisions, in the order they are counted.
    first_node : int
        Number of the first node to add.

    Returns
    -------
    Chain
        One node a decision.
    """
    classes = use_classes(shared)
    chain = Chain()
    for step, (variable, use) in enumerate(shared.uses):
        here, after = classes[step], classes[step + 1]
        node = first_node + step
        rows = np.array(
            [
                (option, before, after.of[total + units])
                for option, units in enumerate(use.tolist())
                for before, total in enumerate(here.samples)
                if total + units in after.of
            ],
            dtype=np.int64,
        ).reshape(-1, 3)
        scope: Scope = (variable, node) if step == 0 else (variable, node - 1, node)
        shape = [use.size, after.size] if step == 0 else [use.size, here.size, after.size]
        axes: list[IntArray] = [rows[:, 0], rows[:, 2]] if step == 0 else [rows[:, k] for k in range(3)]
        chain.parts.append(Part(scope, np.sort(np.ravel_multi_index(axes, shape)), {}))
        chain.sizes.append(after.size)
        chain.parents[node] = scope[:-1]
    cost = np.array(classes[-1].costs, dtype=np.int64)
    chain.parts.append(Part((first_node + len(shared.uses) - 1,), np.arange(cost.size), {"cost": cost}))
    return chain


@dataclass(frozen=True)
class UseClasses:
    """Sums of a use after some decisions, told apart only where the cost may differ later."""

    of: dict[int, int]
    samples: list[int]
    costs: list[int]

    @property
    def size(self) -> int:
        """Number of classes."""
        return len(self.samples)


def use_classes(shared: SharedItem) -> list[UseClasses]:
    """Group the sums of a shared item's use, before each decision and after the last.

    Parameters
    ----------
    shared : SharedItem
        Item with the use of each of its decisions, in the order they are counted.

    Returns
    -------
    list of UseClasses
        One more than decisions.  Sums that end beyond what is to be had are left out.
    """
    steps = [use.tolist() for _, use in shared.uses]
    layers = [{0}]
    for use in steps:
        layers.append({total + units for total in layers[-1] for units in use})
    totals = sorted(layers[-1])
    cost = dict(zip(totals, cost_of(shared.item, totals).tolist(), strict=True))
    ends = {total: cost[total] for total in totals if cost[total] != UNAVAILABLE}
    signs: dict[int, object] = dict(ends)
    result = [_classes(signs, ends)]
    for layer, use in zip(reversed(layers[:-1]), reversed(steps), strict=True):
        after = result[-1].of
        signs = {}
        for total in sorted(layer):
            sign = tuple(after.get(total + units, -1) for units in use)
            if any(reached >= 0 for reached in sign):
                signs[total] = sign
        result.append(_classes(signs, {}))
    result.reverse()
    return result


def _classes(signs: dict[int, object], costs: dict[int, int]) -> UseClasses:
    number: dict[object, int] = {}
    of: dict[int, int] = {}
    samples: list[int] = []
    for total in sorted(signs):
        sign = signs[total]
        if sign not in number:
            number[sign] = len(number)
            samples.append(total)
        of[total] = number[sign]
    return UseClasses(of, samples, [costs.get(total, 0) for total in samples])


MOST_LABELS = 6.0
"""Labels a cell is expected to hold at most in a pass that drops what cannot be best."""

FIGURES = ("value", "cost", "minutes", "fixes")


@dataclass(frozen=True)
class Found:
    """One assignment, as elimination sees it.

    Parameters
    ----------
    states : tuple of int
        State of each decision among the options left.
    leading : int
        What comes first in the order of preference, above its least conceivable amount.
    taken : mapping
        Amount of each resource; minutes in units.
    """

    states: tuple[int, ...]
    leading: int
    taken: Mapping[Resource, int]


class Tree:
    """A network made ready for elimination.

    Parameters
    ----------
    network : Network
        Reduced and not impossible.
    by_cost : bool
        Whether cost comes first in the order of preference, else the value.
    most_cells : float
        Cells a pass without resources may be expected to handle.
    most_pairs : float
        Pairs of labels that all passes together may join.

    Raises
    ------
    TooWide
        When no order found keeps to ``most_cells``.
    """

    def __init__(self, network: Network, by_cost: bool, most_cells: float, most_pairs: float) -> None:
        self.network = network
        self.sizes = list(network.sizes)
        self.parents = {link.node: link.scope for link in network.links}
        self.parts = parts_of(network)
        self.minute_unit = math.gcd(*(int(m) for amounts in network.minutes for m in amounts)) or 1
        self._chain_items()
        self.links = self._links()
        self.domains = Domains(self.sizes, most_pairs)
        totals = {name: self.total(name) for name in FIGURES}
        self.order = ("cost", "minutes", "value", "fixes") if by_cost else FIGURES
        ranks = [size - 1 for size in network.sizes[: network.decisions]]
        self.packing = pack([*(totals[name] for name in self.order), *ranks])
        self.leading_total = totals[self.order[0]]
        self.leading_unit = self.packing.slots[0].unit
        order = find_order(self._graph(MOST_LABELS)).variables
        self.steps = plan_of([part.scope for part in self.parts], self.sizes, self.links, order)
        self.cells = self._cells()
        if self.cells > most_cells:
            raise TooWide(f"about {self.cells:.2g} cells; at most {most_cells:.2g} are handled")
        self._passes: Passes | None = None
        self.pool: list[Found] = []
        self._met: set[tuple[int, ...]] = set()
        self._thriftiest: dict[Resource, Found | None] = {}
        self._unlimited: list[Found | None] = []
        self.words = [self._words(part) for part in self.parts]

    def _chain_items(self) -> None:
        """Add nodes that count up the use of each shared item."""
        if not self.network.shared:
            return
        place = {variable: k for k, variable in enumerate(find_order(self._graph(1.0), tries=8).variables)}
        for shared in self.network.shared:
            uses = sorted(shared.uses, key=lambda entry: (place.get(entry[0], -1), entry[0]))
            chain = chain_of(SharedItem(shared.item, tuple(uses)), first_node=len(self.sizes))
            self.parts += chain.parts
            self.sizes += chain.sizes
            self.parents.update(chain.parents)

    def _links(self) -> dict[int, int]:
        """Give for each node the part that ties it to what determines it and adds nothing."""
        wanted = {tuple(sorted((*scope, node))): node for node, scope in self.parents.items()}
        return {
            wanted[part.scope]: number
            for number, part in enumerate(self.parts)
            if part.scope in wanted and not part.amounts
        }

    def _graph(self, most_labels: float) -> Graph:
        costs = [1] * len(self.sizes)
        for part in self.parts:
            if "cost" in part.amounts and len(part.scope) == 1:
                costs[part.scope[0]] = max(1, np.unique(part.amounts["cost"]).size)
        scopes = [part.scope for part in self.parts if part.scope]
        return Graph(self.sizes, scopes, self.parents, costs, most_labels)

    def _cells(self) -> float:
        """Cells of all steps together, without labels."""
        total = 0.0
        for step in self.steps:
            held = set(step.scopes[-1])
            free = [v for v in held if v not in self.parents or not set(self.parents[v]) <= held]
            total += math.prod(float(self.sizes[v]) for v in free)
        return total

    def total(self, resource: Resource) -> int:
        """Largest conceivable sum of a figure or resource.

        Parameters
        ----------
        resource : str or int
            A figure or a resource.

        Returns
        -------
        int
            Minutes in units.
        """
        return sum(
            int(amounts.max())
            for amounts in (self.amounts(part, resource) for part in self.parts)
            if amounts is not None and amounts.size
        )

    def amounts(self, part: Part, resource: Resource) -> IntArray | None:
        """What a part adds to a resource, minutes in units; None when nothing.

        Parameters
        ----------
        part : Part
            One of the tree's.
        resource : str or int
            A figure or a resource.

        Returns
        -------
        integer array or None
            One number a cell.
        """
        amounts = part.amounts.get(resource)
        if amounts is not None and resource == "minutes":
            return amounts // self.minute_unit
        return amounts

    def _words(self, part: Part) -> IntArray:
        words = np.zeros((self.packing.words, part.cells.size), dtype=np.int64)
        for position, name in enumerate(self.order):
            amounts = self.amounts(part, name)
            if amounts is not None:
                words += self.packing.put(position, amounts)
        if "rank" in part.amounts:
            words += self.packing.put(len(FIGURES) + part.scope[0], part.amounts["rank"])
        return words

    @property
    def bytes(self) -> int:
        """Memory that it takes, about [bytes]."""
        paired = 0 if self._passes is None else self._passes.bytes
        return paired + sum(words.nbytes for words in self.words)

    def forget_passes(self) -> None:
        """Let go of the passes, most of the memory; they are made again when needed."""
        self._passes = None

    @property
    def passes(self) -> Passes:
        """Passes without resources along the steps, worked out once."""
        if self._passes is None:
            cells = [(part.scope, part.cells) for part in self.parts]
            self._passes = Passes(self.steps, cells, self.domains)
        return self._passes

    def best_priced(self, leading_weight: int, prices: Mapping[Resource, int]) -> tuple[Found, int] | None:
        """Find the best assignment when resources have a price instead of a limit.

        Parameters
        ----------
        leading_weight : int
            Weight of what leads the order of preference.
        prices : mapping
            Weight of each resource.

        Returns
        -------
        (Found, int) or None
            The assignment, ties settled by preference, and its priced sum; None when nothing is allowed.
        """
        best = self.passes.best(self._priced(leading_weight, prices), self._later)
        if best is None:
            return None
        found = self.found(best[1:])
        self.meet(found)
        return found, int(best[0])

    def _later(self, number: int, rows: IntArray) -> IntArray:
        return self.words[number][:, rows]

    def meet(self, found: Found) -> None:
        """Keep an assignment in the pool of those met."""
        if found.states not in self._met:
            self._met.add(found.states)
            self.pool.append(found)

    def least_priced(self, leading_weight: int, prices: Mapping[Resource, int]) -> int:
        """Find the least priced sum alone, which takes a third of finding the assignment too.

        Parameters
        ----------
        leading_weight : int
            Weight of what leads the order of preference.
        prices : mapping
            Weight of each resource.

        Raises
        ------
        ValueError
            Nothing is allowed.
        """
        best = self.passes.best(self._priced(leading_weight, prices))
        if best is None:
            raise ValueError("nothing is allowed")
        return int(best[0])

    def thriftiest(self, resource: Resource) -> Found | None:
        """Find the assignment that takes least of a resource.

        Parameters
        ----------
        resource : str or int
            A resource.

        Returns
        -------
        Found or None
            Worked out once; None when nothing is allowed.
        """
        if resource not in self._thriftiest:
            best = self.best_priced(0, {resource: 1})
            self._thriftiest[resource] = None if best is None else best[0]
        return self._thriftiest[resource]

    def unlimited(self) -> Found | None:
        """Find the best assignment when no resource is limited.

        Returns
        -------
        Found or None
            Worked out once; None when nothing is allowed.
        """
        if not self._unlimited:
            best = self.best_priced(1, {})
            self._unlimited.append(None if best is None else best[0])
        return self._unlimited[0]

    def remaining(self, leading_weight: int, prices: Mapping[Resource, int]) -> Remaining:
        """What must still be added at every point of the plan when resources have a price.

        Parameters
        ----------
        leading_weight : int
            Weight of what leads the order of preference.
        prices : mapping
            Weight of each resource.

        Returns
        -------
        Remaining
            For every step.
        """
        return self.passes.remainders(self._priced(leading_weight, prices))

    def _priced(self, leading_weight: int, prices: Mapping[Resource, int]) -> list[IntArray]:
        weights: dict[Resource, int] = {self.order[0]: leading_weight}
        for resource, price in prices.items():
            weights[resource] = weights.get(resource, 0) + price
        sums = []
        for part in self.parts:
            priced = np.zeros(part.cells.size, dtype=np.int64)
            for resource, weight in weights.items():
                amounts = self.amounts(part, resource)
                if amounts is not None:
                    priced += weight * amounts
            sums.append(priced)
        return sums

    def labelled(self, resources: Sequence[Resource], caps: IntArray, pruning: Pruning | None) -> Relation:
        """Run a pass that keeps every label that may be best under limits.

        Parameters
        ----------
        resources : sequence
            What labels keep track of.
        caps : integer array
            Limit of each.
        pruning : Pruning or None
            Drops labels that cannot be wanted.

        Returns
        -------
        Relation
            Over no variable.
        """
        store = []
        for part, words in zip(self.parts, self.words, strict=True):
            taken = np.zeros((len(resources), part.cells.size), dtype=np.int64)
            for row, resource in enumerate(resources):
                amounts = self.amounts(part, resource)
                if amounts is not None:
                    taken[row] = amounts
            store.append(Relation(part.scope, part.cells, taken, words))
        links = set(self.links.values())
        for place, step in enumerate(self.steps):
            joined = store[step.inputs[0]]
            last = len(step.inputs) - 1
            for k in range(1, last):
                keep = None if pruning is None else pruning.on_the_way(place, k - 1)
                joined = join(joined, store[step.inputs[k]], step.scopes[k], self.domains, caps, keep)
            keep = None if pruning is None else pruning.result(place)
            if last:
                joined = join(joined, store[step.inputs[last]], step.onto, self.domains, caps, keep)
            else:
                joined = project(joined, step.onto, self.domains, caps, keep)
            for number in step.inputs:
                # a relation is used once, and what is joined is freed; links may be joined again
                if number not in links:
                    store[number] = _nothing(store[number])
            store.append(joined)
        return store[-1]

    def found(self, words: IntArray) -> Found:
        """Read an assignment off its packed preference.

        Parameters
        ----------
        words : integer array, shape (words,)
            Packed.

        Returns
        -------
        Found
            With all its resources.
        """
        packed = [int(word) for word in words]
        figures = {name: self.packing.get(position, packed) for position, name in enumerate(self.order)}
        decisions = range(self.network.decisions)
        states = tuple(self.packing.get(len(FIGURES) + variable, packed) for variable in decisions)
        taken: dict[Resource, int] = {"cost": figures["cost"], "minutes": figures["minutes"]}
        state = list(states) + [0] * (len(self.network.sizes) - len(states))
        for link in self.network.links:
            state[link.node] = int(link.index[tuple(state[v] for v in link.scope)])
        for number, limit in enumerate(self.network.limits):
            taken[number] = sum(_amount(factor, state) for factor in limit.factors)
        return Found(states, figures[self.order[0]], taken)


def _nothing(relation: Relation) -> Relation:
    return Relation(relation.scope, relation.cell[:0], relation.taken[:, :0], relation.words[:, :0])


def _amount(factor: Factor, state: Sequence[int]) -> int:
    if factor.gate is not None and state[factor.gate[0]] != factor.gate[1]:
        return 0
    return int(factor.values[tuple(state[v] for v in factor.scope)])
