"""What leave would add to a plan: fixes that it alone keeps out, where they would take strain off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from deskmend.intake.case import Case, Discomfort
from deskmend.intake.catalog import Catalog
from deskmend.planning.model.offers import LeftOut, Offers, OptionSpec, offers_for
from deskmend.planning.model.rules import at_odds, breaches_of_many
from deskmend.planning.noise import LEAST_SHARE_TOLD
from deskmend.planning.score import strain_of_many, weights_of
from deskmend.planning.selection import FixKey, decision_of, key_of, state_with
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import State

__all__ = ["without_health", "worth_leave"]

NEEDS_LEAVE = ("no_leave", "may_not_alter")
"""Causes for which a fix is not offered that leave would take away."""


def without_health(case: Case) -> Case:
    """The same case with nothing in it of what troubles the person, for those whom that does not concern."""
    person = case.person.model_copy(update={"discomfort": Discomfort(), "warning_signs": ()})
    return case.model_copy(update={"person": person})


def worth_leave(
    case: Case, state: State, planned: Sequence[OptionSpec], left_out: Sequence[LeftOut], catalog: Catalog
) -> tuple[LeftOut, ...]:
    """Fixes that only want leave and would then take more off than a plan does, by what is worth telling.

    `state` is without the plan, `left_out` what the case does not offer.
    A fix is tried at each size, instead of what it cannot go with, by itself or with one free fix that
    gives it what it needs. Skill, tools and prices are left to whoever gives leave.
    """
    refused = {(left.fix.id, left.owner): left for left in left_out if left.cause in NEEDS_LEAVE}
    if not refused:
        return ()
    offers = offers_for(_granted(case, catalog), state, catalog, None)
    options = [option for option in offers.options() if key_of(option) in refused]
    alone = [[*_beside([option], planned), option] for option in options]
    weights = weights_of(case)
    now, then = strain_of_many([state, state_with(state, planned)], [weights] * 2)
    trial = _Trial(state, weights, then - now / LEAST_SHARE_TOLD)
    sound, helpful = trial.of(alone, options)
    left = [option for option in options if key_of(option) not in sound]
    pairs = [
        (option, [*_beside([option, partner], planned), option, partner])
        for option in left
        for partner in _partners(option, offers)
    ]
    helpful |= trial.of([pair for _, pair in pairs], [option for option, _ in pairs])[1]
    return tuple(one for key, one in refused.items() if key in helpful)


def _granted(case: Case, catalog: Catalog) -> Case:
    tools = tuple(dict.fromkeys(tool for fix in catalog.fixes for tool in fix.tools))
    means = case.means.model_copy(update={"may_alter": True, "skill": None, "tools": tools})
    room = case.room.model_copy(update={"landlord_leave": True})
    return case.model_copy(update={"means": means, "room": room})


def _beside(coming: Sequence[OptionSpec], planned: Sequence[OptionSpec]) -> list[OptionSpec]:
    """What of a plan can stay beside fixes that come in."""
    return [
        one
        for one in planned
        if all(
            decision_of(one) != decision_of(new)
            and not at_odds(one.fix, one.owner, new.fix, new.owner)
            and not at_odds(new.fix, new.owner, one.fix, one.owner)
            for new in coming
        )
    ]


def _partners(option: OptionSpec, offers: Offers) -> Iterator[OptionSpec]:
    """Free fixes that change what a fix needs, at the same person, place or task."""
    for other in offers.options():
        if other.fix.materials or other.owner != option.owner:
            continue
        if decision_of(other) != decision_of(option):
            if any(effect.change in option.fix.needed for effect in other.fix.effects):
                yield other


@dataclass(frozen=True)
class _Trial:
    """Tries sets of fixes on a state; those that leave less than `least` help [millionths of h/day]."""

    state: State
    weights: Mapping[str, float]
    least: float

    def of(
        self, sets: Sequence[Sequence[OptionSpec]], heads: Sequence[OptionSpec]
    ) -> tuple[set[FixKey], set[FixKey]]:
        """Heads of the sets that keep every rule, and of those among them that help."""
        kept, states = [], []
        for head, options in zip(heads, sets, strict=True):
            try:
                states.append(state_with(self.state, options))
            except TwoSets:
                continue
            kept.append((key_of(head), [(one.fix, one.owner) for one in options]))
        broken = breaches_of_many([self.state] * len(states), states, [chosen for _, chosen in kept])
        whole = [number for number, breaches in enumerate(broken) if not breaches]
        strains = strain_of_many([states[number] for number in whole], [self.weights] * len(whole))
        sound = [kept[number][0] for number in whole]
        return set(sound), {key for key, strain in zip(sound, strains, strict=True) if strain < self.least}
