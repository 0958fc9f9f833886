"""Solving a problem case by case over its gates.

Where tables count only under certain options of a few decisions (a gate), everything that hangs on a
closed gate is idle: nothing is gained by it, so it stays as it is.  With the gates fixed, what is left is
far less entangled; the best of all cases is the best of the problem, and what one case showed spares work
on the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import prod

from deskmend.choice.narrowed import narrowed, sliced
from deskmend.choice.problem import BoolArray, Mask, Node, Problem, Table

MOST_CASES = 64
"""Most combinations of gates that are solved one by one; where there are more, none are fixed."""


@dataclass
class Incumbent:
    """The mark that a part of a problem has to reach, and a price of money that showed well before.

    What leads the order of preference need not be looked for above ``at_most``; a unit of money costs
    ``cost_price`` where what leads counts ``scale`` times; 0: none yet.
    """

    at_most: int | None = None
    scale: int = 0
    cost_price: int = 0

    def note(self, reached: int) -> None:
        """Take note of an assignment by what leads the order of preference."""
        self.at_most = reached if self.at_most is None else min(self.at_most, reached)


def cases_of(problem: Problem) -> Iterator[Problem]:
    """Give the problem once for each combination of its gates, with the gates fixed.

    Combinations that are forbidden outright are left out.
    """
    gates = gates_of(problem)
    for taken in product(*(range(count) for count in gates.values())):
        fixed = dict(zip(gates, taken, strict=True))
        case = _fixed(problem, fixed) if gates else problem
        if case is not None:
            yield without_idle(case)


def gates_of(problem: Problem) -> dict[str, int]:
    """Decisions that are gates, and the options of each; none where they have too many combinations."""
    named = {table.when[0] for table in _every_table(problem) if table.when is not None}
    gates = {d.name: len(d.options) for d in problem.decisions if d.name in named}
    return gates if prod(gates.values()) <= MOST_CASES else {}


def _every_table(problem: Problem) -> list[Table]:
    return [*problem.tables, *(table for bound in problem.bounds for table in bound.tables)]


def without_idle(problem: Problem) -> Problem:
    """Leave every decision as it is that no table hangs on and no rule needs to be otherwise.

    The best assignment stays the same: keeping costs nothing, takes no work, counts as no fix and comes
    first, so a decision without any say in the value is kept wherever the rules allow it.
    """
    nodes = {node.name: node for node in problem.nodes}
    live = _looked_at(_every_table(problem))
    for decision in problem.decisions:
        first = decision.options[0]
        if first.use or first.minutes or first.is_fix:
            live.add(decision.name)
    rules = [mask for mask in problem.masks if not mask.implied]
    # A rule may need an idle decision to be something else, and that one lets others live through its rules.
    while True:
        _add_ancestors(live, nodes)
        idle = {decision.name: 0 for decision in problem.decisions if decision.name not in live}
        needed = _needed(problem, rules, nodes, live, idle)
        if not needed:
            break
        live |= needed
    case = _fixed(problem, idle) if idle else problem
    if case is None:
        return problem
    kept = {decision.name for decision in case.decisions} | _looked_at(_every_table(case))
    kept.update(*(mask.scope for mask in case.masks if not mask.implied), *case.forbidden)
    _add_ancestors(kept, nodes)
    masks = [mask for mask in case.masks if not mask.implied or kept.issuperset(mask.scope)]
    return replace(case, nodes=[node for node in case.nodes if node.name in kept], masks=masks)


def _looked_at(tables: Iterable[Table]) -> set[str]:
    """Variables that tables or their gates look at."""
    names = {name for table in tables for name in table.scope}
    return names | {table.when[0] for table in tables if table.when is not None}


def _add_ancestors(names: set[str], nodes: Mapping[str, Node]) -> None:
    todo = [name for name in names if name in nodes]
    while todo:
        for name in nodes[todo.pop()].scope:
            if name not in names:
                names.add(name)
                if name in nodes:
                    todo.append(name)


def _needed(
    problem: Problem,
    rules: Sequence[Mask],
    nodes: Mapping[str, Node],
    live: set[str],
    idle: Mapping[str, int],
) -> set[str]:
    """Idle decisions, and nodes over them, that some rule does not let simply be kept."""
    kept = dict(idle)
    for node in nodes.values():
        if node.name not in live and all(name in kept for name in node.scope):
            kept[node.name] = int(node.index[tuple(kept[name] for name in node.scope)])
    states: dict[str, str | int] = {**kept}
    states.update((d.name, d.options[0].name) for d in problem.decisions if d.name in idle)
    out: set[str] = set()
    for entry in problem.forbidden:
        dead = [name for name in entry if name not in live]
        # A node that hangs on live decisions too may come to any state.
        if dead and all(states.get(name, entry[name]) == entry[name] for name in dead):
            out.update(dead)
    for mask in rules:
        dead = [name for name in mask.scope if name not in live]
        if dead and (
            any(name not in kept for name in dead) or not _sliced(mask.scope, mask.allowed, kept).all()
        ):
            out.update(dead)
    return out


def _fixed(problem: Problem, fixed: Mapping[str, int]) -> Problem | None:
    """Problem with one option left of some decisions; None where that is forbidden outright."""
    return narrowed(problem, {name: (position,) for name, position in fixed.items()})


def _sliced(scope: Sequence[str], values: BoolArray, fixed: Mapping[str, int]) -> BoolArray:
    """Array with one entry left along the axis of every fixed variable."""
    return sliced(scope, values, {name: (position,) for name, position in fixed.items()})
