"""What catalogs ask of a state: conditions, the places where they are asked, and whom a fix is not for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.intake.catalog_records import Fix, Need
from deskmend.intake.predicates import Predicate
from deskmend.workstation.fields import FIELDS, SYMBOLS
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.quantities import QUANTITIES
from deskmend.workstation.state import Owner, State, evaluate

__all__ = [
    "ROLES",
    "Gate",
    "holds",
    "least_clearance",
    "levels_of",
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
    for caveat in fix.not_for:
        if caveat.when is None:
            continue
        contexts = rule_contexts(owner, levels_of(caveat.when.name), lambda t: [(now.place_of[t], None)], now)
        for task, place, _ in contexts:
            value = evaluate(now, task, place)(symbol_of(caveat.when.name), **ROLES)
            if bool(holds(caveat.when, value)):
                return caveat.why
    return None
