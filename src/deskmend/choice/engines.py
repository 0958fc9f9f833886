"""Solving a problem: which engine, and the check of what it answers.

Leaving the stock of owned pieces aside, and finding where an assignment overdraws it.

Pieces that cannot be bought (a book of one thickness, say) couple every decision that may use them. That is
seldom decisive: usually the best assignment without the limit keeps it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import reduce
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from deskmend.choice.cases import Bar, best_of, cases_of, lower_edge
from deskmend.choice.network import Network, affordable, build
from deskmend.choice.problem import BoolArray, Decision, Item, Mask, Problem
from deskmend.choice.result import Choice, choice_from, evaluate, verify

if TYPE_CHECKING:
    from deskmend.choice.elimination.hull import Case


def most_used(problem: Problem) -> Counter[str]:
    """Add up the most of each item that the decisions could use together.

    Parameters
    ----------
    problem : Problem
        Any problem; its rules are not looked at.

    Returns
    -------
    Counter
        Units by item; items that nothing uses are left out.
    """
    most: Counter[str] = Counter()
    for decision in problem.decisions:
        largest: Counter[str] = Counter()
        for option in decision.options:
            largest |= Counter(option.use)
        most += largest
    return most


def without_stock(problem: Problem) -> Problem:
    """Give a problem without the limits of items that cannot be bought and several decisions may use.

    Parameters
    ----------
    problem : Problem
        Any problem.

    Returns
    -------
    Problem
        Such items are owned in any number; everything else is as it was.
    """
    most = most_used(problem)
    users = Counter(name for decision in problem.decisions for name in _used(decision))
    items = []
    for item in problem.items:
        if item.price is None and users[item.name] > 1:
            # no option may take more alone than there is, whatever the others take
            if not any(o.use.get(item.name, 0) > item.owned for d in problem.decisions for o in d.options):
                item = Item(item.name, None, item.pack, max(item.owned, most[item.name]))
        items.append(item)
    return replace(problem, items=items)


def split(problem: Problem, relaxed: Problem, choice: Choice) -> list[Problem]:
    """Part a relaxed problem where its best assignment uses more pieces than are owned.

    Parameters
    ----------
    problem : Problem
        With all its limits.
    relaxed : Problem
        The same with some of them left aside.
    choice : Choice
        An assignment of it.

    Returns
    -------
    list of Problem
        Together they allow what `relaxed` does but for this overdraft and others of the same decisions.
        Empty where the assignment keeps to what is owned.
    """
    guilty = _overdrawing(problem, choice)
    if not guilty:
        return []
    joint = _mask(problem, guilty)
    if len(guilty) > 2:
        return [_with_masks(relaxed, joint)]
    one, other = guilty
    contested = {item.name for item in problem.items if item.price is None}
    contested &= _used(one) & _used(other)
    takes_one, takes_other = _takers(one, contested), _takers(other, contested)
    parts = [
        _with_masks(relaxed, Mask((other.name,), np.logical_not(takes_other))),
        _with_masks(relaxed, Mask((other.name,), takes_other), Mask((one.name,), np.logical_not(takes_one))),
    ]
    together = joint.allowed & np.outer(takes_one, takes_other)
    if together.any():
        # few pieces go round twice, so what is left of both is small
        alone = [
            Mask((decision.name,), np.array([row.any() for row in rows]))
            for decision, rows in ((one, together), (other, together.T))
        ]
        parts.append(_with_masks(relaxed, *alone, Mask(joint.scope, together)))
    return parts


def _overdrawing(problem: Problem, choice: Choice) -> list[Decision]:
    """As few decisions as overdraw some item together, by name; empty where none do."""
    for item in problem.items:
        if item.price is not None:
            continue
        uses = [(_taken(decision, choice).get(item.name, 0), decision) for decision in problem.decisions]
        uses.sort(key=lambda entry: (-entry[0], entry[1].name))
        total, count = 0, 0
        while total <= item.owned and count < len(uses):
            total += uses[count][0]
            count += 1
        if total > item.owned:
            return sorted((decision for _, decision in uses[:count]), key=lambda decision: decision.name)
    return []


def _with_masks(problem: Problem, *masks: Mask) -> Problem:
    return replace(problem, masks=(*problem.masks, *masks))


def _used(decision: Decision) -> set[str]:
    return {name for option in decision.options for name, units in option.use.items() if units}


def _takers(decision: Decision, items: set[str]) -> BoolArray:
    """Options of a decision that take any of some items."""
    return np.array([any(option.use.get(name, 0) for name in items) for option in decision.options])


def _taken(decision: Decision, choice: Choice) -> dict[str, int]:
    name = choice.options[decision.name]
    return dict(next(option.use for option in decision.options if option.name == name))


def _mask(problem: Problem, guilty: list[Decision]) -> Mask:
    """Combinations of some decisions that together keep to what is owned."""
    allowed = np.ones([len(decision.options) for decision in guilty], dtype=np.bool_)
    for item in problem.items:
        if item.price is None:
            uses = [np.array([o.use.get(item.name, 0) for o in decision.options]) for decision in guilty]
            allowed &= np.asarray(reduce(np.add.outer, uses) <= item.owned)
    return Mask(tuple(decision.name for decision in guilty), allowed)


Engine = Literal["auto", "program", "elimination"]

AUTO_CELLS = 6e7
"""Up to this many cells a problem goes to elimination; larger ones to the integer program."""

AUTO_PAIRS = 3e8
"""Pairs of labels elimination may join before a problem goes to the integer program after all."""

FRONTIER_PAIRS = 5e8
"""The same for a whole frontier, which replaces dozens of integer programs."""

WIDER = 3.0
"""A case of which a frontier breaks the stock of owned pieces is searched anew as a whole, if that takes at
most so many times the cells: in parts, it would be about three searches."""


def solve(
    problem: Problem,
    engine: Engine = "auto",
    seconds: float | None = None,
    gate_by_gate: bool | None = None,
) -> Choice:
    """Find the best assignment of a problem.

    Parameters
    ----------
    problem : Problem
        What to choose from.
    engine : {"auto", "program", "elimination"}
        ``program``: integer program; ``elimination``: variable elimination; ``auto``: chosen by the size
        of the tables, never by the clock.
    seconds : float or None
        Time the integer program may take [s]; None: no limit.  Elimination counts operations instead.
    gate_by_gate : bool or None
        Whether to solve once for each combination of the gates.  None: all but ``program`` do, which by
        itself takes the problem whole, so that the engines have as little in common as can be; large
        problems with gates are too much for it so.

    Returns
    -------
    Choice
        Scored again from the problem before it is returned.  When no assignment is allowed, its status is
        ``infeasible`` and its options are empty.

    Raises
    ------
    ValueError
        When there is no such engine, or seconds is negative.
    TooWide
        With ``elimination`` only: the tables are too entangled for it.
    OutOfRange
        With ``program`` only: values or costs span too much for it.
    Disagreement
        When an engine's answer does not hold when scored again.
    """
    if engine not in get_args(Engine):
        raise ValueError(f"engine must be 'auto', 'program' or 'elimination', not {engine!r}")
    if seconds is not None and not seconds >= 0:
        raise ValueError(f"seconds must not be negative, but is {seconds!r}")
    if engine != "program" if gate_by_gate is None else gate_by_gate:
        choice = _best_case(problem, engine, seconds)
    else:
        choice = _solved(problem, engine, seconds)
    verify(problem, choice)
    return choice


def frontier(problem: Problem, seconds: float | None = None) -> list[Choice]:
    """Find every cost at which the best value changes.

    Parameters
    ----------
    problem : Problem
        What to choose from; its money, if any, is the highest cost considered.  Value comes first in the
        order of preference, whatever the problem says.
    seconds : float or None
        Time each integer program may take [s], where elimination does not suffice.

    Returns
    -------
    list of Choice
        Cost strictly rising, value strictly falling, each the best by the order of preference at its cost;
        empty when nothing is allowed.  A result not proven ends the list downwards: below it, nothing was
        searched.

    Raises
    ------
    Disagreement
        When an engine's answer does not hold when scored again.
    """
    from deskmend.choice.elimination.labels import TooWide

    if problem.first != "value":
        problem = _replaced(problem, first="value")
    try:
        rungs = _step_by_step(problem, seconds) if problem.bounds else _by_facets(problem)
    except TooWide:
        rungs = _step_by_step(problem, seconds)
    for rung in rungs:
        verify(problem, rung)
    return rungs


def _by_facets(problem: Problem) -> list[Choice]:
    """Frontier within money and minutes, the stock of owned pieces left aside until a rung breaks it.

    What is best without a limit and keeps the limit is best with it.
    """
    from deskmend.choice.elimination.hull import Facets

    todo = [(case, without_stock(case)) for case in cases_of(affordable(problem))]
    searched: dict[Case, tuple[Problem, Problem]] = {}
    settled: list[Choice] = []
    while True:
        while todo:
            whole, relaxed = todo.pop()
            network = build(relaxed)
            only = _without_search(relaxed, network)
            if only is None:
                searched[_case(relaxed, network)] = whole, relaxed
            elif only.found:
                parts = split(whole, relaxed, only)
                todo += [(whole, part) for part in parts]
                settled += [] if parts else [only]
        rungs = []
        broken = False
        for point in Facets(list(searched), problem.money).frontier():
            rung = point.choice()
            rungs.append(rung)
            if point.case in searched:
                whole, relaxed = searched[point.case]
                parts = split(whole, relaxed, rung)
                if parts:
                    broken = True
                    del searched[point.case]
                    strict = _replaced(relaxed, items=whole.items)
                    case = _narrow_case(strict, WIDER * point.case.search.tree.cells)
                    if case is None:
                        todo += [(whole, part) for part in parts]
                    else:
                        searched[case] = whole, strict
        if not broken:
            return lower_edge(problem, [*rungs, *settled])


def _case(problem: Problem, network: Network, most_cells: float | None = None) -> Case:
    """Make one case of a frontier ready."""
    from deskmend.choice.elimination.hull import Case
    from deskmend.choice.elimination.search import MOST_CELLS, Elimination, WeightedSearch

    search = Elimination(
        problem,
        network,
        most_cells=MOST_CELLS if most_cells is None else min(MOST_CELLS, most_cells),
        most_pairs=FRONTIER_PAIRS,
    )
    return Case(WeightedSearch(search, problem), problem.minutes)


def _narrow_case(problem: Problem, most_cells: float) -> Case | None:
    """Make the same ready where it takes no more than some cells."""
    from deskmend.choice.elimination.labels import TooWide

    network = build(problem)
    if _without_search(problem, network) is not None:
        return None
    try:
        return _case(problem, network, most_cells)
    except TooWide:
        return None


def _best_case(problem: Problem, engine: Engine, seconds: float | None) -> Choice:
    """Solve case by case over the gates; a case that cannot beat those before it is not searched further."""
    choices: list[Choice] = []
    bar = Bar()
    for case in cases_of(affordable(problem)):
        choice = _within_stock(case, engine, seconds, bar)
        choices.append(choice)
        if choice.found:
            bar.lower(choice.cost if problem.first == "cost" else choice.value)
    return best_of(problem, choices)


def _within_stock(problem: Problem, engine: Engine, seconds: float | None, bar: Bar | None = None) -> Choice:
    """Solve with the stock of owned pieces left aside until a best assignment breaks it.

    What is best without a limit and keeps the limit is best with it.
    """
    if engine == "program":
        return _solved(problem, engine, seconds)
    found: list[Choice] = []
    todo = [without_stock(problem)]
    while todo:
        relaxed = todo.pop()
        choice = _solved(relaxed, engine, seconds, bar)
        parts = split(problem, relaxed, choice) if choice.found else []
        todo += reversed(parts)
        if not parts:
            found.append(choice)
            if bar is not None and choice.found:
                bar.lower(choice.cost if problem.first == "cost" else choice.value)
    return best_of(problem, found)


def _solved(problem: Problem, engine: Engine, seconds: float | None, bar: Bar | None = None) -> Choice:
    network = build(problem)
    choice = _without_search(problem, network)
    return _searched(problem, network, engine, seconds, bar) if choice is None else choice


def _without_search(problem: Problem, network: Network) -> Choice | None:
    """Answer where reduction leaves no choice."""
    if network.impossible:
        return Choice({}, None, True, None, "infeasible", "reduction")
    if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
        return None
    scored = evaluate(problem, network.names_of([0] * network.decisions))
    if scored.violations:
        return Choice({}, None, True, None, "infeasible", "reduction")
    return choice_from(problem, scored, "reduction")


def _searched(
    problem: Problem, network: Network, engine: Engine, seconds: float | None, bar: Bar | None
) -> Choice:
    if engine != "program":
        from deskmend.choice.elimination.labels import TooWide
        from deskmend.choice.elimination.search import MOST_CELLS, MOST_PAIRS, Elimination

        automatic = engine == "auto"
        try:
            return Elimination(
                problem,
                network,
                by_cost=problem.first == "cost",
                most_cells=AUTO_CELLS if automatic else MOST_CELLS,
                most_pairs=AUTO_PAIRS if automatic else MOST_PAIRS,
                bar=bar,
            ).solve()
        except TooWide:
            if not automatic:
                raise
    from deskmend.choice.program.levels import solve_program

    return solve_program(problem, network, seconds)


def _step_by_step(problem: Problem, seconds: float | None) -> list[Choice]:
    """Find the frontier from the highest cost down, one search a rung."""
    rungs: list[Choice] = []
    money = problem.money
    while money is None or money >= 0:
        limited = _replaced(problem, money=money)
        choice = solve(limited, "auto", seconds)
        if not choice.found:
            break
        rungs.append(choice)
        if not choice.proven:
            break
        money = choice.cost - 1
    rungs.reverse()
    return rungs


def _replaced(problem: Problem, **changes: object) -> Problem:
    """Copy a problem with some fields changed."""
    from dataclasses import replace

    return replace(problem, **changes)  # type: ignore[arg-type]
