"""The exact model of many workplaces at once, where everybody can choose among the same.

The functions that fill the tables are the very functions that fill one person's: only the arrays have an axis
more. What one person's answer is does not depend on who else is in the cohort.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Any, cast

import numpy as np

from deskmend.choice import Problem
from deskmend.intake.price_table import PriceTable
from deskmend.planning.cohort_grid import CohortBuilder
from deskmend.planning.cohort_problem import CohortTables, problem_of
from deskmend.planning.cohorts import Member
from deskmend.planning.grid import AnyArray, Grid, GridBuilder
from deskmend.planning.many_states import StatesTogether
from deskmend.planning.model import Model, add_terms, items_of
from deskmend.planning.offers import Offer, Offers, OptionSpec
from deskmend.planning.rules import add_rules
from deskmend.workstation.effects import Change
from deskmend.workstation.state import Slot, State

__all__ = ["problems_of"]

FEW = 0.05
"""Part of the people up to which those who can settle a decision at all are modelled apart."""


@dataclass
class CohortModel(Model):
    """Grids and terms of many people.

    Attributes
    ----------
    states : sequence of State
        Everybody's, before any fix.
    barred : list of (tuple of str, ndarray)
        What cannot go together.
    """

    builder: GridBuilder = field(default_factory=CohortBuilder)
    states: Sequence[State] = ()
    barred: list[tuple[tuple[str, ...], AnyArray]] = field(default_factory=list)

    @cached_property
    def now(self) -> StatesTogether:
        """Everybody before any fix."""
        return StatesTogether(self.states)

    def alike(self, values: Any) -> AnyArray:
        """Values over some decisions, the same for everybody."""
        return np.asarray(values)[np.newaxis]

    def filled(self, slot: Slot, settled: Sequence[Any], shape: tuple[int, ...]) -> AnyArray:
        """Array of settled values of a field, by people."""
        del slot
        return np.stack(settled, axis=1).reshape(len(self.states), *shape[1:])

    def _settled(self, slot: Slot) -> Grid:
        start = self.now.field(slot)
        offers = self.touching.get(slot, [])
        if offers:
            return self._changed(slot, offers, partial(_settled_for_all, start))
        alike = bool(np.all((start == start[0]) | ((start != start) & (start[0] != start[0]))))
        kept = start[:1] if alike else start
        return self._constants.setdefault(repr((kept.dtype.str, kept.tobytes())), Grid((), kept))

    def forbid_unless(self, allowed: Grid) -> None:
        """Forbid every combination where a grid is False."""
        if not bool(np.all(allowed.values)):
            self.barred.append((allowed.scope, allowed.values.astype(np.bool_)))

    def least_clearance(self, place: str) -> Grid:
        """Free height over the legs that a plan has to leave [mm], by people."""
        return Grid((), self.now.least_clearance(place))

    def open_to(self, offer: Offer) -> AnyArray:
        """What of a decision no rule closes to somebody, by people."""
        out = np.ones((len(self.states), 1 + len(offer.options)), dtype=np.bool_)
        for scope, allowed in self.barred:
            if scope == (offer.name,):
                out &= allowed
        return out

    def tables(self) -> CohortTables:
        """The choice of everybody with all strain as its value."""
        decisions, forbidden = self._decisions()
        sums: dict[tuple[str, ...], AnyArray] = {}
        fixed: AnyArray = np.zeros(1, dtype=np.int64)
        for term in self.terms:
            scope, values = term.grid.scope, term.grid.values
            if term.grid.is_constant:
                fixed = fixed + values
            else:
                sums[scope] = sums[scope] + values if scope in sums else values
        nodes = cast(CohortBuilder, self.builder).derived
        return CohortTables(decisions, forbidden, list(sums.items()), self.barred, nodes, fixed)


def problems_of(members: Sequence[Member], offers: Offers, prices: PriceTable) -> list[tuple[Problem, int]]:
    """Model people who can choose among the same.

    Parameters
    ----------
    members : sequence of Member
        Of one build, who have one place to work at.
    offers : Offers
        All that any of them can take.
    prices : PriceTable
        What can be bought.

    Returns
    -------
    list of (Problem, int)
        Everybody's problem without limits, and the strain that nothing chosen changes [millionths of h/day].

    Raises
    ------
    TooManyCells
        A table would be too large; fewer people at once may do.
    """
    with np.errstate(invalid="ignore"):
        model = _ruled(members, offers)
        closed = {}
        apart = np.zeros(len(members), dtype=np.bool_)
        for offer in offers.decisions:
            some = model.open_to(offer)[:, 1:].any(axis=1)
            if some.mean() <= FEW and not some.all():
                apart |= some
                closed[offer.name] = [option.name for option in offer.options]
        if not closed:
            return _cut(model, members, prices)
        # Few people who can settle a decision that is closed to most stand apart: their tables are larger.
        out: dict[int, tuple[Problem, int]] = {}
        for group, left in ((~apart, offers.without(closed)), (apart, offers)):
            people = np.flatnonzero(group).tolist()
            if people:
                mine = [members[k] for k in people]
                out.update(zip(people, _cut(_ruled(mine, left), mine, prices), strict=True))
        return [out[k] for k in range(len(members))]


def _ruled(members: Sequence[Member], offers: Offers) -> CohortModel:
    """Model with its rules alone."""
    model = CohortModel(members[0].state, offers, states=[member.state for member in members])
    for offer in offers.decisions:
        model.builder.decision(offer.name, 1 + len(offer.options))
        names = [{option.name for option in _own(member, offer.name)} for member in members]
        allowed = [[True, *(option.name in mine for option in offer.options)] for mine in names]
        model.forbid_unless(Grid((offer.name,), np.array(allowed)))
    add_rules(model)
    return model


def _own(member: Member, decision: str) -> Sequence[OptionSpec]:
    return next((o.options for o in member.offers.decisions if o.name == decision), ())


def _cut(model: CohortModel, members: Sequence[Member], prices: PriceTable) -> list[tuple[Problem, int]]:
    """Everybody's problem out of a model with its rules."""
    add_terms(model, members[0].weights)
    tables = model.tables()
    return [
        problem_of(tables, k, items_of(tables.decisions, member.case, prices))
        for k, member in enumerate(members)
    ]


def _settled_for_all(start: AnyArray, changes: Sequence[Change]) -> AnyArray:
    """Value of a field after changes, by people, as `deskmend.workstation.effects.settle` has it for one."""
    value: Any = start
    sets = [change.value for change in changes if change.operation == "set"]
    if sets:
        value = np.full(start.shape, sets[0])
    amounts = {
        operation: [float(c.value) for c in changes if c.operation == operation]
        for operation in ("add", "at_most", "at_least")
    }
    if any(amounts.values()):
        value = np.asarray(value, dtype=np.float64) + sum(amounts["add"])
        for most in amounts["at_most"]:
            value = np.minimum(value, most)
        if amounts["at_least"]:
            least = max(amounts["at_least"])
            value = np.where(np.isnan(value), least, np.maximum(value, least))
    return np.asarray(value)
