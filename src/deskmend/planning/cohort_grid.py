"""Grids for many workplaces at once: the first axis stands for the people, the others for variables.

Everybody of a cohort has the same decisions with the same options, so one call of a posture function fills
the tables of all. A grid whose first axis has length 1 holds for everybody alike.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import prod
from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.planning.grid import WORTH_A_NODE, AnyArray, Grid, GridBuilder, Variable, alike_along

__all__ = ["CohortBuilder", "CohortNode", "TooManyCells"]

MOST_CELLS = 12_000_000
"""Most cells of one table of a whole cohort while it is built."""

MOST_STEPS = 20_000
"""Whole numbers over a wider range are sorted like any others."""


class TooManyCells(RuntimeError):
    """A table of so many people would be too large; fewer people at once may do."""


@dataclass(frozen=True, eq=False)
class CohortNode:
    """A derived variable whose state follows person by person.

    Attributes
    ----------
    name : str
        Unique among variables.
    scope : tuple of str
        Decisions and earlier nodes.
    index : ndarray of int
        State by people, then one axis a variable.
    size : int
        Most states that anybody has.
    """

    name: str
    scope: tuple[str, ...]
    index: AnyArray
    size: int


class CohortBuilder(GridBuilder):
    """Makes grids of many people and the nodes between them.

    Nodes are made as for one person, but a node over several decisions has states of its own for everybody.
    What can be reached at all is not looked into.

    Attributes
    ----------
    derived : list of CohortNode
        Nodes made, each after those in its scope.
    """

    def __init__(self) -> None:
        super().__init__()
        self.derived: list[CohortNode] = []

    def _call(self, function: Callable[..., Any], arguments: list[Grid]) -> Grid:
        replaced = self._joined(self._ordered({v for a in arguments for v in a.scope}))
        fused = [self._rewritten(a, replaced) for a in arguments]
        scope = self._ordered({v for a in fused for v in a.scope})
        people = max((a.values.shape[0] for a in fused), default=1)
        shape = (people, *(self.size(v) for v in scope))
        if prod(shape) > MOST_CELLS:
            raise TooManyCells(f"a table over {', '.join(scope)} of {people} people has {prod(shape)} cells")
        spread = [
            a.values.reshape(
                (a.values.shape[0], *(self.size(v) if v in a.scope else 1 for v in scope)),
            )
            for a in fused
        ]
        values = np.asarray(function(*spread))
        return Grid(scope, np.broadcast_to(values, (max(people, values.shape[0]), *shape[1:])))

    def _rewritten(self, grid: Grid, replaced: dict[str, tuple[str, AnyArray]]) -> Grid:
        todo = [v for v in grid.scope if v in replaced and replaced[v][0] != v]
        if not todo:
            return grid
        target, pick = self._picked(grid.scope, replaced)
        shape = (grid.values.shape[0], *(self.size(v) for v in target))
        return Grid(target, np.broadcast_to(grid.values[_of_all(pick)], shape))

    @staticmethod
    def _trim(grid: Grid) -> Grid:
        scope, values = list(grid.scope), grid.values
        for axis in reversed(range(len(scope) + 1)):
            if not alike_along(values, axis):
                continue
            if axis:
                values = np.take(values, 0, axis=axis)
                del scope[axis - 1]
            else:
                values = values[:1]
        return Grid(tuple(scope), values)

    def _as_node(self, label: str, grid: Grid) -> Grid:
        if grid.is_constant:
            return grid
        base = self._ordered({d for v in grid.scope for d in self._variables[v].base})
        if len(base) == 1:
            return self._of_one_decision(label, base[0], grid)
        people = grid.values.shape[0]
        cells = grid.values.reshape(people, -1)
        states, rank = _ranked(cells)
        size = states.shape[1]
        if size == 1:
            return Grid((), states[:, 0])
        if size * WORTH_A_NODE > cells.shape[1]:
            return grid
        name = self._name(label)
        self._variables[name] = Variable(size, len(self._variables), base, None)
        self.derived.append(CohortNode(name, grid.scope, rank.reshape(grid.values.shape), size))
        return Grid((name,), states)

    def _of_one_decision(self, label: str, decision: str, grid: Grid) -> Grid:
        """Variable that tells apart the options that differ for anybody."""
        full = grid.values[_of_all([self._index(v) for v in grid.scope])]
        _, codes = np.unique(full, return_inverse=True)
        columns = np.ascontiguousarray(codes.reshape(full.shape).T)
        kinds: dict[bytes, int] = {}
        index = np.array([kinds.setdefault(column.tobytes(), len(kinds)) for column in columns])
        if len(kinds) == 1:
            return Grid((), full[:, 0])
        name, states = self._of_decision(label, decision, index)
        _, first = np.unique(index, return_index=True)
        return Grid((name,), full[:, first[states]])

    def add_node(self, name: str, scope: tuple[str, ...], index: AnyArray, size: int) -> None:
        """As for one person; everybody has the same states."""
        self._variables[name] = Variable(size, len(self._variables), scope, index)
        self.derived.append(CohortNode(name, scope, index[np.newaxis], size))

    def reach(self, scope: tuple[str, ...]) -> npt.NDArray[np.bool_] | None:
        """Nothing is known of what cannot be reached."""
        return None


def _of_all(pick: Sequence[AnyArray]) -> tuple[slice | AnyArray, ...]:
    """Index of some states of everybody."""
    return (slice(None), *pick)


def _ranked(cells: AnyArray) -> tuple[AnyArray, AnyArray]:
    """Distinct values of each row, the last repeated to equal length, and the place of each cell in them."""
    if cells.dtype.kind == "f":
        low, high = float(cells.min()), float(cells.max())
        if high - low < MOST_STEPS and bool(np.all(cells == np.rint(cells))):
            return _ranked_whole(cells, low, int(high - low) + 1)
    # Values come in long runs, which a merging sort makes use of.
    order = np.argsort(cells, axis=1, kind="stable")
    ranked = np.take_along_axis(cells, order, axis=1)
    after, before = ranked[:, 1:], ranked[:, :-1]
    fresh = after != before
    if cells.dtype.kind == "f":
        fresh &= ~((after != after) & (before != before))
    place = np.zeros(cells.shape, dtype=np.int32)
    np.cumsum(fresh, axis=1, dtype=np.int32, out=place[:, 1:])
    rank = np.empty_like(place)
    np.put_along_axis(rank, order, place, axis=1)
    size = int(place[:, -1].max()) + 1
    # What follows the last distinct value repeats it.
    states = np.repeat(ranked[:, -1:], size, axis=1)
    who, first = np.nonzero(fresh)
    states[:, 0] = ranked[:, 0]
    states[who, place[who, first + 1]] = after[who, first]
    return states, rank


def _ranked_whole(cells: AnyArray, low: float, steps: int) -> tuple[AnyArray, AnyArray]:
    """The same for whole numbers, without sorting."""
    people = cells.shape[0]
    code = (cells - low).astype(np.int64) + steps * np.arange(people)[:, None]
    met = np.zeros(people * steps, dtype=np.bool_)
    met[code] = True
    place = np.cumsum(met.reshape(people, steps), axis=1, dtype=np.int32) - 1
    who, value = np.nonzero(met.reshape(people, steps))
    states = np.empty((people, int(place[:, -1].max()) + 1))
    states[:] = low + steps - 1 - np.argmax(met.reshape(people, steps)[:, ::-1], axis=1)[:, None]
    states[who, place[who, value]] = low + value
    return states, place.ravel()[code]
