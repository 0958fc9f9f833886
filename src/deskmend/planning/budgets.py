"""Every budget at which the best plan of a case changes, each plan checked again without the optimiser."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from deskmend.choice import Choice, frontier, solve
from deskmend.intake.case import Case
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.bill import Bill
from deskmend.planning.goals import Goal
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.order import in_set_up_order
from deskmend.planning.plan_check import hindered, verify_plan
from deskmend.planning.prepared import NoPlan, Prepared
from deskmend.planning.score import Score, score
from deskmend.planning.selection import key_of
from deskmend.progress import tell_progress
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.workstation.state import State

__all__ = [
    "AtBudget",
    "Comparison",
    "EveryBudget",
    "PlanChange",
    "Resized",
    "Rung",
    "change_between",
    "checked",
    "compared",
    "frontier_of",
    "knee_of",
]


@dataclass(frozen=True)
class Rung:
    """A best plan, checked; on the ladder of budgets it is best up to the next rung's cost.

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
    ready: Prepared,
    choice: Choice,
    money: Minor | None,
    minutes: Minutes | None,
    goals: Sequence[Goal] = (),
) -> Rung:
    """Check a choice against the limits and the goals; raises `DefectError` where anything does not hold."""
    after, bill = verify_plan(ready, choice, money, minutes, goals)
    return Rung(choice, in_set_up_order(ready.options_of(choice)), bill, after, score(after, ready.weights))


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


def change_between(before: Rung | None, after: Rung) -> PlanChange:
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
    """A budget asked for, and the best plan within it; None where what must be cannot be had for it."""

    budget: Minor
    rung: Rung | None


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """The best plans of a case over budgets.

    - `rungs`: cost strictly rising, strain strictly falling.
    - `at`: budgets asked for, rising; empty where all were looked for.
    - `knee`: where a unit of money begins to take off less than the mean; None where no rung stands out.
    """

    case: Case
    currency: str
    before: Score
    state_before: State
    rungs: tuple[Rung, ...]
    at: tuple[AtBudget, ...]
    knee: Rung | None
    minutes_limit: Minutes | None
    warnings: tuple[str, ...]

    @cached_property
    def scores_before(self) -> DayScores:
        """Published scores without any fix."""
        return scores_of(self.state_before)

    @property
    def proven(self) -> bool:
        """Whether every plan is proven best at its cost."""
        return all(rung.choice.proven for rung in self.rungs)


def compared(ready: Prepared, at: Sequence[Minor] | None = None, notes: Sequence[str] = ()) -> Comparison:
    """Find the best plan at every budget, or at those asked for.

    The case's own budget and saving are not looked at; its limit of minutes and its wishes are. `notes` are
    warnings from before. Raises `NoPlan` where what must be in the plan is not to be had within the limits.
    """
    case, minutes = ready.case, ready.case.means.minutes
    asked: tuple[AtBudget, ...] = ()
    if at is None:
        rungs = frontier_of(ready, minutes)
    else:
        asked = _at(ready, sorted(set(at)), minutes)
        # budgets between two rungs have the same plan
        rungs = tuple({one.rung.cost: one.rung for one in asked if one.rung is not None}.values())
    return Comparison(
        case=case,
        currency=ready.prices.currency,
        before=score(ready.state, ready.weights),
        state_before=ready.state,
        rungs=rungs,
        at=asked,
        knee=knee_of(rungs) if at is None else None,
        minutes_limit=minutes,
        warnings=tuple(dict.fromkeys([*ready.signs, *notes])),
    )


def _at(ready: Prepared, budgets: Sequence[Minor], minutes: Minutes | None) -> tuple[AtBudget, ...]:
    out: list[AtBudget] = []
    last = None
    for number, budget in enumerate(budgets):
        tell_progress(number, len(budgets))
        last = solve(ready.problem(budget, minutes))
        out.append(AtBudget(budget, checked(ready, last, last.cost, minutes) if last.found else None))
    if last is not None and not last.found:
        raise hindered(ready, budgets[-1], minutes, last)
    return tuple(out)


def frontier_of(ready: Prepared, minutes: Minutes | None, money: Minor | None = None) -> tuple[Rung, ...]:
    """Every plan that is best at some budget, from the least cost up to `money`.

    Raises `NoPlan` where nothing keeps to the limits.
    """
    problem = ready.problem(money, minutes)
    # A limit of minutes makes the search far longer; what is best without it and keeps it is best with it.
    found = frontier(replace(problem, minutes=None))
    if minutes is not None and any(rung.minutes > minutes for rung in found):
        found = frontier(problem)
    if not found:
        raise hindered(ready, money, minutes, solve(problem))
    return tuple(checked(ready, choice, choice.cost, minutes) for choice in found)


class EveryBudget:
    """The best plans of a case within its minutes, looked for when first asked for, once for all that ask.

    `rungs` are the plans, where they are known already.
    """

    def __init__(self, ready: Prepared, minutes: Minutes | None, rungs: Sequence[Rung] = ()) -> None:
        self.ready = ready
        self.minutes = minutes
        self._rungs = tuple(rungs)

    def rungs(self) -> tuple[Rung, ...]:
        """See `frontier_of`."""
        if not self._rungs:
            self._rungs = frontier_of(self.ready, self.minutes)
        return self._rungs

    def within(self, money: Minor) -> tuple[Rung, ...]:
        """The same up to a cost; `NoPlan` then says what hinders within that money."""
        try:
            kept = tuple(rung for rung in self.rungs() if rung.cost <= money)
        except NoPlan:
            kept = ()
        return kept or frontier_of(self.ready, self.minutes, money)


def knee_of(rungs: Sequence[Rung]) -> Rung | None:
    """The rung at which money begins to take off less than it does in the mean.

    It is the one that lies furthest under the straight line from the first to the last, where gain for money
    falls from above the mean of the whole way to below it; the cheapest of equals. None where there are fewer
    than three or none lies under the line.

    Notes
    -----
    Distance from the chord: common practice, no source. The largest single drop of gain for money would
    almost always point at the first cheap thing, so it is the drop across the mean that counts. Whole
    numbers alone are compared.
    """
    if len(rungs) < 3:
        return None
    first, last = rungs[0], rungs[-1]
    cost, gain = last.cost - first.cost, first.strain - last.strain

    def under(rung: Rung) -> int:
        return (first.strain - rung.strain) * cost - (rung.cost - first.cost) * gain

    best = max(rungs, key=lambda rung: (under(rung), -rung.cost))
    return best if under(best) > 0 else None
