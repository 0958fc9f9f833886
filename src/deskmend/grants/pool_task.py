"""One piece of work about one person, as it travels to whichever process does it."""

from __future__ import annotations

import copyreg
import threading
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

from deskmend.grants.plans import PersonPlans, Workshop
from deskmend.grants.plans_every import every
from deskmend.grants.plans_told import told
from deskmend.intake.applicant_records import Applicant as Row

__all__ = ["Bench", "Question", "Task"]

Question = Literal["applicant", "columns", "best", "every", "told"]

KEPT_PEOPLE = 3_000
"""Most people whose exact tables a process keeps: they take some half a megabyte each."""

KEPT_WHOLE = 100
"""Most people of whom it keeps model and searches as well, some ten megabytes each."""


def _unwrapped(view: MappingProxyType[Any, Any]) -> tuple[Any, ...]:
    return _wrapped, (dict(view),)


def _wrapped(plain: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(plain)


# Catalogs and states hold read-only views, which Python by itself does not send to other processes.
copyreg.pickle(MappingProxyType, _unwrapped)


@dataclass(frozen=True)
class Task:
    """A question about one person.

    Attributes
    ----------
    row : Applicant
        The person's row.
    given : tuple of (str, int)
        Packs given before, by item.
    question : str
        What is asked: the method of `PersonPlans` of that name; ``every`` finds all plans that can matter.
    told : tuple
        Its arguments.
    """

    row: Row
    given: tuple[tuple[str, int], ...]
    question: Question
    told: tuple[Any, ...]


class Bench:
    """Answers questions about people, and keeps the models of the first ones.

    What is kept only saves time: an answer is the same whoever was asked about before.

    Parameters
    ----------
    workshop : Workshop
        Catalog, prices and rules.
    """

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop
        self._people: dict[str, PersonPlans] = {}
        self._whole: set[str] = set()
        self._lock = threading.Lock()

    def answer(self, task: Task) -> Any:
        """Work on one question; one at a time, since a model is no place for two threads.

        Parameters
        ----------
        task : Task
            The question.
        """
        with self._lock:
            plans = self._plans(task)
            answer = self._answer(plans, task)
            self._make_room(plans)
            return answer

    def _answer(self, plans: PersonPlans, task: Task) -> Any:
        if task.question == "applicant":
            return plans.applicant()
        if task.question == "columns":
            return plans.columns(*task.told)
        if task.question == "best":
            return plans.best(*task.told)
        if task.question == "every":
            return every(plans, *task.told)
        return told(plans, *task.told)

    def _plans(self, task: Task) -> PersonPlans:
        name = task.row.id
        known = self._people.get(name)
        if known is None or known.row != task.row or known.given != task.given:
            known = PersonPlans(task.row, self.workshop, task.given)
            # The first ones stay: people are asked about in turn, so whoever was asked last comes last again.
            if name in self._people or len(self._people) < KEPT_PEOPLE:
                self._people[name] = known
        return known

    def _make_room(self, plans: PersonPlans) -> None:
        if plans.row.id not in self._whole and len(self._whole) >= KEPT_WHOLE:
            plans.slim()
        else:
            self._whole.add(plans.row.id)
