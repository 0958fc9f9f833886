"""An assessment as plain text: strain by region, what lies outside its range, then everything else.

Strain by region of the body, as a small table with bars of plain characters.

An assessment as one JSON document, format ``deskmend-assessment/1``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.measures import format_amount
from deskmend.planning.assessment import Assessment
from deskmend.planning.explain import QuantityReading
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.score import Score
from deskmend.report.afterwards import add_cautions, add_signs
from deskmend.report.json_text import case_name
from deskmend.report.layout import Page
from deskmend.report.scores import add_assessment_scores, assessment_scores
from deskmend.report.steps import step_title
from deskmend.report.words import (
    money_text,
    quantity_json,
    quantity_words,
    range_words,
    region_word,
    source_place,
    source_title,
    strain_json,
    strain_text,
    value_words,
)

__all__ = ["add_region_table", "assessment_document", "assessment_text"]

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


def assessment_document(assessment: Assessment) -> dict[str, Any]:
    """Write an assessment as a document.

    Parameters
    ----------
    assessment : Assessment
        The assessment.

    Returns
    -------
    dict
        Strain [h/day] with six decimals, quantities in their unit [mm] [deg] [lux] [-] with three, money as
        decimal text.
    """
    regions = assessment.strain.by_region
    plain = assessment.plain.by_region
    return {
        "format": "deskmend-assessment/1",
        "case": case_name(assessment.case),
        "currency": assessment.currency,
        "with": [option.with_name for option in assessment.options],
        "strain": {
            "total": strain_json(assessment.strain.total),
            "by_region": {region: strain_json(value) for region, value in regions.items()},
            "plain_total": strain_json(assessment.plain.total),
            "plain_by_region": {region: strain_json(value) for region, value in plain.items()},
            "without_fixes": strain_json(assessment.now.total),
            "plain_without_fixes": strain_json(assessment.plain_now.total),
        },
        "cost": format_amount(assessment.bill.total, assessment.currency),
        "bill": [
            {"item": line.item, "packs": line.packs, "cost": format_amount(line.cost, assessment.currency)}
            for line in assessment.bill.lines
        ],
        "bill_missing": list(assessment.bill.missing),
        "quantities": [_quantity(one) for one in assessment.quantities],
        "scores": assessment_scores(assessment),
        "rules_broken": [{"fix": breach.fix.id, "reason": breach.reason} for breach in assessment.breaches],
        "warnings": list(assessment.warnings),
    }


def _quantity(one: QuantityReading) -> dict[str, Any]:
    return {
        "task": one.task,
        "name": one.name,
        "of": one.of or None,
        "mode": one.mode or None,
        "value": quantity_json(one.value),
        "unit": one.unit,
        "low": quantity_json(one.low),
        "high": quantity_json(one.high),
        "severity": quantity_json(one.severity),
        "source": one.source,
        "estimated": one.estimated,
    }


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
