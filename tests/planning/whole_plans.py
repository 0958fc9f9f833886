"""Whole plans of scenarios and of drawn cases, for tests of what is told of them."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, SCENARIOS
from tests.planning.whole_cases import whole_case
from tests.stages import draws, some

from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.planning.plan import NoPlan, Plan, plan

BUDGETS = (800, 3000, 12000)
"""Money of drawn cases [cents], by turns."""


def drawn() -> list[Any]:
    """Seeds of drawn cases: few in the first stage; more in the second."""
    return [pytest.param(seed, marks=pytest.mark.both, id=f"drawn-{seed}") for seed in draws(1)]


WHOSE = [*some(SCENARIOS, "kitchen_books", "counter_calls"), *drawn()]


@cache
def planned(whose: Any) -> tuple[Case, PriceTable, Plan]:
    """A scenario by its folder, with the means it tells, or a drawn case by its seed; skips what has none."""
    if isinstance(whose, int):
        case, prices, budget = whole_case(whose)[0], SAMPLE, BUDGETS[whose % len(BUDGETS)]
    else:
        case, prices, budget = load_case(whose / "case.yaml"), load_prices(whose / "prices.csv"), None
    try:
        # of drawn cases the best itself: the distinct plans are looked at in test_frontier.py
        return case, prices, plan(case, CATALOG, prices, budget, every_gain=isinstance(whose, int))
    except NoPlan:
        pytest.skip("there is no plan within its limits")
