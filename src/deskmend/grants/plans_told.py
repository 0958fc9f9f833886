"""What one person is given: a plan applied, scored and priced again without the optimiser."""

from __future__ import annotations

from dataclasses import dataclass

from deskmend.choice import evaluate
from deskmend.choice.result import choice_from
from deskmend.errors import DefectError
from deskmend.grants.person import Column
from deskmend.grants.plans import PersonPlans
from deskmend.planning.bill import Bill
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.offers import OptionSpec
from deskmend.planning.order import in_set_up_order, put_in_order
from deskmend.planning.plan_check import verify_plan
from deskmend.planning.score import score
from deskmend.risk.posture_scores import scores_of
from deskmend.workstation.state import State

__all__ = ["GivenPlan", "told"]


@dataclass(frozen=True)
class GivenPlan:
    """What one person is given, applied, scored and priced again without the optimiser.

    Attributes
    ----------
    id : str
        Who.
    options : tuple of OptionSpec
        Fixes in set-up order.
    steps : tuple of (OptionSpec, int)
        The same in the order of doing, with what each adds to the bill at listed prices, where that was
        asked; else empty [minor units].
    state : State
        Without the fixes.
    bill : Bill
        What is bought, at listed prices.
    strain_before, strain_free, strain_after : int
        Now, with free fixes only, and with the plan [millionths of h/day].
    minutes : int
        Work [min].
    rosa_before, rosa_after : int or None
        Where a limit on it was asked [-].
    signs : tuple of str
        Warning signs that the person has, in plain words.
    """

    id: str
    options: tuple[OptionSpec, ...]
    steps: tuple[tuple[OptionSpec, int], ...]
    state: State
    bill: Bill
    strain_before: int
    strain_free: int
    strain_after: int
    minutes: int
    rosa_before: int | None
    rosa_after: int | None
    signs: tuple[str, ...]


def told(plans: PersonPlans, column: Column, steps: bool) -> GivenPlan:
    """Check a plan again without the optimiser, and say what it is.

    Parameters
    ----------
    plans : PersonPlans
        The person.
    column : Column
        A plan of this person.
    steps : bool
        Whether to put the fixes in the order of doing, with what each costs.

    Raises
    ------
    DefectError
        Strain, packs or a rule do not hold.
    """
    ready, listed = plans.ready, plans.workshop.listed
    if column.choice is None and not column.packs:
        # What the engine gives where it was broken off before it had asked for plans.
        column = plans.free
    taken = dict(column.choice) if isinstance(column.choice, tuple) else {}
    scored = evaluate(
        plans.base, {d.name: taken.get(d.name, d.options[0].name) for d in plans.base.decisions}
    )
    choice = choice_from(plans.base, scored, "fund")
    after, bill = verify_plan(ready, choice, None, plans.case.means.minutes)
    strain = score(after, ready.weights).total
    packs = tuple((line.item, line.packs) for line in bill.lines)
    rosa = scores_of(after).rosa if plans.workshop.rosa is not None else None
    if (strain, packs, rosa) != (column.strain, column.packs, column.rosa) or scored.violations:
        raise DefectError(
            f"{plans.row.id}: {strain} with {packs}, ROSA {rosa} worked out again, "
            f"{column.strain} with {column.packs}, ROSA {column.rosa} claimed; {scored.violations}"
        )
    options = in_set_up_order(ready.options_of(choice))
    ordered: tuple[tuple[OptionSpec, int], ...] = ()
    if steps:
        done = put_in_order(options, ready.state, plans.case, listed, ready.weights)
        ordered = tuple((step.option, step.cost) for step in done)
    asked = plans.workshop.rosa is not None
    return GivenPlan(
        plans.row.id,
        options,
        ordered,
        ready.state,
        bill,
        score(ready.state, ready.weights).total,
        plans.free.strain,
        strain,
        choice.minutes,
        scores_of(ready.state).rosa if asked else None,
        rosa,
        tuple(sign_warnings(plans.case, plans.workshop.catalog)),
    )
