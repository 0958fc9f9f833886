"""Keep the bytes of every command, and say later which of them have changed.

``python -m tests.recording.record keep FOLDER`` runs everything and keeps what is said and written.
``compare FOLDER`` runs the same inputs again and ends with exit code 1 where a byte differs.
``--part quick`` takes one part alone, ``--only TEXT`` the commands that hold a text.

``keep`` writes the inputs too: scenarios, 40 drawn cases, three drawn funds and some wrong files.  So
``compare`` asks today's program about the inputs of that day, whatever has become of the programs that drew
them.  Each command runs in a process of its own, forked from one that has the program loaded, ``--jobs`` at a
time.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import difflib
import json
import multiprocessing
import os
import random
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
CASES = ("kitchen_books", "low_table_monitor", "shared_chair_papers", "counter_calls")
DRAWN_CASES = 40
DRAWN_FUNDS = 3
PEOPLE = 12
PARTS = ("quick", "usual", "slow")
VERSION = re.compile(r"deskmend \d+\.\d+\.\d+")

Line = list[str]
Kept = dict[str, Any]


def commands(folder: Path) -> dict[str, list[Line]]:
    """Every command of each part; paths are relative to the folder of inputs."""
    quick: list[Line] = [["--help"], ["--version"], ["plan", "--help"], ["allocate", "--help"]]
    usual: list[Line] = []
    slow: list[Line] = []
    for name in CASES:
        case = f"scenarios/{name}/case.yaml"
        quick += [["assess", case], ["assess", case, "--json"], ["check", case]]
        usual += [["plan", case], ["plan", case, "--json"], ["plan", case, "--budget", "12.50"]]
        usual += [["plan", case, "--budget", "0", "--language", "es", "--units", "in"]]
        usual += [["compare", case], ["compare", case, "--json"], ["prices", "new", "--for", case]]
        usual += [["compare", case, "--at", "0,20,40", "--plot", "out/curve.svg"]]
        usual += [["plan", case, "--reach", "rosa=4"], ["plan", case, "--reach", "rula=3", "--json"]]
        usual += [["plan", case, "--minutes", "60", "--json"], ["plan", case, "--reach", "neck=0.5"]]
        slow += [["report", case, "--out", "out/page.html"]]
        slow += [["plan", case, "--saving", "15"], ["plan", case, "--saving", "8", "--budget", "5", "--json"]]
    kitchen, counter = "scenarios/kitchen_books/case.yaml", "scenarios/counter_calls/case.yaml"
    quick += [["plan", counter], ["plan", kitchen, "--json"], ["compare", counter, "--json"], ["catalog"]]
    quick += [["catalog", "--json"], ["catalog", "towel_roll"], ["new", "out/blank.yaml", "--blank"]]
    quick += [["new", "--applicants", "out/people.csv"], ["check", "scenarios/relief_fund/applicants.csv"]]
    usual += [["plan", counter, "--prove", "--json"], ["plan", counter, "--never", "seat_cushion"]]
    usual += [
        ["plan", counter, "--budget", "30", "--must", "foot_books"],
        ["assess", kitchen, "--with", "towel_roll"],
    ]
    usual += [["assess", kitchen, "--with", "kitchen.screen_books=105", "--json"]]
    slow += [
        ["plan", counter, "--worth"],
        ["plan", counter, "--worth", "--json"],
        ["plan", counter, "--sure", "3"],
    ]
    slow += [["plan", kitchen, "--worth", "--json"], ["plan", kitchen, "--sure", "2", "--json"]]
    slow += [
        ["report", counter, "--out", "out/page.html", "--worth", "--sure", "2", "--dates", "--language", "es"]
    ]
    for number in range(DRAWN_CASES):
        case = f"drawn/case_{number:02}.yaml"
        part = quick if number % 5 == 0 else usual
        part += [["plan", case], ["compare", case], ["assess", case, "--json"]]
    six = ["scenarios/relief_fund/six_people.csv", "--prices", "scenarios/relief_fund/prices.csv"]
    quick += [["allocate", *six, "--fund", "60", "--letters", "--out", "out/shared"]]
    usual += [
        ["allocate", *six, "--fund", "40", "--policy", "worst_off_first", "--json", "--out", "out/shared"]
    ]
    usual += [
        [
            "allocate",
            *six,
            "--fund",
            "90",
            "--policy",
            "most_people",
            "--limit",
            "strain=20",
            "--out",
            "out/shared",
        ]
    ]
    usual += [
        [
            "allocate",
            *six,
            "--fund",
            "90",
            "--policy",
            "most_people",
            "--limit",
            "rosa=4",
            "--out",
            "out/shared",
        ]
    ]
    ruled = ["--cap", "25", "--floor", "2", "--use-discomfort"]
    usual += [
        ["allocate", *six, "--fund", "80", *ruled, "--letters", "--language", "es", "--out", "out/shared"]
    ]
    for number in range(DRAWN_FUNDS):
        table = [f"drawn/fund_{number}.csv", "--prices", "scenarios/relief_fund/prices.csv"]
        usual += [["allocate", *table, "--fund", str(90 + 60 * number), "--out", "out/shared"]]
        slow += [["allocate", *table, "--fund", "120", "--letters", "--json", "--group-share", "home=0.3",
                  "--out", "out/shared"]]  # fmt: skip
    slow += [
        [
            "allocate",
            "scenarios/relief_fund/applicants.csv",
            "--fund",
            "400",
            "--letters",
            "--out",
            "out/shared",
        ]
    ]
    for wrong in sorted(path.name for path in (folder / "wrong").iterdir()):
        quick += [["check", f"wrong/{wrong}"]]
        quick += [["plan", f"wrong/{wrong}"]] if wrong.endswith(".yaml") else []
        quick += [["plan", kitchen, "--prices", f"wrong/{wrong}"]] if wrong.startswith("prices") else []
        quick += (
            [["allocate", f"wrong/{wrong}", "--fund", "9", "--out", "out/x"]]
            if wrong.startswith("people")
            else []
        )
    quick += [
        ["plan", "nowhere.yaml"],
        ["plan", kitchen, "--reach", "rossa=4"],
        ["plan", kitchen, "--budget", "x"],
    ]
    quick += [
        ["plan", kitchen, "--must", "seat_cushon"],
        ["plan", kitchen, "--never", "nothing_such", "--json"],
    ]
    quick += [
        ["assess", kitchen, "--with", "screen_books=1050"],
        ["plan", counter, "--reach", "rosa=1"],
        ["plam"],
    ]
    quick += [
        ["allocate", *six, "--fund", "60", "--policy", "most_people", "--limit", "rula=3", "--out", "out/x"]
    ]
    quick += [["allocate", *six, "--fund", "5", "--floor", "9", "--out", "out/x"]]
    return dict(zip(PARTS, (quick, usual, slow), strict=True))


def draw_inputs(folder: Path) -> None:
    """Write the files that the commands are given."""
    from tests.planning.drawn_workplaces import drawn_case

    shutil.copytree(ROOT / "scenarios", folder / "scenarios")
    (folder / "drawn").mkdir()
    (folder / "wrong").mkdir()
    for number in range(DRAWN_CASES):
        text = yaml.safe_dump(_written(drawn_case(random.Random(9000 + number))), sort_keys=False, width=1000)
        (folder / "drawn" / f"case_{number:02}.yaml").write_text(text, encoding="utf-8")
    source = (folder / "scenarios/relief_fund/applicants.csv").read_text(encoding="utf-8").splitlines()
    header, *rows = list(csv.reader(source[1:]))
    for number in range(DRAWN_FUNDS):
        draw = random.Random(700 + number)
        with open(folder / "drawn" / f"fund_{number}.csv", "w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow(header)
            writer.writerows(_drawn_row(draw, header, rows, person) for person in range(PEOPLE))
    _write_wrong(folder)


def _written(mappings: Mapping[str, Any]) -> dict[str, Any]:
    """A drawn case as its file says it: what is not told is left out."""
    out = {}
    for key, value in mappings.items():
        if isinstance(value, Mapping):
            value = _written(value)
        elif isinstance(value, list):
            value = [_written(item) if isinstance(item, Mapping) else item for item in value]
        if value is not None:
            out[key] = value
    return out


def _drawn_row(draw: random.Random, header: Line, rows: Sequence[Line], person: int) -> Line:
    """One invented applicant: a row of the scenario with other measures and discomfort."""
    row = dict(zip(header, draw.choice(rows), strict=True))
    row["id"] = f"p{person:02}"
    for key, least, most in (("person.stature", -60, 60), ("seat.height", -20, 40), ("desk.height", -30, 40)):
        row[key] = str(int(row[key]) + draw.randrange(least, most + 1, 5))
    row["desk.underside"] = str(int(row["desk.height"]) - draw.choice([30, 60, 90]))
    row["person.body.popliteal_height"] = ""
    row["person.discomfort.neck"] = str(draw.randrange(9))
    return [row[key] for key in header]


def _write_wrong(folder: Path) -> None:
    """Files with faults of every kind that a loader tells."""
    case = (folder / "scenarios/kitchen_books/case.yaml").read_text(encoding="utf-8")
    prices = (folder / "scenarios/kitchen_books/prices.csv").read_text(encoding="utf-8")
    people = (folder / "scenarios/relief_fund/applicants.csv").read_text(encoding="utf-8")
    wrong = {
        "unknown_keys.yaml": case.replace("stature:", "statur:").replace("depth:", "dept:"),
        "values.yaml": case.replace("main: laptop", "main: labtop").replace("hours: 4", "hours: 40"),
        "unknown_format.yaml": case.replace("deskmend-case/1", "deskmend-case/9"),
        "twice.yaml": case + "\ntitle: once more\n",
        "broken.yaml": case + "\n  - {",
        "empty.yaml": "",
        "control.yaml": case.replace("title: ", "title: \u0378 \u200b\x85 ", 1),
        "prices_header.csv": prices.replace("item,pack", "itm,pak", 1),
        "prices_values.csv": prices.replace(".", ",").replace("EUR", "EURO"),
        "people_values.csv": people.replace(",male,", ",mail,").replace("laptop", "labtop"),
        "people_header.csv": people.replace("person.stature", "person.statur", 1),
    }
    for name, text in wrong.items():
        (folder / "wrong" / name).write_text(text, encoding="utf-8")


def run(line: Line, folder: Path) -> Kept:
    """Run one command in this process, which is thrown away afterwards, and take all it says and writes."""
    with tempfile.TemporaryDirectory() as place:
        here = Path(place)
        for name in ("scenarios", "drawn", "wrong"):
            shutil.copytree(folder / name, here / name)
        (here / "out").mkdir()
        os.chdir(here)
        os.environ.update(COLUMNS="100", TERM="dumb", LC_ALL="C.UTF-8")
        with _captured(here / ".said") as code:
            from deskmend.cli import main

            sys.argv = ["deskmend", *line]
            try:
                main()
            except SystemExit as ending:
                code.append(ending.code if isinstance(ending.code, int) else 0)
        said = {stream: _text(here / f".said.{stream}") for stream in ("out", "err")}
        written = {
            str(path.relative_to(here)): _text(path)
            for path in sorted((here / "out").rglob("*"))
            if path.is_file()
        }
        os.chdir("/")
    return {"code": code[0], **said, "written": written}


@contextlib.contextmanager
def _captured(path: Path) -> Iterator[list[int]]:
    """Send what this process says to two files, also what is said below Python."""
    code: list[int] = []
    kept = [os.dup(1), os.dup(2)]
    for number, stream in enumerate(("out", "err"), start=1):
        handle = os.open(f"{path}.{stream}", os.O_CREAT | os.O_WRONLY | os.O_TRUNC)
        os.dup2(handle, number)
        os.close(handle)
    try:
        yield code
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        for number, handle in enumerate(kept, start=1):
            os.dup2(handle, number)
            os.close(handle)


def _text(path: Path) -> str:
    """A file's bytes as text; the program's version is no change of what it says."""
    return VERSION.sub("deskmend VERSION", path.read_bytes().decode("utf-8", "backslashreplace"))


def run_all(lines: Sequence[Line], folder: Path, jobs: int) -> Iterator[tuple[str, Kept]]:
    """Run commands, some at a time, each in a fresh process."""
    import deskmend.api
    import deskmend.planning
    import deskmend.report  # noqa: F401  loaded once, before the processes part

    context = multiprocessing.get_context("fork")
    with ProcessPoolExecutor(jobs, mp_context=context, max_tasks_per_child=None) as pool:
        try:
            for line, kept in zip(lines, pool.map(_apart, lines, [folder] * len(lines)), strict=True):
                yield " ".join(line), kept
        finally:
            pool.shutdown(cancel_futures=True)


def _apart(line: Line, folder: Path) -> Kept:
    """Run one command in a child of this process."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        code = 1
        try:
            with os.fdopen(writing, "wb") as stream:
                stream.write(json.dumps(run(line, folder)).encode())
            code = 0
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as stream:
        text = stream.read()
    _, status = os.waitpid(child, 0)
    return (
        json.loads(text)
        if status == 0
        else {"code": status, "out": "", "err": "the process died", "written": {}}
    )


