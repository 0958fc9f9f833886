"""The best assignment when value and cost are weighed against each other, also within a limit of minutes.

What takes time is worked out once for a problem, when it is first asked, and serves every pair of weights.
"""

from __future__ import annotations

from dataclasses import replace

from deskmend.choice.conditioning import cases_of, lower_edge, preference
from deskmend.choice.elimination import Elimination
from deskmend.choice.engines import frontier
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
        self.problem = replace(problem, money=None, minutes=None, first="value")
        self._made: tuple[list[WeightedSearch], list[Choice]] | None = None

    @property
    def bytes(self) -> int:
        """Memory that its searches take, about [bytes]."""
        return 0 if self._made is None else sum(search.tree.bytes for search in self._made[0])

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
        searches, found = self._cases(minutes)
        for search in searches:
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
            As `deskmend.choice.engines.frontier` gives them.
        """
        return frontier(replace(self.problem, minutes=minutes))

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
        searches, found = self._cases(minutes)
        weights = Weights(value_weight, {"cost": cost_weight})
        for search in searches:
            # Passes count from the least of every table; the problem counts from 0.
            some = search.up_to(weights, minutes, most - value_weight * search.shift)
            found += map(search.choice, some)
        rungs = [
            rung
            for rung in lower_edge(self.problem, found)
            if value_weight * rung.value + cost_weight * rung.cost <= most
        ]
        for rung in rungs:
            verify(self.problem, rung)
        return rungs

    def _cases(self, minutes: int | None) -> tuple[list[WeightedSearch], list[Choice]]:
        """Give the searches of all cases, and what is best within a limit where reduction left no choice."""
        if self._made is None:
            searches: list[WeightedSearch] = []
            settled: list[Choice] = []
            for case in cases_of(self.problem):
                network = build(case)
                if network.impossible:
                    continue
                if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
                    searches.append(WeightedSearch(Elimination(case, network), case))
                else:
                    scored = evaluate(case, network.names_of([0] * network.decisions))
                    if not scored.violations:
                        settled.append(choice_from(case, scored, "reduction"))
            self._made = searches, settled
        searches, settled = self._made
        return searches, [choice for choice in settled if minutes is None or choice.minutes <= minutes]
