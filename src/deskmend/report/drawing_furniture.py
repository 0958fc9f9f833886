"""Seat, desk, footrest and tools in a side view."""

from __future__ import annotations

import math
from dataclasses import dataclass

from deskmend.report.drawing_pose import Pose
from deskmend.report.drawing_svg import Sheet
from deskmend.report.drawing_things import Things
from deskmend.workstation.state import Owner, State, evaluate

__all__ = ["Side", "bare_seat", "draw_chair", "draw_desk", "draw_feet", "draw_furniture", "draw_tools"]

SEAT_BOARD = 35.0
"""Thickness of a seat under its surface [mm] (judgement, drawn only)."""
BACK_HIGH = 380.0
"""Height of a backrest over its seat [mm] (judgement, drawn only)."""


@dataclass(frozen=True)
class Side:
    """One state of a task as it is drawn: person and things."""

    state: State
    pose: Pose
    things: Things


def _seat(state: State, task: str) -> tuple[float, float, float, float]:
    """Depth, height of the bare front edge, padding, slope."""
    place: Owner = ("place", state.place_of[task])
    depth, height, pad, slope = (
        float(state.values[place, f"seat.{name}"]) for name in ("depth", "height", "pad", "slope")
    )
    return depth, height, pad, slope


def bare_seat(state: State, task: str) -> tuple[float, float, float]:
    """Depth, height and slope of the seat without what lies on it."""
    depth, height, _, slope = _seat(state, task)
    return depth, height, slope


def draw_furniture(sheet: Sheet, side: Side, task: str, kind: str) -> None:
    """Draw seat, footrest and desk; ``kind`` is ``now`` or ``then``."""
    if not side.pose.standing:
        draw_chair(sheet, side, task, kind)
    draw_feet(sheet, side, task, kind)
    draw_desk(sheet, side.things, kind)


def draw_chair(sheet: Sheet, side: Side, task: str, kind: str) -> None:
    """Draw a seat with what lies on it and behind the back."""
    depth, height, pad, slope = _seat(side.state, task)
    place: Owner = ("place", side.state.place_of[task])
    fall = math.tan(math.radians(slope))
    front, back = (depth, height), (0.0, height - depth * fall)
    board = [front, back, (0.0, back[1] - SEAT_BOARD), (depth, height - SEAT_BOARD)]
    sheet.outline(board, f"{kind} seat", {"of": "seat.height"})
    if pad > 0.0:
        cushion = [front, back, (0.0, back[1] + pad), (depth, height + pad)]
        sheet.outline(cushion, f"{kind} added", {"of": "seat.pad"})
    low = min(back[1], height) - SEAT_BOARD
    base = str(side.state.values[place, "seat.base"])
    if base in ("wheels", "stool"):
        sheet.line((0.5 * depth, low), (0.5 * depth, 60.0), f"{kind} leg")
        sheet.line((0.5 * depth - 200.0, 30.0), (0.5 * depth + 200.0, 30.0), f"{kind} leg")
    else:
        sheet.line((25.0, low), (10.0, 0.0), f"{kind} leg")
        sheet.line((depth - 25.0, low), (depth - 15.0, 0.0), f"{kind} leg")
    if str(side.state.values[place, "seat.back"]) not in ("none", "unknown"):
        lean = math.tan(math.radians(float(side.state.values[place, "seat.recline"])))
        foot = back[1] - SEAT_BOARD
        top = back[1] + BACK_HIGH
        sheet.line((-8.0, foot), (-8.0 - (top - foot) * lean, top), f"{kind} rest")
    taken = float(side.state.values[place, "back.depth_taken"])
    if taken > 0.0:
        sheet.circle(
            (0.5 * taken, back[1] + pad + 190.0), 0.5 * taken, f"{kind} added", {"of": "back.depth_taken"}
        )


def draw_feet(sheet: Sheet, side: Side, task: str, kind: str) -> None:
    """Draw what the feet rest on, where that is not the floor."""
    place: Owner = ("place", side.state.place_of[task])
    on = str(side.state.values[place, "feet.on"])
    high = 0.0 if side.pose.standing else _foot_height(side.state, task)
    if high <= 0.0:
        return
    middle = 0.5 * (side.pose.heel[0] + side.pose.toe[0])
    if on in ("foot_bar", "foot_ring"):
        sheet.box(middle - 22.0, middle + 22.0, max(high - 40.0, 0.0), high, f"{kind} bar", {"of": "feet"})
    else:
        sheet.box(
            side.pose.heel[0] - 15.0, side.pose.toe[0] + 15.0, 0.0, high, f"{kind} added", {"of": "feet"}
        )


def _foot_height(state: State, task: str) -> float:
    return float(evaluate(state, task)("foot_surface"))


def draw_desk(sheet: Sheet, things: Things, kind: str) -> None:
    """Draw a desk from the side."""
    top, low = things.desk_height, things.desk_underside
    board = max(min(30.0, top - low), 12.0)
    rise = math.sin(math.radians(things.desk_tilt)) * (things.desk_back - things.desk_front)
    outline = [
        (things.desk_front, top),
        (things.desk_back, top + rise),
        (things.desk_back, top + rise - board),
        (things.desk_front, top - board),
    ]
    sheet.outline(outline, f"{kind} desk", {"of": "desk.height"})
    if top - low > board:
        sheet.box(
            things.desk_front + 40.0,
            things.desk_back - 40.0,
            low,
            top - board,
            f"{kind} frame",
            {"of": "underside"},
        )
    for x in (things.desk_front + 55.0, things.desk_back - 55.0):
        sheet.line((x, low), (x, 0.0), f"{kind} leg far")


def draw_tools(sheet: Sheet, side: Side, kind: str) -> None:
    """Draw keyboard, screen with what lifts it, and paper."""
    things = side.things
    if things.keyboard is not None:
        near, far, low, top = things.keyboard
        sheet.box(near, far, low, top, f"{kind} tool", {"of": "keyboard"})
        if low < things.desk_height - 1.0:
            sheet.box(near - 40.0, far + 20.0, low - 15.0, low, f"{kind} added", {"of": "keyboard.drop"})
    screen = things.screen
    if screen is not None:
        if screen.base > things.desk_height:
            left = screen.deck[0][0] if screen.deck is not None else screen.low[0] - 60.0
            right = max(screen.low[0] + (10.0 if screen.deck is not None else 130.0), left + 60.0)
            sheet.box(left, right, things.desk_height, screen.base, f"{kind} added", {"of": "screen.raise"})
        if screen.deck is not None:
            front, hinge = screen.deck
            sheet.line(front, hinge, f"{kind} deck", {"of": "laptop"})
            sheet.line(hinge, screen.top, f"{kind} shell")
        else:
            x = screen.low[0] + 35.0
            sheet.line((x, screen.base), (x, screen.top[1] - 40.0), f"{kind} shell")
            sheet.line((x - 75.0, screen.base + 6.0), (x + 75.0, screen.base + 6.0), f"{kind} shell")
        sheet.line(screen.low, screen.top, f"{kind} picture", {"of": "screen"})
    if things.paper is not None:
        beside = " beside" if things.paper_beside else ""
        edge, end = things.paper
        sheet.line(edge, end, f"{kind} paper{beside}", {"of": "paper"})
        if end[1] - edge[1] > 10.0:
            sheet.outline([edge, end, (end[0], things.desk_height)], f"{kind} prop", closed=False)
