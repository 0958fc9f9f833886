"""How far long work has come: who does it tells, who shows it listens, and neither knows the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["listening", "tell_progress"]

Listener = Callable[[int, int], None]
"""Takes how many parts are done, and of how many."""

_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)


@contextmanager
def listening(listener: Listener) -> Iterator[None]:
    """Have progress told to a listener within a ``with`` block.

    Parameters
    ----------
    listener : callable
        Called in the thread that works; it must be quick.
    """
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)


def tell_progress(done: int, whole: int) -> None:
    """Tell how far work has come; nothing happens where nobody listens.

    Parameters
    ----------
    done : int
        Parts done [-].
    whole : int
        Parts in all [-]; 0 where that is not known.
    """
    listener = _listener.get()
    if listener is not None:
        listener(done, whole)
