"""The frontier of a case, its distinct plans, and what each bundle of a plan is worth.

A bundle is what is done in one go: one fix, or several that work only together. What it is worth is what the
same plan leaves more without it: nothing else is bought, made or switched on in its place, only sizes are set
anew, and what needs the bundle goes with it. So the figures of a plan do not add up: two bundles that serve
the same end are worth little each, two that need each other the whole each.

The frontier is walked by cost, from nothing changed. A plan of it that is distinguishable from the distinct
plan before it is taken. Then bundles are left out of it, those first without which least is left, as long as
what stays is distinguishable neither from what it was before nor from the plan taken, and still is from the
distinct plan before. So every distinct plan is distinguishable from the one before it, no plan within its
cost leaves distinguishably less, and nothing certain goes because something unsure went first.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import prod

from deskmend.choice import Choice, Decision, Problem, evaluate, frontier, solve
from deskmend.choice.network import affordable
from deskmend.choice.open_prices import Exhaustive, TooMany
from deskmend.choice.problem import part_of
from deskmend.choice.result import best_choice, best_of, no_choice, priced_by
from deskmend.choice.variants import cases_of, narrowed, without_barred
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.bill import Bill
from deskmend.planning.model.cohorts import CARRIED, carrier_name
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.order import in_set_up_order
from deskmend.planning.plan_check import AfterPlan, all_reached, hindered, verify_plan
from deskmend.planning.reach import Goal
from deskmend.planning.ready_case import ReadyCase
from deskmend.planning.score import Score
from deskmend.planning.selection import FixKey, decision_of, key_of
from deskmend.progress import tell_progress
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.workstation.state import State

__all__ = [
    "Bundle",
    "CheckedPlan",
    "Instead",
    "Remains",
    "Reoptimizer",
    "bundles_of",
    "checked",
    "dearest_within",
    "distinct_plans",
    "frontier_of",
    "nothing_changed",
]


@dataclass(frozen=True)
class CheckedPlan:
    """What a choice comes to in the case, checked; one of the frontier is best up to the next one's cost.

    - `options`: fixes in set-up order.
    - `score`: strain left, with the person's weights.
    """

    choice: Choice
    options: tuple[OptionSpec, ...]
    bill: Bill
    state: State
    score: Score

    @property
    def cost(self) -> Minor:
        """Cost of all that is bought."""
        return self.bill.total

    @property
    def strain(self) -> Micro:
        """Strain left."""
        return self.score.total

    @property
    def minutes(self) -> Minutes:
        """All work."""
        return self.choice.minutes

    @cached_property
    def scores(self) -> DayScores:
        """Published scores with the plan."""
        return scores_of(self.state)


def checked(
    ready: ReadyCase,
    choice: Choice,
    money: Minor | None,
    minutes: Minutes | None,
    goals: Sequence[Goal] = (),
    reached: AfterPlan | None = None,
) -> CheckedPlan:
    """Check a choice against the limits and the goals; raises `DefectError` where anything does not hold.

    `reached` as in `verify_plan`.
    """
    after, scored, bill = verify_plan(ready, choice, money, minutes, goals, reached)
    return CheckedPlan(choice, in_set_up_order(ready.options_of(choice)), bill, after, scored)


def frontier_of(
    ready: ReadyCase, minutes: Minutes | None, money: Minor | None = None
) -> tuple[CheckedPlan, ...]:
    """Every plan that is best at some budget, from the least cost up to `money`.

    All are checked together; what is shown step by step is scored alone once more, as the last of its stages.
    Raises `NoPlan` where nothing keeps to the limits.
    """
    problem = ready.problem(money, minutes)
    # A limit of minutes makes the search far longer; what is best without it and keeps it is best with it.
    found = frontier(replace(problem, minutes=None))
    if minutes is not None and any(one.minutes > minutes for one in found):
        found = frontier(problem)
    if not found:
        raise hindered(ready, money, minutes, solve(problem))
    reached = all_reached(ready, [ready.options_of(choice) for choice in found])
    return tuple(
        checked(ready, choice, choice.cost, minutes, reached=one)
        for choice, one in zip(found, reached, strict=True)
    )


@dataclass(frozen=True)
class Instead:
    """What would do instead of a bundle, where the two are not distinguishable.

    - `options`: what is done in its place, and what is then set otherwise than in the plan.
    - `gone`: what else of the plan it takes the place of.
    - `strain`: what the plan leaves with it.
    - `more`: what it costs beyond the plan, less than 0 where it is cheaper.
    """

    options: tuple[OptionSpec, ...]
    gone: tuple[OptionSpec, ...]
    strain: Micro
    more: Minor


@dataclass(frozen=True, kw_only=True)
class Bundle:
    """What is done in one go: one fix, or several that work only together.

    - `options`: in set-up order.
    - `head`: what the others are for.
    - `leaving_out`: what the same plan leaves more without it.
    - `told`: whether the plan is distinguishable from that.
    - `along`: what else of the plan needs it, and goes with it.
    - `instead`: what would do as well; None where nothing would.
    """

    options: tuple[OptionSpec, ...]
    head: OptionSpec
    leaving_out: Micro
    told: bool
    along: tuple[OptionSpec, ...]
    instead: Instead | None

    @property
    def name(self) -> str | None:
        """Name of several, that of their head without a size; None where there is one fix alone."""
        return self.head.with_name.partition("=")[0] if len(self.options) > 1 else None


class Remains:
    """What stays of a plan without some of its fixes, nothing bought beyond what the plan buys of it.

    What must be in a plan stays only with `musts`; without it may be left out like anything else.
    """

    def __init__(self, ready: ReadyCase, plan: CheckedPlan, musts: bool) -> None:
        self._ready = ready.only([key_of(option) for option in plan.options])
        packs = plan.choice.packs
        base = self._ready.problem(None, None) if musts else self._ready.base
        items = tuple(replace(item, stock=packs.get(item.name, 0)) for item in base.items)
        self._asked = Reoptimizer(part_of(base, items=items))
        self._known: dict[frozenset[FixKey], Choice] = {}

    def without(self, fixes: Collection[FixKey]) -> Choice:
        """The best that stays without some fixes; nothing is found where a must hinders."""
        key = frozenset(fixes)
        if key not in self._known:
            out: dict[str, list[str]] = {}
            for option in self._ready.offers.options():
                if key_of(option) in key:
                    out.setdefault(decision_of(option), []).append(option.name)
            choice = self._asked.best(out)
            self._known[key] = priced_by(self._ready.base, choice) if choice.found else choice
        return self._known[key]

    def options(self, choice: Choice) -> tuple[OptionSpec, ...]:
        """What a choice takes, in catalog order."""
        return self._ready.options_of(choice)

    def strain(self, choice: Choice) -> Micro:
        """Strain that a choice leaves."""
        return choice.value + self._ready.fixed_strain


FEW_COMBINATIONS = 500_000
"""Up to so many combinations a problem is looked at as it is; making it smaller first would take longer."""


class Reoptimizer:
    """A problem that is asked again and again with fewer options: all at once where it is small."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        try:
            self._parts: list[tuple[Problem, Exhaustive]] | None = [
                (part, Exhaustive(part)) for part in _parts_of(problem)
            ]
        except TooMany:
            self._parts = None

    def best(self, without: Mapping[str, Collection[str]]) -> Choice:
        """The best without some options, by decision."""
        if self._parts is None:
            return self._solved(without)
        found = [
            every.best(without)
            for part, every in self._parts
            if not any(_all_gone(decision, without) for decision in part.decisions)
        ]
        return best_of(self._problem, found)

    def _solved(self, without: Mapping[str, Collection[str]]) -> Choice:
        left = {
            decision.name: [
                n for n, one in enumerate(decision.options) if one.name not in without[decision.name]
            ]
            for decision in self._problem.decisions
            if decision.name in without
        }
        fewer = narrowed(self._problem, left) if all(left.values()) else None
        return no_choice("reduction") if fewer is None else solve(fewer)


