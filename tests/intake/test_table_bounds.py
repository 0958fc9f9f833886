"""Workbooks that are small on disk and huge once opened, and tables as forms export them."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import Workbook

from deskmend.errors import InputFaults
from deskmend.intake.applicants import load_applicants, load_column_map, read_applicants
from deskmend.intake.reading import tables
from deskmend.intake.reading.yaml_tree import read_tree

HEADER = ["id", "person.stature", "desk.height", "task.hours", "task.main", "devices.laptop.screen_top"]
ROW = ["a1", 1700, 740, 4, "laptop", 230]
MORE = ["devices.laptop.screen_height", "devices.laptop.keys", "posture"]
END = b"</sheetData>"


def workbook(path: Path, change: Callable[[str, bytes], bytes]) -> Path:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append([*HEADER, *MORE])
    sheet.append([*ROW, 190, 20, "stand"])
    plain = path.with_name("plain.xlsx")
    book.save(plain)
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            new.writestr(entry.filename, change(entry.filename, old.read(entry.filename)))
    return path


def in_sheet(more: bytes) -> Callable[[str, bytes], bytes]:
    return lambda name, text: text.replace(END, more + END) if "sheet1.xml" in name else text


def in_styles(name: str, text: bytes) -> bytes:
    more = b'<xf numFmtId="0" fontId="0" fillId="0" borderId="0"/>' * 100_000
    return text.replace(b"</cellXfs>", more + b"</cellXfs>") if name.endswith("styles.xml") else text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (in_sheet(b'<row r="1048576"><c r="A1048576"><v>1</v></c></row>'), ":1048576: holds too many rows"),
        (in_sheet(b'<row r="999999999"><c r="A999999999"><v>1</v></c></row>'), "holds too many rows"),
        (in_sheet(b"<row/>" * 202_000), "holds too many rows"),
        (in_sheet(b'<row r="3">' + b"<c/>" * 6_100 + b"</row>"), "holds too many cells"),
        (in_sheet(b" " * 2_100_000), "unpacks to too much"),
        (in_styles, "its part xl/styles.xml unpacks to 5 MB"),
    ],
    ids=["last row", "far row", "rows", "cells", "blanks", "styles"],
)
def test_what_a_workbook_unpacks_to_is_looked_at_first(
    tmp_path: Path, change: Callable[[str, bytes], bytes], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cells and blanks against smaller bounds: the real ones take seconds to pack."""
    if "cells" in words:
        monkeypatch.setattr(tables, "_MOST_CELLS", 6_000)
    if "too much" in words:
        monkeypatch.setattr(tables, "MAX_UNPACKED", 2_000_000)
    with pytest.raises(InputFaults, match=words):
        load_applicants(workbook(tmp_path / "people.xlsx", change))


def test_empty_rows_up_to_the_bound_take_no_time(tmp_path: Path) -> None:
    far = in_sheet(b'<row r="199000"><c r="A199000" t="inlineStr"><is><t>b</t></is></c></row>')
    table, faults = read_applicants(workbook(tmp_path / "people.xlsx", far))
    assert table is not None
    assert faults == []
    assert [one.id for one in table.people] == ["a1"]
    assert [one.line for one in table.rejected] == [199_000]


@pytest.mark.parametrize("between", [";", "\t", ","])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_a_form_export_is_read_with_its_own_names_and_columns_of_its_own(
    tmp_path: Path, between: str, mark: str
) -> None:
    theirs = ["Reference", "Body height", "desk.height", "task.hours", "task.main", *HEADER[5:], *MORE]
    lines = [
        [*theirs, "Sent at", "E-mail"],
        [*map(str, ROW), "190", "20", "stand", "12 May", "a@example.org"],
    ]
    path, names = tmp_path / "people.csv", tmp_path / "names.txt"
    path.write_text(mark + "\n".join(between.join(line) for line in lines) + "\n", encoding="utf-8")
    names.write_text("# ours\nReference -> id\nBody height -> person.stature\n", encoding="utf-8")
    table, faults = read_applicants(path, renamed=load_column_map(names))
    assert faults == []
    assert table is not None
    assert table.aside == ("Sent at", "E-mail")
    assert [(one.id, one.case.person.stature) for one in table.people] == [("a1", 1700)]


def test_a_slip_of_one_of_our_columns_is_still_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    for slip in ("seat.hieght", "weigth", "Person.stature"):
        path.write_text(f"{','.join(HEADER)},{slip}\n", encoding="utf-8")
        table, faults = read_applicants(path)
        assert table is None, slip
        assert slip in str(faults[0])


@pytest.mark.parametrize(
    "line", ["Body height -> person.stature", "Body height,person.stature", "Body height: person.stature"]
)
def test_a_column_map_can_be_written_in_several_ways(tmp_path: Path, line: str) -> None:
    path = tmp_path / "names.csv"
    path.write_text(f"{line}\n", encoding="utf-8")
    assert load_column_map(path) == {"Body height": "person.stature"}


def test_a_column_map_that_names_nothing_of_ours_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "names.csv"
    path.write_text("Height -> person.statur\nId -> id\nNo -> id\n", encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        load_column_map(path)
    assert [fault.line for fault in caught.value.faults] == [1, 3]
    assert "did you mean person.stature?" in str(caught.value)


def test_a_long_text_that_fails_is_not_read_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from deskmend.intake.reading import yaml_tree

    path = tmp_path / "case.yaml"
    path.write_text("a: 1\n" + "#\n" * 30_000 + "b: [1\n", encoding="utf-8")
    if yaml_tree.yaml.__with_libyaml__:
        monkeypatch.setattr(yaml_tree.yaml, "SafeLoader", None)
        tree, faults = read_tree(path)
        assert tree is None
        assert [fault.line for fault in faults] == [30_002]
