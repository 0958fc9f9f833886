"""What one applicant may be given, and how plans are asked for: the seam between people and the fund.

A plan left out is beaten by one on the list at once in strain, in packs of each thing that couples people,
and in listed cost of all else.  So whatever the prices of those things are, and within whatever limits on
them, something on the list is best, as long as all else has its listed price or costs nothing.

The engine knows plans only as columns: packs opened and strain left. It asks a pool for the exact best
plans of many people at pack prices that it chooses itself, and never learns what a fix is.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from deskmend.choice.problem import Problem
from deskmend.choice.result import Choice, non_dominated, preference
from deskmend.measures import Micro, Minor

__all__ = [
    "EVERY_COST",
    "WEIGHT_UNIT",
    "Applicant",
    "Column",
    "CostBand",
    "PlanList",
    "Pool",
    "PriceQuery",
    "Pricing",
    "best_of_listed",
    "columns_within",
    "every_plan",
    "frees_the_rest",
    "pareto",
]

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
        return None if found is None or self._any_free(changed) else non_dominated(self.problem, found)

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


WEIGHT_UNIT = 1000
"""Weight of a person who counts once: weights are thousandths, whole numbers [-]."""


@dataclass(frozen=True)
class Column:
    """One plan of one person, as the engine sees it.

    - `packs`: packs opened for this person of each item, sorted by item, none of 0.
    - `strain`: strain left with it [millionths of h/day], not weighted by the person.
    - `score`: published score with it, where one is limited; None where none is, or where it cannot be given.
    - `choice`: whatever the maker of the column needs to find the plan again; never looked at here.
    """

    packs: tuple[tuple[str, int], ...]
    strain: Micro
    score: int | None = None
    choice: object = field(default=None, compare=False)

    def cost(self, prices: Mapping[str, Minor]) -> Minor:
        """Money for its packs, by the price of a pack of every item it uses."""
        return sum(prices[item] * count for item, count in self.packs)


@dataclass(frozen=True)
class Applicant:
    """One person who asks for help.

    - `id`: unique; people are handled in the order of their ids.
    - `strain_before`: strain now [millionths of h/day].
    - `strain_free`: strain with free fixes only: the least that a plan without packs leaves [millionths of
      h/day].
    - `weight`: how much this person's relief counts, in units of `WEIGHT_UNIT`, from 0.
    - `group`: group for shares of the fund.
    - `score_free`: the same as in `Column` with free fixes only.
    - `ceiling`: most strain that this person may be left with, because people decided so; None for no limit.
    - `least`: what the cheapest plan that keeps it costs at listed prices.
    """

    id: str
    strain_before: Micro
    strain_free: Micro
    weight: int = WEIGHT_UNIT
    group: str | None = None
    score_free: int | None = None
    ceiling: Micro | None = None
    least: Minor = 0


@dataclass(frozen=True)
class CostBand:
    """Which plans of a person can still matter: those not too far from the best at some prices.

    - `prices`: price of a pack [minor units]; an item left out has its base price.
    - `strain_weight`, `money_weight`: what a millionth of h/day and a minor unit count.
    - `at_most`: largest ``strain_weight * strain + money_weight * money`` that can matter.
    """

    prices: Mapping[str, Minor]
    strain_weight: int
    money_weight: int
    at_most: int


EVERY_COST = CostBand({}, 0, 0, 0)
"""All plans matter."""


class Pricing(Protocol):
    """Exact plans of one person at pack prices that the engine sets.

    ``prices`` holds whole numbers from 0 [minor units]; an item left out has its listed base price. There
    are no tiers and no stock in it: both belong to the order as a whole.
    """

    def columns(self, prices: Mapping[str, Minor], at_most: Mapping[str, int]) -> Sequence[Column]:
        """Give the Pareto set of money at prices against strain, with at most so many packs of some items.

        For every amount of money the least strain is among them. Where a score is limited, the same holds of
        the plans that keep it. Further plans may stand among them.
        """
        ...

    def best(
        self, prices: Mapping[str, Minor], strain_weight: int, money_weight: int, at_most: Mapping[str, int]
    ) -> Column:
        """Give the plan with the least ``strain_weight * strain + money_weight * money``, over all plans."""
        ...


@dataclass(frozen=True)
class PriceQuery:
    """A question for everybody's best plan at some prices.

    - `prices`: price of a pack [minor units]; an item left out has its base price.
    - `strain_weights`: weight of strain by id of everybody who is asked.
    - `money_weight`: weight of money.
    """

    prices: Mapping[str, Minor]
    strain_weights: Mapping[str, int]
    money_weight: int


class Pool(Protocol):
    """The same for many people at once, wherever the work is done.

    No answer may depend on who else is asked about. Any call may raise KeyboardInterrupt.
    """

    def columns(self, prices: Mapping[str, Minor], ids: Sequence[str]) -> Mapping[str, Sequence[Column]]:
        """Give `Pricing.columns` of each person, without limits on packs."""
        ...

    def best(
        self, prices: Mapping[str, Minor], strain_weights: Mapping[str, int], money_weight: int
    ) -> Mapping[str, Column]:
        """Give `Pricing.best` of each person named in `strain_weights`, at that person's weight."""
        ...

    def best_at(self, questions: Sequence[PriceQuery]) -> Sequence[Mapping[str, Column]]:
        """Give the answers to several such questions, which may take less than asking one after the other."""
        ...

    def every(
        self, items: Sequence[str], bands: Mapping[str, CostBand]
    ) -> Mapping[str, Sequence[Column] | None]:
        """Give every plan that could matter where packs of some items are scarce or cheaper by the dozen.

        - `items`: the items whose packs couple people.
        - `bands`: whom to ask about, and which of their plans can matter.

        Returns
        -------
        mapping of str to (sequence of Column or None)
            At least all plans within the band that no other plan of that person beats at once in packs of
            each of `items`, in base price of all else, and in strain (`every_plan` finds them).
            None where there are too many; the result is then not proven to the last digit.
        """
        ...


