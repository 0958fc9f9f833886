"""Published scores of a day at a workplace, by every method there is, each with its reasons.

The functions called here are the quantities that exact tables are made of, so a goal and a report cannot
differ.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from importlib import import_module
from pkgutil import iter_modules

from deskmend.language import tr
from deskmend.measures import Hours
from deskmend.risk import strain
from deskmend.risk.scores import methods as folder
from deskmend.risk.scores.classes import ClassHours, ClassReading, class_readings, hours_by_class
from deskmend.risk.scores.method import (
    ItemScore,
    OccasionScore,
    ScoreMethod,
    occasion_scores,
    plain_apply,
    registered,
)
from deskmend.risk.scores.tables import NOT_SCORED
from deskmend.workstation.state import State, evaluate

__all__ = [
    "DayScores",
    "ItemScore",
    "OccasionScore",
    "ScoreMethod",
    "TaskScores",
    "method_named",
    "methods",
    "score_of",
    "scores_of",
]

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
        evaluation = evaluate(state, task)
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
