"""States of the same places and tasks read together: each value an array of all of them.

A single state costs hundreds of calls of tiny functions. Many states share those calls, and each still gets
what it would get alone: nothing here knows of any other state's numbers.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

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


class StateArrays:
    """States of one layout, at least one; of a single one every value is a plain number or word of numpy."""

    def __init__(self, states: Sequence[State]) -> None:
        self.states = states
        self.first = states[0]
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

    def truths(self, value: Any) -> npt.NDArray[np.bool_]:
        """One truth for each state, also where all share one."""
        return np.broadcast_to(np.asarray(value, dtype=np.bool_), len(self.states))
