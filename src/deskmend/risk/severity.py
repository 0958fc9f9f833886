"""Severity: how far outside its limits a quantity is, from curves kept as data.

A curve is 0 up to ``zero_at``, 1 at ``one_at``, straight between, and rises
half as steeply beyond, so that a better but still bad state gains, up to
``most``: no posture weighs more than the furthest that a body can take. The
ends, their sources and their status are in ``tables/severity.csv``.

How far apart sources put the ends is in ``tables/severity_ends.csv``, for
curves with their ends moved. An end that no source and no note states a range
for is not moved.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from deskmend.published import read_table
from deskmend.workstation.fields import SYMBOLS
from deskmend.workstation.graph import Array, Evaluation, OneOfMany, Words, derive, quantity
from deskmend.workstation.state import State, evaluate, owner_of

__all__ = [
    "REGIONS",
    "Curve",
    "EndRange",
    "curves",
    "curves_moved",
    "curves_with",
    "end_ranges",
    "moved_curves",
    "read_together",
    "seen_in",
    "severity",
]

REGIONS: tuple[str, ...] = (
    "eyes",
    "neck",
    "shoulders",
    "arms_hands",
    "upper_back",
    "lower_back",
    "hips_thighs",
    "legs_feet",
)
"""Body regions, from top to toe."""

FOREARMS_RESTING = 0.7
"""Shoulder load left where the forearms rest [-] (judgement).

A review finds moderate evidence for forearm supports (van_eerd_2016), another no clear difference from a
board alone (hoe_2018).
"""
NECK_BACK_WEIGHT = 0.25
"""Weight of looking up [-] (judgement).

