"""Goals: the least money, then the least minutes, that brings a score or a strain down to a value.

The scores of every posture of every task become nodes in the exact tables,
item by item, made of the same quantities that a report shows; combinations
above the goal are forbidden. Strain goals are side limits over the very tables
that make up the value. Nothing is rounded or approximated.

A limit on a node binds everything below it together, which makes exact search
wide. Where the limit says no more than limits on the parts would, as with the
greater of two scores, it is pushed down to them. Nothing is lost or added.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from math import prod
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from deskmend.choice import Bound, Mask, Node, Problem, Table
from deskmend.errors import Fault, InputFaults, did_you_mean, option_fault
from deskmend.measures import MILLION, Micro
from deskmend.planning.model.model import Model, Term
from deskmend.planning.model.rules import Gate
from deskmend.planning.model.tables import AnyArray, Grid, GridBuilder
from deskmend.risk.scores.day import method_named, methods
from deskmend.risk.scores.tables import NOT_SCORED
from deskmend.risk.severity import REGIONS

__all__ = [
    "TOTAL",
    "BuiltGoal",
    "Goal",
    "build_goals",
    "goals_of",
    "pushed_down",
    "score_names",
    "split_goals",
    "with_goals",
]

BoolArray = npt.NDArray[np.bool_]

MOST_CELLS = 50_000
"""Most cells of a limit while it is taken apart."""


def pushed_down(mask: Mask, builder: GridBuilder) -> list[Mask]:
    """Limits on parts that together allow exactly what a limit over decisions and nodes allows.

    The mask itself where it cannot be taken apart; none where it allows all that can occur.
    """
    nodes = {node.name: node for node in builder.nodes}
    done: list[Mask] = []
    waiting = [mask]
    while waiting:
        one = waiting.pop()
        parts = _taken_apart(one, nodes, builder)
        if parts is None:
            done.append(one)
        else:
            waiting += parts
    return done


def _taken_apart(mask: Mask, nodes: Mapping[str, Node], builder: GridBuilder) -> list[Mask] | None:
    """Limits over the parts of one node of a mask; None where no node can be taken apart."""
    for name in mask.scope:
        if name in nodes:
            parts = _without(mask, nodes[name], builder)
            if parts is not None:
                return parts
    return None


def _without(mask: Mask, node: Node, builder: GridBuilder) -> list[Mask] | None:
    rest = tuple(v for v in mask.scope if v != node.name)
    scope = (*rest, *(v for v in node.scope if v not in rest))
    sizes = tuple(builder.size(v) for v in scope)
    if prod(sizes) > MOST_CELLS:
        return None
    grid = np.ix_(*(np.arange(n) for n in sizes))
    at = dict(zip(scope, grid, strict=True))
    state = node.index[tuple(at[v] for v in node.scope)]
    allowed = mask.allowed[tuple(state if v == node.name else at[v] for v in mask.scope)]
    allowed = np.broadcast_to(allowed, sizes)
    found = builder.reach(scope)
    reached: BoolArray = np.ones(sizes, dtype=np.bool_) if found is None else found
    good = allowed & reached
    parts: list[Mask] = []
    together: BoolArray = np.ones(sizes, dtype=np.bool_)
    for v in node.scope:
        kept = tuple(w for w in scope if w in rest or w == v)
        away = tuple(k for k, w in enumerate(scope) if w not in kept)
        part = good.any(axis=away)
        together &= part.reshape(tuple(n if w in kept else 1 for w, n in zip(scope, sizes, strict=True)))
        possible = reached.any(axis=away)
        if bool(np.any(possible & ~part)):
            parts.append(Mask(kept, np.array(part | ~possible)))
    if bool(np.any(together & reached & ~allowed)):
        return None
    return parts


TOTAL = "strain"
"""Name of the goal for all regions together."""
MOST_STRAIN = 1000
"""Greatest strain taken as a goal [h/day]: more than any day can hold."""
OVER_EVERY_GOAL = 1_000_000
"""Takes the place of a score that cannot be given: such a state reaches no goal."""


def score_names() -> tuple[str, ...]:
    """Published scores that can be a goal."""
    return tuple(method.name for method in methods())


@dataclass(frozen=True)
class Goal:
    """A value to come down to: of a published score, of ``strain`` or of a region, by name.

    Strain is meant with the person's weights, as in ``by_region``.
    """

    name: str
    at_most: int | Micro

    @property
    def is_score(self) -> bool:
        """True for a published score, False for a strain."""
        return self.name in score_names()

    def written(self, value: int) -> str:
        """A value of this goal's kind as people write it: ``4``, or strain-hours as ``0.5``."""
        if self.is_score:
            return str(value)
        text = f"{Decimal(value) / MILLION:.6f}".rstrip("0")
        return text + "0" if text.endswith(".") else text

    @property
    def text(self) -> str:
        """As ``rosa=4``."""
        return f"{self.name}={self.written(self.at_most)}"


