"""The desk from above: what lies where in its true size, hands at their work, and how far they reach."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from deskmend.language import tr
from deskmend.planning.fit import desk_lacks
from deskmend.report.drawing.furniture import SHEET, Things, desk_edge, stack_of, things_of
from deskmend.report.drawing.labels import NamedPoint, place_labels
from deskmend.report.drawing.person import Pose, at_place, modes_of, pose_of, worked_on
from deskmend.report.drawing.side import StepMark, cramped_text, thing_words
from deskmend.report.drawing.svg import XY, Canvas, millimetres
from deskmend.report.words import quantity_text, quantity_words
from deskmend.risk.severity import curves, seen_in
from deskmend.workstation.distances import (
    KEYBOARD_WIDTH,
    LAPTOP_WIDTH,
    MIDDLE_FOREARM_HAND,
    OTHER_SIDE,
    SHEET_OVER,
    SHEET_WIDTH,
    SHORT_KEYBOARD,
)
from deskmend.workstation.state import DEVICES, PERSON, State

__all__ = ["AboveView", "Reached", "above_view"]

MONITOR_WIDTH = 530.0
"""Width of a monitor, which nobody is asked for [mm] (judgement, drawn only)."""
CARTON_WIDTH = 400.0
"""Width of what lifts a screen [mm]: a carton of 400 by 300 (judgement, drawn only)."""
MOUSE = (64.0, 110.0)
LAMP = 75.0
"""Half the width of a lamp's foot [mm] (judgement, drawn only)."""
SHEET_TURN = 25.0
"""Turn of a sheet that lies aside, to the person [deg] (practice: 20 to 30)."""
WIDEST_DESK = 1640.0
"""Most that is drawn of a desk's width [mm]; names would be too small on a telephone beyond."""
MONITOR_DEEP = 120.0
"""What is drawn of a monitor behind its picture, foot and all [mm] (drawn only)."""
ROOM_STEP, ROOM_STEPS = 10.0, 60
"""How things make room for each other [mm]."""
BODY_STEP = 50.0
"""How the body makes room, nearer to one end of the desk [mm]."""
KNEES_WIDE = 500.0
"""Room for the legs that the body keeps before it where it sits nearer to one end [mm] (judgement)."""
MOVED = 35.0
"""How much nearer or further than reckoned a thing lies before that is said [mm] (judgement)."""
ASIDE_FROM = 60.0
"""How far from the middle a thing is told as left or right [mm] (drawn only)."""
RIM = 0.84
"""Part of a new thing inside its hatched rim [-] (drawn only)."""


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
    under: tuple[XY, ...] | None = None

    @property
    def room(self) -> tuple[XY, ...]:
        """What it takes of the desk: what lifts it where that is larger."""
        return self.shape if self.under is None else self.under


@dataclass(frozen=True)
class _Meant:
    """Where the model has a thing, and to which side it makes room: -1 left, 1 right, 0 away.

    `first` is a shape to try before, at this very place; `lifted` how far what lifts it reaches behind it,
    and how deep that is.
    """

    shape: tuple[XY, ...]
    outward: float
    first: tuple[XY, ...] | None = None
    lifted: tuple[float, float] | None = None

    def at(self, name: str, shape: tuple[XY, ...]) -> _Thing:
        """The thing with its shape somewhere."""
        return _Thing(name, shape, None if self.lifted is None else _carton(shape, *self.lifted))


@dataclass(frozen=True)
class _Laid:
    """What lies on the desk, what is not drawn on it, and what lies otherwise than the model has it.

    `middle` is where the middle of the desk is to the right of the body [mm].
    """

    middle: float
    things: tuple[_Thing, ...]
    no_room: tuple[str, ...]
    moved: tuple[str, ...]


@dataclass(frozen=True)
class _Top:
    """Desk top from above: its middle, half its width, front and back edge [mm]."""

    middle: float
    half: float
    front: float
    back: float

    def holds(self, name: str, shape: Sequence[XY]) -> bool:
        """Whether a thing lies on the desk; a sheet may stand over its edge a little."""
        spare = SHEET_OVER if name == "paper" else 1e-6
        return (
            max(abs(x - self.middle) for x, _ in shape) <= self.half + 1e-6
            and min(y for _, y in shape) >= self.front - spare
            and max(y for _, y in shape) <= self.back + spare
        )


