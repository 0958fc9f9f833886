"""A quantity as an exact table over the few variables that can change it, of states read together.

A single state costs hundreds of calls of tiny functions. Many states share those calls, and each still gets
what it would get alone: nothing here knows of any other state's numbers.

Posture functions are called on whole arrays, one axis a variable, so every cell is what the same function
would give for that one combination. Where a quantity takes few distinct values it becomes a variable of its
own (a node), which keeps the tables of what depends on it small. Combinations that no choice can reach,
because two variables hang on the same decision or because a rule forbids them, are left out of account.

Many people are one variable more, `PEOPLE_AXIS`: what differs between them has an axis for it, everything
else has none, and for one person there is no such variable at all.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce
from math import prod
from operator import or_
from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.choice import Mask, Node
from deskmend.choice.problem import LARGEST_TABLE
from deskmend.errors import DefectError
from deskmend.workstation.effects import Change, settle
from deskmend.workstation.fields import FIELDS, SYMBOLS, Value
from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.state import Slot, State, owner_of

__all__ = [
    "KEPT_TASKS",
    "PEOPLE_AXIS",
    "RULE_ROLES",
    "AnyArray",
    "ChangedStates",
    "Grid",
    "GridBuilder",
    "SlotChanges",
    "StateArrays",
    "TooManyCells",
    "Variables",
    "Worked",
    "alike_in",
    "constant",
    "follows",
    "layout_of",
    "symbol_of",
    "trimmed",
    "worked_out",
]

RULE_ROLES = {"mode": "sit"}
"""Role in which rules ask for quantities."""


def symbol_of(name: str) -> str:
    """Name by which an evaluation knows a field or quantity."""
    return FIELDS[name].symbol if name in FIELDS else name


def layout_of(state: State) -> Hashable:
    """What states must have in common to be read together."""
    return tuple(state.place_of.items()), state.places


def alike_in(keys: Iterable[Hashable]) -> list[list[int]]:
    """Positions of equal keys, in order of first appearance."""
    found: dict[Hashable, list[int]] = {}
    for position, key in enumerate(keys):
        found.setdefault(key, []).append(position)
    return list(found.values())


AnyArray = npt.NDArray[Any]
SlotChanges = Mapping[Slot, Sequence[Change]]
"""What is done to each field that is changed."""


class StateArrays:
    """States of one layout, at least one; of a single one every value is a plain number or word of numpy.

    Where the states `before` any fix are told, legs are taken to have no less room where nobody works
    than a plan has to leave: none are in the way there, and tables do not tell less apart.
    """

    def __init__(self, states: Sequence[State], before: StateArrays | None = None) -> None:
        self.states, self.first, self._before = states, states[0], before
        self._fields: dict[Slot, Any] = {}
        self._evaluations: dict[tuple[str, str], Evaluation[Any]] = {}

    def field(self, slot: Slot) -> Any:
        """Value of a field in each state."""
        if slot not in self._fields:
            kind = np.float64 if FIELDS[slot[1]].is_number else np.str_
            if len(self.states) == 1:
                self._fields[slot] = kind(self.first.values[slot])
            else:
                self._fields[slot] = np.array([state.values[slot] for state in self.states], dtype=kind)
        return self._fields[slot]

    def part(self, positions: Sequence[int]) -> StateArrays:
        """Some of the states alone, in the order given."""
        return StateArrays([self.states[i] for i in positions])

    def evaluation(self, task: str, place: str | None = None) -> Evaluation[Any]:
        """Quantities of one task, at its own place or another; made once."""
        at = self.first.place_of[task] if place is None else place
        if (task, at) not in self._evaluations:

            def leaf(symbol: str) -> Any:
                known = SYMBOLS[symbol]
                return self.field((owner_of(known.level, task, at), known.name))

            def apply(key: Any, function: Callable[..., Any], arguments: list[Any]) -> Any:
                if key[0] == "legs_under" and self._before and at not in self.first.place_of.values():
                    arguments = [np.maximum(arguments[0], self._before.least_clearance(at)), *arguments[1:]]
                return function(*arguments)

            self._evaluations[task, at] = Evaluation(
                QUANTITIES,
                leaf,
                apply,
                np.float64,
                lambda value: bool(np.all(value == 0)),
            )
        return self._evaluations[task, at]

    def reading(self, name: str, task: str, place: str) -> Any:
        """Value of a field or quantity for a task done at a place, as rules ask for it."""
        if name in FIELDS:
            return self.field((owner_of(FIELDS[name].level, task, place), name))
        return self.evaluation(task, place)(name, **RULE_ROLES)

    def least_clearance(self, place: str) -> Any:
        """Free height over the legs that a plan has to leave [mm]: 0, or what there is now if less."""
        now = self.evaluation(self.first.tasks[0], place)("clearance")
        # Where nobody knows what room there is, 0 is kept to.
        return np.where(now < 0.0, now, 0.0)

    def least_room(self, name: str, task: str) -> Any:
        """Room that a plan has to leave on a task's desk [mm]: 0, or what its own place has if less."""
        now = self.reading(name, task, self.first.place_of[task])
        return np.where(now < 0.0, now, 0.0)

    def given(self, slot: Slot) -> Any:
        """Where a case gives the value of a field, and not as an estimate."""
        return np.array([slot not in state.assumed for state in self.states])

    def truths(self, value: Any) -> npt.NDArray[np.bool_]:
        """One truth for each state, also where all share one."""
        return np.broadcast_to(np.asarray(value, dtype=np.bool_), len(self.states))


