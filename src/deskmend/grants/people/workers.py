"""The plans of many people at once: in this process, in several on this machine, or by a Dask cluster.

A question about one person travels as a `Job` to whichever process does it; where the work is done stands
behind one small interface, `Workers`; whoever shares the fund sees a `People`.
"""

from __future__ import annotations

import os
import pickle
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Literal, Protocol

from deskmend.errors import DefectError, InputFaults, option_fault
from deskmend.grants.people.check import Claim, GivenPlan, check_plans, claim_of, column_given
from deskmend.grants.people.columns import Applicant, Column, CostBand, PriceQuery
from deskmend.grants.people.offered import BestLeftOut, OfferedPlans
from deskmend.grants.people.plans import (
    PersonPlans,
    PersonProblem,
    PlanBasis,
    every,
    made_together,
    member_of,
)
from deskmend.intake.applicants import ApplicantRow
from deskmend.intake.catalog import running_version
from deskmend.intake.given_before import Had
from deskmend.language import tr
from deskmend.planning.ready_case import NoPlan
from deskmend.processes import Processes

__all__ = [
    "Cluster",
    "InProcess",
    "Job",
    "JobKind",
    "LocalProcesses",
    "People",
    "PersonCache",
    "TellDone",
    "Workers",
]

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
        """Work on one question about some people; one call at a time, since a model serves one thread.

        Whoever has a row that cannot be worked with is answered with its faults, so that all can be told at
        once.
        """
        with self._lock:
            if jobs and jobs[0].question == "told":
                return self._told(jobs)
            new = [job for job in jobs if self._known(job) is None]
            made = made_together([(job.row, job.had) for job in new], self.basis)
            out: list[Any] = []
            for job in jobs:
                try:
                    plans = self._known(job) or self._met(job, made)
                    out.append(self._answer(plans, job))
                except InputFaults as error:
                    out.append(error)
                    continue
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

    def _met(self, job: Job, made: dict[str, PersonProblem]) -> PersonPlans | OfferedPlans:
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


TellDone = Callable[[int, int], None]
"""Told how many of how many people are done."""


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