def above_view(
    before: State, after: State, task: str, numbers: Mapping[str, StepMark] | None = None
) -> AboveView:
    """Draw the desk of one task from above, as it is and as it will be.

    x to the right of the middle of the body, y forward from the upright shoulders [mm]. Names carry the
    numbers of their steps, where given.
    """
    numbers = numbers or {}
    stays = before.place_of[task] == after.place_of[task]
    pose, things, will = _seen(after, task, numbers)
    was = _seen(before, task, {}, will.middle)[2] if stays else None
    front, back = (x - pose.shoulder_upright[0] for x in (things.desk_front, things.desk_back))
    half = _half_width(after, task)
    start, end = will.middle - half, will.middle + half
    (near, far), wide = _reaches(after), 0.5 * after.body["biacromial_breadth"]
    forward = pose.shoulder[0] - pose.shoulder_upright[0]
    eye = pose.eye[0] - pose.shoulder_upright[0]
    frame = (
        min(start, -far - wide) - 20.0,
        max(end, far + wide) + 20.0,
        min(eye - 200.0, forward - 110.0),
        max(back, far + forward) + 20.0,
    )
    canvas = Canvas(*frame, "")
    canvas.outline([(start, front), (end, front), (end, back), (start, back)], "then top", {"of": "desk"})
    canvas.path(
        _area(near, wide, forward), "area comfortable", {"of": "comfortable", "radius": millimetres(near)}
    )
    canvas.path(_area(far, wide, forward), "area far", {"of": "far", "radius": millimetres(far)})
    window = _window(canvas, after, task, frame)
    old = () if was is None else was.things
    for one in old:
        if one not in will.things:
            canvas.outline(one.shape, f"now thing {one.name}", {"of": one.name})
    for one in will.things:
        _draw_thing(canvas, one, things, new=was is not None and one not in old)
    _draw_arms(canvas, after, task, pose, will, (wide, forward))
    _draw_person(canvas, wide, forward, eye)
    names = [
        NamedPoint(_middle(one.shape), _name(one.name, after, task), "", *numbers.get(one.name, (0, False)))
        for one in will.things
    ]
    place_labels(canvas, [*names, *window], frame)
    lines = list(_lines(after, task, will))
    canvas.say(" ".join([tr("The desk from above, drawn to scale."), *_sides(will, after, task), *lines]))
    return AboveView(
        canvas.svg(),
        " ".join(lines),
        _reached(after, task, curves()["reach"].zero_at),
        quantity_text(near, "mm"),
    )


def _reaches(state: State) -> tuple[float, float]:
    """How far from the shoulder hands reach in comfort, and how far at all [mm]."""
    scale = state.body["forearm_hand_length"] / MIDDLE_FOREARM_HAND
    return curves()["reach"].zero_at * scale, curves()["reach"].one_at * scale


def _seen(
    state: State, task: str, numbers: Mapping[str, StepMark], middle: float | None = None
) -> tuple[Pose, Things, _Laid]:
    """Person and things of a task, and what lies where on the desk.

    The body sits before the middle of the desk, or where nearer to one end more has room; `middle` tells.
    """
    mode = modes_of(state, task)[0]
    pose = pose_of(state, task, mode)
    things = things_of(state, task, mode, pose, desk_edge(state, task, mode, pose))
    lamp = "lamp" in numbers
    if middle is not None:
        return pose, things, _laid(state, task, pose, things, lamp, middle)
    found = [_laid(state, task, pose, things, lamp, 0.0)]
    for middle in _off_the_middle(state, task):
        if not found[-1].no_room:
            break
        found.append(_laid(state, task, pose, things, lamp, middle))
    return pose, things, min(found, key=lambda laid: len(laid.no_room))


def _off_the_middle(state: State, task: str) -> Iterator[float]:
    """Where else the middle of the desk may be, nearest first: with knees under it, and names to be read."""
    half, reached = _half_width(state, task), _reaches(state)[1] + 0.5 * state.body["biacromial_breadth"]
    most = min(half, 0.5 * (float(at_place(state, task, "desk.leg_width")) - KNEES_WIDE))
    by = BODY_STEP
    while by <= most and max(half + by, reached) + max(half - by, reached) <= WIDEST_DESK:
        yield from (_mouse_side(state) * by, -_mouse_side(state) * by)
        by += BODY_STEP


