"""Arms and knees as published scores ask for them: two links from shoulder to wrist, and the thigh.

The upper arm hangs as long as the forearm reaches what the hand works on; only
then does it swing forward. That is geometry with the judgements named here; it
gives the angle of one who sits as near as the work allows, not what a camera
would see of a single person. Where the state is such that no angle exists (a
hand further away than the arm is long), the arm is straight: the trunk or the
shoulder makes up the rest, which is not reckoned.
"""

from __future__ import annotations

import math

import numpy as np

from deskmend.workstation.distances import ASIDE, KEYS_FORWARD
from deskmend.workstation.graph import Array, Words, angle, derive, quantity, whole_mm

__all__ = ["FINGERS_BEYOND_WRIST"]

FINGERS_BEYOND_WRIST = 0.6
"""Part of the hand's length by which bent fingers work beyond the wrist [-] (judgement)."""
TURN = math.radians(ASIDE)
"""How far the trunk turns to paper that lies beside the middle [rad]."""


@quantity("mm", name="outside_shoulder", hand="keys", cut=True)
@quantity("mm", name="outside_shoulder", hand="mouse", cut=True)
def outside_shoulder(reach_sideways: Array, biacromial_breadth: Array) -> Array:
    """What the hand works on beside its own shoulder, outward; 0 in front of it."""
    return np.maximum(0.0, reach_sideways - 0.5 * biacromial_breadth)


@quantity("mm", name="outside_shoulder", hand="writing", cut=True)
def writing_outside(reach_sideways: Array, biacromial_breadth: Array) -> Array:
    """Paper beside the shoulder of the hand that writes, across the body; 0 on that hand's own side.

    Notes
    -----
    Geometry: the trunk turns to the paper (`writing_twist`), which leaves it
    ``sideways * cos(turn) - forward * sin(turn)`` from the middle of the body,
    and the shoulder of the other side lies half its breadth beyond that.
    """
    across = reach_sideways * math.cos(TURN) - KEYS_FORWARD * math.sin(TURN) + 0.5 * biacromial_breadth
    return np.where(reach_sideways > 0.0, whole_mm(across), 0.0)


@quantity("mm", cut=True)
def wrist_forward(
    reach_forward: Array, outside_shoulder: Array, forearm_hand_length: Array, forearm_length: Array
) -> Array:
    """Shoulder to wrist, level, in the upright plane through both; the fingers reach on from there."""
    hand = FINGERS_BEYOND_WRIST * (forearm_hand_length - forearm_length)
    return np.maximum(0.0, np.hypot(reach_forward, outside_shoulder) - hand)


def _hanging(forearm: Array, hand_gap: Array) -> Array:
    """Level length of the forearm while the upper arm hangs."""
    return np.asarray(np.sqrt(np.maximum(0.0, forearm**2 - np.minimum(np.abs(hand_gap), forearm) ** 2)))


@quantity("deg")
def shoulder_flexion(
    wrist_forward: Array, hand_gap: Array, shoulder_elbow_length: Array, forearm_length: Array
) -> Array:
    """Upper arm forward of hanging; 0 where the forearm alone reaches.

    Notes
    -----
    Shoulder, elbow and wrist form a triangle with sides U (upper arm), L
    (forearm) and d (shoulder to wrist). The line of d lies atan2(level, drop)
    from the vertical; the upper arm lies behind it by the angle that the law of
    cosines gives. Source: geometry. That a person sits near enough to let the
    upper arm hang where the forearm reaches is a judgement, and so is that a
    leaning trunk changes nothing: it brings the shoulder nearer and turns with
    it, and the two offset each other within some degrees.
    """
    drop = shoulder_elbow_length - hand_gap
    d = np.hypot(wrist_forward, drop)
    line = np.degrees(np.arctan2(wrist_forward, drop))
    sides = 2.0 * shoulder_elbow_length * np.maximum(d, 1.0)
    cosine = (shoulder_elbow_length**2 + d**2 - forearm_length**2) / sides
    behind = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    hangs = wrist_forward <= _hanging(forearm_length, hand_gap)
    return angle(np.where(hangs, 0.0, np.maximum(0.0, line - behind)))


