"""What one person may be given: what all have alike, what earlier rounds left, what can be told apart.

What is cut stays cut: the step it was cut for takes nothing more, no work either, and no other step can use
it. What was bought in a size serves steps of that size. All else is owned like anything else.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from deskmend.choice import Choice, Problem, evaluate
from deskmend.choice.result import best_choice
from deskmend.grants.people.columns import (
    MOST_BOXES,
    Applicant,
    Column,
    best_of_listed,
    columns_within,
)
from deskmend.intake.applicants import ApplicantRow
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.given_before import Had
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.intake.reading.fields import Owned
from deskmend.measures import Micro, Minor
from deskmend.planning.draws import LEAST_SHARE_TOLD, Noise
from deskmend.planning.model.cohorts import Member, carrier_name
from deskmend.planning.model.offers import Offer, Offers, OptionSpec, offers_for
from deskmend.planning.model.options import number_text
from deskmend.planning.reach import Goal
from deskmend.planning.selection import decision_of
from deskmend.workstation.state import State

__all__ = [
    "BestLeftOut",
    "OfferedPlans",
    "PlanBasis",
    "Thinning",
    "offered",
    "offers_left",
    "step_name",
    "with_owned",
    "without_tiers",
]


@dataclass(frozen=True)
class PlanBasis:
    """What is the same for every person.

    - `catalog`: fixes.
    - `prices`: what things cost.
    - `use_discomfort`: whether regions that trouble a person count for more.
    - `kept`: published score that is limited; None where none is.
    - `every_gain`: whether every plan may be given, not only those that can be told from less.
    """

    catalog: Catalog
    prices: PriceTable
    use_discomfort: bool = False
    kept: Goal | None = None
    every_gain: bool = True

    @cached_property
    def listed(self) -> PriceTable:
        """The price table without tiers and stock."""
        return without_tiers(self.prices)

    @cached_property
    def scarce(self) -> frozenset[str]:
        """Items of which there are only so many."""
        return frozenset(name for name, item in self.prices.items.items() if item.stock is not None)

    @cached_property
    def coupling(self) -> tuple[str, ...]:
        """Items with tiers or stock: what the fund pays for a pack of them depends on everybody."""
        priced = self.prices.items
        return tuple(name for name, item in priced.items() if item.tiers or item.stock is not None)


def without_tiers(prices: PriceTable) -> PriceTable:
    """A price table as one person meets it: every pack at its listed price, as many as wanted."""
    items = {name: replace(item, tiers=(), stock=None) for name, item in prices.items.items()}
    return replace(prices, items=items)


def step_name(option: OptionSpec, tasks: Sequence[str]) -> str:
    """Name of a step that is the same in every round, whatever the table calls its places and tasks.

    Of two tasks the second is told by its number.
    """
    level, owner = option.owner
    second = level == "task" and owner in tasks[1:]
    size = "" if option.size is None else f"={number_text(option.size)}"
    return f"{'task2.' if second else ''}{option.fix.id}{size}"


def with_owned(case: Case, had: Had) -> Case:
    """A person's case with what they have from before owned, and without what of their own was cut up."""
    if not had.owned and not had.used_up:
        return case
    owns = dict(case.owns)
    for item, count in (*had.owned, *((item, -count) for item, count in had.used_up)):
        before = owns.get(item, Owned(0))
        owns[item] = Owned(max(0, before.count + count), before.pieces)
    return case.model_copy(update={"owns": owns})


def offers_left(
    case: Case,
    state: State,
    catalog: Catalog,
    prices: PriceTable | None,
    *,
    had: Had,
    asked: Collection[str] = (),
    also: Collection[str] = (),
) -> Offers:
    """Decisions of a case for somebody who has something from before; the case owns what is loose of it.

    `asked` and `also` are the ids of fixes that are offered only where they are asked for.
    """
    asked = (*asked, *also)
    offers = offers_for(case, state, catalog, prices, asked=asked)
    if not had.made and not had.sized:
        return offers
    # a step that is made already is there even where its material has no price any more
    every = offers_for(_with_all(case, had, catalog), state, catalog, prices, asked=asked)
    here = {offer.name: {option.name: option for option in offer.options} for offer in offers.decisions}
    sized = {(item, size): units for item, size, units in had.sized}
    tasks = list(state.tasks)
    bare: dict[Fix, Fix] = {}
    decisions = []
    for offer in every.decisions:
        open_now = here.get(offer.name, {})
        options: list[OptionSpec] = []
        for option in offer.options:
            if step_name(option, tasks) in had.made:
                fix = bare.setdefault(
                    option.fix, option.fix.model_copy(update={"materials": (), "minutes": 0})
                )
                options.append(replace(option, fix=fix, use={}))
                continue
            one = open_now.get(option.name)
            left = _without_sized(option if one is None else one, sized)
            if one is not None or left.use != option.use:
                options.append(left)
        if options:
            decisions.append(Offer(offer.name, offer.owner, tuple(options)))
    named = {offer.name for offer in decisions}
    staying = {option.fix.id for offer in decisions for option in offer.options}
    rest = tuple(one for one in offers.decisions if one.name not in named)
    return Offers((*decisions, *rest), tuple(o for o in offers.left_out if o.fix.id not in staying))


