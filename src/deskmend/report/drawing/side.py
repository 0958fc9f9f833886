"""The side view: person, seat, desk, screen, paper and feet; thin as it is now, strong as it will be."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from deskmend.language import tr
from deskmend.planning.score import Score
from deskmend.report.drawing.dimensions import DrawnValue, angle_of, dimensions_of
from deskmend.report.drawing.furniture import (
    Scene,
    Things,
    anchors_of,
    chair_back,
    desk_edge,
    draw_furniture,
    draw_tools,
    things_of,
)
from deskmend.report.drawing.labels import NamedPoint, place_labels
from deskmend.report.drawing.person import (
    HEAD_RADIUS,
    Mark,
    at_place,
    draw_arm,
    draw_before,
    draw_person,
    draw_ring,
    looked_at,
    marks_of,
    modes_of,
    pose_of,
)
from deskmend.report.drawing.svg import XY, Canvas, millimetres
from deskmend.report.words import quantity_text
from deskmend.workstation.state import State, evaluate

__all__ = ["THINGS", "SideView", "StepMark", "side_view"]


@dataclass(frozen=True)
class SideView:
    """A drawing with its dimensions, and the parts of the body that are or were out of their range.

    `unnamed` are the names for which it had no room.
    """

    svg: str
    dimensions: tuple[DrawnValue, ...]
    marks: tuple[Mark, ...]
    unnamed: tuple[str, ...] = ()


def side_view(
    before: State,
    after: State,
    task: str,
    mode: str,
    now: Score,
    then: Score,
    numbers: Mapping[str, StepMark] | None = None,
) -> SideView:
    """Draw one task from the side as it will be; coordinates are the model's quantities [mm].

    Head and foot as they are now are broken lines; where the mode is not done now, there are none. What is
    new or otherwise than now is named at its place, with its size and, where given, the number of its step.
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
    was, will = sides
    will = replace(will, new=frozenset(_changed(was, will, task)))
    frame = _frame(sides, task)
    canvas = Canvas(*frame, tr("Side view, drawn to scale. The figures stand in the list beside it."))
    canvas.line((frame[0], 0.0), (frame[1], 0.0), "floor")
    draw_furniture(canvas, will, task, "then")
    draw_person(canvas, will.pose)
    draw_tools(canvas, will, "then")
    draw_arm(canvas, will.pose, (will.things.desk_front, will.things.desk_height))
    if was.pose != will.pose:
        draw_before(canvas, was.pose)
    _sight(canvas, will, task)
    for mark in marks:
        draw_ring(canvas, mark, will.pose)
    labels = _measures(canvas, dimensions, will, task, frame)
    named = [one for one in _named(was, will, task, numbers or {}) if one.name or one.number]
    left = place_labels(canvas, [*labels, *named], frame)
    unnamed = tuple(" ".join(filter(None, (one.name, one.size))) for one in left)
    return SideView(canvas.svg(), dimensions, marks, unnamed)


def _frame(sides: Sequence[Scene], task: str) -> tuple[float, float, float, float]:
    """Left, right, low and high of all that is drawn."""
    left = min(
        min(side.pose.hip[0] - 160.0, side.pose.head[0] - HEAD_RADIUS, _rear(side, task)) for side in sides
    )
    right = max(max(side.things.desk_back, side.pose.toe[0], _far(side.things)) for side in sides)
    high = max(
        max(side.pose.head[1] + HEAD_RADIUS, side.things.screen.top[1] if side.things.screen else 0.0)
        for side in sides
    )
    return left - 30.0, right + 60.0, -BELOW, high + 20.0


def _rear(side: Scene, task: str) -> float:
    return 0.0 if side.pose.standing else chair_back(side.state, task)


def _far(things: Things) -> float:
    ends = [things.desk_back]
    if things.screen is not None:
        ends.append(things.screen.top[0] + 120.0)
    if things.paper is not None:
        ends.append(things.paper[1][0])
    return max(ends)


