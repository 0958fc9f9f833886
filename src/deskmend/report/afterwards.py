"""What comes after a plan: a list for two weeks later, second choices, shared seats, what only informs.

What every page says: warning signs first, what is not claimed, and whose rules come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.planning.model.offers import shared_notes
from deskmend.planning.plan import Plan
from deskmend.report.layout import Page
from deskmend.report.steps import evidence_line, filled, step_title

__all__ = ["add_afterwards", "add_cautions", "add_shared_seats", "add_signs", "afterwards", "cautions"]

NOT_CLAIMED = (
    "This counts time spent outside comfortable limits: exposure. It says how much of that is taken off. It "
    "does not say that pain or injury is prevented, and nobody has shown that setting up a desk does that."
)
RULES_FIRST = (
    "Local rules, your employer's rules, the owner of the place and licensed practice come first. This is no "
    "medical advice."
)
SAFETY = (
    "Anything you build must stand firm before you put weight on it. Push it from each side first. Take care "
    "with knives, scissors, plugs and flames."
)
RECHECK = "Check again after two weeks: sit as you do then, measure again, and run deskmend again."


def cautions() -> tuple[str, ...]:
    """What every page says at its end, in the reader's language."""
    return tr(NOT_CLAIMED), tr(RULES_FIRST), tr(SAFETY), tr(RECHECK)


def add_signs(page: Page, signs: Sequence[str]) -> None:
    """Put warning signs above everything else, where there are any."""
    if signs:
        page.heading(tr("FIRST: see a licensed clinician"))
        page.points(signs, mark="!")


def add_cautions(page: Page) -> None:
    """Say what is not claimed, whose rules come first, and when to look again."""
    page.heading(tr("What this does not say"))
    for text in cautions():
        page.paragraph(text)


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
