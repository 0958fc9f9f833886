"""What comes after a plan: a list for two weeks later, second choices, shared seats, what only informs."""

from __future__ import annotations

from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr
from deskmend.planning.plan import Plan
from deskmend.planning.shared_seats import shared_notes
from deskmend.report.layout import Page
from deskmend.report.step_words import evidence_line, filled, step_title

__all__ = ["add_afterwards", "add_shared_seats", "afterwards"]

Document = dict[str, Any]


def afterwards(plan: Plan, catalog: Catalog) -> Document:
    """Give what comes after a plan as parts of its document.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For advice and fixes named as second choices.

    Returns
    -------
    dict
        ``recheck``: what to look at after two weeks, step by step; ``second_choices``:
        for steps that many give up; ``shared_seats``: remarks; ``advice``: ids.
    """
    recheck, second = [], []
    for step in plan.steps:
        option, fix = step.option, step.option.fix
        look = fix.recheck or fix.right
        if look is not None:
            recheck.append({"with": option.with_name, "look": filled(look, option)})
        if fix.often_dropped is not None:
            second.append(
                {
                    "with": option.with_name,
                    "why": tr(fix.often_dropped.why),
                    "source": fix.often_dropped.source,
                    "instead": tr(fix.often_dropped.instead),
                    "fix": fix.often_dropped.fix,
                }
            )
    return {
        "recheck": recheck,
        "second_choices": second,
        "shared_seats": list(shared_notes(plan.case, plan.state_after)),
        "advice": [one.id for one in catalog.advice],
    }


def add_shared_seats(page: Page, plan: Plan) -> None:
    """Say above the steps what holds for seats that others use too."""
    notes = shared_notes(plan.case, plan.state_after)
    if notes:
        page.heading(tr("Shared seat"))
        page.points(notes, mark="!")


def add_afterwards(page: Page, plan: Plan, catalog: Catalog) -> None:
    """Write the list for two weeks later, second choices, and what only informs.

    Parameters
    ----------
    page : Page
        Written to.
    plan : Plan
        The plan.
    catalog : Catalog
        For advice.
    """
    parts = afterwards(plan, catalog)
    looks = {one["with"]: one["look"] for one in parts["recheck"]}
    if looks:
        page.heading(tr("Two weeks later, look again"))
        for step in plan.steps:
            if step.option.with_name in looks:
                title = step_title(step.option, plan.state_before)
                page.point("[ ]", f"{title}: {looks[step.option.with_name]}")
    if parts["second_choices"]:
        page.heading(tr("If you give it up"))
        for step in plan.steps:
            dropped = step.option.fix.often_dropped
            if dropped is not None:
                page.point("-", f"{tr(step.option.fix.title)}: {tr(dropped.why)} {tr(dropped.instead)}")
    if catalog.advice:
        page.heading(tr("Worth knowing; not counted in this plan"))
        for one in catalog.advice:
            text = f"{tr(one.title)}. {' '.join(tr(line) for line in one.how)}"
            page.point("-", text)
            for caution in one.cautions:
                page.point("!", tr(caution), 3)
            page.paragraph(tr("What stands behind it: {findings}", findings=evidence_line(one.evidence)), 3)
