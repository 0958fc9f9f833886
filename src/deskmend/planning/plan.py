"""The plan of a case, proven, checked and put in order: for its own means, or one for every budget.

A plan is found by the engines, by a schedule of purchases where money comes in over time, or taken from the
frontier. Whichever it was, `PlanMaker` makes the record of it from the checked choice.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from deskmend.choice import Choice, solve
from deskmend.errors import DefectError
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import shown_number, tr
from deskmend.measures import MILLION, Micro, Minor, Minutes, format_amount
from deskmend.planning.assessment import missing_measures
from deskmend.planning.bill import Bill
from deskmend.planning.budgets import (
    Comparison,
    EveryBudget,
    Stop,
    compared,
    least_that_does,
    screenful,
    stop_of,
    without_budget,
)
from deskmend.planning.dates import DEFAULT_MONTHS, Savings, Schedule, sequence
from deskmend.planning.draws import UncertainLength
from deskmend.planning.fit import Lack, lacks_of, with_remedies
from deskmend.planning.frontier import (
    Bundle,
    CheckedPlan,
    bundles_of,
    checked,
    dearest_within,
    distinct_plans,
)
from deskmend.planning.inputs import person_notes, unused_warnings
from deskmend.planning.mismatch import Mismatch, mismatches_in, with_mendable
from deskmend.planning.model.cohorts import TableSizes, sizes_of
from deskmend.planning.model.offers import LeftOut, OptionSpec
from deskmend.planning.order import OrderedStep, Reserve, put_in_order, reserves_of
from deskmend.planning.plan_check import hindered
from deskmend.planning.reach import Goal, Reach, Unreached, reach
from deskmend.planning.ready_case import NoPlan, ReadyCase, prepare
from deskmend.planning.score import PLAIN, Score, score
from deskmend.planning.selection import FixKey, decision_of, key_of, state_with
from deskmend.planning.stages import Stage, Supply, at_work, by_stage, least_left, stages_of, useful_supplies
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.workstation.state import State

__all__ = [
    "BudgetPlans",
    "ByHand",
    "NoPlan",
    "Plan",
    "PlanMaker",
    "budget_plans",
    "budget_plans_of",
    "least_strain",
    "plan",
    "planned",
    "unpriced_notes",
]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A proven, checked and ordered plan.

    - `budget`, `limit`: money in hand, and money that may be spent; None: no limit.
    - `goals`: what the plan was asked to reach, for the least money; none: least strain.
    - `in_place`: what stands already; `before` and `state_before` are with it.
    - `steps`: the fixes of the last stage in their order, what stands already first.
    - `stages`: the whole arrangements on the way, the first is today, the last the plan.
    - `schedule`: what is bought when, where money comes in month by month.
    - `before`, `after`, `after_free`: strain with the person's weights: now, with the plan, with what costs
      nothing alone.
    - `plain_before`, `plain_after`: without discomfort weights.
    - `warnings`: what has to be said, the most important first.
    - `best`: the best plan within the limits, whether or not it can be told from this one; None with goals.
    - `noise`: standard deviation of the difference of strain between this plan and the best.
    - `hidden_by`: the measure or estimate that hides most of what the best plan takes off besides; None where
      nothing is hidden.
    - `least_sure`: the measure or estimate on which what the plan takes off hangs most, each alone off by its
      standard deviation, and by how much; None where it hangs on none.
    - `bundles`: what is done in one go, and what each is worth, those first without which most is left.
    - `stop`: where money begins to buy less, whatever is in hand; None where nothing stands out or it was
      not looked for.
    - `dearer`: the next distinct plan that costs more; None where there is none, or they were not looked for.
    - `invented`: whether the prices are the shipped sample's.
    - `lacks`: what does not fit with the plan, and whether anything on offer mends it.
    - `mismatches`: what stays far off with the plan though it fits, and whether anything on offer mends it.
    - `nothing_to_gain`: no plan, at any price, can be told from the place as it is; False if not asked.
    - `strain_bound`: no plan can leave less strain than this.
    - `proven_twice`: a second engine came to the same plan.
    - `sizes`: how large the exact model is that the plan was chosen from; not told for every budget.
    """

    case: Case
    currency: str
    budget: Minor | None
    limit: Minor | None
    minutes_limit: Minutes | None
    goals: tuple[Goal, ...]
    in_place: tuple[OptionSpec, ...]
    steps: tuple[OrderedStep, ...]
    stages: tuple[Stage, ...]
    schedule: Schedule | None
    bill: Bill
    minutes: Minutes
    before: Score
    after: Score
    after_free: Score
    plain_before: Score
    plain_after: Score
    state_before: State
    state_after: State
    watch_for: tuple[Reserve, ...]
    left_out: tuple[LeftOut, ...]
    warnings: tuple[str, ...]
    choice: Choice
    best: CheckedPlan | None
    noise: Micro
    hidden_by: UncertainLength | None
    least_sure: tuple[UncertainLength, Micro] | None
    bundles: tuple[Bundle, ...]
    stop: Stop | None
    dearer: CheckedPlan | None
    invented: bool
    lacks: tuple[Lack, ...]
    mismatches: tuple[Mismatch, ...]
    nothing_to_gain: bool
    strain_bound: Micro | None
    proven_twice: bool
    sizes: TableSizes | None

    @property
    def cost(self) -> Minor:
        """Cost of all that is bought."""
        return self.bill.total

    @cached_property
    def scores_before(self) -> DayScores:
        """Published scores now."""
        return scores_of(self.state_before)

    @cached_property
    def scores_after(self) -> DayScores:
        """Published scores with the plan."""
        return scores_of(self.state_after)

    @property
    def does_nothing(self) -> bool:
        """Whether all is left as it is."""
        return not any(stage.changes for stage in self.stages)

    @property
    def stays(self) -> tuple[OptionSpec, ...]:
        """What stands already and is left as it is."""
        taken = {(key_of(step.option), step.option.name) for step in self.steps}
        return tuple(one for one in self.in_place if (key_of(one), one.name) in taken)

    @property
    def does_without(self) -> tuple[OptionSpec, ...]:
        """What stands already and is not in the plan, at whatever size."""
        taken = {key_of(step.option) for step in self.steps}
        return tuple(one for one in self.in_place if key_of(one) not in taken)

    @property
    def proven(self) -> bool:
        """Whether the best plan is proven; with money that comes in, over the purchases of its schedule."""
        if self.best is None or self.schedule is not None:
            return self.choice.proven
        return self.best.choice.proven

    def __repr__(self) -> str:
        """What it costs and leaves, and a line a step, on one screen."""
        proof = "proven best" if self.proven else "not proven best"
        return screenful(
            f"Plan: {self.case.title or self.case.source}",
            [
                f"{format_amount(self.cost, self.currency)} {self.currency}, {self.minutes} min, strain "
                f"{self.before.total / MILLION:.2f} to {self.after.total / MILLION:.2f} h/day, {proof}",
                *(f"{number}. {step.option.with_name}" for number, step in enumerate(self.steps, 1)),
            ],
        )

    @cached_property
    def bundle_of(self) -> dict[FixKey, Bundle]:
        """The bundle that each fix belongs to."""
        return {key_of(option): bundle for bundle in self.bundles for option in bundle.options}


