"""What every page says: warning signs first; at its end what is not claimed, and whose rules come first."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.planning.inputs import sign_warnings
from deskmend.report.layout import Page

__all__ = ["add_cautions", "add_signs", "other_warnings"]

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


def add_signs(page: Page, case: Case, catalog: Catalog) -> None:
    """Put warning signs above everything else, where there are any."""
    signs = sign_warnings(case, catalog)
    if signs:
        page.heading(tr("FIRST: see a licensed clinician"))
        page.points(signs, mark="!")


def add_cautions(page: Page) -> None:
    """Say what is not claimed, whose rules come first, and when to look again."""
    page.heading(tr("What this does not say"))
    for text in (tr(NOT_CLAIMED), tr(RULES_FIRST), tr(SAFETY), tr(RECHECK)):
        page.paragraph(text)


def other_warnings(warnings: Sequence[str], case: Case, catalog: Catalog) -> list[str]:
    """Warnings that do not stand above everything else already."""
    signs = sign_warnings(case, catalog)
    return [warning for warning in warnings if warning not in signs]
