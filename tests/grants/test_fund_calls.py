"""A fund that goes on by the Python calls: rounds in a ledger, a cap over all of them, a folder checked."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

import deskmend
from deskmend.cli import deskmend as command
from deskmend.errors import InputFaults
from deskmend.intake.applicants import ApplicantTable, Decided
from deskmend.intake.ledger import load_ledger, state_of_ledger
from deskmend.planning.ready_case import NoPlan
from deskmend.report.letter import letter
from deskmend.report.not_given import CAPPED_BEFORE_THIS_TIME, NOT_THIS_TIME

from .fund_people import CATALOG, PRICES, rows, table


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


def test_what_a_group_was_given_counts_for_its_cap_in_all_rounds(tmp_path: Path) -> None:
    """Cora has the money of her group; who comes from it in a later round, without her, is told so."""
    ledger, rows = tmp_path / "ledger.jsonl", {row.id: row for row in table().people}
    only = {name: replace(rows[name], group="shop") for name in ("cora-03", "fumi-06")}
    first = deskmend.allocate(
        replace(table(), people=(only["cora-03"],)),
        CATALOG,
        PRICES,
        fund=30,
        group_cap={"shop": "30.00"},
        ledger=ledger,
        out=tmp_path / "first",
    )
    assert first.handed.cost > 1500
    later = replace(table(), people=(only["fumi-06"],))
    capped = deskmend.allocate(later, CATALOG, PRICES, fund=100, group_cap={"shop": 30}, ledger=ledger)
    alone = deskmend.allocate(later, CATALOG, PRICES, fund=100, ledger=ledger)
    assert capped.handed.cost <= 3000 - first.handed.cost < alone.handed.cost
    assert [one.why for one in capped.allocation.waiting] == ["group_cap"]
    assert NOT_THIS_TIME["group_cap"] in " ".join(letter(capped, "fumi-06", CATALOG).split())
    with pytest.raises(InputFaults, match="did you mean shop"):
        deskmend.allocate(later, CATALOG, PRICES, fund=100, group_cap={"shopp": 30})


def test_call_and_command_write_the_same_and_the_command_in_the_record_shares_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = Path(table().file).read_text(encoding="utf-8").splitlines(keepends=True)
    few = [line for line in lines if line.startswith(("cora-03", "fumi-06"))]
    (tmp_path / "people.csv").write_text("".join([*lines[:2], *few]), encoding="utf-8")
    shutil.copy(PRICES.path, tmp_path / "market.csv")
    market, group = deskmend.load_prices(tmp_path / "market.csv"), rows()["cora-03"].group
    assert group is not None
    deskmend.allocate(
        tmp_path / "people.csv",
        prices=market,
        fund="60.00",
        cap="20.00",
        group_cap={group: "40.00"},
        out=tmp_path / "call",
        letters=True,
        contact="Ada, 555-0100",
        reasons="each",
    )
    decision = json.loads((tmp_path / "call" / "decision.json").read_text(encoding="utf-8"))
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(command, [*decision["command"][1:], "--out", "again", "--quiet"])
    assert told.exit_code == 0, told.output
    names = [path.relative_to("call") for path in sorted(Path("call").rglob("*")) if path.is_file()]
    assert Path("letters/letter_cora-03.txt") in names
    for name in names:
        assert (Path("call") / name).read_bytes() == (Path("again") / name).read_bytes(), name


def test_entries_and_striking_out_go_into_the_ledger(tmp_path: Path) -> None:
    ledger, entries = tmp_path / "ledger.jsonl", tmp_path / "entries.csv"
    given = deskmend.allocate(people(), CATALOG, PRICES, fund=10, ledger=ledger, out=tmp_path / "first")
    assert given.handed.cost > 0
    entries.write_text("entry,id,amount\nrefund,cora-03,1.50\nleave,cora-03,\n", encoding="utf-8")
    deskmend.add_entries(ledger, entries, CATALOG)
    assert state_of_ledger(load_ledger(ledger)).spent == given.handed.cost - 150
    deskmend.strike_out(ledger, "cora-03")
    assert "cora-03" not in ledger.read_text(encoding="utf-8")
    assert state_of_ledger(load_ledger(ledger)).spent == given.handed.cost - 150
    with pytest.raises(InputFaults, match="the id of somebody in the ledger"):
        deskmend.strike_out(ledger, "cora-03")


def test_what_cannot_be_kept_is_named_and_nothing_else() -> None:
    """A strap of 2.60 decided for Gil, in a fund, under a cap of the group, and beside a floor."""
    decided = Decided(fixed=("back_strap",), reason="a hardship")
    gil = replace(table(), people=(replace(rows()["gil-07"], decided=decided),))
    asked: list[tuple[dict[str, object], set[str]]] = [
        ({"fund": 1}, {"gil-07"}),
        ({"fund": 100, "group_cap": {"school": 1}}, {"gil-07", "--group-cap of school"}),
        ({"fund": 1, "floor": 1}, {"gil-07", "the floor"}),
    ]
    for wishes, named in asked:
        with pytest.raises(NoPlan) as told:
            deskmend.allocate(gil, CATALOG, PRICES, **wishes)  # type: ignore[arg-type]
        for words in ("gil-07", "--group-cap of school", "the floor"):
            assert (words in told.value.hinders) == (words in named)
        assert ("--group-cap" in told.value.would_help) == ("group_cap" in wishes)
        assert ("--floor" in told.value.would_help) == ("floor" in wishes)
        assert "a larger --fund" in told.value.would_help
    assert deskmend.allocate(gil, CATALOG, PRICES, fund=100).handed.cost == 260
