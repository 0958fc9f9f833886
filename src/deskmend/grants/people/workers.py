"""The plans of many people at once: in this process, in several on this machine, or elsewhere.

A question about one person travels as a `Job` to whichever process does it; where the work is done stands
behind one small interface, `Workers`; whoever shares the fund sees a `People`.
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
from deskmend.grants.people.check import Claim, GivenPlan, check_plans, claim_of, column_given
from deskmend.grants.people.columns import Applicant, Column, CostBand, PriceQuery
from deskmend.grants.people.offered import BestLeftOut, OfferedPlans
from deskmend.grants.people.plans import (
    Made,
    PersonPlans,
    PlanBasis,
    every,
    made_together,
    member_of,
)
from deskmend.intake.applicants import ApplicantRow
from deskmend.intake.given_before import Had

__all__ = ["Done", "InProcess", "Job", "JobKind", "LocalProcesses", "People", "PersonCache", "Workers"]

JobKind = Literal["applicant", "columns", "best", "every", "told", "left_out"]

KEPT_PEOPLE = 500
"""Most people whose exact tables a process keeps: they take a megabyte or two each."""

TOGETHER: frozenset[JobKind] = frozenset(("applicant", "best", "told"))
"""Questions that are answered sooner for many people together."""

KEPT_READY = 50
"""Most people of whom it keeps the model as well, some three megabytes each; few questions need it."""

SHARE_OF_MEMORY = 24
"""The searches that all processes keep may take a part of the machine's memory, one in so many."""

LITTLE = 1_000_000_000
"""What they may take together where the machine does not tell its memory [bytes]."""


def memory_for(processes: int) -> int:
    """What the searches kept by one of so many processes may take [bytes]."""
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
class Job:
    """A question about one person, who has something from before.

    ``question`` is the method of `PersonPlans` of that name, ``every`` for all plans that can matter; for
    ``best``, `arguments` are those of several calls.
    """

    row: ApplicantRow
    had: Had
    question: JobKind
    arguments: tuple[Any, ...]


class PersonCache:
    """Answers questions about people, and keeps the models of the first ones, within about `memory` [bytes].

    Of whoever is offered listed plans only these are kept, since they answer whatever is asked. What is kept
    only saves time: an answer is the same whoever was asked about before or together with.
    """

    def __init__(self, basis: PlanBasis, memory: int) -> None:
        self.basis = basis
        self.memory = memory
        self._people: dict[str, PersonPlans] = {}
        self._offered: dict[str, OfferedPlans] = {}
        self._weight: dict[str, int] = {}
        self._whole = 0
        self._lock = threading.Lock()

    def answers(self, jobs: Sequence[Job]) -> list[Any]:
        """Work on one question about some people; one call at a time, since a model serves one thread."""
        with self._lock:
            if jobs and jobs[0].question == "told":
                return self._told(jobs)
            new = [job for job in jobs if self._known(job) is None]
            made = made_together([(job.row, job.had) for job in new], self.basis)
            out = []
            for job in jobs:
                plans = self._known(job) or self._met(job, made)
                out.append(self._answer(plans, job))
                if isinstance(plans, PersonPlans) and self._people.get(job.row.id) is plans:
                    self._make_room(plans)
            return out

    def _told(self, jobs: Sequence[Job]) -> list[GivenPlan]:
        out: list[GivenPlan | None] = [None] * len(jobs)
        for steps in (False, True):
            numbers = [k for k, job in enumerate(jobs) if job.arguments[1] == steps]
            claims = [self._claim(jobs[k]) for k in numbers]
            for k, given in zip(numbers, check_plans(claims, self.basis, steps), strict=True):
                out[k] = given
        return [given for given in out if given is not None]

    def _claim(self, job: Job) -> Claim:
        """What the check needs; no tables, unless the person's free plan has to be found first."""
        column, _, free = job.arguments
        known = self._known(job)
        if isinstance(known, PersonPlans):
            return claim_of(known, column)
        if known is not None:
            column, free = column_given(column, known), known.free.strain
        if free is None or column.choice is None:
            return claim_of(PersonPlans(job.row, self.basis, job.had), column)
        member = member_of(job.row, self.basis, job.had)
        return Claim(job.row, member.case, member.state, member.offers, member.weights, column, int(free))

    def _answer(self, plans: PersonPlans | OfferedPlans, job: Job) -> Any:
        if job.question == "columns":
            return plans.columns(*job.arguments)
        if job.question == "best":
            return [plans.best(*asked) for asked in job.arguments]
        if job.question == "applicant":
            return plans.applicant()
        if job.question == "left_out":
            return plans.left_out()
        if job.question == "every":
            return list(plans.offered) if isinstance(plans, OfferedPlans) else every(plans, *job.arguments)
        raise DefectError(f"nobody answers {job.question}")

    def _known(self, job: Job) -> PersonPlans | OfferedPlans | None:
        for known in (self._offered.get(job.row.id), self._people.get(job.row.id)):
            if known is not None and known.row == job.row and known.had == job.had:
                return known
        return None

    def _met(self, job: Job, made: dict[str, Made]) -> PersonPlans | OfferedPlans:
        """Somebody of whom nothing is known yet."""
        name = job.row.id
        plans = PersonPlans(job.row, self.basis, job.had, made.pop(name, None))
        if plans.listed_only:
            # a search is made once, and the next one finds its memory free
            offered = self._offered[name] = plans.offered_alone()
            return offered
        # The first ones stay: people are asked about in turn, so whoever was asked last comes last again.
        if name in self._people or len(self._people) < KEPT_PEOPLE:
            self._people[name] = plans
        return plans

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

    def answers(self, jobs: Sequence[Job]) -> Iterator[tuple[int, Any]]:
        """Give the position of each job with its answer, in any order."""
        ...

    def close(self) -> None:
        """Let go of processes and connections."""
        ...