def _with_all(case: Case, had: Had, catalog: Catalog) -> Case:
    """The case with plenty of whatever sized or made things are of, so that their steps are offered."""
    names = {step.rpartition(".")[2].partition("=")[0] for step in had.made}
    items = {item for item, _, _ in had.sized}
    items |= {material.item for fix in catalog.fixes if fix.id in names for material in fix.materials}
    owns = dict(case.owns)
    for item in sorted(items):
        before = owns.get(item, Owned(0))
        owns[item] = Owned(before.count + 1_000_000, before.pieces)
    return case.model_copy(update={"owns": owns})


def _without_sized(option: OptionSpec, sized: Mapping[tuple[str, str], int]) -> OptionSpec:
    """The option without what of its size is there in sufficient number."""
    if option.size is None:
        return option
    size = number_text(option.size)
    use = {
        item: units for item, units in option.use.items() if sized.get((plain_item(item), size), 0) < units
    }
    return option if len(use) == len(option.use) else replace(option, use=use)


def offered(
    thinning: Thinning, frontier: Callable[[Mapping[str, int]], Sequence[Column]], scarce: Collection[str]
) -> tuple[Column, ...]:
    """Give the plans a person may be given, money at listed prices rising, the free one first.

    `frontier` is asked for every plan that is best for some money with at most so many packs of some things.
    What is `scarce` may be gone, so it is thinned again with fewer packs of each scarce thing that a plan
    offered takes, down to none.
    """
    found = {(thinning.free.packs, thinning.free.strain): thinning.free}
    waiting: list[tuple[tuple[str, int], ...]] = [()]
    seen = set(waiting)
    while waiting and len(seen) <= MOST_BOXES:
        limits = dict(waiting.pop())
        mine = thinning.distinct(frontier(limits))
        for column in mine:
            found.setdefault((column.packs, column.strain), column)
        for item, count in sorted({use for one in mine for use in one.packs}):
            tighter = tuple(sorted({**limits, item: count - 1}.items()))
            if item in scarce and tighter not in seen:
                seen.add(tighter)
                waiting.append(tighter)
    return tuple(sorted(found.values(), key=lambda one: (thinning.cost(one), -one.strain, one.packs)))


@dataclass(frozen=True)
class BestLeftOut:
    """The plan that would take most off somebody to whom nothing is offered."""

    options: tuple[OptionSpec, ...]
    cost: Minor
    """At listed prices."""
    relief: Micro
    """What it takes off beyond what is free, and below, how much it would have to be to be told from that."""
    told_from: Micro


