"""A network made ready for elimination: its parts, the order in which variables leave, and passes over them.

A part gives for each cell of a scope what it adds to every figure.  Items that couple decisions are counted
up by nodes of their own, decision by decision.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from deskmend.choice.elimination.labels import Domains, Labels, TooWide, join, pack
from deskmend.choice.elimination.least_sums import LeastSums
from deskmend.choice.elimination.order import InteractionGraph, KnownOrders, find_order, steps_of
from deskmend.choice.network import Factor, Network, Resource, VariableNumbers, with_gate
from deskmend.choice.problem import BoolArray, IntArray
from deskmend.choice.purchases import UNAVAILABLE, SharedItem, cost_of

MOST_LABELS = 6.0
"""Labels a cell is expected to hold at most in a pass that drops what cannot be best."""

ORDER_SEEDS = range(20_240, 20_244)
"""What orders of elimination are drawn from, one after the other."""

WORTH_AN_ORDER = 5e6
"""Beyond so many cells for each order drawn, another is drawn: it may save more time than it takes."""

CERTAIN_CELLS = 6e7
"""Where a search may take more cells, they are paired before it begins, and no more than so many pairs.

What no mask allows is never paired: often a tenth or a twentieth of the cells is left; only pairing tells.
"""

HOPELESS = 10.0
"""Where the first two orders take so many times the cells that are handled, no other is drawn."""

FIGURES = ("value", "cost", "minutes", "fixes")


@dataclass
class Part:
    """One summand of a problem: for each cell of a scope, amounts by figure and resource.

    A cell that a part leaves out is forbidden.
    """

    scope: VariableNumbers
    cells: IntArray
    amounts: dict[Resource, IntArray] = field(default_factory=dict)


def parts_of(network: Network) -> list[Part]:
    """Write a network as parts, everything but the shared items."""
    parts = []
    for variable in range(network.decisions):
        states = np.arange(network.sizes[variable])
        amounts: dict[Resource, IntArray] = {
            "cost": network.prices[variable],
            "minutes": network.minutes[variable],
            "fixes": network.fixes[variable],
            "rank": states,
        }
        parts.append(Part((variable,), states, amounts))
    masks: dict[VariableNumbers, BoolArray] = {}
    for scope, allowed in network.masks:
        masks[scope] = masks[scope] & allowed if scope in masks else allowed
    merged = set()

    def counted(factor: Factor, resource: Resource, least: int = 0) -> Part:
        """A table without the cells that a mask over the same variables forbids."""
        merged.add(factor.scope)
        allowed = masks.get(factor.scope)
        cells = np.arange(factor.values.size) if allowed is None else np.flatnonzero(allowed)
        return Part(factor.scope, cells, {resource: factor.values.ravel()[cells] - least})

    for factor in network.tables:
        plain = with_gate(factor, network.sizes)
        # Everything counts from the least of every table, so that no partial sum is negative.
        parts.append(counted(plain, "value", int(plain.values.min())))
    for limit in network.limits:
        for factor in limit.factors:
            parts.append(counted(with_gate(factor, network.sizes), limit.resource))
    parts += [Part(s, np.flatnonzero(allowed)) for s, allowed in masks.items() if s not in merged]
    for link in network.links:
        scope = tuple(sorted((*link.scope, link.node)))
        states_of = dict(
            zip(link.scope, np.indices(link.index.shape).reshape(len(link.scope), -1), strict=True)
        )
        states_of[link.node] = link.index.ravel()
        cells = np.ravel_multi_index([states_of[v] for v in scope], [network.sizes[v] for v in scope])
        parts.append(Part(scope, np.sort(cells)))
    return parts


def _least_of_tables(network: Network) -> int:
    return sum(int(with_gate(factor, network.sizes).values.min()) for factor in network.tables)


@dataclass
class Structure:
    """Parts, names and sizes of variables, and parents of nodes; of a problem, or of nodes put into one."""

    parts: list[Part] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    parents: dict[int, VariableNumbers] = field(default_factory=dict)

    def counting(self, items: Sequence[SharedItem], places: Mapping[int, int]) -> Structure:
        """The same with nodes that count up each item, its decisions in the order of some places."""
        out = Structure(list(self.parts), list(self.names), list(self.sizes), dict(self.parents))
        for shared in items:
            uses = sorted(shared.uses, key=lambda entry: (places.get(entry[0], -1), entry[0]))
            chain = chain_of(SharedItem(shared.item, tuple(uses)), first_node=len(out.sizes))
            out.parts += chain.parts
            out.names += chain.names
            out.sizes += chain.sizes
            out.parents.update(chain.parents)
        return out

    @property
    def used(self) -> dict[int, str]:
        """Variables that some part is over, and their names."""
        return {variable: self.names[variable] for part in self.parts for variable in part.scope}

    def links(self) -> dict[int, int]:
        """Give for each node the part that ties it to what determines it and adds nothing."""
        wanted = {tuple(sorted((*scope, node))): node for node, scope in self.parents.items()}
        return {
            wanted[part.scope]: number
            for number, part in enumerate(self.parts)
            if part.scope in wanted and not part.amounts
        }

    def graph(self, most_labels: float) -> InteractionGraph:
        """What ordering needs to know."""
        costs = [1] * len(self.sizes)
        for part in self.parts:
            if "cost" in part.amounts and len(part.scope) == 1:
                costs[part.scope[0]] = max(1, np.unique(part.amounts["cost"]).size)
        return InteractionGraph(
            sizes=tuple(self.sizes),
            scopes=tuple(part.scope for part in self.parts if part.scope),
            parents=tuple(self.parents.items()),
            costs=tuple(costs),
            most_labels=most_labels,
        )


def chain_of(shared: SharedItem, first_node: int) -> Structure:
    """Count an item's use along its decisions, one node a decision, numbered from ``first_node``."""
    classes = use_classes(shared)
    chain = Structure()
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
        # Before the first decision there is one class, nothing used, and no node for it.
        scope: VariableNumbers = (variable, node) if step == 0 else (variable, node - 1, node)
        shape = [use.size, after.size] if step == 0 else [use.size, here.size, after.size]
        axes: list[IntArray] = [rows[:, 0], rows[:, 2]] if step == 0 else [rows[:, k] for k in range(3)]
        chain.parts.append(Part(scope, np.sort(np.ravel_multi_index(axes, shape))))
        chain.names.append(f"{shared.item.name} after {step + 1}")
        chain.sizes.append(after.size)
        chain.parents[node] = scope[:-1]
    cost = np.array(classes[-1].costs, dtype=np.int64)
    last = (first_node + len(shared.uses) - 1,)
    chain.parts.append(Part(last, np.arange(cost.size), {"cost": cost}))
    return chain


