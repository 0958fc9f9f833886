"""An assessment: strain by region, what lies outside its range, then everything else.

As plain text and as a document of format ``deskmend-assessment/1``; plans and the web page take their tables
of regions, quantities and sources from here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.measures import Micro
from deskmend.planning.amiss import amiss_in
from deskmend.planning.assessment import Assessment
from deskmend.planning.explain import QuantityReading
from deskmend.planning.exposures import ExposureRow
from deskmend.planning.score import Score
from deskmend.report.case_documents import AssessmentDocument, ExposureRecord, Reading
from deskmend.report.causes import add_causes, complaint_texts
from deskmend.report.cautions import add_cautions, add_signs, other_warnings
from deskmend.report.documents import (
    bought_json,
    money_json,
    names_json,
    quantity_json,
    regions_json,
    strain_json,
)
from deskmend.report.evidence import source_text
from deskmend.report.fit import add_fit, fit_document
from deskmend.report.layout import Page
from deskmend.report.scores import add_assessment_scores, assessment_scores
from deskmend.report.steps import step_title
from deskmend.report.suits import add_suits, suits_document
from deskmend.report.words import (
    case_name,
    decimal_text,
    exposure_words,
    quantity_words,
    range_words,
    region_word,
    strain_text,
    total_text,
    value_words,
)

__all__ = [
    "add_exposures",
    "add_region_table",
    "assessment_document",
    "assessment_text",
    "range_sources",
    "reading_json",
    "reading_name",
]

LONGEST_BAR = 40
"""Length of the longest bar [characters]."""
ESTIMATED = "~"
"""Behind a value that rests on an estimate or an assumption."""


def add_region_table(page: Page, before: Score, after: Score | None) -> None:
    """Add a row with a bar of plain characters for each region, and one for all; `after`: with the fixes."""
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


def _bar(now: Micro, then: Micro, largest: Micro) -> str:
    """Bar of what is left, what is taken off and what is added."""
    if not largest:
        return ""
    kept, whole, both = (_length(v, largest) for v in (min(now, then), now, max(now, then)))
    return "#" * kept + "." * (whole - kept) + "+" * (both - whole)


def _length(strain: Micro, largest: Micro) -> int:
    """Rounded half up; anything over nothing shows at least one character."""
    length = (2 * strain * LONGEST_BAR + largest) // (2 * largest)
    return max(length, 1) if strain > 0 else 0


def reading_name(one: QuantityReading, many: bool) -> str:
    """What a quantity is called; its task is named where there are many."""
    name = quantity_words(one.name, one.of, one.task if many else "")
    return f"{name}, {tr('standing')}" if one.mode == "stand" else name


def range_sources(readings: Iterable[QuantityReading], catalog: Catalog) -> list[tuple[str, str]]:
    """Every source of a range by its key; its description is empty where the catalog does not know it."""
    keys = sorted({key for one in readings for key in one.source.split()})
    return [(key, source_text(catalog.sources[key]) if key in catalog.sources else "") for key in keys]


def assessment_document(assessment: Assessment) -> AssessmentDocument:
    """Strain [h/day] with six decimals, quantities in their unit with three, money as decimal text."""
    currency = assessment.currency
    return {
        "format": "deskmend-assessment/1",
        "case": case_name(assessment.case),
        "currency": currency,
        "with": names_json(assessment.options),
        "strain": {
            "total": strain_json(assessment.strain.total),
            "by_region": regions_json(assessment.strain.by_region),
            "plain_total": strain_json(assessment.plain.total),
            "plain_by_region": regions_json(assessment.plain.by_region),
            "without_fixes": strain_json(assessment.now.total),
            "plain_without_fixes": strain_json(assessment.plain_now.total),
        },
        "cost": money_json(assessment.bill.total, currency),
        "bill": bought_json(assessment.bill.lines, currency),
        "bill_missing": list(assessment.bill.missing),
        "quantities": [reading_json(one) for one in assessment.quantities],
        "exposures": [_exposure_json(one) for one in assessment.exposures],
        "fit": fit_document(assessment.lacks),
        "suits": suits_document(assessment.suits),
        "scores": assessment_scores(assessment),
        "rules_broken": [{"fix": breach.fix.id, "reason": breach.reason} for breach in assessment.breaches],
        "warnings": list(assessment.warnings),
    }


def reading_json(one: QuantityReading) -> Reading:
    """One quantity against its range, in its unit with three decimals."""
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


EXACT = 12
"""Decimals of the factors of a strain, so that their product gives it to the millionth."""


def _exposure_json(one: ExposureRow) -> ExposureRecord:
    """One exposure: ``weight`` is its part in the region, ``strain`` the product of all, rounded once."""
    return {
        "task": one.task,
        "place": one.place,
        "name": one.name,
        "of": one.of or None,
        "mode": one.mode,
        "quantity": one.quantity or None,
        "region": one.region,
        "hours": round(one.hours, EXACT),
        "severity": round(one.severity, EXACT),
        "share": round(one.share, EXACT),
        "spell_factor": round(one.spell_factor, EXACT),
        "weight": one.weight,
        "discomfort_factor": one.discomfort_factor,
        "strain": strain_json(one.strain),
        "instead": one.instead or None,
    }


def add_exposures(page: Page, title: str, rows: Sequence[ExposureRow], many: bool) -> None:
    """Add every exposure that strains, with what makes its strain; the task is named where there are many."""
    page.heading(title)
    page.table(_exposure_cells(sorted(rows, key=lambda one: -one.strain), many), right=(0,))
    page.paragraph(
        tr(
            "They add up to {total}. What is within its range counts nothing and is left out here.",
            total=strain_text(sum(one.strain for one in rows), 3),
        )
    )


def _exposure_cells(rows: Sequence[ExposureRow], many: bool) -> list[list[str]]:
    out = []
    for one in rows:
        if not one.strain and not (one.instead and one.severity > 0):
            continue
        what = exposure_words(one.name, one.of, one.task if many else "")
        if one.instead:
            lesser, larger = (quantity_words(name, one.of) for name in (one.quantity, one.instead))
            told = tr("{lesser}: less far outside, so {larger} counts instead", lesser=lesser, larger=larger)
        else:
            told = tr(
                "{hours} h x share {share} x severity {severity} x spell {spell} x weight {weight} x "
                "discomfort {discomfort}",
                hours=decimal_text(one.hours),
                share=decimal_text(one.share),
                severity=decimal_text(one.severity),
                spell=decimal_text(one.spell_factor),
                weight=decimal_text(one.weight),
                discomfort=decimal_text(one.discomfort_factor),
            )
        out.append([strain_text(one.strain, 3), f"{region_word(one.region)}: {what}", told])
    return out


def assessment_text(assessment: Assessment, catalog: Catalog, exposures: bool = False) -> str:
    """An assessment for who knows the trade: every quantity with its range and where that comes from.

    With `exposures` every exposure too, with all that makes its strain.
    """
    page = Page()
    add_signs(page, assessment.case, catalog)
    add_fit(page, assessment.lacks, amiss_in(assessment.after))
    page.paragraph(tr("Assessment: {case}", case=case_name(assessment.case)))
    _summary(page, assessment)
    page.heading(tr("Strain by region"))
    add_region_table(page, assessment.now, assessment.strain if assessment.options else None)
    title = tr("What is left comes from") if assessment.options else tr("It comes from")
    add_causes(page, title, assessment.exposures, complaint_texts(assessment.case, assessment.exposures))
    outside = sorted((q for q in assessment.quantities if q.severity > 0), key=lambda q: -q.severity)
    inside = [q for q in assessment.quantities if q.severity <= 0]
    page.heading(tr("Outside their range, the worst first"))
    _quantities(page, outside, assessment)
    if not outside:
        page.paragraph(tr("Nothing."))
    page.heading(tr("Within their range"))
    _quantities(page, [q for q in inside if _ranged(q)], assessment)
    rest = [q for q in inside if not _ranged(q)]
    if rest:
        page.heading(tr("Further measures, without a range of their own"))
        _quantities(page, rest, assessment)
    if exposures:
        title = tr("Every exposure, with what makes its strain")
        add_exposures(page, title, assessment.exposures, len(assessment.after.tasks) > 1)
    add_suits(page, assessment.suits)
    add_assessment_scores(page, assessment)
    sources = range_sources(assessment.quantities, catalog)
    if sources:
        page.heading(tr("Where the ranges come from"))
        page.points([f"{key}: {text}" if text else key for key, text in sources])
    add_cautions(page)
    remarks = other_warnings(assessment.warnings, assessment.case, catalog)
    if remarks:
        page.heading(tr("For the assessor"))
        page.points(remarks)
    return page.text()


def _ranged(one: QuantityReading) -> bool:
    return one.low is not None or one.high is not None


def _summary(page: Page, assessment: Assessment) -> None:
    page.blank()
    now, plain = strain_text(assessment.now.total), strain_text(assessment.plain_now.total)
    if assessment.options == assessment.in_place:
        page.paragraph(
            tr("Strain: {now} strain-hours a day ({plain} without discomfort weights).", now=now, plain=plain)
        )
        if assessment.in_place:
            page.paragraph(tr("In place already:"))
            page.points(_titles(assessment))
        return
    page.paragraph(
        tr(
            "Strain: {now} strain-hours a day now, {then} with these fixes (without discomfort weights "
            "{plain} and {plain_then}). Cost: {cost}.",
            now=now,
            then=strain_text(assessment.strain.total),
            plain=plain,
            plain_then=strain_text(assessment.plain.total),
            cost=total_text(assessment.bill.total, assessment.currency, assessment.invented),
        )
    )
    page.points(_titles(assessment))
    for breach in assessment.breaches:
        page.point("!", f"{tr(breach.fix.title)}: {breach.reason}")


def _titles(assessment: Assessment) -> list[str]:
    return [f"{step_title(option, assessment.before)} ({option.with_name})" for option in assessment.options]


def _quantities(page: Page, quantities: Sequence[QuantityReading], assessment: Assessment) -> None:
    many = len(assessment.after.tasks) > 1
    rows = []
    for one in quantities:
        value = value_words(one.value, one.unit, one.name) + (f" {ESTIMATED}" if one.estimated else "")
        wanted = range_words(one.low, one.high, one.unit, one.name)
        sources = ", ".join(one.source.split())
        rows.append([reading_name(one, many), value, f"{wanted} ({sources})" if wanted else ""])
    page.table(rows)
    if any(one.estimated for one in quantities):
        page.paragraph(
            tr("{mark} rests on an estimate or an assumption, not on a measurement.", mark=ESTIMATED), 2
        )
