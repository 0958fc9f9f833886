"""Strain by region of the body, as a small table with bars of plain characters."""

from __future__ import annotations

from deskmend.messages import tr
from deskmend.planning.score import Score
from deskmend.report.layout import Page
from deskmend.report.numbers import strain_text
from deskmend.report.words import region_word

__all__ = ["add_region_table"]

BAR = 40
"""Length of the longest bar [characters]."""


def add_region_table(page: Page, before: Score, after: Score | None) -> None:
    """Add a row for each region and one for all.

    Parameters
    ----------
    page : Page
        Where to.
    before : Score
        Strain now.
    after : Score or None
        Strain with the fixes; None where there are none.
    """
    now = before.by_region
    then = now if after is None else after.by_region
    largest = max((*now.values(), *then.values()), default=0)
    head = ["", tr("now")] if after is None else ["", tr("now"), tr("then")]
    rows = [[*head, tr("strain-hours a day")]]
    for region in now:
        figures = [strain_text(now[region], 2)] + ([] if after is None else [strain_text(then[region], 2)])
        rows.append([region_word(region), *figures, _bar(now[region], then[region], largest)])
    totals = [strain_text(before.total, 2)] + ([] if after is None else [strain_text(after.total, 2)])
    rows.append([tr("all"), *totals, ""])
    page.table(rows, right=tuple(range(1, len(head))), head=True)
    if after is not None:
        key = tr("# is what is left, . is what is taken off.")
        added = tr("+ is what it adds.") if any(then[r] > now[r] for r in now) else ""
        page.paragraph(f"{key} {added}".rstrip(), 2)


def _bar(now: int, then: int, largest: int) -> str:
    """Bar of what is left, what is taken off and what is added."""
    if not largest:
        return ""
    kept, whole, both = (_length(v, largest) for v in (min(now, then), now, max(now, then)))
    return "#" * kept + "." * (whole - kept) + "+" * (both - whole)


def _length(value: int, largest: int) -> int:
    """Rounded half up; anything over nothing shows at least one character."""
    length = (2 * value * BAR + largest) // (2 * largest)
    return max(length, 1) if value > 0 else 0