@dataclass(frozen=True, kw_only=True)
class ByHand:
    """What somebody changed about the plan shown first, and what the best choice without that leaves.

    - `fixes`: the plan is exactly these; empty where only wishes were added.
    - `must`, `never`: wishes added to those of the case.
    - `left`: least strain that keeps to what was changed, for the money of the plan.
    - `best`: least strain without it, for no more money and time; None where the search found none.
    """

    fixes: tuple[str, ...]
    must: tuple[str, ...]
    never: tuple[str, ...]
    left: Micro
    best: Micro | None


@dataclass(frozen=True, kw_only=True)
class BudgetPlans:
    """Plans for every budget at which the best plan changes.

    - `plans`: one for each rung of the comparison, in order.
    - `budget`: money in hand; None where nobody said.
    - `chosen`: number of the plan for that budget, from 0; where none is known, the plan at which money
      begins to buy less, or else the cheapest.
    - `enough`: whether the budget pays for the plan chosen. It does not only where what must be is dearer.
    - `saving`: money that comes in each month.
    - `by_hand`: what was changed by hand; None where nothing was.
    """

    comparison: Comparison
    plans: tuple[Plan, ...]
    budget: Minor | None
    chosen: int
    enough: bool
    saving: Minor | None
    by_hand: ByHand | None = None

    @property
    def every(self) -> EveryBudget:
        """The case and its best plans, for what else is asked about them."""
        return self.comparison.every


