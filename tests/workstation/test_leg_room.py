"""Legs that do not go under a desk: how far back the body sits, how far it reaches and leans, by hand."""

from __future__ import annotations

from itertools import pairwise
from math import asin, degrees
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made, plain

from deskmend.intake.case_file import read_case
from deskmend.planning.model.rules import breaches
from deskmend.planning.plan import plan
from deskmend.planning.plan_check import cramped
from deskmend.workstation.state import State, evaluate, state_of

CHAIR = {"height": "450", "depth": "420", "surface": "hard", "slope": "flat", "back": "flat", "recline": "5"}
BODY: dict[str, Any] = {"person__body": {}, "person__sex": "unknown", "person__stature": "1700"}
SOFA: dict[str, Any] = {
    "person__body": {},
    "person__sex": "male",
    "person__stature": "1950",
    "places__0__kind": "sofa",
    "places__0__seat": {"height": "380", "depth": "550", "surface": "foam", "back": "flat", "recline": "20"},
    "places__0__desk": {"height": "420", "underside": "390", "depth": "600"},
}


def _of(state: State, name: str, **roles: str) -> float:
    return float(evaluate(state, "work")(name, **({"mode": "sit"} | roles)))


def _front(leg_depth: float, **changes: Any) -> State:
    desk = {"height": "740", "underside": "700", "depth": "600", "leg_depth": f"{leg_depth:g}"}
    return state_of(made(**BODY, places__0__seat=CHAIR, places__0__desk=desk, **changes))


@pytest.mark.parametrize(
    ("leg_depth", "stand_off", "least_lean", "most_lean"),
    [(0, 363, 18.1, 34.5), (150, 213, 0.6, 15.5), (300, 63, 0.0, 0.0), (450, 0, 0.0, 0.0)],
)
def test_a_solid_front_keeps_the_body_back(
    leg_depth: float, stand_off: float, least_lean: float, most_lean: float
) -> None:
    # Knees need 362 mm ahead of the abdomen (ANSUR II, both sexes); reach 300 + stand-off; lean between
    # asin((reach - 508) / (shoulder over seat - 85)), arms straight, and that with 380, elbow at the side.
    state = _front(leg_depth)
    assert _of(state, "stand_off") == pytest.approx(stand_off, abs=6)
    assert _of(state, "reach_forward", hand="keys") == pytest.approx(300 + stand_off, abs=6)
    assert least_lean <= _of(state, "reach_lean", hand="keys") <= most_lean
    assert least_lean - 0.7 <= _of(state, "trunk_inclination", target="screen") <= most_lean


def test_less_leg_room_never_lowers_reach_or_lean() -> None:
    found = [_front(depth) for depth in range(600, -1, -20)]
    for name, roles in (
        ("stand_off", {}),
        ("reach_forward", {"hand": "keys"}),
        ("reach_lean", {"hand": "keys"}),
        ("trunk_inclination", {"target": "screen"}),
        ("target_distance", {"target": "screen"}),
    ):
        values = [_of(state, name, **roles) for state in found]
        assert values == sorted(values), name


def test_a_narrow_knee_hole_is_none() -> None:
    narrow = {"height": "740", "underside": "700", "depth": "600"}
    by_width = [
        _of(
            state_of(made(**BODY, places__0__seat=CHAIR, places__0__desk=narrow | {"leg_width": width})),
            "stand_off",
        )
        for width in ("0", "350", "400", "450", "1000")
    ]
    assert by_width[0] == by_width[1] == pytest.approx(363, abs=6)
    assert 100 < by_width[2] < 250
    assert by_width[3] == by_width[4] == 0.0


def test_tall_man_on_a_sofa_leans() -> None:
    state = state_of(made(**SOFA))
    body = state.body
    # Knees need buttock-knee less belly; both by the fits for men.
    need = (0.357 * 1950 - 9.0) - (0.0786 * 1950 + 116.7)
    assert _of(state, "stand_off") == pytest.approx(need, abs=6)
    # Shoulder over hip; reach 300 + 417; arms straight at 508 scaled, elbow at the side at 380 scaled.
    trunk = body["sitting_shoulder_height"] - 85.0
    scale = body["forearm_hand_length"] / 460.0
    straight = degrees(asin((300 + need - 508 * scale) / trunk))
    assert straight == pytest.approx(13, abs=1)
    assert straight <= _of(state, "reach_lean", hand="keys") <= 27
    assert straight <= _of(state, "trunk_inclination", target="screen") <= 27


def test_a_little_too_low_brings_the_body_back_a_little() -> None:
    # 1 mm of clearance is within what a tape can tell: it must not move anybody by a hand's breadth.
    room = _of(state_of(made()), "clearance")
    offs = []
    for lack in range(-10, 80, 2):
        underside = f"{620 - room - lack:g}"
        desk = {"height": "650", "underside": underside, "depth": "700", "width": "1200"}
        offs.append(_of(state_of(made(places__0__desk=desk)), "stand_off"))
    assert offs == sorted(offs)
    assert offs[0] == 0.0
    assert max(b - a for a, b in pairwise(offs)) <= 90
    assert offs[-1] == pytest.approx(_of(state_of(made()), "legs_need"), abs=5)