def _parts_of(problem: Problem) -> list[Problem]:
    """Parts that hold all that is allowed between them, without what is barred by itself or never used."""
    used = {name for decision in problem.decisions for option in decision.options for name in option.use}
    problem = part_of(problem, items=tuple(item for item in problem.items if item.name in used))
    if prod(len(decision.options) for decision in problem.decisions) <= FEW_COMBINATIONS:
        return [problem]
    return list(cases_of(without_barred(affordable(problem))))


def _all_gone(decision: Decision, without: Mapping[str, Collection[str]]) -> bool:
    gone = without.get(decision.name, ())
    return bool(gone) and all(option.name in gone for option in decision.options)


def bundles_of(
    ready: ReadyCase, plan: CheckedPlan, money: Minor | None, minutes: Minutes | None
) -> tuple[Bundle, ...]:
    """Bundles of a plan, those first without which most is left.

    `money` and `minutes` are the limits within which something else may do instead.
    """
    taken = {key_of(option): option for option in plan.options}
    remains = Remains(ready, plan, musts=False)

    def along(group: frozenset[FixKey]) -> frozenset[FixKey]:
        stays = {key_of(option) for option in remains.options(remains.without(group))}
        return frozenset(taken) - stays - group

    groups = [frozenset([key]) for key in taken]
    needs = {group: along(group) for group in groups}
    asked = {*groups, *needs.values(), *(group | more for group, more in needs.items())}
    ready.noise.know([plan.options, *(remains.options(remains.without(each)) for each in asked if each)])
    while True:
        joined = next(
            (both for group in groups if (both := _joined(ready, remains, group, along(group)))), None
        )
        if joined is None:
            break
        inside = [group for group in groups if group & joined]
        groups = [group for group in groups if not group & joined]
        groups.append(frozenset().union(*inside))
    instead = _instead(ready, plan, groups, money, minutes)
    bundles = []
    for group in groups:
        without = remains.without(group)
        options = in_set_up_order(taken[key] for key in group)
        bundles.append(
            Bundle(
                options=options,
                head=_head(options, {key: needs[frozenset([key])] for key in taken}),
                leaving_out=remains.strain(without) - plan.strain,
                told=ready.noise.distinguishable(remains.options(without), plan.options),
                along=in_set_up_order(taken[key] for key in along(group)),
                instead=instead.get(group),
            )
        )
    return tuple(sorted(bundles, key=lambda one: (-one.leaving_out, one.head.with_name)))


