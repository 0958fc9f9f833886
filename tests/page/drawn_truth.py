"""What must be so in any drawing of a workplace, read from its own shapes and the state it draws."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from itertools import combinations
from typing import Any
from xml.etree import ElementTree

from deskmend.planning.score import PLAIN, score
from deskmend.report.drawing.above import above_view
from deskmend.report.drawing.labels import DISC, LETTER
from deskmend.report.drawing.person import looked_at, modes_of, worked_on
from deskmend.report.drawing.side import side_view
from deskmend.workstation.state import DEVICES, State, evaluate

Element = ElementTree.Element
Point = tuple[float, float]
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
NO_ROOM = "No room where it is reckoned: "
WIDE = 0.62
"""Width of a letter as part of its size, in the mean of a bold face [-]."""


def of(root: Element, name: str, kind: str = "") -> list[Element]:
    """Shapes that say what they are of, with a class where one is asked for; none as it is now."""
    return [
        one
        for one in root.iter()
        if one.get("data-of") == name
        and "now" not in (one.get("class") or "").split()
        and (not kind or kind in (one.get("class") or "").split())
    ]


def value(element: Element, name: str) -> float:
    """One coordinate."""
    return float(element.get(name) or "nan")


def points(element: Element) -> list[Point]:
    """Corners of a shape; of a smooth line the points it runs through."""
    if element.tag == "rect":
        x, y, wide, high = (value(element, name) for name in ("x", "y", "width", "height"))
        return [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    if element.tag == "line":
        return [(value(element, "x1"), value(element, "y1")), (value(element, "x2"), value(element, "y2"))]
    if element.tag in ("polygon", "polyline"):
        numbers = [float(one) for one in NUMBER.findall(element.get("points") or "")]
        return list(zip(numbers[::2], numbers[1::2], strict=True))
    numbers = [float(one) for one in NUMBER.findall(element.get("d") or "")]
    pairs_ = list(zip(numbers[::2], numbers[1::2], strict=True))
    return [pairs_[0], *pairs_[3::3]]


def span(element: Element) -> tuple[float, float, float, float]:
    """Left, right, low and high of a shape."""
    found = points(element)
    return (
        min(x for x, _ in found),
        max(x for x, _ in found),
        min(y for _, y in found),
        max(y for _, y in found),
    )


def faults_of_side(before: State, after: State, task: str, mode: str) -> Iterator[str]:
    """What is not true of the side view of a state."""
    view = side_view(before, after, task, mode, score(before, PLAIN), score(after, PLAIN))
    root = ElementTree.fromstring(view.svg)
    ask = evaluate(after, task)
    said = root.get("aria-label") or ""
    for one in view.dimensions:
        if one.drawn and f"{one.words}: {one.then}" not in said:
            yield f"{one.name} is not told"
    told = said.partition(NO_ROOM)[2].rstrip(".").split(", ")
    cramped = {name.replace("screen or laptop", "screen") for name in told if name}
    yield from _faults_of_furniture(root, after, task, mode)
    yield from _faults_of_things(root, after, task, cramped)
    yield from _faults_of_body(root, after, task, mode)
    yield from _faults_of_writing(root)
    (hand,) = of(root, "hand")
    if abs(value(hand, "cy") - float(ask("hand_height", hand=worked_on(after, task)))) > 1e-3:
        yield "the hand is not where it works"


def _field(state: State, task: str, name: str) -> Any:
    return state.values[("place", state.place_of[task]), name]


def _faults_of_furniture(root: Element, state: State, task: str, mode: str) -> Iterator[str]:
    ask = evaluate(state, task)
    (desk,) = of(root, "desk.height", "desk")
    top = float(ask("work_surface"))
    if abs(points(desk)[0][1] - top) > 1e-3:
        yield "the desk has another height"
    posts = [one for one in root.iter("rect") if "post" in (one.get("class") or "").split()]
    if (not posts) != (str(_field(state, task, "desk.legs")) == "lap"):
        yield "a board on the lap has legs, or a desk none"
    for post in posts:
        low, high = span(post)[2:]
        if abs(low) > 1e-3 or abs(high - float(ask("desk_underside"))) > 1e-3:
            yield "a leg of the desk ends in the air"
    if mode == "stand":
        return
    legs = [one for one in root.iter() if "leg" in (one.get("class") or "").split()]
    lows = [value(leg, "cy") - value(leg, "r") if leg.tag == "circle" else span(leg)[2] for leg in legs]
    (seat,) = of(root, "seat.height", "seat")
    if legs and abs(min(lows)) > 1e-3:
        yield "the chair stands over or under the floor"
    if not legs and span(seat)[2] > 1e-3:
        yield "the seat hangs in the air"
    for support in of(root, "feet"):
        low, high = span(support)[2:]
        if abs(high - float(ask("foot_surface"))) > 1e-3:
            yield "what the feet rest on has another height"
        if "bar" not in (support.get("class") or "").split() and abs(low) > 1e-3:
            yield "a footrest hangs in the air"


def _faults_of_things(root: Element, state: State, task: str, cramped: set[str]) -> Iterator[str]:
    ask = evaluate(state, task)
    (desk,) = of(root, "desk.height", "desk")
    front, back = span(desk)[:2]
    top = float(ask("work_surface"))
    raised = top
    for stack in of(root, "screen.raise"):
        left, right, low, high = span(stack)
        raised = high
        if abs(low - top) > 1e-3 or abs(high - top - float(_field(state, task, "screen.raise"))) > 1e-3:
            yield "what lifts the screen has another height, or does not stand on the desk"
        if "screen" not in cramped and (left < front - 1e-3 or right > back + 12.0):
            yield "what lifts the screen hangs over the desk's edge"
    for foot in of(root, "foot"):
        if abs(span(foot)[2] - raised) > 1e-3:
            yield "a monitor's foot stands on nothing"
        for post in of(root, "post"):
            if abs(span(post)[2] - span(foot)[3]) > 1e-3:
                yield "a monitor's post ends beside its foot"
            if span(post)[3] < span(of(root, "case")[0])[2] or span(post)[0] != span(of(root, "case")[0])[1]:
                yield "a monitor hangs before its post"
    for laptop in of(root, "laptop"):
        corners = points(laptop)
        if abs(math.dist(corners[0], corners[1]) - float(state.values[DEVICES, "laptop.depth"])) > 0.01:
            yield "the laptop has another depth"
        if abs(corners[0][1] - raised) > 1e-3:
            yield "the laptop stands on nothing"
        if "screen" not in cramped and (corners[0][0] < front - 1e-3 or corners[1][0] > back + 1e-3):
            yield "the laptop hangs over the desk's edge"
        for stack in of(root, "screen.raise"):
            middle = 0.5 * (corners[0][0] + corners[1][0])
            if not span(stack)[0] - 1e-3 <= middle <= span(stack)[1] + 1e-3:
                yield "the laptop falls off what lifts it"
    for keyboard in of(root, "keyboard"):
        left, right, low, _ = span(keyboard)
        if abs(low - top + float(_field(state, task, "keyboard.drop"))) > 1e-3:
            yield "the keyboard stands on nothing"
        if "keyboard" not in cramped and (left < front - 1e-3 or right > back + 1e-3):
            yield "the keyboard hangs over the desk's edge"
    for paper in of(root, "paper"):
        left, right, low, _ = span(paper)
        if "paper" not in cramped and (left < front - 30.001 or right > back + 30.001):
            yield "the sheet hangs over the desk's edge"
        if low < top - 1.0:
            yield "the sheet lies in the desk"
    yield from _faults_in_line(root, state, task, cramped, top)


def _faults_in_line(root: Element, state: State, task: str, cramped: set[str], top: float) -> Iterator[str]:
    """Of things one behind the other each has its own room, or it is said that it has not."""
    middle = str(state.values[("task", task), "task.middle"])
    own_keys = not of(root, "keyboard")
    ahead: dict[str, tuple[float, float]] = {}
    for name in ("keyboard", "paper"):
        for one in of(root, name):
            ahead[name] = span(one)[:2]
    for laptop in of(root, "laptop"):
        lifted = span(laptop)[2] - top >= 60.0
        ahead["screen"] = span(of(root, "screen.raise")[0])[:2] if lifted else span(laptop)[:2]
    if middle == "screen":
        ahead.pop("paper", None)
    elif middle == "paper":
        ahead.pop("screen" if own_keys else "keyboard", None)
    for (one, first), (other, second) in combinations(ahead.items(), 2):
        meets = first[0] < second[1] - 1e-3 and second[0] < first[1] - 1e-3
        if "screen" in (one, other) and meets:
            # the carton itself may reach further back than the screen
            meets = min(first[0], second[0]) + 1e-3 < max(first[0], second[0]) or first[0] == second[0]
        if meets and not {one, other} <= cramped:
            yield f"{one} and {other} stand in each other"


def _faults_of_body(root: Element, state: State, task: str, mode: str) -> Iterator[str]:
    ask = evaluate(state, task)
    lean = float(ask("trunk_inclination", mode=mode, target=looked_at(state, task)))
    (eye,) = of(root, "eye", "eye")
    if lean <= 0.0 and abs(value(eye, "cy") - float(ask("eye_height", mode=mode))) > 1e-3:
        yield "the eye has another height"
    trunk = points(of(root, "trunk", "skin")[0])
    if (
        value(eye, "cx") < max(x for x, y in trunk if y > max(y for _, y in trunk) - 60.0) - 60.0
        and lean <= 0
    ):
        yield "the eye lies behind the neck"
    chin = min(points(of(root, "head")[0]), key=lambda one: one[1])
    # A few drawn bodies have measures that hardly any body has, with the eye at the shoulder: 160 mm are some
    # three standard deviations under what is estimated (judgement).
    neck = float(ask("eye_height", mode=mode)) - float(ask("elbow_height", mode=mode))
    if _inside(chin, trunk) and neck - state.body["shoulder_elbow_length"] > 160.0:
        yield "the chin is in the chest"
    sole = span(of(root, "sole", "shoe")[0])[2]
    if mode == "stand":
        if abs(sole) > 1.0:
            yield "who stands does not stand on the floor"
    else:
        gap = max(float(ask("leg_gap")), 0.0)
        if abs(sole - float(ask("foot_surface")) - gap) > 1.0:
            yield "the soles are not where they rest or hang"
        if abs(min(y for _, y in trunk) - float(ask("seat_top"))) > 8.0:
            yield "the trunk does not sit on the seat"
        if lean <= 0.0:
            yield from _faults_of_back(root, state, task, trunk)
    yield from _faults_of_arm(root, state, task, mode)


def _faults_of_back(root: Element, state: State, task: str, trunk: list[Point]) -> Iterator[str]:
    """Who sits upright has the back at the backrest, or at the roll that lies before it."""
    rests = of(root, "rest")
    if not rests:
        return
    (x1, y1), (x2, y2) = points(rests[0])[:2]
    long = math.dist((x1, y1), (x2, y2))

    def before(point: Point) -> float:
        return ((point[0] - x1) * (y2 - y1) - (point[1] - y1) * (x2 - x1)) / long

    nearest = min(before(one) for one in trunk)
    taken = float(_field(state, task, "back.depth_taken")) * math.cos(math.atan2(x1 - x2, y2 - y1))
    if abs(nearest - taken) > 3.0:
        yield f"the back is {nearest - taken:.0f} mm off what it leans on"
    for roll in of(root, "back.depth_taken"):
        middle, radius = (value(roll, "cx"), value(roll, "cy")), value(roll, "r")
        if abs(before(middle) - radius) > 0.1 or abs(2.0 * radius - taken) > 0.1:
            yield "the roll does not lie at the backrest"


def _faults_of_arm(root: Element, state: State, task: str, mode: str) -> Iterator[str]:
    """The forearm runs over the edge of the desk; at rest it lies on it.

    Where only one of its sides crosses the edge, as of who leans in until the elbow is over the hand, a round
    end is over it, which nothing here reads.
    """
    ask = evaluate(state, task)
    arm = of(root, "forearm", "skin")[0]
    (desk,) = of(root, "desk.height", "desk")
    edge, top = points(desk)[0]
    numbers = [float(one) for one in NUMBER.findall(arm.get("d") or "")]
    if len(numbers) < 16:
        return
    first, second = (numbers[0:2], numbers[2:4]), (numbers[9:11], numbers[11:13])
    lows = []
    for (xa, ya), (xb, yb) in (first, second):
        if min(xa, xb) < edge < max(xa, xb):
            lows.append(ya + (edge - xa) / (xb - xa) * (yb - ya))
    if len(lows) < 2:
        return
    under = min(lows)
    if under < top - 4.0:
        yield f"the forearm goes {top - under:.0f} mm through the desk"
    rests = str(_field(state, task, "arms.supported")) == "yes"
    if rests and float(ask("desk_gap", mode=mode)) > -30.0 and under > top + 6.0:
        yield f"the forearm that rests is {under - top:.0f} mm over the desk's edge"


def _inside(point: Point, shape: list[Point]) -> bool:
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zip(shape, [*shape[1:], shape[0]], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1):
            inside = not inside
    return inside


def _faults_of_writing(root: Element) -> Iterator[str]:
    """No writing on other writing or on a disc that is not its own, and all within the picture."""
    left, top, wide, high = (float(one) for one in (root.get("viewBox") or "").split())
    boxes = []
    for one in root.iter("text"):
        kind = (one.get("class") or "").split()
        long = WIDE * LETTER * len(one.text or "")
        x, y = value(one, "x"), -value(one, "y")
        start = {"start": x, "middle": x - 0.5 * long, "end": x - long}[one.get("text-anchor") or "start"]
        box = start, start + long, y - 0.1 * LETTER, y + 0.7 * LETTER
        if "number" in kind:
            box = x - DISC, x + DISC, y + 0.34 * LETTER - DISC, y + 0.34 * LETTER + DISC
        boxes.append((box, one.text))
    for (box, text), (other, on) in combinations(boxes, 2):
        if box[0] < other[1] and other[0] < box[1] and box[2] < other[3] and other[2] < box[3]:
            yield f"{text!r} is written over {on!r}"
    for box, text in boxes:
        inside = left <= box[0] and box[1] <= left + wide and top <= -box[3] and -box[2] <= top + high
        if not inside:
            yield f"{text!r} leaves the picture"


def faults_of_above(before: State, after: State, task: str) -> Iterator[str]:
    """What is not true of the view from above of a state."""
    view = above_view(before, after, task)
    root = ElementTree.fromstring(view.svg)
    (desk,) = of(root, "desk")
    left, right, front, back = span(desk)
    things = {
        str(one.get("data-of")): one
        for one in root.iter("polygon")
        if "then" in _kinds(one) and "thing" in _kinds(one)
    }
    for name, one in things.items():
        x1, x2, y1, y2 = span(one)
        spare = 30.001 if name == "paper" else 1e-3
        if x1 < left - 1e-3 or x2 > right + 1e-3 or y1 < front - spare or y2 > back + spare:
            yield f"{name} hangs over the desk's edge"
    said = f"{root.get('aria-label')} {view.things}"
    words = {"screen": {"screen", "laptop"}} | {
        name: {name} for name in ("keyboard", "mouse", "paper", "lamp")
    }
    for name, one in things.items():
        x = 0.5 * (span(one)[0] + span(one)[1])
        place = "In the middle: " if abs(x) < 60.0 else "On the left: " if x < 0.0 else "On the right: "
        if not words[name] & set(said.partition(place)[2].partition(".")[0].split(", ")):
            yield f"{name} is not told where it lies"
    for side in ("ahead", "behind"):
        windows = of(root, f"window_{side}")
        if len(windows) != 2 * (f"The window {side} dazzles." in said):
            yield "a window is drawn and not told, or told and not drawn"
        if windows and (span(windows[0])[2] < back) == (side == "ahead"):
            yield "the window stands on the other side"
    room = dict(things)
    for carton in of(root, "screen.raise"):
        room["screen"] = carton
    for (one, first), (other, second) in combinations(room.items(), 2):
        if _overlap(points(first), points(second)):
            yield f"{one} and {other} lie on each other"
    said_lacking = said.partition("no room beside the rest for: ")[2].split(".")[0].split(", ")
    lacking = {name.replace("screen or laptop", "screen") for name in said_lacking if name}
    if set(things) != _there(after, task) - lacking:
        yield f"drawn are {sorted(things)}, without room {sorted(lacking)}"
    if "screen" in things and str(after.values[("task", task), "task.screen"]) == "laptop":
        corners = points(things["screen"])
        sides = sorted((math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])))
        if (
            abs(
                sides[0]
                - float(after.values[DEVICES, "laptop.depth"])
                * math.cos(math.radians(float(_field(after, task, "laptop.incline"))))
            )
            > 0.01
        ):
            yield "the laptop has another depth"
    if len(of(root, "hand_seen", "skin")) != 2:
        yield "there are not two hands"
    yield from _faults_of_writing(root)


def _there(state: State, task: str) -> set[str]:
    """What lies on the desk for a task."""
    at: Any = ("task", task)
    screen = str(state.values[at, "task.screen"]) != "none"
    shown = screen and float(state.values[at, "look.screen"]) > 0.0
    return {
        *(["screen"] if shown else []),
        *(["keyboard"] if screen and str(state.values[DEVICES, "keyboard"]) == "separate" else []),
        *(["mouse"] if shown and str(state.values[DEVICES, "mouse"]) == "separate" else []),
        *(["paper"] if float(state.values[at, "look.paper"]) > 0.0 else []),
    }


def _kinds(element: Element) -> list[str]:
    return (element.get("class") or "").split()


def _overlap(one: list[Point], other: list[Point]) -> bool:
    for shape in (one, other):
        for (x1, y1), (x2, y2) in zip(shape, [*shape[1:], shape[0]], strict=True):
            long = math.dist((x1, y1), (x2, y2))
            ax, ay = (y1 - y2) / long, (x2 - x1) / long
            first, second = ([ax * x + ay * y for x, y in corners] for corners in (one, other))
            if max(first) <= min(second) + 0.01 or max(second) <= min(first) + 0.01:
                return False
    return True


def faults(before: State, after: State) -> list[str]:
    """All that is not true of the drawings of a state, with task and view."""
    out = []
    for task in after.tasks:
        for mode in modes_of(after, task):
            out += [f"{task}, {mode}: {one}" for one in faults_of_side(before, after, task, mode)]
        out += [f"{task}, above: {one}" for one in faults_of_above(before, after, task)]
    return out
