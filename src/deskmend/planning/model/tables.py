"""Few tables and few nodes: tables of one scope added up, nodes that serve one table alone taken into it.

A quantity as an exact table over the few variables that can change it.

Posture functions are called on whole arrays, one axis a variable, so every
cell is what the same function would give for that one combination. Where a
quantity takes few distinct values it becomes a variable of its own (a node),
which keeps the tables of what depends on it small. Combinations that no choice
can reach, because two variables hang on the same decision or because a rule
forbids them, are left out of account.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import prod
from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.choice import Mask, Node, Table
from deskmend.errors import DefectError
from deskmend.planning.model.conditions import Gate

__all__ = [
    "WORTH_A_NODE",
    "AnyArray",
    "Grid",
    "GridBuilder",
    "Variable",
    "absorbed",
    "added_up",
    "alike_along",
    "constant",
]

MAX_CELLS = 4_000_000
"""Most cells of one table while it is built."""
MAX_REACH = 400_000
"""Most combinations of decisions that are gone through to find what can be reached."""
WORTH_A_NODE = 2.0
"""A quantity becomes a node where its cells outnumber its distinct values by this factor."""

AnyArray = npt.NDArray[Any]


@dataclass(frozen=True, eq=False)
class Grid:
    """Values over a scope.

    Attributes
    ----------
    scope : tuple of str
        Variables, in the builder's order; empty for a constant.
    values : ndarray
        One axis a variable.
    """

    scope: tuple[str, ...]
    values: AnyArray

    @property
    def is_constant(self) -> bool:
        """True where nothing that is decided changes it."""
        return not self.scope


def alike_along(values: AnyArray, axis: int) -> bool:
    """Whether an array says the same all along an axis; what is no number is like what is none.

    Parameters
    ----------
    values : ndarray
        Any.
    axis : int
        One of its axes.
    """
    first = np.take(values, [0], axis=axis)
    # Mostly the last differs from the first, which takes little to see.
    return _alike(first, np.take(values, [-1], axis=axis)) and _alike(first, values)


def _alike(one: AnyArray, other: AnyArray) -> bool:
    same = one == other
    return bool(np.all(same)) or bool(np.all(same | ((one != one) & (other != other))))


def constant(value: Any) -> Grid:
    """Grid of one value."""
    return Grid((), np.asarray(value))


@dataclass(frozen=True, eq=False)
class Variable:
    """A decision or node: its states, and the decisions its state follows from."""

    size: int
    order: int
    base: tuple[str, ...]
    index: AnyArray | None
    """State by the options of the base, one axis a decision; None where that is too large to keep."""


class GridBuilder:
    """Makes grids and the nodes between them.

    Parameters
    ----------
    most_reach : int
        Most combinations of decisions that are gone through to find what can be reached.

    Attributes
    ----------
    nodes : list of Node
        Nodes made, each after those in its scope.
    """

    def __init__(self, most_reach: int = MAX_REACH) -> None:
        self.most_reach = most_reach
        self.nodes: list[Node] = []
        self._variables: dict[str, Variable] = {}
        self._made: dict[tuple[Any, ...], tuple[Grid, tuple[Grid, ...]]] = {}
        self._parted: dict[tuple[str, bytes], str] = {}
        self._rules: list[Mask] = []

    def decision(self, name: str, size: int) -> None:
        """Add a decision with so many options."""
        if name in self._variables:
            raise DefectError(f"variable {name} is made twice")
        self._variables[name] = Variable(size, len(self._variables), (name,), np.arange(size))

    def rule(self, mask: Mask) -> None:
        """Take note that some combinations of decisions are forbidden; rules over nodes are passed over."""
        if all(self._variables[v].base == (v,) for v in mask.scope):
            self._rules.append(mask)

    def size(self, name: str) -> int:
        """Number of states of a variable."""
        return self._variables[name].size

    # --- functions of grids ----------------------------------------------------------------------

    def apply(
        self, label: str, function: Callable[..., Any], arguments: list[Grid], node: bool = True
    ) -> Grid:
        """Grid of a function of grids, computed once for the same arguments.

        Parameters
        ----------
        label : str
            Name for a node, if one is made.
        function : callable
            Broadcasts over arrays.
        arguments : list of Grid
            What it is called on.
        node : bool
            Whether the result may become a node that stands for several variables;
            one that sums up a single decision is always worth having.
        """
        known = (function, node, *(id(a) for a in arguments))
        if known not in self._made:
            grid = self._trim(self._call(function, arguments))
            # The arguments are kept, so that their ids stay theirs.
            single = len({d for v in grid.scope for d in self._variables[v].base}) == 1
            may = bool(label) and (node or single)
            self._made[known] = (self._as_node(label, grid) if may else grid, tuple(arguments))
        return self._made[known][0]

    def _call(self, function: Callable[..., Any], arguments: list[Grid]) -> Grid:
        scope = self._ordered({v for a in arguments for v in a.scope})
        replaced = self._joined(scope)
        fused = [self._rewritten(a, replaced) for a in arguments]
        scope = self._ordered({v for a in fused for v in a.scope})
        shape = tuple(self.size(v) for v in scope)
        if prod(shape) > MAX_CELLS:
            raise DefectError(f"a table over {', '.join(scope)} would have {prod(shape)} cells")
        spread = [a.values.reshape(tuple(self.size(v) if v in a.scope else 1 for v in scope)) for a in fused]
        return Grid(scope, np.broadcast_to(np.asarray(function(*spread)), shape))

    def _ordered(self, names: set[str]) -> tuple[str, ...]:
        return tuple(sorted(names, key=lambda v: self._variables[v].order))

    def _joined(self, scope: tuple[str, ...]) -> dict[str, tuple[str, AnyArray]]:
        """Variables of one and the same decision, each with the joint variable that replaces them."""
        groups: dict[str, list[str]] = {}
        for name in scope:
            variable = self._variables[name]
            if len(variable.base) == 1:
                groups.setdefault(variable.base[0], []).append(name)
        out: dict[str, tuple[str, AnyArray]] = {}
        for decision, members in groups.items():
            if len(members) == 1:
                continue
            if decision in members:
                joint = decision
            else:
                joint = self._joint(decision, tuple(members))
            for member in members:
                table = np.zeros(self.size(joint), dtype=np.int64)
                table[self._index(joint)] = self._index(member)
                out[member] = (joint, table)
        return out

    def _index(self, name: str) -> AnyArray:
        """States of a variable of one decision by that decision's options."""
        index = self._variables[name].index
        if index is None:
            raise DefectError(f"{name} hangs on one decision only, so its index is kept")
        return index

    def _joint(self, decision: str, members: tuple[str, ...]) -> str:
        stacked = np.stack([self._index(m) for m in members])
        _, index = np.unique(stacked, axis=1, return_inverse=True)
        return self._of_decision(f"{decision}~kinds", decision, index.ravel())[0]

    def _of_decision(self, label: str, decision: str, index: AnyArray) -> tuple[str, AnyArray]:
        """Variable that parts the options of one decision so, made only if there is none yet.

        Returns
        -------
        name : str
            The decision itself where it tells all options apart.
        states : ndarray of int
            Which of the given states each state of the variable is.
        """
        _, first, inverse = np.unique(index, return_index=True, return_inverse=True)
        rank = np.argsort(np.argsort(first))
        parts = rank[inverse.ravel()]
        count = int(first.size)
        states = np.empty(count, dtype=np.int64)
        states[parts] = index
        if count == self.size(decision):
            return decision, states
        key = (decision, parts.tobytes())
        if key not in self._parted:
            name = self._name(label)
            self.add_node(name, (decision,), parts, count)
            self._parted[key] = name
        return self._parted[key], states

    def _rewritten(self, grid: Grid, replaced: dict[str, tuple[str, AnyArray]]) -> Grid:
        """Grid over the joint variables instead of their members."""
        todo = [v for v in grid.scope if v in replaced and replaced[v][0] != v]
        if not todo:
            return grid
        target, pick = self._picked(grid.scope, replaced)
        shape = tuple(self.size(v) for v in target)
        return Grid(target, np.broadcast_to(grid.values[pick], shape))

    def _picked(
        self, scope: tuple[str, ...], replaced: dict[str, tuple[str, AnyArray]]
    ) -> tuple[tuple[str, ...], tuple[AnyArray, ...]]:
        """Scope over the joint variables, and the state of each variable by theirs, broadcastable."""
        target = self._ordered({replaced[v][0] if v in replaced else v for v in scope})
        pick = []
        for v in scope:
            joint, table = replaced[v] if v in replaced else (v, np.arange(self.size(v)))
            axis = target.index(joint)
            pick.append(table.reshape(tuple(-1 if k == axis else 1 for k in range(len(target)))))
        return target, tuple(pick)

    @staticmethod
    def _trim(grid: Grid) -> Grid:
        """Grid without the variables that change nothing."""
        scope, values = list(grid.scope), grid.values
        for axis in reversed(range(len(scope))):
            if alike_along(values, axis):
                values = np.take(values, 0, axis=axis)
                del scope[axis]
        return Grid(tuple(scope), values)

    # --- nodes -----------------------------------------------------------------------------------

    def _as_node(self, label: str, grid: Grid) -> Grid:
        if grid.is_constant:
            return grid
        reach = self.reach(grid.scope)
        cells = grid.values if reach is None else grid.values[reach]
        distinct, inverse = np.unique(cells, return_inverse=True)
        if distinct.size == 1:
            return constant(distinct[0])
        worth = WORTH_A_NODE if len(grid.scope) > 1 else 1.0
        if distinct.size * worth > cells.size or distinct.size == grid.values.size:
            return grid
        index = np.zeros(grid.values.shape, dtype=np.int64)
        if reach is None:
            index = inverse.reshape(grid.values.shape)
        else:
            index[reach] = inverse.ravel()
        base = self._ordered({d for v in grid.scope for d in self._variables[v].base})
        if len(base) == 1:
            full = index[tuple(self._index(v) for v in grid.scope)]
            name, states = self._of_decision(label, base[0], full)
            return Grid((name,), distinct[states])
        name = self._name(label)
        self.add_node(name, grid.scope, index, int(distinct.size))
        return Grid((name,), distinct)

    def _name(self, label: str) -> str:
        name, number = label, 1
        while name in self._variables:
            number += 1
            name = f"{label}~{number}"
        return name

    def add_node(self, name: str, scope: tuple[str, ...], index: AnyArray, size: int) -> None:
        """Add a node.

        Parameters
        ----------
        name : str
            Not yet taken.
        scope : tuple of str
            What its state follows from.
        index : ndarray of int
            Its state, one axis a variable.
        size : int
            Number of states.
        """
        base = self._ordered({d for v in scope for d in self._variables[v].base})
        full: AnyArray | None = None
        states = [state for state in (self._over(v, base) for v in scope) if state is not None]
        if len(states) == len(scope):
            full = np.broadcast_to(index[tuple(states)], tuple(self.size(d) for d in base))
        self._variables[name] = Variable(size, len(self._variables), base, full)
        self.nodes.append(Node(name, scope, index, size))

    def _over(self, name: str, base: tuple[str, ...]) -> AnyArray | None:
        """State of a variable by the options of a wider base, broadcastable; None if that is too large."""
        variable = self._variables[name]
        if variable.index is None or prod(self.size(d) for d in base) > self.most_reach:
            return None
        return variable.index.reshape(tuple(self.size(d) if d in variable.base else 1 for d in base))

    def reach(self, scope: tuple[str, ...]) -> npt.NDArray[np.bool_] | None:
        """Where a combination of variables can occur at all.

        Parameters
        ----------
        scope : tuple of str
            Variables.

        Returns
        -------
        bool ndarray or None
            One axis a variable; None where every combination can occur or nobody knows.
        """
        base = self._ordered({d for v in scope for d in self._variables[v].base})
        rules = [m for m in self._rules if sum(d in base for d in m.scope) > 1 or m.scope == base]
        if not rules and sum(len(self._variables[v].base) for v in scope) == len(base):
            return None
        states = [self._over(v, base) for v in scope]
        if any(s is None for s in states):
            return None
        sizes = tuple(self.size(d) for d in base)
        allowed = np.ones(sizes, dtype=np.bool_)
        for mask in rules:
            out = tuple(k for k, d in enumerate(mask.scope) if d not in base)
            left = mask.allowed.any(axis=out)
            inside = [d for d in mask.scope if d in base]
            order = sorted(range(len(inside)), key=lambda k: base.index(inside[k]))
            turned = np.transpose(left, order)
            allowed &= turned.reshape(tuple(self.size(d) if d in inside else 1 for d in base))
        shape = tuple(self.size(v) for v in scope)
        spread = [np.broadcast_to(s, sizes)[allowed] for s in states if s is not None]
        reached = np.zeros(shape, dtype=np.bool_)
        reached[tuple(spread)] = True
        return None if bool(reached.all()) else reached


