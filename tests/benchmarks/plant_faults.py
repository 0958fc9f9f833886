"""Plant single-line faults on purpose, and count how many the tests notice.

    python tests/benchmarks/plant_faults.py --list                        the 200 faults that seed 1 draws
    python tests/benchmarks/plant_faults.py --map FOLDER --resume FILE    plant them; go on where it was left
    python tests/benchmarks/plant_faults.py --map FOLDER --only choice    those whose name holds a text

The map says which tests execute which line. Give it a folder outside the project; where there is none yet it
is made first, for all floors (pytest-cov; some twice the time of their tests); it serves until much changes.

Each fault is planted in a copy of this folder, and the tests of its floor run up to the first that fails:
those that execute its line before the others, the quickest first. All tests are loaded once, and a fault in
a function is put into a forked child of that (see `trials`). Where no test notices it there, or where it
stands outside functions, it is written into its file and the same tests are loaded anew. Where these do not
notice it either, the recording has to say the same bytes as before. Only a test that passes without the fault
counts.

A fault is caught, hangs (a test did not end), has survived all of it, or is undecided where time ran out.
Faults are planted in an order drawn by the seed, so that those run so far are a fair sample. Survivors that
`changes_nothing.csv` names are counted apart: they change no output, for the reason that stands there.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from itertools import count
from multiprocessing.connection import Pipe
from pathlib import Path
from queue import Queue
from threading import Lock
from typing import IO

from executed import Executed, make
from planted import FLOORS, Fault, drawn, drawn_number, faults_of
from trials import Trial, Verdict

ROOT = Path(__file__).resolve().parents[2]
LEFT_BEHIND = shutil.ignore_patterns(".*", "__pycache__", "build", "dist")
HERE = Path(__file__).parent
TESTS = {
    "choice": ("tests/choice/",),
    "risk": ("tests/risk/", "tests/published/", "tests/scores/"),
    "grants": ("tests/grants/",),
    "planning": tuple(
        f"tests/{name}/" for name in ("planning", "goals", "compare", "sequence", "worth", "sure", "catalog")
    ),
    "workstation": ("tests/workstation/", "tests/scores/", "tests/planning/", "tests/catalog/"),
    "intake": ("tests/intake/", "tests/catalog/", "tests/cli/test_new_questions.py"),
}
"""Folders of tests that a floor's faults should be caught by."""
FOLDERS = tuple(sorted({name for names in TESTS.values() for name in names}))
PYTEST = ("-m", "pytest", "-q", "-n0", "-p", "no:cacheprovider", "-p", "trials")
LOADING = 1_800.0
"""Seconds in which all tests have to be collected."""
RECORD = ("-m", "tests.recording.record")
AGES = count(1)
"""Every file planted gets a time of its own, so that nobody takes what was compiled from another."""
RUNNING: set[int] = set()
"""Processes that end with this one, each with whatever it has started."""
VERDICTS = ("caught", "hangs", "survived", "undecided")


def copy_into(folder: Path) -> None:
    """Copy the project."""
    shutil.copytree(ROOT, folder, ignore=LEFT_BEHIND)


class Collected:
    """A pytest of its own that has collected tests of a copy, and runs them as often as it is asked."""

    def __init__(self, folder: Path, names: Sequence[str], seconds: float) -> None:
        self._said = folder.with_suffix(".said")
        self._asked, theirs = Pipe()
        arguments = [*PYTEST, f"--trials={theirs.fileno()}", f"--basetemp={folder}.tests", *names]
        with self._said.open("w", encoding="utf-8") as out:
            self._process = begin(folder, arguments, out, [theirs.fileno()])
        theirs.close()
        self.amiss = self._amiss(seconds)
        """What became of collecting, where it went wrong."""

    def _amiss(self, seconds: float) -> Verdict | None:
        if not self._asked.poll(seconds):
            return "hangs", "modules are loaded without end"
        try:
            unread = self._asked.recv()
        except EOFError:
            return "caught", f"nothing could be loaded: {self.said()[-200:]}"
        return ("caught", unread[0]) if unread else None

    def ask(self, trial: Trial) -> Verdict:
        """Verdict of tests."""
        if self.amiss is not None:
            return self.amiss
        self._asked.send(trial)
        try:
            return self._asked.recv()
        except EOFError:
            raise RuntimeError(f"the tests came to an end:\n{self.said()[-2000:]}") from None

    def said(self) -> str:
        """What pytest had to say."""
        return self._said.read_text(encoding="utf-8", errors="replace").strip()

    def __enter__(self) -> Collected:
        return self

    def __exit__(self, *_: object) -> None:
        self._asked.close()
        with suppress(ProcessLookupError):
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()
        RUNNING.discard(self._process.pid)