@dataclass(frozen=True)
class UseClasses:
    """Classes of sums of a use: the class of each sum, one sum of each class, and after the last its cost."""

    of: dict[int, int]
    samples: list[int]
    costs: list[int]

    @property
    def size(self) -> int:
        """Number of classes."""
        return len(self.samples)


def use_classes(shared: SharedItem) -> list[UseClasses]:
    """Group the sums of a shared item's use, before each decision and after the last.

    Sums are told apart only where the cost may differ later; those that end beyond what is to be had are
    left out.
    """
    steps = [use.tolist() for _, use in shared.uses]
    layers = [{0}]
    for use in steps:
        layers.append({total + units for total in layers[-1] for units in use})
    totals = sorted(layers[-1])
    cost = dict(zip(totals, cost_of(shared.item, totals).tolist(), strict=True))
    ends = {total: cost[total] for total in totals if cost[total] != UNAVAILABLE}
    # From the end back: two sums are alike if every further use takes them to sums that are alike.
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


@dataclass(frozen=True)
class CaseAssignment:
    """One assignment: its states among the options left, what it takes of each resource.

    ``leading`` is what comes first in the order of preference, above its least conceivable amount.
    """

    states: tuple[int, ...]
    leading: int
    taken: Mapping[Resource, int]


@dataclass(frozen=True)
class Objective:
    """A weighted sum to make small: of what leads the order of preference and of resources, none negative."""

    leading: int = 1
    costs: Mapping[Resource, int] = field(default_factory=dict)

    def __hash__(self) -> int:
        """Equal ones have equal hashes."""
        return hash((self.leading, frozenset(self.costs.items())))

    def of(self, assignment: CaseAssignment) -> int:
        """Weighted sum of an assignment, above its least conceivable amount."""
        taken = assignment.taken
        return self.leading * assignment.leading + sum(w * taken[name] for name, w in self.costs.items())

    def priced(self, scale: int, prices: Mapping[Resource, int]) -> Objective:
        """Give the same so many times, with resources at a price."""
        costs = {name: weight * scale for name, weight in self.costs.items()}
        for name, price in prices.items():
            costs[name] = costs.get(name, 0) + price
        return Objective(self.leading * scale, costs)


