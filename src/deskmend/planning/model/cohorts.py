"""People put together who can be modelled at once: of the same decisions, and of options that agree.

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
from deskmend.workstation.state import State

__all__ = ["Gathering", "Member", "gathered", "modelled_together"]

FEW_OPEN = 0.05
"""Part of the people up to which those who can settle a decision at all are modelled apart."""
MOST_FOREIGN = 0.5
"""Most options that only others can take, as a part of a member's own: more make tables grow for nothing."""


@dataclass(frozen=True, eq=False)
class Member:
    """One person of a cohort: case, state before any fix, what can be chosen, and region weights [-]."""

    case: Case
    state: State
    offers: Offers
    weights: Mapping[str, float]

    @property
    def build(self) -> Hashable:
        """What people have to have in common: places, tasks, region weights, decisions."""
        state = self.state
        decisions = tuple((offer.name, offer.owner) for offer in self.offers.decisions)
        return tuple(state.place_of.items()), state.places, tuple(sorted(self.weights.items())), decisions


@dataclass(eq=False)
class Gathering:
    """People who can be modelled at once.

    - `people`: their positions among all.
    - `options`: by decision, what any of them can take, each member's own in the member's order.
    """

    people: list[int] = field(default_factory=list)
    options: list[list[OptionSpec]] = field(default_factory=list)
    _place: list[dict[str, int]] = field(default_factory=list)
    _fewest: int = 0

    def offers(self, like: Offers) -> Offers:
        """All that any of them can take, under the decisions of one of them."""
        decisions = zip(like.decisions, self.options, strict=True)
        return Offers(tuple(Offer(o.name, o.owner, tuple(options)) for o, options in decisions), ())

    def take(self, number: int, offers: Offers) -> bool:
        """Take the person of a number in, if what can be chosen agrees with what the others can."""
        if not self.people:
            self.options = [list(offer.options) for offer in offers.decisions]
            self._place = [_places(options) for options in self.options]
            self._fewest = sum(map(len, self.options))
            self.people.append(number)
            return True
        merged: list[list[OptionSpec] | None] = []
        for offer, known, place in zip(offers.decisions, self.options, self._place, strict=True):
            if not _agree(offer.options, known, place):
                return False
            merged.append(_merged(offer.options, known, place))
        mine = sum(len(offer.options) for offer in offers.decisions)
        every = sum(
            len(known if new is None else new) for new, known in zip(merged, self.options, strict=True)
        )
        if every > (1 + MOST_FOREIGN) * min(mine, self._fewest) + 8:
            return False
        for k, new in enumerate(merged):
            if new is not None:
                self.options[k], self._place[k] = new, _places(new)
        self._fewest = min(self._fewest, mine)
        self.people.append(number)
        return True


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
    """Problems of people of one build, out of all that any of them can take, as `problems_of` gives them.

    - raises `TooManyCells`: a table would be too large; fewer people at once may do.
    """
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


def _places(options: Sequence[OptionSpec]) -> dict[str, int]:
    return {option.name: k for k, option in enumerate(options)}


def _same(one: OptionSpec, other: OptionSpec) -> bool:
    return one is other or (
        one.fix is other.fix
        and one.changes == other.changes
        and one.moves_to == other.moves_to
        and one.use == other.use
    )


def _agree(mine: Sequence[OptionSpec], known: Sequence[OptionSpec], place: Mapping[str, int]) -> bool:
    """Whether options of one name are the same, in the same order."""
    last = -1
    for option in mine:
        here = place.get(option.name)
        if here is None:
            continue
        if here < last or not _same(option, known[here]):
            return False
        last = here
    return True


def _merged(
    mine: Sequence[OptionSpec], known: list[OptionSpec], place: Mapping[str, int]
) -> list[OptionSpec] | None:
    """Options of both in an order that keeps to both; None where nothing is new."""
    if all(option.name in place for option in mine):
        return None
    out = list(known)
    at = 0
    for option in mine:
        if option.name in place:
            at = next(k for k in range(at, len(out)) if out[k].name == option.name) + 1
        else:
            out.insert(at, option)
            at += 1
    return out
