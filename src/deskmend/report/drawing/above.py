"""The desk from above: what lies where, and how far the hands reach in comfort."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.language import tr
from deskmend.report.drawing.furniture import SHEET, Things, desk_edge, things_of
from deskmend.report.drawing.person import Pose, at_place, looked_at, modes_of, pose_of
from deskmend.report.drawing.svg import XY, Canvas, millimetres
from deskmend.report.words import quantity_text, quantity_words
from deskmend.risk.severity import curves
from deskmend.workstation.distances import MIDDLE_FOREARM_HAND
from deskmend.workstation.state import DEVICES, PERSON, State, evaluate

__all__ = ["AboveView", "Reached", "above_view"]

SHEET_WIDTH = 210.0
"""Width of an A4 sheet [mm] (ISO 216)."""
LAPTOP_WIDTH, MONITOR_WIDTH, KEYBOARD_WIDTH = 330.0, 530.0, 440.0
"""Widths of things whose width is not asked for [mm] (judgement, drawn only)."""
MOUSE = (64.0, 110.0)
WIDEST_DESK = 1900.0
"""Most that is drawn of a desk's width [mm]."""
ROOM_STEP, ROOM_STEPS = 10.0, 60
"""How things make room for each other [mm]."""


@dataclass(frozen=True)
class Reached:
    """What the hands work on, and whether it lies in the comfortable area."""

    words: str
    far: str
    inside: bool
    value: float


@dataclass(frozen=True)
class AboveView:
    """A drawing from above with what stands beside it."""

    svg: str
    things: str
    reached: tuple[Reached, ...]
    comfortable: str


@dataclass(frozen=True)
class _Thing:
    name: str
    shape: tuple[XY, ...]


def above_view(before: State, after: State, task: str) -> AboveView:
    """Draw the desk of one task from above, as it is and as it will be.

    x to the right of the middle of the body, y forward from the shoulders [mm].
    """
    poses, laid, placed = [], [], []
    for state in (before, after):
        mode = modes_of(state, task)[0]
        pose = pose_of(state, task, mode)
        things = things_of(state, task, mode, pose, desk_edge(state, task, mode, pose))
        poses.append(pose)
        placed.append(things)
        laid.append(_laid(state, task, pose, things))
    was, will = laid
    things = placed[1]
    front, back = (x - poses[1].shoulder_upright[0] for x in (things.desk_front, things.desk_back))
    half = 0.5 * min(float(at_place(after, task, "desk.width")), WIDEST_DESK)
    body = after.body
    near, far = (
        limit * body["forearm_hand_length"] / MIDDLE_FOREARM_HAND
        for limit in (curves()["reach"].zero_at, curves()["reach"].one_at)
    )
    wide = 0.5 * body["biacromial_breadth"]
    sides = [half, far + wide, *(abs(x) for one in will for x, _ in one.shape)]
    tops = [back, far, *(y for one in will for _, y in one.shape)]
    canvas = Canvas(
        -max(sides) - 30.0,
        max(sides) + 30.0,
        poses[1].eye_upright[0] - poses[1].shoulder_upright[0] - 200.0,
        max(tops) + 40.0,
        tr("The desk from above, drawn to scale. What lies where stands in the list beside it."),
    )
    canvas.outline([(-half, front), (half, front), (half, back), (-half, back)], "then top", {"of": "desk"})
    canvas.path(_area(near, wide), "area comfortable", {"of": "comfortable", "radius": millimetres(near)})
    canvas.path(_area(far, wide), "area far", {"of": "far", "radius": millimetres(far)})
    for one in was:
        if one not in will:
            canvas.outline(one.shape, f"now thing {one.name}", {"of": one.name})
    for one in will:
        canvas.outline(one.shape, f"then thing {one.name}", {"of": one.name})
        x, y = _middle(one.shape)
        canvas.text((x, y - 18.0), _FIGURES[one.name], "middle")
    _person(canvas, poses[1], wide)
    writes = _writing_side(after, task)
    if writes:
        canvas.circle((writes * wide, 0.0), 16.0, "joint", {"of": "writing_shoulder"})
    return AboveView(
        canvas.svg(),
        _legend([one.name for one in will], bool(writes)),
        _reached(after, task, curves()["reach"].zero_at),
        quantity_text(near, "mm"),
    )


_FIGURES = {"screen": "1", "keyboard": "2", "mouse": "3", "paper": "4"}
"""Figures of things in the drawing."""


def _legend(names: Sequence[str], writes: bool) -> str:
    """Figures of the things drawn, and what they are; a dot marks the shoulder of the hand that writes."""
    words = {
        "screen": tr("screen or laptop"),
        "keyboard": tr("keyboard"),
        "mouse": tr("mouse"),
        "paper": tr("paper"),
    }
    told = ", ".join(f"{figure} {words[name]}" for name, figure in _FIGURES.items() if name in names)
    return f"{told}." + (f" \u25cf {tr('Hand that writes.')}" if writes else "")


def _writing_side(state: State, task: str) -> float:
    """Side of the hand that writes at a task: -1 left, 1 right, 0 where nobody writes or nobody said."""
    if float(state.values[("task", task), "hands.writing"]) <= 0.0:
        return 0.0
    return {"left": -1.0, "right": 1.0}.get(str(state.values[PERSON, "person.writing_hand"]), 0.0)


def _area(radius: float, wide: float) -> str:
    """Outline of what hands reach from two shoulders; a reach counts beyond the shoulder alone."""
    r = millimetres(radius)
    out, w = millimetres(wide + radius), millimetres(wide)
    return f"M-{out} 0 A{r} {r} 0 0 0 -{w} {r} L{w} {r} A{r} {r} 0 0 0 {out} 0"


