"""The engine behind the page: one process that keeps cases ready, asked one thing at a time, and stoppable.

Work that takes long cannot be interrupted from within, so stopping ends the process and starts another; it
keeps nothing but what can be worked out again.
"""

from __future__ import annotations

import gc
import multiprocessing
import multiprocessing.connection
import os
import queue
import secrets
import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from deskmend.errors import InputFaults
from deskmend.language import measuring, reading, tr
from deskmend.local_page.work import KeptCases, NotPossible
from deskmend.processes import begin_child
from deskmend.progress import listening

__all__ = ["EngineProcess", "Inquiry", "Manner"]

KEPT_ANSWERS = 40
"""Most answers that are kept for a page to fetch."""
WARM = "warm"
"""The question that nobody waits for: load what all others need."""
MOST_WAITING = 8
"""Most questions that wait for the engine."""
LEFT_ALONE = 5.0
"""Seconds after which a question that nobody asks about any more is stopped: its page was left."""
_TOLD_EVERY = 0.1
"""Seconds between two words on how far the work is."""

InquiryState = Literal["waiting", "working", "done", "faults", "no_plan", "stopped", "defect"]


@dataclass(frozen=True)
class Manner:
    """How sentences are told: the language, and the unit of length."""

    language: str
    unit: str


@dataclass
class Inquiry:
    """One question to the engine, and what has become of it."""

    what: str
    given: Mapping[str, Any]
    number: str = field(default_factory=lambda: secrets.token_urlsafe(12))
    state: InquiryState = "waiting"
    answer: Any = None
    early: Any = None
    """What is known of the answer before the rest of it."""
    done: int = 0
    whole: int = 0
    began: float = field(default_factory=time.monotonic)
    looked_at: float = field(default_factory=time.monotonic)
    """When somebody last asked how far it is."""
    ended: threading.Event = field(default_factory=threading.Event)

    @property
    def seconds(self) -> float:
        """Time since it was asked [s]."""
        return time.monotonic() - self.began

    @property
    def left_alone(self) -> bool:
        """Whether nobody waits for it any more."""
        return self.what != WARM and time.monotonic() - self.looked_at > LEFT_ALONE

    def end(self, state: InquiryState, answer: Any = None) -> None:
        """Say what has become of it, once."""
        if not self.ended.is_set():
            # files and pictures are not kept longer than they are worked on
            self.given = {key: one for key, one in self.given.items() if not isinstance(one, bytes)}
            self.answer, self.state = answer, state
            self.ended.set()


class EngineProcess:
    """Hands questions to the one process, in turn; used from the server's own thread."""

    def __init__(self, catalog: str | None, prices: str | None, manner: Manner) -> None:
        self._told = (catalog, prices, manner)
        self._waiting: queue.Queue[Inquiry | None] = queue.Queue()
        self._known: OrderedDict[str, Inquiry] = OrderedDict()
        self._lock = threading.Lock()
        self._closed = False
        self._now: Inquiry | None = None
        self._start()
        self._thread = threading.Thread(target=self._serve, daemon=True, name="engine")
        self._thread.start()

    def ask(self, what: str, given: Mapping[str, Any]) -> Inquiry | None:
        """Ask something; None where too much is waiting already."""
        with self._lock:
            if self._waiting.qsize() >= MOST_WAITING:
                return None
            asked = Inquiry(what, given)
            self._known[asked.number] = asked
            while len(self._known) > KEPT_ANSWERS:
                self._known.popitem(last=False)
        self._waiting.put(asked)
        return asked

    def find(self, number: str) -> Inquiry | None:
        """A question asked before; None where it is long over."""
        with self._lock:
            return self._known.get(number)

    def stop(self, asked: Inquiry) -> None:
        """Stop working on a question; the process ends with it, and another one starts."""
        with self._lock:
            running = asked is self._now and not asked.ended.is_set()
            asked.end("stopped")
            if running:
                self._process.kill()

    def close(self) -> None:
        """End the process."""
        self._closed = True
        self._waiting.put(None)
        with self._lock:
            self._process.kill()
        self._thread.join(5.0)

    @property
    def pid(self) -> int | None:
        """The process that works now."""
        return self._process.pid

    def _start(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(
            target=_work,
            args=(theirs, os.getpid(), gc.get_threshold(), *self._told),
            daemon=True,
            name="deskmend engine",
        )
        self._process.start()
        theirs.close()

    def _serve(self) -> None:
        while (asked := self._waiting.get()) is not None:
            with self._lock:
                if asked.left_alone:
                    asked.end("stopped")
                if asked.ended.is_set():
                    continue
                self._now, asked.state = asked, "working"
            try:
                self._pipe.send((asked.what, dict(asked.given)))
                self._listen(asked)
            except (EOFError, OSError):
                self._restart(asked)
            with self._lock:
                self._now = None

    def _listen(self, asked: Inquiry) -> None:
        while True:
            if not self._pipe.poll(0.25):
                if asked.left_alone:
                    self.stop(asked)
                continue
            kind, *told = self._pipe.recv()
            if kind == "progress":
                asked.done, asked.whole = told
            elif kind == "early":
                asked.early = told[0]
            else:
                asked.end(kind, told[0])
                return

    def _restart(self, asked: Inquiry) -> None:
        """Begin anew after the process has ended, stopped or by itself."""
        if self._closed:
            asked.end("stopped")
            return
        with self._lock:
            self._process.join(5.0)
            self._pipe.close()
            self._start()
        asked.end("defect", tr("The engine ended by itself. It has started anew: try again."))


def _work(
    pipe: multiprocessing.connection.Connection,
    parent: int,
    rings: tuple[int, int, int],
    catalog: str | None,
    prices: str | None,
    manner: Manner,
) -> None:
    """Answer questions until nobody is there to ask any more."""
    begin_child(rings)
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    with reading(manner.language), measuring(manner.unit):
        cases = KeptCases(catalog, prices)
        while True:
            try:
                what, given = pipe.recv()
            except EOFError:
                return
            pipe.send(_answered(cases, pipe, what, given))


def _end_with(parent: int) -> None:
    """End when the server has been killed: long work must not go on for nobody."""
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(1)


def _answered(
    cases: KeptCases, pipe: multiprocessing.connection.Connection, what: str, given: dict[str, Any]
) -> tuple[InquiryState, Any]:
    last = 0.0

    def tell(done: int, whole: int) -> None:
        nonlocal last
        if time.monotonic() - last > _TOLD_EVERY:
            last = time.monotonic()
            pipe.send(("progress", done, whole))

    try:
        with listening(tell):
            return "done", cases.answer(what, given, lambda told: pipe.send(("early", told)))
    except NotPossible as told:
        return "no_plan", told.answer
    except InputFaults as found:
        return "faults", cases.faults(found)
    except Exception as error:
        # Whatever it is, the page must hear of it, and the next question be answered.
        if os.environ.get("DESKMEND_DEBUG") == "1":
            traceback.print_exception(error)
        return "defect", tr("This is a defect of deskmend: {kind}.", kind=type(error).__name__)
