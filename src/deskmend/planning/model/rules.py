"""What a catalog asks: needs of the final state, whom a fix is not for, conflicts, room for legs and things.

Every rule is judged by one function on arrays: of the cells of a table where the exact model is made, of
states where sets of fixes are held against the rules. Only the check of a plan reads conflicts for itself
(`deskmend.planning.plan_check.clashes`).
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, reduce
from typing import Any

import numpy as np

from deskmend.intake.catalog_records import Conditional, Fix, Need, Predicate
from deskmend.intake.reading.fields import UNKNOWN
from deskmend.language import tr
from deskmend.planning.model.tables import RULE_ROLES, StateArrays, alike_in, layout_of
from deskmend.workstation.fields import FIELDS, SYMBOLS, Value
from deskmend.workstation.graph import QUANTITIES
from deskmend.workstation.state import DEVICES, PERSON, Owner, State

__all__ = [
    "NO_ROOM",
    "PIECES",
    "ROOM_ON_DESK",
    "SIZE",
    "Breach",
    "Exclusion",
    "Gate",
    "at_odds",
    "breaches",
    "breaches_of_many",
    "concerns",
    "crowded",
    "exclusions_of",
    "holds",
    "levels_of",
    "need_met",
    "predicates_of",
    "rule_contexts",
    "squeezed",
    "worked_at",
]

Gate = tuple[str, str]
"""A decision and the option under which something counts."""
Chosen = Sequence[tuple[Fix, Owner]]

# --- rules on arrays -----------------------------------------------------------------------------

_COMPARED: Mapping[str, Callable[[Any, Any], Any]] = {
    "at least": operator.ge,
    "at most": operator.le,
    "over": operator.gt,
    "under": operator.lt,
}


def holds(predicate: Predicate, value: Any) -> Any:
    """Where a condition is met, by an array of values or for a plain one; what is unknown meets none."""
    relation, wanted = predicate.relation, predicate.value
    if relation == "is":
        return value == wanted
    if relation == "is not":
        return (value != wanted) & (value != UNKNOWN)
    return _COMPARED[relation](value, wanted)


def predicates_of(need: Need) -> tuple[Predicate, ...]:
    """Every condition that a rule names."""
    return (*need.when, *need.all, *need.any)


def need_met(need: Need, values: Mapping[Predicate, Any]) -> Any:
    """Where a rule holds, by the value of what each of its conditions asks for."""

    def met(predicates: Iterable[Predicate]) -> list[Any]:
        return [holds(predicate, values[predicate]) for predicate in predicates]

    good = reduce(operator.and_, met(need.all), np.True_)
    if need.any:
        good = good & reduce(operator.or_, met(need.any))
    return ~reduce(operator.and_, met(need.when), np.True_) | good


def squeezed(clearance: Any, stand_share: Any, least: Any) -> Any:
    """Where legs no longer fit under the desk [mm], though they fit before or fitted better."""
    return (stand_share < 1.0) & (clearance < least)


ROOM_ON_DESK = {"depth_left": "desk.depth", "width_left": "desk.width"}
"""What is left of a desk by what it has to hold, and the measure without which nobody can tell."""
NO_ROOM = {
    "depth_left": "it does not fit: the desk is not deep enough for what would stand one behind the other",
    "width_left": "it does not fit: the desk is not wide enough for what would lie side by side",
}
"""Why things cannot lie on it, in words."""


def crowded(left: Any, least: Any, given: Any) -> Any:
    """Where things cannot lie on a desk of given size, though they could before or lacked less."""
    return given & (left < least)


def at_odds(fix: Fix, owner: Owner, rival: Fix, other: Owner) -> bool:
    """Whether a fix excludes a rival for another owner: everywhere but at another place or task."""
    return rival.id in fix.conflicts and (owner == other or owner[0] != other[0])


# --- where rules are asked -----------------------------------------------------------------------


@cache
def levels_of(name: str) -> frozenset[str]:
    """Levels of the fields on which a field or quantity depends."""
    if name in FIELDS:
        return frozenset({FIELDS[name].level})
    return frozenset(SYMBOLS[s].level for s in QUANTITIES.leaves(name, RULE_ROLES))


def rule_contexts(
    owner: Owner,
    names: Iterable[str],
    places_of: Callable[[str], list[tuple[str, Gate | None]]],
    state: State,
) -> Iterator[tuple[str, str, Gate | None]]:
    """Tasks and places at which a rule of an owner has to hold, and the option under which a task is there.

    `names` are the fields and quantities that the rule asks for, `places_of` gives the places where a task
    can be done, and of the state only ids are read. What a fix for a place asks of the place itself has to
    hold whether somebody works there or not; all else only where somebody does.
    """
    kind, asked = owner[0], {level for name in names for level in levels_of(name)}
    if kind == "task":
        yield from ((owner[1], place, gate) for place, gate in places_of(owner[1]))
    elif kind == "place" and "task" not in asked:
        yield state.tasks[0], owner[1], None
    elif "task" in asked:
        for task in state.tasks:
            for place, gate in places_of(task):
                if kind != "place" or place == owner[1]:
                    yield task, place, gate
    elif "place" in asked:
        yield from worked_at(places_of, state)
    else:
        yield state.tasks[0], state.places[0], None


def worked_at(
    places_of: Callable[[str], list[tuple[str, Gate | None]]], state: State
) -> Iterator[tuple[str, str, Gate | None]]:
    """A task and a place at which it is or can be done, with the option that puts it there.

    A place where some task is whatever is chosen comes once, with that task alone.
    """
    every = [(task, place, gate) for task in state.tasks for place, gate in places_of(task)]
    always = {place: task for task, place, gate in reversed(every) if gate is None}
    for task, place, gate in every:
        if always.get(place, task) == task and (gate is None or place not in always):
            yield task, place, gate


def _contexts(owner: Owner, names: Iterable[str], state: State) -> tuple[tuple[str, str], ...]:
    """Tasks and places at which a rule is asked of a state as it is."""
    found = rule_contexts(owner, names, lambda task: [(state.place_of[task], None)], state)
    return tuple((task, place) for task, place, _ in found)


@dataclass(frozen=True)
class Exclusion:
    """A condition under which a fix is not for somebody, why, and the tasks and places it is asked for."""

    condition: Predicate
    why: str
    contexts: tuple[tuple[str, str], ...]

    def applies(self, now: StateArrays) -> Any:
        """Whether the condition is met anywhere, by state; `now` is before any fix."""
        met: Any = np.False_
        for context in self.contexts:
            met = met | holds(self.condition, now.reading(self.condition.name, *context))
        return met


def exclusions_of(fix: Fix, owner: Owner, state: State) -> tuple[Exclusion, ...]:
    """Conditions of a fix on what the workplace is like now, by the ids of a state; signs are not among them.

    (What must hold afterwards is said by ``needs``.)
    """
    asked = [(caveat.when, caveat.why) for caveat in fix.not_for if caveat.when is not None]
    return tuple(Exclusion(when, why, _contexts(owner, [when.name], state)) for when, why in asked)


# --- sentences -----------------------------------------------------------------------------------

PIECES, SIZE = "pieces", "size"
"""In the conditions of a sentence: how many owned pieces make the size, and the size itself, which stands so
in cut lists too."""


def concerns(
    one: Conditional, owner: Owner, state: State, pieces: int = 0, size: Value | None = None
) -> bool:
    """Whether a sentence concerns who works in a state; at one task or place of the owner's is enough."""
    if not one.conditions:
        return True
    now = StateArrays([state])
    own: dict[str, Value | None] = {PIECES: pieces, SIZE: size}
    names = [condition.name for condition in one.conditions if condition.name not in own]

    def met(condition: Predicate, task: str, place: str) -> bool:
        name = condition.name
        return bool(holds(condition, own[name] if name in own else now.reading(name, task, place)))

    return any(
        all(met(condition, *at) for condition in one.when)
        and not any(met(condition, *at) for condition in one.unless)
        for at in _contexts(owner, names, state)
    )


