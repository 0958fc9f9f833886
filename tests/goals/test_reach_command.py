"""``plan --reach`` on the command line: what it shows, and how it ends."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner, Result

from deskmend.cli import deskmend

from .small_cases import ROOT

CASE = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")


def run(*arguments: str) -> Result:
    return CliRunner().invoke(deskmend, list(arguments))


@pytest.fixture(scope="module")
def reached() -> Result:
    return run("plan", CASE, "--reach", "rosa=6", "--json")


def test_a_reached_goal_is_told_with_scores_before_and_after(reached: Result) -> None:
    assert reached.exit_code == 0, reached.stderr
    document = json.loads(reached.stdout)
    scores = document["scores"]
    assert scores["rosa"]["after"] <= 6 < scores["rosa"]["before"]
    assert scores["goals"] == [
        {
            "name": "rosa",
            "at_most": 6,
            "before": scores["rosa"]["before"],
            "after": scores["rosa"]["after"],
        }
    ]
    assert document["proof"]["status"] == "optimal"
    # The bound of a plan made for a goal is one of money, so none is given for strain.
    assert document["proof"]["strain_bound"] is None


def test_assessing_the_steps_again_gives_the_promised_scores(reached: Result) -> None:
    document = json.loads(reached.stdout)
    names = [part for step in document["steps"] for part in ("--with", step["with"])]
    again = json.loads(run("assess", CASE, "--json", *names).stdout)
    assert again["scores"]["rosa"] == document["scores"]["rosa"]["after"]
    assert again["scores"]["rula"] == document["scores"]["rula"]["after"]
    assert again["scores"]["without_fixes"] == {
        name: document["scores"][name]["before"] for name in ("rula", "rosa")
    }


def test_text_names_the_goal_and_what_is_proven() -> None:
    result = run("plan", CASE, "--reach", "rosa=6", "--quiet", "--steps")
    assert "Asked for: rosa=6, for the least money." in result.stdout
    assert "reaches the goal for less money" in " ".join(result.stdout.split())


def test_a_goal_out_of_reach_ends_with_1_and_the_best_there_is() -> None:
    result = run("plan", CASE, "--reach", "rosa=1", "--json")
    assert result.exit_code == 1
    document = json.loads(result.stdout)
    assert document["exit"] == 1
    assert "the least within the limits is rosa" in document["hinders"]
    assert document["would_help"]


def test_wrong_goals_end_with_2_and_are_all_told() -> None:
    result = run("plan", CASE, "--reach", "rosa=high", "--reach", "nek=1", "--reach", "neck", "--json")
    assert result.exit_code == 2
    faults = json.loads(result.stdout)["faults"]
    assert [fault["read"] for fault in faults] == ["rosa=high", "nek=1", "neck="]
    assert "neck" in faults[1]["hint"]
