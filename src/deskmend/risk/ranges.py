"""Checks of arguments against a method's range of use; a fault is named, a value is never clamped."""

from __future__ import annotations

import operator
import reprlib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class WrongArgument:
    """One argument that lies outside what a method allows.

    Parameters
    ----------
    name
        Name of the argument.
    given
        What was given, in short.
    allowed
        What is allowed, in plain words.
    """

    name: str
    given: str
    allowed: str

    def __str__(self) -> str:
        """Return the fault as one clause of a sentence."""
        return f"{self.name} read {self.given}, allowed {self.allowed}"


class OutOfRange(ValueError):
    """Arguments outside the range of use of a published method.

    Parameters
    ----------
    where
        Function that was called, such as ``rula.score``.
    wrong
        Every wrong argument, in the order of the signature.
    """

    def __init__(self, where: str, wrong: tuple[WrongArgument, ...]) -> None:
        """Keep the parts and build one message out of them."""
        super().__init__(where, wrong)
        self.where = where
        self.wrong = wrong

    def __str__(self) -> str:
        """Return one line that names every wrong argument."""
        return f"{self.where}: " + "; ".join(str(one) for one in self.wrong)


class UnknownName(ValueError):
    """A name that stands in no table, with the names that do.

    Parameters
    ----------
    where
        Function that was called.
    what
        What the name should have named, such as ``quantity``.
    given
        The name that was read.
    allowed
        Every name that is allowed.
    """

    def __init__(self, where: str, what: str, given: str, allowed: tuple[str, ...]) -> None:
        """Keep the parts and the nearest spelling."""
        super().__init__(where, what, given, allowed)
        self.where, self.what, self.given, self.allowed = where, what, given, allowed
        close = get_close_matches(given, allowed, n=1)
        self.nearest = close[0] if close else None

    def __str__(self) -> str:
        """Return the name read, the names allowed and the nearest spelling."""
        hint = f"; did you mean {self.nearest}?" if self.nearest else ""
        shown = reprlib.repr(self.given)
        return f"{self.where}: unknown {self.what} {shown}; allowed {', '.join(self.allowed)}{hint}"


def integer(value: object) -> int | None:
    """Return a whole number as a plain int, or None where it is none (a truth value is none).

    Parameters
    ----------
    value
        Anything.

    Returns
    -------
    int or None
        The number [-].
    """
    if isinstance(value, bool | np.bool_) or (isinstance(value, np.ndarray) and value.dtype == np.bool_):
        return None
    try:
        return operator.index(value)  # type: ignore[arg-type]
    except TypeError:
        return None


def checked_integers(
    where: str, limits: Mapping[str, tuple[int, int]], given: Mapping[str, object]
) -> dict[str, int]:
    """Check single whole numbers against their limits, all of them before raising.

    Parameters
    ----------
    where
        Function that was called, for the message.
    limits
        Least and greatest value allowed of each argument [-], both included.
    given
        The arguments.

    Returns
    -------
    dict of str to int
        The same arguments as plain ints.

    Raises
    ------
    OutOfRange
        Where any argument is not a whole number or lies outside its limits.
    """
    good: dict[str, int] = {}
    wrong: list[WrongArgument] = []
    for name, (low, high) in limits.items():
        number = integer(given[name])
        if number is None:
            wrong.append(WrongArgument(name, reprlib.repr(given[name]), f"a whole number {low} to {high}"))
        elif not low <= number <= high:
            wrong.append(WrongArgument(name, str(number), f"{low} to {high}"))
        else:
            good[name] = number
    if wrong:
        raise OutOfRange(where, tuple(wrong))
    return good


