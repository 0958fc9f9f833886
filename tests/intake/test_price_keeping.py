"""A price table kept by people: a row added or replaced, what is old, and two tables side by side."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from deskmend.cli import deskmend
from deskmend.intake.prices import PRICE_COLUMNS, load_prices

TABLE = """# Asked for on foot
item;pack;price;currency;from_packs;as_of;source

bath_towel;1;4.00;EUR;;2026-02-01;market
hardback_book;1;1.00;EUR;;2024-01-10;flea market
hardback_book;1;0.80;EUR;10;2024-01-10;flea market
"""


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "mine.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def prices(*arguments: object) -> Result:
    return CliRunner().invoke(deskmend, ["prices", *map(str, arguments)])


def test_a_row_is_added_and_all_else_stays(table: Path) -> None:
    result = prices("add", table, "--item", "blanket", "--price", "6.50", "--as-of", "2026-03-01")
    assert (result.exit_code, result.stderr) == (0, "")
    assert table.read_text(encoding="utf-8") == TABLE + "blanket;1;6.50;EUR;;2026-03-01;\n"


def test_a_new_table_is_begun(tmp_path: Path) -> None:
    path = tmp_path / "new.csv"
    result = prices("add", path, "--item", "seat_cushion", "--size", "60", "--price", "17", "--json")
    assert json.loads(result.stdout) == {"format": "deskmend-written/1", "file": str(path)}
    assert path.read_text(encoding="utf-8").splitlines()[0] == ",".join(PRICE_COLUMNS)
    assert load_prices(path)["seat_cushion@60"].price == 1700


def test_a_row_takes_the_place_of_one_only_where_asked(table: Path) -> None:
    row = ("add", table, "--item", "hardback_book", "--price", "0.70", "--from-packs", "10")
    assert prices(*row).exit_code == 2
    assert table.read_text(encoding="utf-8") == TABLE
    assert prices(*row, "--replace").exit_code == 0
    assert [tier.price for tier in load_prices(table)["hardback_book"].tiers] == [70]
    assert table.read_text(encoding="utf-8").count("hardback_book") == 2


def test_a_tier_goes_where_it_belongs(table: Path) -> None:
    added = prices("add", table, "--item", "hardback_book", "--price", "0.90", "--from-packs", "5")
    assert added.exit_code == 0, added.stderr
    assert [tier.from_packs for tier in load_prices(table)["hardback_book"].tiers] == [5, 10]


@pytest.mark.parametrize(
    ("options", "faults"),
    [
        (["--item", "blankt", "--price", "6"], ["did you mean blanket?"]),
        (["--item", "blanket", "--price", "6.505"], ["at most 2 decimals"]),
        (
            ["--item", "blankt", "--price", "x", "--as-of", "1.3.26"],
            ["did you mean blanket?", 'blankt.price: read "x"', "a day as 2024-05-31"],
        ),
        (["--item", "blanket", "--price", "6", "--currency", "USD"], ["one currency in a table, EUR"]),
        (["--item", "blanket", "--price", "6", "--stock", "3"], ["a table with a column stock"]),
        (["--item", "bath_towel", "--price", "6"], ["a new row, or --replace"]),
    ],
)
def test_faults_leave_the_table_as_it_was(table: Path, options: list[str], faults: list[str]) -> None:
    result = prices("add", table, *options)
    assert result.exit_code == 2
    assert [fault for fault in faults if fault not in result.stderr] == []
    assert table.read_text(encoding="utf-8") == TABLE
    assert list(table.parent.iterdir()) == [table]


def test_ages_count_from_the_day_told_or_the_newest_price(table: Path) -> None:
    def ages(*more: str) -> dict[str, Any]:
        document: dict[str, Any] = json.loads(prices("age", table, "--json", *more).stdout)
        return document

    told = ages()
    assert told["day"] == "2026-02-01"
    assert [(one["item"], one["days"], one["old"]) for one in told["items"]] == [
        ("hardback_book", 753, True),
        ("bath_towel", 0, False),
    ]
    assert [one["days"] for one in ages("--today", "2026-01-31")["items"]] == [752, -1]
    text = prices("age", table, "--today", "2026-01-31").stdout
    headings = ("Over a year old, ask again", "From after that day")
    assert [text.index(heading) > 0 for heading in headings] == [True, True]
    prices("add", table, "--item", "blanket", "--price", "6.50")
    assert ages()["undated"] == ["blanket"]


def test_two_tables_are_compared_by_the_unit(table: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.csv"
    other.write_text(
        "item,pack,price,currency\nbath_towel,2,7.00,EUR\nhardback_book,1,1.00,EUR\nblanket,1,6.00,EUR\n",
        encoding="utf-8",
    )
    document = json.loads(prices("compare", table, other, "--json").stdout)
    assert [(one["item"], one["second_is"]) for one in document["items"]] == [
        ("bath_towel", "cheaper"),
        ("hardback_book", "same"),
    ]
    assert (document["only_first"], document["only_second"]) == ([], ["blanket"])
    text = prices("compare", table, other).stdout
    assert "7.00 EUR for 2" in text
    assert "1 price is the same." in text
    other.write_text("item,pack,price,currency\nbath_towel,2,7.00,USD\n", encoding="utf-8")
    assert "allowed EUR" in prices("compare", table, other).stderr
