"""RULA of one posture as seen from the side: angles as measured, and by name what no such view shows.

Bands and tables are those of :mod:`deskmend.risk.rula`; here observed lines become the angles that it scores.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk import rula
from deskmend.risk.ranges import IntArray
from deskmend.risk.scores.conditions import NEUTRAL_DEG

__all__ = ["UPRIGHT_NECK", "UPRIGHT_NECK_SD", "Unseen", "observed_items"]

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
