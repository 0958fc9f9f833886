"""Speed of every kind of work beside its aim, and beside another tree of the program, as one Markdown table.

    python tests/benchmarks/measure.py                          everything but funds, medians of 3
    python tests/benchmarks/measure.py plan worth --runs 5      only work whose name holds one of these
    python tests/benchmarks/measure.py --before ../before       the same of another tree, in turn, with ratios
    python tests/benchmarks/measure.py --write                  into docs/performance.md

Each run is a process of its own, of modules that are compiled already, as an installation has them; what is
called warm is asked a second time in one process, with the case and the catalog loaded, and what is called of
the local page in one that has shown the plan. Aims are held against
the clock, as they were set; work of several processes takes less of it than of the processor, and where the
machine has else to do, all work takes more. Two trees take turns, so what else runs falls on both, and their
ratio is that of processor time. Nothing here is a test: a time says something about a machine, so none is
ever asserted.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import platform
import re
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

import yaml

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "performance.md"
BEGIN, END = "<!-- measured -->", "<!-- end of measured -->"
ONE, TWO, DATED = "kitchen_books", "shared_chair_papers", "low_table_monitor"
VARIANTS = 4
"""How many times as large the larger catalog is."""
WARM = """
import sys, time, deskmend
case, prices = deskmend.load_case(sys.argv[1]), deskmend.load_prices(sys.argv[2])
catalog = deskmend.load_catalog()
deskmend.plan(case, catalog, prices)
clock, processor = time.perf_counter(), time.process_time()
deskmend.plan(case, catalog, prices)
print(time.perf_counter() - clock, time.process_time() - processor)
"""
LOCAL_PAGE = """
import re, statistics, sys, time
from pathlib import Path
from deskmend.local_page.work import KeptCases
case, prices, what = Path(sys.argv[1]), *sys.argv[2:]
cases, asked = KeptCases(None, prices), {"file": str(case), "data": case.read_bytes(), "name": "case"}
costs = [one["cost"] for one in cases.answer("plan", asked)["rungs"]]
questions = [asked | {"cost": cost} for cost in costs[1::2]]
if what == "answer":
    changed = re.sub(rb"(stature: )(\\d+)", lambda one: one[1] + b"%d" % (int(one[2]) + 7), asked["data"])
    assert changed != asked["data"]
    questions = [asked | {"data": changed}]
taken = []
for question in questions:
    early, clock, processor = [], time.perf_counter(), time.process_time()
    now = lambda: (time.perf_counter() - clock, time.process_time() - processor)
    cases.answer("plan", question, lambda _: early.append(now()))
    taken.append(early[0] if what == "figures" else now())
