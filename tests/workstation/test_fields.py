"""Fields of a state: what their ranges have to hold."""

from __future__ import annotations

import pytest

from deskmend.intake.reading.given_measure import ranges
from deskmend.workstation.fields import FIELDS, LAPSED, Field

NUMBERS = [field for field in FIELDS.values() if field.is_number]


@pytest.mark.parametrize("field", NUMBERS, ids=lambda field: field.name)
def test_ends_are_in_order_and_those_from_100_on_round(field: Field) -> None:
    """They are judgement: one that is not a multiple of ten is a slip."""
    assert field.low < field.high
    assert [end for end in (field.low, field.high) if abs(end) >= 100 and end % 10] == []


BODY = [field for field in NUMBERS if field.name in ranges() and field.name.startswith("body.")]


@pytest.mark.parametrize("field", BODY, ids=lambda field: field.name)
def test_a_length_that_a_case_may_say_lies_within(field: Field) -> None:
    """Bodies are drawn about what a case says, and refused beyond these ends."""
    told = ranges()[field.name]
    assert field.low <= told.low < told.high <= field.high


def test_what_lapses_has_the_range_of_what_it_stands_for() -> None:
    assert LAPSED
    for lapsed, kept in LAPSED.items():
        ends = [(FIELDS[name].low, FIELDS[name].high, FIELDS[name].unit) for name in (lapsed, kept)]
        assert ends[0] == ends[1]
