"""A casebook: who stands in it, what was done, what it teaches, and what may be shared of it."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from deskmend.casebook.learning import LEAST_CASES, SMALLEST_GROUP, FixCount, Learned, SharedCounts, SharedRow
from deskmend.casebook.store import Erased, PersonBook, Rating, StepDone, Visit
from deskmend.intake.catalog import Catalog
from deskmend.language import shown_day, shown_number, tr, trn
from deskmend.report.documents import money_json, quantity_json
from deskmend.report.layout import Page
from deskmend.report.words import (
    decimal_text,
    money_text,
    region_word,
)

if TYPE_CHECKING:
    from deskmend.report.case_documents import PlanDocument
    from deskmend.report.casebook_documents import (
        CasebookEntryDocument,
        CasebookListDocument,
        CasebookPersonDocument,
        DoneRecord,
        ErasedDocument,
        LearnedFix,
        LearningDocument,
        ListedPerson,
        RatingRecord,
        SharedCountsDocument,
        SharedRowRecord,
        VisitRecord,
    )

__all__ = [
    "counts_csv",
    "counts_document",
    "counts_text",
    "entry_document",
    "entry_text",
    "erased_document",
    "erased_text",
    "learning_document",
    "learning_text",
    "list_document",
    "list_text",
    "names_text",
    "overlay_text",
    "person_document",
    "person_text",
    "rating_json",
]

# --- what is written -----------------------------------------------------------------------------------


def _done_json(one: StepDone) -> DoneRecord:
    return {
        "day": one.day.isoformat(),
        "fix": one.fix,
        "with": one.name,
        "state": one.state,
        "paid": money_json(one.paid, one.currency),
        "paid_with": one.paid_with,
        "currency": one.currency,
        "why": one.why,
    }


def rating_json(one: Rating) -> RatingRecord:
    """One rating."""
    return {"day": one.day.isoformat(), "region": one.region, "rating": one.rating}


def entry_document(
    casebook: str,
    key: str,
    day: str,
    *,
    done: Sequence[StepDone] = (),
    felt: Sequence[Rating] = (),
    plan: PlanDocument | None = None,
) -> CasebookEntryDocument:
    """What was written into a casebook, format ``deskmend-casebook-entry/1``."""
    told: CasebookEntryDocument = {
        "format": "deskmend-casebook-entry/1",
        "casebook": casebook,
        "key": key,
        "day": day,
        "entry": "visit" if plan is not None else "done" if done else "felt",
        "done": [_done_json(one) for one in done],
        "felt": [rating_json(one) for one in felt],
    }
    if plan is not None:
        told["plan"] = plan
    return told


def entry_text(casebook: str, key: str, done: Sequence[StepDone], felt: Sequence[Rating]) -> str:
    """What was written into a casebook, a line each."""
    page = Page()
    page.paragraph(tr("Written into {file} for {key}:", file=casebook, key=key))
    page.points([_done_text(one) for one in done])
    page.points([_rating_text(one) for one in felt])
    return page.text()


def names_text(names: Sequence[str]) -> str:
    """The steps of a plan by the names that ``casebook done`` takes; empty where there are none."""
    page = Page()
    if names:
        page.paragraph(tr("Names of the steps, for casebook done:"))
        page.points(names)
    return page.text()


def _done_text(one: StepDone) -> str:
    kept = tr("{day}: {fix} is done", day=shown_day(one.day), fix=one.name)
    given_up = tr("{day}: {fix} is given up", day=shown_day(one.day), fix=one.name)
    paid = tr("paid with {fix}", fix=one.paid_with) if one.paid_with else ""
    if one.paid is not None:
        paid = tr("paid {amount}", amount=money_text(one.paid, one.currency))
    return ". ".join(part for part in (kept if one.state == "kept" else given_up, paid, one.why) if part)


def _rating_text(one: Rating) -> str:
    return tr(
        "{day}: {region} {rating} of 10",
        day=shown_day(one.day),
        region=region_word(one.region),
        rating=one.rating,
    )


# --- who stands in it ----------------------------------------------------------------------------------


def list_document(casebook: str, persons: Sequence[PersonBook]) -> CasebookListDocument:
    """Who stands in a casebook, format ``deskmend-casebook-list/1``."""
    return {
        "format": "deskmend-casebook-list/1",
        "casebook": casebook,
        "persons": [_listed(one) for one in persons],
    }


def _listed(person: PersonBook) -> ListedPerson:
    states = [one.state for one in person.last_of_each().values()]
    return {
        "key": person.key,
        "visits": len(person.visits),
        "first_day": person.visits[0].day.isoformat(),
        "last_day": person.visits[-1].day.isoformat(),
        "planned": len(person.visits[-1].steps),
        "in_place": states.count("kept"),
        "given_up": states.count("given_up"),
    }


def list_text(persons: Sequence[PersonBook]) -> str:
    """Who stands in a casebook, a row each."""
    page = Page()
    if not persons:
        page.paragraph(tr("Nobody stands in this casebook."))
        return page.text()
    rows = [[tr("key"), tr("visits"), tr("steps planned"), tr("in place"), tr("given up"), tr("last visit")]]
    for person in persons:
        told = _listed(person)
        counts = [str(told["visits"]), str(told["planned"]), str(told["in_place"]), str(told["given_up"])]
        rows.append([person.key, *counts, shown_day(person.visits[-1].day)])
    page.table(rows, right=(1, 2, 3, 4), head=True)
    return page.text()


def person_document(casebook: str, person: PersonBook) -> CasebookPersonDocument:
    """All that a casebook holds of one person, format ``deskmend-casebook-person/1``."""
    return {
        "format": "deskmend-casebook-person/1",
        "casebook": casebook,
        "key": person.key,
        "visits": [_visit_json(one) for one in person.visits],
        "done": [_done_json(one) for one in person.done],
        "felt": [rating_json(one) for one in person.felt],
        "notes": [{"day": one.day.isoformat(), "text": one.text} for one in person.notes],
        "exports": [
            {"day": one.day.isoformat(), "file": one.file, "what": one.what} for one in person.exports
        ],
    }


def _visit_json(visit: Visit) -> VisitRecord:
    return {
        "day": visit.day.isoformat(),
        "case_file": visit.case_file,
        "case_text": visit.case_text,
        "catalog_sha256": visit.catalog_hash,
        "prices_sha256": visit.prices_hash,
        "version": visit.version,
        "currency": visit.currency,
        "with": [step.name for step in visit.steps],
        "plan": json.loads(visit.plan),
    }


def person_text(person: PersonBook) -> str:
    """All that a casebook holds of one person; the texts of cases stand in the document."""
    page = Page()
    page.paragraph(person.key)
    for visit in person.visits:
        page.heading(tr("Visit of {day}", day=shown_day(visit.day)))
        page.paragraph(
            tr(
                "Case read from {file}, planned with deskmend {version}. Plan given:",
                file=Path(visit.case_file).name,
                version=visit.version,
            )
        )
        page.points([step.name for step in visit.steps] or [tr("nothing to do")])
    for title, lines in (
        (tr("Done and given up"), [_done_text(one) for one in person.done]),
        (tr("Felt"), [_rating_text(one) for one in person.felt]),
        (tr("Notes"), [f"{shown_day(one.day)}: {one.text}" for one in person.notes]),
        # names of folders tell who it is, so the whole place stands in the document and at erase alone
        (
            tr("Files written from here"),
            [f"{shown_day(one.day)}: {Path(one.file).name}" for one in person.exports],
        ),
    ):
        if lines:
            page.heading(title)
            page.points(lines)
    return page.text()


# --- learning, sharing, erasing ------------------------------------------------------------------------


def _learned_json(one: FixCount, learned: Learned | None) -> LearnedFix:
    return {
        "fix": one.fix,
        "planned": one.planned,
        "done": one.done,
        "still_used": one.kept,
        "share": None if learned is None else quantity_json(learned.share),
        "prior": None if learned is None else quantity_json(learned.prior),
        "prior_from": None if learned is None else "catalog" if learned.from_catalog else "casebook",
        "prior_weight": None if learned is None else quantity_json(learned.weight),
    }


def learning_document(
    casebook: str,
    persons: int,
    counts: Sequence[FixCount],
    learned: Sequence[Learned],
    overlay: str | None,
) -> LearningDocument:
    """What a casebook teaches, format ``deskmend-learning/1``."""
    by_fix = {one.count.fix: one for one in learned}
    return {
        "format": "deskmend-learning/1",
        "casebook": casebook,
        "persons": persons,
        "least_cases": LEAST_CASES,
        "fixes": [_learned_json(one, by_fix.get(one.fix)) for one in counts],
        "overlay": overlay,
    }


def learning_text(counts: Sequence[FixCount], learned: Sequence[Learned], catalog: Catalog) -> str:
    """What became of each fix, and shares where there are cases enough."""
    page = Page()
    if not counts:
        page.paragraph(tr("Nothing was planned or done yet."))
        return page.text()
    page.heading(tr("What became of each fix, in persons"))
    rows = [["", tr("planned for"), tr("done by"), tr("still used")]]
    rows += [[one.fix, str(one.planned), str(one.done), str(one.kept)] for one in counts]
    page.table(rows, right=(1, 2, 3), head=True)
    if any(0 < count < SMALLEST_GROUP for one in counts for count in (one.planned, one.done, one.kept)):
        page.paragraph(tr("Such small counts can tell of single persons: hand on only what may be shared."))
    page.heading(tr("Shares, from ten cases on"))
    if not learned:
        page.paragraph(tr("No fix was done by ten persons yet: no share is told."))
        return page.text()
    for one in learned:
        days = shown_number(f"{100 * one.share:.0f}")
        prior = shown_number(f"{100 * one.prior:.0f}")
        values = {
            "fix": one.count.fix,
            "share": days,
            "kept": one.count.kept,
            "done": one.count.done,
            "prior": prior,
            "weight": decimal_text(one.weight, 1),
        }
        told = (
            tr(
                "{fix}: {share} of 100 who did it still use it. Counted: {kept} of {done}; the catalog says "
                "{prior} of 100, which counts as {weight} cases.",
                **values,
            )
            if one.from_catalog
            else tr(
                "{fix}: {share} of 100 who did it still use it. Counted: {kept} of {done}; the catalog has "
                "no figure, so the mean of such fixes here, {prior} of 100, counts as {weight} cases.",
                **values,
            )
        )
        page.point("-", told)
    if not any(one.from_catalog for one in learned):
        page.paragraph(tr("None of these has a figure in the catalog that plans count with."))
    page.paragraph(tr("How people felt is not counted here and changes no strain."))
    return page.text()


def overlay_text(learned: Sequence[Learned]) -> str:
    """The figures that plans count with, as a file for ``--learned``."""
    lines = [
        "# Parts of the days on which habits count as kept, from a casebook. Plans read it with --learned.",
        "format: deskmend-learned/1",
        "fixes:",
    ]
    lines += [
        f"  - {{id: {one.count.fix}, share: {one.share:.4f}, cases: {one.count.done}, "
        f"kept: {one.count.kept}, weight: {one.weight:.1f}}}"
        for one in learned
        if one.from_catalog
    ]
    return "\n".join(lines) + "\n"


def counts_document(counts: SharedCounts) -> SharedCountsDocument:
    """Counts that may be shared, format ``deskmend-casebook-counts/1``."""
    return {
        "format": "deskmend-casebook-counts/1",
        "persons": counts.persons,
        "smallest_group": SMALLEST_GROUP,
        "fixes": [_row_json(row) for row in counts.fixes],
        "felt": [_row_json(row) for row in counts.felt],
    }


def _row_json(row: SharedRow) -> SharedRowRecord:
    return {"name": row.name, "groups": dict(row.groups)}


def counts_csv(counts: SharedCounts) -> str:
    """Counts that may be shared, as a table; a count that is withheld is empty."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["what", "name", "group", "persons"])
    table.writerow(["all", "", "", "" if counts.persons is None else counts.persons])
    for what, rows in (("fix", counts.fixes), ("felt", counts.felt)):
        for row in rows:
            for group, count in row.groups.items():
                table.writerow([what, row.name, group, "" if count is None else count])
    return out.getvalue()


