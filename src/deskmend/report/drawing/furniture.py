"""Seat, desk, footrest and tools in a side view: where they stand, and how they are drawn.

Heights, the desk's front edge and level distances are the model's own, sizes those of the things. Where that
puts one thing into another or over the desk's edge, it is drawn so and said (`Things.cramped`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from deskmend.measures import Mm
from deskmend.report.drawing.person import Pose, at_place
from deskmend.report.drawing.svg import XY, Canvas
from deskmend.risk.severity import seen_in
from deskmend.workstation.distances import BEHIND_SCREEN, CLEARS_KEYS, EYE_TO_EDGE, FOOT_BEFORE, SHEET_OVER
from deskmend.workstation.state import DEVICES, State

__all__ = [
    "SHEET",
    "Scene",
    "Screen",
    "Things",
    "anchors_of",
    "chair_back",
    "desk_edge",
    "draw_chair",
    "draw_desk",
    "draw_feet",
    "draw_furniture",
    "draw_tools",
    "stack_of",
    "things_of",
]

KEYBOARD_HALF = 65.0
"""Half the depth of a keyboard [mm] (judgement, drawn only)."""
SHEET = 297.0
"""Length of an A4 sheet [mm] (ISO 216)."""
BETWEEN = 15.0
"""Least room between two things on the desk [mm] (drawn only)."""


@dataclass(frozen=True)
class Screen:
    """A screen from the side (x, y) [mm]: edges of the picture, top of what it stands on.

    `deck` is front and back of the underside of a laptop's lower half, `thick` how thick that is; None for a
    monitor.
    """

    low: XY
    top: XY
    base: float
    deck: tuple[XY, XY] | None
    thick: float = 0.0


@dataclass(frozen=True)
class Things:
    """Furniture and tools, from the side [mm] [deg].

    `keyboard` is near end, far end, lower and upper face of a separate one; `paper` its near and far edge.
    `beside` are those of keyboard, paper and screen that lie beside the middle of the desk; `cramped` those
    that stand in another thing, or over the desk's edge, where the model has them.
    """

    desk_front: float
    desk_back: float
    desk_height: float
    desk_underside: float
    desk_tilt: float
    screen: Screen | None
    keyboard: tuple[float, float, float, float] | None
    paper: tuple[XY, XY] | None
    beside: frozenset[str]
    cramped: tuple[str, ...]


def desk_edge(state: State, task: str, mode: str, pose: Pose) -> float:
    """Front edge of a desk: so far before the eye as the legs let the body in [mm]."""
    return pose.eye_upright[0] + EYE_TO_EDGE + float(seen_in(state, task)("body_back", mode=mode))


def things_of(state: State, task: str, mode: str, pose: Pose, edge: float) -> Things:
    """Furniture and tools of one task, done in a mode, with the front edge of the desk at `edge`."""
    ask = seen_in(state, task)
    height, depth = float(ask("work_surface")), float(at_place(state, task, "desk.depth"))

    def of(name: str, **roles: str) -> float:
        return float(ask(name, mode=mode, **roles))

    keyboard = _keyboard(state, task, pose, of, edge)
    paper = _paper(state, task, pose, of)
    screen = _screen(state, task, pose, of)
    beside = _beside(state, task)
    front = edge
    if screen is not None:
        # On a shallow desk the whole desk is drawn further away, as far as the hands still find it.
        lacks = screen.top[0] + BEHIND_SCREEN - (edge + depth)
        front += max(0.0, min(lacks, pose.hand[0] - KEYBOARD_HALF - edge))
    found = Things(
        front,
        front + depth,
        height,
        float(ask("desk_underside")),
        float(at_place(state, task, "desk.tilt")),
        screen,
        keyboard,
        paper,
        beside,
        (),
    )
    return replace(found, cramped=_cramped(found))


def _beside(state: State, task: str) -> frozenset[str]:
    """What lies beside the middle: paper beside a screen, or the keys beside paper, with what they are of."""
    middle = str(state.values[("task", task), "task.middle"])
    if middle == "screen":
        return frozenset({"paper"})
    if middle == "both":
        return frozenset()
    separate = str(state.values[DEVICES, "keyboard"]) == "separate"
    laptop = str(state.values[("task", task), "task.screen"]) == "laptop"
    return frozenset({"keyboard"} if separate else {"screen"} if laptop else ())


def _cramped(things: Things) -> tuple[str, ...]:
    """What stands in another thing in the same line, or over the desk's edge.

    A sheet may by its margin, under a screen and over an edge.
    """
    taken = {name: ends for name, ends in _taken(things).items() if ends is not None}
    out = []
    for name, (near, far) in taken.items():
        spare = SHEET_OVER if name == "paper" else 1e-6
        over = near < things.desk_front - spare or far > things.desk_back + spare
        met = any(
            near < taken[other][1] - (room := SHEET_OVER if {name, other} == {"paper", "screen"} else 1e-6)
            and far > taken[other][0] + room
            for other in taken
            if other != name and not {name, other} & things.beside
        )
        if over or met:
            out.append(name)
    return tuple(out)


def _taken(things: Things) -> dict[str, tuple[float, float] | None]:
    """Front and back of what stands on the desk; a laptop lifted high leaves room under its front."""
    out: dict[str, tuple[float, float] | None] = dict.fromkeys(("keyboard", "screen", "paper"))
    if things.keyboard is not None and things.keyboard[2] >= things.desk_height:
        # one on a shelf under the top takes nothing of it
        out["keyboard"] = things.keyboard[:2]
    if things.paper is not None:
        out["paper"] = things.paper[0][0], things.paper[1][0]
    if things.screen is not None:
        screen = things.screen
        near = screen.low[0] if screen.deck is None else screen.deck[0][0]
        if screen.base - things.desk_height >= CLEARS_KEYS:
            near = stack_of(screen, things)[0]
        out["screen"] = near, screen.low[0]
    return out


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
    return Screen((x, low), (x, top), base, deck, float(state.values[DEVICES, "laptop.keys"]))


ROLL_HIGH = 190.0
"""Middle of a roll over the seat [mm] (judgement, drawn only)."""
LEG_IN = 60.0
"""How far the legs of a desk stand in from its edges [mm] (judgement, drawn only)."""
STACK_DEEP = 300.0
"""Depth of what lifts a screen [mm]: a carton of 400 by 300, lengthways (judgement, drawn only)."""
MONITOR_THICK = 28.0
"""Thickness of a monitor [mm] (judgement, drawn only)."""
SEAT_BOARD = 35.0
"""Thickness of a seat under its surface [mm] (judgement, drawn only)."""
CASTOR, FRONT_WHEEL = 25.0, 75.0
"""Radius of a chair's castors and of a wheelchair's front wheel [mm] (from memory, drawn only)."""
WHEEL = 305.0
"""Radius of a wheelchair's large wheel [mm]: 24 inches across, the usual size (from memory)."""
BACK_THICK = 16.0
"""Thickness of a backrest [mm] (judgement, drawn only)."""
BACK_HIGH = 380.0
"""Height of a backrest over its seat [mm] (judgement, drawn only)."""


