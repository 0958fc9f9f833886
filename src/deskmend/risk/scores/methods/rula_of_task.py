"""RULA of a task, and of one posture seen from the side: what is scored, and what each item is read from.

Bands and tables are those of :mod:`deskmend.risk.rula`; here observed lines become the angles that it scores.

RULA scores one posture at a time. Keys and mouse are paired with the screens, keys also with paper (copying),
writing with paper. What is looked at while no activity goes with it is paired with resting hands (``rest``);
hands whose own tool is not looked at are paired with what is. All of this is a judgement; items, tables and
bands are those of :mod:`deskmend.risk.rula`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from functools import partial
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from deskmend.language import tr
from deskmend.risk import rula
from deskmend.risk.ranges import BoolArray, IntArray, composed
from deskmend.risk.scores.items import Given
from deskmend.risk.scores.method import (
    NEUTRAL_DEG,
    TWISTED_OVER,
    Apply,
    ItemScore,
    Occasion,
    OccasionScore,
    ScoreMethod,
    is_yes,
    item_call,
    item_quantity,
    register,
)
from deskmend.risk.severity import curves
from deskmend.workstation.graph import ROLES, Array, Evaluation, Words, quantity

__all__ = ["HANDS", "TARGETS", "UPRIGHT_NECK", "UPRIGHT_NECK_SD", "Unseen", "observed_items", "pairs"]

UPRIGHT_NECK = 40.0
"""Line from C7 to the ear forward of the trunk where the neck is neither bent nor stretched [deg]: 90 less a
craniovertebral angle of some 50 in people who stand upright (from memory)."""
UPRIGHT_NECK_SD = 5.0
"""How far people differ in it [deg] (from memory)."""


@dataclass(frozen=True)
class Unseen:
    """What a view from one side does not show, as it is where nothing tells otherwise (judgement).

    Parameters
    ----------
    arm_raised, arm_abducted, arm_supported, arm_out
        Shoulder raised, upper arm away from the side, arm supported, forearm out or across.
    wrist_deviated, wrist_twist
        Wrist bent to a side; 1 for a forearm within its middle range, 2 at its end [-].
    neck_twisted, neck_bent, trunk_twisted, trunk_bent
        Turned, or bent to a side.
    trunk_rests
        Whether the back of the seat carries the back.
    legs_supported
        Whether feet and legs rest on something.
    minutes_static, repeats_per_minute
        How long the posture is held [min] and how often it is repeated [1/min].
    force
        Points of force [-].
    """

    arm_raised: bool = False
    arm_abducted: bool = False
    arm_supported: bool = False
    arm_out: bool = False
    wrist_deviated: bool = False
    wrist_twist: int = 1
    neck_twisted: bool = False
    neck_bent: bool = False
    trunk_twisted: bool = False
    trunk_bent: bool = False
    trunk_rests: bool = False
    legs_supported: bool = True
    minutes_static: float = 30.0
    repeats_per_minute: float = 0.0
    force: int = 0


UNSEEN = tuple(part.name for part in fields(Unseen))
"""Names of what is not seen."""


def observed_items(
    *,
    arm_to_trunk: ArrayLike,
    elbow_angle: ArrayLike,
    neck_angle: ArrayLike,
    trunk_angle: ArrayLike,
    wrist_extension: ArrayLike = 0.0,
    hip_angle: ArrayLike = 90.0,
    unseen: Unseen | None = None,
) -> dict[str, IntArray]:
    """Item scores of an observed posture, as `rula.score` and `rula.grand` take them.

    Parameters
    ----------
    arm_to_trunk
        Upper arm forward of the trunk's line [deg].
    elbow_angle
        Included angle at the elbow, 180 for the straight arm; over 180 counts as straight [deg].
    neck_angle
        Line from C7 to the ear forward of the trunk's line [deg].
    trunk_angle
        Trunk forward of upright, leaning back negative [deg].
    wrist_extension
        Hand bent up from the forearm, flexion negative [deg].
    hip_angle
        Included angle between trunk and thigh [deg].
    unseen
        What the view does not show; what is usual if left out.

    Returns
    -------
    dict of str to ndarray of int64
        Arguments of `rula.score` [-], of the shape to which the angles broadcast.

    Raises
    ------
    OutOfRange
        Where an angle is outside what an item takes, or no number.

    Notes
    -----
    McAtamney & Corlett 1993. A neck that is bent less than 5 degrees back counts as upright, and so does a
    wrist within 5 of straight (judgement, as for all quantities here). The trunk scores as supported only
    where the back rests, leans no more than 5 forward, and the hip is open by 85 or more.

    Examples
    --------
    Upright, arms hanging, elbows at right angles, held for half an hour.

    >>> items = observed_items(arm_to_trunk=5.0, elbow_angle=95.0, neck_angle=45.0, trunk_angle=2.0)
    >>> int(rula.grand(**items))
    3
    """
    given = Unseen() if unseen is None else unseen
    trunk, hip = np.asarray(trunk_angle, dtype=float), np.asarray(hip_angle, dtype=float)
    rests = given.trunk_rests & (trunk <= NEUTRAL_DEG) & (hip >= 90.0 - NEUTRAL_DEG)
    bent = np.clip(180.0 - np.asarray(elbow_angle, dtype=float), 0.0, 180.0)
    muscle_use = rula.muscle_use(given.minutes_static, given.repeats_per_minute)
    return {
        "upper_arm": rula.upper_arm(arm_to_trunk, given.arm_raised, given.arm_abducted, given.arm_supported),
        "lower_arm": rula.lower_arm(bent, given.arm_out),
        "wrist": rula.wrist(wrist_extension, given.wrist_deviated, NEUTRAL_DEG),
        "wrist_twist": np.asarray(given.wrist_twist),
        "arm_muscle_use": muscle_use,
        "arm_force": np.asarray(given.force),
        "neck": rula.neck(
            np.asarray(neck_angle, dtype=float) - UPRIGHT_NECK,
            given.neck_twisted,
            given.neck_bent,
            NEUTRAL_DEG,
        ),
        "trunk": rula.trunk(trunk, rests, given.trunk_twisted, given.trunk_bent),
        "legs": rula.legs(given.legs_supported),
        "body_muscle_use": muscle_use,
        "body_force": np.asarray(given.force),
    }


T = TypeVar("T")

HANDS = ("keys", "mouse", "writing", "rest")
TARGETS = ("screen", "second", "paper")


# --- postures ------------------------------------------------------------------------------------


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


def _share_of(hand: str, target: str) -> Callable[..., Array]:
    def share_of_pair(
        screen_share: Array,
        second_share: Array,
        look_paper: Array,
        hands_keys: Array,
        hands_mouse: Array,
        hands_writing: Array,
    ) -> Array:
        """Part of the looking time in which the hands do one thing and one tool is looked at."""
        look = (screen_share, second_share, look_paper)
        return _shares(look, (hands_keys, hands_mouse, hands_writing))[hand, target]

    return share_of_pair


for _hand, _target in pairs():
    quantity("-", name="pair_share", hand=_hand, target=_target)(_share_of(_hand, _target))


@quantity("deg", name="trunk_twist", hand="rest")
def resting_twist(person_shoes: Array) -> Array:
    """None: resting hands turn nobody."""
    return 0.0 * person_shoes


# --- items ---------------------------------------------------------------------------------------

WRITING_WRIST = 10.0
"""Wrist extension while a pen is held [deg] (judgement): bent a little, whatever the slope of the sheet."""


@item_quantity("rula_upper_arm_score", hand=("keys", "mouse", "writing"))
def _upper_arm(
    shoulder_flexion: Array, arm_raised_flag: BoolArray, arm_abducted_flag: BoolArray, arms_supported: Words
) -> Given:
    """RULA upper arm."""
    return rula.upper_arm.given(
        shoulder_flexion, arm_raised_flag, arm_abducted_flag, supported=is_yes(arms_supported)
    )


@item_quantity("rula_upper_arm_score", hand="rest")
def _resting_upper_arm(person_shoes: Array) -> Given:
    """RULA upper arm at rest: hanging (judgement)."""
    return rula.upper_arm.given(0.0 * person_shoes)


@item_quantity("rula_lower_arm_score", hand=("keys", "mouse", "writing"))
def _lower_arm(elbow_flexion: Array, arm_out_flag: BoolArray) -> Given:
    """RULA lower arm."""
    return rula.lower_arm.given(elbow_flexion, arm_out_flag)


@item_quantity("rula_lower_arm_score", hand="rest")
def _resting_lower_arm(person_shoes: Array) -> Given:
    """RULA lower arm at rest: at a right angle (judgement)."""
    return rula.lower_arm.given(0.0 * person_shoes + 90.0)


@item_quantity("rula_wrist_score", hand=("keys", "mouse"))
def _wrist(wrist_extension: Array, scores_wrist_deviated: Words) -> Given:
    """RULA wrist."""
    return rula.wrist.given(wrist_extension, is_yes(scores_wrist_deviated), NEUTRAL_DEG)


@item_quantity("rula_wrist_score", hand="writing")
def _writing_wrist(person_shoes: Array, scores_wrist_deviated: Words) -> Given:
    """RULA wrist of a writing hand, whose forearm lies on the sheet."""
    return rula.wrist.given(0.0 * person_shoes + WRITING_WRIST, is_yes(scores_wrist_deviated), NEUTRAL_DEG)


@item_quantity("rula_wrist_score", hand="rest")
def _resting_wrist(person_shoes: Array) -> Given:
    """RULA wrist at rest: neutral (judgement)."""
    return rula.wrist.given(0.0 * person_shoes)


@item_quantity("rula_neck_score")
def _neck(
    neck_flexion: Array, neck_rotation: Array, phone: Words, task_phone_share: Array, scores_neck_bent: Words
) -> Given:
    """RULA neck; a telephone held by the shoulder bends it sideways."""
    held = (np.asarray(phone) == "cradled") & (np.asarray(task_phone_share) > 0)
    twisted = np.abs(neck_rotation) > TWISTED_OVER
    return rula.neck.given(neck_flexion, twisted, held | is_yes(scores_neck_bent), NEUTRAL_DEG)


@item_quantity("rula_trunk_score")
def _trunk(
    trunk_lean: Array, trunk_rests_flag: BoolArray, trunk_twist: Array, scores_trunk_bent: Words
) -> Given:
    """RULA trunk."""
    twisted = np.abs(trunk_twist) > TWISTED_OVER
    return rula.trunk.given(trunk_lean, trunk_rests_flag, twisted, is_yes(scores_trunk_bent))


@item_quantity("rula_legs_score", mode="sit")
def _legs(leg_gap: Array) -> Given:
    """RULA legs: supported where the feet do not hang."""
    return rula.legs.given(np.asarray(leg_gap <= curves()["leg_gap"].zero_at))


@item_quantity("rula_legs_score", mode="stand")
def _standing_legs(person_shoes: Array) -> Given:
    """RULA legs, standing: weight even on both feet (judgement)."""
    return rula.legs.given(np.asarray(person_shoes >= 0.0))


@item_quantity("rula_muscle_use_score")
def _muscle_use(task_spell: Array, scores_repeats_per_minute: Array) -> Given:
    """RULA muscle use: the posture of a task is held for its longest spell (judgement)."""
    return rula.muscle_use.given(task_spell, scores_repeats_per_minute)


# --- tables --------------------------------------------------------------------------------------


@quantity("-", cut=True)
def rula_a_score(
    rula_upper_arm_score: IntArray,
    rula_lower_arm_score: IntArray,
    rula_wrist_score: IntArray,
    scores_wrist_twist: Array,
) -> IntArray:
    """RULA score A, arm and wrist."""
    twist = np.asarray(scores_wrist_twist).astype(np.int64)
    return composed(rula.table_a, rula_upper_arm_score, rula_lower_arm_score, rula_wrist_score, twist)


@quantity("-", cut=True)
def rula_b_score(
    rula_neck_score: IntArray, rula_trunk_score: IntArray, rula_legs_score: IntArray
) -> IntArray:
    """RULA score B, neck, trunk and legs."""
    return composed(rula.table_b, rula_neck_score, rula_trunk_score, rula_legs_score)


def _raised_by(posture: IntArray, muscle_use: IntArray, force: Array) -> IntArray:
    return composed(
        lambda a_or_b, use, points: a_or_b + use + points,
        posture,
        muscle_use,
        np.asarray(force).astype(np.int64),
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
    return composed(rula.table_c, rula_c_score, rula_d_score)


# --- the method ----------------------------------------------------------------------------------

MEASURED = ("upper_arm", "lower_arm", "wrist", "neck", "trunk", "legs", "muscle_use")
"""Items that follow from measures; the others are what the case says."""
TWIST = {1: "forearm within its middle range", 2: "forearm at the end of its range"}


def _occasions(evaluation: Evaluation[T], _apply: Apply[T]) -> Iterator[Occasion[T]]:
    for mode in ROLES["mode"]:
        in_mode = evaluation("mode_share", mode=mode)
        if evaluation.is_zero(in_mode):
            continue
        for hand, target in pairs():
            share = evaluation("pair_share", hand=hand, target=target)
            if evaluation.is_zero(share):
                continue
            roles = {"hand": hand, "target": target, "mode": mode}
            yield Occasion(
                f"rula.{hand}.{target}.{mode}",
                roles,
                (in_mode, share),
                evaluation("rula_grand_score", **roles),
                partial(_items, evaluation, roles),
            )


def _items(evaluation: Evaluation[Any], roles: Mapping[str, str]) -> Iterator[ItemScore]:
    for item in MEASURED:
        yield ItemScore.of(item_call(evaluation, f"rula_{item}_score", **roles))
    twist, force = int(evaluation("scores_wrist_twist")), int(evaluation("scores_force"))
    yield ItemScore("wrist_twist", twist, f"{tr('wrist twist')} {twist}: {tr(TWIST[twist])}")
    if force:
        yield ItemScore("force", force, tr("force {score}: as the case says", score=force))


def _recount(items: Mapping[str, int]) -> Mapping[str, int]:
    """The score from its items, muscle use and force counting for arm and body alike."""
    for_both = {"muscle_use": items["muscle_use"], "force": items.get("force", 0)}
    sides = {f"{side}_{name}": points for name, points in for_both.items() for side in ("arm", "body")}
    return asdict(rula.score(**sides, **{name: n for name, n in items.items() if name not in for_both}))


def _holding(posture: OccasionScore) -> Iterator[ItemScore]:
    """Items over the least that they can score."""
    for item in posture.items:
        if item.score is not None and item.score > (0 if item.item in ("muscle_use", "force") else 1):
            yield item


METHOD = register(
    ScoreMethod(
        name="rula",
        title="RULA",
        year=1993,
        low=1,
        high=7,
        occasions=_occasions,
        holding=_holding,
        parts=tuple(part.name for part in fields(rula.RulaScore)),
        recount=_recount,
        final="grand",
        details="postures",
        worst="RULA, worst posture",
        mean="RULA, mean over the time",
        actions={
            2: "acceptable if not held for long",
            4: "look further",
            6: "look further and change soon",
            7: "look further and change now",
        },
    )
)
"""Action levels in plain words after McAtamney & Corlett (1993)."""
