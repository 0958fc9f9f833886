"""A person in a side view, posed by the very quantities that are scored; rings round what is out of range.

Points are in mm: x forward from the seat's back edge (standing: from the hip), y above the floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from deskmend.measures import Deg, Mm
from deskmend.planning.score import Score
from deskmend.report.drawing.svg import XY, Canvas, millimetres
from deskmend.workstation.fields import Value
from deskmend.workstation.state import PERSON, State, evaluate

__all__ = [
    "HEAD_RADIUS",
    "KNEE_HALF",
    "TRUNK_HALF",
    "Mark",
    "Pose",
    "at_place",
    "draw_arm",
    "draw_person",
    "draw_ring",
    "draw_skeleton",
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
TRUNK_HALF = 105.0
"""Half the depth of the trunk [mm] (judgement, drawn only)."""
ANKLE_HEIGHT = 75.0
"""Ankle over the sole of the foot [mm] (judgement, drawn only)."""
KNEE_HALF = 58.0
"""Half the thickness of the knee [mm] (judgement, drawn only)."""
FINGERS = 0.6
"""Part of the hand's length at which bent fingers work [-] (as the model's arms)."""


@dataclass(frozen=True)
class Pose:
    """A person at work, from the side (x, y) [mm]; heel and toe are under the shoe.

    ``_upright`` is before any lean: the eye is then at the quantity ``eye_height``. `elbow_height` is that of
    the hanging elbow, `slump` the eye height lost by a round back.
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
    ask = evaluate(state, task)
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
        recline = 0.0
        thigh_half = 70.0
        seat = body.stature * HIP_OF_STATURE + shoes
        hip = (0.0, seat)
        knee = (0.0, body["knee_height"] + shoes - KNEE_HALF)
        ankle = (0.0, shoes + ANKLE_HEIGHT)
        sole = 0.0
        eye_upright = (0.0, eye_height)
        pivot = (0.0, eye_height - body["sitting_eye_height"])
    else:
        recline = of("recline_used")
        thigh_half = 0.5 * body["thigh_clearance"]
        seat = of("seat_top")
        taken = float(at_place(state, task, "back.depth_taken"))
        length = body["buttock_popliteal_length"]
        gap = of("leg_gap")
        rise = math.asin(max(-1.0, min(1.0, -gap / length))) if gap < 0 else 0.0
        back = taken
        hip = (back + HIP_FROM_BACK * length, seat + thigh_half)
        beyond = body["buttock_knee_length"] - length
        knee_front = back + length * math.cos(rise) + beyond
        knee = (knee_front - KNEE_HALF, of("knee_top") - KNEE_HALF)
        sole = of("foot_surface") + max(gap, 0.0)
        ankle = (knee[0] - 10.0, sole + shoes + ANKLE_HEIGHT)
        reach_back = body["sitting_eye_height"] * math.sin(math.radians(recline))
        eye_upright = (hip[0] - reach_back, eye_height)
        pivot = (hip[0], eye_height - body["sitting_eye_height"])
    above = elbow_height + upper - (hip[1] if standing else seat)
    base = (hip[0], hip[1] if standing else seat)
    level = above * math.tan(math.radians(recline))
    shoulder_upright = (base[0] - level, base[1] + above)
    if lean > 0.0:
        eye = _turned((pivot[0], pivot[1] + body["sitting_eye_height"]), pivot, lean)
        shoulder = _turned((base[0], base[1] + above), base, lean)
    else:
        eye, shoulder = eye_upright, shoulder_upright
    head = _turned((eye[0] - 78.0, eye[1] + 22.0), eye, of("head_inclination", target=target))
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


HEAD_RADIUS = 105.0
"""Radius of the head [mm] (judgement, drawn only)."""
RING = 46.0
"""Radius of the ring round a joint [mm]."""


def draw_person(canvas: Canvas, pose: Pose) -> None:
    """Draw everything but the near arm: first all edges, then all skin, so that no inner line shows."""
    for kind in ("edge", "skin"):
        canvas.path(_trunk(pose), f"trunk {kind}")
        canvas.limb(pose.shoulder, 45.0, pose.head, 50.0, f"limb {kind}")
        canvas.limb(pose.knee, KNEE_HALF, pose.ankle, 40.0, f"limb {kind}")
        canvas.limb(pose.hip, pose.thigh_half, pose.knee, KNEE_HALF, f"limb {kind}")
        foot = [
            (pose.heel[0], pose.heel[1]),
            (pose.heel[0], pose.heel[1] + 70.0),
            (pose.ankle[0] + 35.0, pose.ankle[1] + 20.0),
            (pose.toe[0] - 10.0, pose.toe[1] + 40.0),
            pose.toe,
        ]
        canvas.outline(foot, f"limb {kind}", {"of": "sole"} if kind == "skin" else None)
        canvas.circle(pose.head, HEAD_RADIUS, f"limb {kind}")
    canvas.circle(pose.eye, 12.0, "eye", {"of": "eye"})


def draw_arm(canvas: Canvas, pose: Pose) -> None:
    """Draw the near arm, over desk and trunk."""
    for kind in ("edge", "skin"):
        canvas.limb(pose.shoulder, 50.0, pose.elbow, 40.0, f"limb {kind}")
        canvas.limb(pose.elbow, 38.0, pose.hand, 22.0, f"limb {kind}")
    canvas.circle(pose.elbow, 8.0, "joint", {"of": "elbow"})
    canvas.circle(pose.hand, 8.0, "joint", {"of": "hand"})


def draw_skeleton(canvas: Canvas, pose: Pose) -> None:
    """Draw a person as thin lines from joint to joint, as now."""
    canvas.path(_trunk(pose), "now bone")
    canvas.outline([pose.hip, pose.knee, pose.ankle, pose.heel, pose.toe], "now bone", closed=False)
    canvas.outline([pose.shoulder, pose.elbow, pose.hand], "now bone", closed=False)
    canvas.circle(pose.head, HEAD_RADIUS, "now bone")
    canvas.circle(pose.eye, 10.0, "now eye", {"of": "eye"})


def draw_ring(canvas: Canvas, mark: Mark, pose: Pose) -> None:
    """Draw a ring round a joint: broken and heavy where it is still out, plain where it no longer is."""
    kind = "out" if mark.out_then else "fine"
    canvas.circle(_joint(mark.part, pose), RING, f"ring {kind}", {"part": mark.part})


def _trunk(pose: Pose) -> str:
    """Path from hip to shoulder, rounder the more the back is."""
    (x1, y1), (x2, y2) = pose.hip, pose.shoulder
    long = max(math.dist(pose.hip, pose.shoulder), 1.0)
    out = 1.6 * pose.slump
    x = 0.5 * (x1 + x2) - out * (y2 - y1) / long
    y = 0.5 * (y1 + y2) + out * (x2 - x1) / long
    start, bend, end = (f"{millimetres(a)} {millimetres(b)}" for a, b in ((x1, y1), (x, y), (x2, y2)))
    return f"M{start} Q{bend} {end}"


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