@dataclass(frozen=True)
class Scene:
    """One state of a task as it is drawn: person and things, and which of those are new.

    `far_paper`: paper that lies beside the middle does so on the far side.
    """

    state: State
    pose: Pose
    things: Things
    new: frozenset[str] = frozenset()
    far_paper: bool = False


def _seat(state: State, task: str) -> tuple[float, float, float, float]:
    """Depth, height of the bare front edge, padding, slope."""
    depth, height, pad, slope = (
        float(at_place(state, task, f"seat.{name}")) for name in ("depth", "height", "pad", "slope")
    )
    return depth, height, pad, slope


def draw_furniture(canvas: Canvas, scene: Scene, task: str, kind: str) -> None:
    """Draw seat, footrest and desk; ``kind`` is ``now`` or ``then``."""
    if not scene.pose.standing:
        draw_chair(canvas, scene, task, kind)
    draw_feet(canvas, scene, task, kind)
    lies = str(at_place(scene.state, task, "desk.legs")) == "lap"
    draw_desk(canvas, scene.things, _moved(scene, "desk.height", kind), on_lap=lies)


def draw_chair(canvas: Canvas, scene: Scene, task: str, kind: str) -> None:
    """Draw a seat with what lies on it and behind the back."""
    depth, height, pad, slope = _seat(scene.state, task)
    fall = math.tan(math.radians(slope))
    front, back = (depth, height), (0.0, height - depth * fall)
    low = min(back[1], height) - SEAT_BOARD
    base = str(at_place(scene.state, task, "seat.base"))
    if low <= 0.0:
        pass  # a cushion on the floor needs no legs
    elif base == "wheelchair":
        canvas.circle((0.3 * depth, WHEEL), WHEEL, f"{kind} leg")
        canvas.line((0.95 * depth, low), (0.95 * depth, FRONT_WHEEL), f"{kind} leg")
        canvas.circle((0.95 * depth, FRONT_WHEEL), FRONT_WHEEL, f"{kind} leg")
    elif base == "wheels":
        foot = 2.0 * CASTOR
        canvas.line((0.5 * depth, low), (0.5 * depth, foot), f"{kind} leg")
        canvas.line((0.5 * depth - 200.0, foot), (0.5 * depth + 200.0, foot), f"{kind} leg")
        for x in (-180.0, 0.0, 180.0):
            canvas.circle((0.5 * depth + x, CASTOR), CASTOR, f"{kind} leg")
    elif base == "stool":
        canvas.line((0.5 * depth, low), (0.5 * depth, 0.0), f"{kind} leg")
        canvas.box(0.5 * depth - 200.0, 0.5 * depth + 200.0, 0.0, 14.0, f"{kind} leg")
    else:
        canvas.line((25.0, low), (10.0, 0.0), f"{kind} leg")
        canvas.line((depth - 25.0, low), (depth - 15.0, 0.0), f"{kind} leg")
    board = [front, back, (0.0, back[1] - SEAT_BOARD), (depth, height - SEAT_BOARD)]
    canvas.outline(board, f"{_moved(scene, 'seat.height', kind)} seat", {"of": "seat.height"})
    if pad > 0.0:
        cushion = [front, back, (0.0, back[1] + pad), (depth, height + pad)]
        canvas.outline(cushion, _added(scene, "seat.pad", kind), {"of": "seat.pad"})
    if str(at_place(scene.state, task, "seat.back")) not in ("none", "unknown"):
        lean = math.tan(math.radians(float(at_place(scene.state, task, "seat.recline"))))
        face = [(SEAT_BOARD * lean, back[1] - SEAT_BOARD), (-BACK_HIGH * lean, back[1] + BACK_HIGH)]
        behind = [(x - BACK_THICK, y) for x, y in reversed(face)]
        canvas.outline([*face, *behind], f"{kind} rest", {"of": "rest"})
    taken = float(at_place(scene.state, task, "back.depth_taken"))
    if taken > 0.0:
        middle, radius = _roll(scene.state, task)
        canvas.circle(middle, radius, _added(scene, "back.depth_taken", kind), {"of": "back.depth_taken"})


