"""One piece of work about one person, as it travels to whichever process does it."""

from __future__ import annotations

import copyreg
import os
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

from deskmend.errors import DefectError
from deskmend.grants.plans import Made, PersonPlans, Workshop
from deskmend.grants.plans_every import every
from deskmend.grants.plans_together import made_together, member_of
from deskmend.grants.plans_told import Claim, GivenPlan, claim_of, told_many
from deskmend.intake.applicant_records import Applicant as Row

__all__ = ["Bench", "Question", "Task"]

Question = Literal["applicant", "columns", "best", "every", "told"]

KEPT_PEOPLE = 500
"""Most people whose exact tables a process keeps: they take a megabyte or two each."""

TOGETHER: frozenset[Question] = frozenset(("applicant", "best", "told"))
"""Questions that are answered sooner for many people together."""

KEPT_READY = 50
"""Most people of whom it keeps the model as well, some three megabytes each; few questions need it."""

SHARE_OF_MEMORY = 24
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
        Its arguments; for ``best`` those of several calls.
    """

    row: Row
    given: tuple[tuple[str, int], ...]
    question: Question
    told: tuple[Any, ...]


class Bench:
    """Answers questions about people, and keeps the models of the first ones.

    What is kept only saves time: an answer is the same whoever was asked about before or together with.

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

    def answers(self, tasks: Sequence[Task]) -> list[Any]:
        """Work on the same question about some people; one call at a time, since a model serves one thread.

        Parameters
        ----------
        tasks : sequence of Task
            All with the same question.
        """
        with self._lock:
            if tasks and tasks[0].question == "told":
                return self._told(tasks)
            new = [task for task in tasks if self._known(task) is None]
            made = made_together([(task.row, task.given) for task in new], self.workshop)
            out = []
            for task in tasks:
                plans = self._plans(task, made)
                out.append(self._answer(plans, task))
                self._make_room(plans)
            return out

    def _told(self, tasks: Sequence[Task]) -> list[GivenPlan]:
        out: list[GivenPlan | None] = [None] * len(tasks)
        for steps in (False, True):
            numbers = [k for k, task in enumerate(tasks) if task.told[1] == steps]
            claims = [self._claim(tasks[k]) for k in numbers]
            for k, given in zip(numbers, told_many(claims, self.workshop, steps), strict=True):
                out[k] = given
        return [given for given in out if given is not None]

    def _claim(self, task: Task) -> Claim:
        """What the check needs; no tables, unless the person's free plan has to be found first."""
        column, _, free = task.told
        known = self._known(task)
        if known is None and free is not None and column.choice is not None:
            member = member_of(task.row, self.workshop, task.given)
            return Claim(
                task.row, member.case, member.state, member.offers, member.weights, column, int(free)
            )
        return claim_of(self._plans(task, {}) if known is None else known, column)

    def _answer(self, plans: PersonPlans, task: Task) -> Any:
        if task.question == "applicant":
            return plans.applicant()
        if task.question == "columns":
            return plans.columns(*task.told)
        if task.question == "best":
            return [plans.best(*asked) for asked in task.told]
        if task.question == "every":
            return every(plans, *task.told)
        raise DefectError(f"nobody answers {task.question}")

    def _known(self, task: Task) -> PersonPlans | None:
        known = self._people.get(task.row.id)
        return known if known is not None and known.row == task.row and known.given == task.given else None

    def _plans(self, task: Task, made: Mapping[str, Made]) -> PersonPlans:
        name = task.row.id
        known = self._known(task)
        if known is None:
            known = PersonPlans(task.row, self.workshop, task.given, made.get(name))
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
            weight = plans.weight()
            whole += weight
        self._whole, self._weight[name] = whole, weight
