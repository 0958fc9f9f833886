"""One case made ready and its best plans at every budget, found once for all that ask for them.

Every budget at which the best plan of a case changes, each plan checked again without the optimiser.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from deskmend.choice import Choice, frontier, solve
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.planning.bill import Bill
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.order import in_set_up_order
from deskmend.planning.plan_check import hindered, verify_plan
from deskmend.planning.prepared import NoPlan, Prepared, prepare
from deskmend.planning.score import Score, score
from deskmend.progress import tell_progress
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.workstation.state import State

__all__ = [
    "AtBudget",
    "Comparison",
    "EveryBudget",
    "Resized",
    "Rung",
    "Step",
    "compare",
    "compared",
    "frontier_of",
    "knee_of",
    "step_between",
]


@dataclass(frozen=True)
class Rung:
    """The best plan from one budget up to the next rung's cost.

    Attributes
    ----------
    choice : Choice
        What the engine answered, with its proof.
    options : tuple of OptionSpec
        Fixes in set-up order.
    bill : Bill
        What is bought.
    state : State
        With the fixes.
    score : Score
        Strain left, with the person's weights.
    """

    choice: Choice
    options: tuple[OptionSpec, ...]
    bill: Bill
    state: State
    score: Score

    @property
    def cost(self) -> int:
        """Cost of all that is bought [minor units]."""
        return self.bill.total

    @property
    def strain(self) -> int:
        """Strain left [millionths of h/day]."""
        return self.score.total

    @property
    def minutes(self) -> int:
        """All work [min]."""
        return self.choice.minutes

    @cached_property
    def scores(self) -> DayScores:
        """Published scores with the plan."""
        return scores_of(self.state)


@dataclass(frozen=True)
class Resized:
    """One fix whose size changes from one rung to the next."""

    before: OptionSpec
    after: OptionSpec


@dataclass(frozen=True)
class Step:
    """What changes from one plan to the next dearer one.

    Attributes
    ----------
    enters, leaves : tuple of OptionSpec
        Fixes that only the later, and only the earlier, plan holds.
    resized : tuple of Resized
        Fixes that both hold at different sizes.
    """

    enters: tuple[OptionSpec, ...]
    leaves: tuple[OptionSpec, ...]
    resized: tuple[Resized, ...]


@dataclass(frozen=True)
class AtBudget:
    """A budget asked for, and the best plan within it; None where what must be cannot be had for it."""

    budget: int
    rung: Rung | None


@dataclass(frozen=True)
class Comparison:
    """The best plans of a case over budgets.

    Attributes
    ----------
    case : Case
        For whom.
    currency : str
        Of all amounts.
    before : Score
        Strain without any fix.
    state_before : State
        Without any fix.
    rungs : tuple of Rung
        Cost strictly rising, strain strictly falling.
    at : tuple of AtBudget
        Budgets asked for, rising; empty where all were looked for.
    knee : Rung or None
        Where a unit of money begins to take off less than the mean; None where no rung stands out.
    minutes_limit : int or None
        Work that may be done [min].
    warnings : tuple of str
        What has to be said.
    """

    case: Case
    currency: str
    before: Score
    state_before: State
    rungs: tuple[Rung, ...]
    at: tuple[AtBudget, ...]
    knee: Rung | None
    minutes_limit: int | None
    warnings: tuple[str, ...]

    @cached_property
    def scores_before(self) -> DayScores:
        """Published scores without any fix."""
        return scores_of(self.state_before)

    @property
    def proven(self) -> bool:
        """Whether every plan is proven best at its cost."""
        return all(rung.choice.proven for rung in self.rungs)


def compare(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    at: Sequence[int] | None = None,
    notes: Sequence[str] = (),
) -> Comparison:
    """Find the best plan at every budget, or at those asked for.

    Parameters
    ----------
    case : Case
        The case. Its budget and saving are not looked at; its limit of minutes and its wishes are.
    catalog : Catalog
        Fixes.
    prices : PriceTable
        What things cost.
    at : sequence of int, optional
        Budgets [minor units]; every one at which the plan changes if left out.
    notes : sequence of str
        Warnings from before.

    Returns
    -------
    Comparison
        Each plan scored and priced again without the optimiser.

    Raises
    ------
    deskmend.planning.prepared.NoPlan
        What must be in the plan is not to be had within the limits.
    deskmend.errors.InputFaults
        A wish cannot be understood.
    deskmend.errors.DefectError
        The check disagrees with the optimiser.
    """
    return compared(prepare(case, catalog, prices), at, notes)


def compared(ready: Prepared, at: Sequence[int] | None, notes: Sequence[str] = ()) -> Comparison:
    """Find the same for a case made ready before.

    Parameters
    ----------
    ready : Prepared
        The case.
    at, notes
        As for `compare`.
    """
    case = ready.case
    minutes = case.means.minutes
    asked: tuple[AtBudget, ...] = ()
    if at is None:
        rungs = frontier_of(ready, minutes)
    else:
        asked = _at(ready, sorted(set(at)), minutes)
        rungs = _distinct([one.rung for one in asked if one.rung is not None])
    return Comparison(
        case,
        ready.prices.currency,
        score(ready.state, ready.weights),
        ready.state,
        rungs,
        asked,
        knee_of(rungs) if at is None else None,
        minutes,
        tuple(dict.fromkeys([*sign_warnings(case, ready.catalog), *notes])),
    )


def frontier_of(ready: Prepared, minutes: int | None, money: int | None = None) -> tuple[Rung, ...]:
    """Every plan that is best at some budget, from the least cost up.

    Parameters
    ----------
    ready : Prepared
        The case.
    minutes : int or None
        Limit of the work [min].
    money : int or None
        Highest cost looked at [minor units].

    Raises
    ------
    deskmend.planning.prepared.NoPlan
        Nothing keeps to the limits.
    deskmend.errors.DefectError
        The check disagrees with the optimiser.
    """
    problem = ready.problem(money, minutes)
    # A limit of minutes makes the search far longer; what is best without it and keeps it is best with it.
    found = frontier(replace(problem, minutes=None))
    if minutes is not None and any(rung.minutes > minutes for rung in found):
        found = frontier(problem)
    if not found:
        raise hindered(ready, money, minutes, solve(problem))
    return tuple(_rung(ready, choice, minutes) for choice in found)


def _at(ready: Prepared, budgets: Sequence[int], minutes: int | None) -> tuple[AtBudget, ...]:
    out: list[AtBudget] = []
    last = None
    for number, budget in enumerate(budgets):
        tell_progress(number, len(budgets))
        choice = last = solve(ready.problem(budget, minutes))
        out.append(AtBudget(budget, _rung(ready, choice, minutes) if choice.found else None))
    if last is not None and not last.found:
        raise hindered(ready, budgets[-1], minutes, last)
    return tuple(out)


def _distinct(rungs: Sequence[Rung]) -> tuple[Rung, ...]:
    """One rung a cost; budgets between two rungs have the same plan."""
    return tuple({rung.cost: rung for rung in rungs}.values())


def _rung(ready: Prepared, choice: Choice, minutes: int | None) -> Rung:
    after, bill = verify_plan(ready, choice, choice.cost, minutes)
    options = in_set_up_order(ready.options_of(choice))
    return Rung(choice, options, bill, after, score(after, ready.weights))


def step_between(before: Rung | None, after: Rung) -> Step:
    """What changes from one plan to another.

    Parameters
    ----------
    before : Rung or None
        The cheaper plan; None: nothing is done yet.
    after : Rung
        The dearer one.
    """
    had = {(o.fix.id, o.owner): o for o in (before.options if before is not None else ())}
    has = {(o.fix.id, o.owner): o for o in after.options}
    return Step(
        tuple(o for key, o in has.items() if key not in had),
        tuple(o for key, o in had.items() if key not in has),
        tuple(
            Resized(had[key], o) for key, o in has.items() if key in had and had[key].with_name != o.with_name
        ),
    )


def knee_of(rungs: Sequence[Rung]) -> Rung | None:
    """The rung at which money begins to take off less than it does in the mean.

    Parameters
    ----------
    rungs : sequence of Rung
        Cost strictly rising, strain strictly falling.

    Returns
    -------
    Rung or None
        The one that lies furthest under the straight line from the first to the last, where gain for money
        falls from above the mean of the whole way to below it; the cheapest of equals. None where there are
        fewer than three or none lies under the line.

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


