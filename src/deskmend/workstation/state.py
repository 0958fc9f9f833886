"""The state of a workstation: every field of person, devices, places and tasks, frozen.

A state starts from a case. What the case leaves out gets a stated assumption,
and the state remembers which values are assumed, so that a report can say so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

from deskmend.intake.case import (
    Case,
    FurtherScreen,
    Laptop,
    Lumbar,
    OtherSeat,
    Person,
    Place,
    Seat,
    Task,
)
from deskmend.intake.reading.fields import UNKNOWN
from deskmend.intake.reading.records import is_guess
from deskmend.workstation import arms, distances, gaze, posture
from deskmend.workstation.body import Body, estimate_body
from deskmend.workstation.fields import FIELDS, KEPT_UP, LAPSED, SYMBOLS, Level, Value
from deskmend.workstation.graph import QUANTITIES, Array, Evaluation

__all__ = [
    "DEVICES",
    "ENOUGH",
    "PERSON",
    "LikeStates",
    "Owner",
    "Slot",
    "State",
    "evaluate",
    "owner_of",
    "seat_values",
    "second_screen",
    "state_of",
]

MODEL = (posture, distances, gaze, arms)
"""Modules whose functions make up the model; importing them registers their quantities."""

Owner = tuple[Level, str]
"""Level and id, as ('place', 'kitchen')."""
Slot = tuple[Owner, str]
"""An owner and a field name."""

PERSON: Owner = ("person", "")
DEVICES: Owner = ("device", "")

SLOPES = {"flat": 0.0, "back": 3.0, "forward": -3.0}
"""Degrees for a slope told in words [deg] (judgement)."""
PRESSURE = {"hard": 1.0, "thin_pad": 0.6, "foam": 0.3}
"""Hardness of a seat's surface [-] (judgement; foam takes 37 to 42 % off the mean pressure, published)."""
SURFACE_OF_MATERIAL = {"upholstered": "foam", "woven": "thin_pad"}
"""Surface of a seat of which only the material is told; others are hard (judgement)."""
DEFAULT_SHOES = 25.0
"""Shoe thickness where none is told [mm] (published allowance)."""
FRONT_EDGE = 25.0
"""Thickness of a desk top at its front edge where none is told [mm] (judgement)."""
TOP_THICKNESS = 30.0
"""Desk top and frame over the thighs where the underside is not measured [mm] (judgement)."""
LUMBAR_DEPTH = 30.0
"""Bulge of a shaped back where none is told [mm] (judgement; guidance has 15 to 50, from memory)."""
LUMBAR_HEIGHT = (150.0, 250.0)
"""Heights above the seat at which a bulge carries the small of the back [mm] (ansi_hfes_100, from memory)."""
IN_THE_PICTURE = 0.15
"""Part of a picture's height from which on keys lie in it, not under it [-] (judgement; the home row of keys
on the glass of a tablet is a quarter to a third up)."""
LOWEST_LID = 100.0
"""Height from lower to upper edge of the picture of a small laptop leant far back [mm] (judgement)."""
LAPTOP_DEPTH = 240.0
KEYBOARD_HEIGHT = 20.0
SECOND_HEIGHT = {"laptop": 190.0, "monitor": 300.0, "tablet": 160.0, "other": 250.0}
"""Height of a further screen's picture where none is told [mm] (judgement)."""
SECOND_SHARE = 0.27
"""Part of the time at screens for a further one where none is told [-] (derived).

Two screens turn the head by 9.0 degrees in the mean over time (nimbarte_2013), and by 33.5 while the second
is looked at (vr_two_screens_2023)."""
MONITOR_DISTANCE = 650.0
"""Eye to a monitor where not measured, body at the desk and nothing between [mm] (judgement)."""
ENOUGH = 2000.0
"""Depth and width for the legs where nobody told that there is less [mm]."""
MOUSE_OFFSET = 300.0
MOUSE_OFFSET_BY_PAD = {"pad_side": 420.0, "other_side": 260.0}
"""Middle of the body to the mouse [mm], past a number pad or on its free side (judgement)."""
SCORE_INPUTS: dict[str, Value] = {
    "scores.wrist_twist": 1.0,
    "scores.force": 0.0,
    "scores.repeats_per_minute": 0.0,
    "scores.wrist_deviated": "no",
    "scores.neck_bent": "no",
    "scores.trunk_bent": "no",
    "scores.armrest_hard": "no",
    "scores.armrest_wide": "no",
    "scores.seat_depth_adjustable": "no",
    "scores.back_adjustable": "no",
    "scores.mouse_small": "no",
    "scores.palm_rest": "no",
    "scores.reach_overhead": "no",
    "scores.phone_reach": 300.0,
    "scores.hands_free": "yes",
}
"""What published scores take for granted where the case does not tell (judgement)."""
BAR_OUT_OF_THE_WAY = 150.0
"""Setback from the front edge from which a foot bar leaves the floor free for the feet [mm] (judgement)."""
DEFAULT_SPELL = 60.0
"""Unbroken spell where none is told [min] (judgement)."""
# Looked up once, since states of many people are made.
_NUMBERS = frozenset(name for name, known in FIELDS.items() if known.is_number)
_BODY = tuple((name, name.removeprefix("body.")) for name in FIELDS if name.startswith("body."))
_SCORES = tuple((name, name.removeprefix("scores."), value) for name, value in SCORE_INPUTS.items())


