"""The plans of many people worked out by a Dask cluster, for more people than one machine is enough for."""

from __future__ import annotations

import os
import pickle
import threading
import time
from collections.abc import Iterator, Sequence
from hashlib import sha256
from typing import Any

from deskmend.errors import DefectError, InputFaults, option_fault
from deskmend.grants.people.plans import PlanBasis
from deskmend.grants.people.workers import Job, PersonCache, in_batches, memory_for
from deskmend.intake.catalog import running_version
from deskmend.language import tr
from deskmend.planning.prepared import NoPlan

__all__ = ["Cluster"]

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


def _answers(name: str, version: str, packed: bytes, jobs: Sequence[Job]) -> list[Any] | str:
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
                _answers,
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
        """As in `deskmend.grants.people.workers.Workers`; the cluster itself stays."""
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
