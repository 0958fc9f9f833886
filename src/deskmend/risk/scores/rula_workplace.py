"""RULA from the postures of a workplace: items, tables and grand score as quantities.

Each is asked in the roles it hangs on: the hand's activity, the tool looked at,
sitting or standing. The activity ``rest`` stands for hands that rest while one
looks. Tables and bands are those of :mod:`deskmend.risk.rula`; every threshold
here is the one the strain index uses, or a judgement named at its function.

Which work of the hands goes with which look: the postures of a task that RULA scores.

RULA scores one posture at a time. Keys and mouse are paired with the screens,
keys also with paper (copying), writing with paper. What is looked at while no
activity goes with it is paired with resting hands; hands whose own tool is not
looked at are paired with what is. All of this is a judgement.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from deskmend.risk import rula
from deskmend.risk.ranges import BoolArray, IntArray
from deskmend.risk.scores.scored_items import NEUTRAL_DEG, composed, scored_item
from deskmend.risk.severity import curves
from deskmend.workstation.graph import Array, Words, quantity

__all__ = [
    "ABDUCTED_OVER",
    "ARM_OUT_OVER",
    "BACK_LACK_WELL_SUPPORTED",
    "HANDS",
    "TARGETS",
    "TWISTED_OVER",
    "is_yes",
    "pairs",
]

HANDS = ("keys", "mouse", "writing", "rest")
TARGETS = ("screen", "second", "paper")


def pairs() -> Iterator[tuple[str, str]]:
    """Every activity of the hands with every tool looked at; their share may be 0."""
    yield from ((hand, target) for target in TARGETS for hand in HANDS)


def _shares(
    look: tuple[Array, Array, Array], hands: tuple[Array, Array, Array]
) -> dict[tuple[str, str], Array]:
    """Part of the looking time of each pair [-]; they add up to the looking time."""
    screen, second, paper = (np.asarray(share, dtype=float) for share in look)
    keys, mouse, writing = (np.asarray(share, dtype=float) for share in hands)
    at_screens = (screen > 0) | (second > 0)
    beside = np.where(paper > 0, 0.0, writing)
    on_paper = np.where(at_screens, 0.0, mouse)
    wanted = {
        "screen": (keys, mouse, beside),
        "second": (keys, mouse, beside),
        "paper": (keys, on_paper, writing),
    }
    out: dict[tuple[str, str], Array] = {}
    for target, looked in (("screen", screen), ("second", second), ("paper", paper)):
        total = wanted[target][0] + wanted[target][1] + wanted[target][2]
        whole = np.where(total > 0, total, 1.0)
        for hand, share in zip(HANDS, wanted[target], strict=False):
            out[hand, target] = looked * share / whole
        out["rest", target] = np.where(total > 0, 0.0, looked)
    return out


def _register(hand: str, target: str) -> None:
    @quantity("-", name="pair_share", hand=hand, target=target)
    def share_of_pair(
        look_screen: Array,
        look_second: Array,
        look_paper: Array,
        hands_keys: Array,
        hands_mouse: Array,
        hands_writing: Array,
    ) -> Array:
        """Part of the looking time in which the hands do one thing and one tool is looked at."""
        look = (look_screen, look_second, look_paper)
        return _shares(look, (hands_keys, hands_mouse, hands_writing))[hand, target]


for _hand, _target in pairs():
    _register(_hand, _target)


Arguments = Mapping[str, Any]

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


def is_yes(word: Words) -> BoolArray:
    """Where a field says yes; what is unknown does not."""
    return np.asarray(np.asarray(word) == "yes")


# --- conditions ----------------------------------------------------------------------------------


def _raised(hand_gap: Array) -> BoolArray:
    """Shoulder raised: hands higher above the elbow than the strain index lets pass."""
    return np.asarray(hand_gap > curves()["hand_high"].zero_at)


quantity("-", name="arm_raised_flag", cut=True, hand="keys")(_raised)
quantity("-", name="arm_raised_flag", cut=True, hand="mouse")(_raised)


@quantity("-", name="arm_raised_flag", cut=True, hand="writing")
def writing_raised(hand_gap: Array) -> BoolArray:
    """Shoulder raised by a sheet high above the elbow."""
    return np.asarray(hand_gap > curves()["writing_high"].zero_at)


@quantity("-", cut=True)
def arm_abducted_flag(shoulder_abduction: Array) -> BoolArray:
    """Upper arm away from the side."""
    return np.asarray(shoulder_abduction > ABDUCTED_OVER)


@quantity("-", name="arm_out_flag", cut=True, hand="keys")
def keys_out(outside_shoulder: Array) -> BoolArray:
    """Forearm out to the side at the keys."""
    return np.asarray(outside_shoulder > ARM_OUT_OVER)


@quantity("-", name="arm_out_flag", cut=True, hand="mouse")
def mouse_out(outside_shoulder: Array) -> BoolArray:
    """Forearm out to the side at the mouse."""
    return np.asarray(outside_shoulder > ARM_OUT_OVER)


@quantity("-", name="arm_out_flag", cut=True, hand="writing")
def writing_across(reach_sideways: Array) -> BoolArray:
    """Forearm across the midline, to paper on the other hand's side."""
    return np.asarray(reach_sideways > 0.0)


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


