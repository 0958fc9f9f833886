"""Speed of every budget at once: whole processes, against twenty integer programs, and with more catalog.

    python tests/benchmarks/measure_frontier.py             everything, as Markdown tables
    python tests/benchmarks/measure_frontier.py --write     and put them into docs/performance.md

Nothing here is a test: a time says something about a machine, so none is ever asserted.
"""

from __future__ import annotations

import argparse
import re
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from statistics import median

from deskmend.choice import Choice, Problem, frontier, solve
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.planning.inputs import find_prices
from deskmend.planning.prepared import Prepared, prepare

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "performance.md"
BLOCK = re.compile(r"(<!-- measured budgets -->\n).*?(<!-- end of measured budgets -->\n)", re.DOTALL)
SCENARIOS = ("counter_calls", "kitchen_books", "low_table_monitor", "shared_chair_papers")
PROGRAMS = 20
PATIENCE = 60.0
"""Seconds after which the integer programs of a scenario are no longer waited for."""
PARTS = (4, 2, 1)
"""Every fourth, every second, and every fix: a catalog of the size, twice and four times it."""


def process_seconds(arguments: list[str], runs: int) -> list[float]:
    """Processor seconds of whole processes."""
    out = []
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-m", "deskmend", *arguments], capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        out.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return out


def seconds_of(work: Callable[[], object]) -> float:
    """Processor seconds of a piece of work in this process."""
    begun = time.process_time()
    work()
    return time.process_time() - begun


def ready_of(scenario: str, catalog: Catalog) -> Prepared:
    """A scenario made ready with some catalog."""
    case = load_case(ROOT / "scenarios" / scenario / "case.yaml")
    return prepare(case, catalog, find_prices(case, catalog).table)


def whole_processes(runs: int) -> Iterator[str]:
    """Rows of the table of whole processes."""
    yield "| scenario | `plan` | `compare` | its limit of minutes [min] | rungs | frontier alone |"
    yield "| --- | --- | --- | --- | --- | --- |"
    catalog = load_catalog()
    for scenario in SCENARIOS:
        case = str(ROOT / "scenarios" / scenario / "case.yaml")
        plan = median(process_seconds(["plan", case, "--budget", "20", "--quiet"], runs))
        compare = median(process_seconds(["compare", case, "--quiet"], runs))
        ready = ready_of(scenario, catalog)
        minutes = ready.case.means.minutes
        rungs: list[Choice] = []
        alone = seconds_of(lambda rungs=rungs, ready=ready: rungs.extend(frontier(ready.problem(None, None))))
        yield f"| {scenario} | {plan:.2f} | {compare:.2f} | {minutes or '-'} | {len(rungs)} | {alone:.2f} |"


def against_programs() -> Iterator[str]:
    """Rows of the table that sets one frontier against twenty integer programs."""
    yield "| scenario | frontier | 20 integer programs | times faster |"
    yield "| --- | --- | --- | --- |"
    catalog = load_catalog()
    for scenario in SCENARIOS:
        problem = ready_of(scenario, catalog).problem(None, None)
        rungs: list[Choice] = []
        alone = seconds_of(lambda rungs=rungs, problem=problem: rungs.extend(frontier(problem)))
        top = rungs[-1].cost
        budgets = [top * k // (PROGRAMS - 1) for k in range(PROGRAMS)]
        taken, done = _programs(problem, budgets, rungs)
        if done == len(budgets):
            yield f"| {scenario} | {alone:.2f} | {taken:.1f} | {taken / alone:.0f} |"
        else:
            yield (
                f"| {scenario} | {alone:.2f} | {done} of them in {taken:.0f} | "
                f"over {taken * len(budgets) / max(done, 1) / alone:.0f}, were the rest alike |"
            )


def _programs(problem: Problem, budgets: list[int], rungs: list[Choice]) -> tuple[float, int]:
    """Processor seconds of the integer program at each budget, each answer held against the frontier."""
    taken, done = 0.0, 0
    for money in budgets:
        if taken > PATIENCE:
            break
        begun = time.process_time()
        found = solve(replace(problem, money=money), "program", PATIENCE - taken, gate_by_gate=True)
        taken += time.process_time() - begun
        if not found.proven:
            break
        expected = [rung for rung in rungs if rung.cost <= money][-1]
        if (found.value, found.cost) != (expected.value, expected.cost):
            raise SystemExit(f"the engines differ at {money}")
        done += 1
    return taken, done


def growth() -> Iterator[str]:
    """Rows of the table of growth with the catalog."""
    yield "| scenario | fixes | decisions | options | cells | tables | frontier | rungs |"
    yield "| --- | --- | --- | --- | --- | --- | --- | --- |"
    whole = load_catalog()
    for scenario in SCENARIOS:
        for part in PARTS:
            catalog = replace(whole, fixes=whole.fixes[::part])
            made: list[Prepared] = []
            tables = seconds_of(lambda made=made, c=catalog, s=scenario: made.append(ready_of(s, c)))
            problem = made[0].problem(None, None)
            rungs: list[Choice] = []
            alone = seconds_of(lambda rungs=rungs, problem=problem: rungs.extend(frontier(problem)))
            options = sum(len(decision.options) for decision in problem.decisions)
            cells = sum(table.values.size for table in problem.tables)
            yield (
                f"| {scenario} | {len(catalog.fixes)} | {len(problem.decisions)} | {options} | {cells} | "
                f"{tables:.2f} | {alone:.2f} | {len(rungs)} |"
            )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--runs", type=int, default=3)
    given = parser.parse_args()
    text = "\n".join(
        [
            f"Whole processes and stages in processor seconds, medians of {given.runs} runs where whole.",
            "",
            *whole_processes(given.runs),
            "",
            f"One frontier against {PROGRAMS} integer programs at even budgets, in one run, every answer "
            "held against the frontier:",
            "",
            *against_programs(),
            "",
            "A quarter, a half and the whole of the catalog:",
            "",
            *growth(),
            "",
        ]
    )
    sys.stdout.write(text)
    if given.write:
        page = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(BLOCK.sub(lambda found: found[1] + text + found[2], page), encoding="utf-8")


if __name__ == "__main__":
    main()
