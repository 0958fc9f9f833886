"""What catalogs ask of a state: conditions, the places where they are asked, and whom a fix is not for."""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.intake.catalog_records import Fix, Need, Predicate
from deskmend.workstation.fields import FIELDS, SYMBOLS, UNKNOWN, Value
from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.state import Owner, Slot, State, evaluate, owner_of

__all__ = [
    "ROLES",
    "Exclusion",
    "Gate",
    "Readings",
    "exclusions_of",
    "holds",
    "least_clearance",
    "levels_of",
    "met",
    "need_met",
    "not_for",
    "predicates_of",
    "rule_contexts",
    "symbol_of",
    "values_of",
]

Gate = tuple[str, str]
"""A decision and the option under which something counts."""
AnyArray = npt.NDArray[Any]

ROLES = {"mode": "sit"}
"""Role in which rules ask for quantities."""


def holds(predicate: Predicate, value: Any) -> AnyArray:
    """Where a condition is met; what is unknown meets none.

    Parameters
    ----------
    predicate : Predicate
        The condition.
    value : ndarray
        Values of its field or quantity.
    """
    array = np.asarray(value)
    relation, wanted = predicate.relation, predicate.value
    if relation == "is":
        return np.asarray(array == wanted)
    if relation == "is not":
        return np.asarray((array != wanted) & (array != "unknown"))
    with np.errstate(invalid="ignore"):
        compared: dict[str, Callable[[], AnyArray]] = {
            "at least": lambda: array >= wanted,
            "at most": lambda: array <= wanted,
            "over": lambda: array > wanted,
            "under": lambda: array < wanted,
        }
        return compared[relation]()


_COMPARED: dict[str, Callable[[Any, Any], bool]] = {
    "at least": operator.ge,
    "at most": operator.le,
    "over": operator.gt,
    "under": operator.lt,
}


def met(predicate: Predicate, value: Value) -> bool:
    """Whether one plain value meets a condition; the same as `holds`, without an array.

    Parameters
    ----------
    predicate : Predicate
        The condition.
    value : float or str
        Value of its field or quantity; NaN and ``unknown`` meet none.
    """
    relation, wanted = predicate.relation, predicate.value
    if relation == "is":
        return value == wanted
    if relation == "is not":
        return value not in (wanted, UNKNOWN)
    return _COMPARED[relation](value, wanted)


def symbol_of(name: str) -> str:
    """Name by which an evaluation knows a field or quantity."""
    return FIELDS[name].symbol if name in FIELDS else name


def levels_of(name: str) -> frozenset[str]:
    """Levels of the fields on which a field or quantity depends."""
    if name in FIELDS:
        return frozenset({FIELDS[name].level})
    return frozenset(SYMBOLS[s].level for s in QUANTITIES.leaves(name, ROLES))


def predicates_of(need: Need) -> tuple[Predicate, ...]:
    """Every condition that a rule names."""
    return (*need.when, *need.all, *need.any)


def rule_contexts(
    owner: Owner,
    levels: Iterable[str],
    model_places: Callable[[str], list[tuple[str, Gate | None]]],
    state: State,
) -> Iterator[tuple[str, str, Gate | None]]:
    """Tasks and places at which a rule of an owner has to hold.

    Parameters
    ----------
    owner : Owner
        Whose fix it is.
    levels : iterable of str
        Levels of what the rule asks for.
    model_places : callable
        Places where a task can be done.
    state : State
        For ids.

    Yields
    ------
    tuple
        Task, place, and the option under which the task is there. A rule about
        places only is asked once a place.
    """
    kind, asked = owner[0], set(levels)
    if kind == "task":
        yield from ((owner[1], place, gate) for place, gate in model_places(owner[1]))
        return
    places = [owner[1]] if kind == "place" else list(state.places)
    if "task" in asked:
        for task in state.tasks:
            for place, gate in model_places(task):
                if place in places:
                    yield task, place, gate
    elif "place" in asked or kind == "place":
        yield from ((state.tasks[0], place, None) for place in places)
    else:
        yield state.tasks[0], state.places[0], None


