"""The desk from above: what lies where, and how far the hands reach in comfort."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.language import tr
from deskmend.report.drawing.furniture import SHEET, Things, desk_edge, things_of
from deskmend.report.drawing.person import Pose, at_place, modes_of, pose_of
from deskmend.report.drawing.svg import XY, Canvas, millimetres
from deskmend.report.words import quantity_text, quantity_words
from deskmend.risk.severity import curves
from deskmend.workstation.distances import BEHIND_SCREEN, MIDDLE_FOREARM_HAND, OTHER_SIDE
from deskmend.workstation.state import DEVICES, PERSON, State, evaluate

__all__ = ["AboveView", "Reached", "above_view", "no_room_for"]

SHEET_WIDTH = 210.0
"""Width of an A4 sheet [mm] (ISO 216)."""
LAPTOP_WIDTH, MONITOR_WIDTH, KEYBOARD_WIDTH = 330.0, 530.0, 440.0
"""Widths of things whose width is not asked for [mm] (judgement, drawn only)."""
MOUSE = (64.0, 110.0)
WIDEST_DESK = 1900.0
"""Most that is drawn of a desk's width [mm]."""
MONITOR_DEEP = BEHIND_SCREEN
"""What is drawn of a monitor behind its picture [mm] (drawn only)."""
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


@dataclass(frozen=True)
class _Top:
    """Desk top from above: half its width, front and back edge [mm]."""

    half: float
    front: float
    back: float

    def holds(self, shape: Sequence[XY], meant: Sequence[XY]) -> bool:
        """Whether a thing lies on the desk, or hangs over no further than it has to.

        What is wider than the desk does so, and what the model itself has nearer or further.
        """
        middle = _middle(meant)[0]
        half = max(self.half, *(abs(x - middle) for x, _ in meant))
        deep = [y for _, y in meant]
        return (
            max(abs(x) for x, _ in shape) <= half
            and min(y for _, y in shape) >= min(self.front, *deep)
            and max(y for _, y in shape) <= max(self.back, *deep)
        )


def above_view(before: State, after: State, task: str) -> AboveView:
    """Draw the desk of one task from above, as it is and as it will be.

    x to the right of the middle of the body, y forward from the shoulders [mm].
    """
    (_, _, was, _), (pose, things, will, no_room) = (_seen(state, task) for state in (before, after))
    front, back = (x - pose.shoulder_upright[0] for x in (things.desk_front, things.desk_back))
    half = _half_width(after, task)
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
        pose.eye_upright[0] - pose.shoulder_upright[0] - 200.0,
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
    _person(canvas, pose, wide)
    writes = _writing_side(after, task)
    if writes:
        canvas.circle((writes * wide, 0.0), 16.0, "joint", {"of": "writing_shoulder"})
    return AboveView(
        canvas.svg(),
        _legend([one.name for one in will], bool(writes), no_room),
        _reached(after, task, curves()["reach"].zero_at),
        quantity_text(near, "mm"),
    )


def no_room_for(state: State, task: str) -> str:
    """What the desk has no room for beside the rest of a task's things; empty where all lies on it."""
    _, _, _, no_room = _seen(state, task)
    return ", ".join(_words()[name] for name in no_room)


def _seen(state: State, task: str) -> tuple[Pose, Things, tuple[_Thing, ...], tuple[str, ...]]:
    """Person and things of a task, what lies on the desk, and what it has no room for."""
    mode = modes_of(state, task)[0]
    pose = pose_of(state, task, mode)
    things = things_of(state, task, mode, pose, desk_edge(state, task, mode, pose))
    return pose, things, *_laid(state, task, pose, things)


def _words() -> dict[str, str]:
    return {
        "screen": tr("screen or laptop"),
        "keyboard": tr("keyboard"),
        "mouse": tr("mouse"),
        "paper": tr("paper"),
    }


_FIGURES = {"screen": "1", "keyboard": "2", "mouse": "3", "paper": "4"}
"""Figures of things in the drawing."""


def _half_width(state: State, task: str) -> float:
    return 0.5 * min(float(at_place(state, task, "desk.width")), WIDEST_DESK)


def _legend(names: Sequence[str], writes: bool, no_room: Sequence[str]) -> str:
    """Figures of the things drawn, and what they are; a dot marks the shoulder of the hand that writes."""
    words = _words()
    told = ", ".join(f"{figure} {words[name]}" for name, figure in _FIGURES.items() if name in names)
    out = [f"{told}."]
    if writes:
        out.append(f"\u25cf {tr('Hand that writes.')}")
    if no_room:
        lacking = ", ".join(words[name] for name in no_room)
        out.append(tr("On the desk there is no room beside the rest for: {things}.", things=lacking))
    return " ".join(out)


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


