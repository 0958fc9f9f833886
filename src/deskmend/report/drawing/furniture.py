"""Seat, desk, footrest and tools in a side view: where they stand, and how they are drawn.

Heights, the desk's front edge and the level distance from the eye to what is looked at most are the model's
own. Where the model knows no place, things are set so that none stands in another (judgement, drawn only).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from deskmend.measures import Mm
from deskmend.report.drawing.person import Pose, at_place, looked_at
from deskmend.report.drawing.svg import XY, Canvas
from deskmend.workstation.distances import BEHIND_SCREEN, EYE_TO_EDGE
from deskmend.workstation.state import DEVICES, State, evaluate

__all__ = [
    "SHEET",
    "Scene",
    "Screen",
    "Things",
    "anchors_of",
    "bare_seat",
    "chair_back",
    "desk_edge",
    "draw_chair",
    "draw_desk",
    "draw_feet",
    "draw_furniture",
    "draw_tools",
    "things_of",
]

KEYBOARD_HALF = 65.0
"""Half the depth of a keyboard [mm] (judgement, drawn only)."""
SHEET = 297.0
"""Length of an A4 sheet [mm] (ISO 216)."""
BETWEEN = 15.0
"""Least room between two things on the desk [mm] (drawn only)."""
SHORTEST_DECK = 40.0
"""Least that is drawn of a laptop's lower half behind a keyboard [mm] (drawn only)."""


@dataclass(frozen=True)
class Screen:
    """A screen from the side (x, y) [mm]: edges of the picture, top of what it stands on.

    `deck` is front and back of a laptop's lower half; None for a monitor.
    """

    low: XY
    top: XY
    base: float
    deck: tuple[XY, XY] | None


@dataclass(frozen=True)
class Things:
    """Furniture and tools, from the side [mm] [deg].

    `keyboard` is near end, far end, lower and upper face of a separate one; `paper` its near and far edge; it
    may lie beside the middle of the desk.
    """

    desk_front: float
    desk_back: float
    desk_height: float
    desk_underside: float
    desk_tilt: float
    screen: Screen | None
    keyboard: tuple[float, float, float, float] | None
    paper: tuple[XY, XY] | None
    paper_beside: bool


def desk_edge(state: State, task: str, mode: str, pose: Pose) -> float:
    """Front edge of a desk: so far before the eye as the legs let the body in [mm]."""
    return pose.eye_upright[0] + EYE_TO_EDGE + float(evaluate(state, task)("body_back", mode=mode))


def things_of(state: State, task: str, mode: str, pose: Pose, edge: float) -> Things:
    """Furniture and tools of one task, done in a mode, with the front edge of the desk at `edge`."""
    ask = evaluate(state, task)
    height, depth = float(ask("work_surface")), float(at_place(state, task, "desk.depth"))

    def of(name: str, **roles: str) -> float:
        return float(ask(name, mode=mode, **roles))

    beside = str(state.values[("task", task), "task.middle"]) == "screen"
    keyboard = _keyboard(state, task, pose, of, edge)
    paper = _paper(state, task, pose, of)
    screen = _screen(state, task, pose, of)
    if screen is not None and paper is not None and not beside:
        screen, paper = _in_line(screen, paper, looked_at(state, task) == "paper")
    lifted = float(at_place(state, task, "screen.raise")) >= CLEARS_KEYS
    if screen is not None and screen.deck is not None and not lifted:
        ends = [end for end in (keyboard and keyboard[1], not beside and paper and paper[1][0]) if end]
        screen = _clear_of(screen, ends)
    front = edge
    if screen is not None:
        # On a shallow desk the whole desk is drawn further away, as far as the hands still find it.
        lacks = screen.top[0] + BEHIND_SCREEN - (edge + depth)
        front += max(0.0, min(lacks, pose.hand[0] - KEYBOARD_HALF - edge))
    return Things(
        front,
        front + depth,
        height,
        float(ask("desk_underside")),
        float(at_place(state, task, "desk.tilt")),
        screen,
        keyboard,
        paper,
        beside,
    )


Evaluated = Callable[..., float]


def _keyboard(
    state: State, task: str, pose: Pose, of: Evaluated, edge: float
) -> tuple[float, float, float, float] | None:
    if str(state.values[DEVICES, "keyboard"]) != "separate":
        return None
    if str(state.values[("task", task), "task.screen"]) == "none":
        return None
    x = max(pose.shoulder_upright[0] + of("reach_forward", hand="keys"), edge + KEYBOARD_HALF)
    lower = of("work_surface") - float(at_place(state, task, "keyboard.drop"))
    return x - KEYBOARD_HALF, x + KEYBOARD_HALF, lower, of("hand_height", hand="keys")


