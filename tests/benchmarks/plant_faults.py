"""Plant single-line faults on purpose, and count how many the tests notice.

    python tests/benchmarks/plant_faults.py --list                    the 200 faults that seed 1 draws
    python tests/benchmarks/plant_faults.py --resume found.jsonl      plant them; go on where it was left
    python tests/benchmarks/plant_faults.py --only choice.hull        those whose name holds a text

Each fault is planted in a copy of this folder. First run the tests of the floor that it stands in, up to
the first that fails; where none does, the quick part of the recording has to say the same bytes as before.
A fault is caught, has survived both, or is undecided where time ran out. Some survivors change nothing that
can be seen (a bound that is only looser, a shortcut not taken); whoever reads the list has to say which.
"""

from __future__ import annotations

import argparse
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
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from queue import Queue

from planted import FLOORS, Fault, drawn, faults_of

ROOT = Path(__file__).resolve().parents[2]
LEFT_BEHIND = shutil.ignore_patterns(".*", "__pycache__", "build", "dist")
TESTS = {
    "choice": ("choice",),
    "risk": ("risk", "published", "scores"),
    "grants": ("grants",),
    "planning": ("planning", "goals", "compare", "sequence", "worth", "sure"),
    "workstation": ("workstation", "scores", "planning", "catalog"),
    "intake": ("intake", "catalog", "cli/test_new_questions.py"),
}
"""Folders of tests that a floor's faults should be caught by."""
PYTEST = ("-m", "pytest", "-q", "-x", "-n0", "-p", "no:cacheprovider", "-m", "not thorough")
RECORD = ("-m", "tests.recording.record")
AGES = count(1)
"""Every file planted gets a time of its own, so that nobody takes what was compiled from another."""


class Yard:
    """A copy of the project to plant in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        shutil.copytree(ROOT, folder, ignore=LEFT_BEHIND)

    def run(self, arguments: Sequence[str], seconds: float) -> tuple[int | None, str]:
        """Exit code, None where it took too long, and what was said."""
        child = subprocess.Popen(
            [sys.executable, *arguments],
            cwd=self.folder,
            env={**os.environ, "PYTHONPATH": f"{self.folder / 'src'}{os.pathsep}{self.folder}"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        try:
            said, _ = child.communicate(timeout=seconds)
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, signal.SIGKILL)
            child.communicate()
            return None, ""
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

    def verdict(self, fault: Fault, kept: Path, seconds: float) -> dict[str, object]:
        """What became of a fault, by what, and how long that took [s]."""
        begun = time.monotonic()
        folders = [f"tests/{name}" for name in TESTS[fault.floor] if (self.folder / "tests" / name).exists()]
        with self.planted(fault):
            code, said = self.run([*PYTEST, *folders], seconds)
            verdict, by = "undecided", "time ran out"
            if code not in (0, None):
                verdict, by = "caught", _failed(said)
            else:
                again, said = self.run(
                    [*RECORD, "compare", str(kept), "--part", "quick", "--jobs", "1"], seconds
                )
                if again not in (0, None):
                    verdict, by = "caught", f"recording: {_differs(said)}"
                elif code == again == 0:
                    verdict, by = "survived", ""
        return {"fault": fault.name, "kind": fault.kind, "floor": fault.floor} | {
            "verdict": verdict,
            "by": by,
            "seconds": round(time.monotonic() - begun),
        }


def _failed(said: str) -> str:
    found = re.search(r"^(?:FAILED|ERROR) (\S+)", said, re.MULTILINE)
    return found[1] if found else said.strip().rsplit("\n", 1)[-1][:200]


def _differs(said: str) -> str:
    found = re.search(r"^== (.*)", said, re.MULTILINE)
    return found[1][:200] if found else said.strip().rsplit("\n", 1)[-1][:200]


def sound(yard: Yard, kept: Path, floors: Sequence[str], seconds: float) -> None:
    """Stop unless everything passes in time while nothing is planted."""
    for floor in floors:
        begun = time.monotonic()
        folders = [f"tests/{name}" for name in TESTS[floor] if (yard.folder / "tests" / name).exists()]
        code, said = yard.run([*PYTEST, *folders], seconds)
        if code != 0:
            sys.exit(f"tests of {floor} do not pass in {seconds:.0f} s with nothing planted:\n{said[-2000:]}")
        print(f"nothing planted, tests of {floor}: {time.monotonic() - begun:.0f} s", flush=True)
    code, said = yard.run([*RECORD, "keep", str(kept), "--part", "quick"], 10 * seconds)
    if code != 0:
        sys.exit(f"the recording cannot be made:\n{said[-2000:]}")


def summary(found: Sequence[dict[str, object]]) -> str:
    """Verdicts by floor, and whatever was not caught."""
    counts = Counter((one["floor"], one["verdict"]) for one in found)
    lines = [f"{'':12}  caught  survived  undecided"]
    for floor in FLOORS:
        row = [counts[floor, verdict] for verdict in ("caught", "survived", "undecided")]
        if any(row):
            lines.append(f"{floor:12}  {row[0]:6}  {row[1]:8}  {row[2]:9}")
    whole = Counter(one["verdict"] for one in found)
    lines.append(f"{'all':12}  {whole['caught']:6}  {whole['survived']:8}  {whole['undecided']:9}")
    lines += [f"{one['verdict']}: {one['fault']}" for one in found if one["verdict"] != "caught"]
    return "\n".join(lines)


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
    parser.add_argument("--seconds", type=float, default=300.0, help="time for the tests of one fault")
    parser.add_argument("--resume", type=Path, help="where verdicts are kept, one a line; those in it stand")
    told = parser.parse_args()

    faults = drawn(faults_of(ROOT), told.seed, told.count)
    faults = [one for one in faults if told.only in one.name or told.only in one.kind][: told.first]
    if told.list:
        print("\n".join(f"{one.kind:30} {one.name}" for one in faults))
        return
    known = {}
    if told.resume is not None and told.resume.exists():
        lines = told.resume.read_text(encoding="utf-8").splitlines()
        known = {one["fault"]: one for one in map(json.loads, lines)}
    left = [one for one in faults if one.name not in known]
    with tempfile.TemporaryDirectory() as folder:
        yards: Queue[Yard] = Queue()
        for number in range(min(told.jobs, len(left))):
            yards.put(Yard(Path(folder) / f"copy{number}"))
        kept = Path(folder) / "kept"
        if left:
            floors = [floor for floor in FLOORS if any(one.floor == floor for one in left)]
            sound(yards.queue[0], kept, floors, told.seconds)

        def plant(fault: Fault) -> dict[str, object]:
            yard = yards.get()
            try:
                return yard.verdict(fault, kept, told.seconds)
            finally:
                yards.put(yard)

        with ThreadPoolExecutor(max(1, told.jobs)) as together:
            for done in together.map(plant, left):
                known[str(done["fault"])] = done
                print(f"{done['verdict']:9} {done['seconds']:4} s  {done['fault']}  {done['by']}", flush=True)
                if told.resume is not None:
                    with told.resume.open("a", encoding="utf-8") as out:
                        out.write(json.dumps(done) + "\n")
    print(summary([known[one.name] for one in faults]))


if __name__ == "__main__":
    main()