def need_met(need: Need, values: dict[Predicate, Any]) -> AnyArray:
    """Where a rule holds."""
    when: AnyArray = np.asarray(True)
    for predicate in need.when:
        when = when & holds(predicate, values[predicate])
    met: AnyArray = np.asarray(True)
    for predicate in need.all:
        met = met & holds(predicate, values[predicate])
    if need.any:
        one: AnyArray = np.asarray(False)
        for predicate in need.any:
            one = one | holds(predicate, values[predicate])
        met = met & one
    return ~when | met


def values_of(evaluation: Evaluation[Any], predicates: Iterable[Predicate]) -> dict[Predicate, Any]:
    """Value of what each condition asks for."""
    return {p: evaluation(symbol_of(p.name), **ROLES) for p in predicates}


def least_clearance(state: State, place: str) -> float:
    """Free height over the legs that a plan has to leave [mm]: 0, or what there is now if less."""
    return min(0.0, float(evaluate(state, state.tasks[0], place)("clearance")))


class Readings:
    """Quantities of one state, each worked out once for a task and place.

    Parameters
    ----------
    state : State
        The state.
    """

    def __init__(self, state: State) -> None:
        self.state = state
        self._evaluations: dict[tuple[str, str], Evaluation[Any]] = {}

    def quantity(self, name: str, task: str, place: str) -> Value:
        """Value of a quantity for a task done at a place, in the role in which rules ask for it.

        Parameters
        ----------
        name : str
            Name of the quantity.
        task, place : str
            Their ids.
        """
        evaluation = self._evaluations.get((task, place))
        if evaluation is None:
            evaluation = self._evaluations[task, place] = evaluate(self.state, task, place)
        value: Value = evaluation(name, **ROLES).item()
        return value


@dataclass(frozen=True)
class Exclusion:
    """A condition under which a fix is not for somebody, and where it is asked.

    Attributes
    ----------
    condition : Predicate
        The condition.
    why : str
        Reason, as the catalog writes it.
    slots : tuple of Slot
        Where it is asked if it is about a field.
    contexts : tuple of (str, str)
        Tasks and places for which it is asked if it is about a quantity.
    """

    condition: Predicate
    why: str
    slots: tuple[Slot, ...]
    contexts: tuple[tuple[str, str], ...]

    def applies(self, now: Readings) -> bool:
        """Whether the condition is met anywhere.

        Parameters
        ----------
        now : Readings
            Of the state before any fix.
        """
        condition, values = self.condition, now.state.values
        for slot in self.slots:
            if met(condition, values[slot]):
                return True
        return any(met(condition, now.quantity(condition.name, *context)) for context in self.contexts)


def exclusions_of(fix: Fix, owner: Owner, state: State) -> tuple[Exclusion, ...]:
    """Find where the ``not_for`` conditions of a fix are asked; warning signs are not looked at here.

    Parameters
    ----------
    fix : Fix
        With its conditions.
    owner : Owner
        Whom it would be for.
    state : State
        For ids, and for where tasks are done.
    """
    out = []
    for caveat in fix.not_for:
        if caveat.when is None:
            continue
        name = caveat.when.name
        found = rule_contexts(owner, levels_of(name), lambda t: [(state.place_of[t], None)], state)
        contexts = tuple((task, place) for task, place, _ in found)
        slots: tuple[Slot, ...] = ()
        if name in FIELDS:
            level = FIELDS[name].level
            slots = tuple(dict.fromkeys((owner_of(level, *context), name) for context in contexts))
            contexts = ()
        out.append(Exclusion(caveat.when, caveat.why, slots, contexts))
    return tuple(out)


def not_for(fix: Fix, owner: Owner, now: State) -> str | None:
    """Say why a fix is not for this workplace as it is now, or None.

    Parameters
    ----------
    fix : Fix
        With its ``not_for`` conditions; warning signs are not looked at here.
    owner : Owner
        Whom it would be for.
    now : State
        Before any fix. (What must hold afterwards is said by ``needs``.)
    """
    readings = Readings(now)
    return next((one.why for one in exclusions_of(fix, owner, now) if one.applies(readings)), None)
