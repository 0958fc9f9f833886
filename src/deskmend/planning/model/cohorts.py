"""People put together who can be modelled at once: what they can choose among agrees where they share it.

Only the calls that fill the tables are shared: what anybody's answer is does not depend on who else is there.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from deskmend.choice import Problem
from deskmend.intake.case import Case
from deskmend.intake.prices import PriceTable
from deskmend.measures import Micro
from deskmend.planning.model.cut import problems_of
from deskmend.planning.model.model import Model, add_terms, ruled_model
from deskmend.planning.model.offers import Offer, Offers, OptionSpec
from deskmend.planning.model.tables import TooManyCells
from deskmend.workstation.state import Owner, State

__all__ = ["Gathering", "Member", "gathered", "modelled_together"]

FEW_OPEN = 0.05
"""Part of the people up to which those who can settle a decision at all are modelled apart."""
MOST_FOREIGN = 0.5
"""Most options that only others can take, as a part of a member's own: more make tables grow for nothing."""
MIXED_FOREIGN = 0.25
"""The same where not even their decisions are the same."""
MOST_MIXED = 8
"""Most people of unlike decisions together: what is shared is saved by then, and tables grow with each."""


@dataclass(frozen=True, eq=False)
class Member:
    """One person of a cohort: case, state before any fix, what can be chosen, and region weights [-]."""

    case: Case
    state: State
    offers: Offers
    weights: Mapping[str, float]

    @property
    def build(self) -> Hashable:
        """What people have to have in common: places, tasks and region weights."""
        state = self.state
        return tuple(state.place_of.items()), state.places, tuple(sorted(self.weights.items()))


@dataclass(eq=False)
class Gathering:
    """People who can be modelled at once.

    - `people`: their positions among all.
    - `decisions`: by name whatever any of them can settle, in an order that is everybody's own; the options
      of each likewise.
    """

    people: list[int] = field(default_factory=list)
    decisions: dict[str, _Settled] = field(default_factory=dict)
    _fewest: int = 0
    _mixed: bool = False

    @property
    def offers(self) -> Offers:
        """All that any of them can take."""
        found = self.decisions.items()
        return Offers(tuple(Offer(name, one.owner, tuple(one.options.values())) for name, one in found), ())

    def take(self, number: int, offers: Offers) -> bool:
        """Take the person of a number in, if what can be chosen agrees with what the others can."""
        asked = {offer.name: offer for offer in offers.decisions}
        names = _merged(list(asked), list(self.decisions))
        if names is None:
            return False
        merged: dict[str, _Settled] = {}
        for name in names:
            known, mine = self.decisions.get(name), asked.get(name)
            both = known if mine is None else _Settled.of(mine) if known is None else known.with_offer(mine)
            if both is None:
                return False
            merged[name] = both
        own = sum(len(offer.options) for offer in offers.decisions)
        fewest = min(self._fewest, own) if self.people else own
        unlike = bool(self.people) and not len(asked) == len(self.decisions) == len(merged)
        unlike = unlike or self._mixed
        if unlike and len(self.people) >= MOST_MIXED:
            return False
        most = (1 + MIXED_FOREIGN) * fewest if unlike else (1 + MOST_FOREIGN) * fewest + 8
        if sum(len(one.options) for one in merged.values()) > most:
            return False
        self.decisions, self._fewest, self._mixed = merged, fewest, unlike
        self.people.append(number)
        return True


@dataclass(frozen=True, eq=False)
class _Settled:
    """A decision of several people, with the options that any of them has, by name."""

    owner: Owner
    options: dict[str, OptionSpec]

    @staticmethod
    def of(offer: Offer) -> _Settled:
        return _Settled(offer.owner, {option.name: option for option in offer.options})

    def with_offer(self, offer: Offer) -> _Settled | None:
        """The same with one more person's options; None where these differ, or are ordered otherwise."""
        mine = {option.name: option for option in offer.options}
        names = _merged(list(mine), list(self.options))
        shared = [name for name in mine if name in self.options]
        if names is None or offer.owner != self.owner:
            return None
        if not all(_same(mine[name], self.options[name]) for name in shared):
            return None
        if len(names) == len(self.options):
            return self
        return _Settled(self.owner, {name: self.options.get(name) or mine[name] for name in names})