def pareto(columns: Sequence[Column], prices: Mapping[str, Minor]) -> list[Column]:
    """Keep the plans of a person that no cheaper plan equals in strain, at a price for every item.

    Money rising, strain falling; of equals the first in `columns`.
    """
    kept: list[Column] = []
    for column in sorted(columns, key=lambda one: (one.cost(prices), one.strain)):
        if not kept or column.strain < kept[-1].strain:
            kept.append(column)
    return kept


MOST_BOXES = 4000
"""Most limits on packs tried for one person before the search for every plan gives up."""


def every_plan(
    pricing: Pricing, base: Mapping[str, Minor], items: Sequence[str], band: CostBand
) -> list[Column] | None:
    """Find every plan of one person that could matter, from Pareto sets under limits on packs.

    With packs of `items` free and limited, the Pareto set of the rest holds every plan that is not beaten by
    one of its own; a plan that is beaten only by such as use more packs of some item is found under a
    tighter limit on that item. Limits under which even the best plan leaves the band are left.

    - `pricing`: the person.
    - `base`: listed price of a pack of every item [minor units].
    - `items`: items whose packs couple people.
    - `band`: which plans can matter.

    Returns
    -------
    list of Column or None
        As in `Pool.every`.
    """
    free = dict.fromkeys(items, 0)
    at = {**base, **band.prices}
    found: dict[tuple[tuple[tuple[str, int], ...], int, int | None], Column] = {}
    waiting: list[tuple[tuple[str, int], ...]] = [()]
    seen = set(waiting)
    while waiting:
        if len(seen) > MOST_BOXES:
            return None
        limits = dict(waiting.pop())
        best = pricing.best(band.prices, band.strain_weight, band.money_weight, limits)
        if band.strain_weight * best.strain + band.money_weight * best.cost(at) > band.at_most:
            continue
        uses: dict[str, set[int]] = {item: set() for item in items}
        for column in pricing.columns(free, limits):
            found.setdefault((column.packs, column.strain, column.score), column)
            for item, count in column.packs:
                if item in uses:
                    uses[item].add(count)
        for item, counts in uses.items():
            for count in counts:
                tighter = tuple(sorted({**limits, item: count - 1}.items()))
                if tighter not in seen:
                    seen.add(tighter)
                    waiting.append(tighter)
    return list(found.values())


def columns_within(columns: Sequence[Column], at_most: Mapping[str, int]) -> list[Column]:
    """Plans that take at most so many packs of some items."""
    return [one for one in columns if all(count <= at_most.get(item, count) for item, count in one.packs)]


def best_of_listed(
    columns: Sequence[Column], at: Mapping[str, Minor], strain_weight: int, money_weight: int
) -> Column:
    """The plan with the least weighted sum of strain and cost at some prices, the first of equals."""

    def rank(column: Column) -> tuple[int, int, int]:
        cost = column.cost(at)
        return strain_weight * column.strain + money_weight * cost, column.strain, cost

    return min(columns, key=rank)
