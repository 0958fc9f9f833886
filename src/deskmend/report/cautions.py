"""What every page says: warning signs first; at its end what is not claimed, and whose rules come first."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Urgency
from deskmend.language import tr
from deskmend.planning.inputs import most_urgent, sign_warnings
from deskmend.report.layout import Page

__all__ = ["FIRST_OF_ALL", "add_cautions", "add_signs", "first_of_all", "other_warnings"]

FIRST_OF_ALL: dict[Urgency, str] = {
    "emergency": "EMERGENCY: get emergency care now. Call the emergency number.",
    "today": "TODAY: get medical advice before anything else",
    "soon": "FIRST: see a licensed clinician",
}
"""What comes before any plan, by the most urgent warning sign."""

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


def first_of_all(case: Case, catalog: Catalog) -> str:
    """Heading over a person's warning signs; empty where there are none."""
    urgency = most_urgent(case, catalog)
    return "" if urgency is None else tr(FIRST_OF_ALL[urgency])


def add_signs(page: Page, case: Case, catalog: Catalog) -> None:
    """Begin a page with the warning signs, where there are any: nothing stands above them."""
    signs = sign_warnings(case, catalog)
    if signs:
        page.heading(first_of_all(case, catalog))
        page.points(signs, mark="!")
        page.blank()


def add_cautions(page: Page) -> None:
    """Say what is not claimed, whose rules come first, and when to look again."""
    page.heading(tr("What this does not say"))
    for text in (tr(NOT_CLAIMED), tr(RULES_FIRST), tr(SAFETY), tr(RECHECK)):
        page.paragraph(text)


def other_warnings(warnings: Sequence[str], case: Case, catalog: Catalog) -> list[str]:
    """Warnings that do not stand above everything else already."""
    signs = sign_warnings(case, catalog)
    return [warning for warning in warnings if warning not in signs]
