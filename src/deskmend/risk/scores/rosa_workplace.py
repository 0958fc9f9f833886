"""ROSA of one task at one place: the items of `rosa_workplace` put through the charts, step by step.

ROSA items from the postures of a workplace, as quantities.

ROSA is for seated work: everything is asked in sitting, and hours are those
spent sitting. Items and tables are those of :mod:`deskmend.risk.rosa`; what no
measure tells has a default, named in ``docs/methods.md``, that a case can
replace under ``scores`` of a task.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np

from deskmend.risk import rosa
from deskmend.risk.ranges import BoolArray, IntArray
from deskmend.risk.scores.rula_workplace import is_yes
from deskmend.risk.scores.scored_items import Apply, ItemCall, composed, item_call, item_rule, scored_item
from deskmend.risk.severity import curves
from deskmend.workstation.graph import ROLES, Array, Evaluation, Words, quantity

__all__ = [
    "CHAIR_ITEMS",
    "DEVICE_ITEMS",
    "DIFFERENT_SURFACE_OVER",
    "LOOSE_PAPER_UNDER",
    "SIT",
    "RosaParts",
    "back_support_score",
    "mouse_score",
    "rosa_of",
]

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


T = TypeVar("T")

CHAIR_ITEMS = ("seat_height", "seat_depth", "armrest", "back_support")
DEVICE_ITEMS = ("monitor", "telephone", "mouse", "keyboard")
"""Items of ROSA, by the part of the form they belong to."""


def _on_different_surfaces(keys: Array, mouse: Array, keys_share: Array) -> BoolArray:
    return (np.abs(keys - mouse) > DIFFERENT_SURFACE_OVER) & (keys_share > 0)


def _where_used(share: Array, flag: BoolArray) -> BoolArray:
    return (np.asarray(share) > 0) & flag


def _either(*flags: BoolArray) -> BoolArray:
    out: BoolArray = np.asarray(False)
    for flag in flags:
        out = out | (np.asarray(flag) != 0)
    return out


# --- tables --------------------------------------------------------------------------------------


def _added(one: IntArray, other: IntArray) -> IntArray:
    return composed(lambda **s: s["one"] + s["other"], one=one, other=other)


def _section_a(seat: IntArray, arms_back: IntArray) -> IntArray:
    return composed(rosa.table_a, seat=seat, arms_back=arms_back)


def _section_b(telephone: IntArray, monitor: IntArray) -> IntArray:
    return composed(rosa.table_b, telephone=telephone, monitor=monitor)


def _section_c(mouse: IntArray, keyboard: IntArray) -> IntArray:
    return composed(rosa.table_c, mouse=mouse, keyboard=keyboard)


def _peripherals(monitor_telephone: IntArray, mouse_keyboard: IntArray) -> IntArray:
    return composed(rosa.table_d, monitor_telephone=monitor_telephone, mouse_keyboard=mouse_keyboard)


def _final(chair: IntArray, peripherals: IntArray) -> IntArray:
    return composed(rosa.table_e, chair=chair, peripherals=peripherals)


def _worse(one: IntArray, other: IntArray) -> IntArray:
    return composed(lambda **s: np.maximum(s["one"], s["other"]), one=one, other=other)


@dataclass(frozen=True)
class RosaParts(Generic[T]):
    """ROSA of one task at one place, in any number type.

    Attributes
    ----------
    calls : mapping of str to tuple of ItemCall
        What each item rests on; a task with two screens has two for the monitor, and the worse counts.
    scores : mapping of str to T
        Items, ``chair_duration``, and ``chair``, ``monitor_telephone``,
        ``mouse_keyboard``, ``peripherals``, ``final`` [-].
    """

    calls: Mapping[str, tuple[ItemCall[T], ...]]
    scores: Mapping[str, T]


def rosa_of(evaluation: Evaluation[T], apply: Apply[T]) -> RosaParts[T]:
    """ROSA of one task at one place, step by step so that exact tables stay small.

    Parameters
    ----------
    evaluation : Evaluation
        Of the task at the place.
    apply : callable
        Calls a function on values of the evaluation's number type.

    Returns
    -------
    RosaParts
        For the seated part of the time; whether there is one is not looked at.

    Notes
    -----
    Sonne et al. 2012 through :mod:`deskmend.risk.rosa`, see there for status.
    That one task is scored as if it were the whole day at the seat, with its
    own hours, is a judgement; the longest sitting is the place's.
    """
    calls: dict[str, tuple[ItemCall[T], ...]] = {
        "seat_height": (item_call(evaluation, "rosa_seat_height_score", **SIT),),
        "seat_depth": (item_call(evaluation, "rosa_seat_depth_score", **SIT),),
        "armrest": (item_call(evaluation, "rosa_armrest_score", **SIT),),
        "back_support": (_back_call(evaluation, apply),),
        "monitor": tuple(
            item_call(evaluation, "rosa_monitor_score", target=target, **SIT)
            for target in ("screen", "second")
            if target == "screen" or not evaluation.is_zero(evaluation("look_share", target=target))
        ),
        "telephone": (item_call(evaluation, "rosa_telephone_score", **SIT),),
        "mouse": (_mouse_call(evaluation, apply),),
        "keyboard": (item_call(evaluation, "rosa_keyboard_score", hand="keys", **SIT),),
    }
    scores: dict[str, T] = {}

    def put(name: str, function: Callable[..., Any], *arguments: T) -> None:
        scores[name] = apply(f"rosa_{name}", function, list(arguments))

    for name, own in calls.items():
        put(name, own[0].function, *own[0].arguments)
        for other in own[1:]:
            second = apply(f"rosa_{name}_second", other.function, other.arguments)
            put(name, _worse, scores[name], second)
    scores["chair_duration"] = evaluation("rosa_chair_time_score", **SIT)
    put("seat", _added, scores["seat_height"], scores["seat_depth"])
    put("arms_back", _added, scores["armrest"], scores["back_support"])
    put("section_a", _section_a, scores["seat"], scores["arms_back"])
    put("chair", _added, scores["section_a"], scores["chair_duration"])
    put("monitor_telephone", _section_b, scores["telephone"], scores["monitor"])
    put("mouse_keyboard", _section_c, scores["mouse"], scores["keyboard"])
    put("peripherals", _peripherals, scores["monitor_telephone"], scores["mouse_keyboard"])
    put("final", _final, scores["chair"], scores["peripherals"])
    return RosaParts(calls, scores)


def _back_call(evaluation: Evaluation[T], apply: Apply[T]) -> ItemCall[T]:
    """Back support rests on every tool looked at and every activity of the hands that has a share."""
    leaning = []
    for target in ROLES["target"]:
        share = evaluation("look_share", target=target)
        if not evaluation.is_zero(share):
            leans = evaluation("leaning_forward_flag", target=target, **SIT)
            leaning.append(apply(f"leans:{target}", _where_used, [share, leans]))
    raised = []
    for hand in ROLES["hand"]:
        share = evaluation("hand_share", hand=hand)
        if not evaluation.is_zero(share):
            high = evaluation("arm_raised_flag", hand=hand, **SIT)
            raised.append(apply(f"raised:{hand}", _where_used, [share, high]))
    return ItemCall(
        "back_support",
        back_support_score,
        [
            evaluation("seat_recline"),
            evaluation("back_well_supported_flag"),
            evaluation("seat_back"),
            apply("leans", _either, leaning or [evaluation.constant(0.0)]),
            apply("raised", _either, raised or [evaluation.constant(0.0)]),
            evaluation("scores_back_adjustable"),
        ],
    )


def _mouse_call(evaluation: Evaluation[T], apply: Apply[T]) -> ItemCall[T]:
    mouse: dict[str, str] = {"hand": "mouse", **SIT}
    shares = {hand: evaluation("hand_share", hand=hand) for hand in ("keys", "mouse")}
    if any(evaluation.is_zero(share) for share in shares.values()):
        apart = apply("surfaces", _either, [evaluation.constant(0.0)])
    else:
        heights = [evaluation("hand_height", hand=hand, **SIT) for hand in ("keys", "mouse")]
        apart = apply("surfaces", _on_different_surfaces, [*heights, shares["keys"]])
    return ItemCall(
        "mouse",
        mouse_score,
        [
            evaluation("reaching_flag", **mouse),
            apart,
            evaluation("scores_mouse_small"),
            evaluation("scores_palm_rest"),
            evaluation("rosa_hand_time_score", **mouse),
            shares["mouse"],
        ],
    )
