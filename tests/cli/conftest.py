"""Running the program inside the test process, and one plan that many tests look at."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from deskmend.cli import deskmend
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.planning import plan as planning_plan
from deskmend.planning import prepared
from deskmend.planning.plan import Plan
from deskmend.planning.prepared import NoPlan, Prepared

ROOT = Path(__file__).resolve().parents[2]
CASE = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")
PRICES = str(ROOT / "catalog" / "prices" / "sample_eur.csv")

Run = Callable[..., Result]


def run_program(*arguments: str) -> Result:
    """Run the program; its stdout and stderr are kept apart."""
    return CliRunner().invoke(deskmend, list(arguments))


@pytest.fixture(scope="package", autouse=True)
def plans_kept() -> Iterator[None]:
    """Keep every plan found: many tests look at the same one, and each takes seconds to prove."""
    prepare, find = prepared.prepare, planning_plan.planned
    cases: dict[str, Prepared] = {}
    kept: dict[str, Plan | NoPlan] = {}

    def prepare_once(case: Case, catalog: Catalog, *rest: Any) -> Prepared:
        key = repr((case, catalog.folder, rest))
        if key not in cases:
            cases[key] = prepare(case, catalog, *rest)
        return cases[key]

    def find_once(ready: Prepared, *rest: Any, **more: Any) -> Plan:
        key = repr((id(ready), rest, sorted(more.items())))
        if key not in kept:
            try:
                kept[key] = find(ready, *rest, **more)
            except NoPlan as none:
                kept[key] = none
        found = kept[key]
        if isinstance(found, NoPlan):
            raise found
        return found

    patch = pytest.MonkeyPatch()
    patch.setattr(prepared, "prepare", prepare_once)
    patch.setattr(planning_plan, "planned", find_once)
    yield
    patch.undo()


@pytest.fixture
def run() -> Run:
    return run_program


@pytest.fixture(scope="session")
def plan_result() -> Result:
    return run_program("plan", CASE, "--json")


@pytest.fixture(scope="session")
def plan_document(plan_result: Result) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(plan_result.stdout)
    return document


@pytest.fixture(scope="session")
def plan_page() -> Result:
    return run_program("plan", CASE, "--steps")


@pytest.fixture(scope="session")
def assess_result() -> Result:
    return run_program("assess", CASE, "--json")
