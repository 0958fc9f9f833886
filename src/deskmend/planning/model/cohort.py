"""The exact model of many workplaces at once, where everybody can choose among the same.

The functions that fill the tables are the very functions that fill one person's: only the arrays have an axis
more. What one person's answer is does not depend on who else is in the cohort.

Grids for many workplaces at once: the first axis stands for the people, the others for variables.

Everybody of a cohort has the same decisions with the same options, so one call of a posture function fills
the tables of all. A grid whose first axis has length 1 holds for everybody alike.

One person's problem of choice, cut out of the tables of a cohort.

What the person cannot choose, what makes no difference to this person and states that only others have are
left out, so the problem is about as small as if the person had been modelled alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from math import prod
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from deskmend.choice import Decision, Item, Mask, Problem, Table
from deskmend.intake.prices import PriceTable
from deskmend.planning.model.cohorts import Member
from deskmend.planning.model.many_states import StatesTogether
from deskmend.planning.model.model import Model, add_terms, items_of
from deskmend.planning.model.offers import Offer, Offers, OptionSpec
from deskmend.planning.model.rules import add_rules
from deskmend.planning.model.tables import (
    WORTH_A_NODE,
    AnyArray,
    Grid,
    GridBuilder,
    Variable,
    absorbed,
    added_up,
    alike_along,
)
from deskmend.workstation.effects import Change
from deskmend.workstation.state import Slot, State

__all__ = ["CohortBuilder", "CohortNode", "CohortTables", "TooManyCells", "problem_of", "problems_of"]

MOST_CELLS = 12_000_000
"""Most cells of one table of a whole cohort while it is built."""

MOST_STEPS = 20_000
"""Whole numbers over a wider range are sorted like any others."""


class TooManyCells(RuntimeError):
    """A table of so many people would be too large; fewer people at once may do."""


@dataclass(frozen=True, eq=False)
class CohortNode:
    """A derived variable whose state follows person by person.

    Attributes
    ----------
    name : str
        Unique among variables.
    scope : tuple of str
        Decisions and earlier nodes.
    index : ndarray of int
        State by people, then one axis a variable.
    size : int
        Most states that anybody has.
    """

    name: str
    scope: tuple[str, ...]
    index: AnyArray
    size: int


class CohortBuilder(GridBuilder):
    """Makes grids of many people and the nodes between them.

    Nodes are made as for one person, but a node over several decisions has states of its own for everybody.
    What can be reached at all is not looked into.

    Attributes
    ----------
    derived : list of CohortNode
        Nodes made, each after those in its scope.
    """

    def __init__(self) -> None:
        super().__init__()
        self.derived: list[CohortNode] = []

    def _call(self, function: Callable[..., Any], arguments: list[Grid]) -> Grid:
        replaced = self._joined(self._ordered({v for a in arguments for v in a.scope}))
        fused = [self._rewritten(a, replaced) for a in arguments]
        scope = self._ordered({v for a in fused for v in a.scope})
        people = max((a.values.shape[0] for a in fused), default=1)
        shape = (people, *(self.size(v) for v in scope))
        if prod(shape) > MOST_CELLS:
            raise TooManyCells(f"a table over {', '.join(scope)} of {people} people has {prod(shape)} cells")
        spread = [
            a.values.reshape(
                (a.values.shape[0], *(self.size(v) if v in a.scope else 1 for v in scope)),
            )
            for a in fused
        ]
        values = np.asarray(function(*spread))
        return Grid(scope, np.broadcast_to(values, (max(people, values.shape[0]), *shape[1:])))

    def _rewritten(self, grid: Grid, replaced: dict[str, tuple[str, AnyArray]]) -> Grid:
        todo = [v for v in grid.scope if v in replaced and replaced[v][0] != v]
        if not todo:
            return grid
        target, pick = self._picked(grid.scope, replaced)
        shape = (grid.values.shape[0], *(self.size(v) for v in target))
        return Grid(target, np.broadcast_to(grid.values[_of_all(pick)], shape))

    @staticmethod
    def _trim(grid: Grid) -> Grid:
        scope, values = list(grid.scope), grid.values
        for axis in reversed(range(len(scope) + 1)):
            if not alike_along(values, axis):
                continue
            if axis:
                values = np.take(values, 0, axis=axis)
                del scope[axis - 1]
            else:
                values = values[:1]
        return Grid(tuple(scope), values)

    def _as_node(self, label: str, grid: Grid) -> Grid:
        if grid.is_constant:
            return grid
        base = self._ordered({d for v in grid.scope for d in self._variables[v].base})
        if len(base) == 1:
            return self._of_one_decision(label, base[0], grid)
        people = grid.values.shape[0]
        cells = grid.values.reshape(people, -1)
        states, rank = _ranked(cells)
        size = states.shape[1]
        if size == 1:
            return Grid((), states[:, 0])
        if size * WORTH_A_NODE > cells.shape[1]:
            return grid
        name = self._name(label)
        self._variables[name] = Variable(size, len(self._variables), base, None)
        self.derived.append(CohortNode(name, grid.scope, rank.reshape(grid.values.shape), size))
        return Grid((name,), states)

    def _of_one_decision(self, label: str, decision: str, grid: Grid) -> Grid:
        """Variable that tells apart the options that differ for anybody."""
        full = grid.values[_of_all([self._index(v) for v in grid.scope])]
        _, codes = np.unique(full, return_inverse=True)
        columns = np.ascontiguousarray(codes.reshape(full.shape).T)
        kinds: dict[bytes, int] = {}
        index = np.array([kinds.setdefault(column.tobytes(), len(kinds)) for column in columns])
        if len(kinds) == 1:
            return Grid((), full[:, 0])
        name, states = self._of_decision(label, decision, index)
        _, first = np.unique(index, return_index=True)
        return Grid((name,), full[:, first[states]])

    def add_node(self, name: str, scope: tuple[str, ...], index: AnyArray, size: int) -> None:
        """As for one person; everybody has the same states."""
        self._variables[name] = Variable(size, len(self._variables), scope, index)
        self.derived.append(CohortNode(name, scope, index[np.newaxis], size))

    def reach(self, scope: tuple[str, ...]) -> npt.NDArray[np.bool_] | None:
        """Nothing is known of what cannot be reached."""
        return None


def _of_all(pick: Sequence[AnyArray]) -> tuple[slice | AnyArray, ...]:
    """Index of some states of everybody."""
    return (slice(None), *pick)


def _ranked(cells: AnyArray) -> tuple[AnyArray, AnyArray]:
    """Distinct values of each row, the last repeated to equal length, and the place of each cell in them."""
    if cells.dtype.kind == "f":
        low, high = float(cells.min()), float(cells.max())
        if high - low < MOST_STEPS and bool(np.all(cells == np.rint(cells))):
            return _ranked_whole(cells, low, int(high - low) + 1)
    # Values come in long runs, which a merging sort makes use of.
    order = np.argsort(cells, axis=1, kind="stable")
    ranked = np.take_along_axis(cells, order, axis=1)
    after, before = ranked[:, 1:], ranked[:, :-1]
    fresh = after != before
    if cells.dtype.kind == "f":
        fresh &= ~((after != after) & (before != before))
    place = np.zeros(cells.shape, dtype=np.int32)
    np.cumsum(fresh, axis=1, dtype=np.int32, out=place[:, 1:])
    rank = np.empty_like(place)
    np.put_along_axis(rank, order, place, axis=1)
    size = int(place[:, -1].max()) + 1
    # What follows the last distinct value repeats it.
    states = np.repeat(ranked[:, -1:], size, axis=1)
    who, first = np.nonzero(fresh)
    states[:, 0] = ranked[:, 0]
    states[who, place[who, first + 1]] = after[who, first]
    return states, rank


def _ranked_whole(cells: AnyArray, low: float, steps: int) -> tuple[AnyArray, AnyArray]:
    """The same for whole numbers, without sorting."""
    people = cells.shape[0]
    code = (cells - low).astype(np.int64) + steps * np.arange(people)[:, None]
    met = np.zeros(people * steps, dtype=np.bool_)
    met[code] = True
    place = np.cumsum(met.reshape(people, steps), axis=1, dtype=np.int32) - 1
    who, value = np.nonzero(met.reshape(people, steps))
    states = np.empty((people, int(place[:, -1].max()) + 1))
    states[:] = low + steps - 1 - np.argmax(met.reshape(people, steps)[:, ::-1], axis=1)[:, None]
    states[who, place[who, value]] = low + value
    return states, place.ravel()[code]


MOST_REACH = 100_000
"""Most combinations of options gone through to find what can occur together: many problems have to be cut."""

Scope = tuple[str, ...]


@dataclass(frozen=True, eq=False)
class CohortTables:
    """What makes up everybody's problem; the first axis of every array is the people's, or has length 1.

    Attributes
    ----------
    decisions : sequence of Decision
        All options of anybody.
    forbidden : sequence of mapping
        Partial assignments that may not occur.
    tables, masks : sequence of (tuple of str, ndarray)
        Scopes and values, or what is allowed.
    nodes : sequence of CohortNode
        Each after those in its scope.
    offset : ndarray of int, shape (people,)
        Value that nothing chosen changes.
    """

    decisions: Sequence[Decision]
    forbidden: Sequence[Mapping[str, str | int]]
    tables: Sequence[tuple[Scope, AnyArray]]
    masks: Sequence[tuple[Scope, AnyArray]]
    nodes: Sequence[CohortNode]
    offset: AnyArray


def problem_of(cohort: CohortTables, person: int, items: Sequence[Item]) -> tuple[Problem, int]:
    """Cut out one person's problem.

    Parameters
    ----------
    cohort : CohortTables
        Everybody's.
    person : int
        Position in the cohort.
    items : sequence of Item
        What the person can use up.

    Returns
    -------
    problem : Problem
        Without limits.
    offset : int
        Value that nothing chosen changes.
    """
    cut = _Cut(cohort, person)
    tables = added_up([Table(*cut.trimmed(scope, values)) for scope, values in cohort.tables])
    offset = int(cohort.offset[person % cohort.offset.shape[0]])
    offset += sum(int(table.values) for table in tables if not table.scope)
    kept, nodes = absorbed([t for t in tables if t.scope], cut.builder.nodes, cut.masks)
    decisions = cut.decisions()
    names = {decision.name: {option.name for option in decision.options} for decision in decisions}
    forbidden = [
        entry
        for entry in cohort.forbidden
        if all(name in names and option in names[name] for name, option in entry.items())
    ]
    used = {item for decision in decisions for option in decision.options for item in option.use}
    mine = [item for item in items if item.name in used]
    reached = [
        Mask(scope, allowed, implied=True)
        for scope in dict.fromkeys((*(t.scope for t in kept), *(n.scope for n in nodes)))
        if len(scope) > 1 and (allowed := cut.builder.reach(scope)) is not None
    ]
    return Problem(decisions, mine, kept, forbidden, None, None, nodes, (*cut.masks, *reached)), offset


class _Cut:
    """Which states of each variable a person has, and the person's nodes."""

    def __init__(self, cohort: CohortTables, person: int) -> None:
        self.cohort = cohort
        self.person = person
        self.open: dict[str, AnyArray] = {d.name: self._options(d) for d in cohort.decisions}
        self.builder = GridBuilder(MOST_REACH)
        for name, options in self.open.items():
            self.builder.decision(name, options.size)
        for node in cohort.nodes:
            self._add_node(node)
        self.masks = self._masks()
        for mask in self.masks:
            self.builder.rule(mask)

    def mine(self, values: AnyArray) -> AnyArray:
        """The person's part of an array."""
        return np.asarray(values[self.person % values.shape[0]])

    def _options(self, decision: Decision) -> AnyArray:
        allowed: Any = np.ones(len(decision.options), dtype=np.bool_)
        for scope, mask in self.cohort.masks:
            if scope == (decision.name,):
                allowed = allowed & self.mine(mask)
        return np.flatnonzero(allowed)

    def _add_node(self, node: CohortNode) -> None:
        scope, index = self.trimmed(node.scope, node.index)
        met = np.bincount(index.ravel(), minlength=node.size) > 0
        states = np.flatnonzero(met)
        self.open[node.name] = states
        if states.size == 1:
            return
        self.builder.add_node(node.name, scope, (np.cumsum(met) - 1)[index], int(states.size))

    def trimmed(self, scope: Scope, values: AnyArray) -> tuple[Scope, AnyArray]:
        """The person's array over the variables that make a difference."""
        cut = self.mine(values)[np.ix_(*(self.open[v] for v in scope))] if scope else self.mine(values)
        left = list(scope)
        for axis in reversed(range(len(left))):
            if alike_along(cut, axis):
                cut = np.take(cut, 0, axis=axis)
                del left[axis]
        return tuple(left), cut

    def _masks(self) -> list[Mask]:
        """What cannot go together, of the rules that say anything."""
        decided = {decision.name for decision in self.cohort.decisions}
        out = []
        for scope, allowed in self.cohort.masks:
            if len(scope) == 1 and scope[0] in decided:
                continue
            left, mine = self.trimmed(scope, allowed)
            if left or not bool(mine):
                out.append(Mask(left, mine))
        return out

    def decisions(self) -> list[Decision]:
        """Decisions with the options that the person has, where there are two or more."""
        return [
            Decision(d.name, [d.options[k] for k in self.open[d.name]])
            for d in self.cohort.decisions
            if self.open[d.name].size > 1
        ]


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
