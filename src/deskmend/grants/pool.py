"""The plans of many people at once: in this process, in several on this machine, or elsewhere.

Where the work is done stands behind one small interface, `Workers`; whoever shares the fund sees a `People`.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import resource_tracker
from typing import Any, Protocol

from deskmend.errors import DefectError
from deskmend.grants.person import Applicant, Band, Column
from deskmend.grants.plans import Workshop
from deskmend.grants.plans_told import GivenPlan
from deskmend.grants.pool_task import Bench, Question, Task, memory_for
from deskmend.intake.applicant_records import Applicant as Row

__all__ = ["Done", "InProcess", "LocalProcesses", "People", "Workers"]

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

    def answers(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`."""
        for number, task in enumerate(tasks):
            yield number, self._bench.answer(task)

    def close(self) -> None:
        """As in `Workers`."""


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


def _answer(task: Task) -> Any:
    if _bench is None:
        raise DefectError("a worker was asked before it was ready")
    return _bench.answer(task)


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
        self._seat: dict[str, int] = {}

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
        for task in tasks:
            self._seat.setdefault(task.row.id, len(self._seat) % len(self._hands))
        left = dict(enumerate(tasks))
        deaths = 0
        while left:
            running: dict[Future[Any], int] = {}
            try:
                with _interrupts_held():
                    for number, task in left.items():
                        try:
                            running[self._hand(self._seat[task.row.id]).submit(_answer, task)] = number
                        except BrokenProcessPool:
                            self._bury(self._seat[task.row.id])
                broken = False
                while running:
                    done, _ = wait(running, return_when=FIRST_COMPLETED)
                    for future in done:
                        number = running.pop(future)
                        try:
                            answer = future.result()
                        except BrokenProcessPool:
                            broken = True
                            self._bury(self._seat[left[number].row.id])
                            continue
                        del left[number]
                        yield number, answer
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

    def applicants(self) -> list[Applicant]:
        """Everybody as the engine sees them, by id."""
        found = self._ask("applicant", {name: () for name in sorted(self._rows)})
        return [found[name] for name in sorted(found)]

    def columns(self, prices: Mapping[str, int], ids: Sequence[str]) -> Mapping[str, Sequence[Column]]:
        """As in `deskmend.grants.person.Pool`."""
        return self._ask("columns", {name: (dict(prices), {}) for name in ids})

    def best(
        self, prices: Mapping[str, int], strain_weights: Mapping[str, int], money_weight: int
    ) -> Mapping[str, Column]:
        """As in `deskmend.grants.person.Pool`."""
        asked: dict[str, tuple[Any, ...]] = {
            name: (dict(prices), weight, money_weight, {}) for name, weight in strain_weights.items()
        }
        return self._ask("best", asked)

    def every(self, items: Sequence[str], bands: Mapping[str, Band]) -> Mapping[str, Sequence[Column] | None]:
        """As in `deskmend.grants.person.Pool`."""
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
        return self._ask("told", {name: (column, steps) for name, column in chosen.items()})

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
