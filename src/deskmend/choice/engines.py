"""Solving a problem: which engine, and the check of what it answers."""

from __future__ import annotations

from typing import Literal

from deskmend.choice.evaluate import verify
from deskmend.choice.network import build
from deskmend.choice.problem import Problem
from deskmend.choice.result import Choice

Engine = Literal["auto", "program", "elimination"]


def solve(problem: Problem, engine: Engine = "auto", seconds: float | None = None) -> Choice:
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

    Returns
    -------
    Choice
        Scored again from the problem before it is returned.  When no assignment is allowed, its status is
        ``infeasible`` and its options are empty.

    Raises
    ------
    ValueError
        When there is no such engine.
    Disagreement
        When an engine's answer does not hold when scored again.
    """
    from deskmend.choice.program import solve_program

    if engine not in ("auto", "program", "elimination"):
        raise ValueError(f"engine must be 'auto', 'program' or 'elimination', not {engine!r}")
    choice = solve_program(problem, build(problem), seconds)
    verify(problem, choice)
    return choice
