"""An assessment: strain by region, its causes, what is out of range; and two workplaces side by side.

As plain text and as a document of format ``deskmend-assessment/1``; plans and the web page take their tables
of regions, quantities and sources from here.

As plain text, as a document of format ``deskmend-beside/1``, and as a page with drawings at one scale
(`deskmend.report.html.page`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.measures import Micro
from deskmend.planning.assessment import Assessment, Beside, MeasurePair, ReadingPair
from deskmend.planning.explain import ExposureRow, QuantityReading
from deskmend.planning.mismatch import mismatches_in
from deskmend.planning.score import Score
from deskmend.report.catalog import source_text
from deskmend.report.documents import (
    bought_json,
    money_json,
    names_json,
    quantity_json,
    regions_json,
    strain_json,
)
from deskmend.report.fit import ESTIMATED, add_fit, add_suits, fit_document, fit_lines, suits_document
from deskmend.report.layout import Page
from deskmend.report.scores import add_assessment_scores, assessment_scores, compared_scores, scores_json
from deskmend.report.steps import step_title
from deskmend.report.words import (
    SMALLEST_TOLD,
    add_cautions,
    add_signs,
    case_name,
    decimal_text,
    exposure_words,
    measure_words,
    other_warnings,
    posture_words,
    quantity_text,
    quantity_words,
    range_words,
    region_word,
    strain_text,
    total_text,
    value_words,
)
from deskmend.risk.severity import REGIONS
from deskmend.workstation.fields import Value

if TYPE_CHECKING:
    from deskmend.report.case_documents import AssessmentDocument, ExposureRecord, Reading
    from deskmend.report.other_documents import (
        BesideDocument,
        BesideMeasure,
        BesideQuantity,
        BesideWorkplace,
    )

__all__ = [
    "add_beside_fit",
    "add_causes",
    "add_exposures",
    "add_region_table",
    "assessment_document",
    "assessment_text",
    "beside_document",
    "beside_text",
    "called",
    "cause_texts",
    "complaint_texts",
    "measure_rows",
    "most_left_text",
    "quantity_rows",
    "range_sources",
    "reading_json",
    "reading_name",
    "score_rows",
    "strain_rows",
    "summary_lines",
]

MOST_CAUSES = 3
"""Most causes told of one region; of most that is left, the most regions."""


def _causes(rows: Iterable[ExposureRow]) -> dict[str, list[tuple[str, Micro]]]:
    """What strains each region in plain words, all tasks and modes together, the most first."""
    found: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for row in rows:
        if row.strain:
            found[row.region][exposure_words(row.name, row.of)] += row.strain
    return {region: found[region].most_common() for region in REGIONS if region in found}


def cause_texts(rows: Iterable[ExposureRow]) -> list[str]:
    """One line for each region that is strained, in the order of the regions."""
    out = []
    for region, causes in _causes(rows).items():
        told = causes[:1] + [one for one in causes[1:MOST_CAUSES] if one[1] >= SMALLEST_TOLD]
        parts = [f"{what} {strain_text(strain, 2)}" for what, strain in told]
        if len(told) < len(causes):
            rest = sum(strain for _, strain in causes[len(told) :])
            parts.append(tr("the rest {strain}", strain=strain_text(rest, 2)))
        out.append(f"{region_word(region)}: {'; '.join(parts)}")
    return out


def most_left_text(rows: Iterable[ExposureRow]) -> str:
    """Where most of what a plan leaves is, and from what; empty where too little is left to be told."""
    causes = _causes(rows)
    sums = Counter({region: sum(strain for _, strain in found) for region, found in causes.items()})
    told = [region for region, strain in sums.most_common(MOST_CAUSES) if strain >= SMALLEST_TOLD]
    if not told:
        return ""
    parts = [
        f"{region_word(region)} {strain_text(sums[region], 2)} ({causes[region][0][0]})" for region in told
    ]
    return tr("Most of what is left: {parts}.", parts="; ".join(parts))


def complaint_texts(case: Case, *many: Iterable[ExposureRow]) -> list[str]:
    """What to say of each region that troubles the person where nothing strains it, in any of some states."""
    strained = {row.region for rows in many for row in rows if row.strain}
    return [
        tr(
            "{region}: discomfort was told here, and nothing that is measured strains this part. No step is "
            "meant for it. If the discomfort stays, ask a clinician.",
            region=region_word(region),
        )
        for region in REGIONS
        if getattr(case.person.discomfort, region) and region not in strained
    ]


def add_causes(page: Page, title: str, rows: Iterable[ExposureRow], complaints: Iterable[str]) -> None:
    """Add what strains each region, and what is said of complaints without a cause."""
    texts = [*cause_texts(rows), *complaints]
    if texts:
        page.heading(title)
        page.points(texts)


LONGEST_BAR = 40
"""Length of the longest bar [characters]."""


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
    return posture_words(one.name, one.of, one.mode, one.task if many else "")


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
    add_fit(page, assessment.lacks, mismatches_in(assessment.after))
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


MEASURE_KEYS = {"person": "", "device": "devices.", "place": "places.*.", "task": "tasks.*."}
"""Where a field stands in a case, by its level."""


def beside_document(pair: Beside) -> BesideDocument:
    """Both workplaces: strain [h/day], money as decimal text, quantities with three decimals."""
    from deskmend.report.drawing.side import drawn_pairs

    return {
        "format": "deskmend-beside/1",
        "cases": [_workplace_json(one) for one in pair.both],
        "tasks": [list(task) for task in pair.tasks],
        "measures": [_measure_json(one) for one in pair.measures],
        "quantities": [_quantity_json(one) for one in pair.quantities],
        "drawings": [
            {"task": list(drawn.task), "mode": drawn.mode, "svg": list(drawn.svg)}
            for drawn in drawn_pairs(pair)
        ],
    }


def _workplace_json(one: Assessment) -> BesideWorkplace:
    return {
        "case": case_name(one.case),
        "currency": one.currency,
        "with": names_json(one.options),
        "cost": money_json(one.bill.total, one.currency),
        "strain": {
            "total": strain_json(one.strain.total),
            "by_region": regions_json(one.strain.by_region),
            "plain_total": strain_json(one.plain.total),
            "plain_by_region": regions_json(one.plain.by_region),
        },
        "scores": scores_json(one.scores),
        "fit": fit_document(one.lacks),
        "warnings": list(one.warnings),
    }


def _measure_json(one: MeasurePair) -> BesideMeasure:
    values = [value if isinstance(value, str) else quantity_json(value) for value in (one.first, one.second)]
    return {
        "level": one.level,
        "owner": list(one.owner),
        "name": one.name,
        "unit": one.unit or None,
        "values": values,
    }


def _quantity_json(one: ReadingPair) -> BesideQuantity:
    either, both = one.either, (one.first, one.second)
    return {
        "task": list(one.task),
        "name": either.name,
        "of": either.of or None,
        "mode": either.mode or None,
        "unit": either.unit,
        "values": [None if reading is None else quantity_json(reading.value) for reading in both],
        "severities": [None if reading is None else quantity_json(reading.severity) for reading in both],
        "low": [None if reading is None else quantity_json(reading.low) for reading in both],
        "high": [None if reading is None else quantity_json(reading.high) for reading in both],
    }


# --- rows that text and page share ------------------------------------------------------------------


def called(pair: Beside) -> tuple[str, str]:
    """What the two are called over their columns."""
    return tr("first"), tr("second")


def summary_lines(pair: Beside) -> list[str]:
    """One line each: what it is, what is done there, what that costs."""
    out = []
    for name, one in zip((tr("First"), tr("Second")), pair.both, strict=True):
        told = tr("{which}: {case}.", which=name, case=case_name(one.case))
        if one.options:
            steps = "; ".join(step_title(option, one.before) for option in one.options)
            cost = total_text(one.bill.total, one.currency, one.invented)
            told += " " + tr("With: {steps}. Cost: {cost}.", steps=steps, cost=cost)
        out.append(told)
    return out


def strain_rows(pair: Beside) -> list[list[str]]:
    """Strain by region in both, those with none left out; then all of it, and without discomfort weights."""
    first, second = (one.strain.by_region for one in pair.both)
    rows = [
        [region_word(region), *(strain_text(of.get(region, 0), 2) for of in (first, second))]
        for region in dict.fromkeys([*first, *second])
        if first.get(region, 0) or second.get(region, 0)
    ]
    totals = [strain_text(one.strain.total, 2) for one in pair.both]
    plain = [strain_text(one.plain.total, 2) for one in pair.both]
    rows.append([tr("all"), *totals])
    # the same figures twice say nothing where nobody's discomfort counts
    return rows if plain == totals else [*rows, [tr("all, each part counted alike"), *plain]]


def score_rows(pair: Beside) -> list[list[str]]:
    """Published scores in both."""
    return compared_scores(pair.first.scores, pair.second.scores)


def measure_rows(pair: Beside) -> list[list[str]]:
    """Measures that differ and have words for people, in both."""
    many = {
        "place": len(pair.first.after.places) > 1 or len(pair.second.after.places) > 1,
        "task": len(pair.tasks) > 1,
    }
    rows = []
    for one in pair.measures:
        values = [_measure_text(value, one.unit) for value in (one.first, one.second)]
        if values[0] == values[1]:
            continue
        words = _measure_words(one)
        if words:
            owner = next(name for name in one.owner if name is not None)
            rows.append([f"{words} ({owner})" if many.get(one.level) else words, *values])
    return rows


def _measure_words(one: MeasurePair) -> str:
    key = f"person.{one.name}" if one.name.startswith("body.") else MEASURE_KEYS[one.level] + one.name
    try:
        return measure_words(key)
    except KeyError:
        # a field that no case gives by that name, as what a fix alone sets
        return ""


def _measure_text(value: Value | None, unit: str) -> str:
    if value is None:
        return "-"
    return value if isinstance(value, str) else quantity_text(value, unit)


def quantity_rows(pair: Beside, outside: bool) -> list[list[str]]:
    """Quantities with a range, in both: those outside it in either, the worst first, or all others."""
    many = len(pair.tasks) > 1
    found = [one for one in pair.quantities if (_worst(one) > 0) == outside]
    if outside:
        found.sort(key=lambda one: -_worst(one))
    return [
        [
            reading_name(one.either, many),
            *(_reading_text(one, second) for second in (False, True)),
            range_words(one.either.low, one.either.high, one.either.unit, one.either.name),
        ]
        for one in found
        if one.either.low is not None or one.either.high is not None
    ]


def _worst(one: ReadingPair) -> float:
    return max(reading.severity for reading in (one.first, one.second) if reading is not None)


def _reading_text(one: ReadingPair, second: bool) -> str:
    reading = one.second if second else one.first
    if reading is None:
        return "-"
    text = value_words(reading.value, reading.unit, reading.name)
    return f"{text} !" if reading.severity > 0 else text


def add_beside_fit(page: Page, pair: Beside) -> None:
    """Add what does not fit, in each."""
    for name, one in zip((tr("First"), tr("Second")), pair.both, strict=True):
        page.points([tr("{which}: {what}", which=name, what=line) for line in fit_lines(one.lacks)], mark="!")


# --- text -------------------------------------------------------------------------------------------


def beside_text(pair: Beside) -> str:
    """Both workplaces as text: strain, scores, measures, and what lies outside its range in either."""
    page = Page()
    page.points(summary_lines(pair))
    add_beside_fit(page, pair)
    head = ["", *called(pair)]
    _table(page, tr("Strain by region"), head, strain_rows(pair))
    _table(page, tr("Published scores"), head, score_rows(pair))
    _table(page, tr("What differs"), head, measure_rows(pair))
    _table(
        page, tr("Outside its range in either"), head, [row[:3] for row in quantity_rows(pair, outside=True)]
    )
    page.paragraph(tr("! lies outside its range."))
    return page.text()


def _table(page: Page, title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    page.heading(title)
    if rows:
        page.table([list(head), *rows], head=True)
    else:
        page.paragraph(tr("Nothing."))
