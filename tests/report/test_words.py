"""Plain words: every quantity, region and thing has some, and signs are told in words."""

from __future__ import annotations

import pytest

import deskmend.planning.plan  # noqa: F401  (fills the registry of quantities)
from deskmend.planning.explain import quantities_behind
from deskmend.published import read_table
from deskmend.report.words import change_words, quantity_words, range_words, region_word, value_words
from deskmend.risk.severity import REGIONS, curves
from deskmend.risk.strain import exposures
from deskmend.workstation.graph import QUANTITIES, ROLES

PHRASES = {row["name"] for row in read_table("deskmend.report", "phrases.csv")}


def test_every_quantity_that_is_shown_has_words() -> None:
    shown = {name for name, (one, *_) in QUANTITIES.quantities.items() if one.unit in ("mm", "deg")}
    assert len(shown) > 30
    assert shown - PHRASES == set()


def test_every_curve_and_exposure_has_words() -> None:
    behind = {
        name
        for one in exposures()
        for case in (ROLES[one.role] if one.role else ("",))
        if "person_shoes" not in QUANTITIES.find(one.severity, {one.role: case}).needs
        for name in (quantities_behind(one.severity, {one.role: case}) or (one.name,))
    }
    assert behind - PHRASES == set()
    assert {curve.quantity for curve in curves().values()} - PHRASES == set()


def test_no_words_are_kept_for_what_does_not_exist() -> None:
    known = set(QUANTITIES.quantities) | {one.name for one in exposures()}
    known |= {curve.quantity for curve in curves().values()} | {"seat_pressure", "back_lack"}
    assert PHRASES - known == set()


def test_every_thing_has_a_word() -> None:
    things = {row["of"] for row in read_table("deskmend.report", "things.csv")}
    assert things == {*ROLES["target"], *ROLES["hand"], "laptop", "monitor", "tablet"}


def test_every_region_has_a_word() -> None:
    assert [region_word(region) for region in REGIONS][3] == "arms and hands"


def test_phrases_name_the_thing() -> None:
    # to whom a screen stands too high it is lowered, and nobody looks down at it
    assert quantity_words("gaze_centre", "screen") == "gaze to the screen"
    assert value_words(-5, "deg", "gaze_centre") == "5 degrees above eye level"
    assert quantity_words("reach", "keys") == "reach to the keyboard"
    assert "{of}" not in quantity_words("reach", "")


@pytest.mark.parametrize(
    ("before", "after", "unit", "name", "words"),
    [
        (38.0, 20.0, "deg", "gaze_centre", "38 to 20 degrees below eye level"),
        (97.0, 87.0, "mm", "hand_gap", "97 to 87 mm above the elbow"),
        (20.0, -15.0, "mm", "hand_gap", "20 mm above the elbow to 15 mm below the elbow"),
        (20.0, 0.0, "mm", "hand_gap", "20 mm above the elbow to 0 mm"),
        (-24.0, -21.0, "deg", "wrist_extension", "24 to 21 degrees bent down"),
        (1.2, 21.0, "deg", "wrist_extension", "1 degree bent up to 21 degrees bent up"),
        (20.2, 19.8, "deg", "trunk_inclination", "20 degrees"),
        (0.6, 0.25, "-", "back_lack", "0.6 to 0.25"),
    ],
)
def test_changes(before: float, after: float, unit: str, name: str, words: str) -> None:
    assert change_words(before, after, unit, name) == words


def test_values_and_ranges_tell_their_sign() -> None:
    assert value_words(-4.0, "deg", "gaze_top") == "4 degrees above eye level"
    assert range_words(0.0, None, "deg", "gaze_top") == "not above eye level"
    assert range_words(None, 0.0, "mm", "hand_gap") == "not above the elbow"
    assert value_words(-85.0, "mm", "leg_gap") == "85 mm below the hollow of the knee"
    assert range_words(-10.0, 40.0, "mm", "hand_gap") == "10 mm below the elbow to 40 mm above the elbow"
    assert range_words(None, 15.0, "deg", "neck_rotation") == "at most 15 degrees"
    assert range_words(None, 10.0, "mm", "leg_gap") == "not over 10 mm above the hollow of the knee"
