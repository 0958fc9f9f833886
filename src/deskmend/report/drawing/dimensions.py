"""The few dimensions of a side view that matter to who sets the place up."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

from deskmend.language import tr
from deskmend.report.drawing.person import at_place, looked_at, worked_on
from deskmend.report.words import quantity_text, quantity_words, value_words
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.state import State, evaluate

__all__ = ["DrawnValue", "angle_of", "dimensions_of"]


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
    first, second = evaluate(before, task), evaluate(after, task)

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
    first, second = evaluate(before, task), evaluate(after, task)
    tool = str(after.values[("task", task), "task.screen"]) if target == "screen" else target

    def angle(name: str, words: str, values: tuple[float, float], shown: bool) -> DrawnValue:
        now, then = (quantity_text(value, "deg") for value in values)
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
