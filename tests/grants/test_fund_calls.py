"""A fund that goes on by the Python calls: rounds in a ledger, a cap over all of them, a folder checked."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import deskmend
from deskmend.errors import InputFaults
from deskmend.intake.applicants import ApplicantTable
from deskmend.intake.ledger import load_ledger
from deskmend.report.letter import letter
from deskmend.report.not_given import CAPPED_BEFORE_THIS_TIME

from .fund_people import CATALOG, PRICES, table


def people() -> ApplicantTable:
    """One person whom more than one plan helps."""
    return replace(table(), people=tuple(row for row in table().people if row.id == "cora-03"))


def test_rounds_go_into_a_ledger_and_count_for_a_cap_over_all_of_them(tmp_path: Path) -> None:
    ledger, first, second = (tmp_path / name for name in ("ledger.jsonl", "first", "second"))
    one = deskmend.allocate(
        people(), CATALOG, PRICES, fund=10, cap_in_all=5, ledger=ledger, out=first, every_gain=True
    )
    assert 0 < one.handed.cost <= 500
    deskmend.check_allocation(first, ledger)
    only_read = deskmend.allocate(people(), CATALOG, PRICES, fund=100, ledger=ledger, every_gain=True)
    assert only_read.handed.cost > 500
    assert len(load_ledger(ledger).rounds) == 1
    two = deskmend.allocate(
        people(), CATALOG, PRICES, fund=100, cap_in_all=5, ledger=ledger, out=second, every_gain=True
    )
    assert one.handed.cost + two.handed.cost <= 500
    assert [waiting.why for waiting in two.allocation.waiting] == ["cap"]
    assert CAPPED_BEFORE_THIS_TIME in " ".join(letter(two, "cora-03", CATALOG).split())
    deskmend.check_allocation(second, ledger)
    assert deskmend.undo_round(ledger) == 2
    with pytest.raises(InputFaults, match="no round that counts"):
        deskmend.check_allocation(second, ledger)
    deskmend.check_allocation(second)
    assert deskmend.undo_round(ledger) == 1
    with pytest.raises(InputFaults, match="a round that counts"):
        deskmend.undo_round(ledger)


def test_a_folder_that_is_there_and_two_memories_are_refused_before_anything_is_worked_out(
    tmp_path: Path,
) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "file").write_text("x")
    with pytest.raises(InputFaults, match="is not empty"):
        deskmend.allocate(people(), CATALOG, PRICES, fund=10, out=tmp_path / "there")
    with pytest.raises(InputFaults, match="knows all rounds"):
        deskmend.allocate(people(), CATALOG, PRICES, fund=10, ledger=tmp_path / "a", already=tmp_path / "b")