def _name(name: str, state: State, task: str) -> str:
    """What a thing is called in the drawing: as short as it can be."""
    if name != "screen":
        return thing_words()[name]
    laptop = str(state.values[("task", task), "task.screen"]) == "laptop"
    tablet = laptop and state.values[DEVICES, "laptop.kind"] == "tablet"
    return tr("tablet") if tablet else tr("laptop") if laptop else tr("screen")


def _half_width(state: State, task: str) -> float:
    return 0.5 * min(float(at_place(state, task, "desk.width")), WIDEST_DESK)


def _sides(laid: _Laid, state: State, task: str) -> Iterator[str]:
    """What lies in the middle, on the left and on the right, by where it is drawn."""
    found: dict[str, list[str]] = {"middle": [], "left": [], "right": []}
    for one in laid.things:
        x = _middle(one.shape)[0]
        side = "middle" if abs(x) < ASIDE_FROM else "left" if x < 0.0 else "right"
        found[side].append(_name(one.name, state, task))
    if found["middle"]:
        yield tr("In the middle: {things}.", things=", ".join(found["middle"]))
    if found["left"]:
        yield tr("On the left: {things}.", things=", ".join(found["left"]))
    if found["right"]:
        yield tr("On the right: {things}.", things=", ".join(found["right"]))
    glare = str(at_place(state, task, "light.glare"))
    if glare == "window_ahead":
        yield tr("The window ahead dazzles.")
    if glare == "window_behind":
        yield tr("The window behind dazzles.")


def _lines(state: State, task: str, laid: _Laid) -> Iterator[str]:
    """What the drawing cannot show: what lacks room, what lies elsewhere, light from a side not known."""
    if laid.middle:
        by = quantity_text(abs(laid.middle), "mm")
        left = tr("Drawn with the body {by} to the left of the middle of the desk: so more has room.", by=by)
        right = tr(
            "Drawn with the body {by} to the right of the middle of the desk: so more has room.", by=by
        )
        yield left if laid.middle > 0.0 else right
    lacking = desk_lacks(state, task)
    if laid.no_room:
        things = ", ".join(thing_words()[name] for name in laid.no_room)
        if lacking:
            yield tr("On the desk there is no room beside the rest for: {things}.", things=things)
        else:
            told = (
                "Not drawn, though all has room by its depth and width: {things}. Lay it where it goes best."
            )
            yield tr(told, things=things)
    elif lacking:
        yield tr("Drawn so that all lies on the desk, though by the reckoning room is lacking.")
    if float(seen_in(state, task)("look_share", target="second")) > 0.0:
        yield tr("The second screen is not drawn.")
    if laid.moved:
        yield cramped_text(laid.moved)
    glare = str(at_place(state, task, "light.glare"))
    if glare == "window_beside":
        yield tr("A window at the side dazzles; on which side is not known, so it is not drawn.")
    if glare == "lamp":
        yield tr("A lamp dazzles; where it stands is not known, so it is not drawn.")


def _writing_side(state: State, task: str) -> float:
    """Side of the hand that writes at a task: -1 left, 1 right, 0 where nobody writes or nobody said."""
    if float(state.values[("task", task), "hands.writing"]) <= 0.0:
        return 0.0
    return {"left": -1.0, "right": 1.0}.get(str(state.values[PERSON, "person.writing_hand"]), 0.0)


def _mouse_side(state: State) -> float:
    return -1.0 if str(state.values[PERSON, "person.mouse_hand"]) == "left" else 1.0


# --- what is drawn -----------------------------------------------------------------------------------


def _area(radius: float, wide: float, forward: float) -> str:
    """Outline of what hands reach from two shoulders; a reach counts beyond the shoulder alone."""
    r = millimetres(radius)
    out, w = millimetres(wide + radius), millimetres(wide)
    base, top = millimetres(forward), millimetres(forward + radius)
    return f"M-{out} {base} A{r} {r} 0 0 0 -{w} {top} L{w} {top} A{r} {r} 0 0 0 {out} {base}"


