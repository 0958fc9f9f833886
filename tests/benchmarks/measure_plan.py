"""Speed of `deskmend plan` as a whole process, by stage, scenario and engine, as a Markdown table.

    python tests/benchmarks/measure_plan.py                 every scenario, median of 7 runs
    python tests/benchmarks/measure_plan.py --write         and put the tables into docs/performance.md
    python tests/benchmarks/measure_plan.py kitchen_books   one scenario

Nothing here is a test: a time says something about a machine, so none is ever asserted.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from typing import TypedDict

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "performance.md"
BLOCK = re.compile(r"(<!-- measured -->\n).*?(<!-- end of measured -->\n)", re.DOTALL)
STAGES = ("start", "load", "tables", "build", "solve", "check", "free", "order", "print")
ENGINES = ("auto", "program")
LONG = 10.0
"""A run that takes longer than this is repeated only so that there are three [s]."""


class Figures(TypedDict):
    """What one run tells: processor time [s], in all and by stage; size of its problem; engine; exit code."""

    processor: float
    seconds: dict[str, float]
    sizes: dict[str, int]
    engine: str
    exit: int


@dataclass(frozen=True)
class Measured:
    """Runs of one scenario with one engine; none where the first took longer than allowed."""

    scenario: str
    asked: str
    whole: tuple[float, ...]
    runs: tuple[Figures, ...]

    def stage(self, name: str) -> float:
        """Median processor time of a stage [s]; ``rest`` is what lies between the seams."""
        if name == "rest":
            return median(run["processor"] - sum(run["seconds"].values()) for run in self.runs)
        return median(run["seconds"].get(name, 0.0) for run in self.runs)


def timed(command: Sequence[str], limit: float | None = None) -> float | None:
    """Seconds that a process takes from start to end; None where it takes more than the limit."""
    begun = time.monotonic()
    try:
        subprocess.run(command, capture_output=True, check=True, timeout=limit, stdin=subprocess.DEVNULL)
    except subprocess.TimeoutExpired:
        return None
    return time.monotonic() - begun


def plan_once(case: Path, engine: str, limit: float | None) -> tuple[float, Figures] | None:
    """One run of the command: seconds in all, and its figures."""
    with tempfile.TemporaryDirectory() as folder:
        figures = Path(folder) / "figures.json"
        script = str(Path(__file__).with_name("timed_plan.py"))
        whole = timed([sys.executable, script, engine, str(figures), str(case)], limit)
        return None if whole is None else (whole, json.loads(figures.read_text(encoding="utf-8")))


def measure(case: Path, engine: str, runs: int, limit: float | None) -> Measured:
    """Run one scenario with one engine as often as asked."""
    found: list[tuple[float, Figures]] = []
    while len(found) < (min(runs, 3) if found and found[0][0] > LONG else runs):
        one = plan_once(case, engine, limit)
        if one is None:
            break
        found.append(one)
    whole, figures = zip(*found, strict=True) if found else ((), ())
    return Measured(case.parent.name, engine, tuple(whole), tuple(figures))


def row(cells: Sequence[object]) -> str:
    """One line of a Markdown table."""
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> list[str]:
    """Lines of a Markdown table."""
    return [row(head), row(["---"] * len(head)), *(row(one) for one in rows), ""]


def seconds(value: float) -> str:
    """A time as the page shows it."""
    return f"{value:.2f}"


def time_row(one: Measured, limit: float) -> list[object]:
    """Times of one scenario with one engine."""
    if not one.runs:
        return [one.scenario, one.asked, f"over {limit:g}", *["-"] * (len(STAGES) + 2), 1]
    stages = [seconds(one.stage(name)) for name in (*STAGES, "rest")]
    processor = seconds(median(run["processor"] for run in one.runs))
    return [
        one.scenario,
        one.runs[0]["engine"],
        seconds(median(one.whole)),
        processor,
        *stages,
        len(one.runs),
    ]


def size_row(one: Measured) -> list[object]:
    """Sizes of one scenario's problem."""
    return [one.scenario, *one.runs[0]["sizes"].values()]


def report(cases: Sequence[Path], runs: int, limit: float) -> str:
    """Measure, and write what was measured."""
    load = os.getloadavg()[0]
    starts = [
        ("`python -c pass`, the interpreter alone", [sys.executable, "-c", "pass"]),
        ("`python -m deskmend --help`", [sys.executable, "-m", "deskmend", "--help"]),
    ]
    short = [[name, seconds(median(timed(command) or 0.0 for _ in range(runs)))] for name, command in starts]
    done = [
        measure(case, engine, runs, limit if engine == "program" else None)
        for case in cases
        for engine in ENGINES
    ]
    lines = [
        f"Measured {datetime.now(UTC):%Y-%m-%d}: {os.cpu_count()} cores ({platform.machine()}), Python "
        f"{platform.python_version()}; load of the machine {load:.1f} before, {os.getloadavg()[0]:.1f} after "
        "(1.0 is this measuring itself). Seconds, medians: `clock` is from start to end of the process, "
        "`processor` and the stages after it are processor time.",
        "",
        *table(["process", "seconds"], short),
        *table(
            ["scenario", "engine", "clock", "processor", *STAGES, "rest", "runs"],
            [time_row(one, limit) for one in done],
        ),
    ]
    sized = [one for one in done if one.asked == "auto"]
    if sized:
        lines += table(["scenario", *sized[0].runs[0]["sizes"]], [size_row(one) for one in sized])
    return "\n".join(lines)


def main() -> None:
    """Measure what is asked for."""
    known = {path.parent.name: path for path in sorted((ROOT / "scenarios").glob("*/case.yaml"))}
    parser = argparse.ArgumentParser(description="Measure deskmend plan on the shipped scenarios.")
    parser.add_argument(
        "scenarios", nargs="*", metavar="SCENARIO", help=f"of {', '.join(known)}; all if none"
    )
    parser.add_argument("--runs", type=int, default=7, help="runs of each, of which the median counts")
    parser.add_argument("--limit", type=float, default=60.0, help="most seconds for the integer program")
    parser.add_argument("--write", action="store_true", help="put the tables into docs/performance.md")
    given = parser.parse_args()
    unknown = [name for name in given.scenarios if name not in known]
    if unknown:
        parser.error(f"no such scenario: {', '.join(unknown)}")
    text = report([known[name] for name in given.scenarios or known], given.runs, given.limit)
    print(text)
    if given.write:
        page = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(BLOCK.sub(lambda found: found[1] + text + found[2], page), encoding="utf-8")


if __name__ == "__main__":
    main()
