"""Two workplaces side by side: each as assessed alone, what differs named, drawn at one scale."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from click.testing import CliRunner
from tests.planning.cases import CATALOG, SAMPLE, made, plain

from deskmend.cli import deskmend
from deskmend.planning.assessment import Assessment, Beside, assess, beside
from deskmend.report.assessment import (
    assessment_document,
    beside_document,
    beside_text,
    measure_rows,
    strain_rows,
)
from deskmend.report.documents import json_text
from deskmend.report.drawing.side import drawn_pairs
from deskmend.report.html.page import beside_html

OTHER: dict[str, Any] = {
    "places__0__id": "attic",
    "places__0__seat__height": "480",
    "places__0__desk__height": "760",
    "places__0__desk__underside": "730",
    "tasks__0__id": "letters",
    "tasks__0__place": "attic",
}


@cache
def here() -> Assessment:
    """The plain workplace."""
    return assess(made(), CATALOG, SAMPLE)


@cache
def pair() -> Beside:
    """The plain workplace and a higher one whose place and task have other names."""
    return beside(here(), assess(made(**OTHER), CATALOG, SAMPLE))


def test_each_is_as_it_is_assessed_alone() -> None:
    document = beside_document(pair())
    json_text(document)
    for told, one in zip(document["cases"], pair().both, strict=True):
        alone = assessment_document(one)
        for key in ("total", "by_region", "plain_total", "plain_by_region"):
            assert told["strain"][key] == alone["strain"][key]  # type: ignore[literal-required]
        assert told["scores"]["rula"] == alone["scores"]["rula"]
        assert told["fit"] == alone["fit"]
    for number, one in enumerate(pair().both):
        values = {(q["name"], q["of"], q["mode"]): q["value"] for q in assessment_document(one)["quantities"]}
        told_values = {
            (q["name"], q["of"], q["mode"]): q["values"][number]
            for q in document["quantities"]
            if q["values"][number] is not None
        }
        assert told_values == {key: value for key, value in values.items() if value is not None}


def test_tasks_and_places_of_other_names_belong_together_by_their_order() -> None:
    document = beside_document(pair())
    assert document["tasks"] == [["work", "letters"]]
    (seat,) = [one for one in document["measures"] if one["name"] == "seat.height"]
    assert (seat["owner"], seat["values"]) == (["den", "attic"], [415.0, 480.0])


def test_what_differs_is_named_and_nothing_else() -> None:
    rows = {row[0]: row[1:] for row in measure_rows(pair())}
    assert rows["height of the seat"] == ["415 mm", "480 mm"]
    assert rows["height of the desk"] == ["650 mm", "760 mm"]
    assert "depth of the seat" not in rows
    same = beside(here(), here())
    assert measure_rows(same) == []
    assert "What differs\n------------\nNothing." in beside_text(same)


def test_the_other_way_round_everything_changes_sides() -> None:
    first, second = beside_document(pair()), beside_document(beside(*reversed(pair().both)))
    assert first["cases"] == second["cases"][::-1]
    assert [one["values"] for one in first["measures"]] == [one["values"][::-1] for one in second["measures"]]


def test_both_are_drawn_in_one_frame() -> None:
    (drawn,) = drawn_pairs(pair())
    frames = {re.search(r'viewBox="([^"]*)"', str(svg))[1] for svg in drawn.svg}  # type: ignore[index]
    assert len(frames) == 1
    html = beside_html(pair())
    assert html.count("<svg viewBox") == 2
    assert "nan" not in html


def test_a_task_that_one_lacks_stands_alone() -> None:
    second = {"id": "calls", "place": "den", "hours": "1", "main": "laptop"}
    more = assess(made(tasks=[plain()["tasks"][0], second]), CATALOG, SAMPLE)
    document = beside_document(beside(here(), more))
    json_text(document)
    assert document["tasks"] == [["work", "work"], [None, "calls"]]
    assert document["drawings"][1]["svg"][0] is None
    assert "Not done so here." in beside_html(beside(here(), more))


def test_the_command_sets_cases_and_hand_changed_plans_beside_each_other(tmp_path: Path) -> None:
    first, second, out = tmp_path / "one.yaml", tmp_path / "two.yaml", tmp_path / "both.html"
    first.write_text(yaml.safe_dump(plain()), encoding="utf-8")
    second.write_text(yaml.safe_dump(plain(**OTHER)), encoding="utf-8")
    run = CliRunner().invoke
    done = run(deskmend, ["compare", str(first), "--beside", str(second), "--json", "--out", str(out)])
    assert done.exit_code == 0, done.output
    told, wanted = json.loads(done.stdout), json.loads(json_text(beside_document(pair())))
    for case, alone in zip(told["cases"], wanted["cases"], strict=True):
        # the command warns of invented prices too
        assert set(alone.pop("warnings")) <= set(case.pop("warnings"))
    assert told == wanted
    assert out.read_text(encoding="utf-8").count("<svg viewBox") == 2
    twice = ["compare", str(first), "--beside", str(first), "--beside-with", "keyboard_basic", "--json"]
    cases = json.loads(run(deskmend, twice).stdout)["cases"]
    assert [case["with"] for case in cases] == [[], ["keyboard_basic"]]
    assert run(deskmend, [*twice, "--at", "0"]).exit_code == 2
    assert run(deskmend, ["compare", str(first), "--with", "keyboard_basic"]).exit_code == 2


def test_the_same_totals_are_not_shown_twice() -> None:
    """Nobody's discomfort counts, so weighted and plain strain are the same figures."""
    told = [row[0] for row in strain_rows(pair())]
    assert told[-1] == "all"
    hurts = assess(made(person__discomfort__neck="8"), CATALOG, SAMPLE)
    assert strain_rows(beside(hurts, hurts))[-1][0] == "all, each part counted alike"
