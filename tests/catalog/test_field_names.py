"""Names of fields that a catalog gives: one word, or two with a point between, in small letters."""

from __future__ import annotations

import pytest

from deskmend.intake.catalog_records import _names
from deskmend.intake.reading.fields import Unreadable


@pytest.mark.parametrize("text", ["size", "seat.height", "seat.height_range", "seat2.height"])
def test_a_name_of_a_field_is_read_as_it_stands(text: str) -> None:
    assert _names(text, {}) == text


@pytest.mark.parametrize(
    "given",
    [
        "",
        "Seat.height",
        "seat.Height",
        "seat.height-range",
        "seat height",
        ".height",
        "seat.",
        "a.b.c",
        3,
        None,
    ],
)
def test_what_is_no_name_of_a_field_is_refused(given: object) -> None:
    with pytest.raises(Unreadable):
        _names(given, {})
