"""``--today``: the age of prices counts from a day that is told; no clock is asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from .conftest import CASE, PRICES, Run

TABLE = """item,pack,price,currency,as_of
mouse,1,6.90,EUR,2024-03-01
keyboard,1,12.90,EUR,2025-03-01
parcel_tape,5000,2.10,EUR,2025-03-02
"""


@pytest.fixture
def table(tmp_path: Path) -> str:
    file = tmp_path / "prices.csv"
    file.write_text(TABLE, encoding="utf-8")
    return str(file)


def told(run: Run, *arguments: str) -> list[str]:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return [line for line in result.stderr.splitlines() if "prices" in line and "invented sample" not in line]


def test_age_counts_from_the_newest_price_unless_a_day_is_told(run: Run, table: str) -> None:
    # 2024-03-01 to 2025-03-02 are 366 days: still a year
    assert told(run, "check", table) == []
    assert told(run, "check", table, "--today", "2025-03-03") == [
        f"warning: {table}: prices over a year old on 2025-03-03: mouse; ask again"
    ]
    (line,) = told(run, "check", table, "--today", "2027-01-01")
    assert line.endswith("on 2027-01-01: mouse, keyboard, parcel_tape; ask again")


def test_prices_from_after_the_day_are_told(run: Run, table: str) -> None:
    assert told(run, "check", table, "--today", "2025-03-01") == [
        f"warning: {table}: prices from after 2025-03-01: parcel_tape; look at their dates"
    ]


def test_assess_tells_it_and_says_the_same_otherwise(run: Run) -> None:
    plain, dated = (run("assess", CASE, "--prices", PRICES, *day) for day in ((), ("--today", "2100-01-01")))
    assert "prices over a year old on 2100-01-01" in dated.stderr
    assert "prices over a year old" not in plain.stderr
    extra = [line for line in dated.stdout.splitlines() if line not in plain.stdout.splitlines()]
    assert "over a year old on 2100-01-01" in " ".join(extra)


@pytest.mark.parametrize("day", ["2026-3-1", "2026-02-30", "today", "20260301", "2026-03-01T00:00"])
@pytest.mark.parametrize("command", [("plan", CASE), ("compare", CASE), ("assess", CASE), ("check", CASE)])
def test_anything_but_a_day_is_refused(run: Run, command: tuple[str, ...], day: str) -> None:
    result = run(*command, "--today", day)
    assert result.exit_code == 2
    assert f"--today: read '{day}', allowed a day as 2026-03-01" in result.stderr.replace('"', "'")


def test_a_table_to_fill_in_bears_the_day(run: Run) -> None:
    dated = run("prices", "new", "--for", CASE, "--today", "2026-03-01").stdout.splitlines()
    plain = run("prices", "new", "--for", CASE).stdout.splitlines()
    rows = [line for line in dated if not line.startswith(("#", "item,"))]
    assert rows
    assert all(",2026-03-01," in row for row in rows)
    assert [line.replace("2026-03-01", "") for line in dated] == plain
