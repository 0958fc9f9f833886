"""One piece of work about one person, as it travels to whichever process does it."""

from __future__ import annotations

import copyreg
import os
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

KEPT_PEOPLE = 2_500
"""Most people whose exact tables a process keeps: they take some half a megabyte each."""

KEPT_READY = 50
"""Most people of whom it keeps the model as well, some three megabytes each; few questions need it."""

SHARE_OF_MEMORY = 8
"""The searches that all processes keep may take a part of the machine's memory, one in so many."""

LITTLE = 1_000_000_000
"""What they may take together where the machine does not tell its memory [bytes]."""


def memory_for(processes: int) -> int:
    """What the searches kept by one of several processes may take [bytes].

    Parameters
    ----------
    processes : int
        How many there are.
    """
    try:
        whole = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, OSError, ValueError):
        return LITTLE // processes
    return max(whole // SHARE_OF_MEMORY, 0) // processes


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
    memory : int
        What the searches kept may take, about [bytes].
    """

    def __init__(self, workshop: Workshop, memory: int) -> None:
        self.workshop = workshop
        self.memory = memory
        self._people: dict[str, PersonPlans] = {}
        self._weight: dict[str, int] = {}
        self._whole = 0
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
        """Let go of what takes most memory, of whoever came after it was used up."""
        name = plans.row.id
        if len(self._people) > KEPT_READY:
            plans.forget_model()
        weight = plans.weight()
        whole = self._whole + weight - self._weight.get(name, 0)
        if whole > self.memory:
            plans.forget_searches()
            whole -= weight
            weight = 0
        self._whole, self._weight[name] = whole, weight
