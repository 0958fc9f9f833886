"""What a page says to an employer or landlord: what needs leave, and what it does to the furniture."""

from __future__ import annotations

from dataclasses import dataclass

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr
from deskmend.planning.plan import Plan
from deskmend.report.numbers import money_text, strain_text
from deskmend.report.plan_text import ASK_FIRST, purchase_text
from deskmend.report.step_words import step_title

__all__ = ["LeaveView", "leave_view"]

NEEDS_LEAVE = ("no_leave", "may_not_alter")
"""Causes for which a fix is not offered that leave would take away."""


@dataclass(frozen=True)
class LeaveView:
    """What is asked of others for one budget.

    Attributes
    ----------
    summary : str
        What the plan does, in one sentence.
    asks : tuple of str
        Steps that need leave or touch furniture.
    nothing : str
        Said where there are none; else empty.
    shopping : tuple of str
        What is bought.
    with_leave : tuple of str
        Fixes that could be looked at too if leave were given.
    """

    summary: str
    asks: tuple[str, ...]
    nothing: str
    shopping: tuple[str, ...]
    with_leave: tuple[str, ...]


def leave_view(plan: Plan, catalog: Catalog) -> LeaveView:
    """Gather what others have to allow.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For titles.
    """
    asks = []
    for step in plan.steps:
        fix = step.option.fix
        if fix.leave == "none" and not fix.alters and fix.reversible:
            continue
        said = [step_title(step.option, plan.state_before) + "."]
        if fix.leave != "none":
            said.append(tr(ASK_FIRST[fix.leave]))
        if fix.alters:
            said.append(tr("It changes furniture or the room."))
        said.append(tr("It comes off again.") if fix.reversible else tr("It does not come off again."))
        asks.append(" ".join(said))
    return LeaveView(
        tr(
            "For {money} the plan takes strain from {before} to {after} strain-hours a day.",
            money=money_text(plan.cost, plan.currency),
            before=strain_text(plan.before.total),
            after=strain_text(plan.after.total),
        ),
        tuple(asks),
        "" if asks else tr("Nothing in this plan needs leave. All of it comes off again."),
        tuple(purchase_text(line, plan, catalog) for line in plan.bill.lines),
        tuple(_with_leave(plan)),
    )


def _with_leave(plan: Plan) -> list[str]:
    reasons: dict[str, list[str]] = {}
    for left in plan.left_out:
        if left.cause in NEEDS_LEAVE:
            reasons.setdefault(tr(left.fix.title), []).append(left.reason.rstrip("."))
    return [f"{title} ({'; '.join(dict.fromkeys(why))})" for title, why in reasons.items()]
