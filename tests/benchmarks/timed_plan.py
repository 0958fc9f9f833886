"""`deskmend plan` as it is, with a clock at its seams. Run by ``measure_plan.py``, in a process of its own.

Arguments: engine, file for the figures, case file. Times are processor time, which a busy machine changes
little; what the interpreter takes to start is in the first of them.
"""

from __future__ import annotations

import importlib
import sys
import time
from collections.abc import Callable
from typing import Any

SEAMS = (
    ("load", "deskmend.intake.case_file", "load_case"),
    ("load", "deskmend.intake.catalog", "load_catalog"),
    ("load", "deskmend.planning.inputs", "find_prices"),
    ("tables", "deskmend.planning.prepared", "prepare"),
    ("check", "deskmend.planning.plan", "checked"),
    ("order", "deskmend.planning.plan", "put_in_order"),
    ("print", "deskmend.report.plan", "plan_text"),
)
"""Stage, module and function that the command looks up there when it runs."""


class Clock:
    """Seconds by stage, and how large the problem was."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.sizes: dict[str, int] = {}
        self.engine = ""

    def timed(self, stage: Callable[[], str], function: Callable[..., Any]) -> Callable[..., Any]:
        """A function that adds its time to a stage."""

        def call(*given: Any, **named: Any) -> Any:
            name, begun = stage(), time.process_time()
            try:
                return function(*given, **named)
            finally:
                self.seconds[name] = self.seconds.get(name, 0.0) + time.process_time() - begun

        return call

    def note_sizes(self, problem: Any) -> None:
        """Keep the size of the first problem: the one with the whole budget."""
        self.sizes = self.sizes or {
            "decisions": len(problem.decisions),
            "options": sum(len(one.options) for one in problem.decisions),
            "nodes": len(problem.nodes),
            "tables": len(problem.tables),
            "cells": sum(one.values.size for one in problem.tables)
            + sum(one.index.size for one in problem.nodes),
        }


def watch(clock: Clock, engine: str) -> None:
    """Put the clock at every seam of the plan command."""
    for stage, module_name, name in SEAMS:
        module = importlib.import_module(module_name)
        setattr(module, name, clock.timed(lambda stage=stage: stage, getattr(module, name)))  # type: ignore[misc]
    planning: Any = importlib.import_module("deskmend.planning.plan")
    prepared: Any = importlib.import_module("deskmend.planning.prepared")
    real_problem, real_solve = prepared.Prepared.problem, planning.solve
    solved: list[str] = []

    def problem(*given: Any) -> Any:
        made = real_problem(*given)
        clock.note_sizes(made)
        return made

    def solve(*given: Any, **named: Any) -> Any:
        choice = real_solve(*given, **{**named, "engine": engine})
        clock.engine = clock.engine or choice.engine
        solved.append(choice.engine)
        return choice

    prepared.Prepared.problem = clock.timed(lambda: "free" if solved else "build", problem)
    planning.solve = clock.timed(lambda: "free" if solved else "solve", solve)


def main() -> None:
    """Run the command once and write the figures."""
    engine, figures, case = sys.argv[1:]
    from deskmend.cli import deskmend

    clock = Clock()
    watch(clock, engine)
    clock.seconds["start"] = time.process_time()
    try:
        deskmend.main(["plan", case])
    except SystemExit as ending:
        import json

        ended = {
            "processor": time.process_time(),
            "seconds": clock.seconds,
            "sizes": clock.sizes,
            "engine": clock.engine,
            "exit": ending.code,
        }
        with open(figures, "w", encoding="utf-8") as out:
            json.dump(ended, out)


if __name__ == "__main__":
    main()
