"""Plant single-line faults on purpose, and count how many the tests notice.

    python tests/benchmarks/plant_faults.py --list                        the 200 faults that seed 1 draws
    python tests/benchmarks/plant_faults.py --map FOLDER --resume FILE    plant them; go on where it was left
    python tests/benchmarks/plant_faults.py --map FOLDER --only choice    those whose name holds a text

The map says which tests execute which line. Give it a folder outside the project; where there is none yet it
is made first, for all floors (pytest-cov; some twice the time of their tests); it serves until much changes.

Each fault is planted in a copy of this folder. The tests of its floor that execute its line run first, the
quickest before the others, up to the first that fails. Where none does, the recording has to say the same
bytes as before. A fault is caught, hangs (a test did not end), has survived both, or is undecided where time
ran out. They are planted in an order drawn by the seed, so that those run so far are a fair sample. Survivors
that `changes_nothing.csv` names are counted apart: they change no output, for the reason that stands there.
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
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from queue import Queue
from threading import Lock

from executed import Executed, make
from planted import FLOORS, Fault, drawn, drawn_number, faults_of

ROOT = Path(__file__).resolve().parents[2]
LEFT_BEHIND = shutil.ignore_patterns(".*", "__pycache__", "build", "dist")
HERE = Path(__file__).parent
TESTS = {
    "choice": ("tests/choice/",),
    "risk": ("tests/risk/", "tests/published/", "tests/scores/"),
    "grants": ("tests/grants/",),
    "planning": tuple(
        f"tests/{name}/" for name in ("planning", "goals", "compare", "sequence", "worth", "sure")
    ),
    "workstation": ("tests/workstation/", "tests/scores/", "tests/planning/", "tests/catalog/"),
    "intake": ("tests/intake/", "tests/catalog/", "tests/cli/test_new_questions.py"),
}
"""Folders of tests that a floor's faults should be caught by."""
PYTEST = ("-m", "pytest", "-q", "-x", "-n0", "-p", "no:cacheprovider", "-p", "executed")
NO_TESTS = 5
RECORD = ("-m", "tests.recording.record")
AGES = count(1)
"""Every file planted gets a time of its own, so that nobody takes what was compiled from another."""
Places = Mapping[str, int | None]
Verdict = tuple[str, str]
"""What became of a fault, and by what."""
RUNNING: set[int] = set()
"""Processes that end with this one, each with whatever it has started."""
VERDICTS = ("caught", "hangs", "survived", "undecided")


class Yard:
    """A copy of the project to plant in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        shutil.copytree(ROOT, folder, ignore=LEFT_BEHIND)

    def run(self, arguments: Sequence[str], seconds: float) -> tuple[int | None, str]:
        """Exit code, None where it took too long, and what was said."""
        paths = [self.folder / "src", self.folder, self.folder / "tests" / "benchmarks"]
        child = subprocess.Popen(
            [sys.executable, *arguments],
            cwd=self.folder,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(map(str, paths))},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        RUNNING.add(child.pid)
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
        lines = text.split("\n")
        line = lines[fault.number - 1]
        indent = line[: len(line) - len(line.lstrip())]
        lines[fault.number - 1] = indent + fault.wrong
        self._write(path, "\n".join(lines))
        try:
            yield
        finally:
            self._write(path, text)

    def _write(self, path: Path, text: str) -> None:
        path.write_text(text, encoding="utf-8")
        age = time.time() + next(AGES)
        os.utime(path, (age, age))

    def tested(self, places: Places, tests: Sequence[str], seconds: float, hang: float) -> Verdict:
        """Verdict of tests in their places, after all those of files not known; none may take too long."""
        known = {name.partition("::")[0] for name in places}
        files = {name.partition("::")[0] for name, place in places.items() if place is not None}
        files |= {name for name in self._files(tests) if name not in known}
        if not files:
            return "survived", ""
        order = self.folder / "places.json"
        order.write_text(json.dumps(places), encoding="utf-8")
        hanging = ["-o", f"faulthandler_timeout={hang}", "-o", "faulthandler_exit_on_timeout=true"]
        code, said = self.run([*PYTEST, f"--places={order}", *hanging, *sorted(files)], seconds)
        if code is None:
            return "undecided", "time ran out"
        if code in (0, NO_TESTS):
            return "survived", ""
        return ("hangs" if "Timeout (" in said else "caught"), _failed(said)

    def _files(self, tests: Sequence[str]) -> list[str]:
        found = (self.folder / "tests").rglob("test_*.py")
        names = sorted(path.relative_to(self.folder).as_posix() for path in found)
        return [name for name in names if name.startswith(tuple(tests))]

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


def _failed(said: str) -> str:
    found = re.search(r"^(?:FAILED|ERROR) (\S+)", said, re.MULTILINE)
    found = found or re.search(r'File ".*/(tests/.*/test_.*", line .*)', said)
    return found[1] if found else said.strip().rsplit("\n", 1)[-1][:200]


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
    lines += [f"{one['verdict']}: {one['fault']}" for one in told if one["verdict"] != "caught"]
    return "\n".join(lines)


def end(number: int, _: object) -> None:
    """End at once, as a signal asks, and leave nothing running."""
    for child in tuple(RUNNING):
        os.killpg(child, signal.SIGKILL)
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
    parser.add_argument("--tests-only", action="store_true", help="leave the recording for later")
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
        Yard(folder / "project")
        make(folder, sorted({name for names in TESTS.values() for name in names}), told.jobs)
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
    with tempfile.TemporaryDirectory() as place, ThreadPoolExecutor(max(1, told.jobs)) as together:
        yards: Queue[Yard] = Queue()
        for number in range(min(told.jobs, len(left))):
            yards.put(Yard(Path(place) / f"copy{number}"))
        kept, keeping = Path(place) / "kept", Lock()

        def plant(fault: Fault) -> dict[str, object]:
            begun = time.monotonic()
            yard = yards.get()
            tests = TESTS[fault.floor]
            with yard.planted(fault):
                verdict, by = yard.tested(executed.places(fault, tests), tests, told.seconds, told.hang)
            if verdict in ("survived", "undecided"):
                if told.tests_only:
                    verdict, by = "undecided", by or "the recording was not asked"
                else:
                    with keeping:
                        yard.keep(kept, 10 * told.seconds)
                    with yard.planted(fault):
                        again, seen = yard.recorded(kept, told.seconds)
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