class PlanMaker:
    """Makes the plan records of one case; what they have in common is worked out once."""

    def __init__(self, ready: ReadyCase, minutes: Minutes | None, notes: Sequence[str]) -> None:
        self._ready, self._minutes = ready, minutes
        self.before = score(ready.now, ready.weights)
        self._plain_before = score(ready.now, PLAIN)
        warnings = [
            *ready.signs,
            *notes,
            *person_notes(ready.case),
            *unused_warnings(ready.case),
            *missing_measures(ready.state),
        ]
        self._warnings = tuple(dict.fromkeys(warnings))

    def plan(
        self,
        chosen: CheckedPlan,
        *,
        budget: Minor | None,
        limit: Minor | None,
        after_free: Score,
        best: CheckedPlan | None,
        among: Sequence[CheckedPlan],
        every_gain: bool = False,
        goals: Sequence[Goal] = (),
        schedule: Schedule | None = None,
        stop: Stop | None = None,
        distinct: Sequence[CheckedPlan] = (),
        proven_twice: bool = False,
        sizes: TableSizes | None = None,
    ) -> Plan:
        """Record of a plan; its stages are sought among the fixes of some plans and its own, or among all."""
        ready, choice = self._ready, chosen.choice
        few = _choice_of_stages(ready, (*among, chosen), None if every_gain else self._until_musts())
        supplies = self._supplies(few, chosen, schedule)
        stages = stages_of(few, supplies, choice, dated=schedule is not None, every_gain=every_gain)
        if schedule is not None:
            schedule = replace(schedule, total=schedule.sum_of(stages))
        options = ready.options_of(choice)
        steps = put_in_order(
            options, ready.case, ready.prices, ready.outcomes, by_stage(stages), first=ready.in_place
        )
        bound = None if best is None else best.choice.bound
        return Plan(
            case=ready.case,
            currency=ready.prices.currency,
            budget=budget,
            limit=limit,
            minutes_limit=self._minutes,
            goals=tuple(goals),
            steps=steps,
            stages=stages,
            schedule=schedule,
            bill=chosen.bill,
            minutes=chosen.minutes,
            before=self.before,
            after=chosen.score,
            after_free=after_free,
            plain_before=self._plain_before,
            plain_after=score(chosen.state, PLAIN),
            state_before=ready.now,
            in_place=ready.in_place,
            state_after=chosen.state,
            watch_for=tuple(reserves_of(steps, chosen.state, ready.case, ready.prices)),
            left_out=ready.offers.left_out,
            warnings=self._warnings,
            choice=choice,
            best=best,
            least_sure=None
            if ready.as_it_is(chosen.options)
            else ready.noise.least_sure(ready.in_place, chosen.options),
            noise=0 if best is None else ready.noise.sd(best.options, chosen.options),
            hidden_by=None if best is None else ready.noise.hides(best.options, chosen.options),
            bundles=bundles_of(ready, chosen, limit, self._minutes),
            stop=stop,
            dearer=next((one for one in distinct if one.cost > chosen.cost), None),
            invented=ready.prices.invented,
            lacks=with_remedies(lacks_of(chosen.state), ready.model),
            mismatches=with_mendable(mismatches_in(chosen.state), ready.model),
            nothing_to_gain=bool(distinct) and all(ready.as_it_is(one.options) for one in distinct),
            strain_bound=None if bound is None else bound + ready.fixed_strain,
            proven_twice=proven_twice,
            sizes=sizes,
        )

    def _until_musts(self) -> set[FixKey]:
        """Fixes that settle otherwise what a must settles: a stage may have them until the must is there."""
        settled = {decision for must in self._ready.wanted for entry in must for decision in entry}
        return {key_of(option) for option in self._ready.offers.options() if decision_of(option) in settled}

    def _supplies(self, few: ReadyCase, chosen: CheckedPlan, schedule: Schedule | None) -> Sequence[Supply]:
        """What is there by when: as money comes in, or all that is bought in one go."""
        if schedule is not None:
            return schedule.supplies
        per_week = few.case.means.minutes_per_week
        supplies = at_work(chosen.bill.lines, self._minutes, per_week, chosen.minutes)
        if len(supplies) <= 2:
            return supplies
        kept = useful_supplies(supplies, lambda supply: least_left(few, supply))
        # a distinct plan may take longer than what is best for less time, and not leave less
        return kept if kept[-1] == supplies[-1] else [*kept, supplies[-1]]

    def after_free(self, distinct: Sequence[CheckedPlan]) -> Score:
        """Strain that is left with what costs nothing, where all distinct plans are known."""
        free = dearest_within(distinct, 0)
        return self.before if free is None else free.score

    def solved_free(self, seconds: float | None) -> Score:
        """The same with the best of what costs nothing."""
        free = solve(self._ready.problem(0, self._minutes), seconds=seconds)
        options = self._ready.options_of(free) if free.found else ()
        return score(state_with(self._ready.state, options), self._ready.weights)


