"""Every plan of one person that could matter, listed once: what is best at other prices is then read off it.

A plan left out is beaten by one on the list at once in strain, in packs of each thing that couples people,
and in listed cost of all else.  So whatever the prices of those things are, and within whatever limits on
them, something on the list is best, as long as all else has its listed price or costs nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from deskmend.choice.problem import Problem
from deskmend.choice.result import Choice, preference, rungs_of

__all__ = ["PlanList", "frees_the_rest"]

Numbers = Mapping[str, int]


@dataclass(frozen=True, eq=False)
class PlanList:
    """The plans of one person, with costs as listed.

    - `problem`: the person's problem at listed prices.
    - `opened`: items whose prices and limits may differ.
    - `choices`: the plans.
    """

    problem: Problem
    opened: frozenset[str]
    choices: Sequence[Choice]

    def frontier(self, changed: Numbers, limits: Numbers) -> list[Choice] | None:
        """Every plan that is best for some money at changed prices within limits, as a search finds them.

        None where the list cannot tell.
        """
        found = self._at(changed, limits)
        return None if found is None or self._any_free(changed) else rungs_of(self.problem, found)

    def least(
        self, changed: Numbers, limits: Numbers, strain_weight: int, money_weight: int
    ) -> Choice | None:
        """The plan with the least weighted sum of strain and cost, where a search finds the same.

        None where the list cannot tell: another plan may be as good and preferred.
        """
        found = None if self._any_free(changed) else self._at(changed, limits)
        best = None if found is None else self._best(found, strain_weight, money_weight)
        return best[0] if best is not None and len(best) == 1 else None

    def least_where_free(
        self, changed: Numbers, limits: Numbers, strain_weight: int, money_weight: int
    ) -> Choice | None:
        """The same where all but the open items is free; of equals what costs least at listed prices.

        None where the prices are others.
        """
        free = frees_the_rest(self.problem, self.opened, changed)
        found = self._at(changed, limits) if free else None
        if found is None:
            return None
        listed = listed_prices(self.problem)

        def truly(choice: Choice) -> tuple[int, tuple[int, ...]]:
            return _cost(choice, listed), preference(self.problem, choice)

        return min(self._best(found, strain_weight, money_weight), key=truly, default=None)

    def _any_free(self, changed: Numbers) -> bool:
        """Whether anything costs nothing, so that a plan with more of it is just as good."""
        return not all((listed_prices(self.problem) | dict(changed)).values())

    def _at(self, changed: Numbers, limits: Numbers) -> list[Choice] | None:
        """The plans within limits with costs at changed prices; None where others may be better."""
        as_listed = self.opened.issuperset(changed) or frees_the_rest(self.problem, self.opened, changed)
        if not as_listed or not self.opened.issuperset(limits):
            return None
        at = listed_prices(self.problem) | dict(changed)
        return [
            replace(choice, figures=replace(choice.figures, cost=_cost(choice, at)))
            for choice in self.choices
            if choice.figures is not None
            and all(choice.figures.packs.get(name, 0) <= most for name, most in limits.items())
        ]

    @staticmethod
    def _best(choices: Sequence[Choice], strain_weight: int, money_weight: int) -> list[Choice]:
        """All with the least weighted sum, of those with least strain, of those with least cost."""

        def rank(choice: Choice) -> tuple[int, int, int]:
            weighed = strain_weight * choice.value + money_weight * choice.cost
            return weighed, choice.value, choice.cost

        least = min(map(rank, choices), default=None)
        return [one for one in choices if rank(one) == least]


def listed_prices(problem: Problem) -> dict[str, int]:
    """Listed price of a pack of everything that can be bought [minor units]."""
    return {item.name: item.price for item in problem.items if item.price is not None}


def frees_the_rest(problem: Problem, opened: Collection[str], changed: Numbers) -> bool:
    """Whether of all but the open items each costs nothing, and some did."""
    rest = {name for name, price in listed_prices(problem).items() if price and name not in opened}
    return bool(rest) and all(changed.get(name) == 0 for name in rest)


def _cost(choice: Choice, prices: Numbers) -> int:
    return sum(prices[item] * packs for item, packs in choice.packs.items() if packs)
