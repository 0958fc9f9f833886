"""A person in a side view, posed by the very quantities that are scored; rings round what is out of range.

Points are in mm: x forward from the seat's back edge (standing: from the hip), y above the floor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.measures import Deg, Mm
from deskmend.planning.score import Score
from deskmend.report.drawing.svg import XY, Canvas
from deskmend.risk.severity import seen_in
from deskmend.workstation.fields import Value
from deskmend.workstation.state import PERSON, State

__all__ = [
    "HEAD_RADIUS",
    "KNEE_HALF",
    "Mark",
    "Pose",
    "at_place",
    "draw_arm",
    "draw_before",
    "draw_person",
    "draw_ring",
    "looked_at",
    "marks_of",
    "modes_of",
    "pose_of",
    "worked_on",
]


@dataclass(frozen=True)
class Mark:
    """One part of the body with strain at a task now or then, and whether it still has some then."""

    part: str
    out_then: bool


def marks_of(task: str, mode: str, now: Score, then: Score) -> tuple[Mark, ...]:
    """Parts of the body with strain at one task, in the order of the regions."""
    before, after = (_of_task(score, task, mode) for score in (now, then))
    return tuple(Mark(part, after[part] > 0) for part in now.by_region if before[part] > 0 or after[part] > 0)


def _of_task(score: Score, task: str, mode: str) -> dict[str, int]:
    out = dict.fromkeys(score.by_region, 0)
    for term in score.terms:
        if term.task == task and term.roles.get("mode", mode) == mode:
            out[term.region] += term.value
    return out


HIP_FROM_BACK = 0.27
"""Hip joint in front of the back, as part of buttock_popliteal_length [-] (judgement, drawn only)."""
HIP_OF_STATURE = 0.52
"""Height of the standing hip joint as part of the stature [-] (from memory, drawn only)."""
ANKLE_HEIGHT = 75.0
"""Ankle over the sole of the foot [mm] (judgement, drawn only)."""
KNEE_HALF = 58.0
"""Half the thickness of the knee [mm] (judgement, drawn only)."""
EYE_AHEAD = 40.0
"""Eye before the shoulder joint, upright [mm] (judgement, drawn only): as far as keys at the edge allow."""
STANDING_THIGH = 84.0
"""Half the thickness of a thigh, standing [mm] (judgement, drawn only)."""
FINGERS = 0.6
"""Part of the hand's length at which bent fingers work [-] (as the model's arms)."""


@dataclass(frozen=True)
class Pose:
    """A person at work, from the side (x, y) [mm]; heel and toe are under the shoe.

    ``_upright`` is before any lean: the eye is then at the quantity ``eye_height``. `elbow_height` is that of
    the hanging elbow, `slump` the eye height lost by a round back, `pitch` the bend of the head, `back_half`
    the way from the hip joint to the back, `belly` the depth of the trunk, `roll` whether one
    fills the hollow.
    """

    standing: bool
    eye: XY
    eye_upright: XY
    shoulder_upright: XY
    head: XY
    shoulder: XY
    elbow: XY
    hand: XY
    hip: XY
    knee: XY
    ankle: XY
    heel: XY
    toe: XY
    elbow_height: Mm
    lean: Deg
    recline: Deg
    slump: Mm
    thigh_half: Mm
    pitch: Deg
    back_half: Mm
    belly: Mm
    roll: bool


def at_place(state: State, task: str, name: str) -> Value:
    """Value of a field at the place where a task is done."""
    return state.values[("place", state.place_of[task]), name]


def modes_of(state: State, task: str) -> tuple[str, ...]:
    """How a task is done: ``sit``, ``stand`` or both."""
    standing = float(at_place(state, task, "stand_share"))
    return ("sit",) if standing <= 0.0 else ("stand",) if standing >= 1.0 else ("sit", "stand")


def looked_at(state: State, task: str) -> str:
    """What a task mostly looks at: ``screen``, ``second`` or ``paper``."""
    return max(
        ("screen", "paper", "second"), key=lambda one: float(state.values[("task", task), f"look.{one}"])
    )


def worked_on(state: State, task: str) -> str:
    """What the hands mostly work on: ``keys``, ``mouse`` or ``writing``."""
    return max(
        ("keys", "writing", "mouse"), key=lambda one: float(state.values[("task", task), f"hands.{one}"])
    )


def _turned(point: XY, about: XY, forward: float) -> XY:
    """Turn a point forward about another [deg]."""
    c, s = math.cos(math.radians(forward)), math.sin(math.radians(forward))
    x, y = point[0] - about[0], point[1] - about[1]
    return about[0] + x * c + y * s, about[1] - x * s + y * c


def pose_of(state: State, task: str, mode: str) -> Pose:
    """Pose of a person at one task, looking at what the task mostly looks at."""
    ask = seen_in(state, task)
    body = state.body
    shoes = float(state.values[PERSON, "person.shoes"])
    standing = mode == "stand"
    target, hand_at = looked_at(state, task), worked_on(state, task)

    def of(name: str, **roles: str) -> float:
        return float(ask(name, mode=mode, **roles))

    lean = of("trunk_inclination", target=target)
    slump = of("slump")
    eye_height, elbow_height = of("eye_height"), of("elbow_height")
    upper = body["shoulder_elbow_length"]
    if standing:
        recline = axis = 0.0
        thigh_half = STANDING_THIGH
        seat = body.stature * HIP_OF_STATURE + shoes
        hip = (0.0, seat)
        knee = (0.0, body["knee_height"] + shoes - KNEE_HALF)
        ankle = (0.0, shoes + ANKLE_HEIGHT)
        sole = 0.0
        pivot = (0.0, eye_height - body["sitting_eye_height"])
    else:
        recline = of("recline_used")
        thigh_half = 0.5 * body["thigh_clearance"]
        seat = of("seat_top")
        taken = float(at_place(state, task, "back.depth_taken"))
        length = body["buttock_popliteal_length"]
        gap = of("leg_gap")
        rise = math.asin(max(-1.0, min(1.0, -gap / length))) if gap < 0 else 0.0
        # The backrest's face leans from the rear end of the bare seat, and the back lies along it.
        fall = math.tan(math.radians(recline))
        depth, bare = (float(at_place(state, task, f"seat.{name}")) for name in ("depth", "height"))
        rear = bare - depth * math.tan(math.radians(float(at_place(state, task, "seat.slope"))))
        back = taken - (seat - rear) * fall
        axis = back + HIP_FROM_BACK * length / math.cos(math.radians(recline))
        hip = (axis - thigh_half * fall, seat + thigh_half)
        beyond = body["buttock_knee_length"] - length
        knee_front = back + length * math.cos(rise) + beyond
        knee = (knee_front - KNEE_HALF, of("knee_top") - KNEE_HALF)
        sole = of("foot_surface") + max(gap, 0.0)
        ankle = (knee[0] - 10.0, sole + shoes + ANKLE_HEIGHT)
        pivot = (hip[0], eye_height - body["sitting_eye_height"])
    above = elbow_height + upper - (hip[1] if standing else seat)
    base = hip if standing else (axis, seat)
    level = above * math.tan(math.radians(recline))
    shoulder_upright = (base[0] - level, base[1] + above)
    eye_upright = (shoulder_upright[0] + EYE_AHEAD, eye_height)
    if lean > 0.0:
        eye = _turned((pivot[0] + EYE_AHEAD, pivot[1] + body["sitting_eye_height"]), pivot, lean)
        shoulder = _turned((base[0], base[1] + above), base, lean)
    else:
        eye, shoulder = eye_upright, shoulder_upright
    pitch = of("head_inclination", target=target)
    head = _turned((eye[0] - 78.0, eye[1] + 4.0), eye, pitch)
    hand = (
        shoulder_upright[0] + of("reach_forward", hand=hand_at),
        float(ask("hand_height", hand=hand_at)),
    )
    lower = body["forearm_length"] + FINGERS * (body["forearm_hand_length"] - body["forearm_length"])
    hanging = (shoulder[0], shoulder[1] - upper if lean > 0.0 else elbow_height)
    if math.dist(hanging, hand) > lower + 1.0:
        elbow = _elbow(shoulder, hand, upper, lower)
    else:
        elbow = hanging
    heel = (ankle[0] - 55.0, sole)
    return Pose(
        standing,
        eye,
        eye_upright,
        shoulder_upright,
        head,
        shoulder,
        elbow,
        hand,
        hip,
        knee,
        ankle,
        heel,
        (heel[0] + body["foot_length"], sole),
        elbow_height,
        lean,
        recline,
        slump,
        thigh_half,
        pitch,
        HIP_FROM_BACK * body["buttock_popliteal_length"],
        body["abdominal_depth"],
        not standing and float(at_place(state, task, "back.depth_taken")) > 0.0,
    )


def _elbow(shoulder: XY, hand: XY, upper: float, lower: float) -> XY:
    """Elbow between shoulder and hand, bent down and back; on the straight line where they are too far."""
    distance = max(math.dist(shoulder, hand), 1.0)
    along = max(0.0, min(upper, (distance**2 + upper**2 - lower**2) / (2.0 * distance)))
    if distance >= upper + lower:
        along = distance * upper / (upper + lower)
    off = math.sqrt(max(0.0, upper**2 - along**2)) if distance < upper + lower else 0.0
    ux, uy = (hand[0] - shoulder[0]) / distance, (hand[1] - shoulder[1]) / distance
    return shoulder[0] + along * ux + off * uy, shoulder[1] + along * uy - off * ux


HEAD_RADIUS = 150.0
"""How far the head reaches from its middle [mm]."""
RING = 15.0
"""Radius of the ring at a joint [mm]."""
HEAD: Sequence[XY] = (
    (4.0, 34.0), (-4.0, 66.0), (-34.0, 102.0), (-84.0, 118.0), (-134.0, 96.0), (-163.0, 48.0), (-164.0, -4.0),
    (-146.0, -44.0), (-128.0, -78.0), (-92.0, -108.0), (-60.0, -98.0), (-34.0, -106.0), (-6.0, -122.0),
    (10.0, -118.0), (15.0, -100.0), (11.0, -86.0), (18.0, -76.0), (16.0, -58.0), (32.0, -48.0), (14.0, -12.0),
    (8.0, 6.0),
)  # fmt: skip
"""Outline of a head held level, from the forehead over the crown: from the eye, forward and up [mm]
(judgement, drawn only)."""
HAIR: Sequence[XY] = (
    (-2.0, 60.0), (-34.0, 103.0), (-84.0, 120.0), (-136.0, 98.0), (-166.0, 48.0), (-167.0, -4.0),
    (-148.0, -46.0), (-128.0, -40.0), (-112.0, -4.0), (-86.0, 28.0), (-50.0, 44.0),
)  # fmt: skip
EAR: Sequence[XY] = ((-78.0, 14.0), (-92.0, 10.0), (-92.0, -14.0), (-80.0, -24.0))
NECK_BASE: XY = (-34.0, 42.0)
"""Foot of the neck, from the shoulder joint [mm]."""
SKULL_BASE: XY = (-92.0, -62.0)
"""Top of the neck, from the eye in a level head [mm]."""
HOLLOW = 26.0
"""Hollow of the lower back of an upright trunk [mm]; as much slump takes it away."""


def _placed(points: Sequence[XY], pose: Pose) -> list[XY]:
    """Points of the head, turned about the eye as far as the head is bent."""
    return [_turned((pose.eye[0] + x, pose.eye[1] + y), pose.eye, pose.pitch) for x, y in points]


def _trunk(pose: Pose) -> list[XY]:
    """Outline of the trunk: along its back, which meets the backrest or the roll, and up the front again."""
    (x1, y1), (x2, y2) = pose.hip, pose.shoulder
    long = max(math.dist(pose.hip, pose.shoulder), 1.0)
    up = ((x2 - x1) / long, (y2 - y1) / long)
    hollow = 0.0 if pose.roll else max(HOLLOW - pose.slump, 0.0)
    back, belly = pose.back_half, max(pose.belly - pose.back_half, 70.0)
    low = -pose.thigh_half / long

    def at(share: float, forward: float) -> XY:
        return x1 + share * long * up[0] + forward * up[1], y1 + share * long * up[1] - forward * up[0]

    return [
        at(1.08, -8.0), at(1.11, -52.0), at(1.0, -0.72 * back), at(0.82, -0.98 * back),
        at(0.62, -back), at(0.3, hollow - back), at(0.08, -back), at(0.6 * low, 14.0 - back),
        (x1 + 55.0 - back, y1 - pose.thigh_half), (x1, y1 - pose.thigh_half),
        at(0.02, 60.0), at(0.24, belly), at(0.45, 0.96 * belly),
        at(0.72, 96.0), at(0.92, 78.0), at(1.01, 42.0),
    ]  # fmt: skip


def _foot(pose: Pose) -> list[XY]:
    (heel, sole), toe = pose.heel, pose.toe[0]
    return [
        (heel, sole), (heel - 6.0, sole + 32.0), (heel + 2.0, sole + 84.0), (heel + 48.0, sole + 92.0),
        (heel + 96.0, sole + 86.0), (heel + 150.0, sole + 58.0), (toe - 30.0, sole + 46.0),
        (toe, sole + 22.0),
        (toe - 4.0, sole), (0.5 * (heel + toe), sole),
    ]  # fmt: skip


def draw_person(canvas: Canvas, pose: Pose) -> None:
    """Draw everything but the near arm: first all edges, then all skin, so that no inner line shows."""
    (skull,) = _placed([SKULL_BASE], pose)
    neck = pose.shoulder[0] + NECK_BASE[0], pose.shoulder[1] + NECK_BASE[1]
    for kind in ("edge", "skin"):
        canvas.limb(neck, 56.0, skull, 50.0, f"limb {kind}")
        canvas.smooth(_trunk(pose), f"limb {kind}", {"of": "trunk"})
        canvas.limb(pose.knee, KNEE_HALF, pose.ankle, 38.0, f"limb {kind}")
        canvas.limb(pose.hip, pose.thigh_half, pose.knee, KNEE_HALF, f"limb {kind}")
    canvas.smooth(_placed(HEAD, pose), "limb skin drawn", {"of": "head"})
    canvas.smooth(_placed(HAIR, pose), "hair")
    canvas.outline(_placed(EAR, pose), "limb skin drawn", closed=False)
    canvas.smooth(_foot(pose), "shoe", {"of": "sole"})
    canvas.circle(pose.eye, 9.0, "eye", {"of": "eye"})


def draw_arm(canvas: Canvas, pose: Pose, edge: XY, rests: bool) -> None:
    """Draw the near arm over desk and trunk; its underside lies on what it works on and clears the edge.

    What is measured is the underside of the elbow, and how high the hands work: the arm lies above both. An
    arm that rests lies on the desk up to the palm, let down to it as far as a shoulder hangs.
    """
    under, palm = max(pose.elbow[1], _over(edge, pose)), pose.hand[1]
    if rests:
        under = max(edge[1], pose.elbow[1] - SHOULDER_HANGS)
        palm = max(min(edge[1], palm), palm - FINGERS_UP)
    hand, elbow = (pose.hand[0], palm + HAND_HALF), (pose.elbow[0], under + ELBOW_HALF)
    tip = hand[0] + 62.0, pose.hand[1] + HAND_HALF - 6.0
    for kind in ("edge", "skin"):
        canvas.limb(pose.shoulder, 50.0, elbow, ELBOW_HALF, f"limb {kind}", {"of": "upper_arm"})
        canvas.limb(elbow, ELBOW_HALF, hand, HAND_HALF, f"limb {kind}", {"of": "forearm"})
        canvas.limb(hand, HAND_HALF, tip, 11.0, f"limb {kind}")
    canvas.circle(pose.hand, 6.0, "joint", {"of": "hand"})


FINGERS_UP = 60.0
"""How far fingers reach up to keys from a palm that rests [mm] (judgement, drawn only)."""
SHOULDER_HANGS = 30.0
"""How far an arm that rests is let down to what it rests on [mm] (judgement, drawn only)."""
ELBOW_HALF, HAND_HALF = 38.0, 21.0
"""Half the thickness of elbow and hand [mm] (judgement, drawn only)."""


def _over(edge: XY, pose: Pose) -> Mm:
    """Underside of an elbow whose forearm runs to the hand over the desk's edge, at most level with it.

    An elbow of who leans in over the desk lies on it.
    """
    if pose.elbow[0] >= edge[0]:
        return max(pose.elbow[1], edge[1])
    if edge[0] >= pose.hand[0]:
        return pose.elbow[1]
    rise = (pose.hand[1] - edge[1]) / max(pose.hand[0] - edge[0], 40.0)
    return min(edge[1] - rise * (edge[0] - pose.elbow[0]), edge[1])


def draw_before(canvas: Canvas, pose: Pose) -> None:
    """Draw head and foot as they are now, as broken lines."""
    canvas.smooth(_placed(HEAD, pose), "now bone")
    canvas.circle(pose.eye, 8.0, "now eye", {"of": "eye"})
    canvas.smooth(_foot(pose), "now bone")


def draw_ring(canvas: Canvas, mark: Mark, pose: Pose) -> None:
    """Draw a ring at a joint: filled where it is still out of its range, white where it no longer is."""
    kind = "out" if mark.out_then else "fine"
    canvas.circle(_joint(mark.part, pose), RING, f"ring {kind}", {"part": mark.part})


def _joint(part: str, pose: Pose) -> XY:
    between = (0.45 * pose.head[0] + 0.55 * pose.shoulder[0], 0.45 * pose.head[1] + 0.55 * pose.shoulder[1])

    def along(share: float) -> XY:
        (x1, y1), (x2, y2) = pose.hip, pose.shoulder
        return x1 + share * (x2 - x1) - 1.0 * pose.slump, y1 + share * (y2 - y1)

    return {
        "eyes": pose.eye,
        "neck": between,
        "shoulders": pose.shoulder,
        "arms_hands": pose.hand,
        "upper_back": along(0.72),
        "lower_back": along(0.22),
        "hips_thighs": (pose.hip[0] + 60.0, pose.hip[1] - pose.thigh_half),
        "legs_feet": pose.knee,
    }[part]
