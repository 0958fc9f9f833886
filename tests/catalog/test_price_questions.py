"""The price table to fill in asks for what could matter, and for nothing else."""

from __future__ import annotations

import csv
import dataclasses
import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, ROOT, SAMPLE, made

from deskmend.cli import deskmend
from deskmend.intake.prices import load_prices
from deskmend.planning.inputs import price_questions, stale_prices

CASE = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")


def asked(**changes: object) -> list[str]:
    return [one.item for one in price_questions(made(**changes), CATALOG)]


def test_the_table_can_be_read_back_and_no_price_is_made_up(tmp_path: Path) -> None:
    out = tmp_path / "prices.csv"
    result = CliRunner().invoke(deskmend, ["prices", "new", "--for", CASE, "--out", str(out)])
    assert result.exit_code == 0, result.output
    table = load_prices(out)
    assert len(table) == 0
    lines = [line for line in out.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    assert [row["item"] for row in rows] == list(table.unpriced)
    assert {row["price"] for row in rows} == {""}
    again = CliRunner().invoke(deskmend, ["prices", "new", "--for", CASE])
    assert again.stdout == out.read_text(encoding="utf-8")


def test_a_file_that_is_there_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("deskmend.planning.inputs.price_questions", lambda *_: [])
    out = tmp_path / "prices.csv"
    out.write_text("mine\n", encoding="utf-8")
    result = CliRunner().invoke(deskmend, ["prices", "new", "--for", CASE, "--out", str(out)])
    assert result.exit_code == 2
    assert out.read_text(encoding="utf-8") == "mine\n"


def test_owned_things_and_things_that_cannot_be_used_are_not_asked() -> None:
    laptop = asked()
    assert {"keyboard", "mouse"} <= set(laptop)
    assert "keyboard" not in asked(owns={"keyboard": "1"})
    assert "document_holder" not in [i for i in laptop if i == "wood_board"]
    assert "leg_block" not in laptop, "furniture may not be altered here"
    assert "headset" not in laptop or CATALOG.by_id["phone_headset"].materials


def test_what_decides_most_is_asked_first() -> None:
    """A raised laptop needs keyboard and mouse, so its worth counts for all that it takes."""
    found = price_questions(
        made(
            places__0__seat__surface="hard", places__0__desk__height="720", places__0__desk__underside="690"
        ),
        CATALOG,
    )
    assert [one.relief for one in found] == sorted((one.relief for one in found), reverse=True)
    worth = {one.item: one.relief for one in found}
    assert worth["seat_cushion"] > 0
    assert worth["keyboard"] > 0


def test_old_prices_are_told_without_a_clock() -> None:
    items = dict(SAMPLE.items)
    items["mouse"] = dataclasses.replace(items["mouse"], as_of=datetime.date(2025, 9, 29))
    assert stale_prices(SAMPLE) == []
    told = stale_prices(dataclasses.replace(SAMPLE, items=items))
    assert len(told) == 1
    assert "mouse" in told[0]
    items["mouse"] = dataclasses.replace(items["mouse"], as_of=datetime.date(2025, 10, 1))
    assert stale_prices(dataclasses.replace(SAMPLE, items=items)) == []
