"""What people decided for somebody, why, and what it takes from the others, in words."""

from __future__ import annotations

from datetime import date

from deskmend.errors import visible
from deskmend.grants.fund import FundShared
from deskmend.grants.people.columns import WEIGHT_UNIT
from deskmend.intake.applicants import Decided
from deskmend.language import shown_day, tr
from deskmend.report.layout import Page
from deskmend.report.words import strain_text

__all__ = ["decided_by", "decided_text", "write_decided"]

MOST_LISTED = 10
"""Most people named on the page; all stand in the files."""


def decided_text(decided: Decided) -> str:
    """What people decided for somebody and why, in the words of the table."""
    told = {
        "fixed": " ".join(decided.fixed),
        "never": " ".join(decided.never),
        "least": decided.least,
        "most": decided.most,
    }
    what = "; ".join(f"{key} {value}" for key, value in told.items() if value)
    who = decided_by(decided)
    return f"{what}: {decided.reason}" + (f" ({who})" if who else "")


def decided_by(decided: Decided) -> str:
    """Who decided and on which day, as far as the table tells."""
    day = shown_day(date.fromisoformat(decided.on)) if decided.on else ""
    return ", ".join(part for part in (decided.by, day) if part)


def write_decided(page: Page, shared: FundShared) -> None:
    """What people decided, why, and what it takes from the others."""
    found = [(row.id, row.decided) for row in shared.table.people if row.decided is not None]
    if not found:
        return
    page.heading(tr("Decided by people, not by the search"))
    for name, decided in found[:MOST_LISTED]:
        page.point("-", visible(f"{name}: {decided_text(decided)}", None))
    if len(found) > MOST_LISTED:
        page.point("-", tr("{count} more in people.csv.", count=len(found) - MOST_LISTED))
    cost = shared.decided_cost
    if cost is None:
        page.paragraph(tr("What this takes from the others is not worked out."))
    elif cost > 0:
        page.paragraph(
            tr("For the others {less} strain-hours a day less are taken off by this.", less=_hours(cost))
        )
    elif cost < 0:
        page.paragraph(
            tr("For the others {more} strain-hours a day more are taken off by this.", more=_hours(-cost))
        )
    else:
        page.paragraph(tr("For the others as much is taken off as without it."))
    if (whole := shared.decided_cost_in_all) is not None and whole != cost:
        told = tr(
            "With those for whom it was decided it is {less} strain-hours a day less.", less=_hours(whole)
        )
        if whole < 0:
            told = tr(
                "With those for whom it was decided it is {more} strain-hours a day more.",
                more=_hours(-whole),
            )
        elif not whole:
            told = tr("With those for whom it was decided it is as much as without it.")
        page.paragraph(told)


def _hours(exact: int) -> str:
    return strain_text(exact // WEIGHT_UNIT, 1)
