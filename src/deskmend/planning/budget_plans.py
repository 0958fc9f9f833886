"""The whole plan, put in order, for every budget of a comparison."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.planning.assessment import missing_measures
from deskmend.planning.budgets import Comparison, EveryBudget, Rung, compared
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.order import put_in_order
from deskmend.planning.plan import Plan, left_out_notes, reserves_of
from deskmend.planning.prepared import Prepared, prepare
from deskmend.planning.score import PLAIN, Score, score

__all__ = ["BudgetPlans", "budget_plans"]


@dataclass(frozen=True)
class BudgetPlans:
    """Plans for every budget at which the best plan changes.

    Attributes
    ----------
    comparison : Comparison
        Budgets and what they buy.
    plans : tuple of Plan
        One for each rung of the comparison, in order.
    budget : int or None
        Money in hand [minor units]; None where nobody said.
    chosen : int
        Number of the plan for that budget, from 0; the dearest where no budget is known.
    enough : bool
        Whether the budget pays for the plan chosen. It does not only where what must be is dearer.
    saving : int or None
        Money that comes in each month [minor units].
    every : EveryBudget
        The case and its best plans, for what else is asked about them.
    """

    comparison: Comparison
    plans: tuple[Plan, ...]
    budget: int | None
    chosen: int
    enough: bool
    saving: int | None
    every: EveryBudget


def budget_plans(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    budget: int | None = None,
    at: Sequence[int] | None = None,
    notes: Sequence[str] = (),
) -> BudgetPlans:
    """Find the best plan at every budget, or at those asked for, and put each in order.

    Parameters
    ----------
    case : Case
        The case.
    catalog : Catalog
        Fixes.
    prices : PriceTable
        What things cost.
    budget : int, optional
        Money in hand [minor units]; the case's own if left out.
    at : sequence of int, optional
        Budgets [minor units]; every one at which the plan changes if left out.
    notes : sequence of str
        Warnings from before.

    Raises
    ------
    deskmend.planning.prepared.NoPlan
        What must be in the plan is not to be had within the limits.
    deskmend.errors.InputFaults
        A wish cannot be understood.
    deskmend.errors.DefectError
        The check disagrees with the optimiser.
    """
    ready = prepare(case, catalog, prices)
    found = compared(ready, at, notes)
    in_hand = case.means.budget if budget is None else budget
    free = found.rungs[0].score if found.rungs[0].cost == 0 else found.before
    warnings = tuple(
        dict.fromkeys(
            [
                *sign_warnings(case, catalog),
                *found.warnings,
                *left_out_notes(ready),
                *missing_measures(ready.state),
            ]
        )
    )
    plain = score(ready.state, PLAIN)
    plans = tuple(_plan(ready, rung, found, free, plain, warnings) for rung in found.rungs)
    affordable = [n for n, rung in enumerate(found.rungs) if in_hand is None or rung.cost <= in_hand]
    return BudgetPlans(
        found,
        plans,
        in_hand,
        max(affordable, default=0),
        bool(affordable),
        case.means.saving_per_month or None,
        EveryBudget(ready, found.minutes_limit, found.rungs if at is None else ()),
    )


def _plan(
    ready: Prepared, rung: Rung, found: Comparison, free: Score, plain: Score, warnings: tuple[str, ...]
) -> Plan:
    steps = put_in_order(rung.options, ready.state, ready.case, ready.prices, ready.weights)
    bound = None if rung.choice.bound is None else rung.choice.bound + ready.model.fixed_strain
    return Plan(
        ready.case,
        found.currency,
        rung.cost,
        rung.cost,
        steps,
        rung.bill,
        rung.minutes,
        found.before,
        rung.score,
        free,
        plain,
        score(rung.state, PLAIN),
        ready.state,
        rung.state,
        tuple(reserves_of(steps, ready.case, ready.prices)),
        rung.choice,
        bound,
        ready.offers.left_out,
        warnings,
        minutes_limit=found.minutes_limit,
    )
