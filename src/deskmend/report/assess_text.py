"""An assessment as plain text: strain by region, what lies outside its range, then everything else."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr
from deskmend.planning.assessment import Assessment
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.reasons import QuantityReading
from deskmend.report.case_name import case_name
from deskmend.report.cautions import add_cautions, add_signs
from deskmend.report.layout import Page
from deskmend.report.numbers import money_text, strain_text
from deskmend.report.region_table import add_region_table
from deskmend.report.scores_text import add_assessment_scores
from deskmend.report.step_words import step_title
from deskmend.report.words import quantity_words, range_words, source_place, source_title, value_words

__all__ = ["assessment_text"]

MARK = "~"
"""Behind a value that rests on an estimate or an assumption."""


def assessment_text(assessment: Assessment, catalog: Catalog) -> str:
    """Write an assessment.

    Parameters
    ----------
    assessment : Assessment
        The assessment.
    catalog : Catalog
        For warning signs and the titles of sources.

    Returns
    -------
    str
        At most 100 characters a line; no colours.
    """
    page = Page()
    page.paragraph(tr("Assessment: {case}", case=case_name(assessment.case)))
    signs = sign_warnings(assessment.case, catalog)
    add_signs(page, signs)
    _summary(page, assessment)
    page.heading(tr("Strain by region"))
    add_region_table(page, assessment.now, assessment.strain if assessment.options else None)
    outside = sorted((q for q in assessment.quantities if q.severity > 0), key=lambda q: -q.severity)
    ranged = [q for q in assessment.quantities if q.severity <= 0 and _ranged(q)]
    rest = [q for q in assessment.quantities if q.severity <= 0 and not _ranged(q)]
    page.heading(tr("Outside their range, the worst first"))
    _quantities(page, outside, assessment)
    if not outside:
        page.paragraph(tr("Nothing."))
    page.heading(tr("Within their range"))
    _quantities(page, ranged, assessment)
    if rest:
        page.heading(tr("Further measures, without a range of their own"))
        _quantities(page, rest, assessment)
    add_assessment_scores(page, assessment)
    _sources(page, assessment.quantities, catalog)
    add_cautions(page)
    others = [warning for warning in assessment.warnings if warning not in signs]
    if others:
        page.heading(tr("For the assessor"))
        page.points(others)
    return page.text()


def _ranged(one: QuantityReading) -> bool:
    return one.low is not None or one.high is not None


def _summary(page: Page, assessment: Assessment) -> None:
    page.blank()
    now, plain = strain_text(assessment.now.total), strain_text(assessment.plain_now.total)
    if not assessment.options:
        page.paragraph(
            tr("Strain: {now} strain-hours a day ({plain} without discomfort weights).", now=now, plain=plain)
        )
        return
    page.paragraph(
        tr(
            "Strain: {now} strain-hours a day now, {then} with these fixes (without discomfort weights "
            "{plain} and {plain_then}). Cost: {cost}.",
            now=now,
            then=strain_text(assessment.strain.total),
            plain=plain,
            plain_then=strain_text(assessment.plain.total),
            cost=money_text(assessment.bill.total, assessment.currency),
        )
    )
    page.points(
        [f"{step_title(option, assessment.before)} ({option.with_name})" for option in assessment.options]
    )
    for breach in assessment.breaches:
        page.point("!", f"{tr(breach.fix.title)}: {breach.reason}")


def _quantities(page: Page, quantities: Sequence[QuantityReading], assessment: Assessment) -> None:
    many = len(assessment.after.tasks) > 1
    rows = []
    for one in quantities:
        name = quantity_words(one.name, one.of) + (f" ({one.task})" if many else "")
        if one.mode == "stand":
            name += f", {tr('standing')}"
        value = value_words(one.value, one.unit, one.name) + (f" {MARK}" if one.estimated else "")
        wanted = range_words(one.low, one.high, one.unit, one.name)
        rows.append([name, value, f"{wanted} ({', '.join(one.source.split())})" if wanted else ""])
    page.table(rows)
    if any(one.estimated for one in quantities):
        page.paragraph(
            tr("{mark} rests on an estimate or an assumption, not on a measurement.", mark=MARK), 2
        )


def _sources(page: Page, quantities: Sequence[QuantityReading], catalog: Catalog) -> None:
    keys = sorted({key for one in quantities for key in one.source.split()})
    if not keys:
        return
    page.heading(tr("Where the ranges come from"))
    for key in keys:
        known = catalog.sources[key] if key in catalog.sources else None
        place = f". {source_place(known)}" if known is not None and known.place else ""
        if known is None:
            page.point("-", key)
        else:
            page.point("-", f"{key}: {source_title(known)}{place} ({tr(known.status)})")
