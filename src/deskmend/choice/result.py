"""Exact scoring of one assignment, and the check of a result against it.

Neither engine searches with this code: it re-computes everything from the problem itself, in Python's own
integers, so that it can contradict them.

What an engine answers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from deskmend.choice.problem import Item, Problem, Table

Status = Literal["optimal", "not_proven", "infeasible"]


class NothingFound(LookupError):
    """Asked for a figure of a result that holds no assignment."""


@dataclass(frozen=True)
class Figures:
    """The figures of one assignment.

    Parameters
    ----------
    value : int
        Sum of the tables [-].
    cost : int
        Cost of all items bought [minor units].
    minutes : int
        Work [min].
    fixes : int
        Options taken that count as fixes [-].
    packs : mapping of str to int
        Packs of each item bought; items not bought are left out [-].
    """

    value: int
    cost: int
    minutes: int
    fixes: int
    packs: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Choice:
    """The result of a search.

    Parameters
    ----------
    options : mapping of str to str
        {decision: option name}; empty when nothing was found.
    figures : Figures or None
        None when nothing was found.
    proven : bool
        Whether the answer is proven: best in all five levels of preference, or truly infeasible.
    bound : int or None
        Proven lower limit of what leads the order of preference: of the value, with ``first="cost"`` of
        the cost.  None: nothing known, or infeasible.
    status : {"optimal", "not_proven", "infeasible"}
        ``not_proven``: the best found within the effort allowed, if any.
    engine : str
        Which engine answered.
    """

    options: Mapping[str, str]
    figures: Figures | None
    proven: bool
    bound: int | None
    status: Status
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
        """Sum of the tables [-]; raises NothingFound when there is no assignment."""
        return self._figures().value

    @property
    def cost(self) -> int:
        """Cost of all items bought [minor units]; raises NothingFound when there is no assignment."""
        return self._figures().cost

    @property
    def minutes(self) -> int:
        """Work [min]; raises NothingFound when there is no assignment."""
        return self._figures().minutes

    @property
    def fixes(self) -> int:
        """Options taken that count as fixes [-]; raises NothingFound when there is no assignment."""
        return self._figures().fixes

    @property
    def packs(self) -> Mapping[str, int]:
        """Packs of each item bought [-]; raises NothingFound when there is no assignment."""
        return self._figures().packs


def choice_from(problem: Problem, scored: Scored, engine: str) -> Choice:
    """Turn an assignment proven best into a result.

    Parameters
    ----------
    problem : Problem
        Says what leads the order of preference.
    scored : Scored
        The assignment.
    engine : str
        Which engine proved it.

    Returns
    -------
    Choice
        Marked optimal.
    """
    return Choice(
        scored.options,
        figures_of(scored),
        proven=True,
        bound=scored.cost if problem.first == "cost" else scored.value,
        status="optimal",
        engine=engine,
    )


def figures_of(scored: Scored) -> Figures:
    """Take the figures of a scored assignment.

    Parameters
    ----------
    scored : Scored
        The assignment.

    Returns
    -------
    Figures
        The same numbers.
    """
    return Figures(scored.value, scored.cost, scored.minutes, scored.fixes, scored.packs)


class Disagreement(RuntimeError):
    """A result that does not hold when it is scored again: a defect, never a plan to show."""


@dataclass(frozen=True)
class Scored:
    """One assignment, scored.

    Parameters
    ----------
    options : mapping of str to str
        The option of each decision.
    value : int
        Sum of the tables [-].
    cost : int
        Cost of all items bought [minor units].
    minutes : int
        Work [min].
    fixes : int
        Options taken that count as fixes [-].
    packs : mapping of str to int
        Packs of each item bought; items not bought are left out [-].
    nodes : mapping of str to int
        State of each node [-].
    bounds : tuple of int
        Sum reached for each bound.
    violations : tuple of str
        Everything the assignment breaks; empty when it is allowed.
    """

    options: Mapping[str, str]
    value: int
    cost: int
    minutes: int
    fixes: int
    packs: Mapping[str, int]
    nodes: Mapping[str, int] = field(default_factory=dict)
    bounds: tuple[int, ...] = ()
    violations: tuple[str, ...] = ()


def packs_for(item: Item, use: int) -> tuple[int, int] | None:
    """Find the cheapest number of packs that covers a use.

    Parameters
    ----------
    item : Item
        What is used.
    use : int
        Units in all [-].

    Returns
    -------
    (int, int) or None
        Packs and their cost [minor units]; the fewest packs among the cheapest.  None: not to be had.
    """
    short = max(0, use - item.owned)
    if short == 0:
        return 0, 0
    if item.price is None:
        return None
    fewest = -(-short // item.pack)
    best: tuple[int, int] | None = None
    # within a tier the price is constant, so only the first pack count that suffices in each matters
    for packs in sorted({fewest, *(start for start, _ in item.tiers if start > fewest)}):
        if item.stock is not None and packs > item.stock:
            break
        price = item.price
        for start, reduced in item.tiers:
            if packs >= start:
                price = reduced
        if best is None or packs * price < best[1]:
            best = packs, packs * price
    return best


def evaluate(problem: Problem, options: Mapping[str, str]) -> Scored:
    """Score one assignment from the problem alone.

    Parameters
    ----------
    problem : Problem
        What it is scored against.
    options : mapping of str to str
        An option name for every decision.

    Returns
    -------
    Scored
        With everything it breaks in ``violations``; the cost leaves out items that are not to be had.

    Raises
    ------
    KeyError
        When a decision is missing or an option is unknown.
    """
    state: dict[str, int] = {}
    use: dict[str, int] = {}
    minutes = fixes = 0
    violations: list[str] = []
    names = {decision.name for decision in problem.decisions}
    strangers = sorted(set(options) - names)
    if strangers:
        raise KeyError(f"no decision is called {strangers[0]!r}")
    for decision in problem.decisions:
        position = problem.state_of(decision.name, options[decision.name])
        option = decision.options[position]
        state[decision.name] = position
        minutes += option.minutes
        fixes += option.is_fix if option.is_fix is not None else position > 0
        for item_name, units in option.use.items():
            use[item_name] = use.get(item_name, 0) + units
    nodes: dict[str, int] = {}
    for node in problem.nodes:
        nodes[node.name] = state[node.name] = int(node.index[tuple(state[name] for name in node.scope)])

    cost = 0
    packs: dict[str, int] = {}
    for item in problem.items:
        bought = packs_for(item, use.get(item.name, 0))
        if bought is None:
            violations.append(f"item {item.name!r}: {use[item.name]} units are not to be had")
        else:
            cost += bought[1]
            if bought[0]:
                packs[item.name] = bought[0]
    for entry in problem.forbidden:
        if all(state[name] == problem.state_of(name, wanted) for name, wanted in entry.items()):
            violations.append(f"forbidden together: {entry!r}")
    for mask in problem.masks:
        if not mask.allowed[tuple(state[name] for name in mask.scope)]:
            violations.append(f"forbidden by the mask over {mask.scope!r}")
    sums = []
    for number, bound in enumerate(problem.bounds):
        sums.append(sum(_worth(problem, table, state) for table in bound.tables))
        if sums[-1] > bound.at_most:
            violations.append(f"bound {number}: {sums[-1]} exceeds {bound.at_most}")
    if problem.money is not None and cost > problem.money:
        violations.append(f"cost {cost} exceeds {problem.money}")
    if problem.minutes is not None and minutes > problem.minutes:
        violations.append(f"minutes {minutes} exceed {problem.minutes}")
    return Scored(
        options={decision.name: options[decision.name] for decision in problem.decisions},
        value=sum(_worth(problem, table, state) for table in problem.tables),
        cost=cost,
        minutes=minutes,
        fixes=fixes,
        packs=packs,
        nodes=nodes,
        bounds=tuple(sums),
        violations=tuple(violations),
    )


def _worth(problem: Problem, table: Table, state: Mapping[str, int]) -> int:
    if table.when is not None:
        variable, wanted = table.when
        if state[variable] != problem.state_of(variable, wanted):
            return 0
    return int(table.values[tuple(state[name] for name in table.scope)])


def verify(problem: Problem, choice: Choice) -> Scored | None:
    """Score a result again and compare every figure.

    Parameters
    ----------
    problem : Problem
        What was solved.
    choice : Choice
        What an engine answered.

    Returns
    -------
    Scored or None
        The assignment scored; None when the result holds no assignment.

    Raises
    ------
    Disagreement
        When a figure differs, the assignment breaks a limit, or a proof contradicts its own bound.
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
    leading = scored.cost if problem.first == "cost" else scored.value
    if choice.bound is not None and choice.bound > leading:
        wrong.append(f"bound {choice.bound} lies above what is reached, {leading}")
    if choice.proven and choice.bound != leading:
        wrong.append(f"called proven, but the bound is {choice.bound} and {leading} is reached")
    if wrong:
        raise Disagreement(f"{choice.engine}: " + "; ".join(wrong))
    return scored
