"""What would suit a body: for seat, desk, screen and feet the ranges in which nothing is scored.

No rule of thumb: one thing is moved along, the model is asked for the severities that hang on it, and the
range is where all of them are 0. The chair is an upright one with a back, the shoes and tools are those of
the case, and so is whatever stays: the seat there is tells how high the table and what is under the feet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from deskmend.measures import Mm
from deskmend.published import read_table
from deskmend.risk.severity import curves
from deskmend.workstation.fields import Value
from deskmend.workstation.graph import Array
from deskmend.workstation.state import DEVICES, ENOUGH, PERSON, Owner, Slot, State, evaluate

__all__ = ["THINNEST_TOP", "SuitRange", "suits"]

UPRIGHT: Mapping[str, Value] = {
    "seat.slope": 0.0,
    "seat.pad": 0.0,
    "seat.back": "shaped",
    "seat.recline": 5.0,
    "seat.loose": "no",
    "seat.armrests": "none",
    "back.depth_taken": 0.0,
    "feet.on": "floor",
    "feet.height": 0.0,
    "feet.rest": "yes",
    "place.kind": "desk",
    "desk.legs": "fixed",
    "desk.leg_depth": ENOUGH,
    "desk.leg_width": ENOUGH,
    "desk.tilt": 0.0,
    "desk.lap_lost": 0.0,
    "keyboard.drop": 0.0,
    "screen.raise": 0.0,
    "laptop.incline": 0.0,
    "arms.supported": "no",
    "stand_share": 0.0,
}
"""An upright chair with a back, feet on the floor, nothing under the screen (judgement)."""
SHORTEST_SEAT = 0.8
"""Seat depth from which the thighs are carried, as a part of buttock-popliteal length [-]
(``parcells_1999``, ``gouvali_2006``; from memory)."""
THINNEST_TOP = 18.0
"""Top without any frame [mm] (common practice: a board of 18 mm)."""
SEATS = np.arange(200.0, 1001.0)
DESKS = np.arange(300.0, 1401.0)
FEET = np.arange(0.0, 701.0)
DEPTHS = np.arange(200.0, 801.0)
TOPS = np.arange(-400.0, 1301.0)
UNDERSIDES = np.arange(200.0, 1401.0)
"""What is tried, millimetre by millimetre [mm]."""
PLAIN_MONITOR: Mapping[str, Value] = {"monitor.top": 450.0, "monitor.height": 300.0}
"""Screen taken where the case has none [mm] (judgement)."""


@dataclass(frozen=True)
class SuitRange:
    """One measure of furniture that suits a body.

    Attributes
    ----------
    name : str
        What is measured, as ``seat_height``.
    low, high : float
        Ends of the range, both included [mm above the floor, or mm long].
    sources : tuple of str
        Keys of the sources of both ends.
    estimated : bool
        It hangs on a body dimension that nobody measured.
    there_suits : bool
        What is there lies within it, or can be set to, or is not used.
    """

    name: str
    low: Mm
    high: Mm
    sources: tuple[str, ...]
    estimated: bool
    there_suits: bool = True


AskedSeverity = tuple[str, Mapping[str, str]]
"""A severity, and the roles it is asked in."""
SITTING = {"mode": "sit"}
STANDING = {"mode": "stand"}
ON_SEAT: tuple[AskedSeverity, ...] = (("leg_gap_severity", SITTING), ("hip_angle_severity", SITTING))
AT_KEYS: tuple[AskedSeverity, ...] = (("hand_gap_severity", SITTING | {"hand": "keys"}),)
AT_KEYS_STANDING: tuple[AskedSeverity, ...] = (("hand_gap_severity", STANDING | {"hand": "keys"}),)
AT_PAPER: tuple[AskedSeverity, ...] = (("hand_gap_severity", SITTING | {"hand": "writing"}),)
AT_SCREEN: tuple[AskedSeverity, ...] = (
    ("neck_bent_severity", SITTING | {"target": "screen"}),
    ("gaze_up_severity", SITTING | {"target": "screen"}),
)
CURVES_OF_RANGE: Mapping[str, tuple[str, ...]] = {
    "seat_height": ("leg_gap", "hip_angle"),
    "seat_depth": ("seat_clearance",),
    "foot_surface": ("leg_gap", "hip_angle"),
    "desk_height_keys": ("hand_high", "hand_low"),
    "desk_height_writing": ("writing_high", "writing_low"),
    "desk_height_standing": ("hand_high", "hand_low"),
    "desk_underside": ("clearance",),
    "screen_top": ("gaze_top_up", "gaze_low", "head_inclination"),
}
MULTIFOCAL_CURVES = ("gaze_high_multifocal", "gaze_low_multifocal", "head_inclination")
BODY_OF: Mapping[str, tuple[str, ...]] = {
    "seat_height": ("popliteal_height", "buttock_popliteal_length"),
    "seat_depth": ("buttock_popliteal_length",),
    "foot_surface": ("popliteal_height", "buttock_popliteal_length"),
    "desk_height_keys": ("popliteal_height", "sitting_elbow_height"),
    "desk_height_writing": ("popliteal_height", "sitting_elbow_height", "sitting_shoulder_height"),
    "desk_height_standing": ("standing_elbow_height",),
    "desk_underside": ("popliteal_height", "thigh_clearance", "knee_height"),
    "screen_top": ("popliteal_height", "sitting_eye_height"),
}
"""Dimensions on which each range hangs most."""


def suits(state: State, place: str | None = None, seat_height: Mm | None = None) -> tuple[SuitRange, ...]:
    """Ranges that suit a person at a place.

    Parameters
    ----------
    state : State
        The workplace; its seat decides how high the table and what is under the feet should be.
    place : str, optional
        Where; the place where most of the work is done if left out.
    seat_height : float, optional
        Seat for which tables and picture are [mm]; the one there is if left out, or the nearest height that
        suits.

    Returns
    -------
    tuple of SuitRange
        Seat height and depth, foot surface, desk heights, underside, screen edge, room for the legs [mm]. A
        range that nothing satisfies is left out, and so is what a wheelchair brings with it.
    """
    fitting = _Fitting(state, place)
    there, in_wheelchair = fitting.seat_now, fitting.seat_base == "wheelchair"
    seat = fitting.range("seat_height", "seat_height", SEATS, ON_SEAT)
    found = [] if in_wheelchair else [seat, fitting.seat_depth()]
    if seat is not None or in_wheelchair:
        if seat is not None and not in_wheelchair:
            found.append(fitting.foot_surface(there))
            there = min(max(there, seat.low), seat.high)
        at = fitting.seated(there if seat_height is None else seat_height)
        keys = at.range("desk_height_keys", "desk_height", DESKS, AT_KEYS)
        found += [keys, at.range("desk_height_writing", "desk_height", DESKS, AT_PAPER)]
        found.append(at.standing())
        found.append(at.underside(keys))
        found.append(at.screen_top())
    every = (*(one for one in found if one is not None), *_leg_room())
    return tuple(replace(one, there_suits=_there_suits(one, state, fitting)) for one in every)


def _there_suits(one: SuitRange, state: State, fitting: _Fitting) -> bool:
    """Whether what is there is within a range, can be set to, or is not used at all."""
    here: Owner = ("place", fitting.place)

    def number(name: str) -> float:
        return float(state.values[here, name])

    def used(*shares: str) -> bool:
        tasks = [task for task, place in state.place_of.items() if place == fitting.place]
        return any(float(state.values[("task", task), share]) > 0 for task in tasks for share in shares)

    height, depth = number("desk.height"), number("desk.leg_depth")
    sits = number("stand_share") < 1.0
    can_be_set = {name: state.values[here, f"{name}.adjustable"] == "yes" for name in ("seat", "desk")}
    suited = {
        "seat_height": not sits or can_be_set["seat"] or one.low <= fitting.seat_now <= one.high,
        "seat_depth": not sits or one.low <= number("seat.depth") - number("back.depth_taken") <= one.high,
        "desk_height_keys": not sits
        or can_be_set["desk"]
        or not used("hands.keys", "hands.mouse")
        or one.low <= height <= one.high,
        "desk_height_writing": not sits
        or can_be_set["desk"]
        or not used("hands.writing")
        or one.low <= height <= one.high,
        "desk_underside": not sits or can_be_set["desk"] or height - number("desk.frame") >= one.low,
        "leg_width": not sits or number("desk.leg_width") >= one.low,
        "knee_depth": not sits or depth >= one.low,
        "foot_depth": not sits or depth >= one.low,
    }
    return suited.get(one.name, True)


def _leg_room() -> list[SuitRange]:
    """Room for the legs, from what the least standard asks for to what all of them accept."""
    rooms: dict[str, list[tuple[float, str]]] = {}
    for row in read_table("deskmend.risk", "leg_room.csv"):
        rooms.setdefault(row["room"], []).append((float(row["at_least"]), row["source"]))
    return [
        SuitRange(name, min(rows)[0], max(rows)[0], tuple(source for _, source in rows), estimated=False)
        for name, rows in rooms.items()
    ]


class _Fitting:
    """One person at one place, for trying what would suit; numpy arrays stand in for what is moved."""

    def __init__(self, state: State, place: str | None) -> None:
        values = state.values
        hours = {
            task: float(values[("task", task), "task.hours"])
            for task in state.tasks
            if place is None or state.place_of[task] == place
        }
        self.task = max(hours, key=lambda task: hours[task])
        self.place = state.place_of[self.task]
        here: Owner = ("place", self.place)
        self.seat_base = str(values[here, "seat.base"])
        self.seat_now = float(values[here, "seat.height"]) + float(values[here, "seat.pad"])
        upright: dict[Slot, Value] = {(here, name): value for name, value in UPRIGHT.items()}
        screens = {
            task: str(values[("task", task), "task.screen"])
            for task in state.tasks
            if state.place_of[task] == self.place
        }
        shown = next((screen for screen in screens.values() if screen != "none"), "none")
        with_screen = next((task for task, screen in screens.items() if screen == shown), self.task)
        if shown == "none":
            upright |= {(DEVICES, name): value for name, value in PLAIN_MONITOR.items()}
            upright[("task", self.task), "task.screen"] = "monitor"
            upright[DEVICES, "keyboard"] = "separate"
        upright[("task", with_screen), "task.middle"] = "screen"
        self.screen_task = with_screen
        self.state = state.with_values(upright)

    def seated(self, height: Mm) -> _Fitting:
        """The same person on a seat of this height [mm]."""
        made = copy(self)
        made.state = self.state.with_values({(("place", self.place), "seat.height"): height})
        return made

    def range(
        self,
        name: str,
        moved: str,
        tried: Array,
        asked: Sequence[AskedSeverity],
        task: str = "",
        shift: Mm = 0.0,
    ) -> SuitRange | None:
        """Where all severities are 0 while one field is moved; None where nowhere."""
        evaluation = evaluate(self.state, task or self.task, self.place, {moved: tried})
        fine: Any = np.ones(len(tried), dtype=np.bool_)
        for severity_name, roles in asked:
            fine = fine & (evaluation(severity_name, **roles) <= 0.0)
        if not np.any(fine):
            return None
        good = tried[np.broadcast_to(fine, len(tried))]
        return self._range(name, float(good[0]) + shift, float(good[-1]) + shift)

    def _range(self, name: str, low: Mm, high: Mm, *more: str) -> SuitRange:
        used = CURVES_OF_RANGE[name]
        if name == "screen_top" and self.state.values[PERSON, "person.eyewear"] == "multifocal":
            used = MULTIFOCAL_CURVES
        sources = [source for curve in used for source in curves()[curve].sources]
        measured = not any(self.state.body.dimensions[part].estimated for part in BODY_OF[name])
        return SuitRange(name, low, high, tuple(dict.fromkeys((*sources, *more))), not measured)

    def seat_depth(self) -> SuitRange | None:
        """Deep enough to carry the thighs, and not so deep that its edge meets the hollow of the knee."""
        found = self.range("seat_depth", "seat_depth", DEPTHS, [("seat_clearance_severity", SITTING)])
        if found is None:
            return None
        least = float(np.ceil(SHORTEST_SEAT * self.state.body["buttock_popliteal_length"]))
        return self._range("seat_depth", min(least, found.high), found.high, "parcells_1999", "gouvali_2006")

    def foot_surface(self, seat: Mm) -> SuitRange:
        """What the feet should rest on at the seat there is; 0 is the floor, also at a seat too low."""
        found = self.seated(seat).range("foot_surface", "feet_height", FEET, ON_SEAT)
        return self._range("foot_surface", 0.0, 0.0) if found is None else found

    def standing(self) -> SuitRange | None:
        """Table to stand at; none for who cannot stand."""
        if self.state.values[PERSON, "person.cannot_stand"] == "yes":
            return None
        return self.range("desk_height_standing", "desk_height", DESKS, AT_KEYS_STANDING)

    def underside(self, keys: SuitRange | None) -> SuitRange | None:
        """Lowest part over the thighs: high enough for the legs, and under the top that suits the hands."""
        tried = {"desk_height": UNDERSIDES, "desk_frame": np.zeros(len(UNDERSIDES))}
        severity = evaluate(self.state, self.task, self.place, tried)("clearance_severity", **SITTING)
        good = UNDERSIDES[severity <= 0.0]
        if not len(good):
            return None
        low = float(good[0])
        high = float(good[-1]) if keys is None else max(keys.high, low)
        return self._range("desk_underside", low, high)

    def screen_top(self) -> SuitRange | None:
        """Top edge of the picture above the floor."""
        values = self.state.values
        screen = str(values[("task", self.screen_task), "task.screen"])
        moved = "laptop_screen_top" if screen == "laptop" else "monitor_top"
        desk = float(values[("place", self.place), "desk.height"])
        return self.range("screen_top", moved, TOPS, AT_SCREEN, self.screen_task, desk)
