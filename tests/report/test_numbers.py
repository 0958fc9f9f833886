"""Numbers as they are shown; expected texts are worked out by hand."""

from __future__ import annotations

import json
import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from deskmend.report.documents import quantity_json, strain_json
from deskmend.report.words import minutes_text, money_text, quantity_text, range_words, strain_text


@pytest.mark.parametrize(
    ("millionths", "decimals", "text"),
    [
        (35_254_569, 1, "35.3"),
        (35_250_000, 1, "35.3"),
        (35_249_999, 1, "35.2"),
        (0, 1, "0.0"),
        (-1, 2, "0.00"),
        (-1_234_567, 2, "-1.23"),
        (4, 2, "0.00"),
        (5_000, 2, "0.01"),
        (123_456_789_012_345, 0, "123456789"),
    ],
)
def test_strain_is_rounded_half_up(millionths: int, decimals: int, text: str) -> None:
    assert strain_text(millionths, decimals) == text


@given(st.integers(min_value=0, max_value=10**14))
def test_strain_in_json_is_exact_to_the_sixth_decimal(millionths: int) -> None:
    written = json.dumps(strain_json(millionths))
    assert Decimal(written) * 1_000_000 == millionths


def test_strain_that_has_no_exact_binary_value() -> None:
    assert json.dumps(strain_json(35_254_569)) == "35.254569"
    assert json.dumps(strain_json(100_000)) == "0.1"


@pytest.mark.parametrize(
    ("value", "shown"),
    [(1.23456, 1.235), (-0.0001, 0.0), (math.nan, None), (math.inf, None), (None, None), (105.0, 105.0)],
)
def test_quantities_in_json_have_three_decimals_and_are_finite(
    value: float | None, shown: float | None
) -> None:
    result = quantity_json(value)
    assert result == shown
    assert result is None or math.copysign(1, result) == (1 if result >= 0 else -1)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (38.4, "deg", "38 degrees"),
        (-0.2, "mm", "0 mm"),
        (105.0, "mm", "105 mm"),
        (0.456, "-", "0.46"),
        (350.0, "lux", "350 lux"),
        (math.nan, "mm", "not known"),
    ],
)
def test_quantities_for_the_eye(value: float, unit: str, text: str) -> None:
    assert quantity_text(value, unit) == text


def test_ranges() -> None:
    assert range_words(-10.0, 40.0, "mm", "any") == "-10 to 40 mm"
    assert range_words(None, 15.0, "deg", "any") == "at most 15 degrees"
    assert range_words(50.0, None, "mm", "any") == "at least 50 mm"
    assert range_words(None, None, "mm", "any") == ""


def test_money_has_the_decimals_of_its_currency() -> None:
    assert money_text(4000, "EUR") == "40.00 EUR"
    assert money_text(4000, "JPY") == "4000 JPY"
    assert money_text(4000, "KWD") == "4.000 KWD"


@pytest.mark.parametrize(
    ("minutes", "text"), [(0, "0 min"), (45, "45 min"), (60, "1 h"), (135, "2 h 15 min"), (1500, "25 h")]
)
def test_minutes(minutes: int, text: str) -> None:
    assert minutes_text(minutes) == text
