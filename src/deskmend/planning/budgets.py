"""Every budget at which the plan of a case changes, each plan checked again without the optimiser."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from deskmend.choice import solve
from deskmend.intake.case import Case
from deskmend.measures import MILLION, Minor, Minutes, exact_amount, format_amount
from deskmend.planning.frontier import CheckedPlan, checked, dearest_within, distinct_plans, frontier_of
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan_check import hindered
from deskmend.planning.ready_case import NoPlan, ReadyCase
from deskmend.planning.score import Score, score
from deskmend.planning.selection import key_of
from deskmend.progress import tell_progress
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.risk.severity import read_together
from deskmend.workstation.state import State

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = [
    "AtBudget",
    "Comparison",
    "EveryBudget",
    "PlanChange",
    "Resized",
    "Stop",
    "change_between",
    "compared",
    "knee_of",
    "least_that_does",
    "screenful",
    "stop_of",
    "without_budget",
]


@dataclass(frozen=True)
class Resized:
    """One fix whose size changes from one plan to the next."""

    before: OptionSpec
    after: OptionSpec


@dataclass(frozen=True)
class PlanChange:
    """What changes from one plan to the next dearer one.

    - `enters`, `leaves`: fixes that only the later, and only the earlier, plan holds.
    - `resized`: fixes that both hold at different sizes.
    """

    enters: tuple[OptionSpec, ...]
    leaves: tuple[OptionSpec, ...]
    resized: tuple[Resized, ...]


def change_between(before: CheckedPlan | None, after: CheckedPlan) -> PlanChange:
    """What changes from one plan to a dearer one; `before` is None where nothing is done yet."""
    had = {key_of(option): option for option in (before.options if before is not None else ())}
    has = {key_of(option): option for option in after.options}
    kept = [(had[key], option) for key, option in has.items() if key in had]
    return PlanChange(
        tuple(option for key, option in has.items() if key not in had),
        tuple(option for key, option in had.items() if key not in has),
        tuple(Resized(was, now) for was, now in kept if was.with_name != now.with_name),
    )


@dataclass(frozen=True)
class AtBudget:
    """A budget asked for, and the plan within it; None where what must be cannot be had for it."""

    budget: Minor
    plan: CheckedPlan | None


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """The plans of a case over budgets.

    - `rungs`: cost strictly rising, strain strictly falling.
    - `every`: the case and its best plans, for what else is asked about them.
    - `every_gain`: whether the plans are the best themselves, not the distinct ones.
    - `at`: budgets asked for, rising; empty where all were looked for.
    - `knee`: where a unit of money begins to take off less than the mean; None where no plan stands out.
    """

    case: Case
    currency: str
    before: Score
    state_before: State
    rungs: tuple[CheckedPlan, ...]
    at: tuple[AtBudget, ...]
    knee: CheckedPlan | None
    every: EveryBudget
    every_gain: bool
    warnings: tuple[str, ...]

    @property
    def minutes_limit(self) -> Minutes | None:
        """Limit of the work."""
        return self.every.minutes

    @cached_property
    def scores_before(self) -> DayScores:
        """Published scores without any fix."""
        return scores_of(self.state_before)

    @property
    def proven(self) -> bool:
        """Whether every plan is proven best at its cost."""
        return all(rung.choice.proven for rung in self.rungs)

    def frame(self) -> DataFrame:
        """A data frame of the plans, by pandas, which is loaded only now: a row a plan, and one for today.

        Returns
        -------
        pandas.DataFrame
            ``cost`` as exact decimals in major units, ``strain`` and each region [h/day], ``minutes`` [min],
            ``fixes`` as how many, ``with`` as ``assess --with`` takes them.
        """
        from pandas import DataFrame

        rows = [(0, self.before, 0, ())] + [
            (rung.cost, rung.score, rung.minutes, rung.options) for rung in self.rungs
        ]
        return DataFrame(
            [
                {
                    "cost": exact_amount(cost, self.currency),
                    "strain": left.total / MILLION,
                    "minutes": minutes,
                    "fixes": len(options),
                    **{region: strain / MILLION for region, strain in left.by_region.items()},
                    "with": " ".join(option.with_name for option in options),
                }
                for cost, left, minutes, options in rows
            ],
            index=["today", *range(1, len(self.rungs) + 1)],
        )

    def __repr__(self) -> str:
        """A line a plan, on one screen."""
        name, currency = self.case.title or self.case.source, self.currency
        return screenful(
            f"Comparison: {name}, {self.before.total / MILLION:.2f} h/day today",
            [
                f"{format_amount(rung.cost, currency)} {currency}: {rung.strain / MILLION:.2f} h/day, "
                f"{len(rung.options)} fixes, {rung.minutes} min"
                for rung in self.rungs
            ],
        )


SCREEN_LINES, SCREEN_WIDTH = 20, 79
"""What a record shows of itself at most, so that it fits a screen of 24 lines of 80 characters."""


def screenful(head: str, lines: Sequence[str]) -> str:
    """A record as who works with it in Python sees it: a head and a line each, cut to a screen."""
    told = [f"  {line}" for line in lines]
    if len(told) >= SCREEN_LINES:
        told = [*told[: SCREEN_LINES - 2], f"  ... and {len(told) - SCREEN_LINES + 2} more"]
    return "\n".join(
        line if len(line) <= SCREEN_WIDTH else f"{line[: SCREEN_WIDTH - 3]}..." for line in (head, *told)
    )


def compared(
    ready: ReadyCase,
    at: Sequence[Minor] | None = None,
    notes: Sequence[str] = (),
    every_gain: bool = False,
    every: EveryBudget | None = None,
) -> Comparison:
    """Find the distinct plan at every budget or those asked for, or with `every_gain` the best.

    The case's own budget and saving are not looked at; its limit of minutes and its wishes are. `notes` are
    warnings from before; `every` is of the same case and its minutes, where others ask for its plans too.
    Raises `NoPlan` where what must be in the plan is not to be had within the limits.
    """
    case = ready.case
    every = every or EveryBudget(ready, case.means.minutes)
    asked: tuple[AtBudget, ...] = ()
    if at is None:
        rungs = every.frontier if every_gain else every.distinct
    else:
        asked = _at(every, sorted(set(at)), every_gain)
        # budgets between two plans have the same one
        rungs = tuple({one.plan.cost: one.plan for one in asked if one.plan is not None}.values())
    read_together([ready.now, *(rung.state for rung in rungs)])
    return Comparison(
        case=case,
        currency=ready.prices.currency,
        before=score(ready.now, ready.weights),
        state_before=ready.now,
        rungs=rungs,
        at=asked,
        knee=knee_of(rungs) if at is None else None,
        every=every,
        every_gain=every_gain,
        warnings=tuple(dict.fromkeys([*ready.signs, *notes])),
    )


def _at(every: EveryBudget, budgets: Sequence[Minor], every_gain: bool) -> tuple[AtBudget, ...]:
    if not every_gain:
        every.within(budgets[-1])
        return tuple(AtBudget(budget, dearest_within(every.distinct, budget)) for budget in budgets)
    out: list[AtBudget] = []
    ready, minutes = every.ready, every.minutes
    last = None
    for number, budget in enumerate(budgets):
        tell_progress(number, len(budgets))
        last = solve(ready.problem(budget, minutes))
        out.append(AtBudget(budget, checked(ready, last, last.cost, minutes) if last.found else None))
    if last is not None and not last.found:
        raise hindered(ready, budgets[-1], minutes, last)
    return tuple(out)


class EveryBudget:
    """The plans of a case within its minutes, looked for when first asked for, once for all that ask.

    Over all budgets there is one frontier: what is given at a budget never hangs on which is asked for.
    """

    def __init__(self, ready: ReadyCase, minutes: Minutes | None) -> None:
        self.ready = ready
        self.minutes = minutes

    @cached_property
    def frontier(self) -> tuple[CheckedPlan, ...]:
        """See `frontier_of`."""
        return frontier_of(self.ready, self.minutes)

    @cached_property
    def distinct(self) -> tuple[CheckedPlan, ...]:
        """See `distinct_plans`."""
        return distinct_plans(self.ready, self.frontier, self.minutes)

    def within(self, money: Minor | None) -> tuple[CheckedPlan, ...]:
        """The best plans up to a cost; `NoPlan` then says what hinders within that money."""
        if money is None:
            return self.frontier
        try:
            kept = tuple(one for one in self.frontier if one.cost <= money)
        except NoPlan:
            kept = ()
        return kept or frontier_of(self.ready, self.minutes, money)


MARKED = 2
"""How many times as much money must buy before a point than beyond it, for people to be told (judgement)."""


@dataclass(frozen=True)
class Stop:
    """Where money begins to buy less, between the cheapest and the dearest of some plans; see `knee_of`."""

    first: CheckedPlan
    plan: CheckedPlan
    last: CheckedPlan


def stop_of(plans: Sequence[CheckedPlan]) -> Stop | None:
    """Where to stop on a way up some plans; None where no plan stands out.

    One stands out where a unit of money takes off at least `MARKED` times as much up to it as beyond it.
    """
    knee = knee_of(plans)
    if knee is None:
        return None
    first, last = plans[0], plans[-1]
    before = (first.strain - knee.strain) * (last.cost - knee.cost)
    beyond = (knee.strain - last.strain) * (knee.cost - first.cost)
    return Stop(first, knee, last) if before >= MARKED * beyond else None


def without_budget(ready: ReadyCase, distinct: Sequence[CheckedPlan]) -> CheckedPlan:
    """Plan where no budget is told: as much money as buys much, or the least that does something."""
    stop = stop_of(distinct)
    return least_that_does(ready, distinct) if stop is None else stop.plan


def least_that_does(ready: ReadyCase, distinct: Sequence[CheckedPlan]) -> CheckedPlan:
    """Cheapest plan that does something; of some that cost money, that from which on it buys less."""
    if len(distinct) == 1 or not ready.as_it_is(distinct[0].options):
        return distinct[0]
    return knee_of(distinct) or distinct[-1]


def knee_of(plans: Sequence[CheckedPlan]) -> CheckedPlan | None:
    """The plan at which money begins to take off less than it does in the mean.

    From it on no dearer plan takes off, for each further unit of money, more than all the money on the whole
    way takes off in the mean; the cheapest of equals. It is the one that lies furthest under the straight
    line from the first to the last. None where there are fewer than three or none lies under the line.

    Notes
    -----
    Distance from the chord: common practice, no source. The largest single drop of gain for money would
    almost always point at the first cheap thing, so it is the drop across the mean that counts. Whole
    numbers alone are compared.
    """
    if len(plans) < 3:
        return None
    first, last = plans[0], plans[-1]
    cost, gain = last.cost - first.cost, first.strain - last.strain

    def under(plan: CheckedPlan) -> int:
        return (first.strain - plan.strain) * cost - (plan.cost - first.cost) * gain

    best = max(plans, key=lambda plan: (under(plan), -plan.cost))
    return best if under(best) > 0 else None