# --- states after sets of changes ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Worked:
    """A field, a constant, or what follows from others by a function, whatever the states are.

    - `of`: the field, the constant, or the function.
    - `needs`: what a function is given.
    - `slots`: fields behind it.
    """

    of: Slot | float | Callable[..., Any]
    needs: tuple[Worked, ...] = ()
    slots: frozenset[Slot] = frozenset()


def follows(function: Callable[..., Any], needs: Sequence[Worked]) -> Worked:
    """What follows from others by a function that broadcasts over arrays."""
    return Worked(function, tuple(needs), frozenset[Slot]().union(*(need.slots for need in needs)))


KEPT_TASKS = 256
"""Tasks at places of which is kept what their quantities follow from."""


@lru_cache(maxsize=KEPT_TASKS)
def worked_out(task: str, place: str) -> Evaluation[Worked]:
    """What the quantities of one task at a place follow from; none is taken to be 0 whatever is done."""

    def leaf(symbol: str) -> Worked:
        slot = (owner_of(SYMBOLS[symbol].level, task, place), SYMBOLS[symbol].name)
        return Worked(slot, (), frozenset([slot]))

    return Evaluation(
        QUANTITIES,
        leaf,
        lambda _key, function, arguments: follows(function, arguments),
        Worked,
        lambda _value: False,
    )


@dataclass(eq=False)
class _Known:
    """What is known of a value: a row of `values` by what of a set of changes concerns it.

    Of `counted` changes `concerns` holds the bits of those that do.
    """

    rows: dict[int, int]
    values: AnyArray
    concerns: int = 0
    counted: int = 0


