"""Old prices: from which day on they are told, and how many of them are named."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from deskmend.intake.prices import PricedItem, PriceTable
from deskmend.planning.inputs import MOST_NAMED, STALE_DAYS, stale_prices

NEW = date(2026, 10, 1)


def table(days: list[date]) -> PriceTable:
    return PriceTable({f"thing_{n}": PricedItem(1, 5, 5, 5, as_of=day) for n, day in enumerate(days)}, "EUR")


@pytest.mark.parametrize(("days", "told"), [(STALE_DAYS, 0), (STALE_DAYS + 1, 1)])
def test_a_price_is_old_the_day_after_a_year_and_a_day(days: int, told: int) -> None:
    old = NEW - timedelta(days=days)
    assert len(stale_prices(table([old, NEW]))) == told
    assert len(stale_prices(table([old]), NEW)) == told
    assert stale_prices(table([old])) == []


@pytest.mark.parametrize(
    ("count", "end"), [(1, "thing_0"), (MOST_NAMED, "thing_7"), (MOST_NAMED + 1, "thing_7 and 1 more")]
)
def test_eight_are_named_and_the_rest_is_counted(count: int, end: str) -> None:
    old = [NEW - timedelta(days=400)] * count
    (told,) = stale_prices(table(old), NEW)
    assert told.endswith(f"{end}; ask again")
    (ahead,) = stale_prices(table([NEW + timedelta(days=1)] * count), NEW)
    assert ahead.endswith(f"{end}; look at their dates")


def test_a_table_without_days_has_no_old_prices() -> None:
    assert stale_prices(PriceTable({"thing": PricedItem(1, 5, 5, 5)}, "EUR"), NEW) == []