# --- sets of fixes held against the rules --------------------------------------------------------


@dataclass(frozen=True)
class Breach:
    """A rule that a chosen fix breaks."""

    fix: Fix
    owner: Owner
    reason: str


def breaches(before: State, after: State, chosen: Iterable[tuple[Fix, Owner]]) -> list[Breach]:
    """Rules that a set of fixes breaks, from the states without and with it; no table is asked."""
    return breaches_of_many([before], [after], [tuple(chosen)])[0]


def breaches_of_many(
    before: Sequence[State], after: Sequence[State], chosen: Sequence[Chosen]
) -> list[list[Breach]]:
    """The same for many sets, each with its states; ValueError where the three are not equally many."""
    if not len(before) == len(after) == len(chosen):
        raise ValueError(f"{len(before)} states before, {len(after)} after and {len(chosen)} sets of fixes")
    out: list[list[Breach]] = [[] for _ in after]
    layouts = [(layout_of(one), layout_of(other)) for one, other in zip(before, after, strict=True)]
    for members in alike_in(layouts):
        earlier = StateArrays([before[i] for i in members])
        judge = _Judge(earlier, StateArrays([after[i] for i in members], earlier))
        for position, index in enumerate(members):
            out[index] = judge.broken(position, chosen[index])
    return out


