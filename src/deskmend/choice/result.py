"""What an engine answers, how answers compare, and the exact scoring that can contradict an engine.

No engine searches with this code: it re-computes everything from the problem itself, in Python's own
integers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import groupby
from typing import Literal, Protocol, TypeVar

from deskmend.choice.problem import Item, Problem, Table
from deskmend.measures import Minor, Minutes

ProofStatus = Literal["optimal", "not_proven", "infeasible"]


class NothingFound(LookupError):
    """Asked for a figure of a result that holds no assignment."""


class Disagreement(RuntimeError):
    """A result that does not hold when it is scored again: a defect, never a plan to show."""


@dataclass(frozen=True)
class Figures:
    """The figures of one assignment; items not bought are left out of ``packs``."""

    value: int
    cost: Minor
    minutes: Minutes
    fixes: int
    packs: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Scored(Figures):
    """One assignment, scored: its options, states of nodes, sum of each bound, and everything it breaks."""

    options: Mapping[str, str] = field(default_factory=dict)
    nodes: Mapping[str, int] = field(default_factory=dict)
    bounds: tuple[int, ...] = ()
    violations: tuple[str, ...] = ()

    @property
    def figures(self) -> Figures:
        """Its figures alone, as a result carries them."""
        return Figures(self.value, self.cost, self.minutes, self.fixes, self.packs)


@dataclass(frozen=True)
class Choice:
    """The result of a search.

    - `options`: {decision: option name}; empty when nothing was found.
    - `figures`: none when nothing was found; then asking for a single figure raises NothingFound.
    - `proven`: whether the answer is proven: best in all five levels of preference, or truly infeasible.
    - `bound`: proven lower limit of what leads the order of preference: of the value, with ``first="cost"``
      of the cost.  None: nothing known, or infeasible.
    - `status`: ``not_proven``: the best found within the effort allowed, if any.
    - `engine`: which engine answered.
    """

    options: Mapping[str, str]
    figures: Figures | None
    proven: bool
    bound: int | None
    status: ProofStatus
    engine: str

    @property
    def found(self) -> bool:
        """Whether there is an assignment."""
        return self.figures is not None

    def _figures(self) -> Figures:
        if self.figures is None:
            raise NothingFound(f"no assignment was found: {self.status}")
        return self.figures

    @property
    def value(self) -> int:
        """Sum of the tables."""
        return self._figures().value

    @property
    def cost(self) -> Minor:
        """Cost of all items bought."""
        return self._figures().cost

    @property
    def minutes(self) -> Minutes:
        """Work."""
        return self._figures().minutes

    @property
    def fixes(self) -> int:
        """Options taken that count as fixes."""
        return self._figures().fixes

    @property
    def packs(self) -> Mapping[str, int]:
        """Packs of each item bought."""
        return self._figures().packs


def best_choice(problem: Problem, scored: Scored, engine: str) -> Choice:
    """Turn an assignment proven best into a result."""
    return Choice(scored.options, scored.figures, True, leading(problem, scored), "optimal", engine)


def no_choice(engine: str) -> Choice:
    """Give the result where nothing is allowed, or nothing that is wanted."""
    return Choice({}, None, True, None, "infeasible", engine)


def leading(problem: Problem, answer: Choice | Figures) -> int:
    """Give the figure that comes first in the order of preference."""
    return answer.cost if problem.first == "cost" else answer.value


def preference(problem: Problem, answer: Choice | Scored) -> tuple[int, ...]:
    """Rank an assignment in the order of preference; the least is best."""
    positions = (problem.state_of(d.name, answer.options[d.name]) for d in problem.decisions)
    figures: tuple[int, ...] = answer.value, answer.cost, answer.minutes
    if problem.first == "cost":
        figures = answer.cost, answer.minutes, answer.value
    return (*figures, answer.fixes, *positions)


def best_of(problem: Problem, choices: Sequence[Choice]) -> Choice:
    """Take the best of the answers to all parts of a problem; no part means that nothing is allowed.

    It is proven only where every part is.
    """
    proven = all(choice.proven for choice in choices)
    bounds = [choice.bound for choice in choices if choice.status != "infeasible"]
    bound = min((b for b in bounds if b is not None), default=None) if None not in bounds else None
    found = [choice for choice in choices if choice.found]
    if not found:
        engine = next((choice.engine for choice in choices), "reduction")
        return Choice({}, None, proven, bound, "infeasible" if proven else "not_proven", engine)
    best = min(found, key=partial(preference, problem))
    return replace(best, proven=proven, bound=bound, status="optimal" if proven else "not_proven")


class OfCostAndValue(Protocol):
    """Anything with a cost and a value."""

    @property
    def cost(self) -> int:
        """Less is better."""

    @property
    def value(self) -> int:
        """Less is better."""


AnyPoint = TypeVar("AnyPoint", bound=OfCostAndValue)


def lower_edge(points: Iterable[AnyPoint]) -> list[AnyPoint]:
    """Keep the points that none is below, by rising cost; of equal ones all."""
    edge: list[AnyPoint] = []
    for point in sorted(points, key=_cost_and_value):
        if not edge or point.value < edge[-1].value or _cost_and_value(point) == _cost_and_value(edge[-1]):
            edge.append(point)
    return edge


def _cost_and_value(point: OfCostAndValue) -> tuple[int, int]:
    return point.cost, point.value


def non_dominated(problem: Problem, choices: Iterable[Choice]) -> list[Choice]:
    """Frontier of a problem from that of its parts: cost rising, value falling, each the best at its cost."""
    edge = groupby(lower_edge(choices), key=_cost_and_value)
    return [min(equal, key=partial(preference, problem)) for _, equal in edge]


def unit_price(price: Minor, tiers: Iterable[tuple[int, Minor]], packs: int) -> Minor:
    """Price of each of so many packs: that of the highest tier they reach; tiers rise in packs."""
    for start, reduced in tiers:
        if packs >= start:
            price = reduced
    return price


def packs_for(item: Item, use: int) -> tuple[int, Minor] | None:
    """Find the fewest among the cheapest packs that cover a use, and what they cost; None: not to be had."""
    short = max(0, use - item.owned)
    if short == 0:
        return 0, 0
    if item.price is None:
        return None
    fewest = -(-short // item.pack)
    # Within a tier the price is constant, so only the first pack count that suffices in each matters.
    counts = {fewest, *(start for start, _ in item.tiers if start > fewest)}
    offers = [
        (packs * unit_price(item.price, item.tiers, packs), packs)
        for packs in counts
        if item.stock is None or packs <= item.stock
    ]
    cost, packs = min(offers, default=(0, 0))
    return (packs, cost) if packs else None


def evaluate(problem: Problem, options: Mapping[str, str]) -> Scored:
    """Score one assignment, an option name for every decision, from the problem alone.

    What it breaks stands in ``violations``; the cost leaves out items that are not to be had.  KeyError when
    a decision is missing or an option is unknown.
    """
    strangers = sorted(set(options) - {decision.name for decision in problem.decisions})
    if strangers:
        raise KeyError(f"no decision is called {strangers[0]!r}")
    state: dict[str, int] = {}
    use: dict[str, int] = {}
    minutes = fixes = 0
    for decision in problem.decisions:
        position = problem.state_of(decision.name, options[decision.name])
        option = decision.options[position]
        state[decision.name] = position
        minutes += option.minutes
        fixes += decision.is_fix(position)
        for name, units in option.use.items():
            use[name] = use.get(name, 0) + units
    nodes: dict[str, int] = {}
    at = state.__getitem__
    for node in problem.nodes:
        nodes[node.name] = state[node.name] = node.index.item(*map(at, node.scope))

    cost, packs, violations = _bought(problem, use)
    for entry, states in zip(problem.forbidden, problem.forbidden_states, strict=True):
        if all(state[name] == wanted for name, wanted in states):
            violations.append(f"forbidden together: {entry!r}")
    for mask in problem.masks:
        if not mask.allowed.item(*map(at, mask.scope)):
            violations.append(f"forbidden by the mask over {mask.scope!r}")
    sums = [sum(_worth(problem, table, state) for table in bound.tables) for bound in problem.bounds]
    for number, (bound, reached) in enumerate(zip(problem.bounds, sums, strict=True)):
        if reached > bound.at_most:
            violations.append(f"bound {number}: {reached} exceeds {bound.at_most}")
    if problem.money is not None and cost > problem.money:
        violations.append(f"cost {cost} exceeds {problem.money}")
    if problem.minutes is not None and minutes > problem.minutes:
        violations.append(f"minutes {minutes} exceed {problem.minutes}")
    value = sum(_worth(problem, table, state) for table in problem.tables)
    taken = {decision.name: options[decision.name] for decision in problem.decisions}
    return Scored(value, cost, minutes, fixes, packs, taken, nodes, tuple(sums), tuple(violations))


def _bought(problem: Problem, use: Mapping[str, int]) -> tuple[Minor, dict[str, int], list[str]]:
    """What is bought to cover a use: what it costs, packs of each item, and what is not to be had."""
    violations: list[str] = []
    cost = 0
    packs: dict[str, int] = {}
    for item in problem.items:
        if not use.get(item.name):
            continue
        bought = packs_for(item, use[item.name])
        if bought is None:
            violations.append(f"item {item.name!r}: {use[item.name]} units are not to be had")
        elif bought[0]:
            packs[item.name] = bought[0]
            cost += bought[1]
    return cost, packs, violations


def priced_by(problem: Problem, choice: Choice) -> Choice:
    """A choice with what it buys at the prices of a problem of the same decisions; all else as it stands."""
    use: Counter[str] = Counter()
    for decision in problem.decisions:
        use.update(decision.options[problem.state_of(decision.name, choice.options[decision.name])].use)
    cost, packs, _ = _bought(problem, use)
    figures = Figures(choice.value, cost, choice.minutes, choice.fixes, packs)
    return replace(choice, figures=figures, bound=choice.value)


def _worth(problem: Problem, table: Table, state: Mapping[str, int]) -> int:
    if table.when is not None:
        variable, wanted = table.when
        if state[variable] != problem.state_of(variable, wanted):
            return 0
    worth: int = table.values.item(*map(state.__getitem__, table.scope))
    return worth


def verify(problem: Problem, choice: Choice) -> Scored | None:
    """Score a result again; None when it holds no assignment.

    Disagreement when a figure differs, the assignment breaks a limit, or a proof contradicts its own bound.
    """
    if not choice.found:
        return None
    scored = evaluate(problem, choice.options)
    wrong = list(scored.violations)
    wrong.extend(
        f"{name} is {getattr(choice, name)}, scored again {getattr(scored, name)}"
        for name in ("value", "cost", "minutes", "fixes", "packs")
        if getattr(choice, name) != getattr(scored, name)
    )
    reached = leading(problem, scored)
    if choice.bound is not None and choice.bound > reached:
        wrong.append(f"bound {choice.bound} lies above what is reached, {reached}")
    if choice.proven and choice.bound != reached:
        wrong.append(f"called proven, but the bound is {choice.bound} and {reached} is reached")
    if wrong:
        raise Disagreement(f"{choice.engine}: " + "; ".join(wrong))
    return scored
