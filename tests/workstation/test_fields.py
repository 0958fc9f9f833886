"""Fields of a state: what their ranges have to hold."""

from __future__ import annotations

import copy
import math

from tests.planning.cases import plain

from deskmend.intake.case_file import read_case
from deskmend.intake.reading.fields import ranges
from deskmend.workstation.fields import FIELDS, LAPSED
from deskmend.workstation.state import state_of

NUMBERS = [field for field in FIELDS.values() if field.is_number]


def test_ends_are_in_order_and_those_from_100_on_round() -> None:
    """They are judgement: one that is not a multiple of ten is a slip."""
    assert [field.name for field in NUMBERS if not field.low < field.high] == []
    ends = [(field.name, end) for field in NUMBERS for end in (field.low, field.high)]
    assert [(name, end) for name, end in ends if abs(end) >= 100 and end % 10] == []


WHERE = {
    "body": "person__body",
    "person": "person",
    "seat": "places__0__seat",
    "lumbar": "places__0__seat__lumbar",
    "desk": "places__0__desk",
    "place": "places__0",
    "light": "places__0__light",
    "laptop": "devices__laptop",
    "monitor": "devices__monitor",
    "keyboard_size": "devices__keyboard_size",
    "devices": "devices",
    "screen": "screens__0",
    "task": "tasks__0",
    "paper": "tasks__0__paper",
    "scores": "tasks__0__scores",
}
"""Group of a case in which the rows of ``ranges.csv`` stand, by their first word."""
TOLD = [key for key in ranges() if key.split(".")[0] in WHERE and key != "person.discomfort"]
LARGE = {
    "person__stature": "1750",
    "places__0__desk": {"height": "1400", "edge": "rounded", "legs": "fixed", "depth": "700"},
    "places__0__seat__armrests": "fixed",
    "places__0__seat__lumbar": {"height": "180", "depth": "20"},
    "devices__monitor": {"top": "1100", "height": "300"},
    "screens": [{"kind": "monitor", "top": "1100", "height": "300"}],
    "tasks__0__reference": "paper",
}
"""Changes of the plain case under which nearly every measure can be told, whichever end it has."""
REFUSED = {
    ("body.sitting_shoulder_height", "high"),
    ("body.knee_height", "low"),
    ("body.standing_eye_height", "high"),
    ("seat.foot_ring", "high"),
    ("laptop.screen_top", "low"),
    ("laptop.screen_height", "high"),
    ("monitor.top", "low"),
    ("screen.top", "low"),
    ("task.hours", "low"),
    ("task.spell", "high"),
    ("paper.distance", "high"),
}
"""Ends that contradict another measure of that case, and are refused rather than taken and misread."""


def test_what_a_case_may_tell_lies_within_every_field_it_comes_to() -> None:
    """One list says what may be told: no field ends before it, so that nothing told is out of its range."""
    found = {(key, end): out_of_range(key, end) for key in TOLD for end in ("low", "high")}
    assert {one for one, (faults, _) in found.items() if faults} == REFUSED
    assert {one: out for one, (_, out) in found.items() if out} == {}


def out_of_range(key: str, end: str) -> tuple[list[str], list[tuple[str, object]]]:
    """Faults of a case that tells the end of a range, and fields of its state that lie out of theirs."""
    group, name = key.split(".")
    told = f"{ranges()[key].low if end == 'low' else ranges()[key].high:g}"
    where = {"share": "hands", "text_size": ""}.get(name, "") if group == "task" else ""
    path = "__".join(part for part in (WHERE[group], where, "keys" if where else name) if part)
    case, faults = read_case(plain(**{**copy.deepcopy(LARGE), path: told}), "test case")
    if case is None:
        return [str(fault) for fault in faults], []
    values = state_of(case).values
    out: list[tuple[str, object]] = [
        (field, value)
        for (_, field), value in values.items()
        if FIELDS[field].is_number and not math.isnan(float(value))
        if not FIELDS[field].low <= float(value) <= FIELDS[field].high
    ]
    return [str(fault) for fault in faults], out


def test_an_end_of_its_own_goes_further_than_what_may_be_told() -> None:
    """Else it would say a second time, or otherwise, what stands in the list."""
    for field in NUMBERS:
        if field.name in ranges():
            told = ranges()[field.name]
            assert field.low <= told.low < told.high <= field.high, field.name
    assert FIELDS["seat.recline"].high == ranges()["seat.recline"].high
    assert FIELDS["seat.slope"].low == ranges()["seat.slope"].low


def test_what_lapses_has_the_range_of_what_it_stands_for() -> None:
    assert LAPSED
    for lapsed, kept in LAPSED.items():
        ends = [(FIELDS[name].low, FIELDS[name].high, FIELDS[name].unit) for name in (lapsed, kept)]
        assert ends[0] == ends[1]
