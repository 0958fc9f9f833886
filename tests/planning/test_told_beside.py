"""What a plan and an assessment say beside their figures: what nobody measured, and which money counts."""

from __future__ import annotations

from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.assessment import assess, missing_measures
from deskmend.planning.dates import DEFAULT_MONTHS, Savings
from deskmend.planning.plan import _savings, plan
from deskmend.workstation.state import state_of


@pytest.mark.parametrize("key", ["slope", "surface", "depth"])
def test_what_nobody_told_of_a_seat_is_told_as_assumed(key: str) -> None:
    def assumed(case: dict[str, Any]) -> str:
        said = [
            one for one in missing_measures(state_of(made(**case))) if one.startswith("not told, so assumed")
        ]
        return " ".join(said)

    seat: dict[str, Any] = {
        "height": "415", "depth": "420", "surface": "foam", "slope": "flat", "back": "shaped", "base": "legs",
    }  # fmt: skip
    assert f"seat.{key}" not in assumed({"places__0__seat": seat})
    del seat[key]
    assert f"seat.{key}" in assumed({"places__0__seat": seat})


def test_a_plan_and_an_assessment_say_the_same_of_what_is_missing() -> None:
    case = made(places__0__seat={"height": "415"})
    missing = missing_measures(state_of(case))
    assert missing
    for told in (assess(case, CATALOG, SAMPLE).warnings, plan(case, CATALOG, SAMPLE, budget=0).warnings):
        assert [one for one in told if one in missing] == missing


def test_money_that_comes_in_counts_unless_a_budget_of_its_own_is_asked_about() -> None:
    case = made(means__saving_per_month="20.00", means__budget="5.00")
    # what the case tells
    assert _savings(case, None, None) == Savings(500, 2000, DEFAULT_MONTHS)
    # a budget asked about stands alone, with a saving that is asked about it begins there
    assert _savings(case, 700, None) is None
    assert _savings(case, 700, 300) == Savings(700, 300, DEFAULT_MONTHS)
    assert _savings(case, None, 300) == Savings(500, 300, DEFAULT_MONTHS)
    assert _savings(case, None, 0) is None
    assert _savings(made(), None, None) is None
