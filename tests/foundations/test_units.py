"""Lengths, angles and times are read exactly, and no unit is guessed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import each

from deskmend.errors import Unreadable
from deskmend.measures import Range, format_length, format_number, parse_quantity


def parse_length(text: str) -> float:
    return parse_quantity(text, "length")


# The inch is 25.4 mm and the pound 0.45359237 kg exactly: international yard and pound agreement, 1959.


@each(
    ("text", "mm"),
    [
        ("1580", 1580.0),
        ("1580 mm", 1580.0),
        (" 1580mm ", 1580.0),
        ("46.5 cm", 465.0),
        ("46,5 cm", 465.0),
        ("1,63 m", 1630.0),
        ("5 ft 2,5 in", 1587.5),
        ("1.58 m", 1580.0),
        ("62 in", 1574.8),
        ('62"', 1574.8),
        ("5 ft 2 in", 1574.8),
        ("5'2\"", 1574.8),
        ("5'2", 1574.8),
        ("5 ft", 1524.0),
        (".5 in", 12.7),
        ("-5", -5.0),
        ("0.1 cm", 1.0),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert parse_length(text) == mm


@each(
    "text",
    [
        *[
            "",
            " ",
            "nan",
            "inf",
            "-inf",
            "Infinity",
            "1e3",
            "0x10",
            "1_000",
            "1,000",
            "1:30",
            "12 px",
        ],
        *["5 ft 12 in", "5 ft -2 in", "٣", "٤٥", "1580 mm mm", "--3", "1.", "mm", "9" * 5000, "1" + "0" * 12],
    ],
)
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(Unreadable):
        parse_length(text)


def test_advice() -> None:
    with pytest.raises(Unreadable, match=r"did you mean 1\.580\?"):
        parse_length("1,580")
    with pytest.raises(Unreadable, match="did you mean 62 in"):
        parse_length("62 IN")
    with pytest.raises(Unreadable, match="mm, cm, m, in"):
        parse_length("62 px")


def test_times_and_angles() -> None:
    assert parse_quantity("4", "hours") == 4.0
    assert parse_quantity("90 min", "hours") == 1.5
    assert parse_quantity("1.5 h", "minutes") == 90.0
    assert parse_quantity("10 deg", "angle") == parse_quantity("10°", "angle") == 10.0
    assert parse_quantity("154 lb", "mass") == pytest.approx(69.853, abs=0.001)
    with pytest.raises(Unreadable):
        parse_quantity("1:30", "hours")
    with pytest.raises(Unreadable):
        parse_quantity("1:30", "minutes")
    with pytest.raises(Unreadable):
        parse_quantity("2.5", "count")


@pytest.mark.parametrize(
    ("value", "question"),
    [
        (158.0, "did you mean 1580?"),
        (62.0, 'did you mean "62 in"?'),
        (1.58, "did you mean 1580?"),
        (15800.0, "did you mean 1580?"),
        (3.0, ""),
        (1580.0, ""),
        (float("nan"), ""),
    ],
)
def test_a_range_asks_for_the_unit_that_fits(value: float, question: str) -> None:
    assert Range("length", 1000, 2300).rescaled(value) == question


def test_a_range_names_every_reading_that_fits() -> None:
    assert Range("length", 200, 1000).rescaled(30.0) == 'did you mean 300 or "30 in"?'
    assert Range("angle", 0, 10).rescaled(100.0) == ""


def test_a_range_holds_its_ends_and_never_nan() -> None:
    limits = Range("length", 200, 1000)
    assert 200 in limits
    assert 1000 in limits
    assert 199.9 not in limits
    assert float("nan") not in limits
    assert "300" not in limits
    assert str(limits) == "200 to 1000 mm"
    assert str(Range("count", 0, 10)) == "whole numbers 0 to 10"


def test_formats() -> None:
    assert format_length(1574.8) == "1575 mm"
    assert format_length(1574.8, "in") == "62 in"
    assert format_number(-0.0001) == "0"
    assert format_number(46.50) == "46.5"
    assert format_number(1e9) == "1000000000"


@given(st.integers(0, 10**7))
def test_millimetres_are_kept_as_given(tenths: int) -> None:
    text = f"{tenths // 10}.{tenths % 10}"
    assert parse_length(text) == float(text) == parse_length(f"{text} mm")


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        value = parse_length(text)
    except Unreadable:
        return
    assert abs(value) < 1e16