class LocalProcesses:
    """Work done by so many processes on this machine; each person stays with one, which keeps the model."""

    def __init__(self, basis: PlanBasis, count: int) -> None:
        self._processes = Processes(count, _cache_answers, basis, memory_for(count))
        self._batch: dict[str, int] = {}

    def answers(self, jobs: Sequence[Job]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`; what a worker that died left undone is done by a new one."""
        batches = in_batches(jobs, self._batch, self._processes.count)
        asked = [(batch, [jobs[number] for number in numbers]) for batch, numbers in batches]
        for place, found in self._processes.answers(asked):
            yield from zip(batches[place][1], found, strict=True)

    def close(self) -> None:
        """As in `Workers`."""
        self._processes.close()


def _cache_answers(basis: PlanBasis, memory: int) -> Callable[[Sequence[Job]], list[Any]]:
    return PersonCache(basis, memory).answers


RETRIES = 10
"""Times that the cluster may begin a task again because its worker was lost."""

CONNECT_SECONDS = 20
"""Longest wait for the scheduler to answer [s]."""

WORKER_SECONDS = 30
"""Longest wait for a worker, at the beginning and where all are lost [s]."""

CLOSE_SECONDS = 1
"""Longest wait for a goodbye of a scheduler that is gone [s]."""

LOOK_SECONDS = 0.05
"""How often it is looked whether an answer has come, and below, whether anybody is still there [s]."""
ALIVE_SECONDS = 1.0

_caches: dict[str, PersonCache] = {}
_lock = threading.Lock()


def _answers_there(name: str, version: str, packed: bytes, jobs: Sequence[Job]) -> list[Any] | str:
    """Answer on a worker, or give the version that this worker has where it is another one.

    The cache is made once a process, known by the digest of what it is made of.
    """
    if version != running_version():
        return running_version()
    with _lock:
        if name not in _caches:
            _caches.clear()
            _caches[name] = PersonCache(pickle.loads(packed), memory_for(os.cpu_count() or 1))
        cache = _caches[name]
    return cache.answers(jobs)


def _refused(address: str, allowed: str, hint: str = "", note: str = "") -> InputFaults:
    return InputFaults([option_fault("--cluster", address, allowed, hint, note)])


class _Watch:
    """When the cluster was looked at last, and when it last had workers."""

    def __init__(self) -> None:
        self.looked = self.with_workers = time.monotonic()


class Cluster:
    """Work done by the workers of a Dask scheduler, as ``tcp://10.0.0.5:8786``, that have this version.

    It waits no longer than `seconds` for a worker. Raises InputFaults where Dask is not installed, nobody
    answers at the address, TLS is not set up, or no worker comes or one has another version; NoPlan where the
    scheduler or all workers are lost on the way.
    """

    def __init__(self, basis: PlanBasis, address: str, seconds: float | None = None) -> None:
        try:
            from distributed import Client
        except ImportError:
            hint = "pip install 'deskmend[cluster]'"
            allowed = "the package distributed, which talks to a cluster"
            raise _refused(address, allowed, hint, "distributed is missing") from None
        self._address = address
        self._patience = WORKER_SECONDS if seconds is None else min(WORKER_SECONDS, seconds)
        if address.startswith("tls:"):
            _refuse_without_certificates(address)
        try:
            self._client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
        except (OSError, ValueError, TypeError, RuntimeError) as error:
            allowed = "the address of a Dask scheduler that answers, as tcp://10.0.0.5:8786"
            raise _refused(address, allowed, note=f"no connection: {type(error).__name__}") from None
        try:
            self._client.wait_for_workers(1, timeout=self._patience)
        except TimeoutError:
            self.close()
            allowed = "a cluster with at least one worker"
            note = f"the scheduler answers, but no worker came within {self._patience:g} s"
            raise _refused(address, allowed, note=note) from None
        self._batch: dict[str, int] = {}
        packed = pickle.dumps(basis)
        self._name = sha256(packed).hexdigest()
        # Part of the task graph, not scattered: scattered data is gone with the workers that hold it.
        self._packed = self._client.submit(bytes, packed, pure=False, retries=RETRIES)

    def answers(self, jobs: Sequence[Job]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`; the scheduler gives a lost worker's jobs to another."""
        futures = {
            self._client.submit(
                _answers_there,
                self._name,
                running_version(),
                self._packed,
                [jobs[number] for number in numbers],
                pure=False,
                retries=RETRIES,
            ): numbers
            for _, numbers in in_batches(jobs, self._batch, self._processes())
        }
        watch = _Watch()
        try:
            for future in self._done(list(futures), watch):
                yield from zip(futures[future], self._result(future, watch), strict=True)
        finally:
            if self._client.status == "running":
                self._client.cancel(list(futures))

    def _processes(self) -> int:
        """How many threads of work there are; a scheduler that is gone has been noticed before."""
        try:
            return max(1, len(self._client.ncores()))
        except (OSError, ValueError, RuntimeError, TimeoutError):
            raise self._lost(tr("its scheduler does not answer any more")) from None

    def _done(self, futures: list[Any], watch: _Watch) -> Iterator[Any]:
        """Give futures as they are done; NoPlan where for a while there is nobody who could do them."""
        from distributed import as_completed

        queue = as_completed(futures, loop=self._client.loop)
        while not queue.is_empty():
            if queue.has_ready():
                yield from queue.next_batch(block=False)
                continue
            time.sleep(LOOK_SECONDS)
            self._look(watch)

    def _look(self, watch: _Watch) -> None:
        """Look now and then whether anybody is there; NoPlan where for a while there was not."""
        now = time.monotonic()
        if now - watch.looked < ALIVE_SECONDS:
            return
        watch.looked = now
        if self._client.status not in ("running", "connecting"):
            raise self._lost(tr("its scheduler does not answer any more"))
        if self._has_workers():
            watch.with_workers = now
        elif now - watch.with_workers > self._patience:
            raise self._lost(tr("it has no workers any more"))

    def _has_workers(self) -> bool:
        try:
            return bool(self._client.ncores())
        except (OSError, ValueError, RuntimeError, TimeoutError):
            return False

    def _result(self, future: Any, watch: _Watch) -> list[Any]:
        """The answers of a future that is done; NoPlan where the cluster could not give any.

        They may lie with a worker that is lost by now; then another has to work them out again.
        """
        from concurrent.futures import CancelledError

        from distributed.client import FutureCancelledError
        from distributed.scheduler import KilledWorker

        found = None
        try:
            while found is None:
                try:
                    found = future.result(timeout=ALIVE_SECONDS)
                except TimeoutError:
                    self._look(watch)
        except (CancelledError, FutureCancelledError, OSError):
            raise self._lost(tr("its scheduler does not answer any more")) from None
        except KilledWorker:
            raise self._lost(
                tr("its workers died again and again; they may have too little memory")
            ) from None
        if isinstance(found, str):
            allowed = f"workers that have deskmend {running_version()}, as here"
            raise _refused(self._address, allowed, note=f"a worker has deskmend {found}")
        if not isinstance(found, list):
            raise DefectError("a worker answered what nobody asked")
        return found

    def _lost(self, why: str) -> NoPlan:
        return NoPlan(
            tr("the cluster at {address} was lost: {why}", address=self._address, why=why),
            tr("nothing was written: start the cluster and share again, or share without --cluster"),
            timed_out=True,
        )

    def close(self) -> None:
        """As in `Workers`; the cluster itself stays."""
        try:
            self._client.close(timeout=CONNECT_SECONDS if self._client.status == "running" else CLOSE_SECONDS)
        except TimeoutError:
            # a scheduler that is gone says no goodbye, and that it is gone has been told
            return


def _refuse_without_certificates(address: str) -> None:
    """InputFaults where Dask is not told which certificates to use."""
    from distributed.security import Security

    try:
        context = Security().get_connection_args("client").get("ssl_context")
        why = "" if context is not None else "Dask is not told which certificates to use"
    except (OSError, ValueError) as error:
        why = f"a certificate cannot be read: {type(error).__name__}"
    if why:
        allowed = "TLS set up in Dask's configuration, distributed.comm.tls: ca-file and client"
        raise _refused(address, allowed, "see docs/cluster.md", why)


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
        done: TellDone | None = None,
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
        refused = [one for one in found.values() if isinstance(one, InputFaults)]
        if refused:
            faults = (fault for one in refused for fault in one.faults)
            raise InputFaults(sorted(faults, key=lambda fault: fault.line or 0))
        return {name: found[name] for name in names}