def plan(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    budget: Minor | None = None,
    minutes: Minutes | None = None,
    *,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    notes: Sequence[str] = (),
    seconds: float | None = None,
    goals: Sequence[Goal] = (),
    prove: bool = False,
    saving: Minor | None = None,
    every_gain: bool = False,
) -> Plan:
    """Find the plan within money and time: the last of the distinct plans.

    `must` and `never` name fixes that have to be, and must not be, in the plan; for the rest see `planned`.
    Raises `InputFaults` where a wish cannot be understood.
    """
    return planned(
        prepare(case, catalog, prices, must, never),
        budget,
        minutes,
        notes=notes,
        seconds=seconds,
        goals=goals,
        prove=prove,
        saving=saving,
        every_gain=every_gain,
    )


def planned(
    ready: ReadyCase,
    budget: Minor | None = None,
    minutes: Minutes | None = None,
    *,
    notes: Sequence[str] = (),
    seconds: float | None = None,
    goals: Sequence[Goal] = (),
    prove: bool = False,
    saving: Minor | None = None,
    every: EveryBudget | None = None,
    every_gain: bool = False,
) -> Plan:
    """Find the plan of a case made ready before: the last within the limits of `distinct_plans`.

    - `ready`: the case, with its wishes.
    - `budget`, `minutes`: the case's own if left out; without a budget the plan goes as far as money buys
      much (`Plan.stop`), or else costs as little as a plan can that does something.
    - `notes`: warnings from before.
    - `seconds`: time the solver may take [s]; then the best within the limits stands for the frontier.
    - `goals`: where there are any, the plan is the one that reaches them all for the least money, then the
      least minutes, then the least strain.
    - `prove`: solve once more with the other engine and refuse the plan if the two differ; not where money
      comes in over time.
    - `saving`: money that comes in each month; the case's own if left out and no budget is given.
    - `every`: of the same case and minutes, where others ask for its plans too.
    - `every_gain`: the best plan itself, with every fix that takes anything off.
    - raises `NoPlan`: nothing keeps to the limits or reaches the goals.
    - raises `DefectError`: the check disagrees with the optimiser, or one engine with the other.
    """
    case = ready.case
    savings = None if goals else _savings(case, budget, saving)
    budget = case.means.budget if budget is None else budget
    minutes = case.means.minutes if minutes is None else minutes
    every = every or EveryBudget(ready, minutes)
    stop: Stop | None = None
    limit = budget
    if not (goals or every_gain or seconds is not None):
        if savings is None:
            # asked first: where both limits hinder, both are told
            every.within(budget)
        stop = stop_of(every.distinct)
        if budget is None and savings is None:
            limit = without_budget(ready, every.distinct).cost
    means_notes = _means_notes(ready, budget, limit, savings, saving, goals)
    maker = PlanMaker(ready, minutes, [*notes, *unpriced_notes(ready), *means_notes])
    if savings is not None:
        return _dated(ready, savings, every, maker, every_gain, stop)
    best: CheckedPlan | None = None
    among: Sequence[CheckedPlan] = ()
    among_all = bool(goals or every_gain or seconds is not None)
    if among_all:
        choice = _chosen(ready, goals, budget, minutes, seconds)
        chosen = checked(ready, choice, budget, minutes, goals)
        if not goals:
            best = chosen
        if best is not None and not every_gain:
            chosen = distinct_plans(ready, [best], minutes)[-1]
            among_all = False
        after_free = chosen.score if chosen.cost == 0 else maker.solved_free(seconds)
    else:
        best = every.within(limit)[-1]
        chosen = dearest_within(every.distinct, limit) or best
        after_free = maker.after_free(every.distinct)
        among = [one for one in every.distinct if one.cost <= chosen.cost]
    if prove and best is not None:
        _agree(ready, best.choice, limit, minutes)
    return maker.plan(
        chosen,
        budget=budget,
        limit=limit,
        after_free=after_free,
        best=best,
        among=among,
        every_gain=among_all,
        goals=goals,
        stop=stop,
        distinct=() if stop is None and (goals or every_gain or seconds is not None) else every.distinct,
        proven_twice=prove and best is not None,
        sizes=sizes_of(ready.problem(limit, minutes)),
    )


