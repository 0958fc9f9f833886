"""A casebook on the page: what its screens show, and the visits and rechecks that the engine works out.

Everything is read, counted and worded by what the commands call; nothing is written here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from deskmend.casebook.learning import (
    LEAST_CASES,
    SMALLEST_GROUP,
    felt_changes,
    fix_counts,
    learned_from,
    shared_counts,
)
from deskmend.casebook.rechecking import before_and_reached, follow_up_text, recheck
from deskmend.casebook.store import PersonBook
from deskmend.casebook.visits import LARGEST_RATING, Entries, discomfort_told, visit_of
from deskmend.errors import Unreadable
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog, text_digest
from deskmend.intake.prices import PriceTable
from deskmend.language import shown_day, tr
from deskmend.local_page.rendering import Answer, rendered
from deskmend.local_page.views import wish_title
from deskmend.measures import Minor, parse_amount
from deskmend.planning.plan import Plan
from deskmend.report.casebook import counts_text, learning_text, person_text
from deskmend.report.documents import json_text
from deskmend.report.html.blocks import Blocks, html_of
from deskmend.report.html.page import beside_drawings, beside_html
from deskmend.report.plan import plan_document
from deskmend.report.recheck import add_felt, recheck_text
from deskmend.report.words import money_text, region_word, strain_text
from deskmend.risk.severity import REGIONS

__all__ = [
    "book_view",
    "field_words",
    "money_of_visit",
    "person_version",
    "person_view",
    "recheck_answer",
    "visit_answer",
]

SentFields = Mapping[str, Any]


def person_version(person: PersonBook) -> str:
    """Which state of a person's entries this is."""
    return text_digest(repr(person).encode("utf-8"))


def field_words() -> dict[str, str]:
    """Fields of the screens, by the names that faults of what is typed carry."""
    return {
        "KEY": tr("Key"),
        "--on": tr("Day"),
        "--paid": tr("Paid"),
        "--why": tr("Why, in one line"),
        "--note": tr("Note"),
        "--budget": tr("Money in hand"),
        "FIX": tr("Steps"),
        "--out": tr("Name of the file"),
    }


# --- worked out by the engine ----------------------------------------------------------------------------


def typed(given: SentFields) -> tuple[Entries, Any, str]:
    """Key, day and note as they were typed; faults stay in the entries."""
    entries = Entries()
    entries.key(given["key"])
    day = entries.day(given["day"] or None)
    return entries, day, entries.words(given["note"], "--note")


def money_typed(text: str, currency: str, entries: Entries) -> Minor | None:
    """Money in hand; None where the case's own counts."""
    try:
        return parse_amount(text, currency) if text.strip() else None
    except Unreadable as error:
        entries.fault("--budget", text, error.allowed, error.hint)
        return None


def money_of_visit(given: SentFields, currency: str) -> Minor | None:
    """Money in hand for a visit, with all that was typed looked at first; raises `InputFaults`."""
    entries, _, _ = typed(given)
    money = money_typed(given["budget"], currency, entries)
    entries.refuse()
    return money


def visit_answer(given: SentFields, case: Case, catalog: Catalog, prices: PriceTable, plan: Plan) -> Answer:
    """A visit with the plan that is given, ready to be written."""
    _, day, note = typed(given)
    document = json_text(plan_document(plan, catalog))
    visit = visit_of(day, given["file"], given["data"].decode("utf-8"), catalog, prices, plan, document)
    return {
        "told": tr(
            "Plan for {money}: strain {left} left of {now}.",
            money=money_text(plan.cost, plan.currency),
            left=strain_text(plan.after.total),
            now=strain_text(plan.before.total),
        ),
        "held": {
            "key": given["key"],
            "visit": visit,
            "felt": discomfort_told(case, day),
            "note": note,
        },
    }


def recheck_answer(
    given: SentFields, case: Case, catalog: Catalog, prices: PriceTable, notes: Sequence[str]
) -> Answer:
    """A recheck told and drawn, with the visit, the page and the case that may be written of it."""
    money = money_of_visit(given, prices.currency)
    _, day, _ = typed(given)
    person: PersonBook = given["person"]
    found = recheck(
        person, case, catalog, prices, day=day, measured=given["measured"], budget=money, notes=notes
    )
    pair = before_and_reached(found, catalog, prices)
    visit = visit_answer(given, case, catalog, prices, found.again)["held"]
    return {
        "html": rendered(
            "recheck.html",
            first=shown_day(person.visits[0].day),
            told=html_of(recheck_text, found, catalog),
            drawings=beside_drawings(pair),
        ),
        "told": tr(
            "Without weights of discomfort: strain {before} at the first visit, {reached} now.",
            before=strain_text(found.before.assessment.plain.total),
            reached=strain_text(found.reached.assessment.plain.total),
        ),
        "held": {
            **visit,
            "felt": discomfort_told(case, day, person),
            "drawn": beside_html(pair),
            "next": follow_up_text(given["data"].decode("utf-8"), found),
        },
    }


# --- shown ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PersonRow:
    """One person in the list."""

    key: str
    visits: int
    planned: int
    in_place: int
    given_up: int
    last_day: str


@dataclass(frozen=True)
class GivenStep:
    """One step of the plan given last, and what stands of it: ``kept``, ``given_up``, or empty."""

    name: str
    title: str
    state: str


def book_view(persons: Sequence[PersonBook], catalog: Catalog) -> Answer:
    """Who stands in a casebook, what it teaches, and what may be shared of it."""
    counts = fix_counts(persons)
    learned = learned_from(counts, catalog)
    return {
        "rows": [_person_row(one) for one in persons],
        "learning": html_of(learning_text, counts, learned, catalog),
        "may_learn": any(one.from_catalog for one in learned),
        "least_cases": LEAST_CASES,
        "counts": html_of(counts_text, shared_counts(persons)),
        "may_share": len(persons) >= SMALLEST_GROUP,
        "smallest_group": SMALLEST_GROUP,
    }


def _person_row(person: PersonBook) -> PersonRow:
    states = [one.state for one in person.last_of_each().values()]
    return PersonRow(
        key=person.key,
        visits=len(person.visits),
        planned=len(person.visits[-1].steps),
        in_place=states.count("kept"),
        given_up=states.count("given_up"),
        last_day=shown_day(person.visits[-1].day),
    )


def person_view(person: PersonBook, catalog: Catalog) -> Answer:
    """All that a casebook holds of one person."""
    felt = Blocks()
    add_felt(felt, felt_changes(person.felt), catalog)
    last = {one.name: one.state for one in person.done}
    return {
        "person": person,
        "told": html_of(person_text, person),
        "steps": [
            GivenStep(step.name, wish_title(step.name, catalog), last.get(step.name, ""))
            for step in person.visits[-1].steps
        ],
        "currency": person.visits[-1].currency,
        "changes": felt.html(),
        "regions": [(region, region_word(region)) for region in REGIONS],
        "ratings": [str(number) for number in range(LARGEST_RATING + 1)],
        "exports": _unlike(one.file for one in person.exports),
        "case_files": _unlike(one.case_file for one in person.visits if one.case_file),
    }


def _unlike(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))