def _orders(network: Network, quick: bool, known: KnownOrders) -> Iterator[tuple[Structure, VariableNumbers]]:
    """Structures of a network with its items counted up, and orders in which variables leave, one by one.

    An item's decisions follow one another about as they would leave, or as they stand in the problem,
    whichever promises less work before much is searched.  ``quick``: first what is known, and what is found
    at once.
    """
    parents = {link.node: link.scope for link in network.links}
    plain = Structure(parts_of(network), list(network.names), list(network.sizes), parents)
    places = known.order_of(plain.used) if quick else None
    if places is not None:
        made = plain
        if network.shared:
            made = plain.counting(network.shared, {variable: k for k, variable in enumerate(places)})
        order = known.order_of(made.used)
        if order is not None:
            yield made, order
    arranged = [plain]
    if network.shared:
        leaving = find_order(plain.graph(1.0), tries=1 if quick else 8).variables
        as_they_leave = {variable: place for place, variable in enumerate(leaving)}
        arranged = [plain.counting(network.shared, places) for places in (as_they_leave, {})]
    arranged.sort(key=lambda one: find_order(one.graph(MOST_LABELS), tries=1).work)
    if quick:
        for made in arranged:
            yield made, find_order(made.graph(MOST_LABELS), tries=1).variables
    for seed in ORDER_SEEDS:
        for made in arranged:
            yield made, find_order(made.graph(MOST_LABELS), seed).variables