@quantity("deg", name="trunk_twist", hand="rest")
def resting_twist(person_shoes: Array) -> Array:
    """None: resting hands turn nobody."""
    return 0.0 * person_shoes


# --- items ---------------------------------------------------------------------------------------


def _upper_arm(
    shoulder_flexion: Array, arm_raised_flag: BoolArray, arm_abducted_flag: BoolArray, arms_supported: Words
) -> Arguments:
    """RULA upper arm."""
    return {
        "flexion_deg": shoulder_flexion,
        "raised": arm_raised_flag,
        "abducted": arm_abducted_flag,
        "supported": is_yes(arms_supported),
    }


def _lower_arm(elbow_flexion: Array, arm_out_flag: BoolArray) -> Arguments:
    """RULA lower arm."""
    return {"elbow_flexion_deg": elbow_flexion, "out_or_across": arm_out_flag}


def _wrist(wrist_extension: Array, scores_wrist_deviated: Words) -> Arguments:
    """RULA wrist."""
    return {
        "extension_deg": wrist_extension,
        "deviated": is_yes(scores_wrist_deviated),
        "neutral_deg": NEUTRAL_DEG,
    }


for _hand in ("keys", "mouse", "writing"):
    scored_item("rula", "upper_arm", hand=_hand)(_upper_arm)
    scored_item("rula", "lower_arm", hand=_hand)(_lower_arm)
for _hand in ("keys", "mouse"):
    scored_item("rula", "wrist", hand=_hand)(_wrist)

WRITING_WRIST = 10.0
"""Wrist extension while a pen is held [deg] (judgement): bent a little, whatever the slope of the sheet."""


@scored_item("rula", "wrist", hand="writing")
def _writing_wrist(person_shoes: Array, scores_wrist_deviated: Words) -> Arguments:
    """RULA wrist of a writing hand, whose forearm lies on the sheet."""
    return _wrist(0.0 * person_shoes + WRITING_WRIST, scores_wrist_deviated)


@scored_item("rula", "upper_arm", hand="rest")
def _resting_upper_arm(person_shoes: Array) -> Arguments:
    """RULA upper arm at rest: hanging (judgement)."""
    return {"flexion_deg": 0.0 * person_shoes}


@scored_item("rula", "lower_arm", hand="rest")
def _resting_lower_arm(person_shoes: Array) -> Arguments:
    """RULA lower arm at rest: at a right angle (judgement)."""
    return {"elbow_flexion_deg": 0.0 * person_shoes + 90.0}


@scored_item("rula", "wrist", hand="rest")
def _resting_wrist(person_shoes: Array) -> Arguments:
    """RULA wrist at rest: neutral (judgement)."""
    return {"extension_deg": 0.0 * person_shoes}


