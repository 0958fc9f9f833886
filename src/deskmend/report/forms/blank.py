"""Files to fill in: an empty case, an empty table of applicants, and a table of prices.

Remarks say what every key and column means, its unit and how to find it out, in the reader's language.
"""

from __future__ import annotations

import csv
import io
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from importlib.resources import files
from typing import TYPE_CHECKING

from deskmend.errors import visible
from deskmend.intake.applicants import ALWAYS_NEEDED, OWNS, ApplicantColumn, columns
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Urgency
from deskmend.intake.interview import questions
from deskmend.intake.prices import PRICE_COLUMNS
from deskmend.intake.typed_answers import range_text
from deskmend.language import LANGUAGES, current_language, tr
from deskmend.planning.inputs import DEFAULT_CURRENCY, PriceQuestion
from deskmend.report.documents import strain_json
from deskmend.report.forms.interview import wording
from deskmend.report.layout import WIDTH
from deskmend.report.words import case_name

if TYPE_CHECKING:
    from deskmend.report.other_documents import PriceQuestionsDocument

__all__ = ["blank_applicants", "blank_case", "case_pieces", "price_form", "price_form_document"]

REMARK_WIDTH = 102
"""Longest line of a paragraph of remarks [characters]."""
PARAGRAPH = re.compile(r"(?P<before>##\?? *(?:- )?)(?P<words>[^ {].*)")
REMARK = re.compile(r"(?P<line>.*?\S) {2,}# (?P<remark>.*)")
EXAMPLE = re.compile(r"(?P<before>#(?:title|notes): )(?P<words>.*)")
OTHER_LANGUAGES = "##?"
"""Begins a paragraph that who reads English needs not be told."""


@dataclass(frozen=True)
class CasePiece:
    """A line or paragraph of the empty case file: what stands as it is, and words and remark to translate.

    The words of a paragraph are wrapped; a remark begins in a column.
    """

    before: str
    words: str = ""
    paragraph: bool = False
    remark: str = ""
    column: int = 0


def _template() -> list[str]:
    text = files("deskmend.report").joinpath("blank_case.yaml").read_text(encoding="utf-8")
    return text.splitlines()


def case_pieces() -> list[CasePiece]:
    """The empty case file in English, piece by piece."""
    out: list[CasePiece] = []
    for line in _template():
        paragraph, remark = PARAGRAPH.fullmatch(line), REMARK.fullmatch(line)
        if paragraph and out and out[-1].paragraph and not paragraph["before"].endswith("- "):
            out[-1] = replace(out[-1], words=f"{out[-1].words} {paragraph['words']}")
        elif paragraph:
            out.append(CasePiece(paragraph["before"], paragraph["words"], paragraph=True))
        elif remark:
            example = EXAMPLE.fullmatch(remark["line"])
            before, words = (example["before"], example["words"]) if example else (remark["line"], "")
            out.append(CasePiece(before, words, False, remark["remark"], remark.start("remark") - 2))
        else:
            out.append(CasePiece(line))
    return out


def _translated(piece: CasePiece) -> list[str]:
    if piece.paragraph:
        before = piece.before.replace(OTHER_LANGUAGES, "## ")
        rest = "##".ljust(len(before))
        return textwrap.wrap(
            tr(piece.words),
            REMARK_WIDTH,
            initial_indent=before,
            subsequent_indent=rest,
            break_on_hyphens=False,
        )
    line = piece.before + tr(piece.words)
    return [f"{line:<{piece.column}}# {tr(piece.remark)}" if piece.remark else line]


def blank_case(catalog: Catalog) -> str:
    """An empty case file in YAML that can be read; ``check`` lists what has to be filled in.

    It lists the warning signs and things of the catalog.
    """
    items = [
        tr("{item}: {title} (counted by {unit})", item=item.id, title=tr(item.title), unit=tr(item.unit))
        for item in catalog.items.values()
    ]
    lists = {
        "## {signs}": _comments(sign_lines(catalog)),
        "## {items}": _comments(items),
        "## {measures}": _comments(measure_lines(catalog)),
    }
    lines = (
        [line for line in _template() if not line.startswith(OTHER_LANGUAGES)]
        if current_language() == LANGUAGES[0]
        else [line for piece in case_pieces() for line in _translated(piece)]
    )
    return "".join(f"{one}\n" for line in lines for one in lists.get(line, (line,)))


def measure_lines(catalog: Catalog) -> list[str]:
    """Every measure that is asked for: where it goes, the question, how it is taken and what is usual."""
    out = []
    for one in questions(catalog):
        if one.kind == "measure":
            where = ".".join(part for part in one.to.split(".") if not part.isdecimal())
            words = wording(one, {})
            usual = tr("Usual is {range}.", range=range_text(one.usually or one.limits))
            out.append(" ".join(part for part in (f"{where}:", words.ask, words.how, usual) if part))
    return out


SIGN_GROUPS: dict[Urgency, str] = {
    "emergency": "Get emergency care now for any of these:",
    "today": "Get medical advice today for any of these:",
    "soon": "See a licensed clinician for any of these:",
}
"""Heading over warning signs by how urgent they are."""


def sign_lines(catalog: Catalog) -> list[str]:
    """Warning signs of a catalog under what each calls for, the most urgent first."""
    out = []
    for urgency in SIGN_GROUPS:
        signs = [f"{sign.id}: {tr(sign.sign)}" for sign in catalog.signs if sign.urgency == urgency]
        out += [tr(SIGN_GROUPS[urgency]), *signs] if signs else []
    return out


def _comments(entries: list[str]) -> list[str]:
    first, rest = "##   ", "##     "
    return [
        line
        for entry in entries
        for line in textwrap.wrap(visible(entry, None), WIDTH, initial_indent=first, subsequent_indent=rest)
    ]


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


def blank_applicants(catalog: Catalog) -> str:
    """An empty table of applicants, CSV; notes begin with ``#`` and may stay."""
    out = io.StringIO()
    for line in _notes(catalog):
        # A table program would part the note at its commas.
        out.write(f"# {line}".rstrip().replace(",", ";") + "\n")
    owned = [f"{OWNS}{item}" for item in ASKED_THINGS if item in catalog.items]
    csv.writer(out, lineterminator="\n").writerow(["id", "weight", "group", "name", *ASKED_COLUMNS, *owned])
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
        tr("name: what a letter calls the person; it may stay empty, and stands nowhere else."),
    ]
    for name in ASKED_COLUMNS:
        column = known[name]
        need = f" {tr('Needed.')}" if name in ALWAYS_NEEDED else ""
        lines.append(f"{_told(column)}{need}")
    lines.append(tr("owns.THING: how many the person has; of books the thickness of each, as 38 42 25 (mm)."))
    lines.append(
        tr(
            "Behind any length or angle, as person.stature: person.stature.from (taped, pictured, told or "
            "estimated) and person.stature.sd (how far off it may be)."
        )
    )
    lines += ["", tr("Warning signs that person.warning_signs can name:")]
    lines += sign_lines(catalog)
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
    """A price table with everything but the prices, in the order asked; every row bears `today`, if given.

    CSV; remarks begin with ``#``. A price left empty makes the fixes that need it unavailable.
    """
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


def price_form_document(
    case: Case, catalog: Catalog, questions: Sequence[PriceQuestion]
) -> PriceQuestionsDocument:
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
