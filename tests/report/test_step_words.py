"""What a step says: how it begins where things are as they are, and evidence with what speaks against it."""

from __future__ import annotations

import pytest
from tests.planning.cases import CATALOG, made

from deskmend.api import load_catalog
from deskmend.intake.catalog_records import EvidenceNote
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.selection import state_with
from deskmend.report.catalog import evidence_line
from deskmend.report.steps import how_text
from deskmend.report.steps import said as said_of
from deskmend.workstation.effects import changes_of
from deskmend.workstation.state import state_of


def note(grade: str, verdict: str) -> EvidenceNote:
    return EvidenceNote.model_validate(
        {"source": "any", "finding": "Found.", "grade": grade, "tested": "near", "verdict": verdict}
    )


def test_a_finding_against_never_lends_its_grade_to_the_fix() -> None:
    line = evidence_line((note("A", "no_benefit_shown"), note("C", "helps")))
    assert line.startswith("1 finding for it of grade C")
    assert "no benefit shown in 1 of grade A" in line


def test_a_fix_with_findings_against_alone_says_so() -> None:
    line = evidence_line((note("B", "was_placebo"),))
    assert line == "No finding that it helps; used as the dummy treatment in 1 of grade B."


def test_no_evidence_is_said() -> None:
    assert evidence_line(()) == "No study."


def test_every_fix_of_the_catalog_has_a_line() -> None:
    lines = [evidence_line(fix.evidence) for fix in load_catalog().fixes]
    assert all(line.endswith(".") for line in lines)
    assert any("no benefit shown" in line for line in lines)


@pytest.mark.parametrize(
    ("rest", "name", "said"),
    [("foot_bar", "feet_book", True), ("floor", "feet_book", False), ("foot_bar", "feet_bar", False)],
)
def test_feet_come_off_the_bar_before_they_stand_on_something_else(rest: str, name: str, said: bool) -> None:
    desk = {"height": "740", "underside": "700", "depth": "650", "foot_bar": "140", "foot_bar_setback": "260"}
    before = state_of(made(places__0__desk=desk, places__0__feet_on=rest))
    fix, owner = CATALOG.by_id[name], ("place", "den")
    size = None if fix.size is None else 80.0
    changes = changes_of(fix, owner, size, before)
    option = OptionSpec(name, fix, owner, size, (), changes, None, {})
    after = state_with(before, [option])
    lines = how_text(option, before, after)
    first = "Take the feet off the bar under the desk, and set them down in front of it."
    assert (first in lines) == said
    assert lines[said:] == said_of(fix.how, option, after)
