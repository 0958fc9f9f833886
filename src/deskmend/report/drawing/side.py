"""The side view: person, seat, desk, screen, paper and feet; thin as it is now, strong as it will be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.language import tr
from deskmend.planning.score import Score
from deskmend.report.drawing.furniture import (
    Side,
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
from deskmend.report.drawing.measures import Measure, angle_of, measures_of
from deskmend.report.drawing.person import (
    HEAD,
    TRUNK_HALF,
    Mark,
    Point,
    draw_arm,
    draw_person,
    draw_ring,
    draw_skeleton,
    looked_at,
    marks_of,
    modes_of,
    pose_of,
)
from deskmend.report.drawing.svg import Sheet, millimetres
from deskmend.workstation.state import State

__all__ = ["SideView", "side_view"]

LETTER = 66.0
"""Size of letters, set in the style sheet too [mm]."""
SIDES = ("left", "right", "feet")
"""Where upright dimensions stand."""


@dataclass(frozen=True)
class SideView:
    """A drawing with what stands beside it."""

    svg: str
    measures: tuple[Measure, ...]
    marks: tuple[Mark, ...]


def side_view(before: State, after: State, task: str, mode: str, now: Score, then: Score) -> SideView:
    """Draw one task from the side, as it is and as it will be."""
    if mode not in modes_of(before, task):
        before, now = after, then
    modes = (mode, mode)
    poses = [pose_of(state, task, mode) for state, mode in zip((before, after), modes, strict=True)]
    same_place = before.place_of[task] == after.place_of[task]
    edges = [
        desk_edge(pose, float(state.values[("place", state.place_of[task]), "desk.height"]))
        for state, pose in zip((before, after), poses, strict=True)
    ]
    sides = [
        Side(state, pose, things_of(state, task, mode, pose, max(edges) if same_place else edge))
        for state, mode, pose, edge in zip((before, after), modes, poses, edges, strict=True)
    ]
    measures = measures_of(before, after, task, mode)
    marks = marks_of(task, mode, now, then)
    sheet = _sheet(sides, measures, tr("Side view, drawn to scale. The figures stand in the list beside it."))
    was, will = sides
    left, right = _ends(sides)
    sheet.line((left, 0.0), (right, 0.0), "floor")
    draw_furniture(sheet, will, task, "then")
    draw_person(sheet, will.pose)
    draw_tools(sheet, will, "then")
    draw_arm(sheet, will.pose)
    _before(sheet, was, will, task)
    _sight(sheet, was, will, task)
    for mark in marks:
        draw_ring(sheet, mark, will.pose)
    _measures(sheet, measures, sides, task)
    return SideView(sheet.svg(), measures, marks)


def _ends(sides: Sequence[Side]) -> tuple[float, float]:
    left = min(min(side.pose.hip[0] - TRUNK_HALF, side.pose.head[0] - HEAD, -60.0) for side in sides)
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


def _sheet(sides: Sequence[Side], measures: Sequence[Measure], label: str) -> Sheet:
    left, right = _ends(sides)
    lined = [one for one in measures if one.kind == "length" and one.low is not None]
    rooms = {side: max((_width(one) for one in lined if one.side == side), default=0.0) for side in SIDES}
    left -= rooms["left"] + 80.0 if rooms["left"] else 0.0
    right += rooms["right"] + 80.0 if rooms["right"] else 0.0
    low = BELOW + (1.2 * LETTER if rooms["feet"] else 0.0)
    high = max(
        max(side.pose.head[1] + HEAD, side.things.screen.top[1] if side.things.screen else 0.0)
        for side in sides
    )
    return Sheet(left, right, -low, high + 90.0, label)


def _before(sheet: Sheet, was: Side, will: Side, task: str) -> None:
    """What is different now, thin."""
    pose = was.pose
    if pose != will.pose:
        draw_skeleton(sheet, pose)
    if not pose.standing and bare_seat(was.state, task) != bare_seat(will.state, task):
        draw_chair(sheet, was, task, "now")
    draw_feet(sheet, was, task, "now")
    if (was.things.desk_height, was.things.desk_tilt) != (will.things.desk_height, will.things.desk_tilt):
        draw_desk(sheet, was.things, "now")
    if (was.things.screen, was.things.paper) != (will.things.screen, will.things.paper):
        draw_tools(sheet, was, "now")


def _sight(sheet: Sheet, was: Side, will: Side, task: str) -> None:
    for side, kind in ((was, "now"), (will, "then")):
        end = _middle(side, task)
        if end is not None and (kind == "then" or _middle(will, task) != end or was.pose != will.pose):
            sheet.line(side.pose.eye, end, f"{kind} sight", {"of": "sight"})


def _middle(side: Side, task: str) -> Point | None:
    if looked_at(side.state, task) == "paper" and side.things.paper is not None:
        low, top = side.things.paper
    elif side.things.screen is not None:
        low, top = side.things.screen.low, side.things.screen.top
    else:
        return None
    return 0.5 * (low[0] + top[0]), 0.5 * (low[1] + top[1])


# --- dimensions --------------------------------------------------------------------------------------


def _measures(sheet: Sheet, measures: Sequence[Measure], sides: Sequence[Side], task: str) -> None:
    left, right = _ends(sides)
    will = sides[1]
    columns = {"left": left + 10.0, "right": right - 10.0, "feet": will.pose.toe[0] + 50.0}
    free: dict[str, float] = dict.fromkeys(columns, -math.inf)
    for measure in measures:
        if measure.low is None or measure.high is None:
            continue
        if measure.kind == "angle":
            _angle(sheet, measure, will, task)
            continue
        x = columns[measure.side]
        sheet.line((x, measure.low), (x, measure.high), "measure", {"of": measure.name})
        for y in (measure.low, measure.high):
            sheet.line((x - 20.0, y), (x + 20.0, y), "measure")
        text = f"{measure.letter} {measure.short}"
        if measure.side == "feet":
            sheet.text((will.pose.heel[0], -1.15 * LETTER), text)
            continue
        # Where two lines are short, the upper one's words move up.
        y = max(0.5 * (measure.low + measure.high) - 0.35 * LETTER, 10.0, free[measure.side])
        free[measure.side] = y + 1.1 * LETTER
        away, anchor = (-34.0, "end") if measure.side == "left" else (34.0, "start")
        sheet.text((x + away, y), text, anchor)


def _width(measure: Measure) -> float:
    """About as wide as a dimension is written [mm]."""
    return 0.6 * LETTER * len(f"{measure.letter} {measure.short}")


def _angle(sheet: Sheet, measure: Measure, will: Side, task: str) -> None:
    """Level line from the eye, and the arc down to the line of sight."""
    end = _middle(will, task)
    if end is None:
        return
    eye = will.pose.eye
    long = min(0.8 * math.dist(eye, end), 320.0)
    degrees = angle_of(eye, end)
    sheet.line(eye, (eye[0] + long, eye[1]), "level")
    radians = math.radians(-degrees)
    tip = (eye[0] + 0.8 * long * math.cos(radians), eye[1] + 0.8 * long * math.sin(radians))
    radius = millimetres(0.8 * long)
    sweep = 0 if degrees > 0 else 1
    start = f"{millimetres(eye[0] + 0.8 * long)} {millimetres(eye[1])}"
    sheet.path(
        f"M{start} A{radius} {radius} 0 0 {sweep} {millimetres(tip[0])} {millimetres(tip[1])}", "measure"
    )
    sheet.text((eye[0] + 0.55 * long, eye[1] + 26.0), f"{measure.letter} {measure.short}")
