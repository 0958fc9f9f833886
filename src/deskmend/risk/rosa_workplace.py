"""ROSA items from the postures of a workplace, as quantities.

ROSA is for seated work: everything is asked in sitting, and hours are those
spent sitting. Items and tables are those of :mod:`deskmend.risk.rosa`; what no
measure tells has a default, named in ``docs/methods.md``, that a case can
replace under ``scores`` of a task.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from deskmend.risk import rosa
from deskmend.risk.ranges import BoolArray, IntArray
from deskmend.risk.rula_postures import is_yes
from deskmend.risk.scored_items import item_rule, scored_item
from deskmend.risk.severity import curves
from deskmend.workstation.quantities import Array, Words, quantity

__all__ = ["DIFFERENT_SURFACE_OVER", "LOOSE_PAPER_UNDER", "SIT", "back_support_score", "mouse_score"]

Arguments = Mapping[str, Any]

DIFFERENT_SURFACE_OVER = 50.0
"""Height between keys and mouse from which they count as on different surfaces [mm] (judgement)."""
LOOSE_PAPER_UNDER = 10.0
"""Slope from which paper counts as held by a holder [deg] (judgement; 10 is the slope studied by
freudenthal_1991)."""

SIT: Mapping[str, str] = {"mode": "sit"}


# --- conditions ----------------------------------------------------------------------------------


@quantity("-", cut=True)
def feet_hang_flag(leg_gap: Array) -> BoolArray:
    """Feet do not reach what they should rest on: as far as severity 1 of hanging feet."""
    return np.asarray(leg_gap >= curves()["leg_gap"].one_at)


@quantity("-", cut=True)
def legs_cramped_flag(clearance: Array) -> BoolArray:
    """Too little space under the desk: less than the strain index lets pass."""
    return np.asarray(clearance < curves()["clearance"].zero_at)


@quantity("-", cut=True)
def papers_loose_flag(look_paper: Array, paper_slope: Array, desk_tilt: Array) -> BoolArray:
    """Paper is looked at and lies without a holder."""
    return np.asarray((look_paper > 0) & (paper_slope + desk_tilt < LOOSE_PAPER_UNDER))


@quantity("-", name="reaching_flag", cut=True, hand="mouse")
def mouse_reaching(reach: Array, arm_out_flag: BoolArray) -> BoolArray:
    """The arm reaches for the mouse: to the side, or further than the strain index lets pass."""
    return np.asarray(arm_out_flag | (reach > curves()["reach"].zero_at))


# --- time of use ---------------------------------------------------------------------------------


def _time(hours: Array, seated: Array, share: Array, unbroken: Array) -> Arguments:
    return {"hours_a_day": np.asarray(hours) * seated * share, "unbroken_minutes": unbroken}


def _points(hours: Array, seated: Array, share: Array, unbroken: Array) -> IntArray:
    return rosa.duration(**_time(hours, seated, share, unbroken))


@quantity("-", cut=True)
def rosa_chair_time_score(task_hours: Array, mode_share: Array, sitting_spell: Array) -> IntArray:
    """ROSA time of use of the chair: the task's seated hours, the place's longest sitting."""
    return _points(task_hours, mode_share, np.asarray(1.0), sitting_spell)


@quantity("-", cut=True)
def rosa_monitor_time_score(
    task_hours: Array, mode_share: Array, look_screen: Array, look_second: Array, task_spell: Array
) -> IntArray:
    """ROSA time of use of all screens together."""
    return _points(task_hours, mode_share, look_screen + look_second, task_spell)


@quantity("-", cut=True)
def rosa_hand_time_score(
    task_hours: Array, mode_share: Array, hand_share: Array, task_spell: Array
) -> IntArray:
    """ROSA time of use of keyboard or mouse."""
    return _points(task_hours, mode_share, hand_share, task_spell)


@quantity("-", cut=True)
def rosa_telephone_time_score(
    task_hours: Array, mode_share: Array, task_phone_share: Array, task_spell: Array
) -> IntArray:
    """ROSA time of use of the telephone."""
    return _points(task_hours, mode_share, task_phone_share, task_spell)


# --- items ---------------------------------------------------------------------------------------


@scored_item("rosa", "seat_height", mode="sit")
def _seat_height(
    knee_angle: Array, feet_hang_flag: BoolArray, legs_cramped_flag: BoolArray, seat_adjustable: Words
) -> Arguments:
    """ROSA seat height; a seat of which nobody told that it can be set counts as not adjustable."""
    return {
        "knee_angle_deg": knee_angle,
        "foot_contact": ~np.asarray(feet_hang_flag),
        "space_short": legs_cramped_flag,
        "fixed": ~is_yes(seat_adjustable),
    }


@scored_item("rosa", "seat_depth", mode="sit")
def _seat_depth(seat_clearance: Array, scores_seat_depth_adjustable: Words) -> Arguments:
    """ROSA seat depth."""
    return {"clearance_mm": seat_clearance, "fixed": ~is_yes(scores_seat_depth_adjustable)}


@scored_item("rosa", "armrest", mode="sit")
def _armrest(
    armrest_gap: Array, seat_armrests: Words, scores_armrest_hard: Words, scores_armrest_wide: Words
) -> Arguments:
    """ROSA armrest; armrests of unknown height are not known to support the elbows."""
    word = np.asarray(seat_armrests)
    there = (word == "fixed") | (word == "adjustable")
    measured = there & ~np.isnan(armrest_gap)
    return {
        "height_gap_mm": np.where(measured & (word == "fixed"), armrest_gap, 0.0),
        "present": measured | (word == "adjustable"),
        "hard": is_yes(scores_armrest_hard),
        "wide": is_yes(scores_armrest_wide),
        "fixed": word == "fixed",
    }


@item_rule("rosa", "back_support")
def back_support_score(
    seat_recline: Array,
    well_supported: BoolArray,
    seat_back: Words,
    leaning: BoolArray,
    raised: BoolArray,
    back_adjustable: Words,
) -> Arguments:
    """ROSA back support."""
    return {
        "back_angle_deg": 90.0 + np.asarray(seat_recline),
        "lumbar": well_supported,
        "used": (np.asarray(seat_back) != "none") & ~np.asarray(leaning),
        "surface_high": raised,
        "fixed": ~is_yes(back_adjustable),
    }


def _monitor(
    gaze_centre: Array,
    viewing_distance: Array,
    neck_rotation: Array,
    glare_severity: Array,
    papers_loose_flag: BoolArray,
    rosa_monitor_time_score: IntArray,
    look_share: Array,
) -> Arguments:
    """ROSA monitor."""
    return {
        "gaze_down_deg": gaze_centre,
        "distance_mm": viewing_distance,
        "twist_deg": neck_rotation,
        "glare": glare_severity > 0,
        "documents_loose": papers_loose_flag,
        "duration": rosa_monitor_time_score,
        "in_use": np.asarray(look_share) > 0,
    }


for _target in ("screen", "second"):
    scored_item("rosa", "monitor", mode="sit", target=_target)(_monitor)


@scored_item("rosa", "telephone", mode="sit")
def _telephone(
    phone: Words,
    scores_phone_reach: Array,
    scores_hands_free: Words,
    rosa_telephone_time_score: IntArray,
    task_phone_share: Array,
) -> Arguments:
    """ROSA telephone."""
    word = np.asarray(phone)
    return {
        "reach_mm": scores_phone_reach,
        "neck_hold": word == "cradled",
        "hands_free": (word == "headset") | is_yes(scores_hands_free),
        "duration": rosa_telephone_time_score,
        "in_use": (np.asarray(task_phone_share) > 0) & (word != "none"),
    }


@item_rule("rosa", "mouse")
def mouse_score(
    reaching: BoolArray,
    other_surface: BoolArray,
    mouse_small: Words,
    palm_rest: Words,
    time: IntArray,
    share: Array,
) -> Arguments:
    """ROSA mouse."""
    return {
        "reaching": reaching,
        "other_surface": other_surface,
        "pinch_grip": is_yes(mouse_small),
        "palm_rest": is_yes(palm_rest),
        "duration": time,
        "in_use": np.asarray(share) > 0,
    }


@scored_item("rosa", "keyboard", mode="sit", hand="keys")
def _keyboard(
    wrist_extension: Array,
    arm_raised_flag: BoolArray,
    scores_wrist_deviated: Words,
    scores_reach_overhead: Words,
    desk_adjustable: Words,
    rosa_hand_time_score: IntArray,
    hands_keys: Array,
) -> Arguments:
    """ROSA keyboard; its surface is adjustable where the desk is."""
    return {
        "wrist_extension_deg": wrist_extension,
        "deviated": is_yes(scores_wrist_deviated),
        "too_high": arm_raised_flag,
        "overhead": is_yes(scores_reach_overhead),
        "fixed": ~is_yes(desk_adjustable),
        "duration": rosa_hand_time_score,
        "in_use": np.asarray(hands_keys) > 0,
    }