@dataclass(frozen=True)
class State:
    """Values of all fields.

    Attributes
    ----------
    values : mapping
        Value by owner and field.
    place_of : mapping of str to str
        Place of each task.
    body : Body
        The person's dimensions, with what is estimated.
    assumed : frozenset
        Slots that the case left out, or gives as an estimate.
    guessed : frozenset
        Those of them that it gives as an estimate.
    """

    values: Mapping[Slot, Value]
    place_of: Mapping[str, str]
    body: Body
    assumed: frozenset[Slot] = field(default_factory=frozenset)
    guessed: frozenset[Slot] = field(default_factory=frozenset)

    @cached_property
    def _hash(self) -> int:
        return hash((tuple(self.values.items()), tuple(self.place_of.items())))

    def __hash__(self) -> int:
        """Equal states have equal values, so that what is worked out for one need not be again."""
        return self._hash

    @cached_property
    def places(self) -> tuple[str, ...]:
        """Ids of all places, in the order of the case."""
        return tuple(dict.fromkeys(owner[1] for owner, _ in self.values if owner[0] == "place"))

    @property
    def tasks(self) -> tuple[str, ...]:
        """Ids of all tasks, in the order of the case."""
        return tuple(self.place_of)

    def owners(self, level: Level) -> tuple[Owner, ...]:
        """Who has the fields of a level: the person, the devices, every place or every task."""
        if level == "place":
            return tuple(("place", one) for one in self.places)
        if level == "task":
            return tuple(("task", one) for one in self.tasks)
        return (owner_of(level, "", ""),)

    def with_values(self, values: Mapping[Slot, Value], place_of: Mapping[str, str] | None = None) -> State:
        """State with some values replaced."""
        merged = MappingProxyType({**self.values, **values})
        return replace(self, values=merged, place_of=self.place_of if place_of is None else dict(place_of))


def owner_of(level: Level, task: str, place: str) -> Owner:
    """Owner of fields of a level, for a task done at a place."""
    return {"person": PERSON, "device": DEVICES, "place": ("place", place), "task": ("task", task)}[level]


def evaluate(
    state: State, task: str, place: str | None = None, moved: Mapping[str, Array] | None = None
) -> Evaluation[Any]:
    """Quantities of one task, at its own place or another.

    Parameters
    ----------
    state : State
        The workstation.
    task : str
        Id of the task; empty for what depends on the place alone.
    place : str, optional
        Id of the place; the task's own if left out.
    moved : mapping of str to ndarray, optional
        What stands in for fields, by their symbols; arrays of one length.

    Returns
    -------
    Evaluation
        Gives numpy scalars and words, and arrays of what hangs on those moved.
    """
    at = state.place_of[task] if place is None else place

    def leaf(symbol: str) -> Any:
        if moved is not None and symbol in moved:
            return moved[symbol]
        known = SYMBOLS[symbol]
        value = state.values[owner_of(known.level, task, at), known.name]
        return np.float64(value) if known.is_number else np.str_(value)

    return Evaluation(
        QUANTITIES,
        leaf,
        lambda _key, function, arguments: function(*arguments),
        np.float64,
        lambda value: bool(np.all(value == 0)),
    )


