"""Memory and processor time of a process with all that it started, and work in a process of its own."""

from __future__ import annotations

import multiprocessing
import os
import resource
import sys
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

Answer = TypeVar("Answer")

PROCESSES = Path("/proc")
EVERY = 0.2
"""Seconds between two looks."""


def resident(top: int) -> int | None:
    """Memory that a process and all its descendants hold right now.

    Parameters
    ----------
    top : int
        Number of the process.

    Returns
    -------
    int or None
        Sum of the resident sizes [kB]; pages that processes share count once for each of them. None where
        the system does not tell.
    """
    held: dict[int, int] = {}
    children: dict[int, list[int]] = {}
    for folder in PROCESSES.glob("[0-9]*"):
        try:
            lines = (folder / "status").read_text(encoding="utf-8", errors="replace").splitlines()
        except OSError:
            continue  # it has ended since
        told = dict(line.split(":", 1) for line in lines if ":" in line)
        process = int(folder.name)
        # one that has ended and is not yet waited for holds nothing
        held[process] = int(told.get("VmRSS", "0").split()[0])
        children.setdefault(int(told.get("PPid", "0")), []).append(process)
    if not held.get(top):
        return None
    total, waiting = 0, [top]
    while waiting:
        process = waiting.pop()
        total += held.get(process, 0)
        waiting += children.get(process, [])
    return total


class PeakMemory:
    """The most memory held at one time by this process and all that it started, while this is entered.

    Attributes
    ----------
    most : int or None
        In kB, from looks `EVERY` so often; None where the system does not tell.
    """

    def __init__(self) -> None:
        self.most: int | None = None
        self._ended = threading.Event()
        self._watch = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> PeakMemory:
        self._watch.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        self._watch.join()

    def _look(self) -> None:
        while True:
            now = resident(os.getpid())
            if now is None:
                return
            self.most = max(self.most or 0, now)
            if self._ended.wait(EVERY):
                return


def largest_process() -> int:
    """The most memory that this process, or one that it started and that has ended, held [kB]."""
    own, children = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    kilobyte = 1024 if sys.platform == "darwin" else 1  # there it is told in bytes
    return max(own.ru_maxrss, children.ru_maxrss) // kilobyte


def processor() -> float:
    """Processor time of this process and of those that have ended [s]."""
    own, children = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def alone(work: Callable[..., Answer], *given: Any, seconds: float | None = None) -> Answer | None:
    """Do some work in a new process, so that nothing is left of what was measured before.

    Parameters
    ----------
    work : callable
        A function of a module.
    *given
        What it is called with.
    seconds : float or None
        When the process is ended if it has not answered [s]; None: never.

    Returns
    -------
    Answer or None
        What it gives; None where it gave no answer, or none in time.
    """
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(there, work, given))
    process.start()
    there.close()
    answer: Answer | None = None
    try:
        if here.poll(seconds):
            answer = here.recv()
        else:
            process.kill()
    except EOFError:
        pass  # it died; its own words stand on the screen
    process.join()
    return answer


def _answer(there: Connection, work: Callable[..., Any], given: tuple[Any, ...]) -> None:
    there.send(work(*given))
