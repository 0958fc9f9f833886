"""The plan of a case: the best fix set within money and time, proven, checked and put in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from deskmend.choice import Choice, solve
from deskmend.errors import DefectError
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import WatchFor
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.planning.assessment import missing_measures
from deskmend.planning.bill import Bill, cheapest_packs, minutes_of
from deskmend.planning.budgets import EveryBudget
from deskmend.planning.dates import DEFAULT_MONTHS, Savings, Schedule, dated_groups, sequence
from deskmend.planning.goals import Goal
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.model.model import TableSizes, sizes_of
from deskmend.planning.model.offers import LeftOut, OptionSpec
from deskmend.planning.order import OrderedStep, put_in_order
from deskmend.planning.plan_check import hindered, verify_plan
from deskmend.planning.prepared import NoPlan, Prepared, prepare
from deskmend.planning.reach import Reach, Unreached, reach
from deskmend.planning.score import PLAIN, Score, score
from deskmend.planning.selection import state_with
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.workstation.state import State

__all__ = [
    "NoPlan",
    "Plan",
    "Prepared",
    "Reserve",
    "left_out_notes",
    "plan",
    "planned",
    "prepare",
    "reserves_of",
    "verify_plan",
]


@dataclass(frozen=True)
class Reserve:
    """Advice for what may happen, with what it would cost then."""

    option: OptionSpec
    watch: WatchFor
    cost: int | None


@dataclass(frozen=True)
class Plan:
    """A proven, checked and ordered plan.

    Attributes
    ----------
    case : Case
        For whom.
    currency : str
        Of all amounts.
    budget, limit : int or None
        Money in hand, and money that may be spent [minor units]; None: no limit.
    steps : tuple of OrderedStep
        In order.
    bill : Bill
        What is bought.
    minutes : int
        All work [min].
    before, after, after_free : Score
        Strain with the person's weights: now, with the plan, with what costs nothing alone.
    plain_before, plain_after : Score
        Without discomfort weights.
    state_before, state_after : State
        The states.
    watch_for : tuple of Reserve
        Advice that depends on what happens.
    choice : Choice
        What the engine answered, with its proof.
    strain_bound : int or None
        No plan can leave less strain than this [millionths of h/day].
    left_out : tuple of LeftOut
        Fixes not offered, with reasons.
    warnings : tuple of str
        What has to be said, the most important first.
    goals : tuple of Goal
        What had to be reached.
    minutes_limit : int or None
        Work that may be done [min]; None: no limit.
    schedule : Schedule or None
        What is bought when, where money comes in month by month.
    proven_twice : bool
        A second engine came to the same plan.
    sizes : TableSizes or None
        How large the exact model is that the plan was chosen from.
    goals : tuple of Goal
        What the plan was asked to reach, for the least money; none: least strain.
    """

    case: Case
    currency: str
    budget: int | None
    limit: int | None
    steps: tuple[OrderedStep, ...]
    bill: Bill
    minutes: int
    before: Score
    after: Score
    after_free: Score
    plain_before: Score
    plain_after: Score
    state_before: State
    state_after: State
    watch_for: tuple[Reserve, ...]
    choice: Choice
    strain_bound: int | None
    left_out: tuple[LeftOut, ...]
    warnings: tuple[str, ...]
    goals: tuple[Goal, ...] = ()
    minutes_limit: int | None = None
    proven_twice: bool = False
    schedule: Schedule | None = None
    sizes: TableSizes | None = None

    @property
    def cost(self) -> int:
        """Cost of all that is bought [minor units]."""
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
    def proven(self) -> bool:
        """Whether the plan is proven best; with money that comes in, over the purchases of its schedule."""
        return self.choice.proven


def plan(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    budget: int | None = None,
    minutes: int | None = None,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    notes: Sequence[str] = (),
    seconds: float | None = None,
    goals: Sequence[Goal] = (),
    prove: bool = False,
    saving: int | None = None,
) -> Plan:
    """Find the fix set that leaves least strain, then costs least, within money and time.

    Parameters
    ----------
    case : Case
        The case.
    catalog : Catalog
        Fixes.
    prices : PriceTable
        What things cost.
    budget : int, optional
        Money [minor units]; the case's own if left out.
    minutes : int, optional
        Work [min]; the case's own if left out.
    must, never : sequence of str
        Fixes that have to be, and must not be, in the plan.
    notes : sequence of str
        Warnings from before.
    seconds : float, optional
        Time the solver may take [s].
    goals : sequence of Goal
        Where there are any, the plan is the one that reaches them all for the
        least money, then the least minutes, then the least strain.
    prove : bool
        Solve once more with the other engine and refuse the plan if the two differ; not where money comes in
        over time.
    saving : int, optional
        Money that comes in each month [minor units]; the case's own if left out and no budget is given.

    Returns
    -------
    Plan
        Priced and scored again without the optimiser.

    Raises
    ------
    NoPlan
        Nothing keeps to the limits.
    InputFaults
        A wish cannot be understood.
    DefectError
        The check disagrees with the optimiser.
    """
    ready = prepare(case, catalog, prices, must, never)
    return planned(ready, budget, minutes, notes, seconds, goals, prove, saving)


def planned(
    ready: Prepared,
    budget: int | None = None,
    minutes: int | None = None,
    notes: Sequence[str] = (),
    seconds: float | None = None,
    goals: Sequence[Goal] = (),
    prove: bool = False,
    saving: int | None = None,
    every: EveryBudget | None = None,
) -> Plan:
    """Find the same for a case made ready before.

    Parameters
    ----------
    ready : Prepared
        The case, with its wishes.
    budget, minutes, notes, seconds, goals, prove, saving
        As for `plan`.
    every : EveryBudget, optional
        Of the same case and minutes, where others ask for its plans too.
    """
    case, catalog, prices = ready.case, ready.catalog, ready.prices
    savings = _savings(case, budget, saving) if not goals else None
    given = budget = case.means.budget if budget is None else budget
    minutes = case.means.minutes if minutes is None else minutes
    schedule: Schedule | None = None
    limit = budget
    if savings is None:
        choice = _chosen(ready, goals, budget, minutes, seconds)
    else:
        budget, limit = savings.in_hand, savings.limit
        schedule, choice = sequence(ready, savings, minutes, every)
    twice = prove and not goals and schedule is None
    if twice:
        _agree(ready, choice, budget, minutes)
    options = ready.options_of(choice)
    after, bill = verify_plan(ready, choice, limit, minutes, goals)
    free = choice if bill.total == 0 else solve(ready.problem(0, minutes), seconds=seconds)
    free_options = ready.options_of(free) if free.found else ()
    dated = None if schedule is None else dated_groups(schedule.stages)
    steps = put_in_order(options, ready.state, case, prices, ready.weights, dated)
    bound = None if choice.bound is None or goals else choice.bound + ready.model.fixed_strain
    return Plan(
        case,
        prices.currency,
        budget,
        limit,
        steps,
        bill,
        minutes_of(options),
        score(ready.state, ready.weights),
        score(after, ready.weights),
        score(state_with(ready.state, free_options), ready.weights),
        score(ready.state, PLAIN),
        score(after, PLAIN),
        ready.state,
        after,
        tuple(reserves_of(steps, case, prices)),
        choice,
        bound,
        ready.offers.left_out,
        tuple(
            dict.fromkeys(
                [
                    *sign_warnings(case, catalog),
                    *notes,
                    *left_out_notes(ready),
                    *_means_notes(case, given, savings, saving, goals),
                    *missing_measures(ready.state),
                ]
            )
        ),
        tuple(goals),
        minutes,
        twice,
        schedule,
        sizes_of(ready.problem(limit, minutes)),
    )


def _savings(case: Case, budget: int | None, saving: int | None) -> Savings | None:
    """Money over time; None where only the money in hand counts."""
    if saving is None and budget is None:
        saving = case.means.saving_per_month
    if not saving:
        return None
    in_hand = case.means.budget if budget is None else budget
    return Savings(in_hand or 0, saving, case.means.horizon_months or DEFAULT_MONTHS)


def _chosen(
    ready: Prepared, goals: Sequence[Goal], budget: int | None, minutes: int | None, seconds: float | None
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
        raise NoPlan(found.hinders, found.would_help)
    return found


def _agree(ready: Prepared, choice: Choice, budget: int | None, minutes: int | None) -> None:
    """Refuse a choice that the other engine, which shares only the problem with it, does not come to."""
    engine: Literal["program", "elimination"] = "elimination" if choice.engine == "program" else "program"
    other = solve(ready.problem(budget, minutes), engine=engine, gate_by_gate=True)
    ours, theirs = (
        (c.value, c.cost, c.minutes, dict(c.options)) if c.found else None for c in (choice, other)
    )
    if not other.proven or ours != theirs:
        raise DefectError(f"the engines differ: {choice.engine} {choice.figures}, {engine} {other.figures}")


def left_out_notes(ready: Prepared) -> list[str]:
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
    case: Case, budget: int | None, savings: Savings | None, saving: int | None, goals: Sequence[Goal]
) -> list[str]:
    out = []
    if savings is not None:
        out.append(tr("the saving per month is counted for {months} months", months=savings.months))
        if budget is None:
            out.append(tr("no budget is given: nothing is in hand today"))
        if case.means.horizon_months is None:
            out.append(
                tr("no horizon_months is given: {months} months are looked ahead", months=savings.months)
            )
        return out
    if budget is None:
        out.append(tr("no budget is given: the plan may spend any amount"))
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


def reserves_of(steps: Sequence[OrderedStep], case: Case, prices: PriceTable) -> list[Reserve]:
    """Advice for what may happen with the steps of a plan, with what it would cost then."""
    out = []
    chosen = {step.option.fix.id for step in steps}
    for step in steps:
        for watch in step.option.fix.watch:
            if watch.item is not None and watch.item in chosen:
                continue
            cost: int | None = 0
            if watch.item is not None:
                owned = case.owns.get(watch.item)
                need = watch.quantity - (owned.count if owned else 0)
                priced = prices.items.get(watch.item)
                packs = cheapest_packs(priced, need) if priced and need > 0 else None
                cost = 0 if need <= 0 else packs[1] if packs else None
            out.append(Reserve(step.option, watch, cost))
    return out
