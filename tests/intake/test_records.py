"""Records of others are read with the same words: `read_records` knows nothing of cases."""

from typing import Annotated, Literal

from deskmend.errors import FaultList
from deskmend.intake.case import Means
from deskmend.intake.reading.fields import word
from deskmend.intake.reading.records import Record, measured, read_plain, read_records
from deskmend.intake.reading.text_file import FixName, is_id, parse_fix_name
from deskmend.intake.reading.yaml_tree import parse_tree


class Leg(Record):
    """A leg."""

    length: Annotated[float, measured("seat.height")]
    """Length [mm]."""
    foot: Literal["felt", "rubber"] = "felt"
    """Foot [-]."""


class Table(Record):
    """A table."""

    legs: dict[str, Leg]
    """Legs by name [-]."""
    colour: Annotated[str, word(Literal["red", "blue"])] | None = None
    """Colour [-]."""
    drawers: int = 0
    """Drawers [-]."""


class Tables(Record):
    """Some tables."""

    tables: tuple[Table, ...]
    """Tables [-]."""


def read(text: str) -> tuple[Tables | None, list[str]]:
    faults = FaultList("t.yaml")
    tree = parse_tree(text, "t.yaml", faults)
    assert tree is not None
    record, found = read_records(tree, Tables)
    return record, [str(fault) for fault in found]


def test_a_part_of_a_tree() -> None:
    record, found = read("tables:\n  - legs: {a: {length: 40 cm}}\n    colour: unknown\n")
    assert found == []
    assert record is not None
    assert record.tables[0].legs["a"].length == 400
    assert record.tables[0].colour is None


def test_plain_types_and_lists_of_words_are_explained_too() -> None:
    text = (
        "tables:\n  - legs: {}\n  - legs:\n      a: {length: 4, foot: feld}\n"
        "    drawers: two\n    colour: rde\n"
    )
    record, found = read(text)
    assert record is None
    assert found == [
        't.yaml:4: tables.2.legs.a.length: read "4"; allowed 50 to 1000 mm; did you mean "4 in"?',
        't.yaml:4: tables.2.legs.a.foot: read "feld"; allowed felt, rubber; did you mean felt?',
        't.yaml:5: tables.2.drawers: read "two"; allowed a whole number',
        't.yaml:6: tables.2.colour: read "rde"; allowed red, blue; did you mean red?',
    ]


def test_values_from_python_are_shown_as_they_are() -> None:
    record, found = read_plain({"legs": {"a": {"length": 4}}}, Table, "t", 3)
    assert record is None
    assert str(found[0]) == 't:3: legs.a.length: read "4"; allowed 50 to 1000 mm; did you mean "4 in"?'
    record, found = read_plain({"legs": {"a": {"length": True}}}, Table, "t")
    assert record is None
    record, found = read_plain({"legs": {"a": {"length": float("nan")}}}, Table, "t")
    assert record is None


def test_minor_units_from_python_stand_as_they_are_nothing_too() -> None:
    for amount in (0, 1, 4000):
        record, found = read_plain({"currency": "EUR", "budget": amount}, Means, "t")
        assert found == []
        assert record is not None
        assert record.budget == amount
    for amount in (-1, True):
        assert read_plain({"currency": "EUR", "budget": amount}, Means, "t")[0] is None


def test_names_of_fixes() -> None:
    assert parse_fix_name("kitchen.screen_books=105") == FixName("kitchen", "screen_books", "105")
    assert parse_fix_name("screen_books") == FixName(None, "screen_books", None)
    assert parse_fix_name("ledger.paper_side=left") == FixName("ledger", "paper_side", "left")
    for text in ("", ".", "a.", ".a", "a.b.c", "a=", "a==b", "a b", "a=b c", "../a", "a=\x1b", "=1"):
        assert parse_fix_name(text) is None, text
    assert str(parse_fix_name("kitchen.screen_books=105")) == "kitchen.screen_books=105"


def test_ids() -> None:
    assert is_id("A9_-")
    assert is_id("a" * 64)
    for text in ("", "_a", "-a", "a" * 65, "a.b", "a\n", "é", "a b", "a/b"):
        assert not is_id(text), text
