"""ROSA of a task: what each item is read from, put through the charts step by step.

ROSA is for seated work: everything is asked in sitting, and hours are those spent sitting. Items and tables
are those of :mod:`deskmend.risk.rosa`; what no measure tells has a default, named in ``docs/methods.md``,
that a case can replace under ``scores`` of a task. That one task is scored as if it were the whole day at the
seat, with its own hours, is a judgement; the longest sitting is the place's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from functools import partial
from typing import Any, Generic, TypeVar

import numpy as np

from deskmend.language import tr
from deskmend.risk import rosa
from deskmend.risk.ranges import BoolArray, IntArray, composed
from deskmend.risk.scores.items import Given
from deskmend.risk.scores.method import (
    Apply,
    ItemCall,
    ItemScore,
    Occasion,
    OccasionScore,
    ScoreMethod,
    is_yes,
    item_call,
    item_quantity,
    item_rule,
    register,
)
from deskmend.workstation.graph import ROLES, Array, Evaluation, Words, quantity

__all__ = ["CHAIR_ITEMS", "DIFFERENT_SURFACE_OVER", "SIT", "RosaParts", "rosa_of"]

T = TypeVar("T")

DIFFERENT_SURFACE_OVER = 50.0
"""Height between keys and mouse from which they count as on different surfaces [mm] (judgement)."""

SIT: Mapping[str, str] = {"mode": "sit"}


# --- time of use ---------------------------------------------------------------------------------


@quantity("-", cut=True)
def rosa_chair_time_score(task_hours: Array, mode_share: Array, sitting_spell: Array) -> IntArray:
    """ROSA time of use of the chair: the task's seated hours, the place's longest sitting."""
    return rosa.duration(np.asarray(task_hours) * mode_share, sitting_spell)


@quantity("-", cut=True)
def rosa_monitor_time_score(
    task_hours: Array, mode_share: Array, screen_share: Array, second_share: Array, task_spell: Array
) -> IntArray:
    """ROSA time of use of all screens together."""
    return rosa.duration(np.asarray(task_hours) * mode_share * (screen_share + second_share), task_spell)


@quantity("-", cut=True)
def rosa_hand_time_score(
    task_hours: Array, mode_share: Array, hand_share: Array, task_spell: Array
) -> IntArray:
    """ROSA time of use of keyboard or mouse."""
    return rosa.duration(np.asarray(task_hours) * mode_share * hand_share, task_spell)


@quantity("-", cut=True)
def rosa_telephone_time_score(
    task_hours: Array, mode_share: Array, task_phone_share: Array, task_spell: Array
) -> IntArray:
    """ROSA time of use of the telephone."""
    return rosa.duration(np.asarray(task_hours) * mode_share * task_phone_share, task_spell)


# --- items ---------------------------------------------------------------------------------------


@item_quantity("rosa_seat_height_score", mode="sit")
def _seat_height(
    knee_angle: Array, feet_hang_flag: BoolArray, legs_cramped_flag: BoolArray, seat_adjustable: Words
) -> Given:
    """ROSA seat height; a seat of which nobody told that it can be set counts as not adjustable."""
    return rosa.seat_height.given(
        knee_angle, ~np.asarray(feet_hang_flag), legs_cramped_flag, fixed=~is_yes(seat_adjustable)
    )


@item_quantity("rosa_seat_depth_score", mode="sit")
def _seat_depth(seat_clearance: Array, scores_seat_depth_adjustable: Words) -> Given:
    """ROSA seat depth."""
    return rosa.seat_depth.given(seat_clearance, fixed=~is_yes(scores_seat_depth_adjustable))


@item_quantity("rosa_armrest_score", mode="sit")
def _armrest(
    armrest_gap: Array, seat_armrests: Words, scores_armrest_hard: Words, scores_armrest_wide: Words
) -> Given:
    """ROSA armrest as it stands; of unknown height those that can be set are, fixed ones do not support."""
    word = np.asarray(seat_armrests)
    measured = (word != "none") & ~np.isnan(armrest_gap)
    return rosa.armrest.given(
        np.where(measured, armrest_gap, 0.0),
        present=measured | (word == "adjustable"),
        hard=is_yes(scores_armrest_hard),
        wide=is_yes(scores_armrest_wide),
        fixed=word == "fixed",
    )


@item_rule
def _back_support(
    seat_recline: Array,
    well_supported: BoolArray,
    seat_back: Words,
    leaning: BoolArray,
    raised: BoolArray,
    back_adjustable: Words,
) -> Given:
    """ROSA back support."""
    return rosa.back_support.given(
        90.0 + np.asarray(seat_recline),
        lumbar=well_supported,
        used=(np.asarray(seat_back) != "none") & ~np.asarray(leaning),
        surface_high=raised,
        fixed=~is_yes(back_adjustable),
    )


@item_quantity("rosa_monitor_score", mode="sit", target=("screen", "second"))
def _monitor(
    gaze_centre: Array,
    viewing_distance: Array,
    neck_rotation: Array,
    glare_severity: Array,
    papers_loose_flag: BoolArray,
    rosa_monitor_time_score: IntArray,
    look_share: Array,
) -> Given:
    """ROSA monitor."""
    return rosa.monitor.given(
        gaze_centre,
        viewing_distance,
        neck_rotation,
        glare=glare_severity > 0,
        documents_loose=papers_loose_flag,
        duration=rosa_monitor_time_score,
    ).where(np.asarray(look_share) > 0)


@item_quantity("rosa_telephone_score", mode="sit")
def _telephone(
    phone: Words,
    scores_phone_reach: Array,
    scores_hands_free: Words,
    rosa_telephone_time_score: IntArray,
    task_phone_share: Array,
) -> Given:
    """ROSA telephone."""
    word = np.asarray(phone)
    return rosa.telephone.given(
        scores_phone_reach,
        neck_hold=word == "cradled",
        hands_free=(word == "headset") | is_yes(scores_hands_free),
        duration=rosa_telephone_time_score,
    ).where((np.asarray(task_phone_share) > 0) & (word != "none"))


@item_rule
def _mouse(
    reaching: BoolArray,
    other_surface: BoolArray,
    mouse_small: Words,
    palm_rest: Words,
    time: IntArray,
    share: Array,
) -> Given:
    """ROSA mouse."""
    return rosa.mouse.given(
        reaching, other_surface, pinch_grip=is_yes(mouse_small), palm_rest=is_yes(palm_rest), duration=time
    ).where(np.asarray(share) > 0)


@item_quantity("rosa_keyboard_score", mode="sit", hand="keys")
def _keyboard(
    wrist_extension: Array,
    arm_raised_flag: BoolArray,
    scores_wrist_deviated: Words,
    scores_reach_overhead: Words,
    desk_adjustable: Words,
    rosa_hand_time_score: IntArray,
    hands_keys: Array,
) -> Given:
    """ROSA keyboard; its surface is adjustable where the desk is."""
    return rosa.keyboard.given(
        wrist_extension,
        deviated=is_yes(scores_wrist_deviated),
        too_high=arm_raised_flag,
        overhead=is_yes(scores_reach_overhead),
        fixed=~is_yes(desk_adjustable),
        duration=rosa_hand_time_score,
    ).where(np.asarray(hands_keys) > 0)


# --- charts --------------------------------------------------------------------------------------

_added = partial(composed, np.add)
_worse = partial(composed, np.maximum)

CHARTS: tuple[tuple[str, Callable[..., IntArray], tuple[str, str]], ...] = (
    ("seat", _added, ("seat_height", "seat_depth")),
    ("arms_back", _added, ("armrest", "back_support")),
    ("section_a", partial(composed, rosa.table_a), ("seat", "arms_back")),
    ("chair", _added, ("section_a", "chair_duration")),
    ("monitor_telephone", partial(composed, rosa.table_b), ("telephone", "monitor")),
    ("mouse_keyboard", partial(composed, rosa.table_c), ("mouse", "keyboard")),
    ("peripherals", partial(composed, rosa.table_d), ("monitor_telephone", "mouse_keyboard")),
    ("final", partial(composed, rosa.table_e), ("chair", "peripherals")),
)
"""Steps from the items to the final score, each with what it is made of."""


@dataclass(frozen=True)
class RosaParts(Generic[T]):
    """ROSA of one task at one place, in any number type.

    Attributes
    ----------
    calls : mapping of str to tuple of ItemCall
        What each item rests on; a task with two screens has two for the monitor, and the worse counts.
    scores : mapping of str to T
        Items, ``chair_duration``, and every step of `CHARTS` [-].
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
    for name, (first, *others) in calls.items():
        scores[name] = apply(f"rosa_{name}", first.rule, first.values)
        for other in others:
            second = apply(f"rosa_{name}_second", other.rule, other.values)
            scores[name] = apply(f"rosa_{name}", _worse, [scores[name], second])
    scores["chair_duration"] = evaluation("rosa_chair_time_score", **SIT)
    for name, function, made_of in CHARTS:
        scores[name] = apply(f"rosa_{name}", function, [scores[part] for part in made_of])
    return RosaParts(calls, scores)


