"""Writing an empty table of applicants, checking a filled one, and a folder written whole or not at all."""

from __future__ import annotations

import csv
import os
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import Workbook

from deskmend.cli import deskmend as program
from deskmend.cli.output import write_folder
from deskmend.errors import InputFaults
from deskmend.intake.applicants import columns

from .fund_people import CATALOG, FOLDER


def run(*arguments: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(program, list(arguments))
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture
def blank(tmp_path: Path) -> Path:
    path = tmp_path / "people.csv"
    assert run("new", "--applicants", str(path))[0] == 0
    return path


def test_an_empty_table_explains_every_column_and_thing(blank: Path) -> None:
    text = blank.read_text(encoding="utf-8")
    notes = [line for line in text.splitlines() if line.startswith("#")]
    explained = {note.removeprefix("# ").partition(":")[0] for note in notes}
    assert set(columns()) <= explained
    assert {sign.id for sign in CATALOG.signs} <= explained
    assert {f"owns.{item}" for item in CATALOG.items} <= explained
    assert all("," not in note for note in notes)
    (header,) = (line for line in text.splitlines() if not line.startswith("#"))
    assert header.startswith("id,weight,group,name,person.stature,")


def test_an_empty_table_filled_in_is_read(blank: Path) -> None:
    assert "holds no applicants" in run("check", str(blank))[1]
    header = next(csv.reader([blank.read_text(encoding="utf-8").splitlines()[-1]]))
    values = {
        "id": "a1",
        "person.stature": "1600",
        "seat.height": "46 cm",
        "desk.height": "29 in",
        "devices.laptop.screen_top": "232",
        "devices.laptop.screen_height": "190",
        "devices.laptop.keys": "20",
        "task.hours": "4",
        "task.main": "laptop",
        "owns.hardback_book": "38 42",
    }
    with open(blank, "a", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerow([values.get(name, "") for name in header])
    assert run("check", str(blank)) == (0, f"{blank}: no faults (applicants)\n", "")


def test_a_table_saved_by_a_table_program_is_read_with_its_notes(blank: Path, tmp_path: Path) -> None:
    """Such programs pad notes to the width of the table and quote what holds quotation marks."""
    lines = blank.read_text(encoding="utf-8").splitlines()
    padded = [f'"{line}"{"," * 5}' if line.startswith("#") else line for line in lines]
    blank.write_text("\n".join(padded) + "\n", encoding="utf-8")
    assert "holds no applicants" in run("check", str(blank))[1]


def test_a_file_that_is_there_is_kept(blank: Path) -> None:
    before = blank.read_bytes()
    code, _, told = run("new", "--applicants", str(blank))
    assert (code, "is there already" in told) == (2, True)
    assert blank.read_bytes() == before
    assert run("new", "--applicants", str(blank), "--force")[0] == 0


def test_only_csv_is_written(tmp_path: Path) -> None:
    code, _, told = run("new", "--applicants", str(tmp_path / "people.xlsx"))
    assert (code, ".csv" in told) == (2, True)


def test_check_tells_tables_of_applicants_by_what_they_hold(tmp_path: Path) -> None:
    table, prices = FOLDER / "applicants.csv", FOLDER / "prices.csv"
    code, told, _ = run("check", str(table), str(prices))
    assert (code, told) == (0, f"{table}: no faults (applicants)\n{prices}: no faults (prices)\n")
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["id", "person.stature", "desk.height", "task.hours", "task.main"])
    sheet.append(["a", 160, 750, 4, "laptop"])
    book.save(tmp_path / "people.xlsx")
    code, told, _ = run("check", str(tmp_path / "people.xlsx"))
    assert code == 2
    assert f'{tmp_path}/people.xlsx:2: person.stature: read "160"; allowed 1000 to 2300 mm' in told


def test_a_folder_appears_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = {"a.csv": "1", "letters/b.txt": "2", "c.csv": "3"}
    opened = os.open

    def failing(path: Path, flags: int, mode: int = 0o777, *, dir_fd: int | None = None) -> int:
        if Path(path).name == "c.csv":
            raise OSError(28, "No space left on device")
        return opened(path, flags, mode, dir_fd=dir_fd)

    with monkeypatch.context() as patch:
        patch.setattr(os, "open", failing)
        with pytest.raises(InputFaults, match="No space left"):
            write_folder(tmp_path / "out", files)
    assert list(tmp_path.iterdir()) == []
    write_folder(tmp_path / "out", files)
    assert (tmp_path / "out" / "letters" / "b.txt").read_text() == "2"
    with pytest.raises(InputFaults, match="not empty"):
        write_folder(tmp_path / "out", files)
