"""Solving a problem: in which parts, by which engine, and the check of what it answers.

A problem is solved once for each combination of its gates.  The stock of owned pieces is left aside at first:
pieces that cannot be bought (a book of one thickness, say) couple every decision that may use them, and that
is seldom decisive.  What is best without a limit and keeps the limit is best with it; only an assignment that
overdraws the stock parts the problem.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import reduce
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from deskmend.choice.gates import Incumbent, cases_of
from deskmend.choice.network import Network, affordable, build, settled
from deskmend.choice.problem import BoolArray, Decision, Item, Mask, Problem, most_used
from deskmend.choice.result import Choice, best_of, leading, rungs_of, verify
from deskmend.choice.variants import without_variants

if TYPE_CHECKING:
    from deskmend.choice.elimination.hull import FrontierCase, FrontierPoint

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
    SpanTooLarge
        With ``program`` only: values or costs span too much for it.
    Disagreement
        When an engine's answer does not hold when scored again.

    Examples
    --------
    The least value wins, here time on the way; a taxi is fastest, but there is money for the bus alone:

    >>> from deskmend.choice import Decision, Item, Option, Problem, Table, solve
    >>> bus, taxi = Option("bus", {"ticket": 1}), Option("taxi", {"ride": 1})
    >>> way = Decision("way", [Option("walk"), bus, taxi])
    >>> items = [Item("ticket", price=250), Item("ride", price=1900)]
    >>> choice = solve(Problem([way], items, [Table(("way",), [50, 20, 9])], money=500))
    >>> choice.options, choice.value, choice.cost, choice.proven
    ({'way': 'bus'}, 20, 250, True)
    """
    if engine not in get_args(Engine):
        raise ValueError(f"engine must be 'auto', 'program' or 'elimination', not {engine!r}")
    if seconds is not None and not seconds >= 0:
        raise ValueError(f"seconds must not be negative, but is {seconds!r}")
    if engine != "program" if gate_by_gate is None else gate_by_gate:
        choice = _best_part(problem, engine, seconds)
    else:
        choice, _ = _solved(problem, engine, seconds)
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

    Examples
    --------
    >>> from deskmend.choice import Decision, Item, Option, Problem, Table, frontier
    >>> bus, taxi = Option("bus", {"ticket": 1}), Option("taxi", {"ride": 1})
    >>> way = Decision("way", [Option("walk"), bus, taxi])
    >>> items = [Item("ticket", price=250), Item("ride", price=1900)]
    >>> problem = Problem([way], items, [Table(("way",), [50, 20, 9])])
    >>> [(rung.cost, rung.value, rung.options["way"]) for rung in frontier(problem)]
    [(0, 50, 'walk'), (250, 20, 'bus'), (1900, 9, 'taxi')]
    """
    from deskmend.choice.elimination.labels import TooWide

    if problem.first != "value":
        problem = replace(problem, first="value")
    try:
        rungs = _rung_by_rung(problem, seconds) if problem.bounds else _along_the_hull(problem)
    except TooWide:
        rungs = _rung_by_rung(problem, seconds)
    for rung in rungs:
        verify(problem, rung)
    return rungs


def _best_part(problem: Problem, engine: Engine, seconds: float | None) -> Choice:
    """Solve part by part; one that cannot beat those before it is not searched further."""
    choices: list[Choice] = []
    incumbent = Incumbent()
    problem = without_variants(problem)
    for case in cases_of(affordable(problem)):
        todo = [case if engine == "program" else without_stock(case)]
        while todo:
            relaxed = todo.pop()
            choice, cells = _solved(relaxed, engine, seconds, incumbent)
            parts = split(case, relaxed, choice) if choice.found else []
            if parts and cells:
                strict = _within_stock(replace(relaxed, items=case.items), WIDER * cells, incumbent)
                choice, parts = (choice, parts) if strict is None else (strict, [])
            todo += reversed(parts)
            if not parts:
                choices.append(choice)
                if choice.found:
                    incumbent.note(leading(problem, choice))
    return best_of(problem, choices)


def _within_stock(problem: Problem, most_cells: float, incumbent: Incumbent) -> Choice | None:
    """Solve a part with its stock by elimination, where that takes no more than some cells; else None."""
    from deskmend.choice.elimination.labels import TooWide
    from deskmend.choice.elimination.search import CaseSearch

    network = build(problem)
    choice = settled(problem, network)
    if choice is not None:
        return choice
    try:
        return CaseSearch(problem, network, min(AUTO_CELLS, most_cells), AUTO_PAIRS).solve(incumbent)
    except TooWide:
        return None


def _solved(
    problem: Problem, engine: Engine, seconds: float | None, incumbent: Incumbent | None = None
) -> tuple[Choice, float]:
    """Best choice of a part, and the cells of its passes; 0 where it was not searched by elimination."""
    network = build(problem)
    choice = settled(problem, network)
    if choice is not None:
        return choice, 0.0
    if engine != "program":
        from deskmend.choice.elimination.labels import TooWide
        from deskmend.choice.elimination.search import MOST_PAIRS, MOST_PASS_CELLS, CaseSearch

        most = (AUTO_CELLS, AUTO_PAIRS) if engine == "auto" else (MOST_PASS_CELLS, MOST_PAIRS)
        try:
            search = CaseSearch(problem, network, *most)
            return search.solve(incumbent), search.tree.cells
        except TooWide:
            if engine != "auto":
                raise
    from deskmend.choice.program.levels import solve_program

    return solve_program(problem, network, seconds), 0.0


def _rung_by_rung(problem: Problem, seconds: float | None) -> list[Choice]:
    """Find the frontier from the highest cost down, one search a rung."""
    rungs: list[Choice] = []
    money = problem.money
    while money is None or money >= 0:
        choice = solve(replace(problem, money=money), "auto", seconds)
        if not choice.found:
            break
        rungs.append(choice)
        if not choice.proven:
            break
        money = choice.cost - 1
    rungs.reverse()
    return rungs


def _along_the_hull(problem: Problem) -> list[Choice]:
    """Frontier within money and minutes, the stock of owned pieces left aside until a rung breaks it."""
    from deskmend.choice.elimination.hull import Hull

    problem = without_variants(problem)
    todo = [(case, without_stock(case)) for case in cases_of(affordable(problem))]
    searched: dict[FrontierCase, tuple[Problem, Problem]] = {}
    answered: list[Choice] = []
    while True:
        while todo:
            whole, relaxed = todo.pop()
            network = build(relaxed)
            only = settled(relaxed, network)
            if only is None:
                searched[_frontier_case(relaxed, network)] = whole, relaxed
            elif only.found:
                parts = split(whole, relaxed, only)
                todo += [(whole, part) for part in parts]
                answered += [] if parts else [only]
        hull = Hull(list(searched), problem.money)
        # What lies between the corners is not worth finding while one of them breaks the stock.
        if _mended(hull.corners(), searched, todo):
            continue
        points = hull.frontier()
        if not _mended(points, searched, todo):
            return rungs_of(problem, [*(point.choice() for point in points), *answered])


def _mended(
    points: Sequence[FrontierPoint],
    searched: dict[FrontierCase, tuple[Problem, Problem]],
    todo: list[tuple[Problem, Problem]],
) -> bool:
    """Put in place of each case whose point uses more than is owned one with its stock, or its parts to do.

    Whether there was any.
    """
    mended = False
    for point in points:
        if point.case not in searched:
            continue
        whole, relaxed = searched[point.case]
        parts = split(whole, relaxed, point.choice())
        if parts:
            mended = True
            del searched[point.case]
            strict = replace(relaxed, items=whole.items)
            case = _narrow_case(strict, WIDER * point.case.search.tree.cells)
            if case is None:
                todo += [(whole, part) for part in parts]
            else:
                searched[case] = whole, strict
    return mended


def _frontier_case(problem: Problem, network: Network, most_cells: float | None = None) -> FrontierCase:
    """Make one case of a frontier ready; TooWide where it takes more than some cells."""
    from deskmend.choice.elimination.hull import FrontierCase
    from deskmend.choice.elimination.search import MOST_PASS_CELLS, CaseSearch

    most_cells = MOST_PASS_CELLS if most_cells is None else min(MOST_PASS_CELLS, most_cells)
    return FrontierCase(CaseSearch(problem, network, most_cells, FRONTIER_PAIRS), problem.minutes)


def _narrow_case(problem: Problem, most_cells: float) -> FrontierCase | None:
    """Make the same ready where something is left to choose and it takes no more than some cells."""
    from deskmend.choice.elimination.labels import TooWide

    network = build(problem)
    if settled(problem, network) is not None:
        return None
    try:
        return _frontier_case(problem, network, most_cells)
    except TooWide:
        return None


# --- the stock of owned pieces ------------------------------------------------------------------------


def without_stock(problem: Problem) -> Problem:
    """Let there be any number of items that cannot be bought and that several decisions may use."""
    most = most_used(problem)
    users = Counter(name for decision in problem.decisions for name in _used(decision))
    options = [option for decision in problem.decisions for option in decision.options]
    items = []
    for item in problem.items:
        if item.price is None and users[item.name] > 1:
            # No option may take more alone than there is, whatever the others take.
            if not any(option.use.get(item.name, 0) > item.owned for option in options):
                item = Item(item.name, None, item.pack, max(item.owned, most[item.name]))
        items.append(item)
    return replace(problem, items=items)


def split(problem: Problem, relaxed: Problem, choice: Choice) -> list[Problem]:
    """Part a relaxed problem where its best assignment uses more pieces than are owned.

    Together the parts allow what `relaxed` does but for this overdraft and others of the same decisions.
    Empty where the assignment keeps to what is owned.
    """
    guilty = _overdrawing(problem, choice)
    if not guilty:
        return []
    joint = _within_owned(problem, guilty)
    if len(guilty) > 2:
        return [_with_masks(relaxed, joint)]
    # Either the other takes none of what both want, or it does and the one takes none, or both take some.
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
        # Few pieces go round twice, so what is left of both is small.
        alone = [
            Mask((decision.name,), np.array([row.any() for row in rows]))
            for decision, rows in ((one, together), (other, together.T))
        ]
        parts.append(_with_masks(relaxed, *alone, Mask(joint.scope, together)))
    return parts


def _overdrawing(problem: Problem, choice: Choice) -> list[Decision]:
    """As few decisions as overdraw some item together, by name; empty where none do."""
    taken = [
        decision.options[problem.state_of(decision.name, choice.options[decision.name])].use
        for decision in problem.decisions
    ]
    for item in problem.items:
        if item.price is not None:
            continue
        uses = [(use.get(item.name, 0), d) for use, d in zip(taken, problem.decisions, strict=True)]
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


def _within_owned(problem: Problem, guilty: list[Decision]) -> Mask:
    """Combinations of some decisions that together keep to what is owned."""
    allowed = np.ones([len(decision.options) for decision in guilty], dtype=np.bool_)
    for item in problem.items:
        if item.price is None:
            uses = [np.array([o.use.get(item.name, 0) for o in decision.options]) for decision in guilty]
            allowed &= np.asarray(reduce(np.add.outer, uses) <= item.owned)
    return Mask(tuple(decision.name for decision in guilty), allowed)
