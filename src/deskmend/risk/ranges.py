"""Published score tables as read-only arrays, and checks of arguments against a method's range of use."""

from __future__ import annotations

import operator
import reprlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from deskmend.published import read_table, table_header

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


PACKAGE = "deskmend.risk"
"""Package in whose folder ``tables`` the shipped tables are."""

NOT_SCORED = -9
"""Stands for a score where a quantity lies outside the method's range of use; never shown as a number."""


class TableDefect(RuntimeError):
    """A shipped table is incomplete or contradicts itself: a defect of ours, not of the user's input."""


@dataclass(frozen=True)
class ScoreTable:
    """One published table.

    Parameters
    ----------
    title, source, status
        What it is, where it is printed, and how far the values are confirmed.
    axes
        Name of each axis, with the least and greatest value it takes [-].
    values
        Read-only array of scores [-], one axis of the array for each of `axes`.
    """

    title: str
    source: str
    status: str
    axes: tuple[tuple[str, int, int], ...]
    values: IntArray

    @property
    def limits(self) -> dict[str, tuple[int, int]]:
        """Least and greatest value of each axis [-]."""
        return {name: (low, high) for name, low, high in self.axes}

    def at(self, **places: IntArray | int) -> IntArray:
        """Read cells; the values given must lie inside the axes.

        Parameters
        ----------
        **places
            One integer or integer array for each axis [-]; they broadcast.

        Returns
        -------
        ndarray of int64
            The scores [-], of the broadcast shape.
        """
        index = tuple(np.asarray(places[name]) - low for name, low, _ in self.axes)
        return np.asarray(self.values[index], dtype=np.int64)

    def look_up(self, where: str, **places: ArrayLike) -> IntArray:
        """Read cells at places that may be anything.

        Parameters
        ----------
        where
            Function that was called, for the message.
        **places
            As for `at`.

        Returns
        -------
        ndarray of int64
            The scores [-], of the broadcast shape.

        Raises
        ------
        OutOfRange
            Where a place is not whole or outside its axis; names every one.
        """
        return self.at(**checked_integer_arrays(where, self.limits, places))


def table_head(name: str, package: str = PACKAGE) -> dict[str, str]:
    """Read the ``# key: value`` lines at the head of a table.

    Parameters
    ----------
    name
        File name in ``tables``, without the ending.
    package
        Dotted name of the package that holds the folder.

    Returns
    -------
    dict of str to str
        At least title, source and status.

    Raises
    ------
    TableDefect
        Where one of these is missing.
    """
    head: dict[str, str] = {}
    for line in table_header(package, f"{name}.csv"):
        key, _, text = line.partition(":")
        head[key.strip()] = text.strip()
    if not {"title", "source", "status"} <= head.keys():
        raise TableDefect(f"{name}: title, source and status are wanted at the head")
    return head


def table_rows(name: str, package: str = PACKAGE) -> tuple[dict[str, str], ...]:
    """Read the rows of a table.

    Parameters
    ----------
    name, package
        As for `table_head`.

    Returns
    -------
    tuple of dict
        One dictionary a row.

    Raises
    ------
    TableDefect
        Where a row has more or fewer cells than the header.
    """
    rows = read_table(package, f"{name}.csv")
    if any(None in row or None in row.values() for row in rows):
        raise TableDefect(f"{name}: a row has more or fewer cells than the header")
    return rows


@cache
def score_table(name: str, package: str = PACKAGE) -> ScoreTable:
    """Load a published table once.

    Row keys stand in the first columns; the other columns are headed ``axis=value``, several axes
    separated by spaces, as the tables are printed.

    Parameters
    ----------
    name, package
        As for `table_head`, such as ``rula_table_a``.

    Returns
    -------
    ScoreTable
        The table.

    Raises
    ------
    TableDefect
        Where a cell is missing or given twice.
    """
    head, rows = table_head(name, package), table_rows(name, package)
    keys = [cell for cell in rows[0] if "=" not in cell]
    columns = {
        cell: {axis: int(value) for axis, value in (pair.split("=") for pair in cell.split())}
        for cell in rows[0]
        if "=" in cell
    }
    names = [*keys, *next(iter(columns.values()))]
    cells: dict[tuple[int, ...], int] = {}
    for row in rows:
        own = {key: int(row[key]) for key in keys}
        for column, axes in columns.items():
            place = tuple((own | axes)[axis] for axis in names)
            if place in cells:
                raise TableDefect(f"{name}: the cell {place} is given twice")
            cells[place] = int(row[column])
    low = [min(place[i] for place in cells) for i in range(len(names))]
    high = [max(place[i] for place in cells) for i in range(len(names))]
    shape = tuple(h - lo + 1 for lo, h in zip(low, high, strict=True))
    if len(cells) != int(np.prod(shape)):
        raise TableDefect(f"{name}: {int(np.prod(shape)) - len(cells)} cells are missing")
    values = np.zeros(shape, dtype=np.int64)
    for place, score in cells.items():
        values[tuple(p - lo for p, lo in zip(place, low, strict=True))] = score
    values.flags.writeable = False
    axes_of = tuple(zip(names, low, high, strict=True))
    return ScoreTable(head["title"], head["source"], head["status"], axes_of, values)


def composed(function: Callable[..., ArrayLike], *scores: ArrayLike) -> IntArray:
    """Put scores together where every one is known; `NOT_SCORED` where one is not.

    Parameters
    ----------
    function
        A table of a method, or arithmetic on scores.
    *scores
        Its arguments [-]; they broadcast.

    Returns
    -------
    ndarray of int64
        What `function` gives [-], of the broadcast shape.
    """
    values = [np.asarray(score) for score in scores]
    known = np.asarray(True)
    for value in values:
        known = known & (value != NOT_SCORED)
    if not bool(np.any(known)):
        return np.full(known.shape, NOT_SCORED, dtype=np.int64)
    known, *values = np.broadcast_arrays(known, *values)
    # Where a score is missing, one that is known stands in for it, so that the whole array can be looked up.
    place = np.unravel_index(int(np.argmax(known)), known.shape)
    filled = [np.where(known, value, value[place]).astype(np.int64) for value in values]
    return np.where(known, function(*filled), NOT_SCORED).astype(np.int64)
