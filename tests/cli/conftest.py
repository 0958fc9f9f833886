"""Running the program inside the test process, and one plan that many tests look at."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from deskmend.cli import deskmend

ROOT = Path(__file__).resolve().parents[2]
CASE = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")
PRICES = str(ROOT / "catalog" / "prices" / "sample_eur.csv")

Run = Callable[..., Result]


def run_program(*arguments: str) -> Result:
    """Run the program; its stdout and stderr are kept apart."""
    return CliRunner().invoke(deskmend, list(arguments))


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
