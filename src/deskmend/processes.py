"""Processes on this machine that answer questions, each from something that it makes once and keeps.

They are started anew, not forked, and end with whoever started them: by `Processes.close`, or because that
process is gone. Where one dies over a question another takes it up; an error in one is raised here.
"""

from __future__ import annotations

import copyreg
import gc
import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from types import MappingProxyType
from typing import Any

from deskmend.errors import DefectError

__all__ = ["Processes", "begin_child", "usable_cores"]

Answering = Callable[[Any], Any]

MOST_DEATHS = 3
"""Times that a process may die over one row of questions before we give up."""

AHEAD = 2
"""Questions of its own that a process has in hand at a time."""


def usable_cores() -> int:
    """Processor cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _unwrapped(view: MappingProxyType[Any, Any]) -> tuple[Any, ...]:
    return _wrapped, (dict(view),)


def _wrapped(plain: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(plain)


# Catalogs and states hold read-only views, which Python by itself does not send to other processes.
copyreg.pickle(MappingProxyType, _unwrapped)


@dataclass
class _Process:
    """A process, and what ends it, whatever it is at, as soon as it is closed."""

    hands: ProcessPoolExecutor
    alive: Connection

    def end(self) -> None:
        """End it now, without waiting for it."""
        self.hands.shutdown(wait=False, cancel_futures=True)
        self.alive.close()


class Processes:
    """So many processes; each answers by what `make` gives for what is `given`, which is called once in each.

    What is asked under the same key goes to the process that answered it first. A process is started when it
    is first needed.
    """

    def __init__(self, count: int, make: Callable[..., Answering], *given: Any) -> None:
        self.count = count
        self._make, self._given = make, given
        self._running: list[_Process | None] = [None] * count
        self._home: dict[Hashable, int] = {}

    def answers(self, questions: Sequence[tuple[Hashable, Any]]) -> Iterator[tuple[int, Any]]:
        """Ask questions, each with its key; give the position of each with its answer, as they come.

        What a process that died left undone is done by a new one. Raises what a question raised, and
        `DefectError` where processes die again and again.
        """
        left = dict(enumerate(questions))
        deaths = 0
        while left:
            queue = _Queue({place: key for place, (key, _) in left.items()}, self._home, self.count)
            running: dict[Future[Any], tuple[int, int]] = {}
            broken = False
            try:
                while True:
                    for number in range(self.count):
                        for place in () if broken else queue.next_for(number):
                            key, question = left[place]
                            self._home[key] = number
                            try:
                                with _interrupts_held():
                                    future = self._process(number).hands.submit(_answer, question)
                            except BrokenProcessPool:
                                broken = True
                                self._bury(number)
                                break
                            running[future] = number, place
                    if not running:
                        break
                    done, _ = wait(running, return_when=FIRST_COMPLETED)
                    for future in done:
                        number, place = running.pop(future)
                        queue.done(number)
                        try:
                            found = future.result()
                        except BrokenProcessPool:
                            broken = True
                            self._bury(number)
                            continue
                        del left[place]
                        yield place, found
                if broken:
                    deaths += 1
                    if deaths > MOST_DEATHS:
                        raise DefectError(
                            "a worker process died again and again; is there too little memory?"
                        )
            finally:
                for future in running:
                    future.cancel()

    def _process(self, number: int) -> _Process:
        process = self._running[number]
        if process is None:
            # Started anew, not forked: the parent may hold threads of a solver.
            context = multiprocessing.get_context("spawn")
            theirs, ours = context.Pipe(duplex=False)
            given = theirs, gc.get_threshold(), self._make, self._given
            process = _Process(ProcessPoolExecutor(1, context, initializer=_begin, initargs=given), ours)
            self._running[number] = process
        return process

    def _bury(self, number: int) -> None:
        process = self._running[number]
        self._running[number] = None
        if process is not None:
            process.end()

    def close(self) -> None:
        """End all of them, whatever they are at."""
        for number in range(self.count):
            self._bury(number)


class _Queue:
    """Which question is next for which process: its own first, then what is nobody's yet.

    `left` are the places of questions with their keys, `home` the process of each key that has one.
    """

    def __init__(self, left: Mapping[int, Hashable], home: Mapping[Hashable, int], processes: int) -> None:
        self._own: list[deque[int]] = [deque() for _ in range(processes)]
        self._free: deque[int] = deque()
        self._busy = [0] * processes
        for place, key in left.items():
            (self._own[home[key]] if key in home else self._free).append(place)

    def next_for(self, process: int) -> Iterator[int]:
        """Questions to process over now: of its own so many that it never waits, else one when idle."""
        while self._busy[process] < AHEAD and self._own[process]:
            self._busy[process] += 1
            yield self._own[process].popleft()
        if not self._busy[process] and self._free:
            self._busy[process] += 1
            yield self._free.popleft()

    def done(self, process: int) -> None:
        """Take note that a process has answered a question."""
        self._busy[process] -= 1


def begin_child(rings: tuple[int, int, int]) -> None:
    """Let a new process leave interrupts to its parent, and look for rings of records as seldom as that.

    `rings` is what `gc.get_threshold` tells there.
    """
    gc.set_threshold(*rings)
    signal.signal(signal.SIGINT, signal.SIG_IGN)


_answering: Answering | None = None


def _begin(
    alive: Connection, rings: tuple[int, int, int], make: Callable[..., Answering], given: Sequence[Any]
) -> None:
    """Make a new process ready: it ends when its parent says so or is gone."""
    global _answering
    begin_child(rings)
    parent = multiprocessing.parent_process()

    def watch() -> None:
        multiprocessing.connection.wait([alive] if parent is None else [alive, parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    _answering = make(*given)


def _answer(question: Any) -> Any:
    if _answering is None:
        raise DefectError("a process was asked before it was ready")
    return _answering(question)


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
