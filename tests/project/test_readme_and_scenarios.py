"""README's commands are those that CI runs, and every scenario is complete, invented and without fault."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from deskmend.cli import deskmend
from deskmend.intake.case_file import load_case

from .source_tree import ROOT, pyproject

SCENARIOS = sorted(path.parent for path in (ROOT / "scenarios").glob("*/case.yaml"))
FUND = ROOT / "scenarios" / "relief_fund"
"""The folder that holds tables of applicants instead of a case."""
YEAR = ROOT / "scenarios" / "relief_year"
"""The folder that holds the rounds of a fund over a year."""


def readme() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def test_ci_runs_the_two_commands_of_readme() -> None:
    commands = re.findall(r"^python3 -m venv .*$", readme(), re.MULTILINE)
    assert len(commands) == 2
    plan, tests = commands
    case = re.search(r"deskmend plan (\S+)$", plan)
    assert case is not None
    assert (ROOT / case[1]).is_file()
    assert tests.endswith("-m pytest")
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "grep '^python3 -m venv' \"$root/README.md\"" in script
    for number in range(len(commands)):
        assert re.search(rf'as_written .*"\$\{{readme\[{number}\]\}}"', script)


def test_ci_checks_lint_format_and_types() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert [one for one in ("ruff check", "ruff format --check", "mypy") if one not in script] == []


def test_readme_begins_with_the_job() -> None:
    """The first paragraph says who advises whom, from what, what is to be done, and what deskmend does in it.

    How to set it up comes after.
    """
    title, paragraph, *_ = readme().split("\n\n")
    job = " ".join(paragraph.split())
    told = (
        "An assessor of workplaces advises people who work with a laptop and paper",
        "All she has is a picture or two and a few measures",
        "she has to find what strains them",
        "she comes back to measure again",
        "deskmend does the reckoning in this",
        "no other choice within the same money, time and skill",
        "an ordered list of what to buy and what to make",
    )
    places = [job.find(part) for part in told]
    assert title == "# deskmend"
    assert -1 not in places
    assert places == sorted(places)
    assert "`" not in job


def test_pages_that_readme_points_at_exist() -> None:
    linked = re.findall(r"\]\((?!https?:)([^)#]+)", readme())
    assert linked
    assert [page for page in linked if not (ROOT / page).exists()] == []


def test_four_scenarios_ship() -> None:
    assert len(SCENARIOS) >= 4
    assert pyproject()["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]["scenarios"]


@pytest.mark.parametrize("folder", SCENARIOS, ids=lambda folder: folder.name)
def test_scenario_is_complete_invented_and_sound(folder: Path) -> None:
    case, prices = folder / "case.yaml", folder / "prices.csv"
    assert sorted(path.name for path in folder.iterdir()) == ["case.yaml", "prices.csv"]
    assert "invented" in load_case(case).title
    assert "invented" in prices.read_text(encoding="utf-8")
    done = CliRunner().invoke(deskmend, ["check", str(case), str(prices)])
    assert (done.exit_code, done.stderr) == (0, "")


def test_every_folder_of_scenarios_is_one_of_both() -> None:
    assert [path for path in (ROOT / "scenarios").iterdir() if path not in (*SCENARIOS, FUND, YEAR)] == []
    assert sorted(path.name for path in FUND.iterdir()) == ["applicants.csv", "prices.csv", "six_people.csv"]
    year = {path.name for path in YEAR.iterdir()}
    assert year == {f"round_{number}.csv" for number in range(1, 5)} | {
        *("entries_2.csv", "entries_3.csv", "prices_spring.csv", "prices_autumn.csv")
    }
    for path in (*FUND.iterdir(), *YEAR.iterdir()):
        assert "Invented" in path.read_text(encoding="utf-8").splitlines()[0]


def test_scenarios_cover_no_money_no_altering_and_two_places() -> None:
    cases = [load_case(folder / "case.yaml") for folder in SCENARIOS]
    assert any(case.means.budget == 0 for case in cases)
    assert any(case.means.may_alter is False for case in cases)
    assert any(len(case.places) == 2 for case in cases)
