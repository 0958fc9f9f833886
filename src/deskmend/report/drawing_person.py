"""A person in a side view: limbs, trunk, head, and rings round the parts that are out of their range."""

from __future__ import annotations

import math

from deskmend.report.drawing_marks import Mark
from deskmend.report.drawing_pose import KNEE_HALF, Point, Pose
from deskmend.report.drawing_svg import Sheet, millimetres

__all__ = ["HEAD", "draw_arm", "draw_person", "draw_ring", "draw_skeleton"]

HEAD = 105.0
"""Radius of the head [mm] (judgement, drawn only)."""
RING = 46.0
"""Radius of the ring round a joint [mm]."""


def draw_person(sheet: Sheet, pose: Pose) -> None:
    """Draw everything but the near arm: first all edges, then all skin, so that no inner line shows."""
    for kind in ("edge", "skin"):
        sheet.path(_trunk(pose), f"trunk {kind}")
        sheet.limb(pose.shoulder, 45.0, pose.head, 50.0, f"limb {kind}")
        sheet.limb(pose.knee, KNEE_HALF, pose.ankle, 40.0, f"limb {kind}")
        sheet.limb(pose.hip, pose.thigh_half, pose.knee, KNEE_HALF, f"limb {kind}")
        foot = [
            (pose.heel[0], pose.heel[1]),
            (pose.heel[0], pose.heel[1] + 70.0),
            (pose.ankle[0] + 35.0, pose.ankle[1] + 20.0),
            (pose.toe[0] - 10.0, pose.toe[1] + 40.0),
            pose.toe,
        ]
        sheet.outline(foot, f"limb {kind}", {"of": "sole"} if kind == "skin" else None)
        sheet.circle(pose.head, HEAD, f"limb {kind}")
    sheet.circle(pose.eye, 12.0, "eye", {"of": "eye"})


def draw_arm(sheet: Sheet, pose: Pose) -> None:
    """Draw the near arm, over desk and trunk."""
    for kind in ("edge", "skin"):
        sheet.limb(pose.shoulder, 50.0, pose.elbow, 40.0, f"limb {kind}")
        sheet.limb(pose.elbow, 38.0, pose.hand, 22.0, f"limb {kind}")
    sheet.circle(pose.elbow, 8.0, "joint", {"of": "elbow"})
    sheet.circle(pose.hand, 8.0, "joint", {"of": "hand"})


def draw_skeleton(sheet: Sheet, pose: Pose) -> None:
    """Draw a person as thin lines from joint to joint, as now."""
    sheet.path(_trunk(pose), "now bone")
    sheet.outline([pose.hip, pose.knee, pose.ankle, pose.heel, pose.toe], "now bone", closed=False)
    sheet.outline([pose.shoulder, pose.elbow, pose.hand], "now bone", closed=False)
    sheet.circle(pose.head, HEAD, "now bone")
    sheet.circle(pose.eye, 10.0, "now eye", {"of": "eye"})


def draw_ring(sheet: Sheet, mark: Mark, pose: Pose) -> None:
    """Draw a ring round a joint: broken and heavy where it is still out, plain where it no longer is."""
    kind = "out" if mark.out_then else "fine"
    sheet.circle(_joint(mark.part, pose), RING, f"ring {kind}", {"part": mark.part})


def _trunk(pose: Pose) -> str:
    """Path from hip to shoulder, rounder the more the back is."""
    (x1, y1), (x2, y2) = pose.hip, pose.shoulder
    long = max(math.dist(pose.hip, pose.shoulder), 1.0)
    out = 1.6 * pose.slump
    x = 0.5 * (x1 + x2) - out * (y2 - y1) / long
    y = 0.5 * (y1 + y2) + out * (x2 - x1) / long
    start, bend, end = (f"{millimetres(a)} {millimetres(b)}" for a, b in ((x1, y1), (x, y), (x2, y2)))
    return f"M{start} Q{bend} {end}"


def _joint(part: str, pose: Pose) -> Point:
    between = (0.45 * pose.head[0] + 0.55 * pose.shoulder[0], 0.45 * pose.head[1] + 0.55 * pose.shoulder[1])

    def along(share: float) -> Point:
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