def _where_used(share: Array, flag: BoolArray) -> BoolArray:
    return (np.asarray(share) > 0) & flag


def _either(*flags: BoolArray) -> BoolArray:
    out: BoolArray = np.asarray(False)
    for flag in flags:
        out = out | (np.asarray(flag) != 0)
    return out


def _anywhere(
    evaluation: Evaluation[T], apply: Apply[T], label: str, role: str, share_of: str, flag: str
) -> T:
    """Whether a flag holds in any case of a role that has a share of the time."""
    found = []
    for case in ROLES[role]:
        share = evaluation(share_of, **{role: case})
        if not evaluation.is_zero(share):
            flagged = evaluation(flag, **{role: case}, **SIT)
            found.append(apply(f"{label}:{case}", _where_used, [share, flagged]))
    return apply(label, _either, found or [evaluation.constant(0.0)])


def _back_call(evaluation: Evaluation[T], apply: Apply[T]) -> ItemCall[T]:
    """Back support rests on every tool looked at and every activity of the hands that has a share."""
    leans = _anywhere(evaluation, apply, "leans", "target", "look_share", "leaning_forward_flag")
    raised = _anywhere(evaluation, apply, "raised", "hand", "hand_share", "arm_raised_flag")
    return ItemCall(
        _back_support,
        [
            evaluation("seat_recline"),
            evaluation("back_well_supported_flag"),
            evaluation("seat_back"),
            leans,
            raised,
            evaluation("scores_back_adjustable"),
        ],
    )


