"""Each command does what the contract says: documents, their keys, and figures that agree."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from tests.stages import some

from deskmend.api import load_catalog
from deskmend.risk.scores.day import zones
from deskmend.risk.severity import REGIONS

from .conftest import CASE, PRICES, Run

PLAN_KEYS = {
    "format", "case", "currency", "budget", "limit", "cost", "cost_now", "minutes", "strain", "scores",
    "steps", "shopping", "watch_for", "proof", "warnings",
}  # fmt: skip
STEP_KEYS = {
    "order", "fix", "with", "place", "task", "size", "kind", "cost", "minutes", "when", "strain_after",
    "why", "how", "cautions", "evidence",
}  # fmt: skip


def test_plan_document_has_the_keys_of_the_contract(
    plan_result: Result, plan_document: dict[str, Any]
) -> None:
    assert plan_result.exit_code == 0
    assert plan_document["format"] == "deskmend-plan/1"
    assert PLAN_KEYS <= plan_document.keys()
    assert {"before", "after_free", "after", "plain_before", "plain_after", "by_region"} <= plan_document[
        "strain"
    ].keys()
    assert list(plan_document["strain"]["by_region"]) == list(REGIONS)
    assert plan_document["steps"]
    for step in plan_document["steps"]:
        assert STEP_KEYS <= step.keys()
    assert plan_document["proof"]["status"] == "optimal"
    sizes = plan_document["proof"]["tables"]
    assert set(sizes) == {"decisions", "options", "nodes", "tables", "cells", "largest"}
    assert 0 < sizes["largest"] < sizes["cells"]
    assert 2 * sizes["decisions"] <= sizes["options"]


def test_plan_figures_agree_with_each_other(plan_document: dict[str, Any]) -> None:
    steps, strain = plan_document["steps"], plan_document["strain"]
    cost = Decimal(plan_document["cost"])
    assert sum(Decimal(step["cost"]) for step in steps) == cost
    assert sum(Decimal(line["cost"]) for line in plan_document["shopping"]) == cost
    assert cost <= Decimal(plan_document["limit"])
    assert Decimal(plan_document["cost_now"]) <= Decimal(plan_document["budget"])
    assert sum(step["minutes"] for step in steps) == plan_document["minutes"]
    assert [step["order"] for step in steps] == list(range(1, len(steps) + 1))
    assert steps[-1]["strain_after"] == strain["after"]
    assert plan_document["proof"]["strain_bound"] == strain["best"] <= strain["after"]
    assert strain["after"] <= strain["after_free"] <= strain["before"]
    for moment in ("before", "after"):
        regions = [Decimal(repr(by[moment])) for by in strain["by_region"].values()]
        assert sum(regions) == Decimal(repr(strain[moment]))


def test_steps_that_stand_today_as_they_stay_come_first_and_cost_nothing(
    plan_document: dict[str, Any],
) -> None:
    steps, stages = plan_document["steps"], plan_document["stages"]
    assert [stage["when"] for stage in stages] == ["today", "first_purchase"]
    staying = [step["with"] in stages[0]["with"] for step in steps]
    assert staying == sorted(staying, reverse=True)
    assert [step["when"] for step in steps] == ["today" if one else "first_purchase" for one in staying]
    assert all(Decimal(step["cost"]) == 0 for step, one in zip(steps, staying, strict=True) if one)


def test_strain_has_at_most_six_decimals(plan_result: Result) -> None:
    numbers = re.findall(r'"(?:before|after|strain_after|strain_bound)": ([0-9.e-]+)', plan_result.stdout)
    assert len(numbers) > 20
    assert all(len(number.partition(".")[2]) <= 6 for number in numbers)


def test_with_names_of_a_plan_give_its_strain_and_cost_to_the_last_digit(
    run: Run, plan_document: dict[str, Any]
) -> None:
    names = [name for step in plan_document["steps"] for name in ("--with", step["with"])]
    result = run("assess", CASE, "--json", *names)
    assert result.exit_code == 0, result.stderr
    document = json.loads(result.stdout)
    assert document["strain"]["total"] == plan_document["strain"]["after"]
    assert document["strain"]["plain_total"] == plan_document["strain"]["plain_after"]
    assert document["strain"]["without_fixes"] == plan_document["strain"]["before"]
    assert document["cost"] == plan_document["cost"]
    assert document["rules_broken"] == []


def test_size_and_with_of_a_step_tell_the_same(plan_document: dict[str, Any]) -> None:
    sizes = [step for step in plan_document["steps"] if step["size"] is not None]
    assert sizes
    for step in sizes:
        assert step["with"].endswith(f"{step['fix']}={step['size']}")
        assert not any("{size}" in line for line in [*step["how"], *step["cautions"]])


def test_plan_page_tells_in_this_order(plan_page: Result) -> None:
    headings = [
        "Plan: ",
        "Strain: ",
        "Today, for nothing",
        "Then buy, and set up what has come",
        "How to do each step",
        "Only if it happens",
        "How much strain is left where",
        "How sure this is",
        "What this does not say",
        "Check again after two weeks",
        "For the assessor",
    ]
    places = [plan_page.stdout.index(heading) for heading in headings]
    assert places == sorted(places)
    assert "Proven: no other choice within 40.00 EUR" in plan_page.stdout
    assert max(map(len, plan_page.stdout.splitlines())) <= 80
    assert plan_page.stdout.isascii()


def test_page_and_document_tell_the_same_cost(plan_page: Result, plan_document: dict[str, Any]) -> None:
    assert f"Cost: {plan_document['cost']} EUR." in plan_page.stdout
    for step in plan_document["steps"]:
        assert f"--with {step['with']}\n" in plan_page.stdout + "\n"


def test_what_could_hurt_stands_with_its_step(plan_page: Result, plan_document: dict[str, Any]) -> None:
    """In the list right under the line of the step, and again before how it is done."""
    listed, told = plan_page.stdout.split("How to do each step\n")
    steps = plan_document["steps"]
    assert any(step["cautions"] for step in steps)
    for text in (listed, told):
        points = [" ".join(one.split()) for one in re.split(r"^ {0,3}\d+\. ", text, flags=re.MULTILINE)]
        for step in steps:
            own = [one for one in points if step["title"] in one[: len(step["title"]) + 30]]
            assert own
            for one in own:
                before = one.split(" a) ")[0]
                undone = one.startswith("Take away or undo")
                assert undone or all(f"! {caution}" in before for caution in step["cautions"])


LATER = pytest.mark.thorough
FIRST_LINES = {
    "saddle_numbness": "EMERGENCY: get emergency care now. Call the emergency number.",
    "sudden_weakness_face_speech": "EMERGENCY: get emergency care now. Call the emergency number.",
    "hot_swollen_calf": "TODAY: get medical advice before anything else",
    "late_pregnancy": "FIRST: see a licensed clinician",
}


@pytest.mark.parametrize(
    ("command", "sign"),
    [
        # every sign once, and every command once, are enough at first
        pytest.param(command, sign, marks=() if command == "assess" or sign == "late_pregnancy" else LATER)
        for command in ("plan", "assess", "compare")
        for sign in FIRST_LINES
    ],
)
def test_a_warning_sign_is_the_first_line(run: Run, tmp_path: Any, command: str, sign: str) -> None:
    text = Path(CASE).read_text(encoding="utf-8")
    case = tmp_path / "case.yaml"
    case.write_text(text.replace("person:\n", f"person:\n  warning_signs: [{sign}]\n", 1), encoding="utf-8")
    more = {"plan": ["--budget", "0", "--minutes", "5"], "assess": [], "compare": ["--at", "0"]}[command]
    result = run(command, str(case), "--prices", PRICES, *more)
    assert result.exit_code == 0, result.stderr
    first, _, *rest = result.stdout.splitlines()
    second = " ".join(" ".join(rest[:3]).split())
    assert first == FIRST_LINES[sign]
    told = next(one.sign for one in load_catalog().signs if one.id == sign)
    assert second.startswith("! ")
    assert told in second
    document = json.loads(run(command, str(case), "--prices", PRICES, *more, "--json").stdout)
    assert document["warnings"][0].endswith(told)


def test_assess_document(assess_result: Result) -> None:
    document = json.loads(assess_result.stdout)
    assert assess_result.exit_code == 0
    assert document["format"] == "deskmend-assessment/1"
    assert {"strain", "cost", "quantities", "scores", "warnings"} <= document.keys()
    assert list(document["strain"]["by_region"]) == list(REGIONS)
    assert document["cost"] == "0.00"
    keys = {"task", "name", "value", "unit", "low", "high", "severity", "source", "estimated"}
    for one in document["quantities"]:
        assert keys <= one.keys()
        outside = one["value"] is not None and (
            (one["low"] is not None and one["value"] < one["low"])
            or (one["high"] is not None and one["value"] > one["high"])
        )
        assert (one["severity"] > 0) <= outside


def test_assess_page_puts_what_is_outside_first(run: Run) -> None:
    page = run("assess", CASE, "--prices", PRICES, "--with", "kitchen.back_towel").stdout
    places = [page.index(h) for h in ("Strain by region", "Outside their range", "Within their range")]
    assert places == sorted(places)
    assert "kitchen.back_towel" in page
    assert max(map(len, page.splitlines())) <= 80


def test_hours_outside_published_ranges_are_told_in_the_words_of_the_other_measures(run: Run) -> None:
    page = " ".join(run("assess", CASE, "--prices", PRICES).stdout.split())
    told = page.split("Hours a day outside published ranges")[1].split("Where the ranges come from")[0]
    assert "ledger: angle at the knee: 80 degrees included, under 90 (ISO 11226; from memory)" in told
    names = [name.replace("_", " ") for name in zones()]
    assert len(names) > 10
    assert [name for name in names if f": {name}" in told] == []


def test_json_leaves_stdout_to_one_document_and_stderr_to_warnings(run: Run, tmp_path: Any) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(Path(CASE).read_text(encoding="utf-8"), encoding="utf-8")
    result = run("assess", str(case), "--json")
    assert "prices are an invented sample" in result.stderr
    warnings = [f"warning: {text}" for text in json.loads(result.stdout)["warnings"]]
    assert result.stderr.splitlines() == warnings
    assert run("assess", str(case), "--json", "--quiet").stderr == ""


def test_catalog_lists_every_fix(run: Run) -> None:
    catalog = load_catalog()
    document = json.loads(run("catalog", "--json").stdout)
    assert document["format"] == "deskmend-catalog/1"
    assert [fix["id"] for fix in document["fixes"]] == [fix.id for fix in catalog.fixes]
    for fix in document["fixes"]:
        assert {"id", "title", "kind", "decision", "scope", "evidence"} <= fix.keys()
    page = run("catalog").stdout
    assert all(re.search(rf"^  {fix.id} ", page, re.MULTILINE) for fix in catalog.fixes)


def test_catalog_shows_one_fix_in_full(run: Run) -> None:
    fix = load_catalog().by_id["screen_books"]
    page = " ".join(run("catalog", "Screen_Books", "--prices", PRICES).stdout.split())
    said = [one.say for one in (*fix.how, *fix.cautions)]
    for text in [*said, *(note.finding for note in fix.evidence)]:
        assert text.replace("{size}", "SIZE") in page
    document = json.loads(run("catalog", "screen_books", "--json").stdout)
    assert [one["id"] for one in document["fixes"]] == ["screen_books"]
    assert len(document["fixes"][0]["evidence"]) == len(fix.evidence)


FIXES = [fix.id for fix in load_catalog().fixes]


@pytest.mark.parametrize("fix", some(FIXES, *FIXES[::4]))
def test_every_fix_can_be_shown(run: Run, fix: str) -> None:
    result = run("catalog", fix, "--prices", PRICES)
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_check_tells_the_kind_of_each_file(run: Run) -> None:
    result = run("check", CASE, PRICES, "--json")
    document = json.loads(result.stdout)
    assert result.exit_code == 0
    assert document["faults"] == []
    assert [one["kind"] for one in document["files"]] == ["case", "prices"]


def test_check_lists_every_fault_of_every_file(run: Run, tmp_path: Any) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(
        "format: deskmend-case/1\nperson: {stature: 158}\nplaces: []\ntasks: []\n", encoding="utf-8"
    )
    prices = tmp_path / "mine.csv"
    prices.write_text("item,pack,price,currency\ntowel,1,2.505,EUR\ntape,0,1.00,EUR\n", encoding="utf-8")
    result = run("check", str(case), str(prices), CASE)
    assert result.exit_code == 2
    assert f'{case}:2: person.stature: read "158"' in result.stdout
    assert "did you mean" in result.stdout
    assert {f"{prices}:2:", f"{prices}:3:"} <= {line.split(" ")[0] for line in result.stdout.splitlines()}
    assert f"{CASE}: no faults (case)" in result.stdout


def test_check_knows_wishes_and_things_the_catalog_does_not(run: Run, tmp_path: Any) -> None:
    case = tmp_path / "case.yaml"
    text = Path(CASE).read_text(encoding="utf-8").replace("  bath_towel: 1", "  bath_towl: 1")
    case.write_text(text + "wishes: {never: [screen_bookz]}\n", encoding="utf-8")
    result = run("check", str(case))
    assert result.exit_code == 2
    assert "did you mean bath_towel?" in result.stdout
    assert "did you mean screen_books?" in result.stdout


def test_a_file_of_a_catalog_is_sent_to_its_folder(run: Run, tmp_path: Any) -> None:
    part = tmp_path / "items.yaml"
    part.write_text("format: deskmend-items/1\nitems: []\n", encoding="utf-8")
    result = run("check", str(part))
    assert result.exit_code == 2
    assert "check the catalog's folder" in result.stdout


def test_the_shipped_catalog_has_no_faults(run: Run) -> None:
    result = run("check", str(load_catalog().folder))
    assert result.exit_code == 0, result.stdout
    assert "(catalog)" in result.stdout
