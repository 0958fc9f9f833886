"""Published scores of a day at a workplace, each with its reasons.

A task's RULA is that of its worst posture, its ROSA that of its seat and
devices with its own hours; the day shows its worst task, and the mean over the
time beside it. The functions called here are the quantities that exact tables
are made of, so a goal and a report cannot differ.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from deskmend.language import tr
from deskmend.risk import rosa, rula, strain
from deskmend.risk.scores import rosa_workplace
from deskmend.risk.scores import rula_workplace as pairings
from deskmend.risk.scores import rula_workplace as rula_postures
from deskmend.risk.scores.classes import ClassHours, ClassReading, class_readings, hours_by_class
from deskmend.risk.scores.rosa_workplace import CHAIR_ITEMS, DEVICE_ITEMS, rosa_of
from deskmend.risk.scores.scored_items import NOT_SCORED, item_call, reason_of
from deskmend.workstation.graph import ROLES, Evaluation
from deskmend.workstation.state import State, evaluate

__all__ = [
    "DayScores",
    "ItemScore",
    "RosaTask",
    "RulaPosture",
    "TaskScores",
    "plain_apply",
    "score_of",
    "scores_of",
]

MODEL = (strain, pairings, rula_postures, rosa_workplace)
"""Modules that register the scores, and the shares of time they need, among the quantities."""

RULA_ITEMS = ("upper_arm", "lower_arm", "wrist", "neck", "trunk", "legs", "muscle_use")


def plain_apply(_label: str, function: Callable[..., Any], arguments: list[Any]) -> Any:
    """Call a function on plain numbers."""
    return function(*arguments)


@dataclass(frozen=True)
class ItemScore:
    """One item with its reason.

    Attributes
    ----------
    item : str
        Name of the item.
    score : int or None
        None where the state is outside the method's range [-].
    reason : str
        As ``neck 3: 24 degrees, band 20 or more``.
    """

    item: str
    score: int | None
    reason: str


@dataclass(frozen=True)
class RulaPosture:
    """RULA of one posture of a task.

    Attributes
    ----------
    hand, target, mode : str
        What the hands do, what is looked at, sitting or standing.
    share : float
        Part of the task's time [-].
    items : tuple of ItemScore
        With reasons.
    score : deskmend.risk.rula.Score or None
        None where an item could not be scored.
    """

    hand: str
    target: str
    mode: str
    share: float
    items: tuple[ItemScore, ...]
    score: rula.Score | None


@dataclass(frozen=True)
class RosaTask:
    """ROSA of one task: items with reasons, and the score or None where an item could not be scored."""

    items: tuple[ItemScore, ...]
    score: rosa.Score | None

    @property
    def leading(self) -> tuple[ItemScore, ...]:
        """Items of the part, chair or devices, that makes the final score."""
        if self.score is None:
            return tuple(item for item in self.items if item.score is None)
        names: tuple[str, ...] = ()
        if self.score.chair == self.score.final:
            names += (*CHAIR_ITEMS, "chair_duration")
        if self.score.monitor_telephone == self.score.final:
            names += DEVICE_ITEMS[:2]
        if self.score.mouse_keyboard == self.score.final:
            names += DEVICE_ITEMS[2:]
        return tuple(item for item in self.items if item.item in names)


@dataclass(frozen=True)
class TaskScores:
    """Published scores of one task.

    Attributes
    ----------
    task : str
        Id.
    hours : float
        Time a day [h].
    seated : float
        Part of it spent sitting [-].
    postures : tuple of RulaPosture
        Every pairing that has time.
    rosa_detail : RosaTask or None
        None where the task is never done sitting: ROSA is for seated work.
    not_scored : tuple of str
        What could not be scored, and why.
    """

    task: str
    hours: float
    seated: float
    postures: tuple[RulaPosture, ...]
    rosa_detail: RosaTask | None
    not_scored: tuple[str, ...]

    @cached_property
    def worst(self) -> RulaPosture | None:
        """Posture with the highest grand score, the one held longest among equals; None if none is scored."""
        scored = [p for p in self.postures if p.score is not None]
        return max(scored, key=lambda p: (_grand(p), p.share), default=None)

    @property
    def rula(self) -> int | None:
        """Grand score of the worst posture [-]."""
        return None if self.worst is None or self.worst.score is None else self.worst.score.grand

    @property
    def rosa(self) -> int | None:
        """Final score [-]."""
        detail = self.rosa_detail
        return None if detail is None or detail.score is None else detail.score.final

    @property
    def rula_mean(self) -> float | None:
        """Mean grand score over the time of the postures that could be scored [-]."""
        return _mean((_grand(p), p.share) for p in self.postures if p.score is not None)


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

    @property
    def rula(self) -> int | None:
        """RULA grand score of the worst task [-]; None where no task could be scored."""
        return max((t.rula for t in self.tasks if t.rula is not None), default=None)

    @property
    def rosa(self) -> int | None:
        """ROSA final score of the worst task [-]; None where none could be scored or all stand."""
        return max((t.rosa for t in self.tasks if t.rosa is not None), default=None)

    @property
    def rula_mean(self) -> float | None:
        """Mean RULA over the hours of the tasks [-]."""
        return _mean((t.rula_mean, t.hours) for t in self.tasks if t.rula_mean is not None)

    @property
    def rosa_mean(self) -> float | None:
        """Mean ROSA over the seated hours of the tasks [-]."""
        return _mean((t.rosa, t.hours * t.seated) for t in self.tasks if t.rosa is not None)

    def lacks(self, name: str) -> bool:
        """Whether some posture or seated task has no score of this name, so that it holds of no day."""
        if name == "rula":
            return any(posture.score is None for task in self.tasks for posture in task.postures)
        return any(task.rosa_detail is not None and task.rosa_detail.score is None for task in self.tasks)

    @property
    def hours(self) -> tuple[ClassHours, ...]:
        """Hours a day of each quantity in each class."""
        return hours_by_class(self.classes)

    @property
    def not_scored(self) -> tuple[str, ...]:
        """What could not be scored, and why."""
        return tuple(f"{task.task}: {text}" for task in self.tasks for text in task.not_scored)


def _grand(posture: RulaPosture) -> int:
    return posture.score.grand if posture.score is not None else 0


def _mean(pairs: Iterable[tuple[float | int | None, float]]) -> float | None:
    """Weighted mean, added exactly so that the order of tasks tips no digit."""
    kept = [(Fraction(value), Fraction(weight)) for value, weight in pairs if value is not None]
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
    ``docs/methods.md`` for status. How a task is cut into postures, and that
    the worst of them stands for it, is a judgement.
    """
    return DayScores(tuple(_task(state, task) for task in state.tasks), class_readings(state))


