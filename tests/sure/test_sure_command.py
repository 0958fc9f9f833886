"""``plan --sure``: the section, the document, and what is refused."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result
from tests.planning.cases import plain

from deskmend.cli import deskmend

ROOT = Path(__file__).resolve().parents[2]
CASE = str(ROOT / "scenarios/counter_calls/case.yaml")


@cache
def run(*arguments: str) -> Result:
    return CliRunner().invoke(deskmend, ["plan", CASE, "--quiet", *arguments])


@pytest.mark.thorough
def test_the_document_counts_the_fixes_of_the_plan_and_every_measure(tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(yaml.safe_dump(plain()), encoding="utf-8")
    arguments = ["plan", str(case), "--quiet", "--sure", "2", "--seed", "7", "--budget", "20", "--json"]
    done = CliRunner().invoke(deskmend, arguments)
    assert done.exit_code == 0
    document = json.loads(done.stdout)
    sure = document["sure"]
    assert (sure["samples"], sure["seed"]) == (2, 7)
    planned = {one["fix"] for one in sure["fixes"] if one["planned"]}
    assert planned == {step["fix"] for step in document["steps"]}
    assert all(sum(size["samples"] for size in one["sizes"]) == one["stays"] <= 2 for one in sure["fixes"])
    paths = [one["measure"] for one in sure["measures"]]
    assert {"places.0.desk.height", "person.body.knee_height"} <= set(paths)
    assert len(set(paths)) == len(paths)
    assert sure["measure_again"] in paths


@pytest.mark.thorough
def test_the_page_ends_with_what_stays_and_what_to_measure_again() -> None:
    done = run("--sure", "2", "--budget", "0")
    assert done.exit_code == 0
    page = done.stdout[done.stdout.index("How sure this is of each fix\n") :]
    (row,) = [line for line in page.splitlines() if line.strip().startswith("Stand and sit by turns")]
    assert row.split()[-4:] == ["2", "of", "2", "-"]
    # that one length decides, or that none does, is shown by scoring it again in test_sure.py
    again = json.loads(run("--sure", "2", "--budget", "0", "--json").stdout)["sure"]["measure_again"]
    assert ("No single measure that is off" in page) == (again is None)
    assert max(map(len, page.splitlines())) <= 80


def test_goals_and_strange_numbers_are_refused() -> None:
    refused = run("--sure", "3", "--reach", "rula=4")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "do not go together" in refused.stderr
    assert run("--sure", "0").exit_code == 2
    assert run("--sure", "3", "--seed", "-1").exit_code == 2
