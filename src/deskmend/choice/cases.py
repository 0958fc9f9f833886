"""Solving a problem case by case over its gates.

Where tables count only under certain options of a few decisions (a gate), everything that hangs on a
closed gate is idle: nothing is gained by it, so it stays as it is. With the gates fixed, what is left is
far less entangled; the best of all cases is the best of the problem.

What a search over one case of a problem may learn from the cases before it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import prod
from typing import Any, TypeVar

import numpy as np

from deskmend.choice.problem import BoolArray, Bound, Decision, IntArray, Mask, Node, Problem, Table
from deskmend.choice.result import Choice


@dataclass
class Bar:
    """The mark that a case has to reach, and a price of money that showed well before.

    Parameters
    ----------
    at_most : int or None
        What leads the order of preference need not be looked for above this; None: anything.
    leading_weight, cost_weight : int
        Weights under which an earlier case was bounded; 0: none yet.
    """

    at_most: int | None = None
    leading_weight: int = 0
    cost_weight: int = 0

    def lower(self, leading: int) -> None:
        """Take note of an assignment found."""
        self.at_most = leading if self.at_most is None else min(self.at_most, leading)


A = TypeVar("A", IntArray, BoolArray)

MOST_CASES = 64
"""Most combinations of gates that are solved one by one."""

Key = tuple[int, ...]


def gates_of(problem: Problem) -> tuple[Decision, ...]:
    """Decisions that gate a table, if there are few enough combinations of their options; else none.

    Parameters
    ----------
    problem : Problem
        Any problem.
    """
    named = {table.when[0] for table in problem.tables if table.when is not None}
    named |= {t.when[0] for bound in problem.bounds for t in bound.tables if t.when is not None}
    gates = tuple(decision for decision in problem.decisions if decision.name in named)
    return gates if prod(len(gate.options) for gate in gates) <= MOST_CASES else ()


def cases_of(problem: Problem) -> Iterator[Problem]:
    """Give the problem once for each combination of its gates, with the gates fixed.

    Parameters
    ----------
    problem : Problem
        Any problem; without gates it comes back as it is.

    Yields
    ------
    Problem
        With one option left of every gate; combinations that are forbidden outright are left out.
    """
    gates = gates_of(problem)
    for taken in product(*(range(len(gate.options)) for gate in gates)):
        fixed = {gate.name: position for gate, position in zip(gates, taken, strict=True)}
        case = _fixed(problem, fixed) if gates else problem
        if case is not None:
            yield without_idle(case)


def without_idle(problem: Problem) -> Problem:
    """Leave every decision as it is that no table hangs on and no rule needs to be otherwise.

    Parameters
    ----------
    problem : Problem
        Any problem.

    Returns
    -------
    Problem
        With the same best assignment: keeping costs nothing, takes no work, counts as no fix and comes
        first, so a decision without any say in the value is kept wherever the rules allow it.
    """
    nodes = {node.name: node for node in problem.nodes}
    live: set[str] = set()
    tables = [*problem.tables, *(table for bound in problem.bounds for table in bound.tables)]
    for table in tables:
        live.update(table.scope)
        if table.when is not None:
            live.add(table.when[0])
    for decision in problem.decisions:
        first = decision.options[0]
        if first.use or first.minutes or first.is_fix:
            live.add(decision.name)
    rules = [mask for mask in problem.masks if not mask.implied]
    while True:
        _with_ancestors(live, nodes)
        idle = {decision.name: 0 for decision in problem.decisions if decision.name not in live}
        if not idle:
            break
        needed = _needed(problem, rules, nodes, live, idle)
        if not needed:
            break
        live |= needed
    case = _fixed(problem, idle) if idle else problem
    if case is None:
        return problem
    kept = _used_nodes(case)
    masks = [mask for mask in case.masks if not mask.implied or all(v in kept for v in mask.scope)]
    return replace(case, nodes=[node for node in case.nodes if node.name in kept], masks=masks)


def _with_ancestors(live: set[str], nodes: Mapping[str, Node]) -> None:
    todo = [name for name in live if name in nodes]
    while todo:
        for name in nodes[todo.pop()].scope:
            if name not in live:
                live.add(name)
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
    names = {d.name: d.options[0].name for d in problem.decisions if d.name in idle}
    out: set[str] = set()
    for entry in problem.forbidden:
        mine = [name for name in entry if name in idle]
        if mine and all(entry[name] == names[name] for name in mine):
            out.update(mine)
    kept = dict(idle)
    for node in nodes.values():
        if node.name not in live and all(name in kept for name in node.scope):
            kept[node.name] = int(node.index[tuple(kept[name] for name in node.scope)])
    for mask in rules:
        dead = [name for name in mask.scope if name not in live]
        if not dead:
            continue
        if any(name not in kept for name in dead) or not _sliced(mask.scope, mask.allowed, kept).all():
            out.update(dead)
    return out


def _used_nodes(problem: Problem) -> set[str]:
    """Decisions, and nodes that a table, a bound or a rule hangs on."""
    nodes = {node.name: node for node in problem.nodes}
    used = {decision.name for decision in problem.decisions}
    for table in [*problem.tables, *(table for bound in problem.bounds for table in bound.tables)]:
        used.update(table.scope)
        if table.when is not None:
            used.add(table.when[0])
    for mask in problem.masks:
        if not mask.implied:
            used.update(mask.scope)
    for entry in problem.forbidden:
        used.update(entry)
    _with_ancestors(used, nodes)
    return used


def _fixed(problem: Problem, fixed: Mapping[str, int]) -> Problem | None:
    names = {d.name: d.options[fixed[d.name]].name for d in problem.decisions if d.name in fixed}
    decisions = []
    for decision in problem.decisions:
        if decision.name not in fixed:
            decisions.append(decision)
            continue
        position = fixed[decision.name]
        option = decision.options[position]
        counted = option.is_fix if option.is_fix is not None else position > 0
        decisions.append(Decision(decision.name, (replace(option, is_fix=counted),)))
    forbidden = []
    for entry in problem.forbidden:
        if all(names.get(name, state) == state for name, state in entry.items()):
            left = {name: state for name, state in entry.items() if name not in names}
            if not left:
                return None
            forbidden.append(left)
    masks = []
    for mask in problem.masks:
        allowed = _sliced(mask.scope, mask.allowed, fixed)
        if not allowed.any():
            return None
        if not allowed.all():
            masks.append(Mask(mask.scope, allowed, mask.implied))
    nodes = [Node(n.name, n.scope, _sliced(n.scope, n.index, fixed), n.size) for n in problem.nodes]
    bounds = [Bound(_tables(bound.tables, fixed, names), bound.at_most) for bound in problem.bounds]
    return replace(
        problem,
        decisions=decisions,
        tables=_tables(problem.tables, fixed, names),
        forbidden=forbidden,
        masks=masks,
        nodes=nodes,
        bounds=bounds,
    )


def _tables(tables: Sequence[Table], fixed: Mapping[str, int], names: Mapping[str, str]) -> list[Table]:
    out = []
    for table in tables:
        when = table.when
        if when is not None and when[0] in names:
            if names[when[0]] != when[1]:
                continue
            when = None
        out.append(Table(table.scope, _sliced(table.scope, table.values, fixed), when, table.group))
    return out


def _sliced(scope: Sequence[str], values: A, fixed: Mapping[str, int]) -> A:
    """Array with one entry left along the axis of every fixed variable."""
    out: Any = values
    for axis, name in enumerate(scope):
        if name in fixed:
            out = np.take(out, [fixed[name]], axis=axis)
    return out  # type: ignore[no-any-return]


def preference(problem: Problem, choice: Choice) -> Key:
    """Rank of an assignment in the order of preference of a problem; the least is best.

    Parameters
    ----------
    problem : Problem
        With its decisions whole.
    choice : Choice
        With an assignment.
    """
    positions = tuple(problem.state_of(d.name, choice.options[d.name]) for d in problem.decisions)
    leading = (choice.value, choice.cost, choice.minutes)
    if problem.first == "cost":
        leading = (choice.cost, choice.minutes, choice.value)
    return (*leading, choice.fixes, *positions)


def best_of(problem: Problem, choices: Sequence[Choice]) -> Choice:
    """Best of the answers to all cases of a problem.

    Parameters
    ----------
    problem : Problem
        The problem.
    choices : sequence of Choice
        One a case; none means that every case is forbidden.

    Returns
    -------
    Choice
        Proven only where every case is.
    """
    found = [choice for choice in choices if choice.found]
    proven = all(choice.proven for choice in choices)
    bounds = [c.bound for c in choices if c.status != "infeasible"]
    bound = min((b for b in bounds if b is not None), default=None) if None not in bounds else None
    engine = next((c.engine for c in choices), "reduction")
    if not found:
        status = "infeasible" if proven else "not_proven"
        return Choice({}, None, proven, bound, status, engine)  # type: ignore[arg-type]
    best = min(found, key=lambda choice: preference(problem, choice))
    return replace(best, proven=proven, bound=bound, status="optimal" if proven else "not_proven")


def lower_edge(problem: Problem, choices: Sequence[Choice]) -> list[Choice]:
    """Frontier of a problem from the frontiers of its cases.

    Parameters
    ----------
    problem : Problem
        The problem.
    choices : sequence of Choice
        All rungs of all cases.

    Returns
    -------
    list of Choice
        Cost strictly rising, value strictly falling, each the best at its cost.
    """
    rungs: list[Choice] = []
    for choice in sorted(choices, key=lambda c: (c.cost, c.value, preference(problem, c))):
        if not rungs or choice.value < rungs[-1].value:
            rungs.append(choice)
    return rungs