class _Draft:
    """Gathers values, and marks those that had to be assumed."""

    def __init__(self) -> None:
        self.values: dict[Slot, Value] = {}
        self.assumed: set[Slot] = set()
        self.guessed: set[Slot] = set()

    def put(self, owner: Owner, name: str, given: Value | None, otherwise: Value) -> Value:
        value = given
        if value is None or (value == UNKNOWN and otherwise != UNKNOWN):
            value = otherwise
            self.assumed.add((owner, name))
        elif is_guess(given):
            self.guess(owner, name)
        self.values[owner, name] = float(value) if name in _NUMBERS else str(value)
        return value

    def guess(self, owner: Owner, name: str) -> None:
        """Mark what the case gives as an estimate."""
        self.guessed.add((owner, name))
        self.assumed.add((owner, name))


def _seat(draft: _Draft, seat: Seat, at: Owner) -> None:
    """Fields that a seat brings along."""
    slope = seat.slope if isinstance(seat.slope, float) else SLOPES.get(seat.slope)
    surface = None if seat.surface == UNKNOWN else seat.surface
    bare = SURFACE_OF_MATERIAL.get(seat.material, "hard")
    shaped = "shaped" if seat.lumbar is not None else seat.back
    draft.put(at, "seat.height", seat.height, 0.0)
    draft.put(at, "seat.depth", seat.depth, 420.0)
    draft.put(at, "seat.slope", slope, 0.0)
    draft.put(at, "seat.surface", surface, bare)
    draft.put(at, "seat.pressure", PRESSURE.get(surface or ""), PRESSURE[bare])
    draft.put(at, "seat.back", shaped, UNKNOWN)
    bulge = LUMBAR_DEPTH if shaped == "shaped" else 0.0
    draft.put(at, "seat.lumbar_depth", None if seat.lumbar is None else _lumbar_depth(seat.lumbar), bulge)
    draft.put(at, "seat.recline", seat.recline, 5.0)
    draft.put(at, "seat.armrests", seat.armrests, UNKNOWN)
    draft.put(at, "seat.armrest_height", seat.armrest_height, float("nan"))
    can_be_set = seat.adjustable if seat.height_range is None else True
    draft.put(at, "seat.adjustable", None if can_be_set is None else _yes_no(can_be_set), "no")
    draft.put(at, "seat.base", seat.base, UNKNOWN)
    draft.put(at, "seat.material", seat.material, UNKNOWN)
    draft.put(at, "seat.foot_ring", seat.foot_ring or 0.0, 0.0)


def seat_values(seat: Seat) -> dict[str, Value]:
    """Fields that a seat brings along.

    Parameters
    ----------
    seat : Seat
        A place's own seat or another at hand.

    Returns
    -------
    dict
        Value by field name.
    """
    draft = _Draft()
    _seat(draft, seat, PERSON)
    return {name: value for (_, name), value in draft.values.items()}


def _lumbar_depth(lumbar: Lumbar) -> float:
    """Bulge that counts: one that lies too low or too high carries nothing."""
    low, high = LUMBAR_HEIGHT
    return lumbar.depth if low <= lumbar.height <= high else 0.0


def _yes_no(told: bool) -> str:
    return "yes" if told else "no"


def _told(told: bool | None) -> str:
    return UNKNOWN if told is None else _yes_no(told)


_NO_SEAT = OtherSeat(id="none", height=450.0, depth=420.0, surface="hard", back="none")


def _lapse(draft: _Draft, at: Owner, *names: str) -> None:
    """Days when no habit is kept are like all others as long as there is none."""
    for name in names:
        draft.values[at, LAPSED[name]] = draft.values[at, name]


def _place(draft: _Draft, place: Place, tasks: Sequence[Task]) -> None:
    at: Owner = ("place", place.id)
    here = [t.spell or DEFAULT_SPELL for t in tasks if t.place == place.id]
    longest = min(sum(here or [t.spell or DEFAULT_SPELL for t in tasks]), 900.0)
    posture = place.posture if place.posture != UNKNOWN else None
    if place.seat is None and posture is None:
        posture = "stand"
    draft.put(at, "place.kind", place.kind, UNKNOWN)
    draft.put(at, "stand_share", {"sit": 0.0, "both": 0.5, "stand": 1.0}.get(posture or ""), 0.0)
    draft.put(at, "sitting_spell", place.sitting_spell, longest)
    draft.values[at, KEPT_UP] = 1.0
    _lapse(draft, at, "stand_share", "sitting_spell")