def _joined(
    ready: ReadyCase, remains: Remains, group: frozenset[FixKey], along: frozenset[FixKey]
) -> frozenset[FixKey]:
    """A group and what goes with it, where it serves nothing else; else nothing.

    It serves nothing else where without the others it makes no difference that can be told.
    """
    if not along:
        return frozenset()
    others, both = remains.without(along), remains.without(along | group)
    if ready.noise.distinguishable(remains.options(others), remains.options(both)):
        return frozenset()
    return along | group


def _head(options: Sequence[OptionSpec], needs: Mapping[FixKey, frozenset[FixKey]]) -> OptionSpec:
    """What the others of a bundle are for: what most of them take along when they go, the last to set up.

    Where that holds something at its own place, as a strap holds a roll, what it holds.
    """
    counts = [sum(key_of(one) in needs[key_of(other)] for other in options) for one in options]
    last = max(range(len(options)), key=lambda place: (counts[place], place))
    head = options[last]
    held = (o for o in options if o.fix.stage == head.fix.stage and key_of(head) in needs[key_of(o)])
    return next(held, head)


def _instead(
    ready: ReadyCase,
    plan: CheckedPlan,
    groups: Sequence[frozenset[FixKey]],
    money: Minor | None,
    minutes: Minutes | None,
) -> dict[frozenset[FixKey], Instead]:
    """For bundles the best plan with rivals of theirs instead, where it is not distinguishable."""
    ours = {key_of(option) for option in plan.options}
    found: list[tuple[frozenset[FixKey], Choice]] = []
    for group in groups:
        places = {decision_of(option) for option in plan.options if key_of(option) in group}
        offered = {key_of(option) for option in ready.offers.options() if decision_of(option) in places}
        if not offered - group:
            continue
        choice = Reoptimizer(ready.only(ours - group | offered - group).problem(money, minutes)).best({})
        if choice.found and any(key_of(option) not in ours for option in ready.options_of(choice)):
            found.append((group, choice))
    ready.noise.know(ready.options_of(choice) for _, choice in found)
    out = {}
    for group, choice in found:
        if ready.noise.distinguishable(plan.options, ready.options_of(choice)):
            continue
        there = checked(ready, priced_by(ready.base, choice), money, minutes)
        # What is only set otherwise belongs to it too: without that it may not do as well.
        as_planned = {(key_of(option), option.name) for option in plan.options}
        new = tuple(o for o in there.options if (key_of(o), o.name) not in as_planned)
        stays = group | {key_of(o) for o in there.options}
        gone = tuple(o for o in plan.options if key_of(o) not in stays)
        out[group] = Instead(new, gone, there.strain, there.cost - plan.cost)
    return out


