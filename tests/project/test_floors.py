"""Data flows one way: a module imports from its own floor and those below, never upwards or in a ring."""

from __future__ import annotations

import re
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from .source_tree import PACKAGE, ROOT, Import, imports_of, module_files, package_imports

FLOORS: tuple[tuple[str, ...], ...] = (
    ("errors", "language", "measures", "published", "progress", "processes"),
    ("intake",),
    ("picture",),
    ("workstation",),
    ("risk",),
    ("choice",),
    ("planning",),
    ("grants",),
    ("casebook",),
    ("report",),
    ("local_page",),
    ("cli", "api", "__main__", ""),
)
"""From the ground up; "" is the package itself."""
RANK = {part: rank for rank, floor in enumerate(FLOORS) for part in floor}
FOUNDATIONS = set(FLOORS[0])


def part_of(module: str) -> str:
    return [*module.split("."), ""][1]


def inside(found: Import) -> bool:
    return found.target.split(".")[0] == PACKAGE


def test_every_module_has_a_floor() -> None:
    assert sorted({part_of(name) for name in module_files()} - set(RANK)) == []


def test_no_import_climbs() -> None:
    climbing = [
        f"{found.importer}:{found.line} imports {found.target}"
        for found in package_imports()
        if inside(found) and RANK[part_of(found.target)] > RANK[part_of(found.importer)]
    ]
    assert climbing == []


def test_choice_knows_nothing_of_desks() -> None:
    allowed = {"choice", *FOUNDATIONS}
    found = [one for one in package_imports() if part_of(one.importer) == "choice" and inside(one)]
    assert found
    assert [f"{one.importer}:{one.line}" for one in found if part_of(one.target) not in allowed] == []


def test_no_ring_of_imports() -> None:
    graph: dict[str, set[str]] = {name: set() for name in module_files()}
    for found in package_imports():
        if inside(found) and found.target != found.importer:
            graph[found.importer].add(found.target)
    try:
        order = tuple(TopologicalSorter(graph).static_order())
    except CycleError as ring:
        pytest.fail(f"ring of imports: {' -> '.join(reversed(ring.args[1]))}")
    assert len(order) == len(graph)


def test_foreign_libraries_stay_on_their_floor() -> None:
    """YAML is read in intake, the command line is in cli, the solver in choice, and nowhere else."""
    yaml = {part_of(one.importer) for one in package_imports() if one.target == "yaml"}
    click = {part_of(one.importer) for one in package_imports() if one.target.split(".")[0] == "click"}
    solver = {
        part_of(one.importer) for one in package_imports() if one.target.split(".")[0] in ("pulp", "highspy")
    }
    assert (yaml, click, solver) == ({"intake"}, {"cli"}, {"choice"})


def test_the_solver_stands_behind_one_wrapper() -> None:
    users = {one.importer for one in package_imports() if one.target.split(".")[0] in ("pulp", "highspy")}
    assert users == {"deskmend.choice.program.solver"}


def test_the_guide_shows_these_floors() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    picture = re.search(r"<!-- floors -->\n```text\n(.*?)```", text, re.DOTALL)
    assert picture is not None
    shown = [line.split("  ")[0].split() for line in picture[1].splitlines() if line and line[0] != " "]
    named = [[part for part in floor if part] for floor in FLOORS]
    assert shown == list(reversed(named))


def test_imports_are_found_wherever_they_stand(tmp_path: Path) -> None:
    """The reading of imports itself: in functions, for types, relative, by name."""
    path = tmp_path / "sample.py"
    path.write_text(
        "import numpy as np\n"
        "from deskmend import measures\n"
        "from typing import TYPE_CHECKING\n"
        "if TYPE_CHECKING:\n    from deskmend.report import words\n"
        "def late():\n    from . import cli\n    import_module('deskmend.api')\n",
        encoding="utf-8",
    )
    found = {(one.target, one.at_load) for one in imports_of(path, "deskmend.sample")}
    assert found == {
        ("numpy", True),
        ("deskmend.measures", True),
        ("typing", True),
        ("deskmend.report.words", False),
        ("deskmend.cli", False),
        ("deskmend.api", False),
    }
