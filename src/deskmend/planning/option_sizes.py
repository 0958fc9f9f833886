"""Sizes that a fix can have: of its own, what owned pieces add up to, or what the case offers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from itertools import product

from deskmend.intake.case import Case
from deskmend.intake.catalog_records import Size
from deskmend.workstation.fields import Value
from deskmend.workstation.state import Owner, State

__all__ = ["Sized", "own_sizes", "sizes_here"]

MAX_PIECES = 6
"""Most pieces of a kind that are stacked."""

Sized = tuple[Value | None, tuple[float, ...]]
"""A size, and the owned pieces that make it [mm]."""


def own_sizes(size: Size | None) -> tuple[Sized, ...] | None:
    """Sizes that are the same for everybody, small ones first.

    Parameters
    ----------
    size : Size or None
        Of a fix; None where it has one size only.

    Returns
    -------
    tuple or None
        None where the sizes hang on the case.
    """
    if size is None:
        return ((None, ()),)
    if size.words:
        return tuple((word, ()) for word in size.words)
    if size.pieces is not None or size.of is not None:
        return None
    steps = _steps(float(size.low or 0), float(size.high or 0), float(size.step or 1))
    return tuple((one, ()) for one in steps)


def sizes_here(size: Size, owner: Owner, case: Case, state: State) -> Iterator[Sized]:
    """Sizes that hang on the case, small ones first.

    Parameters
    ----------
    size : Size
        With pieces or with what the case offers.
    owner : Owner
        Whom the fix is for.
    case : Case
        For owned pieces, other seats, and what adjusts.
    state : State
        For the ids of places.

    Yields
    ------
    tuple
        As `own_sizes` gives them.
    """
    if size.pieces is not None:
        owned = case.owns.get(size.pieces)
        pieces = owned.pieces[:MAX_PIECES] if owned is not None else ()
        low, high = float(size.low or 0), float(size.high or 0)
        yield from ((height, stack) for height, stack in _stacks(pieces) if low <= height <= high)
    elif size.of is not None:
        yield from ((one, ()) for one in _offered(size.of, size.step or 10.0, owner, case, state))


def _steps(low: float, high: float, step: float) -> Iterator[float]:
    count = int((high - low) / step + 1e-9)
    yield from (low + step * number for number in range(count + 1))


@lru_cache(maxsize=64)
def _stacks(pieces: tuple[float, ...]) -> tuple[tuple[float, tuple[float, ...]], ...]:
    """Heights that owned pieces add up to, fewest pieces first among equals."""
    counts = sorted(Counter(pieces).items())
    found = []
    for taken in product(*(range(n + 1) for _, n in counts)):
        stack = tuple(t for (t, _), n in zip(counts, taken, strict=True) for _ in range(n))
        if stack:
            found.append((sum(stack), len(stack), stack))
    return tuple((height, stack) for height, _, stack in sorted(found))


def _offered(of: str, step: float, owner: Owner, case: Case, state: State) -> Iterator[Value]:
    if of == "places":
        if len(state.places) > 1:
            yield from state.places
        return
    if of == "monitor.top_range":
        if case.devices.monitor is not None and case.devices.monitor.top_range is not None:
            yield from _span(case.devices.monitor.top_range, step)
        return
    place = next(p for p in case.places if p.id == owner[1])
    if of == "other_seats":
        yield from (seat.id for seat in place.other_seats)
    elif of == "seat.height_range" and place.seat is not None and place.seat.height_range is not None:
        yield from _span(place.seat.height_range, step)
    elif of == "desk.height_range" and place.desk.height_range is not None:
        yield from _span(place.desk.height_range, step)


def _span(ends: tuple[float, float], step: float) -> Iterator[float]:
    yield from _steps(ends[0], ends[1], step)
    if (ends[1] - ends[0]) % step > 1e-9:
        yield ends[1]