def nothing_changed(ready: ReadyCase) -> CheckedPlan | None:
    """The plan that leaves all as it stands; None where something must be done."""
    problem = ready.problem(None, None)
    as_it_is = {decision.name: decision.options[0].name for decision in problem.decisions}
    for option in ready.in_place:
        offered = next((one.options for one in problem.decisions if one.name == decision_of(option)), ())
        if all(one.name != option.name for one in offered):
            return None
        as_it_is[decision_of(option)] = option.name
        if option.fix.carried and carrier_name(option.fix.id) in as_it_is:
            as_it_is[carrier_name(option.fix.id)] = CARRIED
    scored = evaluate(problem, as_it_is)
    if scored.violations:
        return None
    return checked(ready, best_choice(problem, scored, "none"), 0, None)


def distinct_plans(
    ready: ReadyCase, frontier: Sequence[CheckedPlan], minutes: Minutes | None
) -> tuple[CheckedPlan, ...]:
    """Distinct plans of a frontier: cost strictly rising, strain strictly falling.

    The first costs least of all: it changes nothing, or only what is free, or what must be.
    """
    noise, nothing = ready.noise, nothing_changed(ready)
    distinct: list[CheckedPlan] = []
    noise.know(best.options for best in frontier)
    for number, best in enumerate(frontier):
        tell_progress(number, len(frontier))
        last = distinct[-1] if distinct else nothing
        if last is not None and not noise.distinguishable(last.options, best.options):
            continue
        plan = _Pruning(ready, frontier[: number + 1], distinct, nothing, minutes).run()
        while distinct and distinct[-1].cost >= plan.cost:
            distinct.pop()
        distinct.append(plan)
    if nothing is not None and (not distinct or distinct[0].cost > 0):
        distinct.insert(0, nothing)
    return tuple(distinct)


def dearest_within(distinct: Sequence[CheckedPlan], money: Minor | None) -> CheckedPlan | None:
    """The last of some plans, by cost, within a budget; None where what must be is dearer."""
    return next((plan for plan in reversed(distinct) if money is None or plan.cost <= money), None)


class _Pruning:
    """Leaves bundles out of the last plan of a frontier."""

    def __init__(
        self,
        ready: ReadyCase,
        frontier: Sequence[CheckedPlan],
        distinct: Sequence[CheckedPlan],
        nothing: CheckedPlan | None,
        minutes: Minutes | None,
    ) -> None:
        self._ready, self._frontier, self._distinct, self._nothing = ready, frontier, distinct, nothing
        self._minutes = minutes

    def run(self) -> CheckedPlan:
        plan = self._frontier[-1]
        while True:
            shorter = self._shorter(plan)
            if shorter is None:
                return plan
            plan = shorter

    def _shorter(self, plan: CheckedPlan) -> CheckedPlan | None:
        """The plan without one of its fixes, that without which least is left; None where all are needed."""
        remains = Remains(self._ready, plan, musts=True)
        found: list[tuple[int, str, Choice]] = []
        for option in plan.options:
            if option in self._ready.in_place:
                continue
            choice = remains.without([key_of(option)])
            if choice.found:
                found.append((choice.value, option.with_name, choice))
        found.sort(key=lambda one: one[:2])
        self._ready.noise.know(
            remains.options(choice)
            for _, _, choice in found
            if all(one is None or remains.strain(choice) < one.strain for one in self._before(choice.cost))
        )
        for _, _, choice in found:
            options = remains.options(choice)
            # what makes a difference by itself stays, however unsure that of all left out before it is
            if self._may_stand(
                choice.cost, remains.strain(choice), options
            ) and not self._ready.noise.distinguishable(options, plan.options):
                return checked(self._ready, choice, None, self._minutes)
        return None

    def _may_stand(self, cost: Minor, strain: Micro, options: Sequence[OptionSpec]) -> bool:
        """Whether a plan is distinct from those before it, and none so far leaves distinguishably less."""
        noise = self._ready.noise
        if not all(
            one is None or (strain < one.strain and noise.distinguishable(one.options, options))
            for one in self._before(cost)
        ):
            return False
        return not any(
            one.strain < strain and noise.distinguishable(one.options, options)
            for one in reversed(self._frontier)
        )

    def _before(self, cost: Minor) -> Sequence[CheckedPlan | None]:
        """Distinct plans from which a plan of some cost has to be distinguishable."""
        # a distinct plan that costs no less gives way, so the one below it is the one before then
        return [
            next(reversed(self._distinct), self._nothing),
            next((one for one in reversed(self._distinct) if one.cost < cost), self._nothing),
        ]