A top edge 15 degrees up tips the head back by some 10 (burgess_limerick_1998_height: it takes two thirds).
People rate that like bending by less than 20 (kee_karwowski_2001), for which bending scores up to a third.
Against it: RULA gives a head tipped back the most points of all. That 13 people with trouble and 11 without
held the neck alike (arvidsson_2008) is too few to show anything.
"""


@dataclass(frozen=True)
class Curve:
    """One severity curve; units are those of its quantity."""

    name: str
    quantity: str
    unit: str
    zero_at: float
    one_at: float
    most: float
    sources: tuple[str, ...]
    status: str
    note: str


_moved: ContextVar[Mapping[str, Curve] | None] = ContextVar("moved", default=None)


@cache
def curves() -> dict[str, Curve]:
    """Every severity curve by name."""
    return {
        row["curve"]: Curve(
            row["curve"],
            row["quantity"],
            row["unit"],
            float(row["zero_at"]),
            float(row["one_at"]),
            float(row["most"]),
            tuple(row["source"].split()),
            row["status"],
            row["note"],
        )
        for row in read_table("deskmend.risk", "severity.csv")
    }


def curves_moved() -> tuple[tuple[str, Curve], ...]:
    """What stands in for curves of the table just now, by name: none, or what `moved_curves` was given."""
    return tuple((_moved.get() or {}).items())


@contextmanager
def moved_curves(moved: Mapping[str, Curve]) -> Iterator[None]:
    """Score with other curves within a ``with`` block, wherever a severity is asked for.

    Parameters
    ----------
    moved : mapping of str to Curve
        Curves by name that stand in for those of the table; the others stay. Limits that are shown, and those
        that published scores look at, stay those of the table.

    Raises
    ------
    KeyError
        A name that the table does not hold.
    ValueError
        The two ends of a curve are equal.
    """
    for name, curve in moved.items():
        if curve.zero_at == curve.one_at:
            raise ValueError(f"{name}: zero_at and one_at are both {curve.zero_at}")
        curves()[name]
    token = _moved.set(dict(moved))
    try:
        yield
    finally:
        _moved.reset(token)


KEPT_TASKS = 512
"""Tasks of states whose quantities are kept for whoever asks for them again; the first kept go first."""
_kept: dict[tuple[State, str, object], Evaluation[Any]] = {}


def seen_in(state: State, task: str) -> Evaluation[Any]:
    """Quantities of one task at its place, as `evaluate` gives them, each worked out once."""
    key = (state, task, curves_moved())
    found = _kept.get(key)
    return _keep(key, evaluate(state, task)) if found is None else found


def read_together(states: Iterable[State]) -> None:
    """Let quantities of states be worked out for all of them at once, when `seen_in` is asked for one."""
    alike: dict[object, dict[State, None]] = {}
    moved = curves_moved()
    for state in states:
        if any(not isinstance(_kept.get((state, task, moved)), OneOfMany) for task in state.tasks):
            alike.setdefault((tuple(state.place_of.items()), tuple(state.values)), {})[state] = None
    for found in alike.values():
        for task in next(iter(found)).tasks:
            many = _of_many(list(found), task)
            for place, state in enumerate(found):
                _keep((state, task, moved), OneOfMany(many, place))


def _of_many(states: list[State], task: str) -> Evaluation[Any]:
    """Quantities of a task in each of some states, as arrays where anything differs between these."""
    at = states[0].place_of[task]
    moved: dict[str, Any] = {}
    for symbol, known in SYMBOLS.items():
        slot = owner_of(known.level, task, at), known.name
        values = [state.values.get(slot) for state in states]
        if any(value != values[0] for value in values):
            moved[symbol] = np.array(values, dtype=np.float64 if known.is_number else np.str_)
    return evaluate(states[0], task, moved=moved)


def _keep(key: tuple[State, str, object], found: Evaluation[Any]) -> Evaluation[Any]:
    while len(_kept) >= KEPT_TASKS:
        _kept.pop(next(iter(_kept)), None)
    _kept[key] = found
    return found


def severity(name: str, value: Array) -> Array:
    """Severity of a value on a named curve.

    Parameters
    ----------
    name : str
        Name of the curve in ``tables/severity.csv``.
    value : ndarray
        The quantity, in the curve's unit. An unknown value (NaN) scores 0: it
        is reported as not measured, never as good.

    Returns
    -------
    ndarray
        0 or more [-].

    Raises
    ------
    KeyError
        No such curve.

    Examples
    --------
    A neck turned to a screen beside the middle: nothing up to 15 degrees, 1 at 35, then half as steep.

    >>> severity("neck_rotation", np.array([0.0, 15.0, 25.0, 35.0, 55.0])).tolist()
    [0.0, 0.0, 0.5, 1.0, 1.5]
    """
    moved = _moved.get()
    curve = moved[name] if moved is not None and name in moved else curves()[name]
    along = (np.asarray(value, dtype=float) - curve.zero_at) / (curve.one_at - curve.zero_at)
    along = np.where(np.isnan(along), 0.0, along)
    out = np.where(along <= 0.0, 0.0, np.where(along <= 1.0, along, 0.5 + 0.5 * along))
    return np.minimum(out, curve.most)


# --- severities of the model's exposures ----------------------------------------------------------


def _bent(head_inclination: Array, neck_flexion: Array) -> Array:
    """Head against the vertical or against the trunk, whichever is further out.

    Who leans back holds the head upright and bends the neck to see the screen:
    on a sofa more than at a low table (intolo_2019).
    """
    return np.maximum(severity("head_inclination", head_inclination), severity("neck_flexion", neck_flexion))


@quantity("-", cut=True, target=("screen", "second"))
def neck_bent_severity(
    head_inclination: Array, neck_flexion: Array, gaze_centre: Array, person_eyewear: Words
) -> Array:
    """Neck: at a screen the largest of the bent head, the bent neck and the low gaze."""
    multifocal = np.asarray(person_eyewear) == "multifocal"
    gaze = np.where(
        multifocal, severity("gaze_low_multifocal", gaze_centre), severity("gaze_low", gaze_centre)
    )
    # To a hundredth: a neck is known no finer, and tables that few values fill stay small.
    return np.asarray(np.round(np.maximum(_bent(head_inclination, neck_flexion), gaze), 2))


@quantity("-", name="neck_bent_severity", cut=True, target="paper")
def neck_bent_paper_severity(head_inclination: Array, neck_flexion: Array) -> Array:
    """Neck: over paper the bent head or neck alone; the limits of gaze are those of screens."""
    return np.asarray(np.round(_bent(head_inclination, neck_flexion), 2))


@quantity("-", name="gaze_up_severity", cut=True, target="screen")
def gaze_up_severity(gaze_top: Array, gaze_centre: Array, person_eyewear: Words) -> Array:
    """Neck: looking up at a screen; multifocal wearers tip the head back long before."""
    plain = NECK_BACK_WEIGHT * severity("gaze_top_up", gaze_top)
    multi = np.maximum(severity("gaze_top_up", gaze_top), severity("gaze_high_multifocal", gaze_centre))
    return np.where(np.asarray(person_eyewear) == "multifocal", multi, plain)


@quantity("-", name="gaze_up_severity", cut=True, target="second")
def gaze_up_second_severity(gaze_top: Array) -> Array:
    """Neck: looking up at the second screen."""
    return NECK_BACK_WEIGHT * severity("gaze_top_up", gaze_top)


def _on_curve(curve: str) -> Callable[[Array], Array]:
    def scored(value: Array) -> Array:
        return severity(curve, value)

    return scored


ON_ONE_CURVE = {
    "neck_rotation_severity": ("neck_rotation", "neck_rotation"),
    "trunk_twist_severity": ("trunk_twist", "trunk_twist"),
    "back_round_severity": ("lordosis_lost", "lordosis_lost"),
    "hip_angle_severity": ("hip_angle", "hip_angle"),
    "reach_severity": ("reach", "reach"),
    "leg_gap_severity": ("leg_gap", "leg_gap"),
    "knees_up_severity": ("leg_gap", "knees_up"),
    "seat_clearance_severity": ("seat_clearance", "seat_clearance"),
    "clearance_severity": ("clearance", "clearance"),
    "lux_severity": ("light_lux", "lux"),
}
"""Severities that are one quantity on one curve, by name."""
for _name, (_need, _curve) in ON_ONE_CURVE.items():
    derive(_name, "-", _need, _on_curve(_curve), cut=True)


@quantity("-", name="gaze_up_severity", cut=True, target="paper")
@quantity("-", name="viewing_severity", cut=True, target="paper")
@quantity("-", name="glare_severity", cut=True, target="paper")
@quantity("-", name="wrist_severity", cut=True, hand="writing")
def not_scored(person_shoes: Array) -> Array:
    """None: paper lies on the desk, one leans to it, it does not mirror; and slope tells no writing wrist."""
    return 0.0 * person_shoes


@quantity("-", cut=True)
def trunk_inclination_severity(trunk_inclination: Array) -> Array:
    """Back: leaning forward without support."""
    # To a hundredth, as for the neck.
    return np.asarray(np.round(severity("trunk_inclination", trunk_inclination), 2))


def _resting(load: Array, arms_supported: Words) -> Array:
    return np.where(np.asarray(arms_supported) == "yes", FOREARMS_RESTING, 1.0) * load


@quantity("-", cut=True, hand=("keys", "mouse"))
def hand_gap_severity(hand_gap: Array, arms_supported: Words) -> Array:
    """Shoulders: keys or mouse above or below the elbow."""
    return _resting(
        np.maximum(severity("hand_high", hand_gap), severity("hand_low", hand_gap)), arms_supported
    )


@quantity("-", name="hand_gap_severity", cut=True, hand="writing")
def writing_gap_severity(hand_gap: Array, elbow_lift: Array, arms_supported: Words) -> Array:
    """Shoulders: elbow lifted to write, or a sheet far below it."""
    load = np.maximum(severity("writing_high", elbow_lift), severity("writing_low", hand_gap))
    return _resting(load, arms_supported)


@quantity("-", cut=True, hand=("keys", "mouse"))
def wrist_severity(wrist_extension: Array) -> Array:
    """Hands: wrist bent up or down."""
    return np.maximum(
        severity("wrist_extension", wrist_extension), severity("wrist_flexion", wrist_extension)
    )


@quantity("-", cut=True)
def edge_severity(desk_edge: Words) -> Array:
    """Hands: a hard front edge presses (common practice)."""
    return np.where(np.asarray(desk_edge) == "sharp", 1.0, 0.0)


@quantity("-", cut=True)
def seat_pressure_severity(seat_pressure: Array) -> Array:
    """Buttocks: hardness of the seat, at most 1."""
    return np.minimum(seat_pressure, 1.0)


@quantity("-", cut=True)
def standing_severity(stand_share: Array, sitting_spell: Array) -> Array:
    """Legs: standing all the time in long spells; standing by turns scores nothing."""
    return np.where(np.asarray(stand_share) >= 1.0, severity("standing_spell", sitting_spell), 0.0)


@quantity("-", cut=True)
def lapsed_standing_severity(lapsed_stand_share: Array, lapsed_sitting_spell: Array) -> Array:
    """Legs: the same on days when no habit is kept."""
    return standing_severity(lapsed_stand_share, lapsed_sitting_spell)  # type: ignore[no-any-return]


@quantity("-", cut=True, target=("screen", "second"))
def viewing_severity(viewing_distance: Array) -> Array:
    """Eyes: screen too near or too far."""
    return np.maximum(severity("viewing_near", viewing_distance), severity("viewing_far", viewing_distance))


@quantity("-", cut=True, target=("screen", "second"))
def glare_severity(light_glare: Words) -> Array:
    """Eyes: dazzling light or reflections."""
    word = np.asarray(light_glare)
    return np.where((word == "none") | (word == "unknown") | (word == "window_beside"), 0.0, 1.0)


@quantity("-", cut=True)
def phone_severity(phone: Words) -> Array:
    """Neck: telephone held between ear and shoulder."""
    return np.where(np.asarray(phone) == "cradled", 1.0, 0.0)


@dataclass(frozen=True)
class EndRange:
    """Where one end of a curve is put.

    Attributes
    ----------
    curve, end : str
        Name of the curve; ``zero_at`` or ``one_at``.
    low, high : int
        Range, in the curve's unit [mm] [deg] [lux].
    sources : tuple of str
        Keys of sources.
    status : str
        Of the range.
    """

    curve: str
    end: str
    low: int
    high: int
    sources: tuple[str, ...]
    status: str


@cache
def end_ranges() -> tuple[EndRange, ...]:
    """Every stated range, in the order of the table."""
    return tuple(
        EndRange(
            row["curve"],
            row["end"],
            int(row["low"]),
            int(row["high"]),
            tuple(row["source"].split()),
            row["status"],
        )
        for row in read_table("deskmend.risk", "severity_ends.csv")
    )


def curves_with(ends: Mapping[tuple[str, str], float]) -> dict[str, Curve]:
    """Curves with some ends elsewhere.

    Parameters
    ----------
    ends : mapping of (str, str) to float
        Value by curve and end, as ``("gaze_low", "zero_at")``, in the curve's unit.

    Returns
    -------
    dict
        Just the curves named, for `deskmend.risk.severity.moved_curves`.

    Raises
    ------
    KeyError
        No such curve.
    """
    out: dict[str, Curve] = {}
    for (name, end), value in ends.items():
        curve = out.get(name, curves()[name])
        out[name] = replace(curve, zero_at=value) if end == "zero_at" else replace(curve, one_at=value)
    return out