def added_up(tables: Sequence[Table]) -> list[Table]:
    """Tables of one scope and gate added up, so that there are few; without those that add nothing.

    Parameters
    ----------
    tables : sequence of Table
        Any.
    """
    groups: dict[tuple[Gate | None, tuple[str, ...]], AnyArray] = {}
    for table in tables:
        key = (table.when, table.scope)
        groups[key] = table.values + groups[key] if key in groups else table.values  # type: ignore[index]
    return [
        Table(scope, np.array(values), when=gate)
        for (gate, scope), values in groups.items()
        if np.any(values)
    ]


def absorbed(
    tables: Sequence[Table], nodes: Sequence[Node], masks: Sequence[Mask]
) -> tuple[list[Table], list[Node]]:
    """Tables and nodes without nodes that serve a single table alone, or nothing.

    Parameters
    ----------
    tables, nodes, masks : sequences
        Of one problem.
    """
    kept = list(nodes)
    tables = list(tables)
    for node in reversed(nodes):
        users = [k for k, table in enumerate(tables) if node.name in table.scope]
        others = any(node.name in n.scope for n in kept) or any(node.name in m.scope for m in masks)
        if others:
            continue
        if not users:
            kept.remove(node)
        elif len(users) == 1 and tables[users[0]].scope == (node.name,):
            table = tables[users[0]]
            tables[users[0]] = Table(node.scope, np.asarray(table.values)[node.index], when=table.when)
            kept.remove(node)
    return added_up(tables), kept
