"""Patterns of prices are price tables as the loader would take them, at any number of people."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from price_patterns import PATTERNS, SCENARIO_PEOPLE, WANTED_MOST, patterned

from deskmend.intake.prices import load_prices

PRICES = load_prices(Path(__file__).resolve().parents[2] / "scenarios" / "relief_fund" / "prices.csv")


@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("count", [1, 4, 12, 24, 100, 100_000])
def test_tiers_rise_in_packs_and_fall_in_price(pattern: str, count: int) -> None:
    for item in patterned(PRICES, pattern, count).items.values():
        starts = [1, *(tier.from_packs for tier in item.tiers)]
        prices = [item.price, *(tier.price for tier in item.tiers)]
        assert starts == sorted(set(starts))
        assert prices == sorted(set(prices), reverse=True)


def test_only_what_a_pattern_names_is_changed() -> None:
    plain, bulk = patterned(PRICES, "plain", 50), patterned(PRICES, "bulk", 50)
    assert not any(item.tiers or item.stock is not None for item in plain.items.values())
    assert {name for name, item in bulk.items.items() if item.tiers} == set(WANTED_MOST)
    assert patterned(PRICES, "stock", SCENARIO_PEOPLE) == PRICES
    twice = patterned(PRICES, "stock", 2 * SCENARIO_PEOPLE)
    for name, item in PRICES.items.items():
        assert twice[name] == replace(item, stock=None if item.stock is None else 2 * item.stock)
