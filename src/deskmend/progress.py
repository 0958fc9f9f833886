"""Long work: when it has to end, and how far it has come.

Who does it tells, who shows it listens, and neither knows the other.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["Deadline", "listening", "tell_progress"]


class Deadline:
    """End of the time allowed, so many seconds from now; None: there is no end."""

    def __init__(self, seconds: float | None) -> None:
        self._end = None if seconds is None else time.monotonic() + seconds

    @property
    def left(self) -> float | None:
        """Time left [s], none less than 0."""
        return None if self._end is None else max(0.0, self._end - time.monotonic())

    @property
    def over(self) -> bool:
        """Whether the time allowed is over."""
        return self._end is not None and time.monotonic() >= self._end


Listener = Callable[[int, int], None]
"""Takes how many parts are done, and of how many; it is called in the thread that works and must be quick."""

_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)


@contextmanager
def listening(listener: Listener) -> Iterator[None]:
    """Have progress told to a listener within a ``with`` block."""
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)


def tell_progress(done: int, whole: int) -> None:
    """Tell how many parts are done, and of how many (0 where that is not known), to the listener if any."""
    listener = _listener.get()
    if listener is not None:
        listener(done, whole)