def goals_of(
    reach: Mapping[str, object] | Iterable[tuple[str, object]], where: str = "--reach"
) -> tuple[Goal, ...]:
    """Read goals, each once; `InputFaults` with every name that is none and every value out of range.

    A value is a whole number for a score; strain-hours a day with at most six decimals, as text, whole number
    or Decimal, for a strain. `where` says in messages what gave them.
    """
    names = (*score_names(), TOTAL, *REGIONS)
    out: list[Goal] = []
    faults: list[Fault] = []
    for name, value in reach.items() if isinstance(reach, Mapping) else reach:
        read = f"{name}={value}"
        if name not in names:
            allowed = f"SCORE=VALUE with one of {', '.join(names)}"
            faults.append(option_fault(where, read, allowed, did_you_mean(name, names)))
        elif name in (goal.name for goal in out):
            faults.append(option_fault(where, read, f"one value for {name}"))
        else:
            number, allowed = _at_most(name, value)
            if number is None:
                faults.append(option_fault(where, read, allowed))
            else:
                out.append(Goal(name, number))
    if faults:
        raise InputFaults(faults)
    return tuple(out)


def split_goals(texts: Iterable[str]) -> list[tuple[str, str]]:
    """Split ``SCORE=VALUE`` texts; one without a sign keeps an empty value, which `goals_of` refuses."""
    parts = [text.partition("=") for text in texts]
    return [(name.strip(), value.strip()) for name, _, value in parts]


def _at_most(name: str, value: object) -> tuple[int | None, str]:
    if is_score := name in score_names():
        method = method_named(name)
        low, high = method.low, method.high
        allowed = f"{name} a whole number {low} to {high}"
    else:
        low, high = 0, MOST_STRAIN
        allowed = f"{name} strain-hours a day, 0 to {high}, at most six decimals, as 0.5"
    if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal) or len(str(value)) > 30:
        return None, allowed
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        return None, allowed
    if not number.is_finite() or not low <= number <= high:
        return None, allowed
    scaled = number if is_score else number * MILLION
    return (int(scaled), allowed) if scaled == int(scaled) else (None, allowed)


# --- in the exact model --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class BuiltGoal:
    """A goal with what it takes to hold it in a problem."""

    goal: Goal
    grids: tuple[Grid, ...] = ()
    """For a score: its value wherever it counts, else 0; each must keep to the goal."""
    tables: tuple[Table, ...] = ()
    """For a strain: what adds up to it."""
    fixed: Micro = 0
    """For a strain: the part that nothing on offer changes."""

    @property
    def levels(self) -> tuple[int, ...]:
        """Values that a score can take above the goal, rising; none for a strain."""
        found = {int(v) for grid in self.grids for v in np.unique(grid.values)}
        return tuple(sorted(v for v in found if self.goal.at_most < v < OVER_EVERY_GOAL))


def build_goals(model: Model, goals: Sequence[Goal]) -> tuple[BuiltGoal, ...]:
    """Build the tables of goals; nothing is added to a model that is asked for none."""
    out = []
    for goal in goals:
        if goal.is_score:
            out.append(BuiltGoal(goal, tuple(_distinct(_score_grids(model, goal.name)))))
        else:
            terms = [t for t in model.terms if goal.name in (TOTAL, t.region)]
            tables, fixed = _strain_tables(terms)
            out.append(BuiltGoal(goal, tables=tables, fixed=fixed))
    return tuple(out)