def differences(was: Kept, now: Kept) -> list[str]:
    """Tell what one command says otherwise, as a short diff."""
    out = []
    if was["code"] != now["code"]:
        out.append(f"exit code {was['code']} -> {now['code']}")
    names = sorted({*was["written"], *now["written"]})
    pairs = [(stream, was[stream], now[stream]) for stream in ("out", "err")]
    pairs += [(name, was["written"].get(name, ""), now["written"].get(name, "")) for name in names]
    for name, before, after in pairs:
        if before != after:
            diff = difflib.unified_diff(
                before.splitlines(), after.splitlines(), name, name, "kept", "now", lineterm="", n=0
            )
            out += [row[:300] for row, _ in zip(diff, range(40), strict=False)]
    return out


def keep(folder: Path, parts: Sequence[str], jobs: int) -> int:
    """Draw inputs, run every command, and keep what came."""
    folder.mkdir(parents=True)
    inputs = folder / "inputs"
    inputs.mkdir()
    draw_inputs(inputs)
    for part, lines in commands(inputs).items():
        if part not in parts:
            continue
        begun = time.monotonic()
        kept = {
            name: {"line": line, **found}
            for line, (name, found) in zip(lines, run_all(lines, inputs, jobs), strict=True)
        }
        (folder / f"{part}.json").write_text(json.dumps(kept, indent=1, ensure_ascii=True), encoding="utf-8")
        print(f"{part}: {len(kept)} commands kept in {time.monotonic() - begun:.0f} s", flush=True)
    return 0


