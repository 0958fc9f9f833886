"""The plans of many people at once: in this process, in several on this machine, or elsewhere.

Where the work is done stands behind one small interface, `Workers`; whoever shares the fund sees a `People`.

One piece of work about one person, as it travels to whichever process does it.
"""

from __future__ import annotations

import copyreg
import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import resource_tracker
from types import MappingProxyType
from typing import Any, Literal, Protocol

from deskmend.errors import DefectError
from deskmend.grants.people.check import Claim, GivenPlan, claim_of, told_many
from deskmend.grants.people.columns import Applicant, Asked, Band, Column
from deskmend.grants.people.plans import Made, PersonPlans, Workshop, every, made_together, member_of
from deskmend.intake.applicants import Applicant as Row

__all__ = ["Bench", "Done", "InProcess", "LocalProcesses", "People", "Question", "Task", "Workers"]

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


Done = Callable[[int, int], None]
"""Told how many of how many people are done."""

MOST_DEATHS = 3
"""Times that a worker may die over one batch before we give up."""


class Workers(Protocol):
    """Whoever answers questions about people. No answer depends on what else is asked."""

    def answers(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Any]]:
        """Give the position of each task with its answer, in any order.

        Parameters
        ----------
        tasks : sequence of Task
            Questions.
        """
        ...

    def close(self) -> None:
        """Let go of processes and connections."""
        ...


