"""Sentences for people in data: the shipped catalog, and words in the tables of the package."""

from __future__ import annotations

import csv
from collections.abc import Iterator

from deskmend.intake.applicants import columns
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.catalog_records import EvidenceNote, Fix
from deskmend.intake.interview import question_file
from deskmend.published import STATUSES
from deskmend.report.forms.blank import case_pieces
from deskmend.risk.scores.day import methods
from deskmend.workstation.body import DIMENSIONS

from .source_texts import PACKAGE, Text

NAMES = {
    "risk/tables/exposures.csv": ("exposure", "words"),
    "risk/tables/rula_items.csv": ("item", "unit", "words"),
    "risk/tables/rosa_items.csv": ("item", "unit", "words"),
    "risk/tables/postural_classes.csv": ("unit", "words", "source", "status"),
}
"""Columns of tables outside the report whose words are shown; names are shown with spaces for underscores."""
NAMED = ("exposure", "item")
NOT_ASKED = ("force_intermittent", "force_static_or_repeated", "force_shock", "duration")
"""Items that no assessment of a case names."""


def table_texts() -> Iterator[Text]:
    """Words of every table of the report but its first column, and of the columns in `NAMES`."""
    for path in sorted((PACKAGE / "report" / "tables").glob("*.csv")):
        for row in _rows(str(path.relative_to(PACKAGE))):
            yield from (Text(text, f"report/tables/{path.name}") for text in list(row.values())[1:] if text)
    for table, shown in NAMES.items():
        for row in _rows(table):
            if row.get("item") in NOT_ASKED:
                continue
            for column in shown:
                text = row[column].replace("_", " ") if column in NAMED else row[column]
                if text and text != "-":
                    yield Text(text, table)
    for name in DIMENSIONS:
        yield Text(name.replace("_", " "), "body measures")
    for status in STATUSES:
        yield Text(status, "statuses")
    for method in methods():
        yield from (Text(text, f"score {method.name}") for text in method.words)


def question_texts() -> Iterator[Text]:
    """Words of the interview's questions."""
    for question in question_file().questions:
        texts = (question.ask, question.how, question.short, question.left_out, *question.words.values())
        yield from (Text(text, "questions") for text in texts if text)


def column_texts() -> Iterator[Text]:
    """What each column of a table of applicants means and takes."""
    for column in columns().values():
        yield Text(column.meaning.replace(" [-]", ""), "columns of applicants")
        yield Text(column.allowed, "columns of applicants")


def blank_case_texts() -> Iterator[Text]:
    """Remarks and examples of the empty case file."""
    for piece in case_pieces():
        yield from (Text(text, "report/blank_case.yaml") for text in (piece.words, piece.remark) if text)


def _rows(table: str) -> Iterator[dict[str, str]]:
    lines = (PACKAGE / table).read_text(encoding="utf-8").splitlines()
    yield from csv.DictReader(line for line in lines if not line.startswith("#"))


def catalog_texts(catalog: Catalog | None = None) -> Iterator[Text]:
    """Every sentence of a catalog, the shipped one if left out."""
    known = load_catalog() if catalog is None else catalog
    for fix in known.fixes:
        yield from (Text(text, f"fix {fix.id}") for text in _fix(fix))
    for one in known.advice:
        texts = [one.title, *(line.say for line in (*one.how, *one.cautions)), *_findings(one.evidence)]
        yield from (Text(text, f"advice {one.id}") for text in texts)
    for item in known.items.values():
        texts = [text for text in (item.title, item.unit, item.ask, item.used) if text]
        yield from (Text(text, f"item {item.id}") for text in texts)
    yield from (Text(sign.sign, f"sign {sign.id}") for sign in known.signs)
    for source in known.sources.values():
        yield Text(source.cited, f"source {source.key}")
        # What holds no number is a remark of ours on the place, not the place itself.
        for part in source.place.split("; "):
            if part and not any(character.isdigit() for character in part):
                yield Text(part, f"source {source.key}")


def _fix(fix: Fix) -> Iterator[str]:
    yield fix.title
    if fix.short is not None:
        yield fix.short
    yield fix.decision.replace("_", " ")
    yield from (line.say for line in fix.how)
    yield from (cut.part for cut in fix.cuts)
    yield from (line.say for line in (fix.right, fix.upkeep, fix.recheck) if line)
    yield from (line.say for line in (*fix.cautions, *fix.side_effects))
    yield from (need.why for need in fix.needs)
    yield from (caveat.why for caveat in fix.not_for)
    for watch in fix.watch:
        yield watch.happens
        yield watch.then
    if fix.kept_up is not None:
        yield fix.kept_up.why
    if fix.often_dropped is not None:
        yield fix.often_dropped.why
        yield fix.often_dropped.instead
    yield from _findings(fix.evidence)
    yield from (tool.replace("_", " ") for tool in fix.tools)
    yield from (cut.part for cut in fix.cuts)
    if fix.size is not None:
        yield from (word.replace("_", " ") for word in fix.size.words)


def _findings(notes: tuple[EvidenceNote, ...]) -> Iterator[str]:
    yield from (note.finding for note in notes)
