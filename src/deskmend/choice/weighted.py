"""The best assignment when value and cost are weighed against each other, also within a limit of minutes.

What takes time is worked out once for a problem and serves every pair of weights. Without a limit one pass
of elimination gives the answer. Where that answer takes too many minutes, minutes get a price instead of
their limit: the price under which an assignment within the limit and one beyond it are equally good gives the
highest lower bound, and the few labels between that bound and the best assignment known hold the answer.
(Closing the gap of a multiplier by listing what lies within it is common practice for a constrained shortest
path: Handler and Zang 1980, from memory.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import gcd

import numpy as np

from deskmend.choice.conditioning import cases_of, lower_edge, preference
from deskmend.choice.elimination import Elimination
from deskmend.choice.evaluate import evaluate, verify
from deskmend.choice.labels import TooWide
from deskmend.choice.network import build
from deskmend.choice.parts import Resource
from deskmend.choice.problem import Problem
from deskmend.choice.pruning import Pruning
from deskmend.choice.result import Choice, choice_from
from deskmend.choice.tree import PRUNED_LABELS, Found

__all__ = ["Weighted"]

LARGEST_SUM = 2**61
"""No weighted sum may reach it."""


@dataclass(frozen=True)
class _Priced:
    """Weights of value, cost and minutes, the first two as asked times `scale`."""

    value: int
    cost: int
    minutes: int
    scale: int


class Weighted:
    """A problem asked again and again under other weights.

    Parameters
    ----------
    problem : Problem
        What to choose from, without side limits; its limits of money and minutes are left aside, and so is
        what it says comes first.

    Raises
    ------
    ValueError
        It has side limits.
    """

    def __init__(self, problem: Problem) -> None:
        if problem.bounds:
            raise ValueError("a problem with side limits cannot be weighed")
        self.problem = problem = replace(problem, money=None, minutes=None, first="value")
        self._searches: list[_Search] = []
        self._settled: list[Choice] = []
        for case in cases_of(problem):
            network = build(case)
            if network.impossible:
                continue
            if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
                self._searches.append(_Search(Elimination(case, network)))
            else:
                scored = evaluate(case, network.names_of([0] * network.decisions))
                if not scored.violations:
                    self._settled.append(choice_from(case, scored, "reduction"))

    def least(self, value_weight: int, cost_weight: int, minutes: int | None = None) -> Choice | None:
        """Find the assignment with the least weighted sum of value and cost.

        Parameters
        ----------
        value_weight, cost_weight : int
            Not negative [-].
        minutes : int or None
            Limit of the work [min].

        Returns
        -------
        Choice or None
            Of equal sums the one with less value, then less cost, minutes, fixes, then catalog order; scored
            again from the problem. None where nothing is allowed.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        found = [choice for choice in self._settled if minutes is None or choice.minutes <= minutes]
        for search in self._searches:
            best = search.best(value_weight, cost_weight, minutes)
            if best is not None:
                found.append(search.choice(best))
        if not found:
            return None

        def rank(choice: Choice) -> tuple[int, tuple[int, ...]]:
            weighed = value_weight * choice.value + cost_weight * choice.cost
            return weighed, preference(self.problem, choice)

        least = min(found, key=rank)
        verify(self.problem, least)
        return least

    def frontier(self, minutes: int) -> list[Choice]:
        """Find every cost at which the best value within a limit of minutes changes.

        Parameters
        ----------
        minutes : int
            Limit of the work [min].

        Returns
        -------
        list of Choice
            Cost strictly rising, value strictly falling, each the best by preference at its cost.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        cheapest, best = self.least(0, 1, minutes), self.least(1, 0, minutes)
        if cheapest is None or best is None:
            return []
        corners = sorted(self._corners(cheapest, best, minutes), key=lambda choice: choice.cost)
        met = [*corners, *(choice for choice in self._settled if choice.minutes <= minutes)]
        for left, right in pairwise(corners):
            met += self._between(left, right, minutes, met)
        rungs = lower_edge(self.problem, met)
        for rung in rungs:
            verify(self.problem, rung)
        return rungs

    def within(
        self, value_weight: int, cost_weight: int, most: int, minutes: int | None = None
    ) -> list[Choice]:
        """Find every point of the frontier whose weighted sum of value and cost is at most so much.

        Parameters
        ----------
        value_weight, cost_weight : int
            Not negative [-].
        most : int
            Largest weighted sum that is wanted.
        minutes : int or None
            Limit of the work [min].

        Returns
        -------
        list of Choice
            Cost strictly rising, value strictly falling, each the best by preference at its cost.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits, or there are too many labels.
        """
        found = [choice for choice in self._settled if minutes is None or choice.minutes <= minutes]
        for search in self._searches:
            for one in search.up_to(value_weight, cost_weight, minutes, most):
                found.append(search.choice(one))
        rungs = [
            rung
            for rung in lower_edge(self.problem, found)
            if value_weight * rung.value + cost_weight * rung.cost <= most
        ]
        for rung in rungs:
            verify(self.problem, rung)
        return rungs

    def _corners(self, cheapest: Choice, best: Choice, minutes: int) -> Iterator[Choice]:
        """Corners of the lower hull of cost and value."""
        yield cheapest
        if best.cost == cheapest.cost:
            return
        yield best
        todo = [(cheapest, best)]
        while todo:
            left, right = todo.pop()
            across, down = right.cost - left.cost, left.value - right.value
            if across <= 1 or down <= 1:
                continue
            corner = self.least(across, down, minutes)
            if corner is None:
                continue
            if across * corner.value + down * corner.cost < across * left.value + down * left.cost:
                yield corner
                todo += [(left, corner), (corner, right)]

    def _between(self, left: Choice, right: Choice, minutes: int, met: list[Choice]) -> list[Choice]:
        """Everything that may be on the frontier between two corners that follow one another."""
        across, down = right.cost - left.cost, left.value - right.value
        stairs = lower_edge(self.problem, [c for c in met if left.cost <= c.cost <= right.cost])
        most = max(
            across * (low.value - 1) + down * (high.cost - 1) for low, high in pairwise([*stairs, right])
        )
        most = max(most, across * left.value + down * left.cost)
        return [
            search.choice(found)
            for search in self._searches
            for found in search.up_to(across, down, minutes, most)
        ]


class _Search:
    """One case of the problem, asked under weights."""

    def __init__(self, search: Elimination) -> None:
        self.search = search
        self.tree = search.tree

    def choice(self, found: Found) -> Choice:
        """Score an assignment again from the case."""
        names = self.search.network.names_of(found.states)
        return choice_from(self.search.problem, evaluate(self.search.problem, names), "elimination")

    def best(self, value_weight: int, cost_weight: int, minutes: int | None) -> Found | None:
        """Find the best assignment within a limit of minutes."""
        free = self._priced(_Priced(value_weight, cost_weight, 0, 1))
        if free is None or minutes is None or self._fits(free[0], minutes):
            return None if free is None else free[0]
        priced, known = self._price_of_minutes(value_weight, cost_weight, minutes, free[0])
        if known is None:
            return None
        limit = value_weight * known.leading + cost_weight * known.taken["cost"]
        found = self._labels(priced, minutes, limit)
        return min(
            (one for one in found if self._sum(one, value_weight, cost_weight) <= limit),
            key=lambda one: (self._sum(one, value_weight, cost_weight), self._preference(one)),
            default=known,
        )

    def up_to(self, value_weight: int, cost_weight: int, minutes: int | None, most: int) -> list[Found]:
        """Find every assignment within a limit of minutes that nothing beats, up to a weighted sum."""
        free = self._priced(_Priced(value_weight, cost_weight, 0, 1))
        if free is None:
            return []
        shift = self.choice(free[0]).value - free[0].leading
        most -= value_weight * shift
        if self._sum(free[0], value_weight, cost_weight) > most:
            return []
        priced = _Priced(value_weight, cost_weight, 0, 1)
        if minutes is None:
            return self._labels(priced, None, most)
        if self._fits(free[0], minutes):
            # What nothing beats without the limit and keeps it is not beaten with it.
            found = self._labels(priced, None, most)
            if all(self._fits(one, minutes) for one in found):
                return found
        else:
            priced, known = self._price_of_minutes(value_weight, cost_weight, minutes, free[0])
            if known is None:
                return []
        return self._labels(priced, minutes, most)

    def _fits(self, found: Found, minutes: int) -> bool:
        return found.taken["minutes"] <= minutes // self.tree.minute_unit

    @staticmethod
    def _sum(found: Found, value_weight: int, cost_weight: int) -> int:
        return value_weight * found.leading + cost_weight * found.taken["cost"]

    def _preference(self, found: Found) -> tuple[int, ...]:
        return preference(self.search.problem, self.choice(found))

    def _price_of_minutes(
        self, value_weight: int, cost_weight: int, minutes: int, beyond: Found
    ) -> tuple[_Priced, Found | None]:
        """Find the price of minutes that bounds best, and the best assignment within the limit met so far.

        Each price makes the two assignments known on either side of the limit equally good.
        """
        within = self.tree.thriftiest("minutes")
        priced = _Priced(value_weight, cost_weight, 0, 1)
        if within is None or not self._fits(within, minutes):
            return priced, None
        while True:
            apart = beyond.taken["minutes"] - within.taken["minutes"]
            worse = self._sum(within, value_weight, cost_weight) - self._sum(
                beyond, value_weight, cost_weight
            )
            common = gcd(apart, worse)
            scale, price = apart // common, worse // common
            priced = _Priced(value_weight * scale, cost_weight * scale, price, scale)
            answer = self._priced(priced)
            if answer is None:
                return priced, None
            middle, level = answer
            if (
                level
                >= scale * self._sum(within, value_weight, cost_weight) + price * within.taken["minutes"]
            ):
                break
            if self._fits(middle, minutes):
                within = middle
            else:
                beyond = middle
        fitting = (found for found in self.tree.pool if self._fits(found, minutes))
        return priced, min(fitting, key=lambda found: self._sum(found, value_weight, cost_weight))

    def _priced(self, priced: _Priced) -> tuple[Found, int] | None:
        self._check(priced)
        return self.tree.best_priced(priced.value, {"cost": priced.cost, "minutes": priced.minutes})

    def _check(self, priced: _Priced) -> None:
        tree = self.tree
        largest = priced.value * tree.leading_total + priced.cost * tree.total("cost")
        if largest + priced.minutes * tree.total("minutes") >= LARGEST_SUM:
            raise TooWide("weighted sums do not fit into 64 bits")

    def _labels(self, priced: _Priced, minutes: int | None, most: int) -> list[Found]:
        """Every assignment within the limit that nothing beats and whose weighted sum is at most so much."""
        tree = self.tree
        caps: dict[Resource, int] = {"cost": tree.total("cost")}
        prices: dict[Resource, int] = {"cost": priced.cost}
        room = 0
        if minutes is not None:
            caps["minutes"] = minutes // tree.minute_unit
            prices["minutes"] = priced.minutes
            room = priced.minutes * caps["minutes"]
        wanted = Pruning(
            tree.remaining(priced.value, prices),
            list(prices.values()),
            priced.value,
            tree.leading_unit,
            priced.scale * most + room,
        )
        limit = np.array(list(caps.values()), dtype=np.int64)
        final = tree.labelled(list(caps), limit, wanted, PRUNED_LABELS)
        return [tree.found(final.words[:, number]) for number in range(len(final))]
