"""The side view: person, seat, desk, screen, paper and feet; thin as it is now, strong as it will be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.language import tr
from deskmend.planning.score import Score
from deskmend.report.drawing.dimensions import DrawnValue, angle_of, dimensions_of
from deskmend.report.drawing.furniture import (
    Scene,
    Things,
    bare_seat,
    desk_edge,
    draw_chair,
    draw_desk,
    draw_feet,
    draw_furniture,
    draw_tools,
    things_of,
)
from deskmend.report.drawing.person import (
    HEAD_RADIUS,
    TRUNK_HALF,
    Mark,
    draw_arm,
    draw_person,
    draw_ring,
    draw_skeleton,
    looked_at,
    marks_of,
    modes_of,
    pose_of,
)
from deskmend.report.drawing.svg import XY, Canvas, millimetres
from deskmend.workstation.state import State

__all__ = ["SideView", "side_view"]

DIMENSION_LETTER = 66.0
"""Size of letters, set in the style sheet too [mm]."""
SIDES = ("left", "right", "feet")
"""Where upright dimensions stand."""


@dataclass(frozen=True)
class SideView:
    """A drawing with its dimensions, and the parts of the body that are or were out of their range."""

    svg: str
    dimensions: tuple[DrawnValue, ...]
    marks: tuple[Mark, ...]


def side_view(before: State, after: State, task: str, mode: str, now: Score, then: Score) -> SideView:
    """Draw one task from the side, as it is and as it will be; coordinates are the model's quantities [mm].

    Where the mode, the one with the fixes, is not done now, nothing thin is drawn.
    """
    if mode not in modes_of(before, task):
        before, now = after, then
    poses = [pose_of(state, task, mode) for state in (before, after)]
    sides = [
        Scene(state, pose, things_of(state, task, mode, pose, desk_edge(state, task, mode, pose)))
        for state, pose in zip((before, after), poses, strict=True)
    ]
    dimensions = dimensions_of(before, after, task, mode)
    marks = marks_of(task, mode, now, then)
    canvas = _canvas(
        sides, dimensions, tr("Side view, drawn to scale. The figures stand in the list beside it.")
    )
    was, will = sides
    left, right = _ends(sides)
    canvas.line((left, 0.0), (right, 0.0), "floor")
    draw_furniture(canvas, will, task, "then")
    draw_person(canvas, will.pose)
    draw_tools(canvas, will, "then")
    draw_arm(canvas, will.pose)
    _before(canvas, was, will, task)
    _sight(canvas, was, will, task)
    for mark in marks:
        draw_ring(canvas, mark, will.pose)
    _measures(canvas, dimensions, sides, task)
    return SideView(canvas.svg(), dimensions, marks)


def _ends(sides: Sequence[Scene]) -> tuple[float, float]:
    left = min(min(side.pose.hip[0] - TRUNK_HALF, side.pose.head[0] - HEAD_RADIUS, -60.0) for side in sides)
    right = max(max(side.things.desk_back, side.pose.toe[0], _far(side.things)) for side in sides)
    return left - 60.0, right + 60.0


def _far(things: Things) -> float:
    ends = [things.desk_back]
    if things.screen is not None:
        ends.append(things.screen.top[0] + 120.0)
    if things.paper is not None:
        ends.append(things.paper[1][0])
    return max(ends)


BELOW = 40.0
"""Room under the floor [mm]."""


def _canvas(sides: Sequence[Scene], dimensions: Sequence[DrawnValue], label: str) -> Canvas:
    left, right = _ends(sides)
    lined = [one for one in dimensions if one.kind == "length" and one.low is not None]
    rooms = {side: max((_width(one) for one in lined if one.side == side), default=0.0) for side in SIDES}
    left -= rooms["left"] + 80.0 if rooms["left"] else 0.0
    right += rooms["right"] + 80.0 if rooms["right"] else 0.0
    low = BELOW + (1.2 * DIMENSION_LETTER if rooms["feet"] else 0.0)
    high = max(
        max(side.pose.head[1] + HEAD_RADIUS, side.things.screen.top[1] if side.things.screen else 0.0)
        for side in sides
    )
    return Canvas(left, right, -low, high + 90.0, label)


def _before(canvas: Canvas, was: Scene, will: Scene, task: str) -> None:
    """What is different now, thin."""
    pose = was.pose
    if pose != will.pose:
        draw_skeleton(canvas, pose)
    if not pose.standing and bare_seat(was.state, task) != bare_seat(will.state, task):
        draw_chair(canvas, was, task, "now")
    draw_feet(canvas, was, task, "now")
    if (was.things.desk_height, was.things.desk_tilt) != (will.things.desk_height, will.things.desk_tilt):
        draw_desk(canvas, was.things, "now")
    if (was.things.screen, was.things.paper) != (will.things.screen, will.things.paper):
        draw_tools(canvas, was, "now")


def _sight(canvas: Canvas, was: Scene, will: Scene, task: str) -> None:
    for side, kind in ((was, "now"), (will, "then")):
        end = _middle(side, task)
        if end is not None and (kind == "then" or _middle(will, task) != end or was.pose != will.pose):
            canvas.line(side.pose.eye, end, f"{kind} sight", {"of": "sight"})


def _middle(side: Scene, task: str) -> XY | None:
    if looked_at(side.state, task) == "paper" and side.things.paper is not None:
        low, top = side.things.paper
    elif side.things.screen is not None:
        low, top = side.things.screen.low, side.things.screen.top
    else:
        return None
    return 0.5 * (low[0] + top[0]), 0.5 * (low[1] + top[1])


# --- dimensions --------------------------------------------------------------------------------------


def _measures(canvas: Canvas, dimensions: Sequence[DrawnValue], sides: Sequence[Scene], task: str) -> None:
    left, right = _ends(sides)
    will = sides[1]
    columns = {"left": left + 10.0, "right": right - 10.0, "feet": will.pose.toe[0] + 50.0}
    free: dict[str, float] = dict.fromkeys(columns, -math.inf)
    for dimension in dimensions:
        if dimension.low is None or dimension.high is None:
            continue
        if dimension.kind == "angle":
            _angle(canvas, dimension, will, task)
            continue
        x = columns[dimension.side]
        canvas.line((x, dimension.low), (x, dimension.high), "measure", {"of": dimension.name})
        for y in (dimension.low, dimension.high):
            canvas.line((x - 20.0, y), (x + 20.0, y), "measure")
        text = f"{dimension.letter} {dimension.short}"
        if dimension.side == "feet":
            canvas.text((will.pose.heel[0], -1.15 * DIMENSION_LETTER), text)
            continue
        # Where two lines are short, the upper one's words move up.
        y = max(0.5 * (dimension.low + dimension.high) - 0.35 * DIMENSION_LETTER, 10.0, free[dimension.side])
        free[dimension.side] = y + 1.1 * DIMENSION_LETTER
        away, anchor = (-34.0, "end") if dimension.side == "left" else (34.0, "start")
        canvas.text((x + away, y), text, anchor)


def _width(dimension: DrawnValue) -> float:
    """About as wide as a dimension is written [mm]."""
    return 0.6 * DIMENSION_LETTER * len(f"{dimension.letter} {dimension.short}")


def _angle(canvas: Canvas, dimension: DrawnValue, will: Scene, task: str) -> None:
    """Level line from the eye, and the arc down to the line of sight."""
    end = _middle(will, task)
    if end is None:
        return
    eye = will.pose.eye
    long = min(0.8 * math.dist(eye, end), 320.0)
    degrees = angle_of(eye, end)
    canvas.line(eye, (eye[0] + long, eye[1]), "level")
    radians = math.radians(-degrees)
    tip = (eye[0] + 0.8 * long * math.cos(radians), eye[1] + 0.8 * long * math.sin(radians))
    radius = millimetres(0.8 * long)
    sweep = 0 if degrees > 0 else 1
    start = f"{millimetres(eye[0] + 0.8 * long)} {millimetres(eye[1])}"
    canvas.path(
        f"M{start} A{radius} {radius} 0 0 {sweep} {millimetres(tip[0])} {millimetres(tip[1])}", "measure"
    )
    canvas.text((eye[0] + 0.55 * long, eye[1] + 26.0), f"{dimension.letter} {dimension.short}")
