"""Reading of names, whole numbers and arrays, with every fault noted at once."""

from __future__ import annotations

import operator
from collections.abc import Iterable, Sequence
from typing import SupportsIndex

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

LARGEST_TOTAL = 2**60
"""No sum of values, money, minutes or use may reach beyond this, so that 64 bits always suffice."""

LARGEST_TABLE = 4_000_000
"""Cells one table, node or mask may have."""


class InvalidProblem(ValueError):
    """A problem that cannot be meant; ``faults`` lists everything wrong with it at once.

    Parameters
    ----------
    faults : sequence of str
        One plain sentence a fault.
    """

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(self.faults))


def refuse(faults: Sequence[str]) -> None:
    """Raise InvalidProblem when there are faults."""
    if faults:
        raise InvalidProblem(faults)


def check_name(faults: list[str], what: str, name: object) -> None:
    """Note a fault when a name is no text or empty."""
    if not isinstance(name, str) or not name:
        faults.append(f"{what}: the name must be a text that is not empty, not {name!r}")


def whole(faults: list[str], what: str, number: object, least: int | None = 0) -> int:
    """Read a whole number and note a fault when it is none or out of range."""
    # The plain check comes first: the one against a protocol costs as much as all else here.
    if type(number) is not int and (isinstance(number, bool) or not isinstance(number, SupportsIndex)):
        faults.append(f"{what} must be a whole number, not {number!r}")
        return 0
    whole = operator.index(number)
    if least is not None and whole < least:
        faults.append(f"{what} must be at least {least}, not {whole}")
        return least
    if abs(whole) > LARGEST_TOTAL:
        faults.append(f"{what} must lie within {LARGEST_TOTAL}, not {whole}")
        return 0
    return whole


def integers(faults: list[str], what: str, values: object) -> IntArray:
    """Read an array of whole numbers as a read-only copy."""
    array = np.asarray(values)
    if array.dtype.kind not in "iu" or (
        array.dtype.kind == "u" and array.size and array.max() > LARGEST_TOTAL
    ):
        faults.append(f"{what} must hold whole numbers of at most 64 bits, not {array.dtype}")
        return np.zeros(array.shape, dtype=np.int64)
    if array.size > LARGEST_TABLE:
        faults.append(f"{what} has {array.size} cells; at most {LARGEST_TABLE} are allowed")
        return np.zeros(array.shape, dtype=np.int64)
    copy = array.astype(np.int64)
    if copy.size and (copy.min() < -LARGEST_TOTAL or copy.max() > LARGEST_TOTAL):
        faults.append(f"{what} must stay within {LARGEST_TOTAL}")
        return np.zeros(array.shape, dtype=np.int64)
    copy.flags.writeable = False
    return copy


def check_scope(faults: list[str], what: str, scope: Iterable[str]) -> tuple[str, ...]:
    """Read a scope and note a fault when a name stands twice."""
    if isinstance(scope, str):
        faults.append(f"{what}: the scope must be a tuple of names, not the text {scope!r}")
        return (scope,)
    names = tuple(scope)
    if len(set(names)) != len(names):
        faults.append(f"{what}: a name stands twice in the scope {names}")
    return names