def _window(
    canvas: Canvas, state: State, task: str, frame: tuple[float, float, float, float]
) -> list[NamedPoint]:
    """A window that dazzles, as a double line on its side of the room, and its name."""
    glare = str(at_place(state, task, "light.glare"))
    if glare not in ("window_ahead", "window_behind"):
        return []
    y = frame[3] + 70.0 if glare == "window_ahead" else frame[2] - 70.0
    for off in (-9.0, 9.0):
        canvas.line((-450.0, y + off), (450.0, y + off), "then window", {"of": glare})
    canvas.widen(-460.0, 460.0, y - 20.0, y + 20.0)
    return [NamedPoint((450.0, y), tr("window"))]


def _draw_thing(canvas: Canvas, one: _Thing, things: Things, new: bool) -> None:
    """A thing in its place; what is new, or lies anew, has a hatched rim."""
    if one.under is not None:
        canvas.outline(one.under, "then added" if new else "then added there", {"of": "screen.raise"})
    kind = f"then thing {one.name}"
    canvas.outline(one.shape, f"{kind} new" if new else kind, {"of": one.name})
    if new:
        x, y = _middle(one.shape)
        inner = [(x + RIM * (px - x), y + RIM * (py - y)) for px, py in one.shape]
        canvas.outline(inner, "then inner")
    if one.name == "screen":
        laptop = things.screen is not None and things.screen.deck is not None
        # the picture stands along the far side of a laptop, along the near side of a monitor
        start, end = (one.shape[3], one.shape[2]) if laptop else (one.shape[0], one.shape[1])
        canvas.line(start, end, "then picture")
        if laptop:
            canvas.outline(_part(one.shape, 0.1, 0.9, 0.4, 0.9), "then inner")
            canvas.outline(_part(one.shape, 0.36, 0.64, 0.06, 0.34), "then inner")
    elif one.name == "keyboard":
        canvas.outline(_part(one.shape, 0.05, 0.95, 0.15, 0.85), "then inner")
    elif one.name == "paper":
        for share in (0.25, 0.4, 0.55, 0.7):
            left, right = _part(one.shape, 0.2, 0.8, share, share)[:2]
            canvas.line(left, right, "then written")
    elif one.name == "mouse":
        left, right = _part(one.shape, 0.0, 1.0, 0.6, 0.6)[:2]
        canvas.line(left, right, "then written")


def _part(shape: Sequence[XY], left: float, right: float, low: float, high: float) -> tuple[XY, ...]:
    """Part of a four-cornered thing, by shares of its width and depth."""
    (x0, y0), (x1, y1), _, (x3, y3) = shape

    def at(across: float, along: float) -> XY:
        return (
            x0 + across * (x1 - x0) + along * (x3 - x0),
            y0 + across * (y1 - y0) + along * (y3 - y0),
        )

    return at(left, low), at(right, low), at(right, high), at(left, high)


def _carton(shape: Sequence[XY], behind: float, deep: float) -> tuple[XY, ...]:
    """What lifts a screen, turned as that is, from so far behind its far side on [mm]."""
    across, along = math.dist(shape[0], shape[1]), max(math.dist(shape[0], shape[3]), 1.0)
    side = 0.5 * max(CARTON_WIDTH / across - 1.0, 0.0)
    far = 1.0 + behind / along
    return _part(shape, -side, 1.0 + side, far - deep / along, far)


def _draw_arms(
    canvas: Canvas, state: State, task: str, pose: Pose, laid: _Laid, shoulders: tuple[float, float]
) -> None:
    """Both arms, from the shoulders to what each hand works on."""
    wide, forward = shoulders
    long = state.body["forearm_hand_length"]
    for side, hand in _hands(state, task, pose, laid).items():
        shoulder = side * wide, forward
        away = max(math.dist(shoulder, hand), 1.0)
        along = max(away - 0.9 * long, 0.12 * away) / away
        elbow = (
            shoulder[0] + along * (hand[0] - shoulder[0]) + side * 35.0,
            shoulder[1] + along * (hand[1] - shoulder[1]),
        )
        reach = max(math.dist(elbow, hand), 1.0)
        share = max(1.0 - 120.0 / reach, 0.3)
        wrist = elbow[0] + share * (hand[0] - elbow[0]), elbow[1] + share * (hand[1] - elbow[1])
        for kind in ("edge", "skin"):
            canvas.limb(shoulder, 55.0, elbow, 46.0, f"limb {kind}")
            canvas.limb(elbow, 46.0, wrist, 30.0, f"limb {kind}")
            canvas.limb(wrist, 30.0, hand, 24.0, f"limb {kind}", {"of": "hand_seen"})