def _around(draft: _Draft, place: Place) -> None:
    """Fields of a place but for its seat and its hours."""
    at: Owner = ("place", place.id)
    for name, value in (
        ("seat.pad", 0.0),
        ("seat.loose", "no"),
        ("seat.held", "no"),
        ("back.roll", 0.0),
        ("back.tied", "no"),
        ("back.depth_taken", 0.0),
        ("desk.tilt", 0.0),
        ("keyboard.drop", 0.0),
        ("desk.lap_lost", 0.0),
        ("lap.rise", float("nan")),
        ("arms.supported", "no"),
        ("screen.raise", 0.0),
        ("second.raise", 0.0),
        ("laptop.incline", 0.0),
    ):
        draft.put(at, name, value, value)
    desk = place.desk
    bar = desk.foot_bar or 0.0
    on: str | None
    if isinstance(place.feet_on, str):
        on = place.feet_on if place.feet_on != UNKNOWN else None
        height = bar if on == "foot_bar" else 0.0
    else:
        on, height = "other", place.feet_on
    draft.put(at, "feet.on", on, "floor")
    draft.put(at, "feet.height", height, 0.0)
    draft.put(at, "feet.rest", "no" if on == "nothing" else "yes", "yes")
    draft.put(at, "desk.height", desk.height, 0.0)
    frame = desk.height - desk.underside if desk.underside is not None else None
    draft.put(at, "desk.frame", frame, TOP_THICKNESS)
    if frame is not None and (is_guess(desk.height) or is_guess(desk.underside)):
        draft.guess(at, "desk.frame")
    thickness = FRONT_EDGE if frame is None else min(FRONT_EDGE, frame)
    draft.put(at, "desk.top_thickness", desk.top_thickness, thickness)
    draft.put(at, "desk.depth", desk.depth, 600.0)
    draft.put(at, "desk.width", desk.width, 1000.0)
    draft.put(at, "desk.edge", desk.edge, UNKNOWN)
    draft.put(at, "desk.top", desk.top, UNKNOWN)
    draft.put(at, "desk.legs", desk.legs, UNKNOWN)
    can_be_set = desk.height_range is not None or desk.legs == "height_adjustable"
    draft.put(at, "desk.adjustable", "yes" if can_be_set else None if desk.legs == UNKNOWN else "no", "no")
    draft.put(at, "desk.foot_bar", bar, 0.0)
    near = desk.foot_bar is not None and (desk.foot_bar_setback or BAR_OUT_OF_THE_WAY) < BAR_OUT_OF_THE_WAY
    draft.put(at, "desk.bar_blocks", "yes" if near else "no", "no")
    draft.put(at, "desk.leg_depth", desk.leg_depth, ENOUGH)
    draft.put(at, "desk.leg_width", desk.leg_width, ENOUGH)
    draft.put(at, "light.lux", place.light.lux, float("nan"))
    draft.put(at, "light.glare", place.light.glare, UNKNOWN)


def _laptop_kind(laptop: Laptop | None) -> str:
    """A tablet is typed on in its picture, or lies so low that no lid of a laptop would."""
    if laptop is None:
        return "none"
    lower_edge = laptop.screen_top - laptop.screen_height
    typed_on = laptop.keys - lower_edge >= IN_THE_PICTURE * laptop.screen_height
    return "tablet" if typed_on or laptop.screen_height < LOWEST_LID else "laptop"


def second_screen(case: Case) -> FurtherScreen | Literal["laptop"] | None:
    """Screen beside the first that the model counts: one in all.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    FurtherScreen, 'laptop' or None
        The laptop where a task looks at it beside the monitor; else the further
        screen looked at most, the first of those alike.
    """
    if any({task.main, task.reference} >= {"laptop", "monitor"} for task in case.tasks):
        return "laptop"
    return max(case.screens, key=_share_of_screen, default=None)


def _share_of_screen(screen: FurtherScreen) -> float:
    return SECOND_SHARE if screen.share is None else screen.share


def _second_share(case: Case, task: Task) -> float:
    """Part of a task's time at screens for a further screen."""
    second = second_screen(case)
    if second is None or second == "laptop" or (second.tasks and task.id not in second.tasks):
        return 0.0
    return _share_of_screen(second)


