"""Two invented people: one who cannot stand, and one whose workplace needs nothing."""

from __future__ import annotations

import re
from functools import cache

import pytest
from tests.planning.cases import CATALOG, ROOT

from deskmend.intake.case_file import load_case
from deskmend.intake.prices import load_prices
from deskmend.planning.plan import Plan, plan
from deskmend.report.plan import plan_text

STANDING = re.compile(r"\b(gets? up|stand up|stand on it|step over|standing up)\b", re.IGNORECASE)


@cache
def planned(scenario: str) -> Plan:
    folder = ROOT / "scenarios" / scenario
    return plan(load_case(folder / "case.yaml"), CATALOG, load_prices(folder / "prices.csv"))


def test_a_workplace_that_fits_gets_no_step() -> None:
    found = planned("nothing_amiss")
    assert [step.option.with_name for step in found.steps] == []
    assert found.cost == 0


def test_who_cannot_stand_reads_of_no_standing() -> None:
    found = planned("seated_editor")
    folder = ROOT / "scenarios" / "seated_editor"
    text = plan_text(found, CATALOG, load_prices(folder / "prices.csv"))
    steps, reasons = text.split("For the assessor\n", maxsplit=1)
    assert STANDING.findall(steps) == []
    assert "The person cannot stand: stand_by_turns" in reasons
    ids = {step.option.fix.id for step in found.steps}
    assert not ids & {"stand_by_turns", "break_timer"}
    assert found.after.total < found.before.total


def test_nothing_is_planned_for_the_wheelchair_itself() -> None:
    changed = {e.change for step in planned("seated_editor").steps for e in step.option.fix.effects}
    assert not {name for name in changed if name.partition(".")[0] in ("seat", "back", "feet")}


@pytest.mark.parametrize("part", ["height is told", "mean hours a working day"])
def test_what_is_taken_otherwise_than_told_is_said(part: str) -> None:
    assert any(part in warning for warning in planned("seated_editor").warnings)


def test_beside_a_place_that_fits_no_advice_says_to_change_it() -> None:
    found = planned("nothing_amiss")
    folder = ROOT / "scenarios" / "nothing_amiss"
    text = plan_text(found, CATALOG, load_prices(folder / "prices.csv"))
    assert "This place fits. Change nothing" in text
    said = {one.title for one in CATALOG.advice if one.title in text}
    assert said == {one.title for one in CATALOG.advice if not one.where_amiss}
    assert "Borrow or swap a chair" not in text
