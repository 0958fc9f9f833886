"""Applying fixes to a state: set first, then add, then bounds; two sets of one field are a fault.

A fix never touches a score. It changes fields, and the state is scored again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import isnan

from deskmend.intake.catalog_records import Effect, Fix
from deskmend.workstation.fields import FIELDS, KEPT_UP, LAPSED, Level, Value
from deskmend.workstation.state import Owner, Slot, State

__all__ = ["Change", "TwoSets", "apply_changes", "changes_of", "settle"]


@dataclass(frozen=True)
class Change:
    """One field changed by one fix.

    Attributes
    ----------
    slot : Slot
        Owner and field.
    operation : str
        ``set``, ``add``, ``at_most`` or ``at_least``.
    value : float or str
        What it is set to, raised by or bounded by.
    """

    slot: Slot
    operation: str
    value: Value


class TwoSets(ValueError):
    """Two fixes set the same field."""


def changes_of(fix: Fix, owner: Owner, size: Value | None, state: State) -> tuple[Change, ...]:
    """Changes that a fix makes to a state.

    Parameters
    ----------
    fix : Fix
        The fix.
    owner : Owner
        Whom it is for. Fields of the devices and the person, changed by a fix of
        a place or task, change for all; fields of places changed by a fix of
        the person or the devices change at every place, those of tasks at every task.
    size : float, str or None
        Chosen size.
    state : State
        For the places and tasks there are.

    Returns
    -------
    tuple of Change
        Moves of a task and changes of seat are not among them; they are no fields.

    Notes
    -----
    A fix that people keep on some days only leaves the other days as they are,
    and sets at its places what part of the days that is. Two of them at one place
    set it twice, which is a fault: they are one schedule, and their parts are not
    to be multiplied.
    """
    out: list[Change] = []
    for effect in fix.effects:
        if effect.change not in FIELDS:
            continue
        level = FIELDS[effect.change].level
        names = [effect.change]
        if effect.change in LAPSED and fix.kept_up is None:
            names.append(LAPSED[effect.change])
        for target in _targets(level, owner, state):
            out += [Change((target, name), effect.operation, _value(effect, size)) for name in names]
    if fix.kept_up is not None:
        places = _targets("place", owner, state)
        out += [Change((place, KEPT_UP), "set", fix.kept_up.share) for place in places]
    return tuple(out)


def _targets(level: Level, owner: Owner, state: State) -> tuple[Owner, ...]:
    return (owner,) if owner[0] == level else state.owners(level)


def _value(effect: Effect, size: Value | None) -> Value:
    value = effect.value
    if value == "size":
        if size is None:
            raise ValueError(f"{effect.change}: the fix has no size")
        value = size
    return float(value) * effect.times if isinstance(value, int | float) else value


def apply_changes(state: State, changes: Iterable[Change], moves: Mapping[str, str] | None = None) -> State:
    """State after changes; the order in which they are given does not matter.

    Parameters
    ----------
    state : State
        Before.
    changes : iterable of Change
        From any number of fixes.
    moves : mapping of str to str, optional
        New place of a task.

    Returns
    -------
    State
        After.

    Raises
    ------
    TwoSets
        Two changes set the same field.
    """
    values: dict[Slot, Value] = {}
    for slot, group in by_slot(changes).items():
        values[slot] = settle(state.values[slot], group)
    return state.with_values(values, {**state.place_of, **(moves or {})})


def by_slot(changes: Iterable[Change]) -> dict[Slot, list[Change]]:
    """Changes by the field that they change.

    Parameters
    ----------
    changes : iterable of Change
        From any number of fixes.

    Returns
    -------
    dict
        In the order of first appearance.
    """
    out: dict[Slot, list[Change]] = {}
    for change in changes:
        out.setdefault(change.slot, []).append(change)
    return out


def settle(value: Value, group: Sequence[Change]) -> Value:
    """Value of one field after changes: set, then add, then bounds.

    Parameters
    ----------
    value : float or str
        Before.
    group : sequence of Change
        All changes of that field.

    Returns
    -------
    float or str
        After.

    Raises
    ------
    TwoSets
        Two of them set it.
    """
    if len(group) == 1 and group[0].operation == "set":
        return group[0].value
    sets = [c.value for c in group if c.operation == "set"]
    if len(sets) > 1:
        raise TwoSets(f"{group[0].slot[1]} of {group[0].slot[0][1] or group[0].slot[0][0]} is set twice")
    if sets:
        value = sets[0]
    numbers = [(c.operation, float(c.value)) for c in group if c.operation != "set"]
    if numbers:
        value = float(value)
        value += sum(amount for operation, amount in numbers if operation == "add")
        value = min([value, *(amount for operation, amount in numbers if operation == "at_most")])
        floors = [amount for operation, amount in numbers if operation == "at_least"]
        # What is not known becomes known where a fix guarantees it.
        value = max(floors) if isnan(value) and floors else max([value, *floors])
    return value