def compare(folder: Path, parts: Sequence[str], jobs: int, only: str, first: bool) -> int:
    """Run the kept commands again and tell what differs; on demand, only the first that does."""
    changed = 0
    for part in parts:
        kept: dict[str, Kept] = json.loads((folder / f"{part}.json").read_text(encoding="utf-8"))
        kept = {name: was for name, was in kept.items() if only in name}
        begun = time.monotonic()
        lines = [was["line"] for was in kept.values()]
        for (name, was), (_, now) in zip(kept.items(), run_all(lines, folder / "inputs", jobs), strict=True):
            found = differences(was, now)
            if found:
                changed += 1
                print(f"\n== deskmend {name}", *found, sep="\n", flush=True)
                if first:
                    return 1
        print(f"{part}: {len(kept)} commands compared in {time.monotonic() - begun:.0f} s", flush=True)
    print(f"{changed} commands say something else" if changed else "the same bytes everywhere")
    return 1 if changed else 0


def main() -> int:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=["keep", "compare"])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--part", choices=PARTS, action="append", help="only this part; repeatable")
    parser.add_argument("--only", default="", help="only commands that hold this text")
    parser.add_argument("--first", action="store_true", help="stop at the first command that differs")
    parser.add_argument("--jobs", type=int, default=2)
    told = parser.parse_args()
    folder = told.folder.resolve()
    if told.what == "keep":
        return keep(folder, told.part or PARTS, told.jobs)
    return compare(folder, told.part or PARTS, told.jobs, told.only, told.first)


if __name__ == "__main__":
    sys.exit(main())
