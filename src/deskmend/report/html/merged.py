"""Lists of several budgets as one, so that the page says once what holds for many of them."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TypeVar

__all__ = ["Rungs", "merged"]

Said = TypeVar("Said", bound=Hashable)
Rungs = tuple[int, ...]
"""Budgets by their place among those of a page."""


def merged(lists: Sequence[Sequence[Said]]) -> list[tuple[Said, Rungs]]:
    """One list, each entry with the numbers of the lists that have it; every list keeps its order in it.

    >>> merged([["a", "c"], ["a", "b", "c"], ["c", "a"]])
    [('a', (0, 1)), ('b', (1,)), ('c', (0, 1, 2)), ('a', (2,))]
    """
    out: list[tuple[Said, list[int]]] = []
    for number, entries in enumerate(lists):
        at = 0
        for entry in entries:
            place = next((n for n in range(at, len(out)) if out[n][0] == entry), None)
            if place is None:
                place = at
                out.insert(place, (entry, []))
            out[place][1].append(number)
            at = place + 1
    return [(entry, tuple(numbers)) for entry, numbers in out]
