"""A table of applicants is read row by row; a bad row is told with row, column, value and what is allowed."""

from __future__ import annotations

import csv
import random
from collections.abc import Callable, Mapping
from pathlib import Path

import pyarrow
import pyarrow.parquet
import pytest
from openpyxl import Workbook

from deskmend.errors import InputFaults
from deskmend.intake.applicants import ApplicantTable, columns, load_applicants, read_applicants
from deskmend.intake.catalog import load_catalog
from deskmend.intake.reading.tables import MAX_COLUMNS

SHIPPED = Path(__file__).resolve().parents[2] / "scenarios" / "relief_fund" / "applicants.csv"
CATALOG = load_catalog()
GOOD = {
    "id": "a1",
    "person.stature": "1600",
    "seat.height": "465",
    "desk.height": "750",
    "devices.laptop.screen_top": "232",
    "devices.laptop.screen_height": "190",
    "devices.laptop.keys": "20",
    "task.hours": "4",
    "task.main": "laptop",
}

Row = Mapping[str, str]
Written = Callable[..., Path]


@pytest.fixture
def table(tmp_path: Path) -> Written:
    def write(*rows: Row, name: str = "people.csv", above: str = "") -> Path:
        path = tmp_path / name
        header = list(dict.fromkeys(key for row in rows for key in row))
        with open(path, "w", encoding="utf-8", newline="") as stream:
            stream.write(above)
            writer = csv.writer(stream)
            writer.writerow(header)
            writer.writerows([[row.get(key, "") for key in header] for row in rows])
        return path

    return write


def told(path: Path, **options: object) -> list[str]:
    with pytest.raises(InputFaults) as caught:
        load_applicants(path, CATALOG, **options)  # type: ignore[arg-type]
    return [str(fault).removeprefix(f"{path}") for fault in caught.value.faults]


def people(path: Path) -> ApplicantTable:
    return load_applicants(path, CATALOG)


def test_a_row_is_the_case_it_would_be_as_a_file(table: Written) -> None:
    row = {
        **GOOD,
        "weight": "2.5",
        "group": "shop",
        "feet_on": "floor",
        "light.lux": "250",
        "owns.hardback_book": "38 42 25",
        "owns.bath_towel": "1",
        "means.tools": "scissors saw",
        "task2.hours": "1",
        "task2.main": "paper",
        "desk.height_range": "680 760",
        "person.discomfort.neck": "3",
    }
    (one,) = people(table(row)).people
    case = one.case
    assert (one.id, one.weight, one.group, one.line) == ("a1", 2500, "shop", 2)
    (place,) = case.places
    assert place.seat is not None
    assert (place.seat.height, place.desk.height, place.feet_on) == (465, 750, "floor")
    assert place.desk.height_range == (680, 760)
    assert (place.light.lux, case.person.discomfort.neck) == (250, 3)
    assert [(task.id, task.hours, task.main) for task in case.tasks] == [
        ("task", 4, "laptop"),
        ("task2", 1, "paper"),
    ]
    assert case.owns["hardback_book"].pieces == (38, 42, 25)
    assert (case.owns["bath_towel"].count, case.owns["bath_towel"].pieces) == (1, ())
    assert case.means.tools == ("scissors", "saw")


@pytest.mark.parametrize(
    ("written", "count", "pieces"),
    [
        ("1", 1, ()),
        ("6", 6, ()),
        ("38", 1, (38,)),
        ("5mm", 1, (5,)),
        ("3.8cm", 1, (38,)),
        ("2 30", 2, (2, 30)),
    ],
)
def test_one_number_of_a_stacked_thing_is_a_length_where_it_cannot_be_a_count(
    table: Written, written: str, count: int, pieces: tuple[float, ...]
) -> None:
    owned = people(table({**GOOD, "owns.hardback_book": written})).people[0].case.owns["hardback_book"]
    assert (owned.count, owned.pieces) == (count, pieces)


def test_number_of_a_thing_that_is_not_stacked_is_a_count(table: Written) -> None:
    owned = people(table({**GOOD, "owns.cord": "300"})).people[0].case.owns["cord"]
    assert (owned.count, owned.pieces) == (300, ())


def test_rows_come_sorted_by_id_whatever_their_order(tmp_path: Path) -> None:
    lines = SHIPPED.read_text(encoding="utf-8").splitlines(keepends=True)
    rows = lines[2:]
    random.Random(5).shuffle(rows)
    mixed = tmp_path / "mixed.csv"
    mixed.write_text("".join([*lines[:2], *rows]), encoding="utf-8")
    ours, theirs = people(SHIPPED), people(mixed)
    assert [one.id for one in ours.people] == sorted(one.id for one in ours.people)
    assert [(one.id, one.plain) for one in ours.people] == [(one.id, one.plain) for one in theirs.people]
    assert len(ours.people) == 24