class EveryBudget:
    """The best plans of a case within its minutes, looked for when first asked for.

    Parameters
    ----------
    ready : Prepared
        The case.
    minutes : int or None
        Limit of the work [min].
    rungs : sequence of Rung
        The plans, where they are known already.
    """

    def __init__(self, ready: Prepared, minutes: int | None, rungs: Sequence[Rung] = ()) -> None:
        self.ready = ready
        self.minutes = minutes
        self._rungs = tuple(rungs)

    def rungs(self) -> tuple[Rung, ...]:
        """Every plan that is best at some budget, from the least cost up.

        Raises
        ------
        deskmend.planning.prepared.NoPlan
            Nothing keeps to the limits.
        """
        if not self._rungs:
            self._rungs = frontier_of(self.ready, self.minutes)
        return self._rungs

    def within(self, money: int) -> tuple[Rung, ...]:
        """The same up to a cost.

        Parameters
        ----------
        money : int
            Highest cost looked at [minor units].

        Raises
        ------
        deskmend.planning.prepared.NoPlan
            Nothing keeps to the limits; it says what hinders within that money.
        """
        try:
            kept = tuple(rung for rung in self.rungs() if rung.cost <= money)
        except NoPlan:
            kept = ()
        return kept or frontier_of(self.ready, self.minutes, money)