@quantity("deg")
def elbow_flexion(
    wrist_forward: Array, hand_gap: Array, shoulder_elbow_length: Array, forearm_length: Array
) -> Array:
    """Elbow bent from the straight arm: a right-angled elbow is 90.

    Notes
    -----
    The included angle of ANSI/HFES 100 is 180 less this. Same triangle as
    :func:`shoulder_flexion`; 0 where the hand is further away than the arm is long.
    """
    level = np.maximum(wrist_forward, _hanging(forearm_length, hand_gap))
    d = np.hypot(level, shoulder_elbow_length - hand_gap)
    cosine = (shoulder_elbow_length**2 + forearm_length**2 - d**2) / (
        2.0 * shoulder_elbow_length * forearm_length
    )
    return angle(180.0 - np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


@quantity("deg")
def elbow_angle(elbow_flexion: Array) -> Array:
    """Included angle between upper arm and forearm, 180 for the straight arm; for information."""
    return angle(180.0 - elbow_flexion)


@quantity("deg", name="shoulder_abduction", hand=("keys", "writing"))
def no_abduction(person_shoes: Array) -> Array:
    """None: the hands work before the body, the writing one also across it."""
    return 0.0 * person_shoes


@quantity("deg", name="shoulder_abduction", hand="mouse")
def mouse_abduction(outside_shoulder: Array, hand_gap: Array, shoulder_elbow_length: Array) -> Array:
    """Upper arm away from the side, as if the whole arm swung out to the mouse (judgement)."""
    return angle(np.degrees(np.arctan2(outside_shoulder, shoulder_elbow_length - hand_gap)))


@quantity("deg")
def upper_arm_elevation(shoulder_flexion: Array, shoulder_abduction: Array) -> Array:
    """Upper arm from hanging, in whatever direction: swung forward, then outward (geometry)."""
    cosine = np.cos(np.radians(shoulder_flexion)) * np.cos(np.radians(shoulder_abduction))
    return angle(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


@quantity("mm")
def armrest_top(seat_top: Array, seat_pad: Array, seat_armrest_height: Array) -> Array:
    """Top of the armrests above the floor; padding lifts the person, not the armrest."""
    return np.asarray(seat_top - seat_pad + seat_armrest_height)


@quantity("mm")
def armrest_gap(armrest_top: Array, elbow_height: Array) -> Array:
    """Armrest above the hanging elbow, under 0 below it."""
    return np.asarray(armrest_top - elbow_height)


@quantity("mm")
def armrest_room(
    desk_underside: Array,
    desk_lap_lost: Array,
    armrest_top: Array,
    seat_armrests: Words,
) -> Array:
    """Desk above the armrests: under 0 they run into it and keep the chair out; a desk above none is free."""
    top = np.where(np.asarray(seat_armrests) == "none", 0.0, armrest_top)
    return np.asarray(desk_underside - desk_lap_lost - top)


@quantity("deg")
def knee_angle(leg_gap: Array, buttock_popliteal_length: Array) -> Array:
    """Included angle at the knee, lower leg upright: under 90 the seat is too low, over 90 too high.

    Notes
    -----
    Geometry; the lower leg is taken upright and the thigh to point from the
    seat to the knee above the supported foot (judgement). Feet that hang are
    told by ``leg_gap``.

    Examples
    --------
    A seat as high as the hollow of the knee, and one 60 mm lower.

    >>> knee_angle(np.array([0.0, -60.0]), np.array(480.0)).round(1).tolist()
    [90.0, 82.8]
    """
    return angle(90.0 + np.degrees(np.arcsin(np.clip(leg_gap / buttock_popliteal_length, -1.0, 1.0))))


@quantity("deg", name="trunk_lean", mode="sit")
def trunk_lean_sitting(trunk_inclination: Array, recline_used: Array) -> Array:
    """Trunk forward of upright as scores take it; under 0 leaning back, where one need not lean forward."""
    return np.where(trunk_inclination > 0.0, trunk_inclination, -recline_used)


derive("trunk_lean", "deg", "trunk_inclination", mode="stand")
