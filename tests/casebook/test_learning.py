"""Counts, shares and their weight; and that nothing of how it felt gets into them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from deskmend.casebook.learning import (
    FIX_GROUPS,
    JUDGED_WEIGHT,
    LEAST_WEIGHT,
    MOST_WEIGHT,
    SMALLEST_GROUP,
    Observed,
    fix_counts,
    learned_from,
    prior_weight,
    shared_counts,
    shrunk,
    withheld,
)
from deskmend.intake.catalog import load_catalog

from .books import book_of, felt

CATALOG = load_catalog()

BATTERS = (18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7)
"""Hits in the first 45 times at bat of 1970: Efron and Morris 1977, Scientific American 236(5):119."""
SEASON = (346, 298, 276, 222, 273, 270, 263, 210, 269, 230, 264, 256, 303, 264, 226, 285, 316, 200)
"""Their mean over the rest of the season, in thousandths; from the same table."""


def batters() -> list[Observed]:
    mean = sum(BATTERS) / (45 * len(BATTERS))
    return [Observed(45, hits, mean) for hits in BATTERS]


def test_the_batters_shrink_as_published() -> None:
    """Factor 0.212; squared errors 0.0753 as counted and 0.0213 shrunk (worked out again from the table)."""
    seen = batters()
    weight = prior_weight(seen, fitted=1)
    assert 45 / (45 + weight) == pytest.approx(0.212, abs=0.0005)
    errors = [
        sum((share - season / 1000) ** 2 for share, season in zip(shares, SEASON, strict=True))
        for shares in ([one.share for one in seen], [shrunk(one, weight) for one in seen])
    ]
    assert errors == pytest.approx([0.0753, 0.0213], abs=0.0005)
    assert shrunk(seen[0], weight) == pytest.approx(0.294, abs=0.0005)


def test_shares_no_further_off_than_chance_count_for_nothing() -> None:
    seen = [Observed(20, 10, 0.5)] * 6
    assert math.isinf(prior_weight(seen))
    assert shrunk(Observed(20, 12, 0.5), math.inf) == 0.5
    with pytest.raises(ValueError, match="allowed 4 or more"):
        prior_weight(seen[:3], fitted=1)


def test_a_share_is_told_from_ten_cases_on(tmp_path: Path) -> None:
    counts = {"break_timer": (12, 10, 4), "stand_by_turns": (12, 9, 9), "seat_foam": (3, 0, 0)}
    with book_of(tmp_path / "a.casebook", counts, 12) as book:
        told = fix_counts(book.persons())
    assert {one.fix: (one.planned, one.done, one.kept) for one in told} == counts
    (one,) = learned_from(told, CATALOG)
    figure = CATALOG.by_id["break_timer"].kept_up
    assert one.count.fix == "break_timer"
    assert one.weight == JUDGED_WEIGHT
    if figure is None:
        assert not one.from_catalog
    else:
        assert one.prior == figure.share
    assert one.share == (4 + JUDGED_WEIGHT * one.prior) / (10 + JUDGED_WEIGHT)


def test_with_enough_fixes_the_weight_is_found(tmp_path: Path) -> None:
    kept = {f"fix{number}": (15, 15, count) for number, count in enumerate((2, 5, 8, 11, 14, 15))}
    with book_of(tmp_path / "a.casebook", kept, 15) as book:
        learned = learned_from(fix_counts(book.persons()), CATALOG)
    assert len({one.weight for one in learned}) == 1
    assert LEAST_WEIGHT <= learned[0].weight < JUDGED_WEIGHT < MOST_WEIGHT
    assert all(not one.from_catalog for one in learned)
    shares = [one.share for one in learned]
    assert shares == sorted(shares)
    assert all(abs(one.share - one.prior) < abs(one.count.kept / 15 - one.prior) for one in learned)


def test_what_was_felt_is_not_looked_at(tmp_path: Path) -> None:
    counts = {"break_timer": (12, 11, 4)}
    with book_of(tmp_path / "a.casebook", counts, 12) as book:
        before = learned_from(fix_counts(book.persons()), CATALOG)
        for key in book.keys():
            book.add_felt(key, felt(("neck", 9, 0), ("lower_back", 8, 1)))
        assert learned_from(fix_counts(book.persons()), CATALOG) == before


def test_no_count_under_five_can_be_worked_out() -> None:
    """Every row of four groups and up to 16 persons: what is told leaves each small group open."""
    for a in range(13):
        for b in range(13 - a):
            for c in range(13 - a - b):
                d = 16 - a - b - c
                groups = dict(zip(FIX_GROUPS, (a, b, c, d), strict=True))
                told = withheld(groups)
                hidden = [name for name, count in told.items() if count is None]
                assert all(
                    count is None or count == groups[name] >= SMALLEST_GROUP for name, count in told.items()
                )
                rest = 16 - sum(count for count in told.values() if count is not None)
                assert not hidden or (len(hidden) >= 2 and rest >= SMALLEST_GROUP)


def test_the_next_smallest_is_withheld_with_it() -> None:
    assert withheld({"a": 20, "b": 3, "c": 8, "d": 9}) == {"a": 20, "b": None, "c": None, "d": 9}
    assert withheld({"a": 20, "b": 1, "c": 1, "d": 9}) == {"a": 20, "b": None, "c": None, "d": None}
    assert withheld({"a": 20, "b": 5, "c": 8, "d": 9}) == {"a": 20, "b": 5, "c": 8, "d": 9}


def test_shared_counts_name_nobody(tmp_path: Path) -> None:
    counts = {"break_timer": (24, 18, 12), "seat_foam": (24, 8, 6), "rare": (2, 1, 1)}
    with book_of(tmp_path / "a.casebook", counts, 30) as book:
        for key in book.keys()[:9]:
            book.add_felt(key, felt(("neck", 7, 2)))
        persons = book.persons()
    told = shared_counts(persons)
    assert told.persons == 30
    by_name = {row.name: row.groups for row in told.fixes}
    assert by_name["break_timer"] == dict(zip(FIX_GROUPS, (12, 6, 6, 6), strict=True))
    assert by_name["seat_foam"] == dict(zip(FIX_GROUPS, (None, None, 16, 6), strict=True))
    assert "rare" not in by_name
    assert [row.name for row in told.felt] == ["neck"]
    assert shared_counts(persons[: SMALLEST_GROUP - 1]).persons is None
    assert not any("person" in str(row) for row in (*told.fixes, *told.felt))