def _on_different_surfaces(keys: Array, mouse: Array, keys_share: Array) -> BoolArray:
    return (np.abs(keys - mouse) > DIFFERENT_SURFACE_OVER) & (keys_share > 0)


def _mouse_call(evaluation: Evaluation[T], apply: Apply[T]) -> ItemCall[T]:
    mouse: dict[str, str] = {"hand": "mouse", **SIT}
    shares = {hand: evaluation("hand_share", hand=hand) for hand in ("keys", "mouse")}
    if any(evaluation.is_zero(share) for share in shares.values()):
        apart = apply("surfaces", _either, [evaluation.constant(0.0)])
    else:
        heights = [evaluation("hand_height", hand=hand, **SIT) for hand in ("keys", "mouse")]
        apart = apply("surfaces", _on_different_surfaces, [*heights, shares["keys"]])
    return ItemCall(
        _mouse,
        [
            evaluation("reaching_flag", **mouse),
            apart,
            evaluation("scores_mouse_small"),
            evaluation("scores_palm_rest"),
            evaluation("rosa_hand_time_score", **mouse),
            shares["mouse"],
        ],
    )


# --- the method ----------------------------------------------------------------------------------

CHAIR_ITEMS = ("seat_height", "seat_depth", "armrest", "back_support")
SECTIONS: Mapping[str, tuple[str, ...]] = {
    "chair": (*CHAIR_ITEMS, "chair_duration"),
    "monitor_telephone": ("monitor", "telephone"),
    "mouse_keyboard": ("mouse", "keyboard"),
}
"""Items of ROSA, by the section of the form they belong to."""
CHAIR_TIME = {
    -1: "under 30 minutes unbroken or under 1 hour a day",
    0: "30 to 60 minutes unbroken or 1 to 4 hours a day",
    1: "over 60 minutes unbroken or over 4 hours a day",
}


def _occasions(evaluation: Evaluation[T], apply: Apply[T]) -> Iterator[Occasion[T]]:
    seated = evaluation("mode_share", **SIT)
    if not evaluation.is_zero(seated):
        parts = rosa_of(evaluation, apply)
        times = (seated, evaluation.constant(1.0))
        yield Occasion("rosa", SIT, times, parts.scores["final"], partial(_items, parts))


def _items(parts: RosaParts[Any]) -> Iterator[ItemScore]:
    for name, calls in parts.calls.items():
        found = [ItemScore.of(call) for call in calls]
        missing = [one for one in found if one.score is None]
        worst = missing[0] if missing else max(found, key=lambda one: one.score or 0)
        yield ItemScore(name, worst.score, worst.reason)
    duration = int(parts.scores["chair_duration"])
    text = f"{tr('time on the chair')} {duration:+d}: {tr(CHAIR_TIME[duration])}"
    yield ItemScore("chair_duration", duration, text)


def _recount(items: Mapping[str, int]) -> Mapping[str, int]:
    return asdict(rosa.score(**items))


def _holding(seat: OccasionScore) -> Iterator[ItemScore]:
    """Items over 0 of the sections that make the final score."""
    leading = [name for part, names in SECTIONS.items() for name in names if seat.parts[part] == seat.score]
    for item in seat.items:
        if item.item in leading and item.score is not None and item.score > 0:
            yield item


METHOD = register(
    ScoreMethod(
        name="rosa",
        title="ROSA",
        year=2012,
        low=1,
        high=10,
        occasions=_occasions,
        holding=_holding,
        parts=tuple(part.name for part in fields(rosa.RosaScore)),
        recount=_recount,
        final="final",
        several=False,
        worst="ROSA, worst task",
        action_from=rosa.ACTION_FROM,
        caution="Parts of the ROSA charts are from memory.",
        not_for="ROSA is for seated work, and this is done standing",
    )
)
