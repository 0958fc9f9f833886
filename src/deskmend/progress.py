"""How far long work has come: who does it tells, who shows it listens, and neither knows the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["listening", "tell_progress"]

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