GROUP_WORDS = {
    "still_used": "still used",
    "given_up": "given up",
    "not_done": "planned, not done",
    "not_planned": "not planned",
    "clearly_less": "clearly less",
    "may_be_less": "may be less",
    "no_clear_change": "no clear change",
    "may_be_more": "may be more",
    "clearly_more": "clearly more",
    "not_rated_twice": "not rated twice",
}
"""Groups of counts in words."""


def counts_text(counts: SharedCounts) -> str:
    """Counts that may be shared, with what is withheld."""
    page = Page()
    if counts.persons is None:
        page.paragraph(
            trn(
                "Fewer than {count} person stands in this casebook: nothing may be shared.",
                "Fewer than {count} persons stand in this casebook: nothing may be shared.",
                SMALLEST_GROUP,
            )
        )
        return page.text()
    page.paragraph(
        trn(
            "{count} person stands in this casebook.",
            "{count} persons stand in this casebook.",
            counts.persons,
        )
    )
    for title, rows in ((tr("By fix"), counts.fixes), (tr("How ratings changed"), counts.felt)):
        if rows:
            page.heading(title)
            for row in rows:
                told = [
                    f"{tr(GROUP_WORDS[group])} {tr('withheld') if count is None else count}"
                    for group, count in row.groups.items()
                ]
                page.point("-", f"{row.name}: {', '.join(told)}")
    page.paragraph(
        tr(
            "No group of fewer than {count} can be read from this. Counts of two days that lie close "
            "together may still tell one person apart who came in between.",
            count=SMALLEST_GROUP,
        )
    )
    return page.text()


def erased_document(casebook: str, erased: Erased) -> ErasedDocument:
    """A person taken out, format ``deskmend-casebook-erased/1``."""
    return {
        "format": "deskmend-casebook-erased/1",
        "casebook": casebook,
        "key": erased.key,
        "exports": list(erased.exports),
        "case_files": list(erased.case_files),
        "named_by": list(erased.named_by),
    }


def erased_text(casebook: str, erased: Erased) -> str:
    """A person taken out, and what stands elsewhere."""
    page = Page()
    page.paragraph(
        tr("{key} is erased from {file}; nothing of it is left there.", key=erased.key, file=casebook)
    )
    for heading, files in (
        (tr("Written from the casebook, and not erased:"), erased.exports),
        (tr("The cases were read from here, and are not erased:"), erased.case_files),
        (tr("The key still stands in what is written of:"), erased.named_by),
    ):
        if files:
            page.paragraph(heading)
            page.points(files)
    page.paragraph(
        tr(
            "Pages that report wrote, copies of the casebook, and what was printed or saved by hand, are not "
            "known here: erase them too."
        )
    )
    return page.text()
