"""Conditions of a posture that scores ask for, as quantities: arms raised, a back that carries, hanging feet.

The methods print words where a plan needs figures. Every threshold here is the one the strain index uses, or
a judgement named at its constant.
"""

from __future__ import annotations

import numpy as np

from deskmend.risk.ranges import BoolArray
from deskmend.risk.severity import curves
from deskmend.workstation.graph import Array, Words, quantity

__all__ = [
    "ABDUCTED_OVER",
    "ARM_OUT_OVER",
    "BACK_LACK_WELL_SUPPORTED",
    "LOOSE_PAPER_UNDER",
    "NEUTRAL_DEG",
    "TWISTED_OVER",
    "is_yes",
]

NEUTRAL_DEG = 5.0
"""Angle from neutral that still counts as neutral, at neck, wrist, back and hip [deg] (judgement).

The methods print no tolerance. Angles here are computed from lengths read to 10 or 20 mm: 20 mm at the desk
turn a forearm of 250 mm by 4.6 degrees. So half a degree must not count as bent."""
ABDUCTED_OVER = 20.0
"""Abduction from which the upper arm counts as away from the side [deg]: the range of ansi_hfes_100
(published); its use for RULA, which prints no figure, is a judgement."""
ARM_OUT_OVER = 100.0
"""Distance beside the shoulder from which the forearm works out to the side [mm] (judgement)."""
TWISTED_OVER = 10.0
"""Turn of neck or trunk from which it counts as twisted [deg]: iso_11226 (from memory); RULA prints none."""
BACK_LACK_WELL_SUPPORTED = 0.5
"""Lack of back support up to which the back counts as well supported [-] (judgement): a shaped back or a
tied roll, not a plain flat board."""
LOOSE_PAPER_UNDER = 10.0
"""Slope from which paper counts as held by a holder [deg] (judgement; 10 is the slope studied by
freudenthal_1991)."""


def is_yes(word: Words) -> BoolArray:
    """Where a field says yes; what is unknown does not."""
    return np.asarray(np.asarray(word) == "yes")


# --- arms ----------------------------------------------------------------------------------------


def _raised(hand_gap: Array) -> BoolArray:
    """Shoulder raised: hands higher above the elbow than the strain index lets pass."""
    return np.asarray(hand_gap > curves()["hand_high"].zero_at)


quantity("-", name="arm_raised_flag", cut=True, hand="keys")(_raised)
quantity("-", name="arm_raised_flag", cut=True, hand="mouse")(_raised)


@quantity("-", name="arm_raised_flag", cut=True, hand="writing")
def writing_raised(elbow_lift: Array) -> BoolArray:
    """Shoulder raised by a desk high above the elbow."""
    return np.asarray(elbow_lift > curves()["writing_high"].zero_at)


@quantity("-", cut=True)
def arm_abducted_flag(shoulder_abduction: Array) -> BoolArray:
    """Upper arm away from the side."""
    return np.asarray(shoulder_abduction > ABDUCTED_OVER)


def _out(outside_shoulder: Array) -> BoolArray:
    """Forearm out to the side."""
    return np.asarray(outside_shoulder > ARM_OUT_OVER)


quantity("-", name="arm_out_flag", cut=True, hand="keys")(_out)
quantity("-", name="arm_out_flag", cut=True, hand="mouse")(_out)


@quantity("-", name="arm_out_flag", cut=True, hand="writing")
def writing_across(reach_sideways: Array) -> BoolArray:
    """Forearm across the midline, to paper on the other hand's side."""
    return np.asarray(reach_sideways > 0.0)


@quantity("-", name="reaching_flag", cut=True, hand="mouse")
def mouse_reaching(reach: Array, arm_out_flag: BoolArray) -> BoolArray:
    """The arm reaches for the mouse: to the side, or further than the strain index lets pass."""
    return np.asarray(arm_out_flag | (reach > curves()["reach"].zero_at))


# --- back and trunk ------------------------------------------------------------------------------


@quantity("-", cut=True)
def back_well_supported_flag(back_lack: Array, seat_back: Words) -> BoolArray:
    """There is a back to lean on, and it carries the small of the back."""
    return np.asarray((back_lack <= BACK_LACK_WELL_SUPPORTED) & (np.asarray(seat_back) != "none"))


@quantity("-", cut=True)
def hip_open_flag(hip_angle: Array) -> BoolArray:
    """Hip angle of 90 or more, within the neutral tolerance."""
    return np.asarray(hip_angle >= 90.0 - NEUTRAL_DEG)


@quantity("-", cut=True)
def leaning_forward_flag(trunk_inclination: Array) -> BoolArray:
    """Trunk off the backrest, leaning to what is looked at by more than the neutral tolerance."""
    return np.asarray(trunk_inclination > NEUTRAL_DEG)


@quantity("-", name="trunk_rests_flag", cut=True, mode="sit")
def trunk_rests_sitting(
    leaning_forward_flag: BoolArray, back_well_supported_flag: BoolArray, hip_open_flag: BoolArray
) -> BoolArray:
    """Seated, back well supported, hip angle 90 or more."""
    return ~leaning_forward_flag & back_well_supported_flag & hip_open_flag


@quantity("-", name="trunk_rests_flag", cut=True, mode="stand")
def trunk_rests_standing(person_shoes: Array) -> BoolArray:
    """Never: the score 1 is printed for seated work (a worksheet gives it to erect standing, from memory)."""
    return np.asarray(person_shoes < 0.0)


# --- legs, paper ---------------------------------------------------------------------------------


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