def _hands(state: State, task: str, pose: Pose, laid: _Laid) -> dict[float, XY]:
    """Where the left and the right hand are: at the pen, the mouse, or on the keys."""
    found = {one.name: one.shape for one in laid.things}
    writes, works = _writing_side(state, task), worked_on(state, task)
    ahead = pose.hand[0] - pose.shoulder_upright[0]
    keys = found.get("keyboard") or (
        found.get("screen") if str(state.values[DEVICES, "keyboard"]) != "separate" else None
    )
    if works == "writing" and writes and "paper" in found:
        (x0, y0), (x1, y1) = (_part(found["paper"], share, share, 0.35, 0.35)[0] for share in (0.5, 0.15))
        other = (x1, y1) if writes > 0.0 else _part(found["paper"], 0.85, 0.85, 0.35, 0.35)[0]
        return {writes: (x0, y0), -writes: other}
    if keys is not None:
        share = 0.5 if "keyboard" in found else 0.6
        on = {-1.0: _part(keys, 0.38, 0.38, share, share)[0], 1.0: _part(keys, 0.62, 0.62, share, share)[0]}
    else:
        on = {-1.0: (-90.0, ahead), 1.0: (90.0, ahead)}
    if "mouse" in found:
        on[_mouse_side(state)] = _part(found["mouse"], 0.5, 0.5, 0.5, 0.5)[0]
    return on


def _draw_person(canvas: Canvas, wide: float, forward: float, eye: float) -> None:
    """Trunk, head and nose from above."""
    for kind in ("edge", "skin"):
        canvas.limb((-wide, forward), 62.0, (wide, forward), 62.0, f"limb {kind}")
    head = eye - 78.0
    turns = [math.radians(angle) for angle in range(0, 360, 30)]
    canvas.outline([(-20.0, eye + 6.0), (0.0, eye + 34.0), (20.0, eye + 6.0)], "limb skin drawn")
    canvas.smooth([(72.0 * math.cos(t), head + 96.0 * math.sin(t)) for t in turns], "hair", {"of": "head"})


# --- what lies where ---------------------------------------------------------------------------------


def _laid(state: State, task: str, pose: Pose, things: Things, lamp: bool, middle: float) -> _Laid:
    """What lies where. What lies in the middle keeps its place, the rest makes room."""
    zero = pose.shoulder_upright[0]
    found = _meant(state, task, pose, things)
    order = ["keyboard", "screen", "paper", "mouse", "lamp"]
    if str(state.values[("task", task), "task.middle"]) == "paper":
        order = ["paper", "keyboard", "screen", "mouse", "lamp"]
    top = _Top(middle, _half_width(state, task), things.desk_front - zero, things.desk_back - zero)
    if lamp:
        away = -(_writing_side(state, task) or _mouse_side(state))
        x, y = middle + away * (top.half - LAMP - 60.0), top.back - LAMP - 60.0
        found["lamp"] = _Meant(_rectangle(x, y, 2.0 * LAMP, 2.0 * LAMP), -away)
    laid: list[_Thing] = []
    no_room, moved = [], []
    for name in (name for name in order if name in found):
        thing = _made_room(name, found[name], laid, top)
        if thing is None:
            # a lamp can stand beside the desk as well
            no_room += [name] if name != "lamp" else []
            continue
        laid.append(thing)
        if name != "lamp" and abs(_middle(thing.shape)[1] - _middle(found[name].shape)[1]) > MOVED:
            moved.append(name)
    return _Laid(middle, tuple(laid), tuple(no_room), tuple(moved))