def _counted(here: AnyArray, in_mode: AnyArray, share: AnyArray, value: AnyArray) -> AnyArray:
    """A score where it counts, 0 where it does not, more than any goal where it cannot be given."""
    counts = np.asarray(here) & (np.asarray(in_mode) > 0) & (np.asarray(share) > 0)
    return np.where(counts, np.where(value == NOT_SCORED, OVER_EVERY_GOAL, value), 0)


def _score_grids(model: Model, name: str) -> Iterator[Grid]:
    """A score of every task at every place, wherever it counts."""
    for task in model.state.tasks:
        for place, gate in model.places_of(task):
            here = model.gate(gate)

            def apply(
                label: str, function: Callable[..., Any], arguments: list[Grid], at: str = f"{place}:{task}"
            ) -> Grid:
                return model.builder.apply(f"{at}:{label}", function, arguments)

            for one in method_named(name).occasions(model.evaluation(task, place), apply):
                yield apply(one.label, _counted, [here, *one.times, one.score])


def _distinct(grids: Iterable[Grid]) -> list[Grid]:
    return list({id(grid): grid for grid in grids}.values())


def _strain_tables(terms: Sequence[Term]) -> tuple[tuple[Table, ...], int]:
    groups: dict[tuple[Gate | None, tuple[str, ...]], AnyArray] = {}
    fixed = 0
    for term in terms:
        if term.gate is None and term.grid.is_constant:
            fixed += int(term.grid.values)
            continue
        key = (term.gate, term.grid.scope)
        groups[key] = term.grid.values + groups[key] if key in groups else term.grid.values
    tables = tuple(Table(scope, np.array(values), when=gate) for (gate, scope), values in groups.items())
    return tables, fixed


# --- the problem ---------------------------------------------------------------------------------


def with_goals(
    problem: Problem,
    model: Model,
    built: Sequence[BuiltGoal],
    levels: Mapping[str, int] | None = None,
    tables: Sequence[Table] = (),
    first: Literal["value", "cost"] = "cost",
) -> Problem | None:
    """Make of a problem of the model one that keeps to goals; None where one is missed whatever is chosen.

    `levels` are other values for some goals, by name. `tables` make up the value: none where only money and
    minutes matter, which keeps the problem small. `first` comes first in the order of preference.
    """
    masks = list(model.masks)
    bounds: list[Bound] = []
    for one in built:
        most = (levels or {}).get(one.goal.name, one.goal.at_most)
        if one.goal.is_score:
            for grid in one.grids:
                allowed = np.asarray(grid.values <= most)
                if not bool(np.any(allowed)):
                    return None
                if not bool(np.all(allowed)):
                    masks += pushed_down(Mask(grid.scope, np.array(allowed)), model.builder)
        else:
            if one.fixed > most:
                return None
            if one.tables:
                bounds.append(Bound(one.tables, most - one.fixed))
    counted = [*tables, *(table for bound in bounds for table in bound.tables)]
    nodes = _nodes_for(problem, model, [*(t.scope for t in counted), *(m.scope for m in masks)])
    scopes = dict.fromkeys((*(t.scope for t in counted), *(n.scope for n in nodes)))
    found = [(scope, model.builder.reach(scope)) for scope in scopes if len(scope) > 1]
    masks += [Mask(scope, reach, implied=True) for scope, reach in found if reach is not None]
    return replace(
        problem, tables=tuple(tables), masks=tuple(masks), bounds=tuple(bounds), nodes=nodes, first=first
    )


def _nodes_for(problem: Problem, model: Model, scopes: Iterable[tuple[str, ...]]) -> tuple[Node, ...]:
    """Nodes that scopes need, with the nodes those need."""
    wanted = {name for scope in (*scopes, *(tuple(f) for f in problem.forbidden)) for name in scope}
    for node in reversed(model.builder.nodes):
        if node.name in wanted:
            wanted.update(node.scope)
    return tuple(node for node in model.builder.nodes if node.name in wanted)