def _person(canvas: Canvas, pose: Pose, wide: float) -> None:
    eye = pose.eye_upright[0] - pose.shoulder_upright[0]
    canvas.limb((-wide, 0.0), 62.0, (wide, 0.0), 62.0, "limb edge")
    canvas.limb((-wide, 0.0), 62.0, (wide, 0.0), 62.0, "limb skin")
    canvas.circle((0.0, eye - 78.0), 92.0, "limb edge")
    canvas.circle((0.0, eye - 78.0), 92.0, "limb skin")
    canvas.outline([(-22.0, eye + 8.0), (0.0, eye + 34.0), (22.0, eye + 8.0)], "bone", closed=False)


def _laid(state: State, task: str, pose: Pose, things: Things) -> tuple[_Thing, ...]:
    """What lies on the desk; what the hands and eyes are at most keeps its place, the rest makes room."""
    ask = evaluate(state, task)
    zero = pose.shoulder_upright[0]
    eye = pose.eye_upright[0] - zero
    writing = -1.0 if str(state.values[PERSON, "person.writing_hand"]) == "left" else 1.0
    side = -1.0 if str(state.values[("task", task), "paper.side"]) == "left" else 1.0
    laid: list[_Thing] = []
    found: dict[str, tuple[tuple[XY, ...], float]] = {}
    if things.screen is not None:
        deck = things.screen.deck
        deep = deck[1][0] - deck[0][0] if deck is not None else 60.0
        wide = LAPTOP_WIDTH if deck is not None else MONITOR_WIDTH
        angle = -writing * float(ask("tool_angle", target="screen"))
        found["screen"] = _set(0.0, things.screen.low[0] - zero - eye, wide, -deep, angle, eye), 0.0
    if things.keyboard is not None:
        low, high = (x - zero for x in things.keyboard[:2])
        twist = -writing * float(ask("trunk_twist", hand="keys"))
        found["keyboard"] = (
            _turned(_rectangle(0.0, 0.5 * (low + high), KEYBOARD_WIDTH, high - low), twist),
            0.0,
        )
    if str(state.values[DEVICES, "mouse"]) == "separate" and things.screen is not None:
        hand = -1.0 if str(state.values[PERSON, "person.mouse_hand"]) == "left" else 1.0
        x = hand * float(ask("reach_sideways", hand="mouse"))
        found["mouse"] = (
            _rectangle(x, float(ask("reach_forward", hand="mouse", mode=modes_of(state, task)[0])), *MOUSE),
            hand,
        )
    if things.paper is not None:
        near, far = things.paper
        angle = side * float(ask("tool_angle", target="paper"))
        middle = 0.5 * (near[0] + far[0]) - zero - eye
        deep = max(far[0] - near[0], 0.2 * SHEET)
        found["paper"] = (
            _set(0.0, middle + 0.5 * deep, SHEET_WIDTH, -deep, angle, eye),
            side if angle else 0.0,
        )
    order = ["keyboard", "mouse", "screen", "paper"]
    if looked_at(state, task) == "paper" and not things.paper_beside:
        order = ["paper", "mouse", "keyboard", "screen"]
    for name in order:
        if name in found:
            shape, outward = found[name]
            laid.append(_Thing(name, _made_room(shape, outward, [one.shape for one in laid])))
    return tuple(laid)


def _rectangle(x: float, y: float, wide: float, deep: float) -> tuple[XY, ...]:
    w, d = 0.5 * wide, 0.5 * deep
    return ((x - w, y - d), (x + w, y - d), (x + w, y + d), (x - w, y + d))


def _set(x: float, y: float, wide: float, deep: float, angle: float, eye: float) -> tuple[XY, ...]:
    """Rectangle whose one edge lies at a distance from the eye, turned about it to the right [deg]."""
    shape = ((x - 0.5 * wide, y), (x + 0.5 * wide, y), (x + 0.5 * wide, y + deep), (x - 0.5 * wide, y + deep))
    return tuple((px, py + eye) for px, py in _turned(shape, angle))


def _turned(shape: Sequence[XY], angle: float) -> tuple[XY, ...]:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return tuple((x * c + y * s, y * c - x * s) for x, y in shape)


def _middle(shape: Sequence[XY]) -> XY:
    return sum(x for x, _ in shape) / len(shape), sum(y for _, y in shape) / len(shape)


def _made_room(shape: tuple[XY, ...], outward: float, others: Sequence[tuple[XY, ...]]) -> tuple[XY, ...]:
    """Shape moved outward, else away from the body, until it lies on nothing else."""
    for number in range(ROOM_STEPS):
        away = number * ROOM_STEP
        moved = tuple((x + away * outward, y + (0.0 if outward else away)) for x, y in shape)
        if not any(_overlap(moved, other) for other in others):
            return moved
    return shape


def _overlap(one: Sequence[XY], other: Sequence[XY]) -> bool:
    """Whether two convex shapes overlap: no edge of either parts them."""
    for shape in (one, other):
        for (x1, y1), (x2, y2) in zip(shape, (*shape[1:], shape[0]), strict=True):
            across = (y1 - y2, x2 - x1)
            first, second = ([across[0] * x + across[1] * y for x, y in points] for points in (one, other))
            if max(first) <= min(second) or max(second) <= min(first):
                return False
    return True


def _reached(state: State, task: str, limit: float) -> tuple[Reached, ...]:
    ask = evaluate(state, task)
    out = []
    for hand in ("writing", "keys", "mouse"):
        if float(state.values[("task", task), f"hands.{hand}"]) <= 0.0:
            continue
        value = float(ask("reach", hand=hand, mode=modes_of(state, task)[0]))
        out.append(Reached(quantity_words("reach", hand), quantity_text(value, "mm"), value <= limit, value))
    return tuple(out)