def _dated(
    ready: ReadyCase,
    savings: Savings,
    every: EveryBudget,
    maker: PlanMaker,
    every_gain: bool,
    stop: Stop | None,
) -> Plan:
    """The plan where money comes in: over fixes that distinct plans up to all the money take, or over all."""
    frontier = every.within(savings.limit)
    plans = (
        frontier
        if every_gain
        else tuple(one for one in every.distinct if one.cost <= savings.limit) or frontier
    )
    few = _choice_of_stages(ready, plans, None if every_gain else ())
    schedule, choice = sequence(few, savings, every.minutes, every, plans)
    chosen = checked(few, choice, savings.limit, every.minutes)
    return maker.plan(
        chosen,
        budget=savings.in_hand,
        limit=savings.limit,
        after_free=maker.after_free(every.frontier if every_gain else every.distinct),
        best=frontier[-1],
        among=plans,
        every_gain=every_gain,
        schedule=schedule,
        stop=stop,
        distinct=() if every_gain else every.distinct,
        sizes=sizes_of(ready.problem(savings.limit, every.minutes)),
    )


def _choice_of_stages(
    ready: ReadyCase, plans: Sequence[CheckedPlan], also: Collection[FixKey] | None
) -> ReadyCase:
    """The choice among the fixes of some plans and some others, or with None among all.

    What is cut or bought in a size has that of the last plan with it, for dates as for stages.
    """
    taken = [option for one in plans for option in one.options]
    few = ready if also is None else ready.only({*map(key_of, taken), *also})
    return few.in_sizes_of(taken)


def _savings(case: Case, budget: Minor | None, saving: Minor | None) -> Savings | None:
    """Money over time; None where only the money in hand counts."""
    if saving is None and budget is None:
        saving = case.means.saving_per_month
    if not saving:
        return None
    in_hand = case.means.budget if budget is None else budget
    return Savings(in_hand or 0, saving, case.means.horizon_months or DEFAULT_MONTHS)


def _chosen(
    ready: ReadyCase,
    goals: Sequence[Goal],
    budget: Minor | None,
    minutes: Minutes | None,
    seconds: float | None,
) -> Choice:
    """The choice that leaves least strain, or the one that reaches the goals for least money."""
    if not goals:
        choice = solve(ready.problem(budget, minutes), seconds=seconds)
        if not choice.found:
            raise hindered(ready, budget, minutes, choice)
        return choice

    def state_after(choice: Choice) -> State:
        return state_with(ready.state, ready.options_of(choice))

    search = Reach(ready.model, ready.problem, state_after, ready.prices.currency, seconds)
    found = reach(search, goals, budget, minutes)
    if isinstance(found, Unreached):
        raise NoPlan(found.hinders, found.would_help, signs=ready.signs)
    return found


def _agree(ready: ReadyCase, choice: Choice, budget: Minor | None, minutes: Minutes | None) -> None:
    """Refuse a choice that the other engine, which shares only the problem with it, does not come to."""
    engine: Literal["program", "elimination"] = "elimination" if choice.engine == "program" else "program"
    other = solve(ready.problem(budget, minutes), engine=engine, gate_by_gate=True)

    def answer(choice: Choice) -> tuple[int, int, int, Mapping[str, str]] | None:
        found = choice.found
        return (choice.value, choice.cost, choice.minutes, dict(choice.options)) if found else None

    if not other.proven or answer(choice) != answer(other):
        raise DefectError(f"the engines differ: {choice.engine} {choice.figures}, {engine} {other.figures}")


def unpriced_notes(ready: ReadyCase) -> list[str]:
    """Warnings about fixes that no price makes possible."""
    reasons: dict[str, list[str]] = {}
    for left in ready.offers.left_out:
        if left.cause == "no_price":
            reasons.setdefault(left.reason, []).append(left.fix.id)
    return [
        tr("{reason}: {fixes} cannot be planned", reason=reason, fixes=", ".join(dict.fromkeys(ids)))
        for reason, ids in reasons.items()
    ]


