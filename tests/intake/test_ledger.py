"""A ledger added up by hand: what rounds gave, what officers enter, what is had of it all now.

The sums in comments are the reckoning; no source but arithmetic.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from deskmend.errors import InputFaults
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.given_before import Had
from deskmend.intake.ledger import (
    Ledger,
    LedgerEntry,
    given_by,
    ledger_text,
    load_entries,
    load_ledger,
    new_ledger,
    state_of_ledger,
    struck_out,
    with_entries,
)
from deskmend.intake.prices import PricedItem, PriceTable

CATALOG: Catalog = load_catalog()
PRICES = PriceTable(
    {"strong_cloth": PricedItem(2, 300, 300, 300), "seat_cushion": PricedItem(1, 900, 900, 900)}, "EUR"
)
ROUND = (
    LedgerEntry(entry="round", round=1, date="2026-03-01", amount="24.00", fund="50.00"),
    # three packs of two at 3.00 are 9.00; one cushion at 9.00 and one at 6.00 are 15.00; together 24.00
    LedgerEntry(entry="order", round=1, item="strong_cloth", packs=3, pack=2, price="3.00", amount="9.00"),
    LedgerEntry(
        entry="order", round=1, item="seat_cushion", size="40", packs=1, pack=1, price="9.00", amount="9.00"
    ),
    LedgerEntry(entry="order", round=1, item="crate", packs=1, pack=1, price="6.00", amount="6.00"),
    LedgerEntry(
        entry="given", round=1, id="bo", group="east", item="strong_cloth", packs=2, units=4, amount="6.00"
    ),
    LedgerEntry(
        entry="given", round=1, id="bo", group="east", item="seat_cushion", size="40", packs=1, units=1,
        amount="9.00",
    ),
    LedgerEntry(entry="given", round=1, id="al", item="crate", packs=1, units=1, amount="6.00"),
    # of bo's four pieces of cloth three are cut up, and one of bo's own
    LedgerEntry(
        entry="made", round=1, id="bo", item="strong_cloth", units=4, own=1, step="seat_cover"
    ),
)  # fmt: skip


def ledger(*more: LedgerEntry) -> Ledger:
    return with_entries(new_ledger("ledger.jsonl", "EUR"), (*ROUND, *more))


def test_a_round_is_added_up_entry_by_entry() -> None:
    state = state_of_ledger(ledger())
    assert state.spent == 2400
    assert dict(state.held) == {
        ("bo", "strong_cloth", ""): 1,  # four less the three that were cut
        ("bo", "seat_cushion", "40"): 1,
        ("al", "crate", ""): 1,
    }
    # six pieces of cloth were bought and four given
    assert {key: units for key, units in state.store.items() if units} == {("strong_cloth", ""): 2}
    assert state.groups == {"bo": "east", "al": ""}
    assert dict(state.made) == {"bo": ["seat_cover"]}
    assert {key: units for key, units in state.used_up.items() if units} == {("bo", "strong_cloth"): 1}


def test_what_is_had_now_is_sized_whole_cut_or_used_up() -> None:
    given, _ = given_by(ledger(), PRICES, CATALOG)
    assert given.had == {
        "bo": Had(
            (("strong_cloth", 1),), (("seat_cushion", "40", 1),), ("seat_cover",), (("strong_cloth", 1),)
        ),
        "al": Had((("crate", 1),)),
    }
    # whoever has nothing but what was cut for them is among those who have something
    gone = ledger(
        LedgerEntry(entry="lost", id="bo", item="strong_cloth", units=1),
        LedgerEntry(entry="return", id="bo", item="seat_cushion", size="40", units=1),
    )
    cut, _ = given_by(gone, PRICES, CATALOG)
    assert cut.had["bo"] == Had(made=("seat_cover",), used_up=(("strong_cloth", 1),))
    assert cut.returned == {("bo", "seat_cushion")}
    # one pack of cloth is in store, and the cushion that came back, under the name of its size
    assert cut.spare == {"strong_cloth": 1, "seat_cushion@40": 1}
    assert cut.loose == {"strong_cloth": 2}


def test_whoever_has_nothing_but_what_was_cut_has_that() -> None:
    # two pieces are left of the order; cy is given them, and both are cut
    more = ledger(
        LedgerEntry(entry="given", round=1, id="cy", item="strong_cloth", packs=1, units=2, amount="3.00"),
        LedgerEntry(entry="made", round=1, id="cy", item="strong_cloth", units=2, step="back_roll"),
    )
    given, _ = given_by(more, PRICES, CATALOG)
    assert given.had["cy"] == Had(made=("back_roll",))


def test_a_thing_in_store_that_is_not_sold_any_more_is_had_at_the_price_it_had() -> None:
    back = ledger(LedgerEntry(entry="return", id="al", item="crate", units=1))
    given, sold = given_by(back, PRICES, CATALOG)
    assert given.spare["crate"] == 1
    assert sold.items["crate"] == PricedItem(1, 600, 600, 600, stock=0)
    assert "crate" not in given_by(ledger(), PRICES, CATALOG)[1].items


def test_money_between_rounds_goes_down_with_refunds_and_up_or_down_with_what_was_paid() -> None:
    more = ledger(
        LedgerEntry(entry="refund", amount="2.50"),
        LedgerEntry(entry="paid", id="bo", amount="0.70"),
        LedgerEntry(entry="paid", id="al", amount="-0.20"),
    )
    # 24.00 - 2.50 + 0.70 - 0.20
    assert state_of_ledger(more).spent == 2200
    given, _ = given_by(more, PRICES, CATALOG)
    # gifts are 21.00, so 1.00 is beyond them: the pack in store 3.00, less what came back
    assert (given.spent, given.corrections, given.corrected) == (2200, 100, {"al": -20, "bo": 70})
    assert dict(given.paid_for) == {"bo": 1570, "al": 580}


def test_a_round_taken_back_counts_for_nothing_and_its_number_is_not_used_again() -> None:
    back = ledger(LedgerEntry(entry="undone", round=1))
    assert list(back.counted) == [] == list(back.rounds)
    assert state_of_ledger(back).spent == 0
    assert back.next_round == 2
    assert [one.entry for one in ledger().counted] == [one.entry for one in ROUND]
    assert [one.round for one in ledger().rounds] == [1]


def test_nobody_gives_back_more_than_they_have() -> None:
    with pytest.raises(InputFaults) as caught:
        ledger(LedgerEntry(entry="return", id="bo", item="strong_cloth", units=2))
    (fault,) = caught.value.faults
    assert fault.allowed == "at most 1 of strong_cloth; what is cut goes with its step: seat_cover"
    ledger(LedgerEntry(entry="return", id="bo", item="strong_cloth", units=1))


TABLE = "entry,id,item,size,units,amount,to,date\n"


def entered(path: Path, rows: str) -> Ledger:
    path.write_text(TABLE + rows, encoding="utf-8")
    return load_entries(path, ledger(), CATALOG)


def faults(path: Path, rows: str) -> list[tuple[int | None, str, str]]:
    with pytest.raises(InputFaults) as caught:
        entered(path, rows)
    return [(one.line, one.where, one.allowed) for one in caught.value.faults]


def test_a_table_of_entries_is_read_with_money_on_either_side_of_nothing(tmp_path: Path) -> None:
    rows = "paid,bo,,,,-0.20,,2026-04-02\nrefund,,,,,2.50,,\nstore,,crate,,3,,,\nlost,,crate,,3,,,\n"
    more = entered(tmp_path / "entries.csv", rows).entries[len(ROUND) :]
    assert [(one.entry, one.id, one.amount, one.units) for one in more] == [
        ("paid", "bo", "-0.20", 0),
        ("refund", "", "2.50", 0),
        ("store", "", "", 3),
        ("lost", "", "", 3),
    ]
    assert more[0].date == "2026-04-02"


def test_amounts_that_are_none_are_told_by_row(tmp_path: Path) -> None:
    money = "an amount of money as 5.00 or -5.00"
    path = tmp_path / "entries.csv"
    assert faults(path, "paid,bo,,,,-x,,\n") == [(2, "amount", money)]
    # what came back is never below nothing
    assert [one[:2] for one in faults(path, "refund,,,,,-2.50,,\n")] == [(2, "amount")]


def test_what_does_not_fit_the_ledger_is_told_by_the_line_of_the_table_that_says_so(tmp_path: Path) -> None:
    path = tmp_path / "entries.csv"
    allowed = "at most 1 of crate"
    # the first row of a table, and one further down
    assert faults(path, "return,al,crate,,2,,,\n") == [(2, "return", allowed)]
    assert faults(path, "refund,,,,,1.00,,\nreturn,al,crate,,2,,,\n") == [(3, "return", allowed)]


def test_a_ledger_is_read_as_it_is_written_and_an_id_can_be_struck_out(tmp_path: Path) -> None:
    path = tmp_path / "ledger.jsonl"
    path.write_text(ledger_text(ledger()), encoding="utf-8")
    read = load_ledger(path)
    assert (read.currency, read.entries) == ("EUR", ledger().entries)
    struck = struck_out(read, "bo")
    assert "bo" not in ledger_text(struck).replace('"box', "")
    assert state_of_ledger(struck).spent == 2400
    assert state_of_ledger(struck).held["struck-1", "seat_cushion", "40"] == 1