def _roll(state: State, task: str) -> tuple[XY, Mm]:
    """Middle and radius of what lies at the back: between the backrest's face and the back, touching both."""
    depth, height, pad, slope = _seat(state, task)
    recline = math.radians(float(at_place(state, task, "seat.recline")))
    radius = 0.5 * float(at_place(state, task, "back.depth_taken")) * math.cos(recline)
    up = pad + ROLL_HIGH
    rear = height - depth * math.tan(math.radians(slope))
    on = -up * math.tan(recline), rear + up
    return (on[0] + radius * math.cos(recline), on[1] + radius * math.sin(recline)), radius


def _added(scene: Scene, name: str, kind: str) -> str:
    """Class of a thing that is put in: hatched where it is new."""
    return f"{kind} added" if name in scene.new else f"{kind} added there"


def _moved(scene: Scene, name: str, kind: str) -> str:
    """Class of a thing that was there before: bold where it is set otherwise."""
    return f"{kind} moved" if name in scene.new else kind


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
    return float(seen_in(state, task)("foot_surface"))


def draw_desk(canvas: Canvas, things: Things, kind: str, on_lap: bool = False) -> None:
    """Draw a desk from the side; a board on the lap has no legs."""
    top, low = things.desk_height, things.desk_underside
    board = max(min(30.0, top - low), 12.0)
    rise = math.sin(math.radians(things.desk_tilt)) * (things.desk_back - things.desk_front)
    for x in () if on_lap else (things.desk_front + LEG_IN, things.desk_back - LEG_IN):
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
    """Draw screen with what lifts it, keyboard and paper; what lies beside, on the far side, comes first.

    Whoever is drawn looks to the right, so that the far side is the left.
    """
    things = scene.things
    far = "paper" in things.beside and scene.far_paper
    if far:
        _draw_paper(canvas, scene, kind)
    if things.screen is not None:
        _draw_screen(canvas, scene, things.screen, kind)
    if things.keyboard is not None:
        near, end, low, top = things.keyboard
        canvas.box(near, end, low, top, f"{kind} tool", {"of": "keyboard"})
        if low < things.desk_height - 1.0:
            canvas.box(near - 40.0, end + 20.0, low - 15.0, low, f"{kind} added", {"of": "keyboard.drop"})
            for x in (max(near, things.desk_front + 5.0), end + 20.0):
                canvas.line((x, low), (x, things.desk_height - 12.0), f"{kind} stretcher")
    if not far:
        _draw_paper(canvas, scene, kind)


