"""What is handed out on paper and as a workbook, from the same numbers as the tables."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from decimal import Decimal

from openpyxl import load_workbook

from deskmend.grants.handing import hand_over
from deskmend.grants.terms import Allocation, ItemOrder
from deskmend.intake.case_file import Sender
from deskmend.report.allocation import allocation_files
from deskmend.report.letter import delivery_html, letter, letter_html, receipts_html

from .fund_people import CATALOG, PRICES, plans_of
from .test_letters import shared_by

SENDER = Sender.model_validate(
    {
        "format": "deskmend-sender/1",
        "name": "The <b>fund</b>",
        "address": ["3 Long Lane"],
        "contact": "Room 3",
        "date": "1 March 2026",
    }
)


def taking(name: str, item: str) -> int:
    """Place of the cheapest plan of a person that buys a thing."""
    return next(k for k, one in enumerate(plans_of(name).offered) if item in dict(one.packs))


def test_the_workbook_holds_every_table_cell_for_cell_and_the_same_bytes_every_time() -> None:
    shared = shared_by(("cora-03", -1), ("gil-07", -1))
    files = allocation_files(shared, CATALOG, letters=False)
    book = load_workbook(io.BytesIO(bytes(files["workbook.xlsx"])))  # type: ignore[arg-type]
    tables = {name.removesuffix(".csv"): text for name, text in files.items() if name.endswith(".csv")}
    assert book.sheetnames == list(tables)
    for name, text in tables.items():
        rows = list(csv.reader(io.StringIO(str(text))))
        for row, cells in zip(rows, book[name].iter_rows(), strict=True):
            told = ["" if cell.value is None else str(cell.value) for cell in cells]
            same = [
                Decimal(here) == Decimal(there) if cell.data_type == "n" and here else here == there
                for here, there, cell in zip(told, row, cells, strict=True)
            ]
            assert all(same), (name, told, row)
            assert all(cell.data_type != "f" for cell in cells)
    assert allocation_files(shared, CATALOG, letters=False)["workbook.xlsx"] == files["workbook.xlsx"]


def test_what_may_be_shared_is_ordered_for_all_and_its_cost_split_to_the_last_cent() -> None:
    """Two people need a strip of one roll of tape each; the search counted a roll for each of them."""
    one = shared_by(("cora-03", taking("cora-03", "tape")))
    column, plan = one.allocation.chosen["cora-03"], one.plans["cora-03"]
    orders = tuple(replace(order, needed=2, packs=2) for order in one.allocation.orders)
    both = replace(
        one.allocation,
        chosen={"cora-03": column, "cora-04": column},
        orders=orders,
        spent=sum(order.cost for order in orders),
    )
    plans = {"cora-03": plan, "cora-04": replace(plan, id="cora-04")}
    made = hand_over(both, plans, PRICES, CATALOG, {})
    (line,) = (order for order in made.orders if order.item == "tape")
    gifts = [gift for gift in made.gifts if gift.item == "tape"]
    assert (line.packs, [gift.packs for gift in gifts]) == (1, [1, 0])
    assert [gift.units for gift in gifts] == [100, 100]
    assert sum(gift.cost for gift in gifts) == line.cost == PRICES["tape"].price
    again = hand_over(both, plans, PRICES, CATALOG, {"tape": 200})
    assert [order.packs for order in again.orders if order.item == "tape"] == [0]
    assert sum(gift.cost for gift in again.gifts if gift.item == "tape") == 0
    short = hand_over(both, plans, PRICES, CATALOG, {"tape": 199})
    assert [order.packs for order in short.orders if order.item == "tape"] == [1]


def test_spare_packs_cost_nothing_and_a_tier_leaves_its_surplus_in_the_size_most_need() -> None:
    shared = shared_by(("cora-03", taking("cora-03", "bath_towel")))
    (towel,) = (one for one in shared.allocation.orders if one.item == "bath_towel")
    others = tuple(one for one in shared.allocation.orders if one is not towel)
    taken = ItemOrder("bath_towel", 1, 0, 0, 1)
    spent = sum(one.cost for one in others)
    allocation = Allocation(
        "most_relief", "optimal", shared.allocation.chosen, (*others, taken), spent, 0, 0, 0
    )
    made = hand_over(allocation, shared.plans, PRICES, CATALOG, {})
    (line,) = (one for one in made.orders if one.item == "bath_towel")
    assert (line.packs, line.needed, line.cost) == (0, 1, 0)
    assert [gift.cost for gift in made.gifts if gift.item == "bath_towel"] == [0]


def test_letters_in_html_say_what_the_text_says_and_escape_who_sends_them() -> None:
    shared = shared_by(("cora-03", -1), called="Cora <i>")
    text = letter(shared, "cora-03", CATALOG, None, SENDER)
    assert text.startswith("The <b>fund</b>\n3 Long Lane\nDate: 1 March 2026\n")
    assert "Whom to ask: Room 3." in text
    assert "You do not agree? Tell Room 3" in " ".join(text.split())
    page = letter_html(shared, "cora-03", CATALOG, None, SENDER)
    assert "The &lt;b&gt;fund&lt;/b&gt;" in page
    assert "Hello Cora &lt;i&gt;," in page
    assert "<script" not in page
    for line in ("You get", "Why this", "Whom to ask: Room 3."):
        assert line in page
        assert line in text


def test_delivery_list_and_receipts_name_everybody_who_is_handed_anything() -> None:
    shared = shared_by(("cora-03", -1), ("gil-07", -1), ("ana-01", 0))
    for page in (delivery_html(shared, CATALOG), receipts_html(shared, CATALOG, SENDER)):
        assert "cora-03" in page
        assert "gil-07" in page
        assert "ana-01" not in page
    nobody = shared_by(("ana-01", 0))
    assert "Nobody is handed anything" in delivery_html(nobody, CATALOG)
