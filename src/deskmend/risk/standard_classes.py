"""Classes of ISO 11226, EN 1005-4, ANSI/HFES 100 and others for the postures of a workplace, with hours.

Bands, sources and status are those of :mod:`deskmend.risk.postural_classes`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from deskmend.messages import tr
from deskmend.numerals import shown_number
from deskmend.risk.postural_classes import CLASSES, PostureClass, classify, explain, zones
from deskmend.risk.ranges import OutOfRange
from deskmend.risk.scored_items import NEUTRAL_DEG
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.quantities import QUANTITIES
from deskmend.workstation.state import State, evaluate

__all__ = ["ClassHours", "ClassReading", "class_readings", "hours_by_class"]

ASKED: tuple[tuple[str, str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("head_inclination", "target", ("screen", "second", "paper"), ("sit", "stand")),
    ("neck_flexion", "target", ("screen", "second", "paper"), ("sit", "stand")),
    ("neck_rotation", "target", ("screen", "second", "paper"), ("sit", "stand")),
    ("trunk_inclination", "target", ("screen", "second", "paper"), ("sit", "stand")),
    ("upper_arm_elevation", "hand", ("keys", "mouse", "writing"), ("sit", "stand")),
    ("shoulder_flexion", "hand", ("keys", "mouse", "writing"), ("sit", "stand")),
    ("shoulder_abduction", "hand", ("mouse",), ("sit", "stand")),
    ("elbow_angle", "hand", ("keys", "mouse", "writing"), ("sit", "stand")),
    ("wrist_extension", "hand", ("keys", "mouse"), ("sit", "stand")),
    ("hip_angle", "", ("",), ("sit",)),
    ("knee_angle", "", ("",), ("sit",)),
    ("seat_clearance", "", ("",), ("sit",)),
    ("gaze_top", "target", ("screen", "second"), ("sit", "stand")),
    ("gaze_centre", "target", ("screen", "second"), ("sit", "stand")),
    ("viewing_distance", "target", ("screen", "second"), ("sit", "stand")),
)
"""Quantity, role, cases and modes that are classed: paper is not asked for screen ranges, nor hands that
write for the wrist."""

NEUTRAL_AT: dict[str, float] = {
    "head_inclination": 0.0,
    "neck_flexion": 0.0,
    "hip_angle": 90.0,
    "knee_angle": 90.0,
}
"""Lower end of *inside* that stands for an upright or right-angled joint [deg]; a value less than
`NEUTRAL_DEG` under it is classed as if it were there (judgement, see there)."""


@dataclass(frozen=True)
class ClassReading:
    """Class of one quantity of one task.

    Attributes
    ----------
    task, quantity, of, mode : str
        What it is; ``of`` is the tool looked at or the hand's activity, or empty.
    value : float
        As the state gives it, in the unit of `unit`.
    unit : str
        ``deg`` or ``mm``.
    posture_class : str or None
        ``inside``, ``conditional`` or ``outside``; None where the value is beyond what they describe.
    source, status : str
        Where the range is published, and how far that is confirmed.
    hours : float
        Time a day spent so [h].
    reason : str
        In plain words.
    """

    task: str
    quantity: str
    of: str
    mode: str
    value: float
    unit: str
    posture_class: PostureClass | None
    source: str
    status: str
    hours: float
    reason: str


@dataclass(frozen=True)
class ClassHours:
    """Hours a day of one quantity in each class, all tasks together [h]; ``unknown`` where it has none."""

    quantity: str
    inside: float
    conditional: float
    outside: float
    unknown: float


def class_readings(state: State) -> tuple[ClassReading, ...]:
    """Class of every quantity that has a published range, in each task, role and mode that has time.

    Parameters
    ----------
    state : State
        The workstation.
    """
    return tuple(reading for task in state.tasks for reading in _of_task(evaluate(state, task), task))


def _of_task(evaluation: Evaluation[Any], task: str) -> Iterator[ClassReading]:
    hours = float(evaluation("task_hours"))
    for name, role, cases, modes in ASKED:
        for mode in modes:
            in_mode = float(evaluation("mode_share", mode=mode))
            for case in cases:
                roles = {"mode": mode} | ({role: case} if role else {})
                share = 1.0
                if role:
                    share = float(evaluation("look_share" if role == "target" else "hand_share", **roles))
                time = hours * in_mode * share
                if time > 0:
                    yield _reading(task, name, case, mode, float(evaluation(name, **roles)), time)


def _reading(task: str, name: str, of: str, mode: str, value: float, hours: float) -> ClassReading:
    unit = QUANTITIES.quantities[name][0].unit
    neutral = NEUTRAL_AT.get(name)
    classed = neutral if neutral is not None and neutral - NEUTRAL_DEG <= value < neutral else value
    own = zones()[name]
    try:
        found = classify(name, classed)
        reason = explain(name, classed)
    except OutOfRange as fault:
        source = "; ".join(dict.fromkeys(zone.source for zone in own))
        return ClassReading(task, name, of, mode, value, unit, None, source, "", hours, str(fault))
    zone = next(z for z in own if z.posture_class == found and bool(z.band.holds(_nine(classed))))
    if classed != value:
        counts = shown_number(f"{classed:g}")
        reason += "; " + tr("{value} counts as {classed}", value=shown_number(f"{value:.1f}"), classed=counts)
    return ClassReading(
        task, name, of, mode, value, unit, found, zone.source, zone.band.status, hours, reason
    )


def _nine(value: float) -> Any:
    return np.asarray(round(value, 9))


def hours_by_class(readings: Iterable[ClassReading]) -> tuple[ClassHours, ...]:
    """Hours a day that each quantity spends in each class, over all tasks, tools and hands.

    Parameters
    ----------
    readings : iterable of ClassReading
        From :func:`class_readings`.
    """
    totals: dict[str, dict[str, float]] = {}
    for reading in readings:
        own = totals.setdefault(reading.quantity, dict.fromkeys((*CLASSES, "unknown"), 0.0))
        own[reading.posture_class or "unknown"] += reading.hours
    return tuple(
        ClassHours(name, own["inside"], own["conditional"], own["outside"], own["unknown"])
        for name, own in totals.items()
    )