class ChangedStates:
    """States of one layout after sets of changes, each value worked out once for all that leave it alike.

    A set of changes is a whole number: a bit for each field and what becomes of it. What a quantity hangs on
    are some of these bits, so most of what a set leads to is known from others.
    """

    def __init__(self, states: Sequence[State]) -> None:
        self._states = states
        self._bits: dict[tuple[Slot, Hashable], int] = {}
        self._become: dict[int, AnyArray] = {}
        self._of_slot: dict[Slot, int] = {}
        self._known: dict[Worked, _Known] = {}

    def changed(self, changes: Sequence[SlotChanges]) -> int:
        """A set of changes as a number: the same for all states, or one for each of them."""
        out = 0
        for slot in dict.fromkeys(slot for one in changes for slot in one):
            done = tuple(tuple(one.get(slot, ())) for one in changes)
            if (slot, done) not in self._bits:
                self._bits[slot, done] = self._bit(slot, done)
            out |= self._bits[slot, done]
        return out

    def _bit(self, slot: Slot, done: Sequence[tuple[Change, ...]]) -> int:
        """Bit of what becomes of a field; 0 where it stays what it is."""
        own = [state.values[slot] for state in self._states]
        pairs = list(zip(own, done if len(done) > 1 else [*done] * len(own), strict=True))
        settled = {pair: settle(*pair) if pair[1] else pair[0] for pair in dict.fromkeys(pairs)}
        row, before = _row(slot, [settled[pair] for pair in pairs]), _row(slot, own)
        if row.dtype == before.dtype and row.tobytes() == before.tobytes():
            return 0
        known = slot, (row.dtype.str, row.tobytes())
        if known not in self._bits:
            bit = self._bits[known] = 1 << len(self._become)
            self._become[bit] = row
            self._of_slot[slot] = self._of_slot.get(slot, 0) | bit
        return self._bits[known]

    def values(self, asked: Worked, sets: Sequence[int]) -> AnyArray:
        """Values after sets of changes: a row each, or one for all, and a column a state, or one for all."""
        known = self._known.get(asked)
        if known is None:
            known = self._known[asked] = _Known({}, np.zeros((0, 1)))
        if known.counted != len(self._become):
            bits = [self._of_slot[slot] for slot in asked.slots if slot in self._of_slot]
            known.concerns, known.counted = reduce(or_, bits, 0), len(self._become)
        concerns, rows = known.concerns, known.rows
        keys = [one & concerns for one in sets] if concerns else [0]
        fresh = [key for key in dict.fromkeys(keys) if key not in rows]
        if fresh:
            made = self._made(asked, fresh)
            if rows and known.values.shape[1] != made.shape[1]:
                wide = [np.broadcast_to(one, (len(one), len(self._states))) for one in (known.values, made)]
                known.values, made = wide
            known.values = np.concatenate((known.values, made)) if rows else made
            for key in fresh:
                rows[key] = len(rows)
        at = [rows[key] for key in keys]
        first = at[0]
        if at.count(first) == len(at):
            return known.values[first : first + 1]
        return known.values.take(at, axis=0)

    def _made(self, asked: Worked, sets: Sequence[int]) -> AnyArray:
        """Values after sets of changes, a row each."""
        if callable(asked.of):
            made = np.asarray(asked.of(*[self.values(need, sets) for need in asked.needs]))
            whole = made.ndim == 2 and len(made) == len(sets)
            return made if whole else np.broadcast_to(made, (len(sets), made.shape[-1] if made.ndim else 1))
        if not isinstance(asked.of, tuple):
            return np.full((len(sets), 1), asked.of)
        slot = asked.of
        own = None if all(sets) else _row(slot, [state.values[slot] for state in self._states])
        rows = [self._become[one] if one or own is None else own for one in sets]
        width = max(map(len, rows))
        return np.array([row if len(row) == width else np.broadcast_to(row, width) for row in rows])


def _row(slot: Slot, values: Sequence[Value]) -> AnyArray:
    """A value for each state, or one where all have the same."""
    first = values[0]
    alike = all(one == first or (one != one and first != first) for one in values)
    kind = np.float64 if FIELDS[slot[1]].is_number else np.str_
    return np.array(values[:1] if alike else values, dtype=kind)


PEOPLE_AXIS = "*people"
"""The variable that tells people apart; always the first of a scope."""

LARGEST_GRID = 30_000_000
"""Most cells of one grid while it is built."""
LARGEST_GRID_OF_MANY = 12_000_000
"""The same for many people together."""
MOST_REACH = 400_000
"""Most combinations of decisions that are gone through to find what can be reached."""
MOST_REACH_OF_EACH = 20_000
"""The same for each of many people while their grids are built together."""
WORTH_A_NODE = 2.0
"""A quantity becomes a node where its cells outnumber its distinct values by this factor."""
MOST_STEPS = 20_000
"""Whole numbers over a wider range are sorted like any others."""

Scope = tuple[str, ...]


class TooManyCells(DefectError):
    """A grid would be too large; of fewer people at once it may not be."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Values over a scope, one axis a variable in the builder's order; over no variable, a constant."""

    scope: Scope
    values: AnyArray

    @property
    def is_constant(self) -> bool:
        """True where nothing that is decided changes it; people may differ."""
        return self.scope in ((), (PEOPLE_AXIS,))


def constant(value: Any) -> Grid:
    """Grid of one value."""
    return Grid((), np.asarray(value))


