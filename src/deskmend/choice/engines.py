"""Solving a problem: in which parts, by which engine, and the check of what it answers.

A problem is solved once for each combination of its gates.  The stock of owned pieces is left aside at first:
pieces that cannot be bought (a book of one thickness, say) couple every decision that may use them, and that
is seldom decisive.  What is best without a limit and keeps the limit is best with it; only an assignment that
overdraws the stock parts the problem.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, get_args

from deskmend.choice.network import Network, affordable, build, settled
from deskmend.choice.problem import Problem
from deskmend.choice.result import Choice, best_of, evaluate, leading, non_dominated, priced_by, verify
from deskmend.choice.stock import WarmStart, local_search, repaired, split, without_stock
from deskmend.choice.variants import Incumbent, by_packs, cases_of, without_variants

if TYPE_CHECKING:
    from deskmend.choice.elimination.hull import FrontierCase, FrontierPoint
    from deskmend.choice.elimination.search import CaseSearch

Engine = Literal["auto", "program", "elimination"]

AUTO_CELLS = 1e9
"""Up to this many cells, those that nothing allows among them, a problem goes to elimination; larger ones go
to the integer program."""

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
    warm_start: WarmStart | None = None,
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
    warm_start : WarmStart or None
        What answers to problems much like it have shown: it takes less time, and the answer is the same.

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
        choice = _best_part(problem, engine, seconds, warm_start)
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
    >>> [(point.cost, point.value, point.options["way"]) for point in frontier(problem)]
    [(0, 50, 'walk'), (250, 20, 'bus'), (1900, 9, 'taxi')]
    """
    from deskmend.choice.elimination.labels import TooWide

    if problem.first != "value":
        problem = replace(problem, first="value")
    try:
        points = _point_by_point(problem, seconds) if problem.bounds else _along_the_hull(problem)
    except TooWide:
        points = _point_by_point(problem, seconds)
    for point in points:
        verify(problem, point)
    return points


def _best_part(
    problem: Problem, engine: Engine, seconds: float | None, warm_start: WarmStart | None
) -> Choice:
    """Solve part by part; one that cannot beat those before it is not searched further."""
    choices: list[Choice] = []
    incumbent = Incumbent()
    if warm_start is not None:
        incumbent = Incumbent(
            scale=warm_start.scale, cost_price=warm_start.cost_price, orders=warm_start.orders
        )
        near = local_search(problem, warm_start.starts)
        if near is not None:
            incumbent.note(leading(problem, near))
    problem = without_variants(problem)
    for case in cases_of(affordable(problem)):
        # Where it is known what has to be reached, little is left of a case, so it is searched as it is.
        known = engine != "program" and incumbent.at_most is not None
        whole = _eliminated(case, AUTO_CELLS, incumbent) if known else None
        if whole is None:
            choices += _in_parts(case, engine, seconds, incumbent)
        else:
            choices.append(whole)
            if whole.found:
                incumbent.note(leading(case, whole))
    if warm_start is not None:
        warm_start.scale, warm_start.cost_price = incumbent.scale, incumbent.cost_price
    return best_of(problem, choices)


def _in_parts(case: Problem, engine: Engine, seconds: float | None, incumbent: Incumbent) -> list[Choice]:
    """Solve a case without its stock of owned pieces, in parts where that is overdrawn."""
    choices = []
    todo = [case if engine == "program" else without_stock(case)]
    while todo:
        relaxed = todo.pop()
        choice, search = _solved(relaxed, engine, seconds, incumbent)
        parts = split(case, relaxed, choice) if choice.found else []
        if parts and search is not None:
            strict = _within_stock(replace(relaxed, items=case.items), search, choice, incumbent)
            choice, parts = (choice, parts) if strict is None else (strict, [])
        todo += reversed(parts)
        if not parts:
            choices.append(choice)
            if choice.found:
                incumbent.note(leading(case, choice))
    return choices


def _within_stock(
    problem: Problem, relaxed: CaseSearch, choice: Choice, incumbent: Incumbent
) -> Choice | None:
    """Solve a part with its stock by elimination, where that takes not many more cells; else None.

    `relaxed` searched it without its stock and came to a choice that overdraws it.
    """
    from deskmend.choice.stock import with_stock

    near = repaired(problem, choice)
    if near is not None:
        incumbent.note(leading(problem, near))
    problem = with_stock(problem, relaxed, incumbent.at_most)
    return _eliminated(problem, min(AUTO_CELLS, WIDER * relaxed.tree.cells), incumbent)


def _eliminated(problem: Problem, most_cells: float, incumbent: Incumbent) -> Choice | None:
    """Solve a part by elimination; None where it takes more than some cells."""
    from deskmend.choice.elimination.labels import TooWide

    try:
        return _searched(problem, build(problem), most_cells, AUTO_PAIRS, incumbent)[0]
    except TooWide:
        return None


def _searched(
    problem: Problem, network: Network, most_cells: float, most_pairs: float, incumbent: Incumbent
) -> tuple[Choice, CaseSearch | None]:
    """Best choice by elimination, and its search where there is anything left to search.

    TooWide where it takes too much.
    """
    from deskmend.choice.elimination.search import CaseSearch, let_go

    choice = settled(problem, network)
    if choice is None and incumbent.at_most is not None:
        let_go(network, incumbent)
        choice = settled(problem, network)
        choice = None if choice is None else replace(choice, engine="elimination")
    if choice is not None:
        return choice, None
    search = CaseSearch(
        problem, network, most_cells, most_pairs, incumbent.at_most is not None, incumbent.orders
    )
    return search.solve(incumbent), search