# --- one frame, from the desk's edge -------------------------------------------------------------

PAPER: dict[str, Any] = {"tasks__0__main": "paper", "tasks__0__writing": "yes", "tasks__0__hours": "2"}


def test_paper_is_told_from_the_desks_edge() -> None:
    # Upright eye 243 behind the edge: the anchor's 493 less the 250 at which its sheet lies.
    for distance in (150, 250, 400):
        state = state_of(made(**PAPER, tasks__0__paper={"at": "front", "distance": f"{distance}"}))
        assert _of(state, "target_distance", target="paper") == 243 + distance


def test_paper_beyond_the_desk_is_a_fault() -> None:
    told = plain(**PAPER, tasks__0__paper={"at": "front", "distance": "750"})
    case, faults = read_case(told, "test case")
    assert case is None
    assert "at most desk.depth, 700 mm" in str(faults[0])


def test_a_keyboard_in_front_pushes_the_laptop_back_as_far_as_the_desk_goes() -> None:
    for depth, distance in (("700", 650), ("400", 613)):
        desk = {"height": "650", "underside": "620", "depth": depth, "width": "1200"}
        state = state_of(made(places__0__desk=desk))
        apart = state.with_values({(("device", ""), "keyboard"): "separate"})
        assert _of(state, "target_distance", target="screen") == 500
        assert _of(apart, "target_distance", target="screen") == distance


def test_a_measured_distance_is_what_it_was_measured_as() -> None:
    desk = {"height": "650", "underside": "620", "depth": "700", "leg_depth": "100"}
    for keyboard in ("built_in", "separate"):
        case = made(places__0__desk=desk, devices__keyboard=keyboard, tasks__0__viewing_distance="720")
        assert _of(state_of(case), "target_distance", target="screen") == pytest.approx(720, abs=0.1)


# --- no choice leads there -----------------------------------------------------------------------

TWO = made(
    places=[
        {
            "id": "den",
            "seat": {"height": "420", "depth": "420", "back": "flat", "base": "legs"},
            "desk": {"height": "700", "underside": "660", "depth": "600"},
        },
        {
            "id": "lounge",
            "kind": "sofa",
            "seat": {"height": "380", "depth": "520", "back": "flat", "surface": "foam"},
            "desk": {"height": "420", "underside": "390", "depth": "600"},
        },
    ]
)


def test_no_plan_takes_a_task_where_the_legs_do_not_fit() -> None:
    state = state_of(TWO)
    moved = state.with_values({}, {"work": "lounge"})
    fix = CATALOG.by_id["place"]
    assert any("under the desk there" in b.reason for b in breaches(state, moved, [(fix, ("task", "work"))]))
    assert cramped(state, moved)
    assert not cramped(moved, state)
    assert plan(TWO, CATALOG, SAMPLE).state_after.place_of["work"] == "den"


def test_the_check_sees_less_room_where_there_is_none() -> None:
    state = state_of(made(**SOFA))
    place: Any = ("place", "den")
    lower = state.with_values({(place, "desk.lap_lost"): 20.0})
    assert not cramped(state, state)
    assert cramped(state, lower)
    after = plan(made(**SOFA), CATALOG, SAMPLE).state_after
    assert _of(after, "clearance") >= _of(state, "clearance")


@pytest.mark.parametrize(("middle", "pushed"), [("screen", 0), ("paper", 0), ("both", 240)])
def test_keys_and_screen_of_one_laptop_go_together(middle: str, pushed: float) -> None:
    """Paper in line pushes both as far as the desk holds; of paper in the middle a laptop goes aside.

    By 240: A4 is 297 long, less a margin of 30 at either end, to the nearest 10.
    """
    at = {"front": "front", "screen": "left"}
    task: dict[str, Any] = {
        "tasks__0__reference": "paper",
        "tasks__0__paper__at": at["front"] if middle == "both" else "left",
        "tasks__0__middle": "paper" if middle == "paper" else "unknown",
    }
    for depth, held in ((700.0, pushed), (400.0, min(pushed, 400 - 30 - 257))):
        state = state_of(made(**task, places__0__desk__depth=str(depth)))
        assert state.values[("task", "work"), "task.middle"] == middle
        assert _of(state, "target_distance", target="screen") == 500 + held
        assert _of(state, "reach_forward", hand="keys") == 300 + held
        assert _of(state, "reach_forward", hand="mouse") == 300 + held


def test_a_laptop_read_from_nearer_has_its_keys_nearer() -> None:
    for told in (430.0, 560.0):
        state = state_of(made(tasks__0__viewing_distance=str(told)))
        assert _of(state, "reach_forward", hand="keys") == 300 + told - 500