class InProcess:
    """Work done here, one person after the other.

    Parameters
    ----------
    workshop : Workshop
        Catalog, prices and rules.
    """

    def __init__(self, workshop: Workshop) -> None:
        self._bench = Bench(workshop, memory_for(1))
        self._batch: dict[str, int] = {}

    def answers(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`."""
        for _, numbers in in_batches(tasks, self._batch):
            found = self._bench.answers([tasks[number] for number in numbers])
            yield from zip(numbers, found, strict=True)

    def close(self) -> None:
        """As in `Workers`."""


MOST_IN_A_BATCH = 100
"""Most people in a batch: enough that many of them can choose among the same."""

BATCHES_EACH = 3
"""Fewest batches for each process, so that none waits long for the last."""

IN_HAND = 2
"""Batches of its own people that a process has in hand at a time."""


def in_batches(tasks: Sequence[Task], known: dict[str, int], hands: int = 1) -> list[tuple[int, list[int]]]:
    """Part tasks into batches of people who are alike; whoever was in a batch once stays in it.

    Parameters
    ----------
    tasks : sequence of Task
        All with the same question.
    known : dict of str to int
        Batch of everybody met so far; people met now are added.
    hands : int
        Processes that work.

    Returns
    -------
    list of (int, list of int)
        Number of a batch, with the positions of tasks that are answered together.
    """
    new = [task.row for task in tasks if task.row.id not in known]
    size = min(MOST_IN_A_BATCH, -(-len(new) // (BATCHES_EACH * hands))) if new else 1
    first = max(known.values(), default=-1) + 1
    for place, row in enumerate(sorted(new, key=_likeness)):
        known[row.id] = first + place // size
    if tasks and tasks[0].question not in TOGETHER:
        # Each takes long, and together none is sooner; whoever waits wants to hear of each.
        return [(known[task.row.id], [number]) for number, task in enumerate(tasks)]
    batches: dict[int, list[int]] = {}
    for number, task in enumerate(tasks):
        batches.setdefault(known[task.row.id], []).append(number)
    return list(batches.items())


def _likeness(row: Row) -> tuple[str, str]:
    """What mostly says what somebody can choose among, so that alike people come together."""
    case = row.case
    told = [
        [(task.main, task.reference, task.writing) for task in case.tasks],
        [(place.seat.back, place.seat.base) if place.seat else None for place in case.places],
        [place.desk.edge for place in case.places],
        (case.devices.keyboard, case.devices.mouse, case.means.skill, case.means.tools, case.means.may_alter),
        sorted(case.owns),
    ]
    return repr(told), row.id


_bench: Bench | None = None


def _begin(workshop: Workshop, memory: int) -> None:
    """Make a new worker ready: it leaves interrupts to its parent, and ends when its parent does."""
    global _bench
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent is not None:
            multiprocessing.connection.wait([parent.sentinel])
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    _bench = Bench(workshop, memory)


def _answers(tasks: Sequence[Task]) -> list[Any]:
    if _bench is None:
        raise DefectError("a worker was asked before it was ready")
    return _bench.answers(tasks)


class _Queue:
    """Which batch is next for which process: its own first, then what is nobody's yet."""

    def __init__(
        self, left: Mapping[int, tuple[int, list[int]]], seat: Mapping[int, int], hands: int
    ) -> None:
        self._own: list[deque[int]] = [deque() for _ in range(hands)]
        self._free: deque[int] = deque()
        self._busy = [0] * hands
        for place, (batch, _) in left.items():
            (self._own[seat[batch]] if batch in seat else self._free).append(place)

    def next_for(self, hand: int) -> Iterator[int]:
        """Batches to hand over now: of its own so many that it never waits, of the rest one when idle."""
        while self._busy[hand] < IN_HAND and self._own[hand]:
            self._busy[hand] += 1
            yield self._own[hand].popleft()
        if not self._busy[hand] and self._free:
            self._busy[hand] += 1
            yield self._free.popleft()

    def done(self, hand: int) -> None:
        """Take note that a process has finished a batch."""
        self._busy[hand] -= 1


class LocalProcesses:
    """Work done by processes on this machine; each person stays with one of them, which keeps the model.

    Parameters
    ----------
    workshop : Workshop
        Catalog, prices and rules.
    count : int
        Processes.
    """

    def __init__(self, workshop: Workshop, count: int) -> None:
        self._workshop = workshop
        self._hands: list[ProcessPoolExecutor | None] = [None] * count
        self._batch: dict[str, int] = {}
        self._seat: dict[int, int] = {}

    def _hand(self, number: int) -> ProcessPoolExecutor:
        hand = self._hands[number]
        if hand is None:
            # Started anew, not forked: the parent may hold threads of a solver.
            context = multiprocessing.get_context("spawn")
            given = self._workshop, memory_for(len(self._hands))
            hand = ProcessPoolExecutor(1, context, initializer=_begin, initargs=given)
            self._hands[number] = hand
        return hand

    def answers(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`; what a worker that died left undone is done by a new one."""
        left = dict(enumerate(in_batches(tasks, self._batch, len(self._hands))))
        deaths = 0
        while left:
            queue = _Queue(left, self._seat, len(self._hands))
            running: dict[Future[Any], tuple[int, int]] = {}
            broken = False
            try:
                while True:
                    for hand in range(len(self._hands)):
                        for place in () if broken else queue.next_for(hand):
                            batch, numbers = left[place]
                            self._seat[batch] = hand
                            try:
                                with _interrupts_held():
                                    future = self._hand(hand).submit(
                                        _answers, [tasks[number] for number in numbers]
                                    )
                            except BrokenProcessPool:
                                broken = True
                                self._bury(hand)
                                break
                            running[future] = hand, place
                    if not running:
                        break
                    done, _ = wait(running, return_when=FIRST_COMPLETED)
                    for future in done:
                        hand, place = running.pop(future)
                        queue.done(hand)
                        try:
                            found = future.result()
                        except BrokenProcessPool:
                            broken = True
                            self._bury(hand)
                            continue
                        yield from zip(left.pop(place)[1], found, strict=True)
                if broken:
                    deaths += 1
                    if deaths > MOST_DEATHS:
                        raise DefectError(
                            "a worker process died again and again; is there too little memory?"
                        )
            finally:
                for future in running:
                    future.cancel()

    def _bury(self, number: int) -> None:
        hand = self._hands[number]
        self._hands[number] = None
        if hand is not None:
            hand.shutdown(wait=False, cancel_futures=True)

    def close(self) -> None:
        """As in `Workers`."""
        for number in range(len(self._hands)):
            self._bury(number)


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back while processes start: they begin deaf to it, and here it comes through afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # Its start lets Ctrl-C through again, so it has to be there before.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class People:
    """Applicants whose plans are worked out by workers: the pool that the fund is shared from.

    Parameters
    ----------
    rows : sequence of Applicant
        The rows.
    workers : Workers
        Who works.
    base : mapping of str to int
        Listed price of a pack of every item [minor units].
    given : mapping of str to tuple
        Packs given before, (item, packs) by id.
    done : callable or None
        Told how far a batch is.
    """

    def __init__(
        self,
        rows: Sequence[Row],
        workers: Workers,
        base: Mapping[str, int],
        given: Mapping[str, tuple[tuple[str, int], ...]] | None = None,
        done: Done | None = None,
    ) -> None:
        self._rows = {row.id: row for row in rows}
        self._workers = workers
        self._base = dict(base)
        self._given = given or {}
        self._done = done
        self._free: dict[str, int] = {}

    def applicants(self) -> list[Applicant]:
        """Everybody as the engine sees them, by id."""
        found = self._ask("applicant", {name: () for name in sorted(self._rows)})
        self._free = {name: one.strain_free for name, one in found.items()}
        return [found[name] for name in sorted(found)]

    def columns(self, prices: Mapping[str, int], ids: Sequence[str]) -> Mapping[str, Sequence[Column]]:
        """As in `deskmend.grants.people.columns.Pool`."""
        return self._ask("columns", {name: (dict(prices), {}) for name in ids})

    def best(
        self, prices: Mapping[str, int], strain_weights: Mapping[str, int], money_weight: int
    ) -> Mapping[str, Column]:
        """As in `deskmend.grants.people.columns.Pool`."""
        return self.best_at([Asked(prices, strain_weights, money_weight)])[0]

    def best_at(self, questions: Sequence[Asked]) -> Sequence[Mapping[str, Column]]:
        """As in `deskmend.grants.people.columns.Pool`: whoever is asked answers all at once."""
        told: dict[str, list[tuple[Any, ...]]] = {}
        for asked in questions:
            prices = dict(asked.prices)
            for name, weight in asked.strain_weights.items():
                told.setdefault(name, []).append((prices, weight, asked.money_weight, {}))
        found = self._ask("best", {name: tuple(mine) for name, mine in told.items()})
        answers = {name: iter(mine) for name, mine in found.items()}
        return [{name: next(answers[name]) for name in asked.strain_weights} for asked in questions]

    def every(self, items: Sequence[str], bands: Mapping[str, Band]) -> Mapping[str, Sequence[Column] | None]:
        """As in `deskmend.grants.people.columns.Pool`."""
        return self._ask("every", {name: (self._base, tuple(items), band) for name, band in bands.items()})

    def told(self, chosen: Mapping[str, Column], steps: bool) -> dict[str, GivenPlan]:
        """Check what everybody is given without the optimiser, and say what it is.

        Parameters
        ----------
        chosen : mapping of str to Column
            By id.
        steps : bool
            Whether to put each person's fixes in the order of doing.
        """
        return self._ask(
            "told", {name: (column, steps, self._free.get(name)) for name, column in chosen.items()}
        )

    def _ask(self, question: Question, arguments: Mapping[str, tuple[Any, ...]]) -> dict[str, Any]:
        names = list(arguments)
        tasks = [
            Task(self._rows[name], self._given.get(name, ()), question, arguments[name]) for name in names
        ]
        found: dict[str, Any] = {}
        for number, answer in self._workers.answers(tasks):
            found[names[number]] = answer
            if self._done is not None:
                self._done(len(found), len(names))
        return {name: found[name] for name in names}
