"""Every scenario's plan against a solver of another family: OR-Tools CP-SAT on the same integers."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.choice.cpsat import cpsat_best
from tests.planning.cases import CATALOG, SCENARIOS
from tests.stages import some

from deskmend.choice import solve
from deskmend.intake.case_file import load_case
from deskmend.intake.prices import load_prices
from deskmend.planning.ready_case import prepare

PATIENCE = 900.0
"""Most seconds for one proof of the oracle; it fails rather than give an answer that is not proven."""


@pytest.mark.parametrize("folder", some(SCENARIOS, "counter_calls"), ids=lambda folder: folder.name)
def test_plan_is_what_another_solver_finds(folder: Path) -> None:
    case, prices = load_case(folder / "case.yaml"), load_prices(folder / "prices.csv")
    problem = prepare(case, CATALOG, prices).problem(case.means.budget, case.means.minutes)
    ours = solve(problem)
    assert ours.proven
    assert cpsat_best(problem, PATIENCE) == (ours.value, ours.cost)
