"""Rules between fixes: what each needs of the final state, conflicts, and room for the legs."""

from __future__ import annotations

import numpy as np

from deskmend.intake.catalog_records import Need
from deskmend.planning.breaches import get_in_the_way
from deskmend.planning.conditions import (
    ROLES,
    levels_of,
    need_met,
    predicates_of,
    rule_contexts,
    symbol_of,
)
from deskmend.planning.grid import AnyArray, Grid
from deskmend.planning.model import Model, start_model
from deskmend.planning.offers import Offer, Offers
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import State

__all__ = ["add_rules", "ruled_model"]


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
