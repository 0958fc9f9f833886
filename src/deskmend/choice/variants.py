"""A problem with fewer options: case by case over its gates, some decisions left out, options never needed.

Where tables count only under certain options of a few decisions (a gate), everything that hangs on a
closed gate is idle: nothing is gained by it, so it stays as it is.  With the gates fixed, what is left is
far less entangled; the best of all cases is the best of the problem, and what one case showed spares work
on the next.

A catalog may hold the same thing from several shops, each with fixes of its own. Whoever takes the dearer
ones could put the cheaper ones in their place, all at once: nothing gets worse, and the cost falls or the
option that stands first is taken. So they can go before anything is searched.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import chain, product
from math import prod
from typing import TypeVar

import numpy as np

from deskmend.choice.elimination.order import KnownOrders
from deskmend.choice.problem import (
    BoolArray,
    Decision,
    IntArray,
    Item,
    Mask,
    Node,
    Problem,
    Table,
    most_used,
    part_of,
)
from deskmend.choice.purchases import UNAVAILABLE, cost_of

A = TypeVar("A", IntArray, BoolArray)

KeptOptions = Mapping[str, Sequence[int]]
"""By decision the positions of the options kept, rising, at least one."""


def narrowed(problem: Problem, kept: KeptOptions) -> Problem | None:
    """Problem with some options kept of some decisions; None where that is forbidden outright.

    Answers have the same names, value and figures as in the whole problem. Nodes keep all their states.
    What no decision with fewer options has a say in stays the same record.
    """
    names = {d.name: {d.options[k].name for k in kept[d.name]} for d in problem.decisions if d.name in kept}
    forbidden = []
    for entry in problem.forbidden:
        if all(name not in names or state in names[name] for name, state in entry.items()):
            # what holds for the only option kept need not be asked for
            rest = {name: state for name, state in entry.items() if name not in names or len(names[name]) > 1}
            if not rest:
                return None
            forbidden.append(rest)
    masks = []
    for mask in problem.masks:
        allowed = sliced(mask.scope, mask.allowed, kept)
        if not allowed.any():
            return None
        if not allowed.all():
            masks.append(mask if allowed is mask.allowed else part_of(mask, allowed=allowed))
    bounds = [part_of(bound, tables=_tables(bound.tables, kept, names)) for bound in problem.bounds]
    return part_of(
        problem,
        decisions=tuple(
            _decision(one, kept[one.name]) if one.name in kept else one for one in problem.decisions
        ),
        tables=_tables(problem.tables, kept, names),
        forbidden=tuple(forbidden),
        masks=tuple(masks),
        nodes=tuple(_node(node, kept) for node in problem.nodes),
        bounds=tuple(bounds),
    )


def sliced(scope: Sequence[str], values: A, kept: KeptOptions) -> A:
    """Array with the entries kept along the axis of every variable of which some are."""
    out = values
    for axis, name in enumerate(scope):
        if name in kept:
            out = np.take(out, kept[name], axis=axis)
    return out


def without_barred(problem: Problem) -> Problem:
    """The same problem without options that a mask bars, whatever else is chosen."""
    left = {decision.name: np.ones(len(decision.options), dtype=np.bool_) for decision in problem.decisions}
    for mask in problem.masks:
        for axis, name in enumerate(mask.scope):
            if name in left:
                others = tuple(k for k in range(len(mask.scope)) if k != axis)
                left[name] &= mask.allowed.any(axis=others)
    if not all(some.any() for some in left.values()):
        return problem
    kept = {name: np.flatnonzero(some).tolist() for name, some in left.items() if not some.all()}
    fewer = narrowed(problem, kept) if kept else problem
    return problem if fewer is None else fewer


def _decision(decision: Decision, kept: Sequence[int]) -> Decision:
    """The first option kept counts as a fix as it did before."""
    options = tuple(part_of(decision.options[k], is_fix=decision.is_fix(k)) for k in kept)
    return Decision(decision.name, options)


def _node(node: Node, kept: KeptOptions) -> Node:
    index = sliced(node.scope, node.index, kept)
    return node if index is node.index else part_of(node, index=index)


def _tables(tables: Sequence[Table], kept: KeptOptions, names: Mapping[str, set[str]]) -> tuple[Table, ...]:
    out = []
    for table in tables:
        when = table.when
        if when is not None and when[0] in names:
            if when[1] not in names[when[0]]:
                continue
            when = when if len(names[when[0]]) > 1 else None
        values = sliced(table.scope, table.values, kept)
        same = values is table.values and when == table.when
        out.append(table if same else part_of(table, values=values, when=when))
    return tuple(out)


MOST_CASES = 64
"""Most combinations of gates that are solved one by one; where there are more, none are fixed."""


@dataclass
class Incumbent:
    """The mark that a part of a problem has to reach, and a price of money that showed well before.

    What leads the order of preference need not be looked for above ``at_most``; a unit of money costs
    ``cost_price`` where what leads counts ``scale`` times; 0: none yet.  ``orders`` are those of what was
    searched before.
    """

    at_most: int | None = None
    scale: int = 0
    cost_price: int = 0
    orders: KnownOrders = field(default_factory=KnownOrders)

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


MOST_PARTS = 24
"""Most parts by packs bought: each takes a search of its own, and memory for it."""


def by_packs(problem: Problem, names: Collection[str]) -> list[Problem]:
    """Part a problem by how many packs are bought of some items; none where there would be too many parts.

    In a part so many are paid for and there. Together the parts allow what the problem does, each assignment
    at its own cost in the part with as many packs as it takes, and at more in others. Answers have the names
    of the problem, but its figures only once they are scored in it.
    """
    most = most_used(problem)
    counts: dict[str, range] = {}
    for item in problem.items:
        if item.name in names:
            packs = -(-max(0, most[item.name] - item.owned) // item.pack)
            counts[item.name] = range(1 + (packs if item.stock is None else min(packs, item.stock)))
    if not counts or prod(map(len, counts.values())) > MOST_PARTS:
        return []
    bought = (dict(zip(counts, packs, strict=True)) for packs in product(*counts.values()))
    parts = (_with_packs(problem, packs) for packs in bought)
    return [part for part in parts if part is not None]


def _with_packs(problem: Problem, bought: Mapping[str, int]) -> Problem | None:
    """The problem with some packs paid for and there; None where some decision cannot do with them."""
    items: list[Item] = []
    for item in problem.items:
        if item.name not in bought:
            items.append(item)
            continue
        packs = bought[item.name]
        items.append(Item(item.name, None, item.pack, item.owned + packs * item.pack))
        items.append(replace(item, name=_paid(item.name), pack=1, owned=0))
    there = {item.name: item.owned for item in items if item.name in bought}
    kept = {}
    for decision in problem.decisions:
        left = [
            k
            for k, option in enumerate(decision.options)
            if all(units <= there.get(name, units) for name, units in option.use.items())
        ]
        if not left:
            return None
        if len(left) < len(decision.options):
            kept[decision.name] = left
    fewer = narrowed(problem, kept) if kept else problem
    if fewer is None:
        return None
    paid = {_paid(name): packs for name, packs in bought.items() if packs}
    first, *others = fewer.decisions
    options = tuple(
        part_of(option, use={**option.use, **paid}, is_fix=first.is_fix(k))
        for k, option in enumerate(first.options)
    )
    return part_of(fewer, decisions=(Decision(first.name, options), *others), items=tuple(items))


def _paid(name: str) -> str:
    """Name under which packs of an item are paid for."""
    return f"{name} bought"


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
    return part_of(case, nodes=tuple(node for node in case.nodes if node.name in kept), masks=tuple(masks))


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
    """Problem with one option kept of some decisions; None where that is forbidden outright."""
    return narrowed(problem, {name: (position,) for name, position in fixed.items()})


def _sliced(scope: Sequence[str], values: BoolArray, fixed: Mapping[str, int]) -> BoolArray:
    """Array with one entry kept along the axis of every fixed variable."""
    return sliced(scope, values, {name: (position,) for name, position in fixed.items()})


OptionAt = tuple[str, int]
"""A decision and the position of an option."""


def without_variants(problem: Problem) -> Problem:
    """The same problem without options that are never needed; answers are the same to the last tie."""
    cheaper, allowed = _cheaper(problem), _allowed(problem)
    rivals: dict[OptionAt, _Rival] = {}
    instead: dict[str, str] = {}
    for decision in problem.decisions:
        rows: _OptionRows | None = None
        for worse, rival in _pairs(decision, cheaper):
            rows = rows or _OptionRows(problem, allowed, decision.name)
            place = decision.name, worse
            # One thing stands for another everywhere, or packs bought whole would be shared out.
            alike = all(instead.get(name, other) == other for name, other in rival.swaps.items())
            if place not in rivals and alike and rows.no_worse(rival.position, worse):
                rivals[place] = rival
                instead |= rival.swaps
    while unsound := list(_unsound(problem, rivals)):
        for place in unsound:
            del rivals[place]
    kept = {
        decision.name: [k for k in range(len(decision.options)) if (decision.name, k) not in rivals]
        for decision in problem.decisions
        if any(name == decision.name for name, _ in rivals)
    }
    fewer = narrowed(problem, kept) if kept else None
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
    fixes = [decision.is_fix(position) for position in range(len(decision.options))]
    for worse, option in enumerate(decision.options):
        if worse == 0:
            continue
        for better, other in enumerate(decision.options):
            if other.minutes > option.minutes or fixes[better] > fixes[worse]:
                continue
            swaps = _swaps(option.use, other.use, cheaper)
            if swaps or (swaps is not None and better < worse):
                yield worse, _Rival(better, swaps)


def _swaps(
    mine: Mapping[str, int], other: Mapping[str, int], cheaper: Mapping[str, set[str]]
) -> dict[str, str] | None:
    """Which cheaper thing the other takes in place of each of mine; None where it takes anything else."""
    if mine == other:
        return {}
    if len(mine) != len(other):
        return None
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


class _OptionRows:
    """All that a problem tells of the options of one decision: arrays with a row an option."""

    def __init__(self, problem: Problem, allowed: Mapping[tuple[str, ...], BoolArray], decision: str) -> None:
        tables = list(chain(problem.tables, *(bound.tables for bound in problem.bounds)))
        self._nodes = [
            np.moveaxis(node.index, node.scope.index(decision), 0)
            for node in problem.nodes
            if decision in node.scope
        ]
        self._gates = {
            problem.state_of(*table.when)
            for table in tables
            if table.when is not None and table.when[0] == decision
        }
        self._tables = [
            np.moveaxis(table.values, table.scope.index(decision), 0)
            for table in tables
            if decision in table.scope
        ]
        self._masks = [
            np.moveaxis(mask, scope.index(decision), 0)
            for scope, mask in allowed.items()
            if decision in scope
        ]
        self._forbidden: dict[int, list[dict[str, str | int]]] = {}
        for entry in problem.forbidden:
            if decision in entry:
                rest = {other: state for other, state in entry.items() if other != decision}
                self._forbidden.setdefault(problem.state_of(decision, entry[decision]), []).append(rest)

    def no_worse(self, better: int, worse: int) -> bool:
        """Whether one option may stand in place of another wherever that one may, and adds no more."""
        if better in self._gates or worse in self._gates:
            return False
        # Nodes come first: they tell most options apart.
        if any((index[better] != index[worse]).any() for index in self._nodes):
            return False
        if any((values[better] > values[worse]).any() for values in self._tables):
            return False
        if any((rows[worse] & ~rows[better]).any() for rows in self._masks):
            return False
        return all(rest in self._forbidden.get(worse, ()) for rest in self._forbidden.get(better, ()))


def _unsound(problem: Problem, rivals: Mapping[OptionAt, _Rival]) -> Iterator[OptionAt]:
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
