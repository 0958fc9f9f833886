"""Evidence is told with what speaks against it."""

from __future__ import annotations

from deskmend.api import load_catalog
from deskmend.intake.catalog_records import EvidenceNote
from deskmend.report.evidence import evidence_line


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