def _screens(draft: _Draft, case: Case) -> None:
    """Where the screens stand."""
    laptop, monitor = case.devices.laptop, case.devices.monitor
    laptop_ahead = any(
        task.middle == "laptop" and "monitor" in (task.main, task.reference) for task in case.tasks
    )
    second = second_screen(case)
    draft.put(DEVICES, "laptop.angle", laptop.angle if laptop and second != "laptop" else None, 0.0)
    beside = distances.SECOND_ASIDE if laptop_ahead else 0.0
    draft.put(DEVICES, "monitor.angle", monitor.angle if monitor else None, beside)
    nothing = float("nan")
    top: float | None = None
    height, angle, distance = top, top, top
    kind, usual, aside = "none", nothing, distances.SECOND_ASIDE
    if second == "laptop" and laptop is not None:
        kind, usual, aside = "laptop", nothing, 0.0 if laptop_ahead else aside
        top, height = laptop.screen_top, laptop.screen_height
        angle, distance = laptop.angle, laptop.distance
    elif isinstance(second, FurtherScreen):
        kind, usual = second.kind, SECOND_HEIGHT[second.kind]
        top, height, angle, distance = second.top, second.height, second.angle, second.distance
    draft.put(DEVICES, "second.kind", kind, kind)
    draft.put(DEVICES, "second.top", top, nothing)
    draft.put(DEVICES, "second.height", height, usual if top is None else min(usual, top))
    draft.put(DEVICES, "second.angle", angle, aside)
    draft.put(DEVICES, "second.distance", distance, nothing)
    draft.put(DEVICES, "second.used", "yes", "yes")


def _shares(task: Task, further: float) -> tuple[dict[str, float], bool]:
    """Looking and hand shares of a task, and whether the hand shares are assumed.

    `further` is the part of its time at screens that a further screen takes.
    """
    reference = task.reference_share if task.reference_share is not None else 0.3
    other = reference if task.reference != "none" else 0.0
    look = {"laptop": 0.0, "monitor": 0.0, "paper": 0.0}
    look[task.main] += 1.0 - other
    if task.reference != "none":
        look[task.reference] += other
    both = look["laptop"] > 0 and look["monitor"] > 0
    screen = look["monitor"] if both else look["laptop"] + look["monitor"]
    out = {
        "look.screen": screen if both else (1.0 - further) * screen,
        "look.second": look["laptop"] if both else further * screen,
        "look.paper": look["paper"],
    }
    at_screen = out["look.screen"] + out["look.second"]
    writing = task.writing is not False and look["paper"] > 0 and task.writing is not None
    guess = {
        "hands.keys": 0.6 * at_screen,
        "hands.mouse": 0.25 * at_screen,
        "hands.writing": 0.6 * look["paper"] if writing else 0.0,
    }
    hands = task.hands
    if hands is None:
        return out | guess, True
    given = {"keys": hands.keys, "mouse": hands.mouse, "writing": hands.writing}
    out |= {f"hands.{name}": 0.0 if share is None else share for name, share in given.items()}
    return out, False


WORK_DAYS = 5.0
"""Working days a week where nobody tells [1/week] (judgement)."""


def _mean_hours(case: Case, task: Task) -> float:
    """Hours a working day in the mean over the week; strain counts hours alike on whichever day [h]."""
    week = case.person.work_days or max(WORK_DAYS, *(one.days or 0.0 for one in case.tasks))
    return float(task.hours) if task.days is None else float(task.hours) * task.days / week