def trimmed(scope: Scope, values: AnyArray) -> tuple[Scope, AnyArray]:
    """Scope and values without the variables that change nothing; what is no number is like what is none."""
    left = list(scope)
    for axis in reversed(range(len(left))):
        along = values.swapaxes(0, axis)
        # Mostly the last differs from the first, which takes little to see.
        if _alike(along[0], along[-1]) and _alike(along[0], along):
            values = values[(slice(None),) * axis + (0,)]
            del left[axis]
    # A copy, so that what is left out is let go.
    return tuple(left), values if len(left) == len(scope) else values.copy()


def _alike(one: AnyArray, other: AnyArray) -> bool:
    same = np.asarray(one == other)
    if same.all():
        return True
    return one.dtype.kind == "f" and bool((same | ((one != one) & (other != other))).all())


# --- variables -----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Variable:
    """A decision or node: its states, what they follow from, and the decisions (and people) behind that.

    `index` is its state, one axis a variable of the scope; a decision follows from itself.
    """

    size: int
    order: int
    scope: Scope
    base: Scope
    index: AnyArray


class Variables:
    """Decisions, the nodes that follow from them, and which of their states can occur together.

    ``nodes`` holds the nodes, each after those in its scope. At most `most_reach` combinations of decisions
    are gone through to find what can occur.
    """

    def __init__(self, most_reach: int = MOST_REACH) -> None:
        self.most_reach = most_reach
        self.nodes: list[Node] = []
        self._variables: dict[str, _Variable] = {}
        self._known: dict[str, AnyArray | None] = {}
        self._rules: list[Mask] = []

    def decision(self, name: str, size: int) -> None:
        """Add a decision with so many options."""
        if name in self._variables:
            raise DefectError(f"variable {name} is made twice")
        self._known[name] = np.arange(size)
        self._variables[name] = _Variable(size, len(self._variables), (name,), (name,), np.arange(size))

    def add_node(self, name: str, scope: Scope, index: AnyArray, size: int) -> None:
        """Add a node of so many states; `index` is its state, one axis a variable of the scope."""
        self._variables[name] = _Variable(size, len(self._variables), scope, self._base(scope), index)
        self.nodes.append(Node(name, scope, index, size))

    def rule(self, mask: Mask) -> None:
        """Take note that some combinations of decisions are forbidden; rules over nodes are passed over."""
        if all(self._variables[v].base == (v,) for v in mask.scope):
            self._rules.append(mask)

    def size(self, name: str) -> int:
        """Number of states of a variable."""
        return self._variables[name].size

    def reach(self, scope: Scope) -> npt.NDArray[np.bool_] | None:
        """Where states can occur together, one axis a variable; None: everywhere, or nobody knows."""
        base = self._base(scope)
        rules = [m for m in self._rules if sum(d in base for d in m.scope) > 1 or m.scope == base]
        if not rules and sum(len(self._variables[v].base) for v in scope) == len(base):
            return None
        states = [self._over(v, base) for v in scope]
        if any(s is None for s in states):
            return None
        shape = self._shape(scope)
        code: AnyArray = np.zeros((), dtype=np.int64)
        for state, size in zip(states, shape, strict=True):
            code = code * size + state
        if rules:
            allowed = np.ones(self._shape(base), dtype=np.bool_)
            for mask in rules:
                allowed &= self._over_base(mask, base)
            code = code[allowed]
        reached = np.zeros(prod(shape), dtype=np.bool_)
        reached[code.ravel()] = True
        return None if bool(reached.all()) else reached.reshape(shape)

    def _over_base(self, mask: Mask, base: Scope) -> npt.NDArray[np.bool_]:
        """What a rule leaves open of a base, whatever else is decided; broadcastable."""
        out = tuple(k for k, d in enumerate(mask.scope) if d not in base)
        inside = [d for d in mask.scope if d in base]
        order = sorted(range(len(inside)), key=lambda k: base.index(inside[k]))
        left = np.transpose(mask.allowed.any(axis=out), order)
        return left.reshape(tuple(self.size(d) if d in inside else 1 for d in base))

    def _base(self, scope: Scope) -> Scope:
        return self._ordered({d for v in scope for d in self._variables[v].base})

    def _ordered(self, names: set[str]) -> Scope:
        return tuple(sorted(names, key=lambda v: self._variables[v].order))

    def _shape(self, scope: Scope) -> tuple[int, ...]:
        return tuple(self._variables[v].size for v in scope)

    def _over(self, name: str, base: Scope) -> AnyArray | None:
        """State of a variable by the options of a wider base, broadcastable; None if that is too large."""
        if prod(self._shape(base)) > self.most_reach:
            return None
        known, own = self._full(name), self._variables[name].base
        return None if known is None else known.reshape(tuple(self.size(d) if d in own else 1 for d in base))

    def _full(self, name: str) -> AnyArray | None:
        """State of a variable by the decisions behind it, one axis a decision; None if that is too large."""
        if name not in self._known:
            variable = self._variables[name]
            states = [self._over(v, variable.base) for v in variable.scope]
            known = [state for state in states if state is not None]
            full = variable.index[tuple(known)] if len(known) == len(states) else None
            self._known[name] = full
        return self._known[name]