def _means_notes(
    ready: ReadyCase,
    budget: Minor | None,
    limit: Minor | None,
    savings: Savings | None,
    saving: Minor | None,
    goals: Sequence[Goal],
) -> list[str]:
    """Warnings about money that nobody told, and about a saving that is not counted."""
    case, out = ready.case, []
    if savings is not None:
        out.append(tr("the saving per month is counted for {months} months", months=savings.months))
        if budget is None:
            out.append(tr("no budget is given: nothing is in hand today"))
        if case.means.horizon_months is None:
            out.append(
                tr("no horizon_months is given: {months} months are looked ahead", months=savings.months)
            )
        return out
    if limit is None:
        out.append(tr("no budget is given: the plan may spend any amount"))
    elif budget is None:
        amount = shown_number(format_amount(limit, ready.prices.currency))
        cost = f"{amount} {ready.prices.currency}"
        out.append(tr("no budget is given: the plan keeps to {cost}; --budget says another", cost=cost))
    if goals and (saving or case.means.saving_per_month):
        out.append(tr("a saving per month is not counted with --reach: the money in hand alone is spent"))
    elif case.means.saving_per_month:
        out.append(
            tr(
                "the saving per month is not counted, since a budget is asked for: this plan spends that "
                "alone (--saving spreads purchases over the months)"
            )
        )
    return out


def budget_plans(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    budget: Minor | None = None,
    at: Sequence[Minor] | None = None,
    notes: Sequence[str] = (),
    must: Sequence[str] = (),
    never: Sequence[str] = (),
) -> BudgetPlans:
    """Find the distinct plan at every budget, or at those asked for, and put each in order.

    - `case`, `catalog`, `prices`: what is planned from.
    - `budget`: money in hand; the case's own if left out.
    - `at`, `notes`: see `compared`.
    - `must`, `never`: wishes beside those of the case; what they cost is told (`ByHand`).
    - raises `NoPlan`, `InputFaults`: a wish is not to be had within the limits, or not understood.
    """
    ready = prepare(case, catalog, prices, must, never)
    return budget_plans_of(compared(ready, at, notes), budget, must, never)


def budget_plans_of(
    found: Comparison,
    budget: Minor | None = None,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
) -> BudgetPlans:
    """Put the distinct plan at every budget, or at those asked for, in order.

    - `found`: the distinct plans, of a case made ready with `must` and `never`.
    - `budget`: money in hand; the case's own if left out.
    - raises `DefectError`: the check disagrees with the optimiser.
    """
    every = found.every
    ready, case, everywhere = every.ready, found.case, not found.at
    in_hand = case.means.budget if budget is None else budget
    maker = PlanMaker(ready, found.minutes_limit, [*found.warnings, *unpriced_notes(ready)])
    free = maker.after_free(every.distinct)
    stop = stop_of(every.distinct)
    cheapest = least_that_does(ready, found.rungs) if everywhere else found.rungs[0]
    where = cheapest if stop is None else stop.plan
    first_shown = where.cost if in_hand is None else in_hand
    affordable = [n for n, rung in enumerate(found.rungs) if rung.cost <= first_shown]
    chosen = max(affordable, default=0)
    # the plan for the money in hand is the same as elsewhere: best within all of it, not within its own cost
    limits = [rung.cost for rung in found.rungs]
    if everywhere and in_hand is not None and affordable:
        limits[chosen] = in_hand
    by_hand = None
    if must or never:
        best = least_strain(prepare(case, ready.catalog, ready.prices), limits[chosen], found.minutes_limit)
        left = every.within(limits[chosen])[-1]
        by_hand = ByHand(fixes=(), must=tuple(must), never=tuple(never), left=left.strain, best=best)
    return BudgetPlans(
        comparison=found,
        plans=tuple(
            maker.plan(
                rung,
                budget=in_hand if number == chosen else rung.cost,
                limit=limit,
                after_free=free,
                best=every.within(limit)[-1],
                among=[one for one in every.distinct if one.cost <= rung.cost],
                stop=stop,
                distinct=every.distinct,
            )
            for number, (rung, limit) in enumerate(zip(found.rungs, limits, strict=True))
        ),
        budget=in_hand,
        chosen=chosen,
        enough=bool(affordable) or in_hand is None,
        saving=case.means.saving_per_month or None,
        by_hand=by_hand,
    )


def least_strain(ready: ReadyCase, money: Minor, minutes: Minutes | None) -> Micro | None:
    """Least strain within limits; None where nothing keeps to them."""
    choice = solve(ready.problem(money, minutes))
    return choice.value + ready.fixed_strain if choice.found else None
