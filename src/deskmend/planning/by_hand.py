"""A plan that somebody put together by hand: exactly the fixes named, checked like any other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from deskmend.choice import solve
from deskmend.errors import InputFaults
from deskmend.intake.case import Case, Wishes
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.measures import Minor
from deskmend.planning.budgets import AtBudget, Comparison, EveryBudget
from deskmend.planning.frontier import checked
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.rules import breaches
from deskmend.planning.plan import BudgetPlans, ByHand, PlanMaker, least_strain, unpriced_notes
from deskmend.planning.ready_case import NoPlan, ReadyCase, prepare
from deskmend.planning.selection import key_of, state_with
from deskmend.workstation.effects import TwoSets

__all__ = ["plans_by_hand"]


def plans_by_hand(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    fixes: Sequence[str],
    budget: Minor | None = None,
    notes: Sequence[str] = (),
) -> BudgetPlans:
    """The plan of exactly these fixes, whatever money and time they take.

    A fix named without its size gets the one that leaves least. The wishes of the case are not looked at;
    every rule is kept. Raises `NoPlan` where the fixes cannot go together, `InputFaults` where a name is
    wrong.
    """
    case = case.model_copy(update={"wishes": Wishes()})
    try:
        asked = prepare(case, catalog, prices, fixes)
    except InputFaults as error:
        # to the search they are musts; whoever named them wrote --with
        faults = [replace(one, where="--with") if one.where == "--must" else one for one in error.faults]
        raise InputFaults(faults) from None
    ready = asked.narrowed_to({key_of(option) for option in asked.musts})
    choice = None if ready is None else solve(ready.problem(None, None))
    if ready is None or choice is None or not choice.found:
        raise _not_together(asked)
    chosen = checked(ready, choice, None, None)
    minutes = case.means.minutes
    minutes = None if minutes is None else max(minutes, chosen.minutes)
    whole = prepare(case, catalog, prices)
    in_hand = case.means.budget if budget is None else budget
    maker = PlanMaker(ready, None, [*notes, *unpriced_notes(whole)])
    plan = maker.plan(
        chosen,
        budget=in_hand,
        limit=chosen.cost,
        after_free=maker.solved_free(None),
        best=None,
        among=(),
        every_gain=True,
    )
    comparison = Comparison(
        case=case,
        currency=prices.currency,
        before=maker.before,
        state_before=ready.now,
        rungs=(chosen,),
        at=(AtBudget(chosen.cost, chosen),),
        knee=None,
        every=EveryBudget(ready, None),
        every_gain=False,
        warnings=tuple(dict.fromkeys([*ready.signs, *notes])),
    )
    return BudgetPlans(
        comparison=comparison,
        plans=(plan,),
        budget=in_hand,
        chosen=0,
        enough=in_hand is None or chosen.cost <= in_hand,
        saving=case.means.saving_per_month or None,
        by_hand=ByHand(
            fixes=tuple(option.with_name for option in ready.options_of(choice)),
            must=(),
            never=(),
            left=chosen.strain,
            best=least_strain(whole, chosen.cost, minutes),
        ),
    )


def _not_together(asked: ReadyCase) -> NoPlan:
    """Why the fixes asked for are no plan by themselves, where each has one size."""
    told = tr("these fixes cannot be a plan by themselves")
    keys = [key_of(option) for option in asked.musts]
    reasons: list[str] = []
    if len(set(keys)) == len(keys):
        reasons = _broken(asked, asked.musts)
    return NoPlan(
        told, "; ".join(reasons) or tr("name other fixes beside them, or leave one out"), signs=asked.signs
    )


def _broken(asked: ReadyCase, options: Sequence[OptionSpec]) -> list[str]:
    try:
        after = state_with(asked.state, options)
    except TwoSets as error:
        return [str(error)]
    found = breaches(asked.state, after, [(one.fix, one.owner) for one in options])
    return [f"{tr(breach.fix.title)}: {breach.reason.rstrip('.')}" for breach in found]