print(*(statistics.median(each) for each in zip(*taken)))
"""


class Taken(NamedTuple):
    """What a run took, of the clock and of the processor in all its processes [s]."""

    clock: float
    processor: float


@dataclass(frozen=True)
class Work:
    """One kind of work.

    Attributes
    ----------
    name : str
        As the table calls it.
    case : str
        Folder of its scenario.
    words : tuple of str
        The command and its options; after a script what else it is told.
    aim : float or None
        Seconds of the clock it may take.
    large : bool
        Whether it uses the larger catalog.
    script : str
        What times one question in a process that has loaded all; empty for a command.
    """

    name: str
    case: str
    words: tuple[str, ...]
    aim: float | None
    large: bool = False
    script: str = ""


def works(folder: Path) -> list[Work]:
    """All kinds of work; what is written goes to a folder."""
    page = ("report", "--out", str(folder / "page.html"))
    return [
        Work("plan, warm, one place", ONE, (), 0.4, script=WARM),
        Work("plan, warm, two places", TWO, (), 1.0, script=WARM),
        Work("plan, one place", ONE, ("plan",), 0.9),
        Work("plan, two places", TWO, ("plan",), 1.6),
        Work("every budget, one place", ONE, ("compare",), 1.0),
        Work("every budget, two places", TWO, ("compare",), 4.0),
        Work("plan with dates", DATED, ("plan",), 3.0),
        Work("worth of every thing", ONE, ("plan", "--worth"), 4.0),
        Work("how sure, 40 samples", ONE, ("plan", "--sure", "40"), 10.0),
        Work("page of one place", ONE, page, 3.0),
        Work("every budget, every gain", ONE, ("compare", "--every-gain"), None),
        Work("every budget, every gain, larger catalog", ONE, ("compare", "--every-gain"), None, True),
        Work("assessment", ONE, ("assess",), None),
        Work("another budget on the local page, figures", ONE, ("figures",), None, script=LOCAL_PAGE),
        Work("another budget on the local page, steps", ONE, ("steps",), None, script=LOCAL_PAGE),
        Work("another budget on the local page, two places", TWO, ("steps",), None, script=LOCAL_PAGE),
        Work("a changed answer on the local page", ONE, ("answer",), None, script=LOCAL_PAGE),
    ]


def larger_catalog(folder: Path) -> tuple[Path, Path]:
    """A catalog made larger by variants of every fix, of things that cost a little more, and its prices.

    All values are taken as the words they are, and written as JSON, which is YAML too.
    """
    catalog = folder / "catalog"
    shutil.copytree(ROOT / "catalog", catalog)
    for file in sorted((catalog / "fixes").glob("*.yaml")):
        read = yaml.load(file.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
        fixes = list(read["fixes"])
        read["fixes"] = [_variant(fix, number) for fix in fixes for number in range(VARIANTS)]
        file.write_text(json.dumps(read), encoding="utf-8")
    things = catalog / "items.yaml"
    read = yaml.load(things.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    read["items"] = [{**item, "id": _named(item["id"], n)} for item in read["items"] for n in range(VARIANTS)]
    things.write_text(json.dumps(read), encoding="utf-8")
    table = folder / "prices.csv"
    with (ROOT / "scenarios" / ONE / "prices.csv").open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    with table.open("w", encoding="utf-8", newline="") as target:
        writer = csv.DictWriter(target, list(rows[0]))
        writer.writeheader()
        for row in rows:
            for number in range(VARIANTS):
                more = {
                    k: f"{float(v) * (1 + 0.07 * number):.2f}"
                    for k in ("price", "low", "high")
                    if (v := row[k])
                }
                writer.writerow({**row, "item": _named(row["item"], number), **more})
    return catalog, table


def _variant(fix: dict[str, Any], number: int) -> dict[str, Any]:
    items = {material["item"] for material in fix.get("materials") or ()}
    parts = ("materials", "cuts", "pieces", "size", "watch")
    made = {k: _with_items(v, items, number) if k in parts else v for k, v in fix.items()}
    others = fix.get("conflicts") or ()
    return made | {
        "id": _named(fix["id"], number),
        "conflicts": [_named(o, n) for o in others for n in range(VARIANTS)],
    }


def _with_items(read: Any, items: set[str], number: int) -> Any:
    """The same with the names of some items, wherever they stand, those of a variant."""
    if isinstance(read, dict):
        return {_with_items(k, items, number): _with_items(v, items, number) for k, v in read.items()}
    if isinstance(read, list):
        return [_with_items(one, items, number) for one in read]
    return _named(read, number) if isinstance(read, str) and read in items else read


def _named(name: str, number: int) -> str:
    return f"{name}_v{number}" if number else name


def seconds(tree: Path, work: Work, larger: tuple[Path, Path], compiled: Path) -> Taken:
    """What one run takes; ends the measuring where the run fails.

    Modules are compiled into a folder once, and read from there by every later run.
    """
    folder = ROOT / "scenarios" / work.case
    case, prices = str(folder / "case.yaml"), str(folder / "prices.csv")
    line = [sys.executable, "-c", work.script, case, prices, *work.words]
    if not work.script:
        line = [sys.executable, "-m", "deskmend", work.words[0], case, *work.words[1:]]
    if work.large:
        line += ["--catalog", str(larger[0]), "--prices", str(larger[1])]
    environment = {**os.environ, "PYTHONPATH": str(tree / "src"), "PYTHONPYCACHEPREFIX": str(compiled)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(line, env=environment, capture_output=True, text=True, check=False)
    after, end = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    if done.returncode not in (0, 3):
        sys.exit(f"{work.name}: {done.stderr.strip()}")
    if work.script:
        return Taken(*(float(word) for word in done.stdout.splitlines()[-1].split()))
    return Taken(end - start, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def measured(asked: Sequence[str], runs: int, before: Path | None) -> list[str]:
    """Lines of the table."""
    head = ["work", "scenario", "clock", "processor", "aim", "aim met"]
    head += ["processor before", "ratio"] if before else []
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    trees = [ROOT] if before is None else [ROOT, before]
    with tempfile.TemporaryDirectory() as folder:
        larger, compiled = larger_catalog(Path(folder)), Path(folder) / "compiled"
        page = next(work for work in works(Path(folder)) if "report" in work.words)
        for tree in trees:
            # what this loads and compiles serves all that follows
            seconds(tree, page, larger, compiled)
        for work in works(Path(folder)):
            if asked and not any(word in work.name for word in asked):
                continue
            taken = [[seconds(tree, work, larger, compiled) for tree in trees] for _ in range(runs)]
            clock = statistics.median(each[0].clock for each in taken)
            now = statistics.median(each[0].processor for each in taken)
            aim = "-" if work.aim is None else f"{work.aim:.1f}"
            met = (
                "-"
                if work.aim is None
                else "yes"
                if clock <= work.aim
                else f"no, {clock / work.aim:.1f} times"
            )
            cells = [work.name, work.case, f"{clock:.2f}", f"{now:.2f}", aim, met]
            if before is not None:
                cells.append(f"{statistics.median(each[1].processor for each in taken):.2f}")
                ratio = statistics.median(each[0].processor / each[1].processor for each in taken)
                cells.append(f"{ratio:.2f}")
            lines.append("| " + " | ".join(cells) + " |")
            print(lines[-1], flush=True)
    return lines


def main() -> None:
    """Measure, print and write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", help="only work whose name holds one of these")
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--before", type=Path, help="another tree of the program, beside which to measure")
    parser.add_argument("--write", action="store_true", help="into docs/performance.md")
    asked = parser.parse_args()
    load = os.getloadavg()[0]
    table = measured(asked.names, asked.runs, asked.before)
    told = (
        f"Measured {date.today()}: {os.cpu_count()} cores ({platform.machine()}), Python "
        f"{platform.python_version()}; load of the machine {load:.1f} before. Seconds of the clock, "
        f"and of the processor in all processes; medians of {asked.runs} runs, ratios too."
    )
    text = "\n".join([told, "", *table])
    print(text)
    if asked.write:
        page = PAGE.read_text(encoding="utf-8")
        new = re.sub(f"{BEGIN}.*?{END}", lambda _: f"{BEGIN}\n{text}\n{END}", page, count=1, flags=re.DOTALL)
        PAGE.write_text(new, encoding="utf-8")


if __name__ == "__main__":
    main()
