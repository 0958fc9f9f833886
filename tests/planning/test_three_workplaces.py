"""Three invented workplaces that no figure was chosen by, with heights and rooms worked out by hand.

A tablet at a dining table, an armchair whose armrests meet the desk, and a reception desk of two people.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from tests.catalog.small_catalog import shipped_only
from tests.planning.cases import CATALOG, SAMPLE

from deskmend.intake.case import Case
from deskmend.intake.case_file import read_case
from deskmend.planning.assessment import assess
from deskmend.planning.fit import lacks_of
from deskmend.planning.plan import Plan, plan
from deskmend.report.assessment import assessment_text
from deskmend.report.fit import fit_lines
from deskmend.report.plan import plan_text
from deskmend.workstation.state import evaluate, state_of

TABLET: dict[str, Any] = {
    "format": "deskmend-case/1",
    "person": {
        "stature": "1720",
        "sex": "female",
        "shoes": "20",
        "writing_hand": "right",
        "mouse_hand": "right",
        "eyewear": "multifocal",
        "body": {"popliteal_height": "425", "sitting_elbow_height": "245"},
    },
    "places": [
        {
            "id": "dining",
            "seat": {"height": "450", "depth": "410", "surface": "hard", "back": "flat", "recline": "0"},
            "desk": {"height": "765", "underside": "655", "depth": "850", "width": "1600", "edge": "sharp"},
            "feet_on": "floor",
            "light": {"lux": "300", "glare": "lamp"},
        }
    ],
    "devices": {
        "laptop": {"screen_top": "165", "screen_height": "150", "keys": "8"},
        "keyboard": "built_in",
        "mouse": "touchpad",
    },
    "tasks": [{"id": "letters", "place": "dining", "hours": "3", "spell": "60", "main": "laptop"}],
    "means": {"currency": "EUR", "budget": "18.00", "skill": "1", "may_alter": "no"},
}
ARMCHAIR: dict[str, Any] = {
    "format": "deskmend-case/1",
    "person": {
        "stature": "1840",
        "sex": "male",
        "shoes": "25",
        "writing_hand": "left",
        "mouse_hand": "right",
        "eyewear": "single_vision",
        "body": {"popliteal_height": "460", "sitting_elbow_height": "255"},
    },
    "places": [
        {
            "id": "control",
            "seat": {
                "height": "470",
                "depth": "500",
                "surface": "foam",
                "back": "shaped",
                "recline": "10",
                "armrests": "fixed",
                "armrest_height": "250",
                "base": "wheels",
            },
            "desk": {"height": "725", "underside": "690", "depth": "750", "width": "1400", "edge": "sharp"},
            "feet_on": "floor",
            "light": {"lux": "450", "glare": "none"},
        }
    ],
    "devices": {
        "monitor": {"top": "430", "height": "290"},
        "keyboard": "separate",
        "keyboard_size": {"number_pad": "yes"},
        "mouse": "separate",
    },
    "screens": [{"kind": "monitor", "top": "430", "height": "290", "angle": "50", "share": "0.3"}],
    "tasks": [{"id": "dispatch", "place": "control", "hours": "7", "spell": "110", "main": "monitor"}],
    "means": {"currency": "EUR", "budget": "55.00", "skill": "2", "tools": ["screwdriver"]},
}
RECEPTION: dict[str, Any] = {
    "format": "deskmend-case/1",
    "person": {
        "stature": "1560",
        "sex": "female",
        "shoes": "30",
        "writing_hand": "right",
        "mouse_hand": "right",
        "eyewear": "none",
        "body": {"popliteal_height": "370", "thigh_clearance": "163"},
    },
    "places": [
        {
            "id": "reception",
            "seat": {
                "height": "480",
                "height_range": ["420", "540"],
                "depth": "450",
                "surface": "foam",
                "back": "shaped",
                "recline": "5",
                "armrests": "none",
                "base": "wheels",
                "shared_with": [{"stature": "1880", "sex": "male", "shoes": "25"}],
            },
            "desk": {"height": "740", "underside": "700", "depth": "700", "width": "1100", "edge": "rounded"},
            "feet_on": "floor",
            "light": {"lux": "400", "glare": "none"},
        }
    ],
    "devices": {
        "laptop": {"screen_top": "225", "screen_height": "185", "keys": "20", "depth": "235"},
        "keyboard": "separate",
        "mouse": "separate",
    },
    "tasks": [
        {
            "id": "guests",
            "place": "reception",
            "hours": "5",
            "spell": "70",
            "main": "laptop",
            "reference": "paper",
            "reference_share": "0.25",
            "writing": "yes",
            "paper": {"at": "left"},
        }
    ],
    "owns": {"hardback_book": ["30", "45", "50"]},
    "means": {"currency": "EUR", "budget": "30.00", "skill": "2", "may_alter": "no"},
}


def read(data: dict[str, Any]) -> Case:
    case, faults = read_case(data, "a workplace")
    assert case is not None
    assert not faults, [str(fault) for fault in faults]
    return case


@pytest.mark.parametrize(
    ("data", "quantity", "roles", "by_hand"),
    [
        # seat edge 450 above hollow of the knee 425 and shoes 20; table 765 and tablet 165
        (TABLET, "leg_gap", {}, 450 - 425 - 20),
        (TABLET, "target_top_height", {"target": "screen"}, 765 + 165),
        (TABLET, "width_left", {}, 1600 - 330),
        # armrests at 470 + 250 under 690; keyboard 440 and mouse 200; keyboard 150, foot 42, margin 30
        (ARMCHAIR, "leg_gap", {}, 470 - 460 - 25),
        (ARMCHAIR, "armrest_room", {}, 690 - (470 + 250)),
        (ARMCHAIR, "target_top_height", {"target": "screen"}, 725 + 430),
        (ARMCHAIR, "width_left", {}, 1400 - 440 - 200),
        (ARMCHAIR, "depth_left", {}, 750 - 150 - 42 - 30),
        # pictures 290 high are 516 wide
        (ARMCHAIR, "screens_left", {}, 1400 - 516 - 516),
        (RECEPTION, "leg_gap", {}, 480 - 370 - 30),
        (RECEPTION, "clearance", {}, 700 - (480 + 163)),
        (RECEPTION, "target_top_height", {"target": "screen"}, 740 + 225),
        (RECEPTION, "width_left", {}, 1100 - 440 - 200 - 180),
        (RECEPTION, "depth_left", {}, 700 - 150 - 235 - 30),
    ],
)
def test_heights_and_rooms_by_hand(
    data: dict[str, Any], quantity: str, roles: dict[str, str], by_hand: float
) -> None:
    case = read(data)
    ask = evaluate(state_of(case), case.tasks[0].id)
    assert float(ask(quantity, mode="sit", **roles)) == by_hand


@pytest.mark.parametrize("data", [TABLET, ARMCHAIR, RECEPTION])
def test_elbow_and_hands_add_up(data: dict[str, Any]) -> None:
    """Elbows hang at most at seat and sitting elbow height, and at most 40 lower for a sunken back."""
    case = read(data)
    state = state_of(case)
    ask = evaluate(state, case.tasks[0].id)
    elbow = float(ask("elbow_height", mode="sit"))
    upright = float(ask("seat_front")) + state.body["sitting_elbow_height"]
    assert upright - 40 <= elbow <= upright
    keys = {"dining": 8, "control": 20, "reception": 20}[case.places[0].id]
    assert float(ask("hand_gap", hand="keys", mode="sit")) == float(ask("work_surface")) + keys - elbow


def test_the_tablets_table_is_told_as_too_high_for_the_seat_there_is() -> None:
    """Hands at 773 are 78 above 450 + 245 even upright; what suits lies around that elbow."""
    told = " ".join(assessment_text(assess(read(TABLET), shipped_only(), SAMPLE), CATALOG).split())
    assert "At dining the table is too high for the arms: 765 mm. With the seat at 450 mm" in told
    suits = told.split("(front edge, sat upon), ")[1].split(" mm would suit")[0]
    low, high = map(int, suits.split(" to "))
    assert low <= 450 + 245 - 8 <= high


def test_armrests_that_meet_the_desk_say_what_the_owners_leave_would_do() -> None:
    case = read(ARMCHAIR)
    (lack,) = lacks_of(state_of(case))
    assert (lack.kind, lack.by) == ("armrests_under", 30)
    catalog = shipped_only("armrests_off", "back_towel")
    (line,) = fit_lines(plan(case, catalog, SAMPLE, 0).lacks)
    assert (
        "No choice here mends that, at any price. With the owner's leave this would: Take the armrests"
        in line
    )
    assert "armrests at most 220 mm above the bare seat" in line
    granted = read({**ARMCHAIR, "room": {"landlord_leave": "yes"}})
    assert plan(granted, catalog, SAMPLE, 0, must=["armrests_off"]).lacks == ()
    for never in ([], ["armrests_off"]):
        assert all(not one.with_leave for one in plan(granted, catalog, SAMPLE, 0, never=never).lacks)


@pytest.mark.parametrize("change", [{"person": {"cannot_stand": "yes"}}, {"seat": {"base": "wheelchair"}}])
def test_armrests_that_carry_somebody_are_not_said_to_come_off(change: dict[str, dict[str, str]]) -> None:
    place = ARMCHAIR["places"][0]
    seat = {**place["seat"], **change.get("seat", {})}
    data = {**ARMCHAIR, "places": [{**place, "seat": seat}]}
    data["person"] = {**ARMCHAIR["person"], **change.get("person", {})}
    found = plan(read(data), shipped_only("armrests_off", "back_towel"), SAMPLE, 0)
    assert "armrests_under" in {lack.kind for lack in found.lacks}
    assert not any("owner's leave" in line for line in fit_lines(found.lacks))


@cache
def of_two() -> Plan:
    return plan(read(RECEPTION), shipped_only("seat_height", "feet_book"), SAMPLE, 0)


def test_books_under_the_feet_of_one_are_told_for_the_other() -> None:
    """Feet hang 80 above the floor from a seat of 480; a pile counts whose top is within 10 of the soles."""
    assert "80 mm are lacking" in " ".join(fit_lines(lacks_of(state_of(read(RECEPTION)))))
    found = of_two()
    sizes = {option.fix.id: float(option.size or 0) for option in [step.option for step in found.steps]}
    seat = sizes.get("seat_height", 480.0)
    assert abs(seat - 400 - sizes["feet_book"]) <= 10
    assert found.lacks == ()
    told = " ".join(plan_text(found, CATALOG, SAMPLE).split())
    assert "The seat at reception is shared." in told
