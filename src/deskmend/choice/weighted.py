"""The best assignment when value and cost are weighed against each other, also within a limit of minutes.

What takes time is worked out once for a problem and serves every pair of weights.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from deskmend.choice.conditioning import cases_of, lower_edge, preference
from deskmend.choice.elimination import Elimination
from deskmend.choice.evaluate import evaluate, verify
from deskmend.choice.network import build
from deskmend.choice.problem import Problem
from deskmend.choice.result import Choice, choice_from
from deskmend.choice.weighted_search import WeightedSearch, Weights

__all__ = ["Weighted"]


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
        self._searches: list[WeightedSearch] = []
        self._settled: list[Choice] = []
        for case in cases_of(problem):
            network = build(case)
            if network.impossible:
                continue
            if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
                self._searches.append(WeightedSearch(Elimination(case, network), case))
            else:
                scored = evaluate(case, network.names_of([0] * network.decisions))
                if not scored.violations:
                    self._settled.append(choice_from(case, scored, "reduction"))

    @property
    def cells(self) -> int:
        """Cells of all tables that are joined on the way: what the search takes in memory and time."""
        return int(sum(search.tree.cells for search in self._searches))

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
            best = search.best(Weights(value_weight, {"cost": cost_weight}), minutes)
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
        found += self._up_to(value_weight, cost_weight, most, minutes)
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
        return list(self._up_to(across, down, most, minutes))

    def _up_to(self, value_weight: int, cost_weight: int, most: int, minutes: int | None) -> Iterator[Choice]:
        weights = Weights(value_weight, {"cost": cost_weight})
        for search in self._searches:
            some = search.any()
            if some is None:
                continue
            # Passes count from the least of every table; the problem counts from 0.
            shift = search.choice(some).value - some.leading
            for found in search.up_to(weights, minutes, most - value_weight * shift):
                yield search.choice(found)
