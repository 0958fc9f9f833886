"""A price table to fill in, and the same questions as a document.

The empty case file: every key, its unit and how to measure it, in plain words.

The empty table of applicants: a header, and above it what each column means, in plain words.
"""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterator, Sequence
from datetime import date
from importlib.resources import files
from typing import Any

from deskmend.errors import visible
from deskmend.intake.applicants import ALWAYS_NEEDED, OWNS, ApplicantColumn, columns
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PRICE_COLUMNS
from deskmend.language import LANGUAGES, current_language, tr
from deskmend.planning.inputs import DEFAULT_CURRENCY
from deskmend.planning.price_questions import PriceQuestion
from deskmend.report.documents import strain_json
from deskmend.report.layout import WIDTH
from deskmend.report.words import case_name

__all__ = ["blank_applicants", "blank_case", "price_form", "price_form_document"]


def blank_case(catalog: Catalog) -> str:
    """Write an empty case file."""
    language = current_language()
    name = "blank_case.yaml" if language == LANGUAGES[0] else f"blank_case.{language}.yaml"
    template = files("deskmend.report").joinpath(name).read_text(encoding="utf-8")
    signs = [f"{sign.id}: {tr(sign.sign)}" for sign in catalog.signs]
    items = [
        tr("{item}: {title} (counted by {unit})", item=item.id, title=tr(item.title), unit=tr(item.unit))
        for item in catalog.items.values()
    ]
    for mark, entries in (("## {signs}\n", signs), ("## {items}\n", items)):
        template = template.replace(mark, "".join(_comments(entries)))
    return template


def _comments(entries: list[str]) -> Iterator[str]:
    for entry in entries:
        lines = textwrap.wrap(
            visible(entry, None), WIDTH, initial_indent="##   ", subsequent_indent="##     "
        )
        yield from (f"{line}\n" for line in lines)


ASKED_COLUMNS = (
    "person.stature",
    "person.sex",
    "person.shoes",
    "person.writing_hand",
    "person.mouse_hand",
    "person.eyewear",
    "person.body.popliteal_height",
    "person.body.sitting_elbow_height",
    "person.warning_signs",
    "seat.height",
    "seat.depth",
    "seat.surface",
    "seat.back",
    "seat.base",
    "seat.material",
    "desk.height",
    "desk.underside",
    "desk.depth",
    "desk.top",
    "desk.legs",
    "desk.edge",
    "desk.foot_bar",
    "feet_on",
    "light.lux",
    "light.glare",
    "devices.laptop.screen_top",
    "devices.laptop.screen_height",
    "devices.laptop.keys",
    "devices.monitor.top",
    "devices.monitor.height",
    "devices.keyboard",
    "devices.mouse",
    "task.hours",
    "task.spell",
    "task.main",
    "task.reference",
    "task.reference_share",
    "task.writing",
    "task2.hours",
    "task2.main",
    "means.minutes",
    "means.skill",
    "means.tools",
)
"""Keys that the empty table asks for: those that decide most, and what safety needs to know."""

ASKED_THINGS = ("hardback_book", "bath_towel", "ring_binder", "carton_box")
"""Things that the empty table asks for: those that most people have and many fixes use."""

SIGNS = "person.warning_signs"


def blank_applicants(catalog: Catalog) -> str:
    """Write an empty table of applicants."""
    out = io.StringIO()
    for line in _notes(catalog):
        # A table program would part the note at its commas.
        out.write(f"# {line}".rstrip().replace(",", ";") + "\n")
    owned = [f"{OWNS}{item}" for item in ASKED_THINGS if item in catalog.items]
    csv.writer(out, lineterminator="\n").writerow(["id", "weight", "group", *ASKED_COLUMNS, *owned])
    return out.getvalue()


def _notes(catalog: Catalog) -> list[str]:
    known = columns()
    lines = [
        tr("One row a person. Lines that begin with # are notes: they may stay or go."),
        tr("Leave a cell empty where you do not know. A bare number is mm, degrees, hours or minutes."),
        tr("Put spaces between several values in one cell. Write values, never formulas."),
        "",
        tr("id: a name for the row, not the person's name: letters, digits, _ and -. Needed."),
        tr("weight: how much the person counts, 1 if left empty, at most three decimals."),
        tr("group: a word such as shop, where parts of the fund are kept for groups."),
    ]
    for name in ASKED_COLUMNS:
        column = known[name]
        need = f" {tr('Needed.')}" if name in ALWAYS_NEEDED else ""
        lines.append(f"{_told(column)}{need}")
    lines.append(tr("owns.THING: how many the person has; of books the thickness of each, as 38 42 25 (mm)."))
    lines += ["", tr("Warning signs that person.warning_signs can name:")]
    lines += [f"{sign.id}: {tr(sign.sign)}" for sign in catalog.signs]
    lines += ["", tr("Further columns that may be added:")]
    lines += [_told(column) for column in known.values() if column.name not in ASKED_COLUMNS]
    lines += ["", tr("Things for owns.THING:")]
    lines += [f"{OWNS}{item.id}: {tr(item.title)} ({tr(item.unit)})" for item in catalog.items.values()]
    return lines


def _told(column: ApplicantColumn) -> str:
    """What a column means and takes; a bare number needs no unit."""
    meaning = tr(column.meaning.replace(" [-]", ""))
    return f"{column.name}: {meaning} {tr(column.allowed)}.".replace("..", ".")


def price_form(
    case: Case, catalog: Catalog, questions: Sequence[PriceQuestion], today: date | None = None
) -> str:
    """Write a price table with everything but the prices."""
    out = io.StringIO()
    for line in (
        tr("Prices for: {case}", case=case_name(case)),
        tr(
            "Fill in price, and as_of as YYYY-MM-DD. The first rows decide most; stop where it is not worth "
            "it."
        ),
        tr("Change pack to what a pack holds where you ask. low and high: a range. condition: new or used."),
        tr("A row without a price makes the fixes that need it unavailable; it is never guessed."),
    ):
        out.write(f"# {line}\n")
    for number, one in enumerate(questions, start=1):
        item = catalog.items[one.item]
        told = tr(
            "{number}. {item}: {thing}; a pack holds {pack} {unit}.",
            number=number,
            item=one.item,
            thing=tr(item.title),
            pack=one.pack,
            unit=tr(item.unit),
        )
        out.write(f"# {told}{f' {tr(item.ask)}' if item.ask is not None else ''}\n")
    table = csv.DictWriter(out, PRICE_COLUMNS, lineterminator="\n")
    table.writeheader()
    for one in questions:
        table.writerow(
            {
                "item": one.item,
                "pack": one.pack,
                "currency": case.means.currency or DEFAULT_CURRENCY,
                "as_of": "" if today is None else today.isoformat(),
            }
        )
    return out.getvalue()


def price_form_document(case: Case, catalog: Catalog, questions: Sequence[PriceQuestion]) -> dict[str, Any]:
    """Give the same questions as a document, format ``deskmend-price-questions/1``."""
    return {
        "format": "deskmend-price-questions/1",
        "case": case_name(case),
        "currency": case.means.currency or DEFAULT_CURRENCY,
        "items": [
            {
                "item": one.item,
                "title": tr(catalog.items[one.item].title),
                "unit": catalog.items[one.item].unit,
                "pack": one.pack,
                "ask": tr(catalog.items[one.item].ask or "") or None,
                "strain": strain_json(one.relief),
                "fixes": list(one.fixes),
            }
            for one in questions
        ],
    }
