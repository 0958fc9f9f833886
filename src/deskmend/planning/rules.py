"""Rules between fixes: what each needs of the final state, conflicts, and room for the legs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from deskmend.intake.catalog_records import Fix, Need
from deskmend.intake.predicates import Predicate
from deskmend.planning.grid import AnyArray, Grid
from deskmend.planning.model import Gate, Model
from deskmend.planning.offers import Offer
from deskmend.workstation.fields import FIELDS, SYMBOLS
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.quantities import QUANTITIES
from deskmend.workstation.state import Owner, State, evaluate

__all__ = ["Breach", "add_rules", "breaches", "holds", "levels_of", "rule_contexts"]

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


def _predicates(need: Need) -> tuple[Predicate, ...]:
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


def _met(need: Need, values: dict[Predicate, Any]) -> AnyArray:
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


def add_rules(model: Model) -> None:
    """Add to a model what its fixes need, what they exclude, and that nobody is squeezed.

    Rules about plain fields come first: what they forbid need not be reckoned
    with in the tables of the quantities that later rules ask for.
    """
    _add_conflicts(model)
    for about_fields in (True, False):
        for offer in model.offers.decisions:
            for fix in dict.fromkeys(option.fix for option in offer.options):
                chosen = model.chosen(offer, fix)
                for need in fix.needs:
                    if about_fields == all(p.name in FIELDS for p in _predicates(need)):
                        _add_need(model, offer, chosen, need)
                for caveat in fix.not_for:
                    if caveat.when is not None and about_fields == (caveat.when.name in FIELDS):
                        _add_caveat(model, offer, chosen, caveat.when)
    _add_clearance(model)


def _add_need(model: Model, offer: Offer, chosen: Grid, need: Need) -> None:
    predicates = tuple(dict.fromkeys(_predicates(need)))
    levels = {level for p in predicates for level in levels_of(p.name)}
    for task, place, gate in rule_contexts(offer.owner, levels, model.places_of, model.state):
        evaluation = model.evaluation(task, place)
        grids = [evaluation(symbol_of(p.name), **ROLES) for p in predicates]

        def allowed(here: AnyArray, taken: AnyArray, *values: AnyArray) -> AnyArray:
            return ~(here & taken) | _met(need, dict(zip(predicates, values, strict=True)))

        model.forbid_unless(model.builder.apply("", allowed, [model.gate(gate), chosen, *grids], node=False))


def _add_caveat(model: Model, offer: Offer, chosen: Grid, predicate: Predicate) -> None:
    for task, place, gate in rule_contexts(
        offer.owner, levels_of(predicate.name), model.places_of, model.state
    ):
        grid = model.evaluation(task, place)(symbol_of(predicate.name), **ROLES)

        def allowed(here: AnyArray, taken: AnyArray, value: AnyArray) -> AnyArray:
            return ~(here & taken & holds(predicate, value))

        model.forbid_unless(model.builder.apply("", allowed, [model.gate(gate), chosen, grid], node=False))


def _meet(one: Owner, other: Owner) -> bool:
    """Whether fixes of two owners can get in each other's way."""
    return one == other or one[0] != other[0] or one[0] in ("person", "device")


def _add_conflicts(model: Model) -> None:
    """Forbid fixes that name each other, at the same person, place or task."""
    done: set[tuple[str, str, str, str]] = set()
    for offer in model.offers.decisions:
        for fix in dict.fromkeys(option.fix for option in offer.options):
            for other in model.offers.decisions:
                if other is offer or not _meet(offer.owner, other.owner):
                    continue
                for rival in dict.fromkeys(o.fix for o in other.options if o.fix.id in fix.conflicts):
                    key = (offer.name, fix.id, other.name, rival.id)
                    if (other.name, rival.id, offer.name, fix.id) in done:
                        continue
                    done.add(key)
                    first = model.chosen(offer, fix)
                    second = model.chosen(other, rival)
                    clash = model.builder.apply("", _not_both, [first, second], node=False)
                    model.forbid_unless(clash)


def _not_both(first: AnyArray, second: AnyArray) -> AnyArray:
    return ~(first & second)


def _add_clearance(model: Model) -> None:
    """Legs that do not fit under the desk are impossible, unless it is so already."""
    for place in model.state.places:
        if not any(place == p for task in model.state.tasks for p, _ in model.places_of(task)):
            continue
        task = model.state.tasks[0]
        evaluation = model.evaluation(task, place)
        standing = evaluation("stand_share")
        if standing.is_constant and float(standing.values) >= 1.0:
            continue
        now = least_clearance(model.state, place)

        def fits(free: AnyArray, stand: AnyArray, now: float = now) -> AnyArray:
            return (free >= now) | (stand >= 1.0)

        grid = model.builder.apply("", fits, [evaluation("clearance"), standing], node=False)
        model.forbid_unless(grid)


def least_clearance(state: State, place: str) -> float:
    """Free height over the legs that a plan has to leave [mm]: 0, or what there is now if less."""
    return min(0.0, float(evaluate(state, state.tasks[0], place)("clearance")))


@dataclass(frozen=True)
class Breach:
    """A rule that a chosen fix breaks."""

    fix: Fix
    owner: Owner
    reason: str


def breaches(before: State, after: State, chosen: Iterable[tuple[Fix, Owner]]) -> list[Breach]:
    """Rules that a set of fixes breaks, found from plain numbers, without any table.

    Parameters
    ----------
    before, after : State
        State without and with the fixes.
    chosen : iterable of (Fix, Owner)
        The fixes.

    Returns
    -------
    list of Breach
        Empty where all is well.
    """
    out: list[Breach] = []
    taken = list(chosen)

    def here(task: str) -> list[tuple[str, Gate | None]]:
        return [(after.place_of[task], None)]

    for fix, owner in taken:
        for need in fix.needs:
            levels = {level for p in _predicates(need) for level in levels_of(p.name)}
            for task, place, _ in rule_contexts(owner, levels, here, after):
                values = _values(evaluate(after, task, place), _predicates(need))
                if not bool(_met(need, values)):
                    out.append(Breach(fix, owner, need.why))
        for caveat in fix.not_for:
            if caveat.when is not None:
                for task, place, _ in rule_contexts(owner, levels_of(caveat.when.name), here, after):
                    values = _values(evaluate(after, task, place), (caveat.when,))
                    if bool(holds(caveat.when, values[caveat.when])):
                        out.append(Breach(fix, owner, caveat.why))
        out.extend(
            Breach(fix, owner, f"it cannot go together with {rival.title}")
            for rival, other in taken
            if rival.id in fix.conflicts and (rival, other) != (fix, owner) and _meet(owner, other)
        )
    used = dict.fromkeys(after.place_of.values())
    for place in used:
        evaluation = evaluate(after, after.tasks[0], place)
        if float(evaluation("stand_share")) < 1.0 and evaluation("clearance") < least_clearance(
            before, place
        ):
            out.extend(
                Breach(fix, owner, "the legs would no longer fit under the desk")
                for fix, owner in taken
                if owner in (("place", place), ("person", ""), ("device", ""))
            )
    return list(dict.fromkeys(out))


def _values(evaluation: Evaluation[Any], predicates: Iterable[Predicate]) -> dict[Predicate, Any]:
    return {p: evaluation(symbol_of(p.name), **ROLES) for p in predicates}
