"""A recheck: what became of the plan, before, planned and reached, how it felt, and the plan from there.

No sentence credits a fix with how somebody felt: ratings stand apart from what was done, with what a change
of them can be said to be.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from deskmend.casebook.learning import FeltChange, rating_errors
from deskmend.casebook.rechecking import Moment, Rechecked, StepNow
from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.report.assessment import reading_json, reading_name
from deskmend.report.casebook import rating_json
from deskmend.report.catalog import source_text
from deskmend.report.documents import money_json, regions_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.plan import plan_document
from deskmend.report.scores import assessment_scores
from deskmend.report.steps import count_words, owned_title
from deskmend.report.words import (
    add_cautions,
    add_signs,
    case_name,
    decimal_text,
    item_title,
    money_text,
    other_warnings,
    quantity_text,
    range_words,
    region_word,
    shared_side,
    strain_text,
    total_text,
    value_words,
)
from deskmend.risk.scores.day import methods

if TYPE_CHECKING:
    from deskmend.report.casebook_documents import (
        FeltChangeRecord,
        MomentRecord,
        RatingErrorRecord,
        RecheckDocument,
        StepNowRecord,
    )

__all__ = ["add_felt", "felt_words", "recheck_document", "recheck_text"]

MOST_MEASURES = 12
"""Most measures that a recheck shows side by side; the document holds all (judgement)."""


def recheck_document(found: Rechecked, catalog: Catalog) -> RecheckDocument:
    """A recheck, format ``deskmend-recheck/1``."""
    again = plan_document(found.again, catalog)
    return {
        "format": "deskmend-recheck/1",
        "case": again["case"],
        "key": found.key,
        "currency": found.again.currency,
        "nothing_done": found.nothing_done,
        "measured_with_all_in_place": found.measured,
        "before": _moment_json(found.before),
        "planned": None if found.planned is None else _moment_json(found.planned),
        "reached": _moment_json(found.reached),
        "steps": [_step_now_json(one) for one in found.steps],
        "in_place": list(found.in_place),
        "added": list(found.added),
        "doubled": list(found.doubled),
        "missing": [{"with": one.option.with_name, "keys": list(one.keys)} for one in found.missing],
        "outdated": [rating_json(one) for one in found.outdated],
        "no_longer": list(found.no_longer),
        "bought": dict(found.bought),
        "paid": money_json(found.paid, found.again.currency),
        "felt": [_felt_json(one) for one in found.felt],
        "rating_errors": _errors_json(found.felt, catalog),
        "again": again,
        "warnings": list(found.warnings),
    }


def _moment_json(moment: Moment) -> MomentRecord:
    told = moment.assessment
    return {
        "day": None if moment.day is None else moment.day.isoformat(),
        "with": [option.with_name for option in told.options],
        "strain": {
            "total": strain_json(told.strain.total),
            "by_region": regions_json(told.strain.by_region),
            "plain_total": strain_json(told.plain.total),
            "plain_by_region": regions_json(told.plain.by_region),
        },
        "scores": assessment_scores(told),
        "quantities": [reading_json(one) for one in told.quantities],
    }


def _step_now_json(one: StepNow) -> StepNowRecord:
    return {
        "with": one.name,
        "planned": one.planned,
        "stands": one.stands,
        "now": one.now or None,
        "day": None if one.day is None else one.day.isoformat(),
        "why": one.why,
    }


def _felt_json(one: FeltChange) -> FeltChangeRecord:
    return {
        "region": one.region,
        "first": rating_json(one.first),
        "last": rating_json(one.last),
        "points_less": one.points,
        "clarity": one.clarity,
        "said": felt_words(one),
    }


def _errors_json(felt: Sequence[FeltChange], catalog: Catalog) -> list[RatingErrorRecord]:
    return [
        {
            "regions": list(one.regions),
            "low": one.low,
            "high": one.high,
            "source": one.source,
            "title": source_text(catalog.sources[one.source]) if one.source in catalog.sources else "",
        }
        for one in rating_errors(change.region for change in felt)
    ]


def felt_words(one: FeltChange) -> str:
    """What a change of ratings can be said to be, and no more."""
    if one.clarity == "none":
        return tr("no clear change")
    if one.clarity == "may_be":
        better = tr("may be better, within measuring error for one person")
        return better if one.points > 0 else tr("may be worse, within measuring error for one person")
    return tr("clearly changed: less") if one.points > 0 else tr("clearly changed: more")


def recheck_text(found: Rechecked, catalog: Catalog) -> str:
    """A recheck: what became of the plan, three moments, how it felt, and the plan from there."""
    page = Page()
    add_signs(page, found.again.case, catalog)
    page.paragraph(tr("Recheck of {key}: {case}", key=found.key, case=case_name(found.again.case)))
    page.blank()
    if found.nothing_done:
        page.paragraph(tr("Nothing of the plan stands in the casebook as done."))
    _add_doubts(page, found)
    page.heading(tr("What became of the plan"))
    page.points([_step_now_text(one, found, catalog) for one in found.steps] or [tr("nothing to do")])
    if found.bought:
        things = [
            f"{item_title(item, catalog)}, {count_words(units, catalog.items[item].unit)}"
            for item, units in found.bought.items()
        ]
        page.paragraph(
            tr("Counted as owned from here, since it was bought: {things}.", things="; ".join(things))
        )
    _add_strain(page, found)
    _add_scores(page, found)
    _add_measures(page, found)
    add_felt(page, found.felt, catalog)
    _add_again(page, found, catalog)
    add_cautions(page)
    remarks = other_warnings(found.warnings, found.again.case, catalog)
    if remarks:
        page.heading(tr("For the assessor"))
        page.points(remarks)
    return page.text()


def _add_doubts(page: Page, found: Rechecked) -> None:
    """What of the case and the casebook does not go together, before any figure that rests on both."""
    if found.doubled:
        page.paragraph(
            tr(
                "The case seems to be measured with these in place: {fixes}. Then they may count twice here: "
                "say --measured, or give the case as it is without them.",
                fixes=", ".join(found.doubled),
            )
        )
    for one in found.missing:
        page.paragraph(
            tr(
                "{fix} stands as done and does not show in the case, so it is not counted. Where it is in "
                "place, write it there: {keys}.",
                fix=one.option.with_name,
                keys=", ".join(one.keys),
            )
        )
    if found.measured and found.added:
        page.paragraph(
            tr(
                "Not told by the case, so counted as the casebook has it: {fixes}.",
                fixes=", ".join(found.added),
            )
        )
    if found.outdated:
        told = ", ".join(f"{region_word(one.region)} {one.rating}" for one in found.outdated)
        page.paragraph(
            tr(
                "What was felt last is not what the case says: {ratings}. The plan from here counts with the "
                "case: write the ratings of now into it.",
                ratings=told,
            )
        )


def _fix_title(name: str, found: Rechecked, catalog: Catalog) -> str:
    """Title of a step by its name, and the name itself, as it is typed."""
    bare = name.partition("=")[0].rpartition(".")[2]
    fix = catalog.by_id.get(bare)
    if fix is None:
        return name
    owner = next((step.option.owner for step in found.again.steps if step.option.with_name == name), None)
    title = tr(fix.title)
    return f"{title if owner is None else owned_title(title, owner, found.again.state_after)} ({name})"


def _step_now_text(one: StepNow, found: Rechecked, catalog: Catalog) -> str:
    title = _fix_title(one.name, found, catalog)
    told = {
        "in_place": tr("in place"),
        "other_size": tr("in place at another size, {now}", now=one.now),
        "other_fix": tr("replaced by {now}", now=one.now),
        "given_up": tr("given up"),
        "not_done": tr("not done"),
    }[one.stands]
    line = f"{title}: {told}"
    if not one.planned:
        line += f", {tr('not in the plan')}"
    return f"{line}. {one.why}" if one.why else line


def _moments(found: Rechecked) -> list[tuple[str, Moment]]:
    planned = [] if found.planned is None else [(tr("as planned"), found.planned)]
    return [(tr("before"), found.before), *planned, (tr("reached"), found.reached)]


def _add_strain(page: Page, found: Rechecked) -> None:
    moments = _moments(found)
    page.heading(tr("Strain-hours a day, without weights of discomfort"))
    rows = [["", *(name for name, _ in moments)]]
    for region in found.before.assessment.plain.by_region:
        figures = [strain_text(moment.assessment.plain.by_region[region], 2) for _, moment in moments]
        rows.append([region_word(region), *figures])
    rows.append([tr("all"), *(strain_text(moment.assessment.plain.total, 2) for _, moment in moments)])
    page.table(rows, right=tuple(range(1, len(moments) + 1)), head=True)
    if found.nothing_done and _plain(found.before) == _plain(found.reached):
        page.paragraph(tr("Nothing has changed."), 2)
    elif found.nothing_done:
        page.paragraph(tr("What differs comes from the place as it is told now, not from the plan."), 2)


def _plain(moment: Moment) -> dict[str, int]:
    return moment.assessment.plain.by_region


def _add_scores(page: Page, found: Rechecked) -> None:
    moments = _moments(found)
    rows = [["", *(name for name, _ in moments)]]
    for method in methods():
        scores = [moment.assessment.scores.score(method.name) for _, moment in moments]
        if any(score is not None for score in scores):
            told = [tr("none") if score is None else decimal_text(score, 1) for score in scores]
            rows.append([tr(method.worst), *told])
    if len(rows) > 1:
        page.heading(tr("Published scores"))
        page.table(rows, right=tuple(range(1, len(moments) + 1)), head=True)


def _add_measures(page: Page, found: Rechecked) -> None:
    """Measures that moved and have a range, those furthest outside at first before the others.

    A side that all values have in common stands with the name; where they change sides each tells its own.
    """
    moments = _moments(found)
    kept = [
        {(one.task, one.name, one.of, one.mode): one for one in moment.assessment.quantities}
        for _, moment in moments
    ]
    many = len(found.reached.assessment.after.tasks) > 1
    rows: list[list[str]] = []
    crossed: list[str] = []
    for key, one in sorted(kept[0].items(), key=lambda pair: -pair[1].severity):
        there = [readings[key] for readings in kept if key in readings]
        wanted = range_words(one.low, one.high, one.unit, one.name)
        if len(there) < len(kept) or not wanted:
            continue
        told = [value_words(reading.value, reading.unit, reading.name) for reading in there]
        if len(set(told)) < 2 or len(rows) + len(crossed) == MOST_MEASURES:
            continue
        name = reading_name(one, many)
        side = shared_side((reading.value for reading in there), one.name)
        if side is None:
            values = ", ".join(f"{when} {value}" for (when, _), value in zip(moments, told, strict=True))
            crossed.append(
                tr("{measure}: {values}; range: {range}", measure=name, values=values, range=wanted)
            )
        else:
            short = [
                quantity_text(abs(reading.value) if side else reading.value, one.unit) for reading in there
            ]
            rows.append([f"{name}, {side}" if side else name, *short, wanted])
    if rows or crossed:
        page.heading(tr("Measures that changed, and their range"))
    if rows:
        head = ["", *(name for name, _ in moments), tr("range")]
        page.table([head, *rows], right=tuple(range(1, len(moments) + 1)), head=True)
    page.points(crossed)


def add_felt(page: Page, felt: Sequence[FeltChange], catalog: Catalog) -> None:
    """How regions felt first and last, in words that follow the published errors; nothing for none."""
    if not felt:
        return
    page.heading(tr("How it felt, 0 nothing to 10 the worst"))
    rows = [
        [
            region_word(one.region),
            tr("{first} to {last}", first=one.first.rating, last=one.last.rating),
            felt_words(one),
        ]
        for one in felt
    ]
    page.table(rows)
    page.paragraph(
        tr(
            "This says nothing of what it comes from: people come when it is worst, and ratings then fall by "
            "themselves."
        ),
        2,
    )
    for error in rating_errors(one.region for one in felt):
        where = ", ".join(region_word(region) for region in error.regions)
        span = decimal_text(error.low, 1)
        if error.high != error.low:
            span = tr("{first} to {last}", first=span, last=decimal_text(error.high, 1))
        page.paragraph(
            tr(
                "Published error, {where}: {points} points. {source}",
                where=where,
                points=span,
                source=source_text(catalog.sources[error.source])
                if error.source in catalog.sources
                else error.source,
            ),
            2,
        )
    page.paragraph(tr("The largest error, 4 points at the neck, is taken for all regions."), 2)


def _add_again(page: Page, found: Rechecked, catalog: Catalog) -> None:
    again = found.again
    page.heading(tr("The plan from here"))
    page.paragraph(
        tr(
            "Cost: {cost}. Strain-hours a day with it, without weights of discomfort: {strain}.",
            cost=total_text(again.cost, again.currency, again.invented),
            strain=strain_text(again.plain_after.total, 2),
        )
    )
    stays = {option.with_name for option in again.stays}
    new = [step for step in again.steps if step.option.with_name not in stays]
    page.points(
        [_fix_title(step.option.with_name, found, catalog) for step in new] or [tr("nothing new to do")]
    )
    if stays:
        names = ", ".join(step.option.with_name for step in again.steps if step.option.with_name in stays)
        page.paragraph(tr("Stays in place: {fixes}.", fixes=names))
    if found.no_longer:
        page.paragraph(tr("The plan does without: {fixes}.", fixes=", ".join(found.no_longer)))
    if found.paid:
        told = tr(
            "{paid} was paid so far, as far as it was told.", paid=money_text(found.paid, again.currency)
        )
        if again.budget is not None:
            hand = money_text(again.budget, again.currency)
            told += " " + tr(
                "The plan from here counts on {budget} in hand: give --budget where that money is gone.",
                budget=hand,
            )
        page.paragraph(told)
