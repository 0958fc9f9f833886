"""What is joined with what: an elimination order turned into steps over numbered relations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from deskmend.choice.network import Scope


@dataclass(frozen=True)
class Step:
    """One variable leaves.

    Parameters
    ----------
    inputs : tuple of int
        Relations to join, in this order.
    scopes : tuple of tuple of int
        Scope after each of them has been joined.
    onto : tuple of int
        Scope of the result, without the variable that leaves.
    output : int
        Number of the result.
    """

    inputs: tuple[int, ...]
    scopes: tuple[Scope, ...]
    onto: Scope
    output: int


def plan_of(
    scopes: Sequence[Scope],
    sizes: Sequence[int],
    parents: Mapping[int, Scope],
    order: Sequence[int],
) -> list[Step]:
    """Turn an elimination order into steps; the last step joins what has no variable left.

    Parameters
    ----------
    scopes : sequence of tuple of int
        Scope of each relation at the start.
    sizes : sequence of int
        Number of states of each variable.
    parents : mapping
        For each node, the variables that determine it.
    order : sequence of int
        Variables in the order they leave; every variable of the scopes.

    Returns
    -------
    list of Step
        Depending only on scopes and sizes, so that it is the same whatever the relations hold.
    """

    def cells(scope: set[int]) -> int:
        product = 1
        for variable in scope:
            if variable not in parents or not set(parents[variable]) <= scope:
                product *= sizes[variable]
        return product

    live = dict(enumerate(scopes))
    steps = []
    output = len(live)
    for leaving in [*order, None]:
        bucket = {number: scope for number, scope in live.items() if leaving is None or leaving in scope}
        if not bucket:
            continue
        first = max(bucket, key=lambda number: (cells(set(bucket[number])), -number))
        inputs, held = [first], set(bucket[first])
        reached = [tuple(sorted(held))]
        del live[first], bucket[first]
        while bucket:
            number = min(
                bucket, key=lambda number: (cells(held | set(bucket[number])), -len(bucket[number]), number)
            )
            held |= set(bucket[number])
            inputs.append(number)
            reached.append(tuple(sorted(held)))
            del live[number], bucket[number]
        onto = tuple(variable for variable in reached[-1] if variable != leaving)
        steps.append(Step(tuple(inputs), tuple(reached), onto, output))
        live[output] = onto
        output += 1
    return steps
