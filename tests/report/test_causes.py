"""What strains each part of the body is said, no measure too, and so is a complaint without a cause."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.assessment import assess
from deskmend.planning.plan import plan
from deskmend.report.assessment import assessment_text, cause_texts, most_left_text
from deskmend.report.html.steps import Anchors, cards_of, rung_view
from deskmend.report.plan import left_of, plan_text
from deskmend.report.words import region_word

GLARING: dict[str, Any] = {
    "places__0__seat__surface": "hard",
    "places__0__desk__edge": "sharp",
    "places__0__light": {"lux": "500", "glare": "lamp"},
    "person__discomfort": {"eyes": "4", "legs_feet": "5"},
}
FEW = replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in ("lamp_move", "seat_blanket")))


def _part(text: str, title: str) -> str:
    return " ".join(text.partition(f"{title}\n")[2].partition("\n\n")[0].split())


def test_what_is_no_measure_is_told_as_a_cause_with_its_strain() -> None:
    found = assess(made(**GLARING), CATALOG, SAMPLE)
    told = _part(assessment_text(found, CATALOG), "It comes from")
    for region, what in (
        ("eyes", "glare on the screen"),
        ("hips and thighs", "pressure of the seat"),
        ("arms and hands", "arm on the hard edge at the keyboard"),
    ):
        assert re.search(rf"- {region}: {what} \d", told), told


def test_causes_of_a_region_add_up_to_its_strain() -> None:
    found = assess(
        made(**GLARING, tasks__0__reference="paper", tasks__0__reference_share="0.4"), CATALOG, SAMPLE
    )
    figures = {
        text.partition(":")[0]: sum(float(one) for one in re.findall(r" (\d+\.\d\d)(?:;|$)", text))
        for text in cause_texts(found.exposures)
    }
    for region, strain in found.strain.by_region.items():
        name = region_word(region)
        assert abs(figures.get(name, 0.0) - strain / 1e6) < 0.025, name


def test_a_complaint_that_nothing_measured_explains_is_said_and_no_other() -> None:
    found = assess(made(**GLARING), CATALOG, SAMPLE)
    assert found.strain.by_region["legs_feet"] == 0 < found.strain.by_region["eyes"]
    text = assessment_text(found, CATALOG)
    assert "legs and feet: discomfort was told here" in text
    assert "eyes: discomfort was told here" not in text
    # what the plan takes off wholly was strained before
    made_plan = plan(made(**GLARING), FEW, SAMPLE, 0)
    assert made_plan.after.by_region["eyes"] == 0
    for steps in (True, False):
        told = plan_text(made_plan, FEW, SAMPLE, steps=steps)
        assert "legs and feet: discomfort was told here" in told
        assert "eyes: discomfort was told here" not in told


def test_a_plan_says_where_most_of_what_it_leaves_is() -> None:
    made_plan = plan(made(**GLARING), FEW, SAMPLE, 0)
    told = " ".join(plan_text(made_plan, FEW, SAMPLE, steps=False).split())
    region = max(made_plan.after.by_region, key=lambda one: made_plan.after.by_region[one])
    assert f"Most of what is left: {region_word(region)} " in told
    assert "glare" not in told.partition("Most of what is left")[2].partition(".\n")[0]
    assert most_left_text([]) == ""


def test_the_page_says_the_same_of_what_is_left() -> None:
    made_plan = plan(made(**GLARING), FEW, SAMPLE, 0)
    anchors = Anchors(cards_of([made_plan], 0, FEW, SAMPLE), 0)
    told = rung_view(0, made_plan, FEW, SAMPLE, anchors).sure
    assert most_left_text(left_of(made_plan)) in told
    assert sum("discomfort was told here" in text for text in told) == 1
