"""Which tests execute which lines, recorded once in a folder outside the project: `make` and `Executed`.

The folder holds a copy of the project as it was then, what coverage saw in it, and how long each test took.
Faults are found in it by name, so the map serves on when lines move; tests of files that are new or changed
run first.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from planted import Fault, faults_of


def make(folder: Path, tests: Sequence[str], jobs: int) -> None:
    """Run tests of the copy in a folder with coverage; some twice as long as without."""
    project = folder / "project"
    command = ["pytest", "-q", f"-n{jobs}", "-p", "no:cacheprovider", *tests, f"--cov={project / 'src'}"]
    command += ["--cov-context=test", "--cov-report=", f"--junitxml={folder / 'times.xml'}"]
    path = os.pathsep.join(map(str, (project / "src", project)))
    subprocess.run(
        [sys.executable, "-m", *command, "-o", "junit_family=xunit1"],
        cwd=project,
        env={**os.environ, "PYTHONPATH": path, "COVERAGE_FILE": str(folder / "lines")},
        check=True,
    )


class Executed:
    """The map of a folder, as far as the tests of a project are still the same."""

    def __init__(self, folder: Path, root: Path) -> None:
        from coverage import CoverageData

        self.project = folder / "project"
        self._data = CoverageData(str(folder / "lines"))
        self._data.read()
        self._measured = {path.rpartition("/src/")[2]: path for path in self._data.measured_files()}
        self._known = {one.name: one for one in faults_of(self.project)}
        cases = ElementTree.parse(folder / "times.xml").iter("testcase")
        self.seconds = {
            f"{case.get('file')}::{case.get('name')}": float(case.get("time", 0))
            for case in cases
            if self._stands(root, str(case.get("file")))
        }

    def _stands(self, root: Path, file: str) -> bool:
        now, then = root / file, self.project / file
        return now.exists() and now.read_bytes() == then.read_bytes()

    def places(self, fault: Fault, tests: Sequence[str]) -> dict[str, int | None]:
        """Place of each known test of some folders in the row that a fault is run through; None is left out.

        First come the tests that execute its statement, then the others of their files, since what a fixture
        made for one is seen by all.  The rest have something to say only where it ran while modules were
        loaded, or where nobody is known to have executed it.  Each time the quickest come first.
        """
        known = [name for name in self.seconds if name.startswith(tuple(tests))]
        executing = self._executing(fault)
        files = {name.partition("::")[0] for name in executing.intersection(known)}
        every = "" in executing or not files
        ranks = {
            name: 0 if name in executing else 1 if name.partition("::")[0] in files else 2 for name in known
        }
        row = sorted(known, key=lambda name: (ranks[name], self.seconds[name]))
        return {name: place if every or ranks[name] < 2 else None for place, name in enumerate(row)}

    def _executing(self, fault: Fault) -> set[str]:
        """Tests that execute the statement; an empty name where modules were loaded."""
        then = self._known.get(fault.name)
        if then is None:
            return set()
        lines = self._contexts(then.path)
        first, last = _statement(self.project / then.path, then.number)
        named = {name for number in range(first, last + 1) for name in lines.get(number, ())}
        return {name.rpartition("|")[0] for name in named}

    @cache  # noqa: B019  one map lives as long as the program
    def _contexts(self, path: str) -> dict[int, list[str]]:
        measured = self._measured.get(path.removeprefix("src/"))
        return {} if measured is None else self._data.contexts_by_lineno(measured)


def _statement(path: Path, number: int) -> tuple[int, int]:
    """First and last line of the innermost statement around a line, without the statements inside it."""
    lines = (number, number)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.stmt) and node.lineno <= number <= (node.end_lineno or 0):
            inner = [one.lineno for one in ast.walk(node) if isinstance(one, ast.stmt) and one is not node]
            lines = (node.lineno, max(node.lineno, min(inner) - 1) if inner else node.end_lineno or number)
    return lines