def score_of(state: State, name: str) -> int | None:
    """Published score of a state as a goal or a limit sees it.

    Parameters
    ----------
    state : State
        The workstation.
    name : str
        ``rula`` or ``rosa``.

    Returns
    -------
    int or None
        Of the worst task [-]; 0 where nothing is done that the score is for; None where something that it is
        for has no score.
    """
    scores = scores_of(state)
    return None if scores.lacks(name) else (scores.rula if name == "rula" else scores.rosa) or 0


def _task(state: State, task: str) -> TaskScores:
    evaluation = evaluate(state, task)
    postures = []
    for mode in ROLES["mode"]:
        in_mode = float(evaluation("mode_share", mode=mode))
        for hand, target in pairings.pairs():
            share = in_mode * float(evaluation("pair_share", hand=hand, target=target))
            if share > 0:
                postures.append(_posture(evaluation, hand, target, mode, share))
    seated = float(evaluation("mode_share", mode="sit"))
    detail = _rosa(evaluation) if seated > 0 else None
    missing = [i.reason for p in postures for i in p.items if i.score is None]
    if detail is None:
        missing.append(tr("ROSA is for seated work, and this is done standing"))
    else:
        missing += [i.reason for i in detail.items if i.score is None]
    hours = float(evaluation("task_hours"))
    return TaskScores(task, hours, seated, tuple(postures), detail, tuple(dict.fromkeys(missing)))


def _posture(evaluation: Evaluation[Any], hand: str, target: str, mode: str, share: float) -> RulaPosture:
    roles = {"hand": hand, "target": target, "mode": mode}
    found = [reason_of(item_call(evaluation, f"rula_{item}_score", **roles)) for item in RULA_ITEMS]
    items = [ItemScore(item, score, text) for item, (score, text) in zip(RULA_ITEMS, found, strict=True)]
    twist, force = (int(evaluation(name)) for name in ("scores_wrist_twist", "scores_force"))
    items.append(ItemScore("wrist_twist", twist, f"{tr('wrist twist')} {twist}: {tr(TWIST[twist])}"))
    if force:
        items.append(ItemScore("force", force, tr("force {score}: as the case says", score=force)))
    by_name = {item.item: item.score for item in items}
    score = None
    if int(evaluation("rula_grand_score", **roles)) != NOT_SCORED:
        known = {name: value for name, value in by_name.items() if value is not None}
        use = known["muscle_use"]
        score = rula.score(
            **{name: known[name] for name in (*RULA_ITEMS[:-1], "wrist_twist")},
            arm_muscle_use=use,
            body_muscle_use=use,
            arm_force=force,
            body_force=force,
        )
    return RulaPosture(hand, target, mode, share, tuple(items), score)


TWIST = {1: "forearm within its middle range", 2: "forearm at the end of its range"}


CHAIR_TIME = {
    -1: "under 30 minutes unbroken or under 1 hour a day",
    0: "30 to 60 minutes unbroken or 1 to 4 hours a day",
    1: "over 60 minutes unbroken or over 4 hours a day",
}


def _rosa(evaluation: Evaluation[Any]) -> RosaTask:
    parts = rosa_of(evaluation, plain_apply)
    items = []
    for name, calls in parts.calls.items():
        found = [reason_of(call) for call in calls]
        missing = [text for score, text in found if score is None]
        if missing:
            items.append(ItemScore(name, None, missing[0]))
        else:
            worst = max(found, key=lambda one: one[0] or 0)
            items.append(ItemScore(name, *worst))
    duration = int(parts.scores["chair_duration"])
    text = f"{tr('time on the chair')} {duration:+d}: {tr(CHAIR_TIME[duration])}"
    items.append(ItemScore("chair_duration", duration, text))
    score = None
    if int(parts.scores["final"]) != NOT_SCORED:
        score = rosa.score(**{item.item: item.score for item in items})  # type: ignore[arg-type]
    return RosaTask(tuple(items), score)
