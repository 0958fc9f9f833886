"""Rules between fixes: what each needs of the final state, conflicts, and room for the legs.

Checking a set of fixes against every rule, from plain numbers: no table, no optimiser.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from deskmend.intake.catalog_records import Fix, Need
from deskmend.language import tr
from deskmend.planning.model.conditions import (
    ROLES,
    Gate,
    least_clearance,
    levels_of,
    need_met,
    not_for,
    predicates_of,
    rule_contexts,
    symbol_of,
    values_of,
)
from deskmend.planning.model.model import Model, start_model
from deskmend.planning.model.offers import Offer, Offers
from deskmend.planning.model.tables import AnyArray, Grid
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import Owner, State, evaluate

__all__ = ["Breach", "add_rules", "breaches", "get_in_the_way", "ruled_model"]


def get_in_the_way(one: Owner, other: Owner) -> bool:
    """Whether fixes of two owners can get in each other's way."""
    return one == other or one[0] != other[0] or one[0] in ("person", "device")


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
            levels = {level for p in predicates_of(need) for level in levels_of(p.name)}
            for task, place, _ in rule_contexts(owner, levels, here, after):
                values = values_of(evaluate(after, task, place), predicates_of(need))
                if not bool(need_met(need, values)):
                    out.append(Breach(fix, owner, tr(need.why)))
        why = not_for(fix, owner, before)
        if why is not None:
            out.append(Breach(fix, owner, tr(why)))
        out.extend(
            Breach(fix, owner, tr("it cannot go together with {rival}", rival=tr(rival.title)))
            for rival, other in taken
            if rival.id in fix.conflicts and (rival, other) != (fix, owner) and get_in_the_way(owner, other)
        )
    used = dict.fromkeys(after.place_of.values())
    for place in used:
        evaluation = evaluate(after, after.tasks[0], place)
        if float(evaluation("stand_share")) < 1.0 and evaluation("clearance") < least_clearance(
            before, place
        ):
            out.extend(
                Breach(fix, owner, tr("the legs would no longer fit under the desk"))
                for fix, owner in taken
                if owner in (("place", place), ("person", ""), ("device", ""))
            )
    return list(dict.fromkeys(out))


def ruled_model(state: State, offers: Offers) -> Model:
    """Model with its rules, without the options that no rule would ever let through.

    Parameters
    ----------
    state : State
        Before any fix.
    offers : Offers
        What can be chosen.
    """
    while True:
        model = start_model(state, offers)
        add_rules(model)
        impossible = model.impossible()
        if not impossible:
            return model
        offers = offers.without(impossible)


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
                    if about_fields == all(p.name in FIELDS for p in predicates_of(need)):
                        _add_need(model, offer, chosen, need)
    _add_clearance(model)


def _add_need(model: Model, offer: Offer, chosen: Grid, need: Need) -> None:
    predicates = tuple(dict.fromkeys(predicates_of(need)))
    levels = {level for p in predicates for level in levels_of(p.name)}
    for task, place, gate in rule_contexts(offer.owner, levels, model.places_of, model.state):
        evaluation = model.evaluation(task, place)
        grids = [evaluation(symbol_of(p.name), **ROLES) for p in predicates]

        def allowed(here: AnyArray, taken: AnyArray, *values: AnyArray) -> AnyArray:
            return ~(here & taken) | need_met(need, dict(zip(predicates, values, strict=True)))

        model.forbid_unless(model.builder.apply("", allowed, [model.gate(gate), chosen, *grids], node=False))


def _add_conflicts(model: Model) -> None:
    """Forbid fixes that name each other, at the same person, place or task."""
    done: set[tuple[str, str, str, str]] = set()
    for offer in model.offers.decisions:
        for fix in dict.fromkeys(option.fix for option in offer.options):
            for other in model.offers.decisions:
                if other is offer or not get_in_the_way(offer.owner, other.owner):
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
        if standing.is_constant and bool(np.all(standing.values >= 1.0)):
            continue
        asked = [evaluation("clearance"), standing, model.least_clearance(place)]
        model.forbid_unless(model.builder.apply("", _fits, asked, node=False))


def _fits(free: AnyArray, stand: AnyArray, least: AnyArray) -> AnyArray:
    return (free >= least) | (stand >= 1.0)
