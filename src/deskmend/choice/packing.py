"""Order of preference packed into few 64-bit words that add up without ever overflowing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.validation import IntArray

WORD_LIMIT = 2**62

LARGEST_SUM = WORD_LIMIT // 2
"""No weighted sum may reach it."""


@dataclass(frozen=True)
class Slot:
    """Where a field lives: its word, what one unit of it is there, and how far it may reach."""

    word: int
    unit: int
    most: int


@dataclass(frozen=True)
class Packing:
    """A mixed radix over words: comparing words one after the other compares fields in order.

    Parameters
    ----------
    slots : tuple of Slot
        One a field, in order of preference.
    words : int
        Number of words.
    """

    slots: tuple[Slot, ...]
    words: int

    def put(self, field: int, amounts: IntArray) -> IntArray:
        """Pack amounts of one field, as an array of shape (words, n).

        Parameters
        ----------
        field : int
            Position in the order of preference.
        amounts : integer array
            Each within 0..most of the field.

        Returns
        -------
        integer array
            Shape (words, n).
        """
        slot = self.slots[field]
        packed = np.zeros((self.words, amounts.size), dtype=np.int64)
        packed[slot.word] = amounts.ravel() * slot.unit
        return packed

    def get(self, field: int, words: Sequence[int]) -> int:
        """Read one field back.

        Parameters
        ----------
        field : int
            Position in the order of preference.
        words : sequence of int
            A packed sum.

        Returns
        -------
        int
            The field's total.
        """
        slot = self.slots[field]
        return words[slot.word] // slot.unit % (slot.most + 1)


def pack(most: Sequence[int]) -> Packing:
    """Lay out fields so that no sum of a field can reach into its neighbour.

    Parameters
    ----------
    most : sequence of int
        Largest total of each field, in order of preference; each below WORD_LIMIT.

    Returns
    -------
    Packing
        With as few words as filling them in order gives.

    Raises
    ------
    OverflowError
        When a field alone does not fit a word.
    """
    groups: list[list[int]] = []
    room = 0
    for reach in most:
        if reach + 1 > WORD_LIMIT:
            raise OverflowError(f"a total of {reach} does not fit 62 bits")
        if not groups or room // (reach + 1) < 1:
            groups.append([])
            room = WORD_LIMIT
        groups[-1].append(reach)
        room //= reach + 1
    slots: list[Slot] = []
    for word, group in enumerate(groups):
        unit = 1
        laid = []
        for reach in reversed(group):
            laid.append(Slot(word, unit, reach))
            unit *= reach + 1
        slots.extend(reversed(laid))
    return Packing(tuple(slots), max(1, len(groups)))