def checked_integer_arrays(
    where: str, limits: Mapping[str, tuple[int, int]], given: Mapping[str, object]
) -> dict[str, IntArray]:
    """Check whole-number arrays against their limits, all of them before raising.

    Parameters
    ----------
    where
        Function that was called, for the message.
    limits
        Least and greatest value allowed of each argument [-], both included.
    given
        The arguments, scalars or arrays of any shape.

    Returns
    -------
    dict of str to ndarray of int64
        The same arguments as arrays, shapes unchanged.

    Raises
    ------
    OutOfRange
        Where any argument is not whole or any of its values lies outside its limits.
    """
    good: dict[str, IntArray] = {}
    wrong: list[WrongArgument] = []
    for name, (low, high) in limits.items():
        read = _array(given[name])
        if read is None or read.dtype.kind not in "iu":
            wrong.append(WrongArgument(name, reprlib.repr(given[name]), f"whole numbers {low} to {high}"))
            continue
        values: IntArray = read.astype(np.int64, casting="unsafe")
        outside = (read.astype(np.float64) < low) | (read.astype(np.float64) > high)
        bad = read[outside]
        if bad.size:
            wrong.append(WrongArgument(name, _first_of(bad), f"{low} to {high}"))
        else:
            good[name] = values
    if wrong:
        raise OutOfRange(where, tuple(wrong))
    return good


def checked_number_arrays(
    where: str, limits: Mapping[str, tuple[float, float, str]], given: Mapping[str, object]
) -> dict[str, FloatArray]:
    """Check arrays of measured numbers against their limits, all of them before raising.

    Values are taken at nine decimals, so that noise of arithmetic decides nothing.

    Parameters
    ----------
    where
        Function that was called, for the message.
    limits
        Least value, greatest value (both included) and unit in words of each argument.
    given
        The arguments, scalars or arrays of any shape.

    Returns
    -------
    dict of str to ndarray of float64
        The same arguments as arrays, shapes unchanged.

    Raises
    ------
    OutOfRange
        Where any argument is no number, not finite or outside its limits.
    """
    good: dict[str, FloatArray] = {}
    wrong: list[WrongArgument] = []
    for name, (low, high, unit) in limits.items():
        allowed = f"{low:g} to {high:g} {unit}".rstrip()
        values = _array(given[name])
        if values is None or values.dtype.kind not in "iuf":
            wrong.append(WrongArgument(name, reprlib.repr(given[name]), f"a number {allowed}"))
            continue
        # a billionth of a unit: noise of arithmetic must not tip a value over the end of a band
        numbers: FloatArray = np.asarray(np.round(values.astype(np.float64), 9), dtype=np.float64)
        # written so that a value that is no number is caught as well
        bad = numbers[~((numbers >= low) & (numbers <= high))]
        if bad.size:
            wrong.append(WrongArgument(name, _first_of(bad), allowed))
        else:
            good[name] = numbers
    if wrong:
        raise OutOfRange(where, tuple(wrong))
    return good


def checked_flags(where: str, given: Mapping[str, object]) -> dict[str, BoolArray]:
    """Check that arguments are truth values, all of them before raising.

    Parameters
    ----------
    where
        Function that was called, for the message.
    given
        The arguments, scalars or arrays of any shape.

    Returns
    -------
    dict of str to ndarray of bool
        The same arguments as arrays, shapes unchanged.

    Raises
    ------
    OutOfRange
        Where any argument is not True or False.
    """
    good: dict[str, BoolArray] = {}
    wrong: list[WrongArgument] = []
    for name, value in given.items():
        values = _array(value)
        if values is None or values.dtype.kind != "b":
            wrong.append(WrongArgument(name, reprlib.repr(value), "True or False"))
        else:
            good[name] = values.astype(np.bool_)
    if wrong:
        raise OutOfRange(where, tuple(wrong))
    return good


def _array(value: object) -> NDArray[Any] | None:
    try:
        return np.asarray(value)
    except (ValueError, TypeError, OverflowError):
        return None


def _first_of(bad: NDArray[Any]) -> str:
    first = f"{bad.flat[0]:g}" if bad.dtype.kind == "f" else str(bad.flat[0])
    return first if bad.size == 1 else f"{first} (and {bad.size - 1} more)"
