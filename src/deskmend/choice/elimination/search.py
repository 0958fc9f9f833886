"""One case of a problem asked under weights of value, cost and whatever else is counted, within minutes.

Without a limit one pass of elimination gives the answer. Where that answer takes too many minutes, minutes
get a price instead of their limit: the price under which an assignment within the limit and one beyond it are
equally good gives the highest lower bound, and the few labels between that bound and the best known hold
the answer. What was met under other weights shows most of that price without a pass. (Closing the gap of a
multiplier by listing what lies within it is common practice for constrained shortest paths: Handler and Zang
1980, from memory.)

Exact choice by variable elimination.

Variables leave one after the other.  What is left of them is a relation of labels over their neighbours,
each label a way to settle everything eliminated so far.  Only limits that turn out to bind are carried as
resources: the best assignment without a limit is the best with it whenever it keeps it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import takewhile
from math import gcd
from typing import NamedTuple

import numpy as np

from deskmend.choice.cases import Bar, preference
from deskmend.choice.elimination.labels import LARGEST_SUM, WORD_LIMIT, Relation, TooWide
from deskmend.choice.elimination.least_sums import Pruning
from deskmend.choice.elimination.tree import Found, Resource, Tree
from deskmend.choice.network import Network
from deskmend.choice.problem import Problem
from deskmend.choice.relax import Prices, search_prices
from deskmend.choice.result import Choice, choice_from, evaluate

__all__ = [
    "ENGINE",
    "FIRST_GUESSES",
    "MOST_CELLS",
    "MOST_PAIRS",
    "Elimination",
    "Priced",
    "WeightedSearch",
    "Weights",
]

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


@dataclass(frozen=True)
class Weights:
    """Weights of value and of each resource that costs; none negative.

    Attributes
    ----------
    value : int
        Of the value.
    costs : mapping
        Of ``cost``, and of the number of each side limit that is counted.
    """

    value: int
    costs: Mapping[Resource, int]

    def of(self, found: Found) -> int:
        """Weighted sum of an assignment, above its least conceivable amount."""
        return self.value * found.leading + sum(w * found.taken[name] for name, w in self.costs.items())


@dataclass(frozen=True)
class Priced:
    """What a price of minutes instead of their limit shows.

    Attributes
    ----------
    least : int
        No assignment within the limit has a smaller weighted sum, counted as `Weights.of` counts.
    scale, price : int
        A unit of minutes costs the second where the other weights are multiplied by the first.
    known : Found or None
        Of the assignments met within the limit, one with the least weighted sum; None: nothing keeps it.
    """

    least: int
    scale: int
    price: int
    known: Found | None


class _Met(NamedTuple):
    """An assignment by its weighted sum and its units of minutes."""

    weighed: int
    minutes: int
    found: Found


class WeightedSearch:
    """One case, asked again and again.

    Parameters
    ----------
    search : Elimination
        Its engine; side limits of its network are counted, never kept to.
    problem : Problem
        What assignments are scored against.
    """

    def __init__(self, search: Elimination, problem: Problem) -> None:
        self.search = search
        self.problem = problem
        self.tree = search.tree

    def choice(self, found: Found) -> Choice:
        """Score an assignment again from the problem.

        Parameters
        ----------
        found : Found
            One of this case's.
        """
        names = self.search.network.names_of(found.states)
        return choice_from(self.problem, evaluate(self.problem, names), "elimination")

    @cached_property
    def shift(self) -> int:
        """By how much the value of an assignment exceeds its count from the least of every table."""
        some = self.any()
        return 0 if some is None else self.choice(some).value - some.leading

    def any(self) -> Found | None:
        """Give some assignment, for what figures are counted from; None where nothing is allowed."""
        return self.tree.pool[0] if self.tree.pool else self.tree.unlimited()

    def fits(self, found: Found, minutes: int | None) -> bool:
        """Tell whether an assignment keeps to a limit of minutes.

        Parameters
        ----------
        found : Found
            One of this case's.
        minutes : int or None
            Limit of the work [min].
        """
        return minutes is None or found.taken["minutes"] <= minutes // self.tree.minute_unit

    def best(self, weights: Weights, minutes: int | None, most: int | None = None) -> Found | None:
        """Find the assignment with the least weighted sum, ties settled by preference.

        Parameters
        ----------
        weights : Weights
            What counts how much.
        minutes : int or None
            Limit of the work [min].
        most : int or None
            Largest weighted sum wanted, counted as `Weights.of` counts.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        free = self._best_of_all(weights, 1, 0)
        if free is None:
            return None
        if most is not None and free.weighed > most:
            return None
        if minutes is None or self.fits(free.found, minutes):
            return free.found
        priced = self.priced(weights, minutes, free.weighed, most)
        if priced.known is None:
            return None
        limit = weights.of(priced.known)
        if most is not None:
            limit = min(limit, most)
        if priced.least > limit:
            return None
        found = self._labels(weights, limit, None, minutes, priced)
        return min(
            (one for one in found if weights.of(one) <= limit),
            key=lambda one: (weights.of(one), preference(self.problem, self.choice(one))),
            default=None,
        )

    def least(self, weights: Weights) -> int:
        """Find the least weighted sum without a limit, counted as `Weights.of` counts.

        Parameters
        ----------
        weights : Weights
            What counts how much.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits.
        ValueError
            Nothing is allowed.
        """
        self._check(weights, 1, 0)
        return self.tree.least_priced(weights.value, weights.costs)

    def up_to(
        self,
        weights: Weights,
        minutes: int | None,
        above: int,
        least: int | None = None,
        money: int | None = None,
    ) -> list[Found]:
        """Find every assignment that nothing beats, up to a weighted sum.

        Parameters
        ----------
        weights : Weights
            What counts how much.
        minutes : int or None
            Limit of the work [min].
        above : int
            Largest weighted sum wanted, counted as `Weights.of` counts.
        least : int or None
            What `least` gives, where it is known.
        money : int or None
            Highest cost wanted.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        if self.any() is None:
            return []
        if least is None:
            least = self.least(weights)
        if least > above:
            return []
        if minutes is None:
            return self._labels(weights, above, money)
        if self.fits(min(self.tree.pool, key=weights.of), minutes):
            # What nothing beats without the limit and keeps it is not beaten with it.
            found = self._labels(weights, above, money)
            if all(self.fits(one, minutes) for one in found):
                return found
        priced = self.priced(weights, minutes, least, above)
        if priced.known is None or priced.least > above:
            return []
        return self._labels(weights, above, money, minutes, priced)

    def priced(self, weights: Weights, minutes: int, least: int, most: int | None = None) -> Priced:
        """Find the price of minutes that bounds best, and the best assignment within the limit met so far.

        Each price makes the two assignments known on either side of the limit equally good.

        Parameters
        ----------
        weights : Weights
            What counts how much.
        minutes : int
            Limit of the work [min].
        least : int
            What `least` gives.
        most : int or None
            Largest weighted sum wanted: the search ends where nothing reaches it.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits.
        """
        limit = minutes // self.tree.minute_unit
        thriftiest = self.tree.thriftiest("minutes")
        if thriftiest is None or not self.fits(thriftiest, minutes):
            return Priced(least, 1, 0, None)
        met = [_Met(weights.of(found), found.taken["minutes"], found) for found in self.tree.pool]
        beyond = min(met, key=lambda one: one[:2])
        if beyond.weighed > least:
            beyond = self._passed(weights, 1, 0)
        if beyond.minutes <= limit:
            return Priced(least, 1, 0, beyond.found)
        within = _Met(weights.of(thriftiest), thriftiest.taken["minutes"], thriftiest)
        while True:
            apart, worse = beyond.minutes - within.minutes, within.weighed - beyond.weighed
            common = gcd(apart, worse)
            scale, price = apart // common, worse // common
            level = scale * within.weighed + price * within.minutes
            sums = [scale * one.weighed + price * one.minutes for one in met]
            lowest = min(sums)
            middle = met[sums.index(lowest)]
            if lowest >= level:
                middle = self._passed(weights, scale, price)
                met.append(middle)
                lowest = scale * middle.weighed + price * middle.minutes
                least = max(least, -(-(lowest - price * limit) // scale))
                if lowest >= level or (most is not None and least > most):
                    break
            if middle.minutes <= limit:
                within = middle
            else:
                beyond = middle
        known = min((one for one in met if one.minutes <= limit), key=lambda one: one.weighed)
        return Priced(least, scale, price, known.found)

    def _check(self, weights: Weights, scale: int, price: int) -> None:
        """Refuse sums that do not fit."""
        largest = weights.value * self.tree.leading_total
        largest += sum(weight * self.tree.total(name) for name, weight in weights.costs.items())
        if scale * largest + price * self.tree.total("minutes") >= LARGEST_SUM:
            raise TooWide("weighted sums do not fit into 64 bits")

    def _passed(self, weights: Weights, scale: int, price: int) -> _Met:
        """Find the best where minutes have a price and something is known to be allowed."""
        best = self._best_of_all(weights, scale, price)
        assert best is not None
        return best

    def _best_of_all(self, weights: Weights, scale: int, price: int) -> _Met | None:
        """Find the best where minutes have a price; None where nothing is allowed."""
        self._check(weights, scale, price)
        costs = {name: weight * scale for name, weight in weights.costs.items()}
        best = self.tree.best_priced(weights.value * scale, {**costs, "minutes": price})
        return None if best is None else _Met(weights.of(best[0]), best[0].taken["minutes"], best[0])

    def _labels(
        self,
        weights: Weights,
        above: int,
        money: int | None,
        minutes: int | None = None,
        priced: Priced | None = None,
    ) -> list[Found]:
        """Every assignment within the limits that nothing beats and whose weighted sum is at most so much."""
        tree = self.tree
        scale = 1 if priced is None else priced.scale
        caps = {name: tree.total(name) for name in weights.costs}
        if money is not None:
            caps["cost"] = money
        prices = {name: weights.costs.get(name, 0) * scale for name in caps}
        above *= scale
        if minutes is not None and priced is not None:
            caps["minutes"] = minutes // tree.minute_unit
            prices["minutes"] = priced.price
            above += priced.price * caps["minutes"]
        wanted = Pruning(
            tree.remaining(weights.value * scale, prices),
            list(prices.values()),
            weights.value * scale,
            tree.leading_unit,
            above,
        )
        limit = np.array(list(caps.values()), dtype=np.int64)
        final = tree.labelled(list(caps), limit, wanted)
        return [tree.found(final.words[:, number]) for number in range(len(final))]
