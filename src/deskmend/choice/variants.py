"""Options that another of their decision does at least as well for less: they are never needed.

A catalog may hold the same thing from several shops, each with fixes of its own. Whoever takes the dearer
ones could put the cheaper ones in their place, all at once: nothing gets worse, and the cost falls or the
option that stands first is taken. So they can go before anything is searched.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain

import numpy as np

from deskmend.choice.narrowed import narrowed
from deskmend.choice.problem import BoolArray, Decision, Problem, Table, most_used
from deskmend.choice.purchases import UNAVAILABLE, cost_of

Place = tuple[str, int]
"""A decision and the position of an option."""


def without_variants(problem: Problem) -> Problem:
    """The same problem without options that are never needed; answers are the same to the last tie."""
    cheaper, allowed = _cheaper(problem), _allowed(problem)
    rivals: dict[Place, _Rival] = {}
    instead: dict[str, str] = {}
    for decision in problem.decisions:
        for worse, rival in _pairs(decision, cheaper):
            place = decision.name, worse
            # One thing stands for another everywhere, or packs bought whole would be shared out.
            alike = all(instead.get(name, other) == other for name, other in rival.swaps.items())
            if place not in rivals and alike and _no_worse(problem, allowed, decision, rival.position, worse):
                rivals[place] = rival
                instead |= rival.swaps
    while unsound := list(_unsound(problem, rivals)):
        for place in unsound:
            del rivals[place]
    left = {
        decision.name: [k for k in range(len(decision.options)) if (decision.name, k) not in rivals]
        for decision in problem.decisions
        if any(name == decision.name for name, _ in rivals)
    }
    fewer = narrowed(problem, left) if left else None
    return problem if fewer is None else fewer


@dataclass(frozen=True)
class _Rival:
    """Position of the better option, and what it takes in place of what."""

    position: int
    swaps: Mapping[str, str]


def _cheaper(problem: Problem) -> dict[str, set[str]]:
    """For each thing nobody owns all that cost less, however many are needed, in packs no smaller.

    They can be bought in any number; tiers of their own only make them cheaper.
    """
    free = [(one.price, one) for one in problem.items if one.price is not None and one.stock is None]
    most = most_used(problem)
    out: dict[str, set[str]] = {}
    for dear in problem.items:
        if dear.owned or dear.price is None:
            continue
        packs = range(1, -(-most[dear.name] // dear.pack) + 1)
        costs = cost_of(dear, [count * dear.pack for count in packs]).tolist()
        each = [Fraction(cost, n) for n, cost in zip(packs, costs, strict=True) if cost != UNAVAILABLE]
        least = min(each, default=Fraction(0))
        out[dear.name] = {one.name for price, one in free if price < least and one.pack >= dear.pack}
    return out


def _pairs(decision: Decision, cheaper: Mapping[str, set[str]]) -> Iterator[tuple[int, _Rival]]:
    """Positions of an option, and of one that takes the same and stands before it, or the same for less."""
    for worse, option in enumerate(decision.options):
        if worse == 0:
            continue
        for better, other in enumerate(decision.options):
            if other.minutes > option.minutes or decision.is_fix(better) > decision.is_fix(worse):
                continue
            swaps = _swaps(option.use, other.use, cheaper)
            if swaps or (swaps is not None and better < worse):
                yield worse, _Rival(better, swaps)


def _swaps(
    mine: Mapping[str, int], other: Mapping[str, int], cheaper: Mapping[str, set[str]]
) -> dict[str, str] | None:
    """Which cheaper thing the other takes in place of each of mine; None where it takes anything else."""
    left = {name: units for name, units in other.items() if mine.get(name) != units}
    swaps: dict[str, str] = {}
    for name, units in mine.items():
        if other.get(name) == units:
            continue
        found = next((one for one in left if left[one] == units and one in cheaper.get(name, ())), None)
        if found is None:
            return None
        swaps[name] = found
        del left[found]
    return None if left else swaps


def _allowed(problem: Problem) -> dict[tuple[str, ...], BoolArray]:
    """What all masks of one scope allow together: each rule of each fix has a mask of its own."""
    out: dict[tuple[str, ...], BoolArray] = {}
    for mask in problem.masks:
        known = out.get(mask.scope)
        out[mask.scope] = mask.allowed if known is None else known & mask.allowed
    return out


def _no_worse(
    problem: Problem,
    allowed: Mapping[tuple[str, ...], BoolArray],
    decision: Decision,
    better: int,
    worse: int,
) -> bool:
    """Whether one option may stand in place of another wherever that one may, and adds no more."""
    name = decision.name

    def gated(table: Table) -> bool:
        return table.when is not None and table.when[0] == name

    # Nodes come first: they tell most options apart.
    for node in problem.nodes:
        if name in node.scope:
            index = np.moveaxis(node.index, node.scope.index(name), 0)
            if (index[better] != index[worse]).any():
                return False
    for table in chain(problem.tables, *(bound.tables for bound in problem.bounds)):
        if gated(table):
            if problem.state_of(*table.when) in (better, worse):  # type: ignore[misc]
                return False
        if name in table.scope:
            values = np.moveaxis(table.values, table.scope.index(name), 0)
            if (values[better] > values[worse]).any():
                return False
    for scope, mask in allowed.items():
        if name in scope:
            rows = np.moveaxis(mask, scope.index(name), 0)
            if (rows[worse] & ~rows[better]).any():
                return False
    forbidden: dict[int, list[dict[str, str | int]]] = {better: [], worse: []}
    for entry in problem.forbidden:
        if name in entry:
            rest = {other: state for other, state in entry.items() if other != name}
            forbidden.setdefault(problem.state_of(name, entry[name]), []).append(rest)
    return all(rest in forbidden[worse] for rest in forbidden[better])


def _unsound(problem: Problem, rivals: Mapping[Place, _Rival]) -> Iterator[Place]:
    """Options whose better one goes itself, or that share packs of a dearer thing with some that stay.

    A pack that has to be opened anyway makes the next unit of it free.
    """
    kept: set[str] = set()
    for decision in problem.decisions:
        for position, option in enumerate(decision.options):
            rival = rivals.get((decision.name, position))
            kept.update(name for name in option.use if rival is None or name not in rival.swaps)
    packs = {item.name: item.pack for item in problem.items}
    for (name, position), rival in rivals.items():
        shared = any(packs[thing] > 1 and thing in kept for thing in rival.swaps)
        if shared or (name, rival.position) in rivals:
            yield name, position
