"""One case of a problem, first in coarse groups, then searched by elimination under any weights and limits.

Where what is joined as a variable leaves would be large, the variable leaves in several steps, each with some
of the relations.  Sums are never too high then, so no cell is let go of that an assignment wanted passes.

Variables leave one after the other.  Without limits one pass gives the assignment with the least weighted
sum, and it is the best within limits too whenever it keeps them.  Only limits that turn out to bind are
carried as resources of labels, and they get a price: the prices under which assignments on either side of a
limit are equally good give the highest lower bound, and the few labels between that bound and the best
known hold the answer.  (Closing the gap of a multiplier by listing what lies within it is common practice for
constrained shortest paths: Handler and Zang 1980, from memory.)
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from deskmend.choice.elimination.labels import LARGEST_SUM, WORD_LIMIT, Domains, Labels, TooWide
from deskmend.choice.elimination.least_sums import LeastSums
from deskmend.choice.elimination.order import KnownOrders, steps_of
from deskmend.choice.elimination.tree import BucketTree, CaseAssignment, Objective
from deskmend.choice.network import Network, Resource, VariableNumbers, narrow
from deskmend.choice.problem import BoolArray, IntArray, Problem
from deskmend.choice.result import Choice, Disagreement, best_choice, evaluate, leading, no_choice
from deskmend.choice.variants import Incumbent

COARSE_CELLS = 10_000.0
"""Cells that what is joined in one step has at most."""
MOST_COARSE_PAIRS = 1e7
"""Pairs that may be joined to shrink a network; beyond them it stays as it is."""


def let_go(network: Network, incumbent: Incumbent) -> None:
    """Shrink a network by what no assignment passes that keeps to the money and reaches the incumbent's mark.

    All that reach it stay, equal ones included; nothing is done where no mark is known.
    """
    if incumbent.at_most is None:
        return
    # What is owned and not for sale costs nothing: without its stock less hangs together.
    bought = [shared for shared in network.shared if shared.item.price is not None]
    network_of_bought = replace(network, shared=bought)
    tree = BucketTree(network_of_bought, math.inf, MOST_COARSE_PAIRS, quick=True, known=incumbent.orders)
    objective, room = Objective(), 0
    caps = {limit.resource: limit.at_most for limit in network.limits}
    if incumbent.cost_price and "cost" in caps:
        priced = Objective(incumbent.scale, {"cost": incumbent.cost_price})
        if tree.largest(priced) < LARGEST_SUM:
            objective, room = priced, incumbent.cost_price * caps["cost"]
    most = (incumbent.at_most - tree.offset) * objective.leading + room
    scopes = [part.scope for part in tree.parts]
    kept = [part.cells for part in tree.parts]
    amounts = tree.amounts(objective)
    for steps in (steps_of(scopes, tree.sizes, tree.links, tree.leaving, COARSE_CELLS), tree.steps):
        try:
            sums = LeastSums(
                steps, list(zip(scopes, kept, strict=True)), Domains(tree.sizes, MOST_COARSE_PAIRS)
            )
            wanted = [own <= most for own in sums.through(amounts)]
        except TooWide:
            break
        kept = [cells[some] for cells, some in zip(kept, wanted, strict=True)]
        amounts = [own[some] for own, some in zip(amounts, wanted, strict=True)]
    narrow(network, list(_masks(tree, kept)))


def _masks(tree: BucketTree, kept: Sequence[IntArray]) -> Iterator[tuple[VariableNumbers, BoolArray]]:
    """Masks over variables of a network that leave some cells of each part; of a node, of its parents."""
    nodes = {link: node for node, link in tree.links.items()}
    for number, (part, cells) in enumerate(zip(tree.parts, kept, strict=True)):
        scope = part.scope
        if any(variable >= len(tree.network.sizes) for variable in scope):
            continue
        sizes = [tree.sizes[variable] for variable in scope]
        if number in nodes:
            axis = scope.index(nodes[number])
            places = np.unravel_index(cells, sizes)
            scope, sizes = scope[:axis] + scope[axis + 1 :], sizes[:axis] + sizes[axis + 1 :]
            cells = np.ravel_multi_index(places[:axis] + places[axis + 1 :], sizes)
        reached = np.zeros(sizes, dtype=np.bool_)
        reached.flat[cells] = True
        yield scope, reached


MOST_PASS_CELLS = 1e9
"""Cells a pass without resources may be expected to handle, those that nothing allows among them."""

MOST_PAIRS = 1e9
"""Pairs of labels that one search may join."""

SCALE_LIMIT = 2**60
LARGEST_SCALE = 2**20
MOST_ROUNDS = 12
"""Passes spent on the price of one resource."""

Limits = Mapping[Resource, int]


@dataclass
class Multipliers:
    """Prices of limited resources beside ``scale`` times the objective, and what they showed.

    No assignment within the limits has a smaller weighted sum than ``least``; ``best`` is the best one met
    that keeps all limits.
    """

    scale: int
    prices: dict[Resource, int]
    least: int
    best: CaseAssignment | None


def multipliers_of(
    tree: BucketTree, objective: Objective, limits: Limits, most: int | None = None
) -> Multipliers | None:
    """Search prices for limited resources; None when some limit cannot be kept whatever is chosen.

    Any prices give a valid lower limit; good ones give a high one.  The search ends early where nothing
    within the limits has a weighted sum of at most ``most``.
    """
    for resource, cap in limits.items():
        thriftiest = tree.thriftiest(resource)
        if thriftiest is None or thriftiest.taken[resource] > cap:
            return None
    return _MultiplierSearch(tree, objective, limits, most).run()


class _MultiplierSearch:
    """One resource after the other is priced, the others as they are.

    It goes along the lower hull of the objective against what is taken: a price makes two assignments equally
    good, and the next pass either finds one below both or shows that the price is the best.
    """

    def __init__(self, tree: BucketTree, objective: Objective, limits: Limits, most: int | None) -> None:
        self.tree = tree
        self.objective = objective
        self.limits = limits
        self.most = most
        # As finely as 62 bits allow, within reason.
        room = max(1, tree.largest(objective)) * (len(limits) + 1)
        self.scale = max(1, min(LARGEST_SCALE, SCALE_LIMIT // room))
        self.prices: dict[Resource, int] = dict.fromkeys(limits, 0)
        self.kept = dict(self.prices)
        self.least: int | None = None

    def run(self) -> Multipliers | None:
        for _ in range(1 if len(self.limits) == 1 else 2):
            for resource in self.limits:
                self._price(resource)
        if self.least is None:
            return None
        keeping = [found for found in self.tree.pool if keeps(found, self.limits)]
        best = min(keeping, key=self.objective.of, default=None)
        return Multipliers(self.scale, self.kept, max(0, self.least), best)

    def _price(self, resource: Resource) -> None:
        """Find the price of one resource, the others as they are."""
        for _ in range(MOST_ROUNDS):
            known = self._set_price(resource)
            priced = self.objective.priced(self.scale, self.prices)
            best = self.tree.best(priced)
            if best is None:
                return
            room = sum(price * self.limits[name] for name, price in self.prices.items())
            least = -(-(priced.of(best) - room) // self.scale)
            if self.least is None or least > self.least:
                self.least, self.kept = least, dict(self.prices)
            if priced.of(best) >= known or (self.most is not None and least > self.most):
                return

    def _set_price(self, resource: Resource) -> int:
        """Set the price that the assignments met so far suggest; return the least priced sum of them.

        Along the lower hull of the objective against what is taken, the price is the slope where the limit
        is crossed.
        """
        self.prices[resource] = 0
        objective = self.objective.priced(self.scale, self.prices)
        taken = [found.taken[resource] for found in self.tree.pool]
        worth = [objective.of(found) for found in self.tree.pool]
        places = range(len(taken))
        lavish = min(places, key=lambda k: (worth[k], taken[k]))
        thrifty = min(places, key=lambda k: (taken[k], worth[k]))
        # No price may exceed what keeps every sum within its word.
        largest = SCALE_LIMIT // (len(self.limits) + 1) // max(1, self.tree.total(resource))
        price = 0
        while taken[lavish] > self.limits[resource]:
            price = min((worth[thrifty] - worth[lavish]) // (taken[lavish] - taken[thrifty]), largest)
            sums = [one + price * units for one, units in zip(worth, taken, strict=True)]
            lowest = min(places, key=lambda k: (sums[k], taken[k]))
            if sums[lowest] >= min(sums[lavish], sums[thrifty]):
                break
            if taken[lowest] > self.limits[resource]:
                lavish = lowest
            else:
                thrifty = lowest
        self.prices[resource] = price
        return min(one + price * units for one, units in zip(worth, taken, strict=True))


def keeps(assignment: CaseAssignment, limits: Limits) -> bool:
    """Tell whether an assignment keeps some limits."""
    return all(assignment.taken[resource] <= cap for resource, cap in limits.items())


class CaseSearch:
    """One case, asked again and again; weighted sums count from the least of every table.

    ``problem`` is what assignments are scored against.  Limits of the network are kept by `solve` alone; all
    else keeps to those it is given.
    """

    def __init__(
        self,
        problem: Problem,
        network: Network,
        most_cells: float = MOST_PASS_CELLS,
        most_pairs: float = MOST_PAIRS,
        quick: bool = False,
        orders: KnownOrders | None = None,
    ) -> None:
        self.problem = problem
        self.network = network
        self.tree = BucketTree(network, most_cells, most_pairs, quick, orders)
        self._scored: dict[tuple[int, ...], Choice] = {}

    def choice(self, found: CaseAssignment) -> Choice:
        """Score an assignment again from the problem, once."""
        if found.states not in self._scored:
            scored = evaluate(self.problem, self.network.names_of(found.states))
            self._scored[found.states] = best_choice(self.problem, scored, "elimination")
        return self._scored[found.states]

    def any(self) -> CaseAssignment | None:
        """Give some assignment, for what figures are counted from; None where nothing is allowed."""
        return self.tree.pool[0] if self.tree.pool else self.tree.best(Objective())

    @cached_property
    def shift(self) -> int:
        """By how much the figure that leads exceeds its count from the least of every table."""
        some = self.any()
        return 0 if some is None else leading(self.problem, self.choice(some)) - some.leading

    def keep_up_to(self, most: int) -> None:
        """Let go for good of every assignment with more of the figure that leads, in the problem's own count.

        What was asked before keeps its answer.
        """
        if self.any() is not None:
            self.tree.keep_up_to(most - self.shift)

    def cells_within(self, most: int | None) -> Iterator[tuple[VariableNumbers, BoolArray]]:
        """For each part over variables of the network, the cells that some assignment wanted passes.

        Wanted is what keeps all limits with at most so much of the figure that leads, in the problem's own
        count, of what was not let go of; None: any.
        """
        mark = self.tree.kept_up_to
        if most is not None:
            mark = most - self.shift if mark is None else min(mark, most - self.shift)
        if mark is None:
            return iter(())
        limits = {limit.resource: limit.at_most for limit in self.network.limits}
        found = multipliers_of(self.tree, Objective(), limits, mark) if limits else None
        if found is None:
            return self.tree.cells_up_to(Objective(), mark)
        room = sum(price * limits[name] for name, price in found.prices.items())
        return self.tree.cells_up_to(Objective().priced(found.scale, found.prices), mark * found.scale + room)

    def solve(self, incumbent: Incumbent | None = None) -> Choice:
        """Find the best assignment within all limits; infeasible also where nothing reaches the incumbent."""
        incumbent = Incumbent() if incumbent is None else incumbent
        limits = {limit.resource: limit.at_most for limit in self.network.limits}
        most = incumbent.at_most
        if most is not None and incumbent.cost_price and "cost" in limits:
            # The price of money of an earlier part may show at once that nothing is to be had here.
            priced = Objective(incumbent.scale, {"cost": incumbent.cost_price})
            best = self.tree.best(priced)
            room = incumbent.cost_price * limits["cost"]
            if best is None or -(-(priced.of(best) - room) // incumbent.scale) + self.shift > most:
                return no_choice("elimination")
        most = None if most is None else most - self.shift
        found = self.best(Objective(), limits, most, incumbent)
        if found is None:
            return no_choice("elimination")
        if self.shift != self.tree.offset:
            raise Disagreement(f"counted from {self.tree.offset}, scored again from {self.shift}")
        return self.choice(found)

    def best(
        self,
        objective: Objective,
        limits: Limits,
        most: int | None = None,
        incumbent: Incumbent | None = None,
    ) -> CaseAssignment | None:
        """Find the assignment with the least weighted sum, of at most ``most``, ties settled by preference.

        TooWide when the sums do not fit into 64 bits or there are too many labels.
        """
        self._check(objective)
        found = self.tree.best(objective)
        binding: dict[Resource, int] = {}
        while found is not None and (most is None or objective.of(found) <= most):
            broken = {name: cap for name, cap in limits.items() if found.taken[name] > cap}
            if not broken:
                return found
            if self.tree.order[0] in broken:
                # Nothing takes less of what leads.
                return None
            binding |= broken
            found = self._best_within(objective, binding, most, incumbent)
        return None

    def _best_within(
        self, objective: Objective, limits: Limits, most: int | None, incumbent: Incumbent | None
    ) -> CaseAssignment | None:
        """Find the same where all limits are likely to bind."""
        multipliers = multipliers_of(self.tree, objective, limits, most)
        if multipliers is None or (most is not None and multipliers.least > most):
            return None
        if incumbent is not None and not incumbent.cost_price and "cost" in limits:
            incumbent.scale, incumbent.cost_price = multipliers.scale, multipliers.prices["cost"]
        best = multipliers.best
        pruned = _Pruned(self.tree, objective, limits, multipliers)
        for guess in self._guesses(objective, multipliers, most):
            labels = pruned.labels(guess)
            if len(labels):
                weighed = self.tree.weighed(labels, list(pruned.caps), objective)
                found = self.tree.assignment(labels.words[:, np.lexsort((*labels.words[::-1], weighed))[0]])
                if best is None or objective.of(found) <= objective.of(best):
                    best = found
            # Every assignment up to the guess was kept, so what is best within it is best of all.
            if best is not None and (guess is None or objective.of(best) <= guess):
                return best
        return None

    def _guesses(self, objective: Objective, multipliers: Multipliers, most: int | None) -> list[int | None]:
        """Weighted sums up to which to look for the best; None: any."""
        least = multipliers.least
        ends = [] if most is None else [most]
        if multipliers.best is not None:
            ends.append(objective.of(multipliers.best))
        if ends:
            return [min(ends)]
        largest = self.tree.largest(objective)
        guesses: list[int | None] = []
        step = max(1, largest // 256)
        while least + step < largest:
            guesses.append(least + step)
            step *= 8
        return [*guesses, None]

    def least(self, objective: Objective) -> int | None:
        """Find the least weighted sum without a limit; None when nothing is allowed.

        TooWide when the sums do not fit into 64 bits.
        """
        self._check(objective)
        return self.tree.least(objective)

    def up_to(self, wanted: Sequence[tuple[Objective, int]], limits: Limits) -> list[CaseAssignment]:
        """Find every assignment within limits that nothing beats, up to some weighted sum of any of several.

        Nothing beats it in the figure that leads and in the resources that cost or are limited.  TooWide as
        for `best`.
        """
        if self.any() is None:
            return []
        for objective, _ in wanted:
            self._check(objective)
        # What costs has its price already, so its limit needs none.
        priced = {name for objective, _ in wanted for name in objective.costs}
        unpriced = {name: cap for name, cap in limits.items() if name not in priced}
        costly = {name: cap for name, cap in limits.items() if name in priced}
        if all(keeps(min(self.tree.pool, key=objective.of), unpriced) for objective, _ in wanted):
            # What nothing beats without the limit and keeps it is not beaten with it.
            found = self._listed([(objective, above, None) for objective, above in wanted], costly)
            if all(keeps(one, unpriced) for one in found):
                return found
        bounded = []
        for objective, above in wanted:
            multipliers = multipliers_of(self.tree, objective, unpriced, above)
            if multipliers is not None and multipliers.least <= above:
                bounded.append((objective, above, multipliers))
        return self._listed(bounded, limits)

    def _listed(
        self, wanted: Sequence[tuple[Objective, int, Multipliers | None]], limits: Limits
    ) -> list[CaseAssignment]:
        pruned = [_Pruned(self.tree, objective, limits, found) for objective, _, found in wanted]
        if not pruned:
            return []
        caps = {name: cap for one in pruned for name, cap in one.caps.items()}
        bounds = [one.up_to(above) for one, (_, above, _) in zip(pruned, wanted, strict=True)]
        labels = self.tree.labelled(caps, bounds)
        return [self.tree.assignment(labels.words[:, number]) for number in range(len(labels))]

    def _check(self, objective: Objective) -> None:
        if self.tree.largest(objective) >= LARGEST_SUM:
            raise TooWide("weighted sums do not fit into 64 bits")


class _Pruned:
    """Labels within limits that nothing beats, of those that may keep to a weighted sum.

    What costs and what is limited are their resources; a limit without a multiplier only caps them.
    """

    def __init__(
        self, tree: BucketTree, objective: Objective, limits: Limits, multipliers: Multipliers | None
    ) -> None:
        self.caps: dict[Resource, int] = {name: tree.total(name) for name in objective.costs} | dict(limits)
        self._tree = tree
        self._scale, self._room = 1, 0
        if multipliers is not None:
            objective = objective.priced(multipliers.scale, multipliers.prices)
            self._scale = multipliers.scale
            self._room = sum(price * limits[name] for name, price in multipliers.prices.items())
        self._objective = objective

    def up_to(self, above: int | None) -> tuple[Objective, int]:
        """What keeps all up to a weighted sum, some beyond it; None: any."""
        most = WORD_LIMIT if above is None else above * self._scale + self._room
        return self._objective, most

    def labels(self, above: int | None) -> Labels:
        """All up to a weighted sum, some beyond it; None: any."""
        return self._tree.labelled(self.caps, [self.up_to(above)])