class BucketTree:
    """A network, reduced and not impossible, made ready for elimination.

    TooWide when no order found keeps a pass without resources to ``most_cells``, or where more than
    `CERTAIN_CELLS` are counted and as many turn out to be allowed; ``most_pairs`` bounds the pairs of labels
    that all passes together may join.  ``known`` are orders of networks much alike: a quick search takes one
    that holds all its variables, and leaves its own there.
    """

    def __init__(
        self,
        network: Network,
        most_cells: float,
        most_pairs: float,
        quick: bool = False,
        known: KnownOrders | None = None,
    ) -> None:
        self.network = network
        self.cells = math.inf
        known = KnownOrders() if known is None else known
        for number, (made, order) in enumerate(_orders(network, quick, known), start=1):
            links = made.links()
            steps = steps_of([part.scope for part in made.parts], made.sizes, links, order)
            cells = sum(step.cells for step in steps)
            if cells < self.cells or math.isinf(self.cells):
                self.parts, self.sizes, used = made.parts, made.sizes, made.used
                self.links, self.steps, self.cells, self.leaving = links, steps, cells, order
            if self.cells <= min(most_cells, CERTAIN_CELLS if quick else WORTH_AN_ORDER * number):
                break
            if number > 1 and not quick and self.cells > HOPELESS * most_cells:
                break
        if self.cells > most_cells:
            raise TooWide(f"about {self.cells:.2g} cells; at most {most_cells:.2g} are handled")
        known.note([used[variable] for variable in self.leaving])
        self.domains = Domains(self.sizes, most_pairs)
        totals = {name: self.total(name) for name in FIGURES}
        by_cost = network.problem.first == "cost"
        self.order = ("cost", "minutes", "value", "fixes") if by_cost else FIGURES
        ranks = [size - 1 for size in network.sizes[: network.decisions]]
        self.packing = pack([*(totals[name] for name in self.order), *ranks])
        self.leading_total = totals[self.order[0]]
        self.offset = 0 if by_cost else network.offset + _least_of_tables(network)
        """By how much what leads exceeds its count from the least of every table."""
        self.words = [self._words(part) for part in self.parts]
        self.pool: list[CaseAssignment] = []
        self._met: set[tuple[int, ...]] = set()
        self._least_sums: LeastSums | None = None
        self.kept_up_to: int | None = None
        self._best: dict[Objective, CaseAssignment | None] = {}
        self._least: dict[Objective, int | None] = {}
        if CERTAIN_CELLS < self.cells and not math.isinf(most_cells):
            # passes over what is paired count as well, but not against this
            self.domains.most_pairs = min(most_pairs, CERTAIN_CELLS)
            _ = self.least_sums
            self.domains.most_pairs = most_pairs

    def _words(self, part: Part) -> IntArray:
        words = np.zeros((self.packing.words, part.cells.size), dtype=np.int64)
        for position, name in enumerate(self.order):
            if name in part.amounts:
                words += self.packing.put(position, part.amounts[name])
        if "rank" in part.amounts:
            words += self.packing.put(len(FIGURES) + part.scope[0], part.amounts["rank"])
        return words

    def total(self, resource: Resource) -> int:
        """Largest conceivable sum of a figure or resource."""
        amounts = (part.amounts[resource] for part in self.parts if resource in part.amounts)
        return sum(int(one.max()) for one in amounts if one.size)

    def largest(self, objective: Objective) -> int:
        """Largest conceivable weighted sum."""
        costs = sum(weight * self.total(name) for name, weight in objective.costs.items())
        return objective.leading * self.leading_total + costs

    @property
    def bytes(self) -> int:
        """Memory that it takes, about."""
        paired = 0 if self._least_sums is None else self._least_sums.bytes
        return paired + sum(words.nbytes for words in self.words)

    def forget(self) -> None:
        """Let go of most of the memory; what is needed is made again."""
        self._least_sums = None

    @property
    def least_sums(self) -> LeastSums:
        """Passes without resources along the steps, worked out once."""
        if self._least_sums is None:
            cells = [(part.scope, part.cells) for part in self.parts]
            self._least_sums = LeastSums(self.steps, cells, self.domains)
            if self.kept_up_to is not None:
                self.keep_up_to(self.kept_up_to)
        return self._least_sums

    def keep_up_to(self, most: int) -> None:
        """Let go for good of every assignment with more of what leads the order of preference.

        What is asked afterwards is answered among the others; what was asked before keeps its answer.
        """
        self.kept_up_to = most if self.kept_up_to is None else min(most, self.kept_up_to)
        if self._least_sums is not None:
            self._least_sums.keep_up_to(self.amounts(Objective()), self.kept_up_to)

    def best(self, objective: Objective) -> CaseAssignment | None:
        """Find the assignment with the least weighted sum of all, ties settled by preference.

        Worked out once and kept in the pool of those met; None when nothing is allowed.
        """
        if objective not in self._best:
            words = self.least_sums.best(self.amounts(objective), self._later_words)
            self._best[objective] = None if words is None else self.meet(self.assignment(words[1:]))
            self._least[objective] = None if words is None else int(words[0])
        return self._best[objective]

    def _later_words(self, number: int, rows: IntArray) -> IntArray:
        return self.words[number][:, rows]

    def meet(self, assignment: CaseAssignment) -> CaseAssignment:
        """Keep an assignment in the pool of those met."""
        if assignment.states not in self._met:
            self._met.add(assignment.states)
            self.pool.append(assignment)
        return assignment

    def thriftiest(self, resource: Resource) -> CaseAssignment | None:
        """Find the assignment that takes least of a resource; None when nothing is allowed."""
        return self.best(Objective(0, {resource: 1}))

    def least(self, objective: Objective) -> int | None:
        """Find the least weighted sum alone, a third of the work, once; None when nothing is allowed."""
        if objective not in self._least:
            least = self.least_sums.best(self.amounts(objective))
            self._least[objective] = None if least is None else int(least[0])
        return self._least[objective]

    def cells_up_to(self, objective: Objective, most: int) -> Iterator[tuple[VariableNumbers, BoolArray]]:
        """For each part over variables of the network, the cells that some assignment up to a sum passes."""
        least = self.least_sums.through(self.amounts(objective))
        for part, own in zip(self.parts, least, strict=True):
            if all(variable < len(self.network.sizes) for variable in part.scope):
                reached = np.zeros([self.sizes[variable] for variable in part.scope], dtype=np.bool_)
                reached.flat[part.cells[own <= most]] = True
                yield part.scope, reached

    def weighed(self, labels: Labels, resources: Sequence[Resource], objective: Objective) -> IntArray:
        """Weighted sum of each label."""
        return self._weighed(labels.words[0] // self.packing.fields[0].unit, labels, resources, objective)

    @staticmethod
    def _weighed(
        leading: IntArray, labels: Labels, resources: Sequence[Resource], objective: Objective
    ) -> IntArray:
        sums: IntArray = leading * objective.leading
        for resource, taken in zip(resources, labels.taken, strict=True):
            if weight := objective.costs.get(resource, 0):
                sums += weight * taken
        return sums

    def amounts(self, objective: Objective) -> list[IntArray]:
        """What each cell of each part adds to a weighted sum."""
        weights: dict[Resource, int] = {self.order[0]: objective.leading}
        for resource, weight in objective.costs.items():
            weights[resource] = weights.get(resource, 0) + weight
        sums = []
        for part in self.parts:
            total = np.zeros(part.cells.size, dtype=np.int64)
            for resource, weight in weights.items():
                if resource in part.amounts:
                    total += weight * part.amounts[resource]
            sums.append(total)
        return sums

    def labelled(self, caps: Mapping[Resource, int], wanted: Sequence[tuple[Objective, int]]) -> Labels:
        """Run a pass that keeps every label that may be best under limits, over no variable at the end.

        Of those that lead to a weighted sum of at most so much under one of some objectives; of others some.
        ``caps`` names all resources that cost.
        """
        bounds = [(self.amounts(objective), most) for objective, most in wanted]
        rows, remaining = self.least_sums.within(bounds)
        resources = list(caps)
        unit = self.packing.fields[0].unit

        def kept(place: int, labels: Labels) -> BoolArray:
            leading = labels.words[0] // unit
            some = np.zeros(len(labels), dtype=np.bool_)
            for (objective, most), least in zip(wanted, remaining[place], strict=True):
                sums = self._weighed(leading, labels, resources, objective)
                sums += least[labels.cell]
                some |= sums <= most
            return some

        store = []
        for part, words in zip(self.parts, self.words, strict=True):
            taken = np.zeros((len(caps), part.cells.size), dtype=np.int64)
            for row, resource in enumerate(caps):
                if resource in part.amounts:
                    taken[row] = part.amounts[resource]
            store.append(Labels(np.arange(part.cells.size), taken, words))
        limit = np.array(list(caps.values()), dtype=np.int64)
        for place, (step, paired) in enumerate(zip(self.steps, rows.paired_steps, strict=True)):
            labels = store[step.inputs[0]]
            joins = [
                (store[number], (joined.left, joined.right))
                for number, joined in zip(step.inputs[1:], paired.joins, strict=True)
            ]
            other, pairs = joins.pop() if joins else (None, (paired.first, paired.first))
            for right, rows_of in joins:
                labels = join(labels, right, rows_of, self.domains, limit)
            labels = join(labels, other, pairs, self.domains, limit, paired.group, partial(kept, place))
            store.append(labels)
        return store[-1]

    def assignment(self, words: IntArray) -> CaseAssignment:
        """Read an assignment with all it takes off its packed preference, shape (words,)."""
        packed = [int(word) for word in words]
        figures = {name: self.packing.get(position, packed) for position, name in enumerate(self.order)}
        decisions = range(self.network.decisions)
        states = tuple(self.packing.get(len(FIGURES) + variable, packed) for variable in decisions)
        taken: dict[Resource, int] = {"cost": figures["cost"], "minutes": figures["minutes"]}
        state = list(states) + [0] * (len(self.network.sizes) - len(states))
        for link in self.network.links:
            state[link.node] = int(link.index[tuple(state[v] for v in link.scope)])
        for limit in self.network.limits:
            if limit.resource not in taken:
                taken[limit.resource] = sum(_amount(factor, state) for factor in limit.factors)
        return CaseAssignment(states, figures[self.order[0]], taken)


def _amount(factor: Factor, state: Sequence[int]) -> int:
    if factor.gate is not None and state[factor.gate[0]] != factor.gate[1]:
        return 0
    return int(factor.values[tuple(state[v] for v in factor.scope)])