def test_workbook_and_parquet_say_what_the_csv_says(tmp_path: Path) -> None:
    with open(SHIPPED, encoding="utf-8", newline="") as stream:
        stream.readline()
        header, *rows = list(csv.reader(stream))
    typed = [[_typed(cell) for cell in row] for row in rows]
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["# a note above"])
    for row in [header, *typed]:
        sheet.append(row)
    book.save(tmp_path / "people.xlsx")
    columns_ = {name: [row[k] or None for row in rows] for k, name in enumerate(header)}
    columns_["person.stature"] = [float(value) for value in columns_["person.stature"] if value]  # type: ignore[misc]
    pyarrow.parquet.write_table(pyarrow.table(columns_), tmp_path / "people.parquet")
    wanted = [(one.id, one.weight, one.group, one.case) for one in people(SHIPPED).people]
    for name in ("people.xlsx", "people.parquet"):
        got = [(one.id, one.weight, one.group, one.case) for one in people(tmp_path / name).people]
        assert got == wanted


def _typed(cell: str) -> str | float | None:
    try:
        return float(cell) if cell else None
    except ValueError:
        return cell


def test_every_fault_of_every_row_names_row_column_value_and_what_is_allowed(table: Written) -> None:
    path = table(
        GOOD,
        {**GOOD, "id": "b", "seat.height": "45", "person.stature": "tall"},
        {**GOOD, "id": "c", "desk.height": "", "task.main": "laptops"},
        {**GOOD, "id": "d", "weight": "-1", "task.hours": "25", "light.glare": "lamps"},
    )
    faults = told(path)
    assert [fault.split(":")[1:3] for fault in faults] == [
        ["3", " person.stature"],
        ["3", " seat.height"],
        ["4", " desk"],
        ["4", " task.main"],
        ["5", " weight"],
        ["5", " light.glare"],
        ["5", " task.hours"],
    ]
    assert 'read "laptops"; allowed laptop, monitor, paper; did you mean laptop?' in faults[3]
    assert 'read "-1"; allowed a number from 0.001 to 1000' in faults[4]


def test_skipping_sets_bad_rows_aside_with_reasons(table: Written) -> None:
    path = table(GOOD, {**GOOD, "id": "b", "seat.height": "1"})
    kept = load_applicants(path, CATALOG, skip_invalid=True)
    assert [one.id for one in kept.people] == ["a1"]
    assert [(one.id, one.line, [fault.where for fault in one.faults]) for one in kept.rejected] == [
        ("b", 3, ["seat.height"])
    ]


def test_skipping_does_not_make_nothing_of_a_table_with_no_good_row(table: Written) -> None:
    assert "seat.height" in told(table({**GOOD, "seat.height": "1"}), skip_invalid=True)[0]


def test_ids_that_stand_twice_reject_all_their_rows(table: Written) -> None:
    path = table(GOOD, {**GOOD, "id": "B"}, {**GOOD, "id": "b"}, {**GOOD, "id": "A1"})
    read, faults = read_applicants(path)
    assert faults == []
    assert read is not None
    assert read.people == ()
    assert [(one.line, one.id) for one in read.rejected] == [(2, "a1"), (3, "B"), (4, "b"), (5, "A1")]
    assert 'read "b"; allowed each id once' in told(path)[2]


@pytest.mark.parametrize("hostile", ["../x", "=cmd", "+1", "@a", "a b", "", "-", "a/b", "x" * 65, "é"])
def test_hostile_ids_are_refused_and_never_repaired(table: Written, hostile: str) -> None:
    faults = told(table(GOOD, {**GOOD, "id": hostile}))
    assert [fault.split(":")[1:3] for fault in faults] == [["3", " id"]]


def test_formulas_are_faults_in_text_and_in_workbooks(table: Written, tmp_path: Path) -> None:
    assert "holds a formula" in told(table({**GOOD, "seat.height": "=400+65"}))[0]
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(list(GOOD))
    sheet.append(["a1", "=1500+100", *list(GOOD.values())[2:]])
    book.save(tmp_path / "people.xlsx")
    (fault,) = told(tmp_path / "people.xlsx")
    assert fault.startswith(":2: person.stature: holds a formula")


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("id,person.statur", "did you mean person.stature?"),
        ("id,id", "repeated column"),
        ("id,seat.shared_with", "unknown column"),
        ("id,wishes.must", "unknown column"),
        ("id,owns.hardback_bok", "did you mean hardback_book?"),
        ("person.stature", "missing column"),
        ("id;person.stature", "missing column"),
    ],
)
def test_wrong_headers(tmp_path: Path, header: str, words: str) -> None:
    path = tmp_path / "people.csv"
    path.write_text(f"{header}\nx,y\n", encoding="utf-8")
    assert any(words in fault for fault in told(path))


