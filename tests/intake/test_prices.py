"""A price table is read whole or refused with every fault."""

import datetime
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import each, examples

from deskmend.errors import InputFaults
from deskmend.intake.prices import PRICE_COLUMNS, PRICES, PricedItem, Tier, load_prices

DATA = Path(__file__).parent / "data"
GOOD = (DATA / "prices_invented.csv").read_text(encoding="utf-8")
HEADER = ",".join(PRICE_COLUMNS)
FIRST = "cork_tile,4,3.20,2.80,3.90,EUR,,,new,2024-05-31,invented"
TIER = "cork_tile,4,2.70,2.50,3.00,EUR,,10,new,2024-05-31,invented"


@pytest.fixture
def faults(tmp_path: Path) -> Callable[[str], list[str]]:
    def read(text: str) -> list[str]:
        path = tmp_path / "prices.csv"
        path.write_text(text, encoding="utf-8", newline="")
        try:
            load_prices(path)
        except InputFaults as error:
            return [line.removeprefix(f"{tmp_path}/") for line in str(error).splitlines()]
        return []

    return read


def test_the_example_is_read_as_written() -> None:
    table = load_prices(DATA / "prices_invented.csv")
    assert table.currency == "EUR"
    assert table.path.endswith("prices_invented.csv")
    assert table["cork_tile"] == PricedItem(
        pack=4,
        price=320,
        low=280,
        high=390,
        tiers=(Tier(10, 270, 250, 300),),
        condition="new",
        as_of=datetime.date(2024, 5, 31),
        source="invented",
    )
    assert table["keyboard_basic"].stock == 25
    assert table["keyboard_basic"].low == table["keyboard_basic"].high == 900
    assert table["keyboard_basic"].source == "invented, second hand"
    assert "mouse_basic" not in table
    assert table.get("mouse_basic") is None
    assert table.unpriced == ("mouse_basic",)
    assert len(table) == 2
    assert pickle.loads(pickle.dumps(table)) == table


@each(
    ("old", "new", "expected"),
    [
        ("3.20", "-3.20", 'prices.csv:3: cork_tile.price: read "-3.20"'),
        ("3.20", "nan", "an amount in EUR as 40.00"),
        ("3.20", '"3,200"', "did you mean 3200?"),
        ("3.20", "3.205", "EUR has at most 2 decimals"),
        ("3.20", "", "allowed nothing while price is empty"),
        ("3.20,2.80,3.90", ",,", "a price in every row of an item with tiers"),
        ("2.80", "3.30", "allowed at most the price, 3.20"),
        ("3.90", "3.10", "allowed at least the price, 3.20"),
        ("9.00,,,EUR", "9.00,,,USD", "one currency in a table, EUR as on line 3"),
        ("9.00,,,EUR", "9.00,,,eur", "did you mean EUR?"),
        ("9.00,,,EUR", "9.00,,,", "keyboard_basic.currency: is empty"),
        ("25,,used", "2.5,,used", "keyboard_basic.stock"),
        ("25,,used", "-1,,used", "whole numbers 0 to 1000000"),
        (TIER, TIER.replace(",4,", ",5,"), "rows of one item agree"),
        (TIER, TIER.replace("EUR,,10", "EUR,7,10"), "cork_tile.stock"),
        (TIER, TIER + "\n" + TIER, "as tiers rise"),
        (TIER, TIER.replace(",10,", ",,"), "as tiers rise"),
        (TIER, TIER.replace("2.70", "3.20").replace("3.00", "3.50"), "less than 3.20 on line 3"),
        (FIRST + "\n", "", "a first row for one pack"),
        ("keyboard_basic,1", "keyboard_basic,0", "keyboard_basic.pack"),
        ("keyboard_basic,1", "keyboard_basic,", "keyboard_basic.pack: is empty"),
        ("keyboard_basic", "Cork_Tile", "differ in more than letter case"),
        ("keyboard_basic", "=cmd()", 'item: read "=cmd()"'),
        ("used", "=HYPERLINK(1)", "does not begin with ="),
        ("used", "@x", "does not begin with ="),
        ("used", '"a\nb"', "holds a control character"),
        ("used", "\u202eused", "holds a control character"),
        ("used", "x" * 201, "has 201 characters"),
        ("2024-05-31,invented\ncork", "31.5.2024,invented\ncork", "a day as 2024-05-31"),
        ("2024-05-31,invented\ncork", "2024-02-30,invented\ncork", "a day as 2024-05-31"),
        ("25,,used,,", "25,,used,", "prices.csv:5: has 10; allowed 11 columns"),
        ("pack,price", "pakc,price", "did you mean pack?"),
        ("low,high", "low,low", "repeated column"),
        (",currency,", ",condition,", "currency: missing column"),
        ('"invented, second', 'invented "x", second', "11 columns"),
        ('"invented, second hand"', '"invented, second hand', "is not readable as CSV"),
    ],
)
def test_one_thing_wrong(faults: Callable[[str], list[str]], old: str, new: str, expected: str) -> None:
    assert old in GOOD
    found = faults(GOOD.replace(old, new, 1))
    assert any(expected in line for line in found), found
    assert all(line.isprintable() for line in found)


