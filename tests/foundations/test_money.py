"""Money is whole minor units in the decimals of its currency."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import each

from deskmend.errors import Unreadable
from deskmend.measures import currencies, format_amount, parse_amount, parse_currency


@pytest.mark.parametrize(
    ("code", "decimals"),
    # ISO 4217 list one, as mirrored in github.com/datasets/currency-codes, data/codes-all.csv (2013 edition).
    [("JPY", 0), ("KRW", 0), ("XOF", 0), ("EUR", 2), ("USD", 2), ("KWD", 3), ("BHD", 3), ("TND", 3)],
)
def test_decimals_of_currencies(code: str, decimals: int) -> None:
    assert currencies()[code] == decimals


@pytest.mark.parametrize(("code", "decimals"), [("UGX", 0), ("BYN", 2), ("ZMW", 2)])
def test_decimals_changed_since_that_edition(code: str, decimals: int) -> None:
    # From memory: later amendments of ISO 4217.
    assert currencies()[code] == decimals


def test_only_money_is_listed() -> None:
    # ISO 4217 list one: gold, no currency, testing, funds.
    assert not {"XAU", "XXX", "XTS", "CLF", "CHW"} & set(currencies())
    assert all(len(code) == 3 and code.isupper() and code.isascii() for code in currencies())


@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [
        ("40.00", "EUR", 4000),
        ("40", "EUR", 4000),
        ("40.5", "EUR", 4050),
        ("0", "EUR", 0),
        ("40", "JPY", 40),
        ("1.234", "KWD", 1234),
        ("000012.30", "EUR", 1230),
        ("12,5", "EUR", 1250),
        ("999999999999.99", "EUR", 99999999999999),
    ],
)
def test_amounts(text: str, currency: str, minor: int) -> None:
    assert parse_amount(text, currency) == minor


@each(
    ("text", "currency"),
    [
        *[(text, "EUR") for text in ("", "nan", "inf", "-1", "+1", "1e2", "1,500", "1,234.5", "1 000", "€4")],
        *[(text, "EUR") for text in ("4.005", "4.", ".5", "٤", "1_0", "9" * 13, "9" * 5000, "4 EUR")],
        ("40.0", "JPY"),
        ("1.2345", "KWD"),
    ],
)
def test_what_is_no_amount(text: str, currency: str) -> None:
    with pytest.raises(Unreadable):
        parse_amount(text, currency)


def test_advice() -> None:
    with pytest.raises(Unreadable, match=r"did you mean 1500\?"):
        parse_amount("1,500", "EUR")
    with pytest.raises(Unreadable, match=r"did you mean 1\.234 or 1234\?"):
        parse_amount("1,234", "KWD")
    with pytest.raises(Unreadable, match=r"did you mean 1234\.50\?"):
        parse_amount("1,234.50", "EUR")
    with pytest.raises(Unreadable, match="not negative"):
        parse_amount("-3", "EUR")
    with pytest.raises(Unreadable, match="did you mean EUR"):
        parse_currency("eur")


@pytest.mark.parametrize(
    ("minor", "currency", "text"),
    [
        (4000, "EUR", "40.00"),
        (5, "KWD", "0.005"),
        (-5, "EUR", "-0.05"),
        (-7, "JPY", "-7"),
        (0, "EUR", "0.00"),
    ],
)
def test_formats(minor: int, currency: str, text: str) -> None:
    assert format_amount(minor, currency) == text


@given(st.integers(0, 10**14 - 1), st.sampled_from(["JPY", "EUR", "KWD"]))
def test_writing_and_reading_give_the_same(minor: int, currency: str) -> None:
    if minor < 10 ** (12 + currencies()[currency]):
        assert parse_amount(format_amount(minor, currency), currency) == minor