StepMark = tuple[int, bool]
"""Number of a step, and whether it is done later than today."""
BELOW = 14.0
"""Room under the floor [mm]."""
THINGS: dict[str, str] = {
    "feet": "footrest",
    "seat.pad": "cushion",
    "seat.height": "seat",
    "back.depth_taken": "back roll",
    "keyboard": "keyboard",
    "screen.raise": "riser",
    "paper": "paper",
    "desk.height": "desk",
    "screen": "screen",
}
"""What things are called in a drawing."""


def _named(was: Scene, will: Scene, task: str, numbers: Mapping[str, StepMark]) -> list[NamedPoint]:
    """Names of the things that are new or otherwise than now, with their sizes."""
    changed = _changed(was, will, task)
    return [
        NamedPoint(at, tr(THINGS[name]), _size(will, task, name) or "", *numbers.get(name, (0, False)))
        for name, at in anchors_of(will, task).items()
        if name in numbers or name in changed
    ]


def _changed(was: Scene, will: Scene, task: str) -> list[str]:
    """Things that are new or otherwise than now."""
    return [name for name in THINGS if _size(was, task, name) != _size(will, task, name)]


def _size(scene: Scene, task: str, name: str) -> str | None:
    """What is said of a thing: how high or thick it is; None where it is not there."""
    state = scene.state
    if name not in anchors_of(scene, task):
        return None
    if name == "keyboard":
        return ""
    if name == "screen":
        return ""
    if name == "paper":
        slope = float(state.values[("task", task), "paper.slope"])
        return quantity_text(slope, "deg") if slope > 0.0 else ""
    ask = evaluate(state, task)
    if name == "feet":
        return quantity_text(float(ask("foot_surface")), "mm")
    if name == "seat.pad":
        return quantity_text(float(ask("seat_front")) - float(at_place(state, task, "seat.height")), "mm")
    if name == "desk.height":
        return quantity_text(float(ask("work_surface")), "mm")
    return quantity_text(float(at_place(state, task, name)), "mm")


def _sight(canvas: Canvas, will: Scene, task: str) -> None:
    end = _middle(will, task)
    if end is not None:
        canvas.line(will.pose.eye, end, "then sight", {"of": "sight"})


def _middle(side: Scene, task: str) -> XY | None:
    if looked_at(side.state, task) == "paper" and side.things.paper is not None:
        low, top = side.things.paper
    elif side.things.screen is not None:
        low, top = side.things.screen.low, side.things.screen.top
    else:
        return None
    return 0.5 * (low[0] + top[0]), 0.5 * (low[1] + top[1])


# --- dimensions --------------------------------------------------------------------------------------


def _measures(
    canvas: Canvas,
    dimensions: Sequence[DrawnValue],
    will: Scene,
    task: str,
    frame: tuple[float, float, float, float],
) -> list[NamedPoint]:
    """Draw heights from the floor and the angle of sight; their figures are placed with the names."""
    columns = {"left": frame[0] + 5.0, "right": frame[1] - 15.0}
    out = []
    for dimension in dimensions:
        if dimension.low is None or dimension.high is None:
            continue
        if dimension.kind == "angle":
            out += _angle(canvas, dimension, will, task)
            continue
        x = columns[dimension.side]
        canvas.line((x, dimension.low), (x, dimension.high), "measure", {"of": dimension.name})
        for y, inward in ((dimension.low, 24.0), (dimension.high, -24.0)):
            canvas.line((x - 18.0, y), (x + 18.0, y), "measure")
            canvas.outline([(x - 9.0, y + inward), (x, y), (x + 9.0, y + inward)], "measure", closed=False)
        out.append(NamedPoint((x, 0.5 * (dimension.low + dimension.high)), "", dimension.short, led=False))
    return out


def _angle(canvas: Canvas, dimension: DrawnValue, will: Scene, task: str) -> list[NamedPoint]:
    """Level line from the eye, and the arc down to the line of sight."""
    end = _middle(will, task)
    if end is None:
        return []
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
    return [NamedPoint((eye[0] + long, eye[1]), "", dimension.short, led=False)]
