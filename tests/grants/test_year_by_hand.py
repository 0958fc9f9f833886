"""The year of the scenario added up as an officer would: from its files, with sums and nothing else."""

from __future__ import annotations

import json
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest

from .test_year import ROUNDS, YEAR, rows, year

__all__ = ["year"]

Key = tuple[str, str, str]
NOTHING = Decimal(0)


def gifts(year: Path, number: int) -> dict[Key, dict[str, str]]:
    """Rows of an allocation by id, item and size; none before the first round."""
    if not number:
        return {}
    table = rows(year / f"round_{number}" / "allocation.csv")
    found = {(row["id"], row["item"], row["size"]): row for row in table}
    assert len(found) == len(table)
    return found


def entries(number: int) -> list[dict[str, str]]:
    """What happened after a round."""
    path = YEAR / f"entries_{number}.csv"
    return rows(path) if path.exists() else []


def lines(year: Path) -> list[dict[str, str]]:
    text = (year / "ledger.jsonl").read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines()[1:]]


def total(column: str, table: list[dict[str, str]]) -> Decimal:
    return sum((Decimal(row[column]) for row in table), NOTHING)


def test_money_of_every_round_adds_up_from_row_to_row(year: Path) -> None:
    spent = NOTHING
    for number, (_, _, fund, _) in enumerate(ROUNDS, start=1):
        folder = year / f"round_{number}"
        told = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
        orders = rows(folder / "purchase_order.csv")
        assert all(
            Decimal(row["packs"]) * Decimal(row["unit_price"]) == Decimal(row["cost"]) for row in orders
        )
        before, now = gifts(year, number - 1), gifts(year, number)
        new = {
            key: Decimal(row["cost"]) - Decimal(before.get(key, {"cost": "0"})["cost"])
            for key, row in now.items()
        }
        assert min(new.values()) >= 0
        assert before.keys() <= now.keys()
        ordered = total("cost", orders)
        assert sum(new.values()) == ordered
        for item in {row["item"] for row in orders}:
            mine = [row for row in orders if row["item"] == item]
            assert sum(cost for key, cost in new.items() if key[1] == item) == total("cost", mine)
        assert Decimal(told["already"]) == spent
        spent += ordered
        assert Decimal(told["spent"]) == spent
        assert Decimal(told["fund"]) == Decimal(fund)
        assert Decimal(told["left"]) == Decimal(fund) - spent >= 0
        written = [one for one in lines(year) if one.get("round") == number]
        assert [one["amount"] for one in written if one["entry"] == "round"] == [f"{ordered:.2f}"]
        assert total("amount", [one for one in written if one["entry"] == "order"]) == ordered
        assert total("amount", [one for one in written if one["entry"] == "given"]) == ordered
        for row in entries(number):
            spent += {"refund": -1, "paid": 1}.get(row["entry"], 0) * Decimal(row["amount"] or 0)
    assert spent == Decimal("108.40")


def test_each_person_is_told_what_the_rows_of_theirs_come_to(year: Path) -> None:
    for number in range(1, 5):
        folder = year / f"round_{number}"
        before, now = gifts(year, number - 1), gifts(year, number)
        new = {
            key[0]
            for key, row in now.items()
            if any(Decimal(row[of]) > Decimal(before.get(key, {of: "0"})[of]) for of in ("packs", "units"))
        }
        people = {row["id"]: row for row in rows(folder / "people.csv")}
        for name, row in people.items():
            mine = [one for key, one in now.items() if key[0] == name]
            assert Decimal(row["cost"]) == total("cost", mine)
            before_now, free, after = (Decimal(row[f"strain_{when}"]) for when in ("before", "free", "after"))
            assert after <= free <= before_now
            assert (after < free) == (name in new)
        waiting = [row["id"] for row in rows(folder / "waiting.csv")]
        assert sorted(waiting) == sorted(people.keys() - new)
        told = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
        assert (told["people"], told["served"]) == (len(people), len(people) - len(waiting))
        assert sum(told["not_given"].values()) == len(waiting)
        weights = {row["id"]: Decimal(row.get("weight") or 1) for row in rows(YEAR / ROUNDS[number - 1][0])}
        for name, row in people.items():
            assert Decimal(row["weight"]) == weights[name]
            less = Decimal(row["strain_free"]) - Decimal(row["strain_after"])
            assert Decimal(row["relief"]) == less * weights[name]
        assert float(total("relief", [*people.values()])) == told["fairness"]["relief"]
        orders = rows(folder / "purchase_order.csv")
        assert total("cost_now", [*people.values()]) == total("cost", orders)


def test_every_unit_that_was_ordered_is_with_somebody_in_the_store_cut_or_lost(year: Path) -> None:
    held: Counter[Key] = Counter()
    store: Counter[tuple[str, str]] = Counter()
    for number in range(1, 5):
        folder = year / f"round_{number}"
        for row in rows(folder / "purchase_order.csv"):
            store[row["item"], row["size"]] += int(row["packs"]) * int(row["pack"])
        before = gifts(year, number - 1)
        for key, row in gifts(year, number).items():
            assert int(row["units"]) - int(row["gone"]) >= held[key] >= 0
            units = int(row["units"]) - int(before.get(key, {"units": "0"})["units"])
            held[key] += units
            store[key[1], key[2]] -= units
        assert min(store.values()) >= 0, (number, store)
        for row in entries(number):
            thing, units = (row["item"], row.get("size") or ""), int(row["units"] or 0)
            mine = (row["id"], *thing)
            if row["entry"] == "return":
                held[mine] -= units
                store[thing] += units
            elif row["entry"] == "transfer":
                held[mine] -= units
                held[row["to"], *thing] += units
            elif row["entry"] == "bought":
                held[mine] += units
            elif row["entry"] == "store":
                store[thing] += units
            elif row["entry"] == "lost" and not row.get("step"):
                (held if row["id"] else store)[mine if row["id"] else thing] -= units  # type: ignore[index]
        assert min(held.values()) >= 0, (number, held)
    made = Counter[Key]()
    for one in lines(year):
        if one["entry"] == "made":
            made[one["id"], one["item"], one.get("size", "")] += int(one["units"]) - int(one.get("own", 0))
    assert all(units <= held[key] for key, units in made.items())


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_lists_to_hand_out_name_what_is_given_and_nobody_else(year: Path, number: int) -> None:
    folder = year / f"round_{number}"
    before, now = gifts(year, number - 1), gifts(year, number)
    new = {
        key[0]
        for key, row in now.items()
        if int(row["units"]) > int(before.get(key, {"units": "0"})["units"])
    }
    for name in ("delivery.html", "receipts.html"):
        text = (folder / name).read_text(encoding="utf-8")
        for row in rows(folder / "people.csv"):
            assert (row["id"] in text) == (row["id"] in new), (name, row["id"])