def _draw_screen(canvas: Canvas, scene: Scene, screen: Screen, kind: str) -> None:
    things, x = scene.things, screen.low[0]
    if screen.base > things.desk_height:
        left, right = stack_of(screen, things)
        added = _added(scene, "screen.raise", kind)
        canvas.box(left, right, things.desk_height, screen.base, added, {"of": "screen.raise"})
    if screen.deck is not None:
        front, hinge = screen.deck
        if hinge[1] > screen.base + 1.0:
            under = [front, (hinge[0], screen.base), hinge]
            canvas.outline(under, _added(scene, "laptop.incline", kind), {"of": "laptop.incline"})
        thick = screen.thick
        lower = [front, hinge, (hinge[0], hinge[1] + thick), (front[0], front[1] + thick)]
        canvas.outline(lower, f"{kind} deck", {"of": "laptop"})
        canvas.line((x, hinge[1] + thick), screen.top, f"{kind} shell")
    else:
        back, foot, kind = x + MONITOR_THICK, _foot(screen, things), _moved(scene, "screen", kind)
        canvas.box(*foot, screen.base, screen.base + 12.0, f"{kind} stand", {"of": "foot"})
        middle = 0.5 * (screen.low[1] + screen.top[1])
        canvas.box(back, back + 14.0, screen.base + 12.0, middle, f"{kind} stand", {"of": "post"})
        canvas.box(x, back, screen.low[1] - 12.0, screen.top[1] + 12.0, f"{kind} stand", {"of": "case"})
    canvas.line(screen.low, screen.top, f"{kind} picture", {"of": "screen"})


def _draw_paper(canvas: Canvas, scene: Scene, kind: str) -> None:
    things = scene.things
    if things.paper is None:
        return
    edge, end = things.paper
    desk, front = things.desk_height, max(edge[0], things.desk_front)
    if end[1] - desk > 10.0:
        # what props the sheet stands on the desk, also where the sheet itself reaches over its edge
        share = (front - edge[0]) / max(end[0] - edge[0], 1.0)
        over = front, edge[1] + share * (end[1] - edge[1])
        under = [(front, desk), over, end, (end[0], desk)]
        canvas.outline(under, f"{kind} prop" if "paper" in scene.new else f"{kind} prop there")
    beside = " beside" if "paper" in things.beside else ""
    canvas.line(edge, end, f"{kind} paper{beside}", {"of": "paper"})


def _foot(screen: Screen, things: Things) -> tuple[Mm, Mm]:
    """Front and back of a monitor's foot, on the desk as far as that goes."""
    behind = screen.low[0] + MONITOR_THICK
    return screen.low[0] - FOOT_BEFORE, min(behind + 90.0, max(things.desk_back, behind + 14.0))


def stack_of(screen: Screen, things: Things) -> tuple[Mm, Mm]:
    """Front and back of what lifts a screen: behind what lies before it, no further than the desk goes."""
    if screen.deck is None:
        near, far = _foot(screen, things)
        return near - 15.0, min(far + 15.0, max(things.desk_back, far))
    left, hinge = screen.deck[0][0], screen.deck[1][0]
    if things.keyboard is not None and not {"keyboard", "screen"} & things.beside:
        left = max(left, things.keyboard[1] + BETWEEN)
    if things.paper is not None and not {"paper", "screen"} & things.beside:
        # its margin may lie under a stack
        far = things.paper[1][0]
        left = far if far - left > SHEET_OVER else left
    # what carries a laptop reaches from under its middle to under its back
    left = max(min(left, 0.5 * (screen.deck[0][0] + hinge)), min(things.desk_front, hinge - 20.0))
    return left, max(min(left + STACK_DEEP, things.desk_back), hinge + 10.0)


def chair_back(state: State, task: str) -> Mm:
    """Rearmost point of a chair."""
    depth = _seat(state, task)[0]
    wheel = 0.3 * depth - WHEEL if str(at_place(state, task, "seat.base")) == "wheelchair" else 0.0
    lean = math.tan(math.radians(float(at_place(state, task, "seat.recline"))))
    return min(wheel, 0.5 * depth - 205.0, -BACK_THICK - BACK_HIGH * lean)


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
            out["back.depth_taken"] = _roll(state, task)[0]
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
            _, right = stack_of(things.screen, things)
            out["screen.raise"] = (right - 30.0, 0.5 * (things.desk_height + things.screen.base))
    if things.paper is not None:
        low_end, end = things.paper
        out["paper"] = (0.3 * low_end[0] + 0.7 * end[0], 0.3 * low_end[1] + 0.7 * end[1])
    return out
