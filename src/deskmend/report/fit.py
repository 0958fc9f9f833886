"""What does not fit, by how much, and what would: first lines of every output, and a block of documents."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.language import tr
from deskmend.planning.fit import Lack
from deskmend.report.case_documents import FitRecord
from deskmend.report.layout import Page
from deskmend.report.words import quantity_text

__all__ = ["add_fit", "fit_document", "fit_lines"]

WHAT = {
    "legs_under": "the legs do not go under the table",
    "knee_room": "the knees have no room under the table",
    "feet_down": "the feet reach nothing to rest on",
}
"""What does not fit, in words."""


def fit_lines(lacks: Sequence[Lack]) -> list[str]:
    """One sentence a lack: what, by how much, whether it can be mended here, and what would fit."""
    return [" ".join((_lacking(one), *_remedy(one))) for one in lacks]


def _lacking(lack: Lack) -> str:
    by = quantity_text(lack.by, "mm")
    what = tr(WHAT[lack.kind])
    return tr("At {place} {what}: {by} are lacking.", place=lack.place, what=what, by=by)


def _remedy(lack: Lack) -> list[str]:
    out = [] if lack.mendable is not False else [tr("No choice here mends that, at any price.")]
    would = would_fit(lack)
    return [*out, tr("What would fit: {would}.", would=would)] if would else out


def would_fit(lack: Lack) -> str:
    """Furniture with which the lack would be gone."""
    found = []
    if lack.table is not None:
        found.append(tr("a table at least {height} high", height=quantity_text(lack.table, "mm")))
    if lack.depth is not None:
        found.append(tr("a table open for the knees for {depth}", depth=quantity_text(lack.depth, "mm")))
    if lack.seat is not None:
        found.append(tr("a seat at most {height} high", height=quantity_text(lack.seat, "mm")))
    if lack.support is not None:
        found.append(tr("something {height} high under the feet", height=quantity_text(lack.support, "mm")))
    return tr(" or ").join(found)


def add_fit(page: Page, lacks: Sequence[Lack]) -> None:
    """Say first what does not fit, where anything does not."""
    lines = fit_lines(lacks)
    if lines:
        page.points(lines, mark="!")
        page.blank()


def fit_document(lacks: Sequence[Lack]) -> FitRecord:
    """The block ``fit``: lengths in mm with three decimals."""
    return {
        "fits": not lacks,
        "lacks": [
            {
                "place": one.place,
                "what": tr(WHAT[one.kind]),
                "by": round(one.by, 3),
                "unit": "mm",
                "would_fit": would_fit(one),
                "can_be_mended": one.mendable,
            }
            for one in lacks
        ],
    }