def _paper(state: State, task: str, pose: Pose, of: Evaluated) -> tuple[XY, XY] | None:
    if float(state.values[("task", task), "look.paper"]) <= 0.0:
        return None
    half = of("target_half_height", target="paper")
    slope = float(state.values[("task", task), "paper.slope"])
    level = 0.5 * SHEET * math.cos(math.radians(slope))
    x = pose.eye_upright[0] + of("target_distance", target="paper")
    y = of("target_centre_height", target="paper")
    return (x - level, y - half), (x + level, y + half)


def _screen(state: State, task: str, pose: Pose, of: Evaluated) -> Screen | None:
    tool = str(state.values[("task", task), "task.screen"])
    if tool == "none" or float(state.values[("task", task), "look.screen"]) <= 0.0:
        return None
    x = pose.eye_upright[0] + of("target_distance", target="screen")
    top = of("target_top_height", target="screen")
    low = top - 2.0 * of("target_half_height", target="screen")
    base = of("work_surface") + float(at_place(state, task, "screen.raise"))
    if tool == "monitor":
        return Screen((x, low), (x, top), base, None)
    long = float(state.values[DEVICES, "laptop.depth"])
    incline = math.radians(float(at_place(state, task, "laptop.incline")))
    deck = ((x - long * math.cos(incline), base), (x, base + long * math.sin(incline)))
    return Screen((x, low), (x, top), base, deck)


def _in_line(screen: Screen, paper: tuple[XY, XY], paper_first: bool) -> tuple[Screen, tuple[XY, XY]]:
    """Paper before the screen; what is looked at most keeps its place, the other makes room."""
    over = paper[1][0] + BETWEEN - screen.low[0]
    if over <= 0.0:
        return screen, paper
    if paper_first:
        deck = None if screen.deck is None else tuple((x + over, y) for x, y in screen.deck)
        moved = Screen(
            (screen.low[0] + over, screen.low[1]),
            (screen.top[0] + over, screen.top[1]),
            screen.base,
            None if deck is None else (deck[0], deck[1]),
        )
        return moved, paper
    near, far = paper
    return screen, ((near[0] - over, near[1]), (far[0] - over, far[1]))


def _clear_of(screen: Screen, ends: list[float]) -> Screen:
    """A laptop's lower half, drawn no further to the front than what lies before it lets."""
    if screen.deck is None or not ends:
        return screen
    near, hinge = screen.deck
    x = max(near[0], min(max(ends) + BETWEEN, hinge[0] - SHORTEST_DECK))
    return Screen(screen.low, screen.top, screen.base, ((x, near[1]), hinge))


ROLL_HIGH = 190.0
"""Middle of a roll over the seat [mm] (judgement, drawn only)."""
LEG_IN = 60.0
"""How far the legs of a desk stand in from its edges [mm] (judgement, drawn only)."""
STACK_DEEP = 300.0
"""Depth of what lifts a screen [mm]: a carton of 400 by 300, lengthways (judgement, drawn only)."""
CLEARS_KEYS = 60.0
"""How high a laptop has to stand for its front to reach over a keyboard [mm] (judgement, drawn only)."""
SEAT_BOARD = 35.0
"""Thickness of a seat under its surface [mm] (judgement, drawn only)."""
WHEEL = 305.0
"""Radius of a wheelchair's large wheel [mm]: 24 inches across, the usual size (from memory)."""
BACK_HIGH = 380.0
"""Height of a backrest over its seat [mm] (judgement, drawn only)."""


@dataclass(frozen=True)
class Scene:
    """One state of a task as it is drawn: person and things, and which of those are new."""

    state: State
    pose: Pose
    things: Things
    new: frozenset[str] = frozenset()


def _seat(state: State, task: str) -> tuple[float, float, float, float]:
    """Depth, height of the bare front edge, padding, slope."""
    depth, height, pad, slope = (
        float(at_place(state, task, f"seat.{name}")) for name in ("depth", "height", "pad", "slope")
    )
    return depth, height, pad, slope


def bare_seat(state: State, task: str) -> tuple[float, float, float]:
    """Depth, height and slope of the seat without what lies on it."""
    depth, height, _, slope = _seat(state, task)
    return depth, height, slope


def draw_furniture(canvas: Canvas, scene: Scene, task: str, kind: str) -> None:
    """Draw seat, footrest and desk; ``kind`` is ``now`` or ``then``."""
    if not scene.pose.standing:
        draw_chair(canvas, scene, task, kind)
    draw_feet(canvas, scene, task, kind)
    draw_desk(canvas, scene.things, kind)