def _task(draft: _Draft, case: Case, task: Task) -> None:
    at: Owner = ("task", task.id)
    shares, guessed = _shares(task, _second_share(case, task))
    for name, share in shares.items():
        draft.put(at, name, share, share)
        if guessed and name.startswith("hands."):
            draft.assumed.add((at, name))
    uses = {task.main, task.reference}
    screen = "monitor" if "monitor" in uses else "laptop" if "laptop" in uses else "none"
    draft.put(at, "task.hours", _mean_hours(case, task), 0.0)
    draft.put(at, "task.spell", task.spell, DEFAULT_SPELL)
    _lapse(draft, at, "task.spell")
    draft.put(at, "task.screen", screen, screen)
    has_paper = "paper" in uses
    in_line = task.paper.at in ("front", "behind")
    if not has_paper:
        middle = "screen"
    elif task.middle != UNKNOWN:
        middle = "paper" if task.middle == "paper" else "screen"
    elif task.main == "paper":
        middle = "paper"
    else:
        middle = "both" if in_line else "screen"
    known = not has_paper or task.middle != UNKNOWN or task.paper.at != UNKNOWN
    draft.put(at, "task.middle", middle if known else None, middle)
    distance = MONITOR_DISTANCE if screen == "monitor" else distances.USUAL_LAPTOP
    draft.put(at, "task.viewing_distance", task.viewing_distance, distance)
    draft.put(at, "task.screen_set", "no", "no")
    draft.put(at, "task.phone_share", task.phone_share, 0.0)
    side = task.paper.at if task.paper.at in ("left", "right") else None
    draft.put(at, "paper.side", side, _usual_side(case, task))
    draft.put(at, "paper.distance", task.paper.distance, posture.PAPER_FROM_EDGE)
    draft.put(at, "paper.slope", task.paper.slope, 0.0)
    draft.put(at, "paper.base", 0.0, 0.0)
    draft.put(at, "text.scale", 1.0, 1.0)
    for name, short, otherwise in _SCORES:
        told = getattr(task.scores, short)
        draft.put(at, name, _yes_no(told) if isinstance(told, bool) else told, otherwise)


def _usual_side(case: Case, task: Task) -> str:
    """Side on which paper is taken to lie where nobody tells: the writing hand's, else off the mouse."""
    if task.writing and case.person.writing_hand != UNKNOWN:
        return case.person.writing_hand
    return "right" if case.person.mouse_hand == "left" else "left"


def state_of(case: Case) -> State:
    """State as the case describes it, nothing fixed yet.

    Parameters
    ----------
    case : Case
        A checked case.

    Returns
    -------
    State
        Every field of every owner has a value; assumed ones are marked.
    """
    return LikeStates().of(case)


class LikeStates:
    """States of cases that differ in little: what follows from records that two share is made once."""

    def __init__(self) -> None:
        self._bodies: dict[int, tuple[object, Body]] = {}
        self._drafts: dict[tuple[int, ...], tuple[tuple[object, ...], _Draft]] = {}

    def of(self, case: Case) -> State:
        """State of a case, as `state_of` gives it."""
        body = self._body(case.person)
        values: dict[Slot, Value] = {}
        assumed, guessed = set[Slot](), set[Slot]()
        for number, (records, fill) in enumerate(_parts(case, body)):
            key = (number, *map(id, records))
            if key not in self._drafts:
                made = _Draft()
                fill(made)
                # The records are kept, so that their ids stay theirs.
                self._drafts[key] = records, made
            draft = self._drafts[key][1]
            values |= draft.values
            assumed |= draft.assumed
            guessed |= draft.guessed
        place_of = {task.id: task.place for task in case.tasks}
        state = State(MappingProxyType(values), place_of, body, frozenset(assumed), frozenset(guessed))
        measured = {slot: at for task in case.tasks for slot, at in _as_measured(state, task)}
        return state.with_values(measured) if measured else state

    def _body(self, person: Person) -> Body:
        if id(person) not in self._bodies:
            body = estimate_body(person.likely_stature, person.sex, dict(person.body), person.age)
            self._bodies[id(person)] = person, body
        return self._bodies[id(person)][1]


def _parts(case: Case, body: Body) -> Iterator[tuple[tuple[object, ...], Callable[[_Draft], None]]]:
    """What fills the fields, part by part, each with all records that it looks at."""
    person, devices, tasks, screens = case.person, case.devices, case.tasks, case.screens
    yield (person, case.room), partial(_person, case=case, body=body)
    yield (devices, tasks, screens, person.mouse_hand), partial(_devices, case=case)
    for place in case.places:
        at: Owner = ("place", place.id)
        sits = place.seat is not None
        told = (at[1], place.kind, place.posture, sits, place.sitting_spell, tasks)
        yield told, partial(_place, place=place, tasks=tasks)
        yield (at[1], place.seat), partial(_seat, seat=place.seat or _NO_SEAT, at=at)
        yield (at[1], place.feet_on, place.desk, place.light), partial(_around, place=place)
    for task in tasks:
        yield (task, person, tasks, screens), partial(_task, case=case, task=task)


