"""A problem with fewer options: what is left of some decisions, and of all that hangs on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from deskmend.choice.problem import BoolArray, Bound, Decision, IntArray, Mask, Node, Problem, Table

A = TypeVar("A", IntArray, BoolArray)

Left = Mapping[str, Sequence[int]]
"""By decision the positions of the options that are left, rising, at least one."""


def narrowed(problem: Problem, left: Left) -> Problem | None:
    """Problem with some options left of some decisions; None where that is forbidden outright.

    Answers have the same names, value and figures as in the whole problem. Nodes keep all their states.
    """
    names = {d.name: {d.options[k].name for k in left[d.name]} for d in problem.decisions if d.name in left}
    forbidden = []
    for entry in problem.forbidden:
        if all(name not in names or state in names[name] for name, state in entry.items()):
            # what holds for the only option left need not be asked for
            rest = {name: state for name, state in entry.items() if name not in names or len(names[name]) > 1}
            if not rest:
                return None
            forbidden.append(rest)
    masks = []
    for mask in problem.masks:
        allowed = sliced(mask.scope, mask.allowed, left)
        if not allowed.any():
            return None
        if not allowed.all():
            masks.append(Mask(mask.scope, allowed, mask.implied))
    return replace(
        problem,
        decisions=[_decision(one, left[one.name]) if one.name in left else one for one in problem.decisions],
        tables=_tables(problem.tables, left, names),
        forbidden=forbidden,
        masks=masks,
        nodes=[Node(n.name, n.scope, sliced(n.scope, n.index, left), n.size) for n in problem.nodes],
        bounds=[Bound(_tables(bound.tables, left, names), bound.at_most) for bound in problem.bounds],
    )


def sliced(scope: Sequence[str], values: A, left: Left) -> A:
    """Array with the entries left along the axis of every variable of which some are."""
    out = values
    for axis, name in enumerate(scope):
        if name in left:
            out = np.take(out, left[name], axis=axis)
    return out


def _decision(decision: Decision, left: Sequence[int]) -> Decision:
    """The first option left counts as a fix as it did before."""
    options = [replace(decision.options[k], is_fix=decision.is_fix(k)) for k in left]
    return Decision(decision.name, options)


def _tables(tables: Sequence[Table], left: Left, names: Mapping[str, set[str]]) -> list[Table]:
    out = []
    for table in tables:
        when = table.when
        if when is not None and when[0] in names:
            if when[1] not in names[when[0]]:
                continue
            when = when if len(names[when[0]]) > 1 else None
        out.append(Table(table.scope, sliced(table.scope, table.values, left), when, table.group))
    return out
