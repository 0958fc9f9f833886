"""One reader serves every table that people fill in: columns in any order, notes above, faults of rows."""

from __future__ import annotations

from pathlib import Path

import pytest

from deskmend.errors import InputFaults
from deskmend.intake.given_before import Gift, load_given
from deskmend.intake.prices import load_prices
from deskmend.intake.reading.tables import TableForm, TableReader

PRICES = load_prices(Path(__file__).parent / "data" / "prices_invented.csv")
FORM = TableForm(
    "a table of things", ("thing", "many"), ("thing",), "thing, many", 1000, 3, without_rows="is bare"
)


def told(path: Path) -> list[str]:
    with pytest.raises(InputFaults) as caught:
        load_given(path, PRICES)
    return [str(fault).removeprefix(f"{path}:") for fault in caught.value.faults]


def test_an_earlier_round_is_read_whatever_the_order_of_its_columns(tmp_path: Path) -> None:
    path = tmp_path / "allocation.csv"
    path.write_text("# round one\n\nitem,id,cost,packs\ncork_tile,bo,3.20,1\nkeyboard_basic,al,9,1,,\n")
    given = load_given(path, PRICES)
    assert given.gifts == (Gift("al", "keyboard_basic", 1, 900), Gift("bo", "cork_tile", 1, 320))
    assert (given.spent, dict(given.packs)) == (1220, {"cork_tile": 1, "keyboard_basic": 1})
    path.write_text("id,item,packs,cost\n")
    assert load_given(path, PRICES).gifts == ()


def test_faults_of_an_earlier_round_name_row_column_and_what_is_near(tmp_path: Path) -> None:
    path = tmp_path / "allocation.csv"
    path.write_text("id,item,paks,cost\nbo,cork_tile,1,3\n")
    assert told(path) == [
        '1: packs: missing column; unknown column paks; read "id,item,paks,cost"; allowed the columns '
        "id,item,packs,cost,size,unit,units,gone,title; did you mean packs?"
    ]
    path.write_text("id,item,packs,cost\nbo,cork_tiles,,3\nbo,cork_tile,1\nbo,felt,1,3,9\n")
    assert told(path) == [
        '2: item: read "cork_tiles"; allowed an item of the price table; did you mean cork_tile?',
        "2: packs: is empty; allowed whole numbers 0 to 1000000",
        "3: has 3; allowed 4 columns; an empty cell keeps its comma",
        "4: has 5; allowed 4 columns; put quotes around text with commas",
    ]
    path.write_text("id,item,packs,cost\nbo,cork_tile,1,3\nbo,cork_tile,2,3\n")
    assert told(path) == ['3: item: read "cork_tile"; allowed one row for each item and size of a person']


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("thing,many\n", "is bare; allowed at least one row below the header"),
        ("# only a note", "is empty; allowed a header and at least one row below it"),
        ("thing\tmany\n", "is bare; allowed"),
        ("thing,many\n" + "a,1\n" * 4, "holds too many rows; allowed at most 3 rows"),
        ("thing,many\n" + "a" * 1000, "has 1011 bytes; allowed at most 1000 bytes"),
    ],
)
def test_what_a_table_can_hold_is_bounded(tmp_path: Path, text: str, fault: str) -> None:
    path = tmp_path / "things.csv"
    path.write_text(text)
    reader = TableReader(path, FORM)
    assert len(list(reader.rows())) <= 3
    (one,) = reader.faults
    assert fault in str(one)


def test_a_row_gathers_its_own_faults(tmp_path: Path) -> None:
    path = tmp_path / "things.csv"
    path.write_text("thing,many\n=1+1,x\nlamp,=2\n")
    rows = list(TableReader(path, FORM).rows())
    assert [(row.line, row.value("thing"), row.value("many")) for row in rows] == [
        (2, "", "x"),
        (3, "lamp", ""),
    ]
    assert [[fault.where for fault in row.faults] for row in rows] == [["thing"], ["many"]]
    assert {fault.note for row in rows for fault in row.faults} == {"holds a formula"}
