"""The side view: person, seat, desk, screen, paper and feet, with names and heights; two side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from deskmend.language import tr
from deskmend.planning.assessment import Beside
from deskmend.planning.score import Score
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
from deskmend.report.drawing.labels import Frame, NamedPoint, place_labels, write_line
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
    worked_on,
)
from deskmend.report.drawing.svg import XY, Canvas, in_one_frame, millimetres
from deskmend.report.words import quantity_text, quantity_words, value_words
from deskmend.risk.severity import seen_in
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.state import DEVICES, State

__all__ = [
    "THINGS",
    "DrawnPair",
    "DrawnValue",
    "SideView",
    "StepMark",
    "angle_of",
    "cramped_text",
    "dimensions_of",
    "drawn_pairs",
    "looks",
    "side_view",
    "thing_words",
]


@dataclass(frozen=True)
class DrawnValue:
    """One dimension of the side view, and what is said of it in the list beside.

    Ends of a line above the floor [mm] only where it is drawn; `short` stands in the drawing.
    """

    name: str
    words: str
    kind: Literal["length", "angle"]
    short: str
    now: str
    then: str
    value_then: float
    low: float | None = None
    high: float | None = None
    side: Literal["left", "right"] = "right"
    drawn: bool = False

    @property
    def changes(self) -> bool:
        """Whether it reads otherwise with the fixes."""
        return self.now != self.then


def angle_of(eye: tuple[float, float], end: tuple[float, float]) -> float:
    """Angle of a line of sight below the level [deg]."""
    return math.degrees(math.atan2(eye[1] - end[1], end[0] - eye[0]))


def dimensions_of(before: State, after: State, task: str, mode: str) -> tuple[DrawnValue, ...]:
    """Dimensions of one task that are drawn or change, from the floor up."""
    return tuple(one for one in _all(before, after, task, mode) if one.changes or one.drawn)


def _all(before: State, after: State, task: str, mode: str) -> Iterator[DrawnValue]:
    first, second = seen_in(before, task), seen_in(after, task)

    def field(name: str) -> tuple[float, float]:
        here, there = (float(at_place(state, task, name)) for state in (before, after))
        return here, there

    def length(
        name: str,
        words: str,
        values: tuple[float, float],
        side: Literal["left", "right"] | None = None,
    ) -> DrawnValue:
        """A length, with a line from the floor at a side of the drawing, or named at its thing alone."""
        now, then = (quantity_text(value, "mm") for value in values)
        lined = side is not None and values[1] > 0.0
        low, high = (0.0, values[1]) if lined else (None, None)
        return DrawnValue(
            name, words, "length", then, now, then, values[1], low, high, side or "right", values[1] > 0.0
        )

    if mode == "sit":
        feet = float(first("foot_surface")), float(second("foot_surface"))
        yield length("foot_surface", quantity_words("foot_surface", ""), feet)
        bare = field("seat.height")
        side: Literal["left"] | None = None if bare[0] == bare[1] else "left"
        yield replace(
            length("seat.height", tr("height of the seat itself"), bare, side), drawn=side is not None
        )
        yield length("seat.pad", tr("padding on the seat, sat upon"), _sat_upon(first, second, bare))
    desk = float(first("work_surface")), float(second("work_surface"))
    yield length("desk.height", tr("height of the desk"), desk, "right")
    yield length("screen.raise", tr("what lifts the screen off the desk"), field("screen.raise"))
    yield from _angles(before, after, task, mode)


def _sat_upon(
    first: Evaluation[Any], second: Evaluation[Any], bare: tuple[float, float]
) -> tuple[float, float]:
    """Thickness of what lies on the seat, sat upon: as far as it lifts the front edge."""
    was, then = (float(ask("seat_front")) - height for ask, height in zip((first, second), bare, strict=True))
    return was, then


def _angles(before: State, after: State, task: str, mode: str) -> Iterator[DrawnValue]:
    target = looked_at(after, task)
    first, second = seen_in(before, task), seen_in(after, task)
    tool = str(after.values[("task", task), "task.screen"]) if target == "screen" else target

    def angle(name: str, words: str, values: tuple[float, float], shown: bool) -> DrawnValue:
        now, then = (value_words(value, "deg", name) for value in values)
        end = 0.0 if shown else None
        return DrawnValue(
            name, words, "angle", f"{round(values[1])}°", now, then, values[1], end, end, drawn=shown
        )

    gaze = tuple(float(ask("gaze_centre", mode=mode, target=target)) for ask in (first, second))
    lean = float(second("trunk_inclination", mode=mode, target=target))
    yield angle("gaze_centre", quantity_words("gaze_centre", tool), (gaze[0], gaze[1]), lean <= 0.0)
    slopes = tuple(float(state.values[("task", task), "paper.slope"]) for state in (before, after))
    if float(after.values[("task", task), "look.paper"]) > 0.0:
        yield angle("paper.slope", tr("slope of the paper"), (slopes[0], slopes[1]), False)
    hand = worked_on(after, task)
    gaps = tuple(float(ask("hand_gap", mode=mode, hand=hand)) for ask in (first, second))
    now, then = (value_words(value, "mm", "hand_gap") for value in gaps)
    words = quantity_words("hand_gap", hand)
    yield DrawnValue("hand_gap", words, "length", then, now, then, gaps[1])


KEPT_LOOKS = 256
"""Tasks of states of which it is kept how they look."""


@dataclass(frozen=True)
class SideView:
    """A drawing with its dimensions, and the parts of the body that are or were out of their range."""

    svg: str
    dimensions: tuple[DrawnValue, ...]
    marks: tuple[Mark, ...]


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
    was, will = (_scene(state, task, mode) for state in (before, after))
    dimensions = dimensions_of(before, after, task, mode)
    marks = marks_of(task, mode, now, then)
    changed = _changed(was, will, task)
    will = replace(will, new=frozenset(changed))
    # Where the work moves to another place, head and foot of the first place are nowhere in this one.
    stays = before.place_of[task] == after.place_of[task]
    frame = _frame([was, will] if stays else [will], task)
    canvas = Canvas(*frame, "")
    _draw(canvas, will, task, frame)
    if stays and was.pose != will.pose:
        draw_before(canvas, was.pose)
    _sight(canvas, will, task)
    for mark in marks:
        draw_ring(canvas, mark, will.pose)
    labels = _measures(canvas, dimensions, will, task, frame)
    lined = {one.name for one in dimensions if one.low is not None and one.kind == "length"}
    named = [one for one in _named(will, task, changed, numbers or {}, lined) if one.name or one.number]
    place_labels(canvas, [*labels, *named], frame)
    lines = [cramped_text(will.things.cramped)] if will.things.cramped else []
    for line in lines:
        write_line(canvas, line)
    canvas.say(_said(will, mode, dimensions, named, lines))
    return SideView(canvas.svg(), dimensions, marks)


@lru_cache(maxsize=KEPT_LOOKS)
def looks(state: State, task: str, mode: str) -> str:
    """Person and things of a task as they are drawn from the side: the same for states that look alike."""
    scene = _scene(state, task, mode)
    canvas = Canvas(0.0, 0.0, 0.0, 0.0, "")
    _draw(canvas, scene, task, (0.0, 0.0, 0.0, 0.0))
    _sight(canvas, scene, task)
    return canvas.shapes()


def _scene(state: State, task: str, mode: str) -> Scene:
    pose = pose_of(state, task, mode)
    things = things_of(state, task, mode, pose, desk_edge(state, task, mode, pose))
    far = str(state.values[("task", task), "paper.side"]) == "left"
    return Scene(state, pose, things, far_paper=far)


def _draw(canvas: Canvas, scene: Scene, task: str, frame: Frame) -> None:
    """Draw person and things of a state, from the back to the front."""
    canvas.line((frame[0], 0.0), (frame[1], 0.0), "floor")
    draw_furniture(canvas, scene, task, "then")
    draw_person(canvas, scene.pose)
    draw_tools(canvas, scene, "then")
    rests = str(at_place(scene.state, task, "arms.supported")) == "yes"
    draw_arm(canvas, scene.pose, (scene.things.desk_front, scene.things.desk_height), rests)


def thing_words() -> dict[str, str]:
    """What lies on a desk, by the names that drawings know it by."""
    return {
        "screen": tr("screen or laptop"),
        "keyboard": tr("keyboard"),
        "mouse": tr("mouse"),
        "paper": tr("paper"),
        "lamp": tr("lamp"),
    }


def cramped_text(names: Sequence[str]) -> str:
    """That some things have no room where they are reckoned with."""
    words = thing_words()
    return tr("No room where it is reckoned: {things}.", things=", ".join(words[name] for name in names))


def _said(
    will: Scene,
    mode: str,
    dimensions: Sequence[DrawnValue],
    named: Sequence[NamedPoint],
    lines: Sequence[str],
) -> str:
    """The drawing in words: how the work is done, its figures, what is new or otherwise."""
    standing = tr("Side view, drawn to scale, standing.")
    sitting = tr("Side view, drawn to scale, sitting.")
    figures = [f"{one.words}: {one.then}" for one in dimensions if one.drawn or one.changes]
    new = [" ".join(filter(None, (one.name, one.size))) for one in named if one.name]
    told = [
        standing if mode == "stand" else sitting,
        tr("Figures: {figures}.", figures="; ".join(figures)) if figures else "",
        tr("New or changed: {things}.", things=", ".join(new)) if new else "",
    ]
    return " ".join(filter(None, [*told, *lines]))


def _frame(sides: Sequence[Scene], task: str) -> Frame:
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


def _named(
    will: Scene, task: str, changed: Sequence[str], numbers: Mapping[str, StepMark], lined: Set[str]
) -> list[NamedPoint]:
    """Names of the things that are new or otherwise than now, with sizes that have no line of their own."""

    def size(name: str) -> str:
        return "" if name in lined else _size(will, task, name) or ""

    return [
        NamedPoint(at, tr(THINGS[name]), size(name), *numbers.get(name, (0, False)))
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
        return _own_height(state, task)
    if name == "paper":
        slope = float(state.values[("task", task), "paper.slope"])
        return quantity_text(slope, "deg") if slope > 0.0 else ""
    ask = seen_in(state, task)
    if name == "feet":
        return quantity_text(float(ask("foot_surface")), "mm")
    if name == "seat.pad":
        pad = float(ask("seat_front")) - float(at_place(state, task, "seat.height"))
        # a thinner figure than that of the thing bought or rolled, which body weight presses
        return tr("{size} sat upon", size=quantity_text(pad, "mm"))
    if name == "desk.height":
        return quantity_text(float(ask("work_surface")), "mm")
    size = quantity_text(float(at_place(state, task, name)), "mm")
    return tr("{size} leant on", size=size) if name == "back.depth_taken" else size


def _own_height(state: State, task: str) -> str:
    """How far the top edge of a monitor is over what it stands on; empty for any other screen."""
    if str(state.values[("task", task), "task.screen"]) != "monitor":
        return ""
    top = float(state.values[DEVICES, "monitor.top"])
    return tr("{size} to its top edge", size=quantity_text(top, "mm"))


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
    frame: Frame,
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
        canvas.widen(x - 24.0, x + 24.0, dimension.low, dimension.high)
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


@dataclass(frozen=True)
class DrawnPair:
    """One task in one mode in both; None where one has no such task, or does not do it so."""

    task: tuple[str | None, str | None]
    mode: str
    svg: tuple[str | None, str | None]


def drawn_pairs(pair: Beside) -> Iterator[DrawnPair]:
    """Draw every task of two workplaces as it is there, with the fixes that were asked about."""
    for task in pair.tasks:
        modes = [
            () if name is None else modes_of(one.after, name)
            for one, name in zip(pair.both, task, strict=True)
        ]
        for mode in dict.fromkeys([*modes[0], *modes[1]]):
            svg = [
                side_view(one.after, one.after, name, mode, one.strain, one.strain).svg
                if name is not None and mode in modes[number]
                else None
                for number, (one, name) in enumerate(zip(pair.both, task, strict=True))
            ]
            first, second = in_one_frame(svg)
            yield DrawnPair(task, mode, (first, second))