@scored_item("rula", "neck")
def _neck(
    neck_flexion: Array, neck_rotation: Array, phone: Words, task_phone_share: Array, scores_neck_bent: Words
) -> Arguments:
    """RULA neck; a telephone held by the shoulder bends it sideways."""
    held = (np.asarray(phone) == "cradled") & (np.asarray(task_phone_share) > 0)
    return {
        "flexion_deg": neck_flexion,
        "twisted": np.abs(neck_rotation) > TWISTED_OVER,
        "bent": held | is_yes(scores_neck_bent),
        "neutral_deg": NEUTRAL_DEG,
    }


@scored_item("rula", "trunk")
def _trunk(
    trunk_lean: Array, trunk_rests_flag: BoolArray, trunk_twist: Array, scores_trunk_bent: Words
) -> Arguments:
    """RULA trunk."""
    return {
        "flexion_deg": trunk_lean,
        "supported": trunk_rests_flag,
        "twisted": np.abs(trunk_twist) > TWISTED_OVER,
        "bent": is_yes(scores_trunk_bent),
    }


@scored_item("rula", "legs", mode="sit")
def _legs(leg_gap: Array) -> Arguments:
    """RULA legs: supported where the feet do not hang."""
    return {"supported": np.asarray(leg_gap <= curves()["leg_gap"].zero_at)}


@scored_item("rula", "legs", mode="stand")
def _standing_legs(person_shoes: Array) -> Arguments:
    """RULA legs, standing: weight even on both feet (judgement)."""
    return {"supported": np.asarray(person_shoes >= 0.0)}


@scored_item("rula", "muscle_use")
def _muscle_use(task_spell: Array, scores_repeats_per_minute: Array) -> Arguments:
    """RULA muscle use: the posture of a task is held for its longest spell (judgement)."""
    return {"minutes_static": task_spell, "repeats_per_minute": scores_repeats_per_minute}


# --- tables --------------------------------------------------------------------------------------


@quantity("-", cut=True)
def rula_a_score(
    rula_upper_arm_score: IntArray,
    rula_lower_arm_score: IntArray,
    rula_wrist_score: IntArray,
    scores_wrist_twist: Array,
) -> IntArray:
    """RULA score A, arm and wrist."""
    return composed(
        rula.table_a,
        upper_arm=rula_upper_arm_score,
        lower_arm=rula_lower_arm_score,
        wrist=rula_wrist_score,
        wrist_twist=np.asarray(scores_wrist_twist).astype(np.int64),
    )


@quantity("-", cut=True)
def rula_b_score(
    rula_neck_score: IntArray, rula_trunk_score: IntArray, rula_legs_score: IntArray
) -> IntArray:
    """RULA score B, neck, trunk and legs."""
    return composed(rula.table_b, neck=rula_neck_score, trunk=rula_trunk_score, legs=rula_legs_score)


def _raised_by(posture: IntArray, muscle_use: IntArray, force: Array) -> IntArray:
    return composed(
        lambda **s: s["posture"] + s["muscle_use"] + s["force"],
        posture=posture,
        muscle_use=muscle_use,
        force=np.asarray(force).astype(np.int64),
    )


@quantity("-", cut=True)
def rula_c_score(rula_a_score: IntArray, rula_muscle_use_score: IntArray, scores_force: Array) -> IntArray:
    """RULA score C, arm side with muscle use and force."""
    return _raised_by(rula_a_score, rula_muscle_use_score, scores_force)


@quantity("-", cut=True)
def rula_d_score(rula_b_score: IntArray, rula_muscle_use_score: IntArray, scores_force: Array) -> IntArray:
    """RULA score D, trunk side with muscle use and force."""
    return _raised_by(rula_b_score, rula_muscle_use_score, scores_force)


@quantity("-", cut=True)
def rula_grand_score(rula_c_score: IntArray, rula_d_score: IntArray) -> IntArray:
    """RULA grand score of one posture."""
    return composed(rula.table_c, score_c=rula_c_score, score_d=rula_d_score)