def gathered(members: Sequence[Member]) -> list[Gathering]:
    """Put people together who can be modelled at once, everybody in exactly one gathering."""
    by_build: dict[Hashable, list[Gathering]] = {}
    for number, member in enumerate(members):
        known = by_build.setdefault(member.build, [])
        if not any(one.take(number, member.offers) for one in known):
            known.append(Gathering())
            known[-1].take(number, member.offers)
    return [one for known in by_build.values() for one in known]


def modelled_together(
    members: Sequence[Member], offers: Offers, prices: PriceTable
) -> list[tuple[Problem, Micro]]:
    """Problems of people of one gathering, out of all that any of them can take, as `problems_of` gives them.

    - raises `TooManyCells`: a table would be too large; fewer people at once may do.
    """
    try:
        return _modelled(members, offers, prices)
    except TooManyCells:
        # What only some can settle makes everybody's tables grow: those who can settle the same are left.
        groups: dict[tuple[str, ...], list[int]] = {}
        for number, member in enumerate(members):
            groups.setdefault(tuple(o.name for o in member.offers.decisions), []).append(number)
        if len(groups) == 1:
            raise
        out: dict[int, tuple[Problem, Micro]] = {}
        for people in groups.values():
            found = _modelled([members[k] for k in people], offers, prices)
            out.update(zip(people, found, strict=True))
        return [out[k] for k in range(len(members))]


def _modelled(members: Sequence[Member], offers: Offers, prices: PriceTable) -> list[tuple[Problem, Micro]]:
    # What nobody knows is not a number, and numbers that are none are compared.
    with np.errstate(invalid="ignore"):
        model = _ruled(members, offers)
        closed = {}
        apart = np.zeros(len(members), dtype=np.bool_)
        for offer in model.offers.decisions:
            some = np.broadcast_to(model.open_options(offer)[:, 1:].any(axis=1), len(members))
            if some.mean() <= FEW_OPEN and not some.all():
                apart |= some
                closed[offer.name] = [option.name for option in offer.options]
        if not closed:
            return _filled(model, members, prices)
        # Few people who can settle a decision that is closed to most stand apart: their tables are larger.
        out: dict[int, tuple[Problem, Micro]] = {}
        for group, left in ((~apart, model.offers.without(closed)), (apart, model.offers)):
            people = np.flatnonzero(group).tolist()
            if people:
                mine = [members[k] for k in people]
                out.update(zip(people, _filled(_ruled(mine, left), mine, prices), strict=True))
        return [out[k] for k in range(len(members))]


def _ruled(members: Sequence[Member], offers: Offers) -> Model:
    own = [member.offers for member in members]
    return ruled_model([member.state for member in members], offers, own)


def _filled(model: Model, members: Sequence[Member], prices: PriceTable) -> list[tuple[Problem, Micro]]:
    add_terms(model, members[0].weights)
    return problems_of(model, [member.case for member in members], prices)


def _same(one: OptionSpec, other: OptionSpec) -> bool:
    return one is other or (
        one.fix is other.fix
        and one.changes == other.changes
        and one.moves_to == other.moves_to
        and one.use == other.use
    )


def _merged(mine: Sequence[str], known: Sequence[str]) -> Sequence[str] | None:
    """Names of both in an order that keeps to both; None where the two orders differ."""
    place = {name: k for k, name in enumerate(known)}
    shared = [place[name] for name in mine if name in place]
    if shared != sorted(shared):
        return None
    if len(shared) == len(mine):
        return known
    out = list(known)
    at = 0
    for name in mine:
        if name in place:
            at = out.index(name, at) + 1
        else:
            out.insert(at, name)
            at += 1
    return out
