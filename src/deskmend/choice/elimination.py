"""Exact choice by variable elimination: one assignment, or the whole frontier of cost and value.

Variables leave one after the other.  What is left of them is a relation of labels over their neighbours,
each label a way to settle everything eliminated so far.  Only limits that turn out to bind are carried as
resources: the best assignment without a limit is the best with it whenever it keeps it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from deskmend.choice.evaluate import evaluate
from deskmend.choice.multipliers import Prices, search_prices
from deskmend.choice.network import Network
from deskmend.choice.packing import WORD_LIMIT
from deskmend.choice.parts import Resource
from deskmend.choice.problem import Problem
from deskmend.choice.pruning import Pruning
from deskmend.choice.result import Choice, choice_from
from deskmend.choice.tree import PRUNED_LABELS, UNPRUNED_LABELS, Found, Tree

ENGINE = "elimination"

MOST_CELLS = 2e7
"""Cells a pass without resources may be expected to handle."""

MOST_PAIRS = 1e9
"""Pairs of labels that one search may join."""

FIRST_GUESSES = (16, 4, 1)
"""Parts of the gap between lower and upper limit within which the best is sought, one after the other."""


class Elimination:
    """A search by elimination.

    Parameters
    ----------
    problem : Problem
        What is solved.
    network : Network
        The same in numbers, reduced and not impossible.
    by_cost : bool
        Whether cost comes first in the order of preference.
    most_cells : float
        Cells a pass without resources may be expected to handle.
    most_pairs : float
        Pairs of labels that the search may join.

    Raises
    ------
    TooWide
        When it would take more, here or in a search.
    """

    def __init__(
        self,
        problem: Problem,
        network: Network,
        by_cost: bool = False,
        most_cells: float = MOST_CELLS,
        most_pairs: float = MOST_PAIRS,
    ) -> None:
        self.problem = problem
        self.network = network
        self.by_cost = by_cost
        self.tree = Tree(network, by_cost, most_cells, most_pairs)

    def solve(self) -> Choice:
        """Find the best assignment.

        Returns
        -------
        Choice
            Always proven.
        """
        best = self._best(self._caps(self.problem.money))
        if best is None:
            return Choice({}, None, True, None, "infeasible", ENGINE)
        return self._choice(best)

    def frontier(self) -> list[Choice]:
        """Find every cost at which the best value changes; value comes first in the order of preference.

        Returns
        -------
        list of Choice
            Cost strictly rising, value strictly falling; empty when nothing is allowed.
        """
        money = self.problem.money
        caps = self._caps(money)
        others = {resource: cap for resource, cap in caps.items() if resource != "cost"}
        ladder = self._ladder(WORD_LIMIT if money is None else money)
        rungs: list[Found] = []
        for number, rung in enumerate(ladder):
            if all(rung.taken[resource] <= cap for resource, cap in others.items()):
                rungs.append(rung)
                continue
            # the best at these costs breaks another limit: go down from the next cost, best by best
            limit = ladder[number + 1].taken["cost"] - 1 if number + 1 < len(ladder) else money
            while limit is None or limit >= rung.taken["cost"]:
                found = self._best(self._caps(limit))
                if found is None or found.taken["cost"] < rung.taken["cost"]:
                    break
                rungs.append(found)
                limit = found.taken["cost"] - 1
        rungs.sort(key=lambda found: (found.taken["cost"], found.leading))
        kept: list[Found] = []
        for rung in rungs:
            if not kept or rung.leading < kept[-1].leading:
                kept.append(rung)
        return [self._choice(rung) for rung in kept]

    def _caps(self, money: int | None) -> dict[Resource, int]:
        """Every limit of the problem, minutes in units."""
        caps: dict[Resource, int] = {}
        if money is not None:
            caps["cost"] = money
        if self.problem.minutes is not None:
            caps["minutes"] = self.problem.minutes // self.tree.minute_unit
        for number, limit in enumerate(self.network.limits):
            caps[number] = limit.at_most
        return caps

    def _best(self, caps: Mapping[Resource, int]) -> Found | None:
        """Find the best assignment within all limits, carrying only those that bind."""
        active: list[Resource] = []
        found = self._without_limits()
        while found is not None:
            broken = [resource for resource, cap in caps.items() if found.taken[resource] > cap]
            if not broken:
                return found
            if self.by_cost and "cost" in broken:
                # nothing is cheaper than the cheapest
                return None
            active += [resource for resource in broken if resource not in active]
            found = self._within({resource: caps[resource] for resource in active})
        return None

    def _without_limits(self) -> Found | None:
        best = self.tree.best_priced(1, {})
        return None if best is None else best[0]

    def _within(self, caps: Mapping[Resource, int]) -> Found | None:
        """Find the best assignment within some limits."""
        tree = self.tree
        prices = search_prices(tree, caps)
        if prices is None:
            return None
        remaining = tree.remaining(prices.leading_weight, prices.weights)
        resources = list(caps)
        weights = [prices.weights[resource] for resource in resources]
        room = sum(prices.weights[resource] * cap for resource, cap in caps.items())
        limit = np.array([caps[resource] for resource in resources], dtype=np.int64)
        best = prices.best
        for most in self._guesses(prices):
            wanted = None
            if most is not None:
                priced = prices.leading_weight * most + room
                wanted = Pruning(remaining, weights, prices.leading_weight, tree.leading_unit, priced)
            final = tree.labelled(resources, limit, wanted, PRUNED_LABELS)
            if len(final):
                found = tree.found(final.words[:, np.lexsort(final.words[::-1])[0]])
                if best is None or found.leading <= best.leading:
                    best = found
            # every assignment up to the guess was kept, so what is best within it is best of all
            if best is not None and (most is None or best.leading <= most):
                return best
        return None

    def _guesses(self, prices: Prices) -> list[int | None]:
        """Upper limits of what leads, within which to look for the best; None: no limit."""
        if prices.best is not None:
            gap = prices.best.leading - prices.least
            return [prices.least + gap // part for part in FIRST_GUESSES]
        guesses: list[int | None] = []
        step = max(1, self.tree.leading_total // 256)
        while prices.least + step < self.tree.leading_total:
            guesses.append(prices.least + step)
            step *= 8
        return [*guesses, None]

    def _ladder(self, money: int) -> list[Found]:
        """Find the best assignment at every cost where it changes, other limits left aside."""
        tree = self.tree
        final = tree.labelled(["cost"], np.array([money], dtype=np.int64), None, UNPRUNED_LABELS)
        order = np.lexsort((*final.words[::-1], final.taken[0]))
        rungs: list[Found] = []
        for number in order.tolist():
            found = tree.found(final.words[:, number])
            if not rungs or found.leading < rungs[-1].leading:
                rungs.append(found)
        return rungs

    def _choice(self, found: Found) -> Choice:
        return choice_from(self.problem, evaluate(self.problem, self.network.names_of(found.states)), ENGINE)
