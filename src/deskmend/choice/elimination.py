"""Exact choice by variable elimination.

Variables leave one after the other.  What is left of them is a relation of labels over their neighbours,
each label a way to settle everything eliminated so far.  Only limits that turn out to bind are carried as
resources: the best assignment without a limit is the best with it whenever it keeps it.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from itertools import takewhile

import numpy as np

from deskmend.choice.bar import Bar
from deskmend.choice.evaluate import evaluate
from deskmend.choice.labels import Relation
from deskmend.choice.multipliers import Prices, search_prices
from deskmend.choice.network import Network
from deskmend.choice.packing import WORD_LIMIT
from deskmend.choice.parts import Resource
from deskmend.choice.problem import Problem
from deskmend.choice.pruning import Pruning
from deskmend.choice.result import Choice, choice_from
from deskmend.choice.tree import Found, Tree

ENGINE = "elimination"

MOST_CELLS = 6e7
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
    bar : Bar, optional
        What earlier cases of the same problem showed; prices found here are noted in it.

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
        bar: Bar | None = None,
    ) -> None:
        self.problem = problem
        self.network = network
        self.by_cost = by_cost
        self.bar = Bar() if bar is None else bar
        self._shift = 0
        self.tree = Tree(network, by_cost, most_cells, most_pairs)

    def solve(self) -> Choice:
        """Find the best assignment.

        Returns
        -------
        Choice
            Always proven; infeasible also where nothing reaches the bar.
        """
        best = self._best(self._caps(self.problem.money))
        if not best:
            return Choice({}, None, True, None, "infeasible", ENGINE)
        return self.choice(best[0])

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

    def _best(self, caps: Mapping[Resource, int]) -> list[Found]:
        """Find the best assignment within all limits, carrying only those that bind.

        What else is known for lower limits of the cost follows it; empty when nothing is allowed.
        """
        active: list[Resource] = []
        if self._outpriced(caps):
            return []
        best = self.tree.unlimited()
        self._set_shift(best)
        found = [] if best is None else [best]
        while found:
            if self._hopeless(found[0].leading):
                return []
            broken = [resource for resource, cap in caps.items() if found[0].taken[resource] > cap]
            if not broken:
                return [found[0], *takewhile(partial(_keeps, caps=caps), found[1:])]
            if self.by_cost and "cost" in broken:
                # nothing is cheaper than the cheapest
                return []
            active += [resource for resource in broken if resource not in active]
            found = self._within({resource: caps[resource] for resource in active})
        return []

    def _hopeless(self, least: int) -> bool:
        """Tell whether nothing up to what is looked for can come of this lower limit."""
        return self.bar.at_most is not None and least + self._shift > self.bar.at_most

    def _set_shift(self, found: Found | None) -> None:
        """Learn by what constant the figure that leads exceeds its count, from the least of every table."""
        if found is not None and self.bar.at_most is not None:
            scored = evaluate(self.problem, self.network.names_of(found.states))
            self._shift = (scored.cost if self.by_cost else scored.value) - found.leading

    def _outpriced(self, caps: Mapping[Resource, int]) -> bool:
        """Tell whether the price of money of an earlier case shows at once that nothing is to be had here."""
        weight = self.bar.cost_weight
        if self.by_cost or self.bar.at_most is None or not weight or "cost" not in caps:
            return False
        priced = self.tree.best_priced(self.bar.leading_weight, {"cost": weight})
        if priced is None:
            return True
        self._set_shift(priced[0])
        return self._hopeless(-(-(priced[1] - weight * caps["cost"]) // self.bar.leading_weight))

    def _within(self, caps: Mapping[Resource, int]) -> list[Found]:
        """Find the best assignment within some limits, and what the same labels show for lower costs."""
        tree = self.tree
        prices = search_prices(tree, caps)
        if prices is None or self._hopeless(prices.least):
            return []
        if "cost" in prices.weights and not self.bar.cost_weight:
            self.bar.leading_weight, self.bar.cost_weight = prices.leading_weight, prices.weights["cost"]
        remaining = tree.remaining(prices.leading_weight, prices.weights)
        resources = list(caps)
        weights = [prices.weights[resource] for resource in resources]
        room = sum(prices.weights[resource] * cap for resource, cap in caps.items())
        limit = np.array([caps[resource] for resource in resources], dtype=np.int64)
        best = prices.best
        for most in self._guesses(prices):
            wanted = None
            priced = WORD_LIMIT
            if most is not None:
                priced = prices.leading_weight * most + room
                wanted = Pruning(remaining, weights, prices.leading_weight, tree.leading_unit, priced)
            final = tree.labelled(resources, limit, wanted)
            if len(final):
                found = tree.found(final.words[:, np.lexsort(final.words[::-1])[0]])
                if best is None or found.leading <= best.leading:
                    best = found
            # every assignment up to the guess was kept, so what is best within it is best of all
            if best is not None and (most is None or best.leading <= most):
                return [best, *self._harvest(final, caps, best, prices, priced)]
        return []

    def _harvest(
        self, final: Relation, caps: Mapping[Resource, int], best: Found, prices: Prices, priced: int
    ) -> list[Found]:
        """Read off the best assignments at lower costs, as far down as the labels kept can show them.

        At a lower cost limit every assignment as good as the best label has a priced sum of at most what
        that label and the limit come to.  While that is within what was kept, no better one was dropped.
        """
        if "cost" not in caps:
            return []
        row = list(caps).index("cost")
        others = sum(prices.weights[resource] * cap for resource, cap in caps.items() if resource != "cost")
        order = np.lexsort((*final.words[::-1], final.taken[row])).tolist()
        ladder: list[Found] = []
        for number in order:
            found = self.tree.found(final.words[:, number])
            if not ladder or found.leading < ladder[-1].leading:
                ladder.append(found)
        rungs: list[Found] = []
        limit = best.taken["cost"] - 1
        for found in reversed(ladder):
            if found.taken["cost"] > limit:
                continue
            if prices.leading_weight * found.leading + prices.weights["cost"] * limit + others > priced:
                break
            rungs.append(found)
            limit = found.taken["cost"] - 1
        return rungs

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

    def choice(self, found: Found) -> Choice:
        """Score an assignment again from the problem.

        Parameters
        ----------
        found : Found
            One of the tree's.
        """
        return choice_from(self.problem, evaluate(self.problem, self.network.names_of(found.states)), ENGINE)


def _keeps(found: Found, caps: Mapping[Resource, int]) -> bool:
    """Tell whether an assignment keeps every limit but that of cost, which falls along a frontier."""
    return all(found.taken[resource] <= cap for resource, cap in caps.items() if resource != "cost")
