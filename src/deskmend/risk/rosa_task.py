"""ROSA of one task at one place: the items of `rosa_workplace` put through the charts, step by step."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np

from deskmend.risk import rosa
from deskmend.risk.ranges import BoolArray, IntArray
from deskmend.risk.rosa_workplace import DIFFERENT_SURFACE_OVER, SIT, back_support_score, mouse_score
from deskmend.risk.scored_items import Apply, ItemCall, composed, item_call
from deskmend.workstation.graph import ROLES, Evaluation
from deskmend.workstation.quantities import Array

__all__ = ["CHAIR_ITEMS", "DEVICE_ITEMS", "RosaParts", "rosa_of"]

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
