"""Arms as two links: triangles worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.state import evaluate

from .workplaces import changed, scenario

UPPER, FOREARM = 300.0, 400.0
"""Sides that make a 3-4-5 triangle."""


def angles(level: float, gap: float) -> tuple[float, float]:
    """Shoulder flexion and elbow flexion for a wrist so far away and so much above the elbow."""
    given = {
        "wrist_forward": np.float64(level),
        "hand_gap": np.float64(gap),
        "shoulder_elbow_length": np.float64(UPPER),
        "forearm_length": np.float64(FOREARM),
    }
    found = []
    for name in ("shoulder_flexion", "elbow_flexion"):
        entry = QUANTITIES.quantities[name][0]
        found.append(float(entry.call(*(given[need] for need in entry.needs))))
    return found[0], found[1]


def test_upper_arm_hangs_and_elbow_is_square_where_the_forearm_just_reaches() -> None:
    # Shoulder 300 above the wrist, wrist 400 ahead: sides 300, 400, 500 (Pythagoras).
    assert angles(400.0, 0.0) == pytest.approx((0.0, 90.0))


def test_nearer_work_leaves_the_arm_hanging() -> None:
    assert angles(100.0, 0.0) == pytest.approx((0.0, 90.0))


def test_raised_hands_close_the_elbow_by_the_rise_of_the_forearm() -> None:
    # A rise of half the forearm is 30 degrees: sine 0.5.
    assert angles(100.0, 200.0) == pytest.approx((0.0, 120.0))
    assert angles(100.0, -200.0) == pytest.approx((0.0, 60.0))


def test_the_straight_arm() -> None:
    # Arm of 700, shoulder 300 above the wrist: 632.456 ahead, atan2 gives 64.623 degrees.
    level = float(np.sqrt(700.0**2 - 300.0**2))
    assert angles(level, 0.0) == pytest.approx((64.623067, 0.0), abs=1e-3)


def test_a_hand_beyond_the_arm_leaves_the_arm_straight_and_pointing_there() -> None:
    flexion, elbow = angles(1000.0, 0.0)
    assert elbow == 0.0
    assert flexion == pytest.approx(np.degrees(np.arctan2(1000.0, 300.0)))


@pytest.mark.parametrize("gap", [-150.0, 0.0, 150.0])
def test_further_work_never_lowers_the_upper_arm_and_never_bends_the_elbow_more(gap: float) -> None:
    rows = [angles(level, gap) for level in range(0, 1200, 20)]
    assert [f for f, _ in rows] == sorted(f for f, _ in rows)
    assert [e for _, e in rows] == sorted((e for _, e in rows), reverse=True)


def arm(evaluation: Evaluation[np.float64], name: str, hand: str) -> float:
    return float(evaluation(name, hand=hand, mode="sit"))


def test_a_mouse_further_out_lifts_the_arm_away_from_the_side() -> None:
    state = changed(scenario("low_table_monitor"), mouse__offset=200.0)
    near = evaluate(state, state.tasks[0])
    far = evaluate(changed(state, mouse__offset=450.0), state.tasks[0])
    assert arm(near, "shoulder_abduction", "mouse") < arm(far, "shoulder_abduction", "mouse")
    assert arm(near, "upper_arm_elevation", "mouse") < arm(far, "upper_arm_elevation", "mouse")
    assert arm(near, "shoulder_abduction", "keys") == 0.0


def test_knee_is_square_where_the_seat_is_as_high_as_the_hollow_of_the_knee() -> None:
    state = scenario("kitchen_books")
    popliteal = float(state.values[("person", ""), "body.popliteal_height"])
    shoes = float(state.values[("person", ""), "person.shoes"])
    level = changed(state, seat__height=popliteal + shoes, feet__height=0.0, feet__on="floor")
    assert float(evaluate(level, "ledger")("knee_angle")) == pytest.approx(90.0)
    low = changed(level, seat__height=popliteal + shoes - 60.0)
    assert float(evaluate(low, "ledger")("knee_angle")) < 85.0


def test_padding_brings_the_elbow_up_and_leaves_the_armrest_where_it_is() -> None:
    state = changed(scenario("kitchen_books"), seat__armrests="fixed", seat__armrest_height=220.0)
    padded = changed(state, seat__pad=40.0)
    gaps = [float(evaluate(one, "ledger")("armrest_gap", mode="sit")) for one in (state, padded)]
    # A higher seat opens the hip as well, and a straighter back lifts the elbow a few mm more.
    assert gaps[0] - 45.0 <= gaps[1] <= gaps[0] - 40.0
