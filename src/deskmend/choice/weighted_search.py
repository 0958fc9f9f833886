"""One case of a problem asked under weights of value, cost and whatever else is counted, within minutes.

Without a limit one pass of elimination gives the answer. Where that answer takes too many minutes, minutes
get a price instead of their limit: the price under which an assignment within the limit and one beyond it are
equally good gives the highest lower bound, and the few labels between that bound and the best known hold
the answer. (Closing the gap of a multiplier by listing what lies within it is common practice for
constrained shortest paths: Handler and Zang 1980, from memory.)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import gcd

import numpy as np

from deskmend.choice.conditioning import preference
from deskmend.choice.elimination import Elimination
from deskmend.choice.evaluate import evaluate
from deskmend.choice.labels import TooWide
from deskmend.choice.packing import LARGEST_SUM
from deskmend.choice.parts import Resource
from deskmend.choice.problem import Problem
from deskmend.choice.pruning import Pruning
from deskmend.choice.result import Choice, choice_from
from deskmend.choice.tree import Found

__all__ = ["WeightedSearch", "Weights"]


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

    def times(self, scale: int) -> Weights:
        """Give the same weights so many times as large."""
        return Weights(self.value * scale, {name: weight * scale for name, weight in self.costs.items()})


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

    def best(self, weights: Weights, minutes: int | None) -> Found | None:
        """Find the assignment with the least weighted sum, ties settled by preference.

        Parameters
        ----------
        weights : Weights
            What counts how much.
        minutes : int or None
            Limit of the work [min].

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        free = self._priced(weights, 0)
        if free is None or minutes is None or self._fits(free[0], minutes):
            return None if free is None else free[0]
        scale, price, known = self._price_of_minutes(weights, minutes, free[0])
        if known is None:
            return None
        limit = weights.of(known)
        found = self._labels(weights.times(scale), price, minutes, scale * limit)
        return min(
            (one for one in found if weights.of(one) <= limit),
            key=lambda one: (weights.of(one), preference(self.problem, self.choice(one))),
            default=known,
        )

    def up_to(self, weights: Weights, minutes: int | None, above: int) -> list[Found]:
        """Find every assignment that nothing beats, up to a weighted sum.

        Parameters
        ----------
        weights : Weights
            What counts how much.
        minutes : int or None
            Limit of the work [min].
        above : int
            Largest weighted sum wanted, counted as `Weights.of` counts.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        free = self._priced(weights, 0)
        if free is None or weights.of(free[0]) > above:
            return []
        if minutes is None:
            return self._labels(weights, 0, None, above)
        if self._fits(free[0], minutes):
            # What nothing beats without the limit and keeps it is not beaten with it.
            found = self._labels(weights, 0, None, above)
            if all(self._fits(one, minutes) for one in found):
                return found
            return self._labels(weights, 0, minutes, above)
        scale, price, known = self._price_of_minutes(weights, minutes, free[0])
        if known is None:
            return []
        return self._labels(weights.times(scale), price, minutes, scale * above)

    def any(self) -> Found | None:
        """Give some assignment, for what figures are counted from; None where nothing is allowed."""
        return self.tree.unlimited()

    def _fits(self, found: Found, minutes: int) -> bool:
        return found.taken["minutes"] <= minutes // self.tree.minute_unit

    def _price_of_minutes(
        self, weights: Weights, minutes: int, beyond: Found
    ) -> tuple[int, int, Found | None]:
        """Find the price of minutes that bounds best, and the best assignment within the limit met so far.

        Each price makes the two assignments known on either side of the limit equally good. It is given as a
        whole number beside the number that the other weights are multiplied by.
        """
        within = self.tree.thriftiest("minutes")
        if within is None or not self._fits(within, minutes):
            return 1, 0, None
        while True:
            apart = beyond.taken["minutes"] - within.taken["minutes"]
            worse = weights.of(within) - weights.of(beyond)
            common = gcd(apart, worse)
            scale, price = apart // common, worse // common
            answer = self._priced(weights.times(scale), price)
            if answer is None:
                return scale, price, None
            middle, level = answer
            if level >= scale * weights.of(within) + price * within.taken["minutes"]:
                break
            if self._fits(middle, minutes):
                within = middle
            else:
                beyond = middle
        fitting = (found for found in self.tree.pool if self._fits(found, minutes))
        return scale, price, min(fitting, key=weights.of)

    def _priced(self, weights: Weights, price: int) -> tuple[Found, int] | None:
        tree = self.tree
        prices = {**weights.costs, "minutes": price}
        largest = weights.value * tree.leading_total
        if largest + sum(weight * tree.total(name) for name, weight in prices.items()) >= LARGEST_SUM:
            raise TooWide("weighted sums do not fit into 64 bits")
        return tree.best_priced(weights.value, prices)

    def _labels(self, weights: Weights, price: int, minutes: int | None, above: int) -> list[Found]:
        """Every assignment within the limit that nothing beats and whose weighted sum is at most so much."""
        tree = self.tree
        caps = {name: tree.total(name) for name in weights.costs}
        prices = dict(weights.costs)
        if minutes is not None:
            caps["minutes"] = minutes // tree.minute_unit
            prices["minutes"] = price
            above += price * caps["minutes"]
        wanted = Pruning(
            tree.remaining(weights.value, prices),
            list(prices.values()),
            weights.value,
            tree.leading_unit,
            above,
        )
        limit = np.array(list(caps.values()), dtype=np.int64)
        final = tree.labelled(list(caps), limit, wanted)
        return [tree.found(final.words[:, number]) for number in range(len(final))]
