"""An assessment reads only what is there, and each thing once."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from deskmend.planning.explain import QuantityReading, readings
from deskmend.workstation.state import state_of

from .cases import made

S, D = "places__0__seat__", "places__0__desk__"
BOTH = {"places__0__posture": "both", D + "height": "1000", D + "underside": "970"}
WRITING = {"tasks__0__reference": "paper", "tasks__0__reference_share": "0.4", "tasks__0__writing": "yes"}


def read(**changes: Any) -> list[QuantityReading]:
    return list(readings(state_of(made(**changes))))


def test_room_over_armrests_is_read_only_where_there_are_some() -> None:
    assert "armrest_room" not in {one.name for one in read()}
    with_some = {S + "armrests": "fixed", S + "armrest_height": "220"}
    assert "armrest_room" in {one.name for one in read(**with_some)}


@pytest.mark.parametrize(
    ("changes", "wanted"),
    [
        (BOTH, {("desk_gap", "sit"), ("desk_gap", "stand")}),
        ({}, {("desk_gap", "sit"), ("standing_desk_gap", "")}),
        ({"person__cannot_stand": "yes"}, {("desk_gap", "sit")}),
    ],
)
def test_the_desk_is_read_once_for_each_way_of_working(
    changes: dict[str, Any], wanted: set[tuple[str, str]]
) -> None:
    told = Counter((one.name, one.mode) for one in read(**changes) if one.name.endswith("desk_gap"))
    assert told == Counter(wanted)


def test_an_elbow_never_hangs_below_where_it_hangs() -> None:
    """A surface below the elbow is told as too low for the hand, not as a lift within its range."""
    low = {**WRITING, "places__0__posture": "stand", D + "height": "800", D + "underside": "770"}
    found = {one.name: one for one in read(**low) if one.of == "writing"}
    assert found["elbow_lift"].value == 0.0
    assert found["hand_gap"].value < 0.0
    assert found["hand_gap"].severity > 0.0