def _person(draft: _Draft, case: Case, body: Body) -> None:
    person = case.person
    for name, short in _BODY:
        draft.values[PERSON, name] = body[short]
        if body.dimensions[short].estimated:
            draft.assumed.add((PERSON, name))
        elif is_guess(getattr(person.body, short)):
            draft.guess(PERSON, name)
    draft.put(PERSON, "person.shoes", person.shoes, DEFAULT_SHOES)
    strong = {"left": "right", "right": "left"}.get(person.weak_side, UNKNOWN)
    draft.put(PERSON, "person.writing_hand", person.writing_hand, strong)
    draft.put(PERSON, "person.mouse_hand", person.mouse_hand, strong)
    draft.put(PERSON, "person.weak_side", person.weak_side, UNKNOWN)
    draft.put(PERSON, "person.eyewear", person.eyewear, UNKNOWN)
    draft.put(PERSON, "person.cannot_stand", _told(person.cannot_stand), UNKNOWN)
    draft.put(PERSON, "room.shared", _told(case.room.shared), UNKNOWN)


def _devices(draft: _Draft, case: Case) -> None:
    devices = case.devices
    laptop, monitor = devices.laptop, devices.monitor
    nothing = float("nan")
    kind = _laptop_kind(laptop)
    draft.put(DEVICES, "laptop.kind", kind, kind)
    draft.put(DEVICES, "laptop.screen_top", laptop.screen_top if laptop else nothing, nothing)
    draft.put(DEVICES, "laptop.screen_height", laptop.screen_height if laptop else nothing, nothing)
    draft.put(DEVICES, "laptop.keys", laptop.keys if laptop else nothing, nothing)
    draft.put(DEVICES, "laptop.depth", laptop.depth if laptop else nothing, LAPTOP_DEPTH)
    draft.put(DEVICES, "monitor.top", monitor.top if monitor else nothing, nothing)
    draft.put(DEVICES, "monitor.height", monitor.height if monitor else nothing, nothing)
    _screens(draft, case)
    used = {tool for task in case.tasks for tool in (task.main, task.reference)}
    tool = "monitor" if "monitor" in used else "laptop" if "laptop" in used else "none"
    draft.put(DEVICES, "screen.tool", tool, tool)
    own = "built_in" if laptop else "separate"
    draft.put(DEVICES, "keyboard", devices.keyboard, own)
    draft.put(DEVICES, "mouse", devices.mouse, "touchpad" if laptop else "separate")
    size = devices.keyboard_size
    draft.put(DEVICES, "keyboard.height", size.height, KEYBOARD_HEIGHT)
    pad = {True: "yes", False: "no", None: UNKNOWN}[size.number_pad]
    draft.put(DEVICES, "keyboard.number_pad", pad, UNKNOWN)
    draft.put(DEVICES, "mouse.offset", devices.mouse_offset, _mouse_offset(pad, case.person.mouse_hand))
    draft.put(DEVICES, "phone", devices.phone, UNKNOWN)


def _as_measured(state: State, task: Task) -> Iterator[tuple[Slot, float]]:
    """Distances that were measured as things stand now, as they would be with nothing in the way."""
    ask = evaluate(state, task.id)
    mode = "stand" if float(ask("stand_share")) >= 1.0 else "sit"
    owner: Owner = ("task", task.id)
    depth = float(ask("desk_depth"))
    if task.viewing_distance is not None:
        body = float(ask("body_back", mode=mode))
        told = task.viewing_distance - body - distances.EYE_TO_EDGE
        place = distances.unpushed(told, float(ask("screen_pushed")), depth - distances.BEHIND_SCREEN)
        yield (owner, "task.viewing_distance"), place + distances.EYE_TO_EDGE
    if task.paper.distance is not None:
        pushed, most = float(ask("paper_pushed")), float(ask("paper_most"))
        yield (owner, "paper.distance"), distances.unpushed(task.paper.distance, pushed, most)


def _mouse_offset(pad: str, mouse_hand: str) -> float:
    if pad != "yes" or mouse_hand == UNKNOWN:
        return MOUSE_OFFSET
    return MOUSE_OFFSET_BY_PAD["pad_side" if mouse_hand == "right" else "other_side"]