def _meant(state: State, task: str, pose: Pose, things: Things) -> dict[str, _Meant]:
    """Where the model has each thing."""
    ask = seen_in(state, task)
    zero = pose.shoulder_upright[0]
    eye = pose.eye_upright[0] - zero
    writing = -1.0 if str(state.values[PERSON, "person.writing_hand"]) == "left" else 1.0
    side = -1.0 if str(state.values[("task", task), "paper.side"]) == "left" else 1.0
    found: dict[str, _Meant] = {}
    # What gives the middle to paper goes to the side of the hand that does not write, and lies straight.
    off = -writing if str(state.values[("task", task), "task.middle"]) == "paper" else 0.0
    separate = str(state.values[DEVICES, "keyboard"]) == "separate"
    if things.screen is not None:
        deck = things.screen.deck
        deep = deck[0][0] - deck[1][0] if deck is not None else MONITOR_DEEP
        wide = LAPTOP_WIDTH if deck is not None else MONITOR_WIDTH
        picture = things.screen.low[0] - zero
        angle = float(ask("tool_angle", target="screen"))
        lifted = None
        if things.screen.base > things.desk_height + 1.0:
            front, back = stack_of(things.screen, things)
            back = min(back, things.desk_back)
            behind = things.screen.low[0] + (MONITOR_DEEP if deck is None else 0.0)
            lifted = back - behind, back - front
        if off and not separate:
            shape = _rectangle(off * OTHER_SIDE, picture + 0.5 * deep, wide, abs(deep))
            found["screen"] = _Meant(shape, off, lifted=lifted)
        else:
            turned = _set(0.0, picture - eye, wide, deep, -writing * angle, eye)
            if deck is not None:
                turned = (turned[3], turned[2], turned[1], turned[0])
            found["screen"] = _Meant(turned, -writing if angle else 0.0, lifted=lifted)
    if things.keyboard is not None:
        low, high = (x - zero for x in things.keyboard[:2])
        short = str(state.values[DEVICES, "keyboard.number_pad"]) == "no"
        wide = SHORT_KEYBOARD if short else KEYBOARD_WIDTH
        shape = _rectangle(off * OTHER_SIDE, 0.5 * (low + high), wide, high - low)
        found["keyboard"] = _Meant(shape, off)
    if str(state.values[DEVICES, "mouse"]) == "separate" and things.screen is not None:
        hand = _mouse_side(state)
        x = hand * float(ask("reach_sideways", hand="mouse"))
        y = float(ask("reach_forward", hand="mouse", mode=modes_of(state, task)[0]))
        y = max(y, things.desk_front - zero + 0.5 * MOUSE[1])
        found["mouse"] = _Meant(_rectangle(x, y, *MOUSE), hand)
    if things.paper is not None:
        near, far = things.paper
        aside = side if "paper" in things.beside else 0.0
        deep = max(far[0] - near[0], 0.2 * SHEET)
        x, y = aside * OTHER_SIDE, 0.5 * (near[0] + far[0]) - zero
        shape = _rectangle(x, y, SHEET_WIDTH, deep)
        turned = tuple(
            (px + x, py + y)
            for px, py in _turned(_rectangle(0.0, 0.0, SHEET_WIDTH, deep), aside * SHEET_TURN)
        )
        found["paper"] = _Meant(shape, aside, turned if aside else None)
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


def _made_room(name: str, meant: _Meant, others: Sequence[_Thing], top: _Top) -> _Thing | None:
    """A thing moved outward or inward, away or near, to where it lies on nothing else; None if nowhere."""

    def free(thing: _Thing) -> bool:
        on_desk = all(top.holds(name, shape) for shape in (thing.shape, thing.room))
        return on_desk and not any(_in_the_way(thing, other) for other in others)

    if meant.first is not None and free(first := meant.at(name, meant.first)):
        return first
    outward = meant.outward
    for aside, away in ((outward, 0.0), (-outward, 0.0), (0.0, 1.0), (0.0, -1.0)):
        for number in range(ROOM_STEPS):
            by = number * ROOM_STEP
            moved = meant.at(name, tuple((x + by * aside, y + by * away) for x, y in meant.shape))
            if free(moved):
                return moved
    return None


def _in_the_way(one: _Thing, other: _Thing) -> bool:
    """Whether two things take the same room; what stands high may reach over all but what is read."""
    read = "paper" in (one.name, other.name)
    return _overlap(one.room, other.room) or (read and _overlap(one.shape, other.shape))


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
    ask = seen_in(state, task)
    out = []
    for hand in ("writing", "keys", "mouse"):
        if float(state.values[("task", task), f"hands.{hand}"]) <= 0.0:
            continue
        value = float(ask("reach", hand=hand, mode=modes_of(state, task)[0]))
        out.append(Reached(quantity_words("reach", hand), quantity_text(value, "mm"), value <= limit, value))
    return tuple(out)
