"""States of the same places and tasks read together: each value an array of all of them.

A single state costs hundreds of calls of tiny functions. Many states share those calls, and each still gets
what it would get alone: nothing here knows of any other state's numbers.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.workstation.effects import Change, settle
from deskmend.workstation.fields import FIELDS, SYMBOLS
from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.state import Slot, State, owner_of

__all__ = ["RULE_ROLES", "StateArrays", "alike_in", "layout_of", "symbol_of"]

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


IntArray = npt.NDArray[np.int64]
SlotChanges = Mapping[Slot, Sequence[Change]]
"""What is done to each field that is changed."""


class StateArrays:
    """States of one layout, at least one; of a single one every value is a plain number or word of numpy.

    With `changes`, one entry a state, each is read as it is after them; what a field becomes is then worked
    out when it is asked for, which takes far less than making each state. Tasks that move lie as in `first`.
    """

    def __init__(
        self,
        states: Sequence[State],
        changes: Sequence[SlotChanges] | None = None,
        first: State | None = None,
    ) -> None:
        self.states, self.changes = states, changes
        self.first = states[0] if first is None else first
        self._fields: dict[Slot, Any] = {}
        self._evaluations: dict[tuple[str, str], Evaluation[Any]] = {}

    def field(self, slot: Slot) -> Any:
        """Value of a field in each state."""
        if slot not in self._fields:
            kind = np.float64 if FIELDS[slot[1]].is_number else np.str_
            if self.changes is not None:
                self._fields[slot] = self._changed(slot, kind)
            elif len(self.states) == 1:
                self._fields[slot] = kind(self.first.values[slot])
            else:
                self._fields[slot] = np.array([state.values[slot] for state in self.states], dtype=kind)
        return self._fields[slot]

    def _changed(self, slot: Slot, kind: type[np.float64] | type[np.str_]) -> npt.NDArray[Any]:
        # states are few, and so is what is done to them: each value is looked up and settled once
        states, which, made = self._repeated
        own = [state.values[slot] for state in states]
        values = np.array(own, dtype=kind)[which]
        for changes, at, met, among in made:
            if slot in changes:
                settled = [settle(own[number], changes[slot]) for number in met]
                there = np.array(settled, dtype=kind)[among]
                # an array of words holds none that is longer than those it was made of
                values = values.astype(np.promote_types(values.dtype, there.dtype), copy=False)
                values[at] = there
        return values

    @cached_property
    def _repeated(
        self,
    ) -> tuple[list[State], IntArray, list[tuple[SlotChanges, IntArray, list[int], IntArray]]]:
        """Each state once, which of them stands where, and the sets of changes.

        Of each set where it is made, to which states, and which of those stands there.
        """
        found = {id(state): state for state in self.states}
        number = {key: place for place, key in enumerate(found)}
        which = np.array([number[id(state)] for state in self.states], dtype=np.int64)
        places: dict[int, tuple[SlotChanges, list[int]]] = {}
        for place, one in enumerate(self.changes or ()):
            places.setdefault(id(one), (one, []))[1].append(place)
        made = []
        for one, at in places.values():
            met, among = np.unique(which[at], return_inverse=True)
            made.append((one, np.array(at, dtype=np.int64), met.tolist(), among))
        return list(found.values()), which, made

    def part(self, positions: Sequence[int]) -> StateArrays:
        """Some of the states alone, in the order given."""
        changes = None if self.changes is None else [self.changes[i] for i in positions]
        first = None if self.changes is None else self.first
        return StateArrays([self.states[i] for i in positions], changes, first)

    def evaluation(self, task: str, place: str | None = None) -> Evaluation[Any]:
        """Quantities of one task, at its own place or another; made once."""
        at = self.first.place_of[task] if place is None else place
        if (task, at) not in self._evaluations:

            def leaf(symbol: str) -> Any:
                known = SYMBOLS[symbol]
                return self.field((owner_of(known.level, task, at), known.name))

            self._evaluations[task, at] = Evaluation(
                QUANTITIES,
                leaf,
                lambda _key, function, arguments: function(*arguments),
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
