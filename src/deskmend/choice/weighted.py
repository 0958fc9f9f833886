"""The best assignment when value and cost are weighed against each other: one pass of elimination.

What takes time is worked out once for a problem and serves every pair of weights.
"""

from __future__ import annotations

from deskmend.choice.conditioning import cases_of, preference
from deskmend.choice.elimination import Elimination
from deskmend.choice.evaluate import evaluate, verify
from deskmend.choice.labels import TooWide
from deskmend.choice.network import build
from deskmend.choice.problem import Problem
from deskmend.choice.result import Choice, choice_from

__all__ = ["Weighted"]

LARGEST_SUM = 2**61
"""No weighted sum may reach it."""


class Weighted:
    """A problem asked again and again under other weights.

    Parameters
    ----------
    problem : Problem
        What to choose from; its limits of money and minutes are left aside.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._searches: list[Elimination] = []
        self._settled: list[Choice] = []
        for case in cases_of(problem):
            network = build(case)
            if network.impossible:
                continue
            if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
                self._searches.append(Elimination(case, network))
            else:
                scored = evaluate(case, network.names_of([0] * network.decisions))
                if not scored.violations:
                    self._settled.append(choice_from(case, scored, "reduction"))

    def least(self, value_weight: int, cost_weight: int) -> Choice | None:
        """Find the assignment with the least weighted sum of value and cost.

        Parameters
        ----------
        value_weight, cost_weight : int
            Not negative [-].

        Returns
        -------
        Choice or None
            Of equal sums the one with less value, then less cost, minutes, fixes, then catalog order; scored
            again from the problem. None where nothing is allowed.

        Raises
        ------
        TooWide
            The sums do not fit into 64 bits.
        """
        found = list(self._settled)
        for search in self._searches:
            tree = search.tree
            if value_weight * tree.leading_total + cost_weight * tree.total("cost") >= LARGEST_SUM:
                raise TooWide("weighted sums do not fit into 64 bits")
            best = tree.best_priced(value_weight, {"cost": cost_weight})
            if best is not None:
                names = search.network.names_of(best[0].states)
                found.append(choice_from(search.problem, evaluate(search.problem, names), "elimination"))
        if not found:
            return None

        def rank(choice: Choice) -> tuple[int, tuple[int, ...]]:
            weighed = value_weight * choice.value + cost_weight * choice.cost
            return weighed, preference(self.problem, choice)

        least = min(found, key=rank)
        verify(self.problem, least)
        return least