def test_a_price_table_in_place_of_applicants_is_one_fault(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_text("item,pack,price,currency\nfelt,1,2.00,EUR\n", encoding="utf-8")
    (fault,) = told(path)
    assert fault.startswith(":1: holds no column of a table of applicants")
    assert fault.endswith("a price table goes to --prices")


def test_missing_and_unknown_columns_are_one_fault(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_text("id,person.stature,desk.hight,task.hours,task.main\n", encoding="utf-8")
    (fault,) = told(path)
    assert fault.startswith(":1: desk.height: missing column; unknown column desk.hight; read")
    assert fault.endswith("did you mean desk.height?")


def test_empty_tables(tmp_path: Path, table: Written) -> None:
    path = tmp_path / "people.csv"
    for text in ("", "\n\n", "# only a note\n"):
        path.write_text(text, encoding="utf-8")
        assert len(told(path)) == 1
    path.write_text(",".join(GOOD) + "\n", encoding="utf-8")
    assert "holds no applicants" in told(path)[0]


def test_a_million_columns_are_one_fault(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_text("id" + ",x" * 1_000_000 + "\n", encoding="utf-8")
    (fault,) = told(path)
    assert f"at most {MAX_COLUMNS} columns" in fault


def test_broken_files_are_faults_without_a_trace(tmp_path: Path) -> None:
    for name in ("a.xlsx", "a.parquet"):
        path = tmp_path / name
        path.write_bytes(b"PK\x03\x04 not what it says")
        assert "cannot be read" in told(path)[0]
        assert "no such file" in told(tmp_path / f"none_{name}")[0]
    (tmp_path / "a.txt").write_text("id\n")
    assert "a table whose name ends in" in told(tmp_path / "a.txt")[0]
    assert "planned with deskmend plan" in told(tmp_path / "case.yaml")[0]
    (tmp_path / "b.csv").write_bytes(b"id\x00\n")
    assert "is a binary file" in told(tmp_path / "b.csv")[0]


def test_rows_of_another_length_and_long_cells(tmp_path: Path, table: Written) -> None:
    path = tmp_path / "people.csv"
    good = ",".join(GOOD.values())
    path.write_text(f"{','.join(GOOD)}\n{good}\na2,1\n{good},,\n{good},x\n", encoding="utf-8")
    faults = told(path)
    assert any(":5: allowed 9 columns" in fault or ":5: has 10" in fault for fault in faults)
    assert any(fault.startswith(":3: person") or fault.startswith(":3: seat") for fault in faults)
    assert "at most 1000 characters" in told(table({**GOOD, "group": "x" * 1001}))[0]


def test_another_currency_than_the_price_table_is_a_fault(table: Written) -> None:
    path = table({**GOOD, "means.currency": "USD"})
    assert "EUR, the currency of the price table" in told(path, currency="EUR")[0]
    assert people(path).people[0].case.means.currency == "USD"


def test_unknown_signs_and_wishes_are_faults(table: Written) -> None:
    faults = told(table({**GOOD, "person.warning_signs": "no_such_sign", "wishes.never": "no_such_fix"}))
    assert [fault.split(":")[2] for fault in faults] == [" person.warning_signs", " wishes.never"]


@pytest.mark.parametrize("name", ["attic.seat_foam", "seat_foam=thick", "place.break_timer"])
def test_a_refusal_that_would_go_unheard_is_a_fault(table: Written, name: str) -> None:
    (fault,) = told(table({**GOOD, "wishes.never": name}))
    assert fault.startswith(f':2: wishes.never: read "{name}"')
    heard = table({**GOOD, "wishes.never": "place.seat_foam=40 break_timer"})
    assert load_applicants(heard, CATALOG).people[0].id == "a1"


def test_every_key_of_a_case_with_one_place_is_a_column() -> None:
    names = set(columns())
    assert {"person.stature", "seat.height", "desk.height", "feet_on", "light.lux", "task.paper.at"} <= names
    assert {"task2.scores.force", "means.minutes", "room.landlord_leave", "wishes.never"} <= names
    assert names.isdisjoint({"task.place", "other_seats", "seat.shared_with", "wishes.must", "places.0.id"})
    assert [one.name for one in columns().values() if not one.meaning] == []


def test_a_row_says_of_a_measure_how_sure_it_is(table: Written) -> None:
    (one,) = people(table(GOOD | {"person.stature.from": "told", "seat.height.sd": "8"})).people
    assert one.case.person.likely_stature == 1591
    assert one.case.places[0].seat is not None
    height = one.case.places[0].seat.height
    assert (height, getattr(height, "sd", None)) == (465, 8)
    (fault,) = told(table(GOOD | {"person.stature.from": "heard"}))
    assert "person.stature.from" in fault
    assert "taped, pictured, told, estimated" in fault
    (fault,) = told(table(GOOD | {"desk.underside.sd": "5"}))
    assert "desk.underside.value: missing" in fault