class _Judge:
    """Which states break a rule, fix by fix and place by place, each worked out once for all of them."""

    def __init__(self, before: StateArrays, after: StateArrays) -> None:
        self.before, self.after = before, after
        # By identity: comparing two fixes reads all that stands behind them. Callers hold them all along.
        self._by_fix: dict[tuple[int, Owner], list[tuple[str, list[bool]]]] = {}
        self._crowded: dict[tuple[str, str], list[bool]] = {}
        self._squeezed = {place: self._squeezed_at(place, place) for place in after.first.place_of.values()}

    def broken(self, position: int, chosen: Chosen) -> list[Breach]:
        """Rules that a set of fixes breaks in the state at a position."""
        out: list[Breach] = []
        for fix, owner in chosen:
            out += [Breach(fix, owner, tr(why)) for why, where in self._of(fix, owner) if where[position]]
            out += [
                Breach(fix, owner, tr("it cannot go together with {rival}", rival=tr(rival.title)))
                for rival, other in chosen
                if at_odds(fix, owner, rival, other) and (rival, other) != (fix, owner)
            ]
        for place, where in self._squeezed.items():
            if where[position]:
                out += [
                    Breach(fix, owner, tr("the legs would no longer fit under the desk"))
                    for fix, owner in chosen
                    if owner in (("place", place), PERSON, DEVICES)
                ]
        for fix, owner in chosen:
            if owner[0] == "task" and self._moved_into_less(owner[1])[position]:
                out.append(Breach(fix, owner, tr("the legs would not fit under the desk there")))
        for task in self.after.first.tasks:
            for name, why in NO_ROOM.items():
                if self._crowded_at(task, name)[position]:
                    out += [Breach(fix, owner, tr(why)) for fix, owner in self._takers(task, name, chosen)]
        return list(dict.fromkeys(out))

    def _of(self, fix: Fix, owner: Owner) -> list[tuple[str, list[bool]]]:
        """Why and where a fix lacks what it needs, or else is not for the state before."""
        key = id(fix), owner
        if key not in self._by_fix:
            found = []
            for need in fix.needs:
                lacking: Any = np.False_
                asked = predicates_of(need)
                for task, place in _contexts(owner, [p.name for p in asked], self.after.first):
                    values = {p: self.after.reading(p.name, task, place) for p in asked}
                    lacking = lacking | ~need_met(need, values)
                found.append((need.why, lacking))
            told: Any = np.False_
            for one in exclusions_of(fix, owner, self.before.first):
                applies = one.applies(self.before)
                # One reason is enough.
                found.append((one.why, applies & ~told))
                told = told | applies
            self._by_fix[key] = [(why, self.after.truths(where).tolist()) for why, where in found]
        return self._by_fix[key]

    def _crowded_at(self, task: str, name: str) -> list[bool]:
        """Where the desk has no room left for what a task needs on it."""
        if (task, name) not in self._crowded:
            place = self.after.first.place_of[task]
            left, least = self.after.reading(name, task, place), self.before.least_room(name, task)
            known = self.after.given((("place", place), ROOM_ON_DESK[name]))
            self._crowded[task, name] = self.after.truths(crowded(left, least, known)).tolist()
        return self._crowded[task, name]

    def _takers(self, task: str, name: str, chosen: Chosen) -> list[tuple[Fix, Owner]]:
        """Fixes that take room of a task's desk, or bring it there; all where none is seen to."""
        place, leaves = self.after.first.place_of[task], QUANTITIES.leaves(name, RULE_ROLES)
        fields = {SYMBOLS[one].name for one in leaves}
        moved = self.before.first.place_of[task] != place
        here = (PERSON, DEVICES, ("place", place), ("task", task))
        found = [
            (fix, owner)
            for fix, owner in chosen
            if (owner in here and any(one.change in fields for one in fix.effects))
            or (moved and owner == ("task", task))
        ]
        return found or list(chosen)

    def _moved_into_less(self, task: str) -> list[bool]:
        """Where a task is moved to less room for the legs than it has now, if they do not fit."""
        own, place = self.before.first.place_of[task], self.after.first.place_of[task]
        if own == place:
            return [False] * len(self.after.states)
        return self._squeezed_at(place, own)

    def _squeezed_at(self, place: str, before: str) -> list[bool]:
        """Where legs at a place have less room than before, there or where the work was done."""
        reading = self.after.evaluation(self.after.first.tasks[0], place)
        least = self.before.least_clearance(before)
        where = squeezed(reading("clearance"), reading("stand_share"), least)
        return [bool(one) for one in self.after.truths(where)]