def begin(
    folder: Path, arguments: Sequence[str], out: IO[str] | int, files: Sequence[int] = ()
) -> subprocess.Popen[str]:
    """Begin to run Python with a copy of the project."""
    paths = [folder / "src", folder, HERE]
    process = subprocess.Popen(
        [sys.executable, *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(map(str, paths))},
        stdin=subprocess.DEVNULL,
        stdout=out,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        pass_fds=files,
    )
    RUNNING.add(process.pid)
    return process


class Yard:
    """A copy of the project to plant in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._sound: dict[str, bool] = {}
        copy_into(folder)

        self.loaded = Collected(folder, FOLDERS, LOADING)
        """All tests, with no fault in a file."""
        if self.loaded.amiss is not None:
            raise RuntimeError(f"tests cannot be collected:\n{self.loaded.said()[-2000:]}")

    def __enter__(self) -> Yard:
        return self

    def __exit__(self, *_: object) -> None:
        self.loaded.__exit__()

    def run(self, arguments: Sequence[str], seconds: float) -> tuple[int | None, str]:
        """Exit code, None where it took too long, and what was said."""
        child = begin(self.folder, arguments, subprocess.PIPE)
        try:
            said, _ = child.communicate(timeout=seconds)
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, signal.SIGKILL)
            child.communicate()
            return None, ""
        finally:
            RUNNING.discard(child.pid)
        return child.returncode, said

    @contextmanager
    def planted(self, fault: Fault) -> Iterator[None]:
        """The fault in its line for as long as it takes."""
        path = self.folder / fault.path
        text = path.read_text(encoding="utf-8")
        self._write(path, fault.written_in(text))
        try:
            yield
        finally:
            self._write(path, text)

    def _write(self, path: Path, text: str) -> None:
        path.write_text(text, encoding="utf-8")
        age = time.time() + next(AGES)
        os.utime(path, (age, age))

    def tested_loaded(self, fault: Fault, trial: Trial) -> Verdict:
        """Verdict of tests while the fault is put into what is loaded."""
        wrong = fault.written_in((self.folder / fault.path).read_text(encoding="utf-8"))
        return self._verdict(self.loaded, replace(trial, module=fault.module, wrong=wrong))

    def tested_anew(self, fault: Fault, trial: Trial) -> Verdict:
        """Verdict of the same tests where everything is loaded with the fault."""
        known = {name.partition("::")[0] for name in trial.places}
        files = {name.partition("::")[0] for name, place in trial.places.items() if place is not None}
        files |= {name for name in self._files(trial.folders) if name not in known}
        with self.planted(fault), Collected(self.folder, sorted(files), trial.seconds) as tests:
            return self._verdict(tests, trial)

    def _verdict(self, tests: Collected, trial: Trial) -> Verdict:
        """Verdict of tests that pass where nothing is wrong."""
        while True:
            verdict, by = tests.ask(trial)
            if verdict != "caught":
                return verdict, by
            if by not in self._sound:
                alone = Trial({}, (by,), trial.seconds, trial.hang)
                self._sound[by] = self.loaded.ask(alone)[0] == "survived"
            if self._sound[by]:
                return verdict, by
            trial = replace(trial, places={**trial.places, by: None})

    def _files(self, folders: Sequence[str]) -> list[str]:
        found = (self.folder / "tests").rglob("test_*.py")
        names = sorted(path.relative_to(self.folder).as_posix() for path in found)
        return [name for name in names if name.startswith(tuple(folders))]

    def keep(self, kept: Path, seconds: float) -> None:
        """Make the recording, once, while nothing is planted."""
        if not kept.exists():
            code, said = self.run([*RECORD, "keep", str(kept), "--part", "quick"], seconds)
            if code != 0:
                raise RuntimeError(f"the recording cannot be made:\n{said[-2000:]}")

    def recorded(self, kept: Path, seconds: float) -> Verdict:
        """Verdict of the quick part of the recording, and by what."""
        compare = ("compare", str(kept), "--part", "quick", "--jobs", "1", "--first")
        code, said = self.run([*RECORD, *compare], seconds)
        if code is None:
            return "undecided", "time ran out in the recording"
        return ("survived", "") if code == 0 else ("caught", f"recording: {_differs(said)}")


def _differs(said: str) -> str:
    found = re.search(r"^== (.*)", said, re.MULTILINE)
    return found[1][:200] if found else said.strip().rsplit("\n", 1)[-1][:200]


def summary(found: Sequence[dict[str, object]]) -> str:
    """Verdicts by floor, and whatever was not caught."""
    with open(HERE / "changes_nothing.csv", encoding="utf-8", newline="") as stream:
        reasons = {row["fault"]: row["reason"] for row in csv.DictReader(stream)}
    told = [
        one | {"verdict": "changes nothing"}
        if one["verdict"] != "caught" and one["fault"] in reasons
        else one
        for one in found
    ]
    columns = (*VERDICTS, "changes nothing")
    lines = [f"{'':12}" + "".join(f"{name:>17}" for name in columns)]
    for floor in (*FLOORS, "all"):
        counts = Counter(one["verdict"] for one in told if floor in (one["floor"], "all"))
        lines.append(f"{floor:12}" + "".join(f"{counts[name]:17}" for name in columns))
    noticeable = len(told) - sum(one["verdict"] == "changes nothing" for one in told)
    caught = sum(one["verdict"] == "caught" for one in told)
    lines.append(f"caught: {caught} of the {noticeable} that change something")
    lines += [f"{one['verdict']}: {one['fault']}" for one in told if one["verdict"] != "caught"]
    return "\n".join(lines)


def end(number: int, _: object) -> None:
    """End at once, as a signal asks, and leave nothing running."""
    for child in tuple(RUNNING):
        with suppress(ProcessLookupError):
            os.killpg(child, signal.SIGTERM)
    os._exit(128 + number)


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seed", type=int, default=1, help="what the list is drawn from")
    parser.add_argument("--count", type=int, default=200, help="faults on the list")
    parser.add_argument("--list", action="store_true", help="show the list and plant nothing")
    parser.add_argument("--only", default="", help="only faults whose name or kind holds this text")
    parser.add_argument("--first", type=int, help="only so many of them")
    parser.add_argument("--jobs", type=int, default=2, help="copies to plant in at once")
    parser.add_argument("--seconds", type=float, default=900.0, help="time for the tests of one fault")
    parser.add_argument("--hang", type=float, default=200.0, help="time after which one test hangs")
    parser.add_argument("--quick", action="store_true", help="leave for later what takes loading anew")
    parser.add_argument("--map", type=Path, help="folder of the map; made where there is none")
    parser.add_argument("--resume", type=Path, help="where verdicts are kept, one a line; the decided stand")
    told = parser.parse_args()

    faults = drawn(faults_of(ROOT), told.seed, told.count)
    faults = [one for one in faults if told.only in one.name or told.only in one.kind][: told.first]
    if told.list:
        print("\n".join(f"{one.kind:30} {one.name}" for one in faults))
        return
    if told.map is None:
        parser.error("say where the map is, or where to make it: --map FOLDER")
    folder = told.map.resolve()
    if not folder.exists():
        copy_into(folder / "project")
        make(folder, FOLDERS, told.jobs)
    executed = Executed(folder, ROOT)
    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    known = {}
    if told.resume is not None and told.resume.exists():
        lines = told.resume.read_text(encoding="utf-8").splitlines()
        known = {one["fault"]: one for one in map(json.loads, lines) if one["verdict"] != "undecided"}
    left = sorted(
        (one for one in faults if one.name not in known), key=lambda one: drawn_number(told.seed, one.name)
    )
    with (
        tempfile.TemporaryDirectory() as place,
        ExitStack() as ends,
        ThreadPoolExecutor(max(1, told.jobs)) as together,
    ):
        yards: Queue[Yard] = Queue()
        for number in range(min(told.jobs, len(left))):
            yards.put(ends.enter_context(Yard(Path(place) / f"copy{number}")))
        kept, keeping = Path(place) / "kept", Lock()

        def recorded(yard: Yard, fault: Fault) -> Verdict:
            with keeping:
                yard.keep(kept, 10 * told.seconds)
            with yard.planted(fault):
                return yard.recorded(kept, told.seconds)

        def plant(fault: Fault) -> dict[str, object]:
            begun = time.monotonic()
            yard = yards.get()
            tests = TESTS[fault.floor]
            trial = Trial(executed.places(fault, tests), tests, told.seconds, told.hang)
            verdict, by = yard.tested_loaded(fault, trial)
            if told.quick and verdict not in ("caught", "hangs"):
                verdict, by = "undecided", f"{verdict} {by}"
            elif verdict not in ("caught", "hangs"):
                verdict, by = yard.tested_anew(fault, trial)
                if verdict in ("survived", "undecided"):
                    again, seen = recorded(yard, fault)
                    verdict, by = (verdict, by) if again == "survived" else (again, seen)
            yards.put(yard)
            seconds = round(time.monotonic() - begun)
            named = {"fault": fault.name, "kind": fault.kind, "floor": fault.floor}
            return named | {"verdict": verdict, "by": by, "seconds": seconds}

        for task in as_completed([together.submit(plant, fault) for fault in left]):
            done = task.result()
            known[str(done["fault"])] = done
            print(f"{done['verdict']:9} {done['seconds']:4} s  {done['fault']}  {done['by']}", flush=True)
            if told.resume is not None:
                with told.resume.open("a", encoding="utf-8") as out:
                    out.write(json.dumps(done) + "\n")
    print(summary([known[one.name] for one in faults]))


if __name__ == "__main__":
    main()
