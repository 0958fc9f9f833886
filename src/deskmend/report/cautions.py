"""What every page says: warning signs first, what is not claimed, and whose rules come first."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.messages import tr
from deskmend.report.layout import Page

__all__ = ["add_cautions", "add_signs", "cautions"]

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
