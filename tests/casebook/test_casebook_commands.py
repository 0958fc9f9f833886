"""The nine commands as people type them: text, documents, exit codes and every fault at once."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from tests.catalog.small_catalog import write
from tests.cli.shown_output import ROOT
from tests.cli.test_shown_output import commands_told

from deskmend.casebook.store import open_casebook
from deskmend.cli import deskmend
from deskmend.cli.casebook import casebook_command
from deskmend.intake.catalog import load_catalog
from deskmend.report.catalog import kept_up_text

from .books import CASE_TEXT, book_of, felt

COMMANDS = ("add", "done", "felt", "recheck", "show", "list", "learn", "share", "erase")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    text = CASE_TEXT.replace("person:\n", "person:\n  discomfort: {neck: 6}\n", 1)
    (tmp_path / "case.yaml").write_text(text, encoding="utf-8")
    write(tmp_path / "shop")
    (tmp_path / "prices.csv").write_text((tmp_path / "shop" / "prices.csv").read_text(), encoding="utf-8")
    return tmp_path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(deskmend, ["casebook", *arguments])


def told(*arguments: str) -> dict[str, Any]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.stderr
    document: dict[str, Any] = json.loads(result.stdout)
    return document


SHOP = ("--catalog", "shop")


def test_every_command_has_help() -> None:
    assert tuple(sorted(casebook_command.commands)) == tuple(sorted(COMMANDS))
    for name in COMMANDS:
        result = run(name, "--help")
        assert result.exit_code == 0
        assert "--casebook FILE" in result.stdout
        assert "--json" in result.stdout


def test_from_the_first_visit_to_the_recheck(folder: Path) -> None:
    added = told("add", "anna", "case.yaml", "--on", "2026-03-01", *SHOP)
    assert added["entry"] == "visit"
    assert [step["with"] for step in added["plan"]["steps"]] == ["den.crate_feet=80"]
    assert added["felt"] == [{"day": "2026-03-01", "region": "neck", "rating": 6}]
    assert (folder / "cases.casebook").is_file()

    nothing = told("recheck", "anna", "case.yaml", *SHOP)
    assert nothing["nothing_done"]
    assert nothing["reached"]["strain"] == nothing["before"]["strain"]

    step = told("done", "anna", "den.crate_feet=40", "--paid", "1.80", "--on", "2026-03-05", *SHOP)
    assert [(one["with"], one["paid"]) for one in step["done"]] == [("den.crate_feet=40", "1.80")]
    told("felt", "anna", "neck=5", "--on", "2026-03-15", "--note", "slept badly")

    found = told("recheck", "anna", "case.yaml", "--on", "2026-03-15", *SHOP)
    assert not found["nothing_done"]
    assert [(one["with"], one["stands"], one["now"]) for one in found["steps"]] == [
        ("den.crate_feet=80", "other_size", "den.crate_feet=40")
    ]
    assert (found["again"]["cost"], found["paid"], found["bought"]) == ("0.00", "1.80", {"crate": 1})
    assert [one["said"] for one in found["felt"]] == ["no clear change"]
    asked = json.loads(
        CliRunner()
        .invoke(deskmend, ["assess", "case.yaml", "--with", "den.crate_feet=40", "--json", *SHOP])
        .stdout
    )
    assert found["reached"]["strain"]["total"] == asked["strain"]["total"]
    assert len(told("show", "anna")["visits"]) == 1

    told("recheck", "anna", "case.yaml", "--on", "2026-03-15", "--keep", "--out", "both.html", *SHOP)
    assert "<svg" in (folder / "both.html").read_text(encoding="utf-8")
    shown = told("show", "anna")
    assert [one["day"] for one in shown["visits"]] == ["2026-03-01", "2026-03-15"]
    assert shown["visits"][0]["case_text"] == (folder / "case.yaml").read_text(encoding="utf-8")
    assert len(shown["visits"][0]["catalog_sha256"]) == len(shown["visits"][0]["prices_sha256"]) == 64
    assert shown["notes"] == [{"day": "2026-03-15", "text": "slept badly"}]
    (listed,) = told("list")["persons"]
    assert (listed["key"], listed["visits"], listed["in_place"]) == ("anna", 2, 1)

    gone = told("erase", "anna")
    assert [Path(one).name for one in gone["case_files"]] == ["case.yaml"]
    assert [Path(one).name for one in gone["exports"]] == ["both.html"]
    assert told("list")["persons"] == []
    assert b"anna" not in (folder / "cases.casebook").read_bytes()


def test_text_of_every_command_fits_the_page(folder: Path) -> None:
    run("add", "anna", "case.yaml", "--on", "2026-03-01", *SHOP)
    lines = [
        run("done", "anna", "--all", "--why", "went well", *SHOP),
        run("felt", "anna", "neck=2", "--on", "2026-03-20"),
        run("recheck", "anna", "case.yaml", *SHOP),
        run("show", "anna"),
        run("list"),
        run("learn", *SHOP),
        run("share"),
        run("erase", "anna"),
    ]
    for result in lines:
        assert result.exit_code == 0, result.stderr
        assert max(map(len, result.stdout.splitlines())) <= 80
        assert "anna" in result.stdout or result in lines[5:7]


FAULTS = [
    (
        ("add", "an na", "none.yaml", "--on", "2026-02-30", "--note", "a\tb"),
        [
            'KEY: read "an na"',
            '--on: read "2026-02-30"',
            "--note: holds a control",
            "none.yaml: no such file",
        ],
    ),
    (
        ("felt", "anna", "neck=11", "nek=3", "lower_back", "eyes=1", "eyes=2", "--on", "1.3.26"),
        [
            'neck: read "11"; allowed a whole number from 0 to 10',
            'read "nek"; allowed one of eyes, neck',
            "did you mean neck?",
            'read "lower_back"; allowed a region and a rating',
            'read "eyes=2"; allowed each region once',
            '--on: read "1.3.26"; allowed a day as 2026-03-01',
        ],
    ),
    (("felt", "ana", "neck=11"), ['neck: read "11"', 'read "ana"', "did you mean anna?"]),
    (
        ("done", "anna", "den.crate_feet=500", "den.bel", "--all", "--paid", "3", "--on", "x"),
        ["a size from 40 to 120", "did you mean bell?", "without --all", '--on: read "x"'],
    ),
    (("done", "anna", "bell", "--paid", "3.505"), ["at most 2 decimals"]),
    (("done", "anna"), ["one fix or more, or --all"]),
    (("recheck", "ana", "none.yaml"), ["did you mean anna?", "none.yaml: no such file"]),
    (("show", "ana"), ["did you mean anna?"]),
    (("erase", "ana"), ["did you mean anna?"]),
    (("list", "--casebook", "other.casebook"), ["is not there"]),
    (("share", "--out", "case.yaml"), ["is there already"]),
]


@pytest.mark.parametrize(("arguments", "faults"), FAULTS, ids=[" ".join(one[0]) for one in FAULTS])
def test_every_fault_is_told_at_once(folder: Path, arguments: tuple[str, ...], faults: list[str]) -> None:
    from .books import visit

    with open_casebook("cases.casebook", create=True) as book:
        book.add_visit("anna", visit("den.crate_feet=80"))
    before = Path("cases.casebook").read_bytes()
    more = SHOP if arguments[0] in ("add", "done", "recheck") else ()
    result = run(*arguments, *more)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert [fault for fault in faults if fault not in result.stderr] == []
    assert Path("cases.casebook").read_bytes() == before
    assert len(json.loads(run(*arguments, *more, "--json").stdout)["faults"]) == len(
        result.stderr.splitlines()
    )


def test_what_is_learned_can_be_planned_with(folder: Path) -> None:
    habits = [fix for fix in load_catalog().fixes if fix.kept_up is not None]
    first = habits[0]
    with book_of(folder / "cases.casebook", {first.id: (14, 12, 9), "seat_foam": (14, 11, 2)}, 14):
        pass
    document = told("learn", "--out", "learned.yaml")
    shares = {one["fix"]: one for one in document["fixes"]}
    assert shares[first.id]["prior_from"] == "catalog"
    assert shares["seat_foam"]["prior_from"] == "casebook"
    assert document["overlay"] == "learned.yaml"
    text = (folder / "learned.yaml").read_text(encoding="utf-8")
    assert "seat_foam" not in text, "no plan counts with it"
    command = ["catalog", first.id, "--learned", "learned.yaml"]
    shown = CliRunner().invoke(deskmend, [*command, "--json"])
    assert shown.exit_code == 0, shown.stderr
    (fix,) = json.loads(shown.stdout)["fixes"]
    assert fix["kept_up"]["share"] == pytest.approx(shares[first.id]["share"], abs=0.001)
    page = " ".join(CliRunner().invoke(deskmend, command).stdout.split())
    assert "here 9 of 12 people who did it still do, and what was known before counts as 20 more" in page
    assert first.kept_up is not None
    assert "of 100 days. " in kept_up_text(first.kept_up)
    exports = told("show", "person0")["exports"]
    assert [(one["what"], Path(one["file"]).name) for one in exports] == [("learn", "learned.yaml")]


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("stand_by_turns", "stand_by_turn", "did you mean stand_by_turns?"),
        ("stand_by_turns", "seat_foam", "a fix with kept_up in the catalog"),
        ("share: 0.5", "share: 1.5", "a part from 0 to 1"),
        ("kept: 9", "kept: 13", "at most 12, the cases"),
    ],
)
def test_faults_of_what_was_learned_are_told(folder: Path, old: str, new: str, fault: str) -> None:
    text = (
        "format: deskmend-learned/1\n"
        "fixes:\n  - {id: stand_by_turns, share: 0.5, cases: 12, kept: 9, weight: 20}\n"
    )
    (folder / "learned.yaml").write_text(text.replace(old, new), encoding="utf-8")
    result = CliRunner().invoke(deskmend, ["catalog", "--learned", "learned.yaml"])
    assert result.exit_code == 2
    assert fault in result.stderr


def test_shared_counts_hold_no_key(folder: Path) -> None:
    with book_of(folder / "cases.casebook", {"break_timer": (24, 18, 12)}, 30) as book:
        for key in book.keys()[:7]:
            book.add_felt(key, felt(("neck", 7, 2)))
    document = told("share", "--out", "counts.csv")
    assert document["persons"] == 30
    rows = (folder / "counts.csv").read_text(encoding="utf-8").splitlines()
    assert "fix,break_timer,still_used,12" in rows
    assert "person" not in rows[0].replace("persons", "") + "".join(rows[1:])
    assert "break_timer: still used 12" in run("share").stdout


@pytest.mark.thorough
def test_the_page_of_the_casebook_runs_from_top_to_bottom(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no habit has ten cases no file is written, so the command that reads it finds none."""
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    monkeypatch.chdir(tmp_path)
    told_there = commands_told(ROOT / "docs" / "casebook.md")
    assert {line.split()[1] for line in told_there if line.startswith("casebook")} >= {
        "add",
        "done",
        "recheck",
    }
    ended = {line: CliRunner().invoke(deskmend, shlex.split(line)).exit_code for line in told_there}
    assert {line for line, code in ended.items() if code} == {
        "plan scenarios/kitchen_books/case.yaml --learned learned.yaml"
    }
