"""Published scores of a day by every method there is, and the hours of postures in classes of standards.

ISO 11226:2000 with EN 1005-4:2005 for head, neck, trunk and upper arm; ANSI/HFES 100-2007 for shoulder,
elbow, wrist and hip; ISO 9241 and others for the screen. Ranges, sources, editions and status stand row by
row in ``tables/postural_classes.csv``. The ends of a range belong to the milder class.

The functions called here are the quantities that exact tables are made of, so a goal and a report cannot
differ.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, cached_property
from importlib import import_module
from pkgutil import iter_modules
from types import MappingProxyType
from typing import Any, Literal, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from deskmend.language import shown_number, tr
from deskmend.measures import Hours
from deskmend.risk import strain
from deskmend.risk.ranges import (
    NOT_SCORED,
    FloatArray,
    OutOfRange,
    TableDefect,
    UnknownName,
    WrongArgument,
    checked_number_arrays,
    table_rows,
)
from deskmend.risk.scores import methods as folder
from deskmend.risk.scores.items import Band, bands_of, plain_number, with_side
from deskmend.risk.scores.method import (
    NEUTRAL_DEG,
    ItemScore,
    OccasionScore,
    ScoreMethod,
    occasion_scores,
    plain_apply,
    registered,
)
from deskmend.risk.severity import seen_in
from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.state import State, evaluate

__all__ = [
    "CLASSES",
    "ClassHours",
    "ClassReading",
    "DayScores",
    "ItemScore",
    "OccasionScore",
    "PostureClass",
    "ScoreMethod",
    "TaskScores",
    "Zone",
    "class_readings",
    "classify",
    "explain",
    "hours_by_class",
    "method_named",
    "methods",
    "score_of",
    "scores_of",
    "zones",
]

PostureClass = Literal["inside", "conditional", "outside"]
"""``inside`` the recommended range; ``conditional`` on support, time or another standard; ``outside``."""

CLASSES: tuple[PostureClass, ...] = ("inside", "conditional", "outside")
"""The classes, mildest first."""
_PLACES: Mapping[str, int] = {name: place for place, name in enumerate(CLASSES)}


@dataclass(frozen=True)
class Zone:
    """One stretch of a quantity and its class.

    Parameters
    ----------
    band
        The stretch, in the unit of the quantity; its points are the place of the class in `CLASSES`.
    unit
        Unit in words.
    source, edition
        Where it is published.
    """

    band: Band
    unit: str
    source: str
    edition: str

    @property
    def posture_class(self) -> PostureClass:
        """The class."""
        return CLASSES[self.band.points]


@cache
def zones() -> Mapping[str, tuple[Zone, ...]]:
    """Load the zones of every quantity once.

    Returns
    -------
    mapping of str to tuple of Zone
        Read-only; zones in rising order without gap or overlap.

    Raises
    ------
    TableDefect
        Where zones leave a gap or overlap, or a class is unknown.
    """
    found: dict[str, list[dict[str, str]]] = {}
    for row in table_rows("postural_classes"):
        if row["class"] not in _PLACES:
            raise TableDefect(f"postural_classes: unknown class {row['class']}")
        found.setdefault(row["quantity"], []).append(row)
    out = {}
    for name, own in found.items():
        bands = bands_of(f"postural_classes: {name}", own, [_PLACES[row["class"]] for row in own])
        out[name] = tuple(
            Zone(band, row["unit"], row["source"], row["edition"])
            for row, band in zip(own, bands, strict=True)
        )
    return MappingProxyType(out)


@overload
def classify(quantity: str, value: float) -> PostureClass: ...
@overload
def classify(quantity: str, value: ArrayLike) -> PostureClass | NDArray[np.str_]: ...


def classify(quantity: str, value: ArrayLike) -> PostureClass | NDArray[np.str_]:
    """Name the class of a quantity.

    Parameters
    ----------
    quantity
        Name of the quantity, one of `zones`: angles [deg], ``viewing_distance`` and ``seat_clearance`` [mm].
    value
        Its value or values.

    Returns
    -------
    str or ndarray of str
        ``inside``, ``conditional`` or ``outside``; an array where `value` is one.

    Raises
    ------
    UnknownName
        Where there is no such quantity.
    OutOfRange
        Where a value is no number or beyond what the quantity can be.

    Notes
    -----
    Status stands with each zone; see `zones` and ``docs/methods.md``.
    """
    own, checked = _zones_of("postural_classes.classify", quantity, value)
    place = np.zeros(checked.shape, dtype=np.int64)
    for zone in own:
        place = np.where(zone.band.holds(checked), zone.band.points, place)
    if place.ndim == 0:
        return CLASSES[int(place)]
    return np.asarray(CLASSES, dtype=np.str_)[place]


def explain(quantity: str, value: float) -> str:
    """Say in plain words why a quantity has its class, and after what source.

    Parameters
    ----------
    quantity
        Name of the quantity.
    value
        A single value, in the unit of the quantity.

    Returns
    -------
    str
        Such as ``26 degrees forward, over 25 (ISO 11226; EN 1005-4; confirmed ...)``.

    Raises
    ------
    UnknownName
        Where there is no such quantity.
    OutOfRange
        As `classify`, and where `value` is an array.
    """
    own, checked = _zones_of("postural_classes.explain", quantity, value)
    if checked.ndim:
        wrong = WrongArgument("value", "an array", "a single value")
        raise OutOfRange("postural_classes.explain", (wrong,))
    zone = next(zone for zone in own if zone.band.holds(checked))
    number = plain_number(float(checked), tuple(zone.band for zone in own))
    return tr(
        "{measured}, {range} ({source}; {status})",
        measured=with_side(number, zone.unit),
        range=tr(zone.band.words),
        source=tr(zone.source),
        status=tr(zone.band.status),
    )


def _zones_of(where: str, quantity: str, value: ArrayLike) -> tuple[tuple[Zone, ...], FloatArray]:
    known = zones()
    if quantity not in known:
        raise UnknownName(where, "quantity", str(quantity), tuple(known))
    own = known[quantity]
    limits = {quantity: (own[0].band.low, own[-1].band.high, own[0].unit)}
    return own, checked_number_arrays(where, limits, {quantity: value})[quantity]


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
    return tuple(reading for task in state.tasks for reading in _of_task(seen_in(state, task), task))


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
        measured = with_side(f"{value:.1f}", zone.unit)
        reason += "; " + tr("{value} counts as {classed}", value=measured, classed=counts)
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


MODEL = (
    strain,
    *(import_module(f"{folder.__name__}.{found.name}") for found in iter_modules(folder.__path__)),
)
"""Modules that register the scores, and the shares of time they need, among the quantities."""

methods = registered


def method_named(name: str) -> ScoreMethod:
    """The registered method of that name; KeyError where there is none."""
    return {method.name: method for method in methods()}[name]


@dataclass(frozen=True)
class TaskScores:
    """Published scores of one task.

    Attributes
    ----------
    task : str
        Id.
    hours : float
        Time a day [h].
    occasions : mapping of str to tuple of OccasionScore
        What each method scores of the task, by its name; empty where it is for nothing in it.
    """

    task: str
    hours: Hours
    occasions: Mapping[str, tuple[OccasionScore, ...]]

    def worst(self, name: str) -> OccasionScore | None:
        """Occasion with the highest score, the one of most time among equals; None if none is scored."""
        scored = [one for one in self.occasions[name] if one.score is not None]
        return max(scored, key=lambda one: (one.score or 0, one.share), default=None)

    def shown(self, name: str) -> tuple[ItemScore, ...]:
        """Items of the worst occasion, or of the first where none could be scored."""
        found = self.worst(name) or next(iter(self.occasions[name]), None)
        return () if found is None else found.items

    def score(self, name: str) -> int | None:
        """Score of the worst occasion [-]."""
        worst = self.worst(name)
        return None if worst is None else worst.score

    def mean(self, name: str) -> float | None:
        """Mean over the time of the occasions that could be scored [-]."""
        return _mean((one.score, one.share) for one in self.occasions[name])

    @cached_property
    def not_scored(self) -> tuple[str, ...]:
        """What could not be scored, and why."""
        found = []
        for method in methods():
            own = self.occasions[method.name]
            found += [item.reason for one in own for item in one.items if item.score is None]
            if not own and method.not_for:
                found.append(tr(method.not_for))
        return tuple(dict.fromkeys(found))


@dataclass(frozen=True)
class DayScores:
    """Published scores of a day.

    Attributes
    ----------
    tasks : tuple of TaskScores
        In the order of the case.
    classes : tuple of ClassReading
        Classes after the standards, task by task.
    """

    tasks: tuple[TaskScores, ...]
    classes: tuple[ClassReading, ...]

    def score(self, name: str) -> int | None:
        """Score of the worst task [-]; None where no task has one."""
        return max((found for task in self.tasks if (found := task.score(name)) is not None), default=None)

    def mean(self, name: str) -> float | None:
        """Mean over the hours of all occasions that could be scored [-]."""
        found = [(one.score, task.hours * one.share) for task in self.tasks for one in task.occasions[name]]
        return _mean(found)

    def reached(self, name: str) -> int | None:
        """Score as a goal sees it [-]: 0 where nothing is scored, None where something could not be."""
        if any(one.score is None for task in self.tasks for one in task.occasions[name]):
            return None
        return self.score(name) or 0

    @property
    def hours(self) -> tuple[ClassHours, ...]:
        """Hours a day of each quantity in each class."""
        return hours_by_class(self.classes)

    @property
    def not_scored(self) -> tuple[str, ...]:
        """What could not be scored, and why."""
        return tuple(f"{task.task}: {text}" for task in self.tasks for text in task.not_scored)


def _mean(pairs: Iterable[tuple[int | None, float]]) -> float | None:
    """Weighted mean, added exactly so that the order of tasks tips no digit."""
    kept = [(value, Fraction(weight)) for value, weight in pairs if value is not None]
    total = sum(weight for _, weight in kept)
    return float(sum(value * weight for value, weight in kept) / total) if total else None


def scores_of(state: State) -> DayScores:
    """Published scores of a state.

    Parameters
    ----------
    state : State
        The workstation.

    Returns
    -------
    DayScores
        What lies outside a method's range of use is named there and never pulled into it.

    Notes
    -----
    McAtamney & Corlett 1993; Sonne et al. 2012; ISO 11226 and others: see
    ``docs/methods.md`` for status. How a task is cut into occasions, and that
    the worst of them stands for it, is a judgement.
    """
    tasks = []
    for task in state.tasks:
        evaluation = seen_in(state, task)
        found = {method.name: tuple(occasion_scores(method, evaluation)) for method in methods()}
        tasks.append(TaskScores(task, float(evaluation("task_hours")), found))
    return DayScores(tuple(tasks), class_readings(state))


def score_of(state: State, name: str) -> int | None:
    """One published score of a state as a goal or a limit sees it, without reasons.

    Parameters
    ----------
    state : State
        The workstation.
    name : str
        Of a registered method.

    Returns
    -------
    int or None
        As `DayScores.reached`.
    """
    occasions = method_named(name).occasions
    evaluations = [evaluate(state, task) for task in state.tasks]
    found = [int(one.score) for each in evaluations for one in occasions(each, plain_apply)]
    return None if NOT_SCORED in found else max(found, default=0)