def draw_chair(canvas: Canvas, scene: Scene, task: str, kind: str) -> None:
    """Draw a seat with what lies on it and behind the back."""
    depth, height, pad, slope = _seat(scene.state, task)
    fall = math.tan(math.radians(slope))
    front, back = (depth, height), (0.0, height - depth * fall)
    low = min(back[1], height) - SEAT_BOARD
    base = str(at_place(scene.state, task, "seat.base"))
    if base == "wheelchair":
        canvas.circle((0.3 * depth, WHEEL), WHEEL, f"{kind} leg")
    elif base in ("wheels", "stool"):
        canvas.line((0.5 * depth, low), (0.5 * depth, 30.0), f"{kind} leg")
        canvas.line((0.5 * depth - 200.0, 30.0), (0.5 * depth + 200.0, 30.0), f"{kind} leg")
    else:
        canvas.line((25.0, low), (10.0, 0.0), f"{kind} leg")
        canvas.line((depth - 25.0, low), (depth - 15.0, 0.0), f"{kind} leg")
    board = [front, back, (0.0, back[1] - SEAT_BOARD), (depth, height - SEAT_BOARD)]
    canvas.outline(board, f"{kind} seat", {"of": "seat.height"})
    if pad > 0.0:
        cushion = [front, back, (0.0, back[1] + pad), (depth, height + pad)]
        canvas.outline(cushion, _added(scene, "seat.pad", kind), {"of": "seat.pad"})
    if str(at_place(scene.state, task, "seat.back")) not in ("none", "unknown"):
        lean = math.tan(math.radians(float(at_place(scene.state, task, "seat.recline"))))
        foot = back[1] - SEAT_BOARD
        top = back[1] + BACK_HIGH
        post = [(0.0, foot), (-16.0, foot), (-16.0 - (top - foot) * lean, top), (-(top - foot) * lean, top)]
        canvas.outline(post, f"{kind} rest")
    taken = float(at_place(scene.state, task, "back.depth_taken"))
    if taken > 0.0:
        middle = _roll_middle(scene.state, task)
        canvas.circle(
            middle, 0.5 * taken, _added(scene, "back.depth_taken", kind), {"of": "back.depth_taken"}
        )


def _roll_middle(state: State, task: str) -> XY:
    """Middle of what lies at the back: it touches the backrest, which leans away from it."""
    depth, height, pad, slope = _seat(state, task)
    up = height - depth * math.tan(math.radians(slope)) + pad + ROLL_HIGH
    lean = math.tan(math.radians(float(at_place(state, task, "seat.recline"))))
    return 0.5 * float(at_place(state, task, "back.depth_taken")) - (pad + ROLL_HIGH + SEAT_BOARD) * lean, up


def _added(scene: Scene, name: str, kind: str) -> str:
    """Class of a thing that is put in: hatched where it is new."""
    return f"{kind} added" if name in scene.new else f"{kind} added there"


def draw_feet(canvas: Canvas, scene: Scene, task: str, kind: str) -> None:
    """Draw what the feet rest on, where that is not the floor."""
    on = str(at_place(scene.state, task, "feet.on"))
    high = 0.0 if scene.pose.standing else _foot_height(scene.state, task)
    if high <= 0.0:
        return
    middle = 0.5 * (scene.pose.heel[0] + scene.pose.toe[0])
    if on in ("foot_bar", "foot_ring"):
        # a bar runs across from leg to leg: seen from its end, with what carries it
        held = scene.things.desk_back - LEG_IN if on == "foot_bar" else 0.5 * _seat(scene.state, task)[0]
        canvas.line((middle, high - 20.0), (held, high - 20.0), f"{kind} stretcher")
        canvas.box(middle - 22.0, middle + 22.0, max(high - 40.0, 0.0), high, f"{kind} bar", {"of": "feet"})
    else:
        canvas.box(
            scene.pose.heel[0] - 15.0,
            scene.pose.toe[0] + 15.0,
            0.0,
            high,
            _added(scene, "feet", kind),
            {"of": "feet"},
        )


def _foot_height(state: State, task: str) -> float:
    return float(evaluate(state, task)("foot_surface"))


def draw_desk(canvas: Canvas, things: Things, kind: str) -> None:
    """Draw a desk from the side."""
    top, low = things.desk_height, things.desk_underside
    board = max(min(30.0, top - low), 12.0)
    rise = math.sin(math.radians(things.desk_tilt)) * (things.desk_back - things.desk_front)
    for x in (things.desk_front + LEG_IN, things.desk_back - LEG_IN):
        canvas.box(x - 13.0, x + 13.0, 0.0, low, f"{kind} post")
    outline = [
        (things.desk_front, top),
        (things.desk_back, top + rise),
        (things.desk_back, top + rise - board),
        (things.desk_front, top - board),
    ]
    canvas.outline(outline, f"{kind} desk", {"of": "desk.height"})
    if top - low > board:
        canvas.box(
            things.desk_front + 40.0,
            things.desk_back - 40.0,
            low,
            top - board,
            f"{kind} frame",
            {"of": "underside"},
        )


