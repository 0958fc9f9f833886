"""Faults of files and of options are told in one run, whichever is read first."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from deskmend.cli import deskmend as program
from deskmend.errors import Unreadable
from deskmend.measures import parse_amount
from deskmend.planning import inputs

from .conftest import ROOT

GOOD = ROOT / "scenarios" / "kitchen_books" / "case.yaml"
BROKEN = "format: deskmend-case/1\nperson: {stature: abc}\n"


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (
            "plan bad.yaml --budget abc --saving xyz --reach rulla=3 --prices none.csv",
            ["person.stature", "none.csv: no such file", "--reach", "--budget", "--saving"],
        ),
        ("report bad.yaml --budget abc --at 1,x --out page.html", ["person.stature", "--budget", "--at"]),
        ("report bad.yaml --sender none --out page.html", ["person.stature", "none: no such file"]),
        ("compare bad.yaml --at 1,x", ["person.stature", "--at"]),
        ("compare bad.yaml --beside none.yaml", ["person.stature", "none.yaml: no such file"]),
        (
            "allocate none.csv --fund x --policy y --prices no.csv --sender none --out shared",
            ["none.csv: no such file", "no.csv: no such file", "--fund", "--policy", "none: no such file"],
        ),
        ("allocate none.csv --columns map --fund x --out shared", ["map: no such file", "--fund"]),
        ("plan bad.yaml --must nosuch --never seatcushion", ["person.stature", "--must", "seat_cushion?"]),
        ("plan good.yaml --budget abc --must x.screen_books --never no", ["--budget", "--must", "--never"]),
        ("report bad.yaml --with nosuch --out page.html", ["person.stature", "--with"]),
        ("assess good.yaml --prices none.csv --with nosuch", ["none.csv: no such file", "--with"]),
        (
            "compare good.yaml --beside good.yaml --with a1 --beside-with b1",
            ["line: --with", "line: --beside-with"],
        ),
        ("compare good.yaml --beside bad.yaml --with a1", ["person.stature", "--with"]),
        ("compare bad.yaml --beside good.yaml --beside-with b1", ["person.stature", "--beside-with"]),
        ("casebook add k1 bad.yaml --must nosuch --budget x", ["person.stature", "--must", "--budget"]),
        ("casebook add k1 good.yaml --on x --never nosuch", ["--on", "--never"]),
        ("prices new --for bad.yaml --out good.yaml", ["person.stature", "good.yaml: is there already"]),
    ],
)
def test_wrong_files_and_wrong_options_are_told_in_one_run(
    command: str, told: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("bad.yaml").write_text(BROKEN, encoding="utf-8")
    Path("good.yaml").write_bytes(GOOD.read_bytes())
    result = CliRunner().invoke(program, command.split())
    assert result.exit_code == 2
    assert [one for one in told if one not in result.stderr] == []
    lines = result.stderr.splitlines()
    assert len(lines) == len(set(lines))


def test_no_list_of_prices_is_worked_out_for_a_file_that_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(inputs, "price_questions", None)
    kept = tmp_path / "prices.csv"
    kept.write_text("mine", encoding="utf-8")
    result = CliRunner().invoke(program, ["prices", "new", "--for", str(GOOD), "--out", str(kept)])
    assert (result.exit_code, kept.read_text(encoding="utf-8")) == (2, "mine")
    assert "is there already" in result.stderr
    assert "--force" not in result.stderr, "it has no such option"


@pytest.mark.parametrize("text", ["40", "40.50", "1.234"])
def test_an_amount_is_not_refused_before_its_currency_is_known(text: str) -> None:
    parse_amount(text, None)


def test_what_is_an_amount_in_no_currency_is_refused_before_it_is_known() -> None:
    with pytest.raises(Unreadable, match="an amount of money"):
        parse_amount("abc", None)
