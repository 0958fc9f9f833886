"""What one person may be given where money goes only for what can be told apart from less."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from deskmend.choice import Choice, Problem, evaluate
from deskmend.choice.result import best_choice
from deskmend.grants.people.columns import MOST_BOXES, Column, best_of_listed, columns_within
from deskmend.intake.applicants import ApplicantRow
from deskmend.intake.given_before import Had
from deskmend.measures import Micro, Minor
from deskmend.planning.goals import Goal
from deskmend.planning.model.cohorts import Member
from deskmend.planning.model.cut import carrier_name
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.noise import LEAST_SHARE_TOLD, Noise
from deskmend.planning.selection import decision_of

__all__ = ["BestLeftOut", "Ladder", "OfferedPlans", "offered"]


def offered(
    ladder: Ladder, frontier: Callable[[Mapping[str, int]], Sequence[Column]], scarce: Collection[str]
) -> tuple[Column, ...]:
    """Give the plans a person may be given, money at listed prices rising, the free one first.

    `frontier` is asked for every plan that is best for some money with at most so many packs of some things.
    What is `scarce` may be gone, so it is climbed again with fewer packs of each scarce thing that a plan
    offered takes, down to none.
    """
    found = {(ladder.free.packs, ladder.free.strain): ladder.free}
    waiting: list[tuple[tuple[str, int], ...]] = [()]
    seen = set(waiting)
    while waiting and len(seen) <= MOST_BOXES:
        limits = dict(waiting.pop())
        mine = ladder.climbed(frontier(limits))
        for column in mine:
            found.setdefault((column.packs, column.strain), column)
        for item, count in sorted({use for one in mine for use in one.packs}):
            tighter = tuple(sorted({**limits, item: count - 1}.items()))
            if item in scarce and tighter not in seen:
                seen.add(tighter)
                waiting.append(tighter)
    return tuple(sorted(found.values(), key=lambda one: (ladder.cost(one), -one.strain, one.packs)))


@dataclass(frozen=True)
class BestLeftOut:
    """The plan that would take most off somebody to whom nothing is offered."""

    options: tuple[OptionSpec, ...]
    cost: Minor
    """At listed prices."""
    relief: Micro
    """What it takes off beyond what is free, and below, how much it would have to be to be told from that."""
    told_from: Micro


class Ladder:
    """Climbs frontiers of one person by what can be told apart.

    - `member`: the person's case, state, offers and weights.
    - `base`: the person's problem at listed prices.
    - `free`: the best plan for which nothing is bought.
    - `kept`: score that is limited; of the plans that keep it the cheapest is offered whatever can be told,
      and the dearer ones that can be told from the one before.
    - `column`: writes a choice as a plan of the fund.
    """

    def __init__(
        self,
        member: Member,
        base: Problem,
        free: Column,
        kept: Goal | None,
        column: Callable[[Choice], Column],
    ) -> None:
        self.free = free
        self._member, self._base, self._kept, self._column = member, base, kept, column
        self._noise = Noise(member.case, member.state, dict(member.weights))
        self._prices = {item.name: item.price or 0 for item in base.items}
        self._less: dict[tuple[tuple[str, str], ...], list[Column]] = {}

    def cost(self, column: Column) -> Minor:
        """Money for a plan at listed prices."""
        return column.cost(self._prices)

    def left_out(self, column: Column) -> BestLeftOut:
        """Say of a plan that is not offered why it cannot be told from the free one."""
        free, taken = self._options(self.free), self._options(column)
        least = self._noise.strain(()) // LEAST_SHARE_TOLD
        sure = max(least, self._noise.sd(free, taken))
        return BestLeftOut(taken, self.cost(column), self.free.strain - column.strain, sure)

    def climbed(self, columns: Sequence[Column]) -> list[Column]:
        """What is offered of a frontier, without the free plan.

        What is bought in a plan is left out as long as what stays cannot be told from the plan; what stays is
        offered where it can be told from the one offered before it, which costs less.
        """
        held = [self.free]
        # nearly every plan of a frontier is looked at without each of its things
        less = [one for column in columns for one in self._with_less(column)]
        self._noise.know(map(self._options, (self.free, *columns, *less)))
        for column in columns:
            if not self._told(held[-1], column):
                continue
            plan = self._pruned(column)
            below = [self.free, *(one for one in held[1:] if self.cost(one) < self.cost(plan))]
            if self._told(held[-1], plan) and self._told(below[-1], plan):
                held = [*below, plan]
        return [*held[1:], *(one for one in self._keeping(columns) if one not in held)]

    def _keeping(self, columns: Sequence[Column]) -> list[Column]:
        """What is offered of the plans that keep a limited score and leave no more than the free one."""
        if self._kept is None:
            return []
        held: list[Column] = []
        for column in sorted(columns, key=lambda one: (self.cost(one), one.strain)):
            keeps = column.score is not None and column.score <= self._kept.at_most
            if not keeps or column.strain > self.free.strain:
                continue
            if not held or self._told(held[-1], column):
                held.append(column)
        return held

    def _told(self, less: Column, more: Column) -> bool:
        """Whether the second of two plans leaves less by what can be told."""
        apart = self._noise.told_apart
        return more.strain < less.strain and apart(self._options(less), self._options(more))

    def _pruned(self, column: Column) -> Column:
        """A plan without what is bought and cannot be told in it, that first without which least is left."""
        plan = column
        while True:
            less = self._with_less(plan)
            self._noise.know(map(self._options, less))
            fewer = [one for one in less if not self._told(one, column)]
            if not fewer:
                return plan
            plan = min(fewer, key=lambda one: (one.strain, self.cost(one), one.packs))

    def _with_less(self, plan: Column) -> list[Column]:
        """The plan without each thing that is bought in it, where that keeps the rules and saves money."""
        chosen, options = self._pairs(plan), self._options(plan)
        key = tuple(chosen.items())
        if key in self._less:
            return self._less[key]
        found = self._less[key] = []
        for item, _ in plan.packs:
            takes = [one for one in options if item in one.use]
            out = {decision_of(one) for one in takes} | {carrier_name(one.fix.id) for one in takes}
            left = {name: option for name, option in chosen.items() if name not in out}
            scored = evaluate(
                self._base,
                {one.name: left.get(one.name, one.options[0].name) for one in self._base.decisions},
            )
            if not scored.violations and scored.cost < self.cost(plan):
                found.append(self._column(best_choice(self._base, scored, "none")))
        return found

    def _options(self, plan: Column) -> tuple[OptionSpec, ...]:
        return self._member.offers.taken(self._pairs(plan))

    def _pairs(self, plan: Column) -> dict[str, str]:
        return dict(plan.choice) if isinstance(plan.choice, tuple) else {}


@dataclass(frozen=True, eq=False)
class OfferedPlans:
    """All that is left to know of somebody who is offered listed plans only: no model and no search.

    - `row`, `had`: who, and what they have from before.
    - `offered`: their plans.
    - `listed`: price of a pack of everything [minor units].
    """

    row: ApplicantRow
    had: Had
    offered: tuple[Column, ...]
    listed: Mapping[str, Minor]

    def columns(self, prices: Mapping[str, Minor], at_most: Mapping[str, int]) -> Sequence[Column]:
        """As in `deskmend.grants.people.columns.Pricing`."""
        return columns_within(self.offered, at_most)

    def best(
        self, prices: Mapping[str, Minor], strain_weight: int, money_weight: int, at_most: Mapping[str, int]
    ) -> Column:
        """As in `deskmend.grants.people.columns.Pricing`."""
        at = {**self.listed, **prices}
        return best_of_listed(self.columns(prices, at_most), at, strain_weight, money_weight)
