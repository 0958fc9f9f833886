"""The plans of many people worked out by a Dask cluster, for more people than one machine is enough for."""

from __future__ import annotations

import os
import pickle
import threading
from collections.abc import Iterator, Sequence
from hashlib import sha256
from typing import Any

from deskmend.errors import InputFaults, option_fault
from deskmend.grants.people.plans import PlanBasis
from deskmend.grants.people.workers import Job, PersonCache, in_batches, memory_for

__all__ = ["Cluster"]

RETRIES = 10
"""Times that the cluster may begin a task again because its worker was lost."""

CONNECT_SECONDS = 20
"""Longest wait for the scheduler to answer [s]."""

_caches: dict[str, PersonCache] = {}
_lock = threading.Lock()


def _answers(name: str, packed: bytes, jobs: Sequence[Job]) -> list[Any]:
    """Answer on a worker; the cache is made once a process, known by the digest of what it is made of."""
    with _lock:
        if name not in _caches:
            _caches.clear()
            _caches[name] = PersonCache(pickle.loads(packed), memory_for(os.cpu_count() or 1))
        cache = _caches[name]
    return cache.answers(jobs)


class Cluster:
    """Work done by the workers of a Dask scheduler, as ``tcp://10.0.0.5:8786``, that have this version.

    Raises InputFaults where Dask is not installed, or nobody answers at the address.
    """

    def __init__(self, basis: PlanBasis, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            hint = "pip install 'deskmend[cluster]'"
            allowed = "the package distributed, which talks to a cluster"
            note = "distributed is missing"
            raise InputFaults([option_fault("--cluster", address, allowed, hint, note)]) from None
        try:
            self._client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            allowed = "the address of a Dask scheduler that answers, as tcp://10.0.0.5:8786"
            note = f"no connection: {type(error).__name__}"
            raise InputFaults([option_fault("--cluster", address, allowed, note=note)]) from None
        self._batch: dict[str, int] = {}
        packed = pickle.dumps(basis)
        self._name = sha256(packed).hexdigest()
        # Part of the task graph, not scattered: scattered data is gone with the workers that hold it.
        self._packed = self._client.submit(bytes, packed, pure=False, retries=RETRIES)

    def answers(self, jobs: Sequence[Job]) -> Iterator[tuple[int, Any]]:
        """As in `Workers`; the scheduler gives a lost worker's jobs to another."""
        from distributed import as_completed

        futures = {
            self._client.submit(
                _answers,
                self._name,
                self._packed,
                [jobs[number] for number in numbers],
                pure=False,
                retries=RETRIES,
            ): numbers
            for _, numbers in in_batches(jobs, self._batch, max(1, len(self._client.ncores())))
        }
        try:
            for future in as_completed(list(futures), loop=self._client.loop):
                yield from zip(futures[future], future.result(), strict=True)
        finally:
            self._client.cancel(list(futures))

    def close(self) -> None:
        """As in `deskmend.grants.people.workers.Workers`; the cluster itself stays."""
        self._client.close()
