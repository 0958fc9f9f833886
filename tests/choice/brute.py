"""Brute force over every assignment: the oracle of small problems, sharing no code with the engines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from deskmend.choice import Choice, Item, Problem, Table


@dataclass(frozen=True)
class Point:
    """One allowed assignment."""

    positions: tuple[int, ...]
    value: int
    cost: int
    minutes: int
    fixes: int

    def key(self, first: str) -> tuple[object, ...]:
        if first == "cost":
            return (self.cost, self.minutes, self.value, self.fixes, self.positions)
        return (self.value, self.cost, self.minutes, self.fixes, self.positions)


def point_of(problem: Problem, choice: Choice) -> Point:
    """The point that an answer stands for."""
    positions = tuple(problem.state_of(d.name, choice.options[d.name]) for d in problem.decisions)
    return Point(positions, choice.value, choice.cost, choice.minutes, choice.fixes)


def price(item: Item, use: int) -> int | None:
    """Try every pack count up to where buying more cannot help."""
    short = use - item.owned
    if short <= 0:
        return 0
    if item.price is None:
        return None
    last = max([-(-short // item.pack), *(start for start, _ in item.tiers)])
    if item.stock is not None:
        last = min(last, item.stock)
    costs = []
    for packs in range(last + 1):
        if packs * item.pack >= short:
            each = item.price
            for start, reduced in sorted(item.tiers):
                if packs >= start:
                    each = reduced
            costs.append(packs * each)
    return min(costs, default=None)


def points(problem: Problem) -> Iterator[Point]:
    """Yield every allowed assignment."""
    for positions in product(*(range(len(d.options)) for d in problem.decisions)):
        point = score(problem, positions)
        if point is not None:
            yield point


def score(problem: Problem, positions: tuple[int, ...]) -> Point | None:
    """Score one assignment; None when it is not allowed."""
    state: dict[str, int] = {d.name: p for d, p in zip(problem.decisions, positions, strict=True)}
    taken = [d.options[p] for d, p in zip(problem.decisions, positions, strict=True)]
    for node in problem.nodes:
        state[node.name] = int(node.index[tuple(state[v] for v in node.scope)])
    options = {d.name: [o.name for o in d.options] for d in problem.decisions}

    def at(variable: str, wanted: str | int) -> bool:
        here = options[variable].index(wanted) if variable in options else wanted
        return state[variable] == here

    def total(tables: tuple[Table, ...]) -> int:
        return sum(
            int(t.values[tuple(state[v] for v in t.scope)]) for t in tables if t.when is None or at(*t.when)
        )

    if any(all(at(v, s) for v, s in entry.items()) for entry in problem.forbidden):
        return None
    if not all(mask.allowed[tuple(state[v] for v in mask.scope)] for mask in problem.masks):
        return None
    if any(total(bound.tables) > bound.at_most for bound in problem.bounds):
        return None
    cost = 0
    for item in problem.items:
        paid = price(item, sum(option.use.get(item.name, 0) for option in taken))
        if paid is None:
            return None
        cost += paid
    minutes = sum(option.minutes for option in taken)
    if problem.money is not None and cost > problem.money:
        return None
    if problem.minutes is not None and minutes > problem.minutes:
        return None
    fixes = sum(
        (p > 0) if option.is_fix is None else option.is_fix
        for option, p in zip(taken, positions, strict=True)
    )
    return Point(positions, total(problem.tables), cost, minutes, fixes)


def best(problem: Problem) -> Point | None:
    """The best assignment by the order of preference."""
    return min(points(problem), key=lambda point: point.key(problem.first), default=None)


def ladder(problem: Problem) -> list[Point]:
    """Every cost at which the best value changes, with the best assignment there."""
    found: list[Point] = []
    for point in sorted(points(problem), key=lambda point: (point.cost, *point.key("value"))):
        if not found or point.value < found[-1].value:
            found.append(point)
    return found