class Thinning:
    """Takes from frontiers of one person the distinct plans, as `planning.frontier` does.

    - `member`: the person's case, state, offers and weights.
    - `base`: the person's problem at listed prices.
    - `free`: the best plan for which nothing is bought.
    - `now`: strain today.
    - `kept`: score that is limited; of the plans that keep it the cheapest is offered whatever can be told,
      and the dearer ones that can be told from the one before.
    - `column`: writes a choice as a plan of the fund.
    """

    def __init__(
        self,
        member: Member,
        base: Problem,
        free: Column,
        now: Micro,
        kept: Goal | None,
        column: Callable[[Choice], Column],
    ) -> None:
        self.free = free
        self._now = now
        self._member, self._base, self._kept, self._column = member, base, kept, column
        self._noise = Noise(member.case, member.state, dict(member.weights))
        self._prices = {item.name: item.price or 0 for item in base.items}
        self._less: dict[object, list[Column]] = {}
        self._taken: dict[object, tuple[OptionSpec, ...]] = {}

    def cost(self, column: Column) -> Minor:
        """Money for a plan at listed prices."""
        return column.cost(self._prices)

    def left_out(self, column: Column) -> BestLeftOut:
        """Say of a plan that is not offered why it cannot be told from the free one."""
        free, taken = self._options(self.free), self._options(column)
        least = self._noise.strain(()) // LEAST_SHARE_TOLD
        sure = max(least, self._noise.sd(free, taken))
        return BestLeftOut(taken, self.cost(column), self.free.strain - column.strain, sure)

    def distinct(self, columns: Sequence[Column]) -> list[Column]:
        """What is offered of a frontier, without the free plan.

        What is bought in a plan is left out as long as what stays cannot be told from the plan; what stays is
        offered where it can be told from the one offered before it, which costs less.
        """
        distinct = [self.free]
        looked = [one for one in columns if self._worth(self.free, one)]
        asked = map(self._options, (self.free, *looked, *self._expected(looked)))
        # what is worth telling is a share of what nothing done leaves
        self._noise.know(((), *asked))
        for column in looked:
            if not self._told(distinct[-1], column):
                continue
            plan = self._pruned(column)
            below = [self.free, *(one for one in distinct[1:] if self.cost(one) < self.cost(plan))]
            if self._told(distinct[-1], plan) and self._told(below[-1], plan):
                distinct = [*below, plan]
        return [*distinct[1:], *(one for one in self._keeping(columns) if one not in distinct)]

    def _keeping(self, columns: Sequence[Column]) -> list[Column]:
        """What is offered of the plans that keep a limited score and leave no more than the free one."""
        if self._kept is None:
            return []
        distinct: list[Column] = []
        for column in sorted(columns, key=lambda one: (self.cost(one), one.strain)):
            keeps = column.score is not None and column.score <= self._kept.at_most
            if not keeps or column.strain > self.free.strain:
                continue
            if not distinct or self._told(distinct[-1], column):
                distinct.append(column)
        return distinct

    def _expected(self, columns: Sequence[Column]) -> list[Column]:
        """Plans that are looked at where all that is worth telling can be told: scored at once with it."""
        distinct, found = self.free, []
        for column in columns:
            if self._worth(distinct, column):
                plan = self._barely_less(column, column)
                found += [plan, *self._with_less(plan)]
                distinct = plan if self._worth(distinct, plan) else distinct
        return found

    def _worth(self, less: Column, more: Column) -> bool:
        """Whether the second of two plans leaves less by what is worth telling, if it can be told."""
        return LEAST_SHARE_TOLD * (less.strain - more.strain) > self._now

    def _told(self, less: Column, more: Column) -> bool:
        """Whether the second of two plans leaves less by what can be told."""
        return self._worth(less, more) and self._noise.distinguishable(
            self._options(less), self._options(more)
        )

    def _pruned(self, column: Column) -> Column:
        """A plan without what is bought and cannot be told in it, that first without which least is left."""
        plan = column
        while True:
            plan = self._barely_less(plan, column)
            less = self._with_less(plan)
            self._noise.know(map(self._options, less))
            fewer = [one for one in less if not self._told(one, column)]
            if not fewer:
                return plan
            plan = min(fewer, key=self._rank)

    def _barely_less(self, plan: Column, column: Column) -> Column:
        """A plan without what is bought and is not worth telling, for which no world has to be looked at."""
        while True:
            least = min(self._with_less(plan), key=self._rank, default=None)
            if least is None or self._worth(least, column):
                return plan
            plan = least

    def _rank(self, plan: Column) -> tuple[Micro, Minor, tuple[tuple[str, int], ...]]:
        """Order in which plans with less are preferred."""
        return plan.strain, self.cost(plan), plan.packs

    def _with_less(self, plan: Column) -> list[Column]:
        """The plan without each thing that is bought in it, where that keeps the rules and saves money."""
        if plan.choice in self._less:
            return self._less[plan.choice]
        chosen, options = self._pairs(plan), self._options(plan)
        found: list[Column] = []
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
        self._less[plan.choice] = found
        return found

    def _options(self, plan: Column) -> tuple[OptionSpec, ...]:
        if plan.choice not in self._taken:
            self._taken[plan.choice] = self._member.offers.taken(self._pairs(plan))
        return self._taken[plan.choice]

    def _pairs(self, plan: Column) -> dict[str, str]:
        return dict(plan.choice) if isinstance(plan.choice, tuple) else {}


@dataclass(frozen=True, eq=False)
class OfferedPlans:
    """All that is left to know of somebody who is offered listed plans only: no model and no search.

    - `row`, `had`: who, and what they have from before.
    - `person`: the person as the engine sees one.
    - `free`: the best plan for which nothing is bought.
    - `offered`: their plans.
    - `best_left_out`: the best that could be bought, where nothing is offered and anything could.
    - `listed`: price of a pack of everything [minor units].
    """

    row: ApplicantRow
    had: Had
    person: Applicant
    free: Column
    offered: tuple[Column, ...]
    best_left_out: BestLeftOut | None
    listed: Mapping[str, Minor]

    def applicant(self) -> Applicant:
        """As in `deskmend.grants.people.plans.PersonPlans`, and below."""
        return self.person

    def left_out(self) -> BestLeftOut | None:
        """The best that could be bought for somebody to whom nothing is offered; None where nothing is."""
        return self.best_left_out

    def columns(self, prices: Mapping[str, Minor], at_most: Mapping[str, int]) -> Sequence[Column]:
        """As in `deskmend.grants.people.columns.Pricing`."""
        return columns_within(self.offered, at_most)

    def best(
        self, prices: Mapping[str, Minor], strain_weight: int, money_weight: int, at_most: Mapping[str, int]
    ) -> Column:
        """As in `deskmend.grants.people.columns.Pricing`."""
        at = {**self.listed, **prices}
        return best_of_listed(self.columns(prices, at_most), at, strain_weight, money_weight)