def draw_tools(canvas: Canvas, scene: Scene, kind: str) -> None:
    """Draw keyboard, screen with what lifts it, and paper."""
    things = scene.things
    if things.keyboard is not None:
        near, far, low, top = things.keyboard
        canvas.box(near, far, low, top, f"{kind} tool", {"of": "keyboard"})
        if low < things.desk_height - 1.0:
            canvas.box(near - 40.0, far + 20.0, low - 15.0, low, f"{kind} added", {"of": "keyboard.drop"})
            for x in (max(near, things.desk_front + 5.0), far + 20.0):
                canvas.line((x, low), (x, things.desk_height - 12.0), f"{kind} stretcher")
    screen = things.screen
    if screen is not None:
        if screen.base > things.desk_height:
            left, right = _stack(screen, things)
            added = _added(scene, "screen.raise", kind)
            canvas.box(left, right, things.desk_height, screen.base, added, {"of": "screen.raise"})
        if screen.deck is not None:
            front, hinge = screen.deck
            canvas.line(front, hinge, f"{kind} deck", {"of": "laptop"})
            canvas.line(hinge, screen.top, f"{kind} shell")
        else:
            x = screen.low[0] + 35.0
            canvas.line((x, screen.base + 6.0), (x, screen.top[1] - 40.0), f"{kind} shell")
            canvas.line((x - 75.0, screen.base + 6.0), (x + 75.0, screen.base + 6.0), f"{kind} shell")
        canvas.line(screen.low, screen.top, f"{kind} picture", {"of": "screen"})
    if things.paper is not None:
        beside = " beside" if things.paper_beside else ""
        edge, end = things.paper
        canvas.line(edge, end, f"{kind} paper{beside}", {"of": "paper"})
        if end[1] - things.desk_height > 10.0:
            under = [(edge[0], things.desk_height), edge, end, (end[0], things.desk_height)]
            canvas.outline(
                under, f"{kind} prop" if "paper" in scene.new else f"{kind} prop there", closed=False
            )


def _stack(screen: Screen, things: Things) -> tuple[Mm, Mm]:
    """Front and back of what lifts a screen: behind the keyboard, and no further than the desk goes."""
    if screen.deck is None:
        return screen.low[0] - 60.0, min(screen.low[0] + 130.0, max(things.desk_back, screen.low[0] + 35.0))
    left = screen.deck[0][0]
    if things.keyboard is not None:
        left = max(left, things.keyboard[1] + BETWEEN)
    left = min(left, screen.deck[1][0] - 0.5 * SHORTEST_DECK)
    return left, max(min(left + STACK_DEEP, things.desk_back), screen.deck[1][0] + 10.0)


def chair_back(state: State, task: str) -> Mm:
    """Rearmost point of a chair."""
    depth = _seat(state, task)[0]
    wheel = 0.3 * depth - WHEEL if str(at_place(state, task, "seat.base")) == "wheelchair" else 0.0
    lean = math.tan(math.radians(float(at_place(state, task, "seat.recline"))))
    return min(wheel, 0.5 * depth - 200.0, -16.0 - (BACK_HIGH + SEAT_BOARD) * lean)


def anchors_of(scene: Scene, task: str) -> dict[str, XY]:
    """Points of the things that can be named, by what they are of, where they are there."""
    state, things, pose = scene.state, scene.things, scene.pose
    out: dict[str, XY] = {}
    if not pose.standing:
        depth, height, pad, slope = _seat(state, task)
        back = height - depth * math.tan(math.radians(slope))
        out["seat.height"] = (0.75 * depth, height - 0.5 * SEAT_BOARD)
        if pad > 0.0:
            out["seat.pad"] = (12.0, back + 0.5 * pad)
        taken = float(at_place(state, task, "back.depth_taken"))
        if taken > 0.0:
            out["back.depth_taken"] = _roll_middle(state, task)
        high = _foot_height(state, task)
        if high > 0.0:
            out["feet"] = (pose.toe[0] - 20.0, 0.5 * high)
    out["desk.height"] = (things.desk_back - 30.0, things.desk_height - 6.0)
    if things.keyboard is not None:
        _, far, low, top = things.keyboard
        out["keyboard"] = (far - 12.0, 0.5 * (low + top))
    if things.screen is not None:
        out["screen"] = things.screen.top
        if things.screen.base > things.desk_height:
            _, right = _stack(things.screen, things)
            out["screen.raise"] = (right - 30.0, 0.5 * (things.desk_height + things.screen.base))
    if things.paper is not None:
        low_end, end = things.paper
        out["paper"] = (0.3 * low_end[0] + 0.7 * end[0], 0.3 * low_end[1] + 0.7 * end[1])
    return out