# --- functions of grids --------------------------------------------------------------------------


class GridBuilder(Variables):
    """Makes grids and the nodes between them, of one person or of many at once."""

    def __init__(self, people: int = 1) -> None:
        many = people > 1
        super().__init__(people * MOST_REACH_OF_EACH if many else MOST_REACH)
        self.largest = LARGEST_GRID_OF_MANY if many else LARGEST_GRID
        self._made: dict[tuple[Any, ...], tuple[Grid, list[Grid]]] = {}
        self._parted: dict[tuple[str, bytes], str] = {}
        if many:
            self.decision(PEOPLE_AXIS, people)

    def apply(
        self, label: str, function: Callable[..., Any], arguments: list[Grid], node: bool = True
    ) -> Grid:
        """Grid of a function that broadcasts over arrays, computed once for the same arguments.

        `label` names a node, if one is made. Where `node` is false, none is made to stand for several
        decisions; one that sums up a single decision is always worth having.
        """
        known = (function, node, *(id(a) for a in arguments))
        if known not in self._made:
            grid = self._call(function, arguments)
            may = bool(label) and (node or len(self._decided(grid.scope)) == 1)
            # The arguments are kept, so that their ids stay theirs.
            self._made[known] = (self._as_node(label, grid) if may else grid, arguments)
        return self._made[known][0]

    def _decided(self, scope: Scope) -> Scope:
        """Decisions that variables follow from, the people left out."""
        return tuple(d for d in self._base(scope) if d != PEOPLE_AXIS)

    def _call(self, function: Callable[..., Any], arguments: list[Grid]) -> Grid:
        replaced = self._joined(self._ordered({v for a in arguments for v in a.scope}))
        fused = [self._rewritten(a, replaced) for a in arguments]
        scope = self._ordered({v for a in fused for v in a.scope})
        shape = self._shape(scope)
        if prod(shape) > self.largest:
            raise TooManyCells(f"a table over {', '.join(scope)} would have {prod(shape)} cells")
        spread = [a.values.reshape(tuple(self.size(v) if v in a.scope else 1 for v in scope)) for a in fused]
        return Grid(*trimmed(scope, np.broadcast_to(np.asarray(function(*spread)), shape)))

    def _joined(self, scope: Scope) -> dict[str, tuple[str, AnyArray]]:
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
                stacked = np.stack([self._index(m) for m in members])
                _, index = np.unique(stacked, axis=1, return_inverse=True)
                joint = self._of_decision(f"{decision}~kinds", decision, index.ravel())[0]
            for member in members:
                table = np.zeros(self.size(joint), dtype=np.int64)
                table[self._index(joint)] = self._index(member)
                out[member] = (joint, table)
        return out

    def _index(self, name: str) -> AnyArray:
        """States of a variable of one decision by that decision's options."""
        index = self._full(name)
        if index is None:
            raise DefectError(f"{name} hangs on one decision only, so its index is kept")
        return index

    def _rewritten(self, grid: Grid, replaced: dict[str, tuple[str, AnyArray]]) -> Grid:
        """Grid over the joint variables instead of their members."""
        if all(v not in replaced or replaced[v][0] == v for v in grid.scope):
            return grid
        target = self._ordered({replaced[v][0] if v in replaced else v for v in grid.scope})
        pick = []
        for v in grid.scope:
            joint, table = replaced[v] if v in replaced else (v, np.arange(self.size(v)))
            axis = target.index(joint)
            pick.append(table.reshape(tuple(-1 if k == axis else 1 for k in range(len(target)))))
        return Grid(target, np.broadcast_to(grid.values[tuple(pick)], self._shape(target)))

    # --- nodes -----------------------------------------------------------------------------------

    def _as_node(self, label: str, grid: Grid) -> Grid:
        """Grid over a new node, where that is smaller; each person's states are ranked apart."""
        if grid.is_constant:
            return grid
        reach = self.reach(grid.scope)
        decided = self._decided(grid.scope)
        if len(decided) == 1:
            return self._of_one_decision(label, decided[0], grid, reach)
        people = grid.scope[:1] if grid.scope[0] == PEOPLE_AXIS else ()
        rows = self.size(PEOPLE_AXIS) if people else 1
        cells = grid.values.reshape(rows, -1)
        room = cells.shape[1]
        reached = None if reach is None else reach.reshape(rows, -1)
        if reached is not None:
            # Where nothing gets to, some value stands that is there anyway.
            first = np.argmax(reached, axis=1)[:, np.newaxis]
            cells = np.where(reached, cells, np.take_along_axis(cells, first, axis=1))
            room = int(reached.sum(axis=1).max())
        states, rank = _ranked(cells)
        size = states.shape[1]
        if size == 1:
            return Grid(people, states[:, 0] if people else states[0, 0])
        worth = WORTH_A_NODE if len(grid.scope) - len(people) > 1 else 1.0
        if size * worth > room or size == cells.shape[1]:
            return grid
        if reached is not None:
            rank = np.where(reached, rank, 0)
        if rank.size > LARGEST_TABLE:
            raise TooManyCells(f"a node over {', '.join(grid.scope)} would have {rank.size} cells")
        name = self._name(label)
        self.add_node(name, grid.scope, rank.reshape(grid.values.shape), size)
        return Grid((*people, name), states if people else states[0])

    def _of_one_decision(
        self, label: str, decision: str, grid: Grid, reach: npt.NDArray[np.bool_] | None
    ) -> Grid:
        """Grid over a variable that tells apart the options that differ for anybody."""
        people = grid.scope[:1] if grid.scope[0] == PEOPLE_AXIS else ()
        # All other variables of the scope hang on this decision: one of them at most, or they were joined.
        pick = (..., self._index(grid.scope[-1]))
        full = grid.values[pick]
        if reach is not None:
            full = np.where(reach[pick], full, full[..., :1])
        index = np.unique(full, return_inverse=True)[1].reshape(full.shape)
        if people:
            kinds: dict[bytes, int] = {}
            columns = np.ascontiguousarray(index.T)
            index = np.array([kinds.setdefault(column.tobytes(), len(kinds)) for column in columns])
        if not index.any():
            return Grid(people, full[..., 0])
        name, states = self._of_decision(label, decision, index)
        first = np.unique(index, return_index=True)[1]
        return Grid((*people, name), full[..., first[states]])

    def _of_decision(self, label: str, decision: str, index: AnyArray) -> tuple[str, AnyArray]:
        """Variable that parts the options of one decision so, made only if there is none yet.

        Returns its name, the decision's own where that tells all options apart, and for each of its states
        which of the given ones it is.
        """
        _, first, inverse = np.unique(index, return_index=True, return_inverse=True)
        parts = np.argsort(np.argsort(first))[inverse.ravel()]
        count = int(first.size)
        states = np.empty(count, dtype=np.int64)
        states[parts] = index
        if count == self.size(decision):
            return decision, states
        key = (decision, parts.tobytes())
        if key not in self._parted:
            self._parted[key] = self._name(label)
            self.add_node(self._parted[key], (decision,), parts, count)
        return self._parted[key], states

    def _name(self, label: str) -> str:
        name, number = label, 1
        while name in self._variables:
            number += 1
            name = f"{label}~{number}"
        return name


def _ranked(cells: AnyArray) -> tuple[AnyArray, AnyArray]:
    """Distinct values of each row, the last repeated to equal length, and the place of each cell in them."""
    if cells.dtype.kind == "f":
        low, high = float(cells.min()), float(cells.max())
        if high - low < min(MOST_STEPS, cells.size) and bool(np.all(cells == np.rint(cells))):
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