class InProcess:
    """Work done here, one person after the other."""

    def __init__(self, basis: PlanBasis) -> None:
        self._cache = PersonCache(basis, memory_for(1))
        self._batch: dict[str, int] = {}

    def answers(self, jobs: Sequence[Job]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`."""
        for _, numbers in in_batches(jobs, self._batch):
            found = self._cache.answers([jobs[number] for number in numbers])
            yield from zip(numbers, found, strict=True)

    def close(self) -> None:
        """As in `Workers`."""


MOST_IN_A_BATCH = 100
"""Most people in a batch: enough that many of them can choose among the same."""

BATCHES_EACH = 3
"""Fewest batches for each process, so that none waits long for the last."""

AHEAD = 2
"""Batches of its own people that a process has in hand at a time."""


def in_batches(jobs: Sequence[Job], known: dict[str, int], processes: int = 1) -> list[tuple[int, list[int]]]:
    """Part jobs of one question into batches of people who are alike, for so many processes.

    `known` holds the batch of everybody met so far; people met now are added, and whoever was in a batch once
    stays in it. Gives the number of each batch, with the positions of the jobs that are answered together.
    """
    new = [job.row for job in jobs if job.row.id not in known]
    size = min(MOST_IN_A_BATCH, -(-len(new) // (BATCHES_EACH * processes))) if new else 1
    first = max(known.values(), default=-1) + 1
    for place, row in enumerate(sorted(new, key=_likeness)):
        known[row.id] = first + place // size
    if jobs and jobs[0].question not in TOGETHER:
        # Each takes long, and together none is sooner; whoever waits wants to hear of each.
        return [(known[job.row.id], [number]) for number, job in enumerate(jobs)]
    batches: dict[int, list[int]] = {}
    for number, job in enumerate(jobs):
        batches.setdefault(known[job.row.id], []).append(number)
    return list(batches.items())


def _likeness(row: ApplicantRow) -> tuple[str, str]:
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


_cache: PersonCache | None = None


def _begin(basis: PlanBasis, memory: int) -> None:
    """Make a new worker ready: it leaves interrupts to its parent, and ends when its parent does."""
    global _cache
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent is not None:
            multiprocessing.connection.wait([parent.sentinel])
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    _cache = PersonCache(basis, memory)


def _answers(jobs: Sequence[Job]) -> list[Any]:
    if _cache is None:
        raise DefectError("a worker was asked before it was ready")
    return _cache.answers(jobs)


class _Queue:
    """Which batch is next for which process: its own first, then what is nobody's yet."""

    def __init__(
        self, left: Mapping[int, tuple[int, list[int]]], home: Mapping[int, int], processes: int
    ) -> None:
        self._own: list[deque[int]] = [deque() for _ in range(processes)]
        self._free: deque[int] = deque()
        self._busy = [0] * processes
        for place, (batch, _) in left.items():
            (self._own[home[batch]] if batch in home else self._free).append(place)

    def next_for(self, process: int) -> Iterator[int]:
        """Batches to process over now: of its own so many that it never waits, of the rest one when idle."""
        while self._busy[process] < AHEAD and self._own[process]:
            self._busy[process] += 1
            yield self._own[process].popleft()
        if not self._busy[process] and self._free:
            self._busy[process] += 1
            yield self._free.popleft()

    def done(self, process: int) -> None:
        """Take note that a process has finished a batch."""
        self._busy[process] -= 1


class LocalProcesses:
    """Work done by so many processes on this machine; each person stays with one, which keeps the model."""

    def __init__(self, basis: PlanBasis, count: int) -> None:
        self._basis = basis
        self._processes: list[ProcessPoolExecutor | None] = [None] * count
        self._batch: dict[str, int] = {}
        self._home: dict[int, int] = {}

    def _process(self, number: int) -> ProcessPoolExecutor:
        process = self._processes[number]
        if process is None:
            # Started anew, not forked: the parent may hold threads of a solver.
            context = multiprocessing.get_context("spawn")
            given = self._basis, memory_for(len(self._processes))
            process = ProcessPoolExecutor(1, context, initializer=_begin, initargs=given)
            self._processes[number] = process
        return process

    def answers(self, jobs: Sequence[Job]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`; what a worker that died left undone is done by a new one."""
        left = dict(enumerate(in_batches(jobs, self._batch, len(self._processes))))
        deaths = 0
        while left:
            queue = _Queue(left, self._home, len(self._processes))
            running: dict[Future[Any], tuple[int, int]] = {}
            broken = False
            try:
                while True:
                    for process in range(len(self._processes)):
                        for place in () if broken else queue.next_for(process):
                            batch, numbers = left[place]
                            self._home[batch] = process
                            try:
                                with _interrupts_held():
                                    future = self._process(process).submit(
                                        _answers, [jobs[number] for number in numbers]
                                    )
                            except BrokenProcessPool:
                                broken = True
                                self._bury(process)
                                break
                            running[future] = process, place
                    if not running:
                        break
                    done, _ = wait(running, return_when=FIRST_COMPLETED)
                    for future in done:
                        process, place = running.pop(future)
                        queue.done(process)
                        try:
                            found = future.result()
                        except BrokenProcessPool:
                            broken = True
                            self._bury(process)
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
        process = self._processes[number]
        self._processes[number] = None
        if process is not None:
            process.shutdown(wait=False, cancel_futures=True)

    def close(self) -> None:
        """As in `Workers`."""
        for number in range(len(self._processes)):
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

    `base` is the listed price of a pack of every item [minor units], `had` what each person has from
    before, by id, and `done` is told how far a batch is.
    """

    def __init__(
        self,
        rows: Sequence[ApplicantRow],
        workers: Workers,
        base: Mapping[str, int],
        had: Mapping[str, Had] | None = None,
        done: Done | None = None,
    ) -> None:
        self._rows = {row.id: row for row in rows}
        self._workers = workers
        self._base = dict(base)
        self._had = had or {}
        self._done = done
        self._free: dict[str, int] = {}

    def without_decisions(self) -> People:
        """The same people as if nobody had decided anything for them."""
        rows = [row.undecided for row in self._rows.values()]
        return People(rows, self._workers, self._base, self._had, self._done)

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
        return self.best_at([PriceQuery(prices, strain_weights, money_weight)])[0]

    def best_at(self, questions: Sequence[PriceQuery]) -> Sequence[Mapping[str, Column]]:
        """As in `deskmend.grants.people.columns.Pool`: whoever is asked answers all at once."""
        told: dict[str, list[tuple[Any, ...]]] = {}
        for asked in questions:
            prices = dict(asked.prices)
            for name, weight in asked.strain_weights.items():
                told.setdefault(name, []).append((prices, weight, asked.money_weight, {}))
        found = self._ask("best", {name: tuple(mine) for name, mine in told.items()})
        answers = {name: iter(mine) for name, mine in found.items()}
        return [{name: next(answers[name]) for name in asked.strain_weights} for asked in questions]

    def every(
        self, items: Sequence[str], bands: Mapping[str, CostBand]
    ) -> Mapping[str, Sequence[Column] | None]:
        """As in `deskmend.grants.people.columns.Pool`."""
        return self._ask("every", {name: (self._base, tuple(items), band) for name, band in bands.items()})

    def left_out(self, ids: Sequence[str]) -> Mapping[str, BestLeftOut | None]:
        """Of people to whom nothing is offered the best that could be bought, by id."""
        return self._ask("left_out", {name: () for name in ids})

    def told(self, chosen: Mapping[str, Column], steps: bool) -> dict[str, GivenPlan]:
        """Check what everybody is given without the optimiser; with `steps`, fixes are put in order too."""
        return self._ask(
            "told", {name: (column, steps, self._free.get(name)) for name, column in chosen.items()}
        )

    def _ask(self, question: JobKind, arguments: Mapping[str, tuple[Any, ...]]) -> dict[str, Any]:
        names = list(arguments)
        jobs = [
            Job(self._rows[name], self._had.get(name, Had()), question, arguments[name]) for name in names
        ]
        found: dict[str, Any] = {}
        for number, answer in self._workers.answers(jobs):
            found[names[number]] = answer
            if self._done is not None:
                self._done(len(found), len(names))
        return {name: found[name] for name in names}