def _solved(
    problem: Problem, engine: Engine, seconds: float | None, incumbent: Incumbent | None = None
) -> tuple[Choice, CaseSearch | None]:
    """Best choice of a part, and its search by elimination where there was one."""
    network = build(problem)
    if engine != "program":
        from deskmend.choice.elimination.labels import TooWide
        from deskmend.choice.elimination.search import MOST_PAIRS, MOST_PASS_CELLS

        most = (AUTO_CELLS, AUTO_PAIRS) if engine == "auto" else (MOST_PASS_CELLS, MOST_PAIRS)
        try:
            return _searched(problem, network, *most, Incumbent() if incumbent is None else incumbent)
        except TooWide:
            if engine != "auto":
                raise
        # what was let go of may have left the network half shrunk
        network = build(problem)
    choice = settled(problem, network)
    if choice is not None:
        return choice, None
    from deskmend.choice.program.levels import solve_program

    return solve_program(problem, network, seconds), None


def _point_by_point(problem: Problem, seconds: float | None) -> list[Choice]:
    """Find the frontier from the highest cost down, one search a point."""
    points: list[Choice] = []
    money = problem.money
    while money is None or money >= 0:
        choice = solve(replace(problem, money=money), "auto", seconds)
        if not choice.found:
            break
        points.append(choice)
        if not choice.proven:
            break
        money = choice.cost - 1
    points.reverse()
    return points


def _along_the_hull(problem: Problem) -> list[Choice]:
    """Frontier within money and minutes, the stock of owned pieces left aside until a point breaks it."""
    from deskmend.choice.elimination.hull import Hull
    from deskmend.choice.elimination.labels import TooWide

    wanted = _worth_for_nothing(problem)
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
                try:
                    searched[_frontier_case(relaxed, network, wanted)] = whole, relaxed
                except TooWide:
                    todo += _parts_by_packs(whole, relaxed, network)
            elif only.found:
                parts = split(whole, relaxed, only)
                todo += [(whole, part) for part in parts]
                answered += [] if parts else [only]
        hull = Hull(list(searched), problem.money)
        # The search lets go of what is worth less than what costs least, so that has to stand first of all.
        if hull.first is not None and _mended([hull.first], searched, todo, wanted):
            continue
        # What lies between the corners is not worth finding while one of them breaks the stock.
        if _mended(hull.corners(), searched, todo, wanted):
            continue
        points = hull.frontier()
        if not _mended(points, searched, todo, wanted):
            found = [*(point.choice() for point in points), *answered]
            return non_dominated(problem, [_as_scored_in(problem, one) for one in found])


def _parts_by_packs(whole: Problem, relaxed: Problem, network: Network) -> list[tuple[Problem, Problem]]:
    """Parts of a too wide case by packs bought of what couples its decisions, each without its stock.

    TooWide where nothing is bought that does.
    """
    from deskmend.choice.elimination.labels import TooWide

    bought = {shared.item.name for shared in network.shared if shared.item.price is not None}
    parts = by_packs(replace(relaxed, items=whole.items), bought)
    if not parts:
        raise TooWide("a case with nothing to buy that couples decisions")
    return [(part, without_stock(part)) for part in parts]


def _as_scored_in(problem: Problem, choice: Choice) -> Choice:
    """A choice with what it buys in the problem, where it was found in a part by packs."""
    names = {item.name for item in problem.items}
    return choice if not choice.found or names.issuperset(choice.packs) else priced_by(problem, choice)


def _mended(
    points: Sequence[FrontierPoint],
    searched: dict[FrontierCase, tuple[Problem, Problem]],
    todo: list[tuple[Problem, Problem]],
    wanted: int | None,
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
            case = _narrow_case(replace(relaxed, items=whole.items), point.case.search, wanted)
            if case is None:
                todo += [(whole, part) for part in parts]
            else:
                searched[case] = whole, replace(relaxed, items=whole.items)
    return mended


def _worth_for_nothing(problem: Problem) -> int | None:
    """Value of keeping all as it is, where that is allowed for nothing: a plan worth less is not wanted."""
    kept = evaluate(problem, {decision.name: decision.options[0].name for decision in problem.decisions})
    return None if kept.violations or kept.cost else kept.value


def _frontier_case(
    problem: Problem, network: Network, wanted: int | None, most_cells: float | None = None
) -> FrontierCase:
    """Make one case of a frontier ready; TooWide where it takes more than some cells."""
    from deskmend.choice.elimination.hull import FrontierCase
    from deskmend.choice.elimination.search import MOST_PASS_CELLS, CaseSearch

    most_cells = MOST_PASS_CELLS if most_cells is None else min(MOST_PASS_CELLS, most_cells)
    return FrontierCase(CaseSearch(problem, network, most_cells, FRONTIER_PAIRS), problem.minutes, wanted)


def _narrow_case(problem: Problem, relaxed: CaseSearch, wanted: int | None) -> FrontierCase | None:
    """Make a case with its stock ready where something is left to choose and it takes not many more cells.

    `relaxed` searched it without its stock, and may have let go of what is not wanted.
    """
    from deskmend.choice.elimination.labels import TooWide
    from deskmend.choice.stock import with_stock

    problem = with_stock(problem, relaxed)
    network = build(problem)
    if settled(problem, network) is not None:
        return None
    try:
        return _frontier_case(problem, network, wanted, WIDER * relaxed.tree.cells)
    except TooWide:
        return None