def test_a_decimal_comma_is_a_point(tmp_path: Path) -> None:
    file = tmp_path / "prices.csv"
    file.write_text(GOOD.replace("3.20", '"3,20"', 1), encoding="utf-8")
    assert load_prices(file)["cork_tile"].price == 320


def test_all_faults_come_at_once(faults: Callable[[str], list[str]]) -> None:
    found = faults(GOOD.replace("3.20", "-1").replace("25,", "x,").replace("4,2.70", "0,2.70"))
    assert len(found) == 3
    assert [line.split(":")[1] for line in found] == ["3", "4", "5"]


def test_tables_without_prices_or_with_other_separators(faults: Callable[[str], list[str]]) -> None:
    assert "holds no prices" in faults(HEADER + "\n")[0]
    assert "holds no prices" in faults(HEADER + "\n,,,,,,,,,,\n")[0]
    assert "holds no prices" in faults(HEADER.replace(",", ";") + "\n")[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name,amount\na,1\nb,2\n", ["1: holds no column of a price table", '"name,amount"', "are needed"]),
        ("all of this, and more\nis text\n", ["1: holds no column", '"all of this,and more"']),
        ("id,seat.height,desk.height\na,1,2\n", ["1: holds no column", "goes to deskmend allocate"]),
        ("# old\nitem,pack,currency\nfelt,1,EUR\n", ["2: price: missing column", '"item,pack,currency"']),
        ("item,pakc,prise,currency\n", ["pack, price: missing columns", "pack for pakc, price for prise?"]),
        ("Item,Pack,Price,Currency\n", ["holds no column", "item for Item", "currency for Currency?"]),
        ("item,pack,price,currency,shop\n", ['unknown column; read "shop"']),
        ("item,pack,price,currency,,\n", ["unknown columns", "no name in column 5, no name in column 6"]),
    ],
)
def test_a_wrong_header_is_one_fault(faults: Callable[[str], list[str]], text: str, words: list[str]) -> None:
    (told,) = faults(text)
    assert all(word in told for word in words), told


def test_nothing_is_asked_for_twice_in_a_header(faults: Callable[[str], list[str]]) -> None:
    (told,) = faults("item,packs,pack,currency\n")
    assert "did you mean pack?" not in told
    assert "price: missing column; unknown column packs;" in told


def test_a_workbook_is_told_by_its_name_and_a_case_by_its_header(tmp_path: Path) -> None:
    path = tmp_path / "mine.xlsx"
    with pytest.raises(InputFaults, match="no such file"):
        load_prices(path)
    path.write_bytes(b"PK\x03\x04")
    with pytest.raises(InputFaults, match=r"mine\.xlsx: is named as a workbook; .* as CSV$"):
        load_prices(path)
    path = tmp_path / "mine.yaml"
    path.write_text("format: deskmend-case/1\nperson: {stature: 1700}\n", encoding="utf-8")
    with pytest.raises(InputFaults, match=r"mine\.yaml:1: holds no column .* a case stands alone"):
        load_prices(path)


def test_columns_in_another_order_and_optional_ones_left_out(faults: Callable[[str], list[str]]) -> None:
    assert faults("currency,item,price,pack\nJPY,felt,300,1\n") == []


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_byte_order_mark(faults: Callable[[str], list[str]], end: str, mark: str) -> None:
    assert faults(mark + GOOD.replace("\n", end)) == []
    found = faults(mark + GOOD.replace("9.00", "x").replace("\n", end))
    assert found[0].startswith("prices.csv:5: ")


def test_number_of_rows(faults: Callable[[str], list[str]]) -> None:
    rows = "".join(f"i{number},1,1,EUR\n" for number in range(PRICES.max_rows + 1))
    assert f"allowed at most {PRICES.max_rows} rows" in faults("item,pack,price,currency\n" + rows)[0]


@examples(150)
@given(
    st.one_of(
        st.binary(max_size=200),
        st.text(alphabet='ab1.,-="\n\r\x00€é', max_size=80).map(lambda text: f"{HEADER}\n{text}".encode()),
    )
)
def test_whatever_stands_in_a_file_only_faults_come_of_it(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.csv"
    path.write_bytes(content)
    with pytest.raises(InputFaults) as caught:
        load_prices(path)
    assert all(line.isprintable() for line in str(caught.value).splitlines())
