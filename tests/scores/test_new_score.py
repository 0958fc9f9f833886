"""A score registered by one call is everywhere: nothing else knows it, and nothing else has to."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from tests.goals.small_cases import _combinations, small_case
from tests.page.pages import made

from deskmend.cli import deskmend
from deskmend.errors import DefectError, InputFaults
from deskmend.planning.plan import plan
from deskmend.planning.reach import goals_of
from deskmend.report.plan import plan_document, plan_text
from deskmend.risk.scores import method
from deskmend.risk.scores.day import methods, score_of, scores_of
from deskmend.workstation.state import evaluate

from .toy import TOY
from .workplaces import ROOT, changed, scenario

CASE = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")


@pytest.fixture(autouse=True)
def _toy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(method, "_REGISTERED", dict(method._REGISTERED))
    method.register(TOY)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(deskmend, list(arguments))


def test_methods_stand_in_the_order_of_publication() -> None:
    assert [one.name for one in methods()] == ["rula", "rosa", "toy"]


def test_it_is_in_the_assessment() -> None:
    shown = " ".join(run("assess", CASE).stdout.split())
    assert "TOY, worst look (1 to 4) 3" in shown
    assert "TOY 3 means: look again." in shown
    assert "All move in steps" in shown
    assert "ledger: TOY 3, eyes on the screen - gaze 3: 30.3 degrees below the eye, band far down" in shown
    scores = json.loads(run("assess", CASE, "--json").stdout)["scores"]
    assert (scores["toy"], scores["toy_mean"], scores["without_fixes"]["toy"]) == (3, 3.0, 3)
    (look,) = scores["tasks"]["ledger"]["toy_parts"]
    assert (look["looks_at"], look["mode"], look["share"]) == ("screen", "sit", 0.65)
    assert [item["score"] for item in look["items"]] == [3]
    assert list(scores)[:6] == ["rula", "rosa", "toy", "rula_mean", "rosa_mean", "toy_mean"]


@pytest.mark.thorough
def test_it_is_a_goal_that_is_reached_as_going_through_everything_says() -> None:
    small = small_case("kitchen_books")
    means = small.case.means.model_copy(update={"budget": None, "minutes": None})
    case = small.case.model_copy(update={"means": means})
    every = list(_combinations(small))
    for most in {one.values["toy"] for one in every}:
        found = plan(case, small.catalog, small.prices, goals=goals_of({"toy": most}))
        good = [one for one in every if one.values["toy"] <= most]
        best = min((one.cost, one.minutes, one.values["strain"]) for one in good)
        assert (found.cost, found.minutes, found.after.total) == best
        assert f"goal toy={most}" in " ".join(plan_text(found, small.catalog, small.prices).split())
        scores = plan_document(found, small.catalog)["scores"]
        assert scores["toy"]["after"] == score_of(found.state_after, "toy") <= most
        assert [goal["name"] for goal in scores["goals"]] == ["toy"]
        assert scores["tasks"]["ledger"]["toy_reasons"]["before"][0].startswith("gaze 3: ")


def test_the_command_takes_it_and_refuses_what_it_cannot_be() -> None:
    result = run("plan", CASE, "--reach", "toy=2", "--quiet", "--never", "seat_cushion", "--steps")
    assert result.exit_code == 0, result.stderr
    assert "Asked for: toy=2, for the least money." in result.stdout
    assert "TOY, worst look (1 to 4)" in result.stdout
    refused = run("plan", CASE, "--reach", "toy=5")
    assert refused.exit_code == 2
    assert "toy a whole number 1 to 4" in refused.stderr
    with pytest.raises(InputFaults, match="rula, rosa, toy, strain, eyes"):
        goals_of({"tay": 2})


def test_it_is_on_the_page() -> None:
    small = small_case("kitchen_books")
    html = made(small.case, small.catalog).html
    assert "TOY, worst look (1 to 4)" in html


@pytest.mark.parametrize("limit", ["toy=2", "rula=4"])
def test_a_fund_brings_people_under_it(limit: str, tmp_path: Path) -> None:
    folder = ROOT / "scenarios" / "relief_fund"
    rows = (folder / "six_people.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "people.csv").write_text("\n".join(rows[:3]) + "\n", encoding="utf-8")
    given = ["--fund", "30", "--policy", "most_people", "--limit", limit, "--out", str(tmp_path / "out")]
    prices = ["--prices", str(folder / "prices.csv")]
    result = run("allocate", str(tmp_path / "people.csv"), *prices, *given)
    assert result.exit_code == 0, result.stderr
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    name, value = limit.split("=")
    assert summary["limit"] == {"score": name, "value": int(value)}
    assert summary["status"] == "optimal"
    assert summary["relief"] == summary["bound"]


@pytest.mark.parametrize("name", ["toy", "rula", "strain", "tasks", "Two words", ""])
def test_a_name_that_is_taken_or_no_plain_word_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="lower-case word"):
        method.register(replace(TOY, name=name))


def test_a_score_that_its_own_function_does_not_bear_out_is_a_defect() -> None:
    told = replace(TOY, parts=("total",), final="total", recount=lambda items: {"total": items["gaze"] + 1})
    evaluation = evaluate(scenario("kitchen_books"), "ledger")
    with pytest.raises(DefectError, match="toy: 3 by quantities, 4 by items"):
        list(method.occasion_scores(told, evaluation))


def test_what_lies_beyond_it_is_named_and_reaches_no_goal() -> None:
    high = changed(scenario("kitchen_books"), light__glare="lamp", screen__raise=200.0)
    assert scores_of(high).score("toy") == 2
    assert scores_of(changed(high, look__screen=0.0, look__paper=1.0)).reached("toy") == 0


def _names() -> Iterator[str]:
    for one in methods():
        yield from one.words


def test_its_words_are_there_to_be_translated() -> None:
    assert {"TOY, worst look", "well", "look again"} <= set(_names())
