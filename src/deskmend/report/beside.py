"""Two workplaces side by side: strain, scores, measures and what lies outside its range.

As plain text, as a document of format ``deskmend-beside/1``, and as a page with drawings at one scale
(`deskmend.report.html.beside`).
"""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.language import tr
from deskmend.planning.assessment import Assessment
from deskmend.planning.beside import Beside, MeasurePair, ReadingPair
from deskmend.report.assessment import reading_name
from deskmend.report.documents import money_json, names_json, quantity_json, regions_json, strain_json
from deskmend.report.drawing.pairs import drawn_pairs
from deskmend.report.fit import fit_document, fit_lines
from deskmend.report.layout import Page
from deskmend.report.other_documents import (
    BesideDocument,
    BesideMeasure,
    BesideQuantity,
    BesideWorkplace,
)
from deskmend.report.scores import compared_scores, scores_json
from deskmend.report.steps import step_title
from deskmend.report.words import (
    case_name,
    measure_words,
    quantity_text,
    range_words,
    region_word,
    strain_text,
    total_text,
    value_words,
)
from deskmend.workstation.fields import Value

__all__ = [
    "add_beside_fit",
    "beside_document",
    "beside_text",
    "called",
    "measure_rows",
    "quantity_rows",
    "score_rows",
    "strain_rows",
    "summary_lines",
]

MEASURE_KEYS = {"person": "", "device": "devices.", "place": "places.*.", "task": "tasks.*."}
"""Where a field stands in a case, by its level."""


def beside_document(pair: Beside) -> BesideDocument:
    """Both workplaces: strain [h/day], money as decimal text, quantities with three decimals."""
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
