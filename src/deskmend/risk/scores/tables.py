"""Published score tables, read from the CSV files in ``tables`` and kept as read-only arrays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from deskmend.published import read_table, table_header
from deskmend.risk.ranges import IntArray, checked_integer_arrays

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