def _laid(state: State, task: str, pose: Pose, things: Things) -> tuple[tuple[_Thing, ...], tuple[str, ...]]:
    """What lies on the desk, and what it has no room for.

    What lies in the middle keeps its place, the rest makes room.
    """
    zero = pose.shoulder_upright[0]
    found = _meant(state, task, pose, things)
    order = ["keyboard", "screen", "paper", "mouse"]
    if str(state.values[("task", task), "task.middle"]) == "paper":
        order = ["paper", "keyboard", "screen", "mouse"]
    top = _Top(_half_width(state, task), things.desk_front - zero, things.desk_back - zero)
    laid: list[_Thing] = []
    no_room = []
    for name in (name for name in order if name in found):
        meant, outward = found[name]
        shape = _made_room(meant, outward, [one.shape for one in laid], top)
        if shape is None:
            no_room.append(name)
        else:
            laid.append(_Thing(name, shape))
    return tuple(laid), tuple(no_room)


def _meant(state: State, task: str, pose: Pose, things: Things) -> dict[str, tuple[tuple[XY, ...], float]]:
    """Where the model has each thing, and to which side it makes room: -1 left, 1 right, 0 away."""
    ask = evaluate(state, task)
    zero = pose.shoulder_upright[0]
    eye = pose.eye_upright[0] - zero
    writing = -1.0 if str(state.values[PERSON, "person.writing_hand"]) == "left" else 1.0
    side = -1.0 if str(state.values[("task", task), "paper.side"]) == "left" else 1.0
    found: dict[str, tuple[tuple[XY, ...], float]] = {}
    # What gives the middle to paper goes to the side of the hand that does not write, and lies straight.
    off = -writing if str(state.values[("task", task), "task.middle"]) == "paper" else 0.0
    if things.screen is not None:
        deck = things.screen.deck
        deep = deck[0][0] - deck[1][0] if deck is not None else MONITOR_DEEP
        wide = LAPTOP_WIDTH if deck is not None else MONITOR_WIDTH
        picture = things.screen.low[0] - zero
        angle = float(ask("tool_angle", target="screen"))
        if off and str(state.values[DEVICES, "keyboard"]) != "separate":
            found["screen"] = _rectangle(off * OTHER_SIDE, picture + 0.5 * deep, wide, abs(deep)), off
        else:
            turned = _set(0.0, picture - eye, wide, deep, -writing * angle, eye)
            found["screen"] = turned, -writing if angle else 0.0
    if things.keyboard is not None:
        low, high = (x - zero for x in things.keyboard[:2])
        found["keyboard"] = _rectangle(off * OTHER_SIDE, 0.5 * (low + high), KEYBOARD_WIDTH, high - low), off
    if str(state.values[DEVICES, "mouse"]) == "separate" and things.screen is not None:
        hand = -1.0 if str(state.values[PERSON, "person.mouse_hand"]) == "left" else 1.0
        x = hand * float(ask("reach_sideways", hand="mouse"))
        y = float(ask("reach_forward", hand="mouse", mode=modes_of(state, task)[0]))
        found["mouse"] = _rectangle(x, y, *MOUSE), hand
    if things.paper is not None:
        near, far = things.paper
        aside = side if things.paper_beside else 0.0
        deep = max(far[0] - near[0], 0.2 * SHEET)
        middle = 0.5 * (near[0] + far[0]) - zero
        found["paper"] = _rectangle(aside * OTHER_SIDE, middle, SHEET_WIDTH, deep), aside
    return found


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


def _made_room(
    meant: tuple[XY, ...], outward: float, others: Sequence[tuple[XY, ...]], top: _Top
) -> tuple[XY, ...] | None:
    """Shape moved outward or inward, away or near, to where it lies on nothing else; None if nowhere."""
    for aside, away in ((outward, 0.0), (-outward, 0.0), (0.0, 1.0), (0.0, -1.0)):
        for number in range(ROOM_STEPS):
            by = number * ROOM_STEP
            moved = tuple((x + by * aside, y + by * away) for x, y in meant)
            if top.holds(moved, meant) and not any(_overlap(moved, other) for other in others):
                return moved
    return None


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
