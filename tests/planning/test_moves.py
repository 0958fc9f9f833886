"""A task that moves moves first, what is carried along does not stay behind, and what is moot is not kept."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from typing import Any

from tests.planning.cases import CATALOG, PLAIN, SAMPLE, made

from deskmend.planning.order import in_set_up_order
from deskmend.planning.plan import Plan, plan
from deskmend.report.stages import done_of
from deskmend.report.steps import why_text

HERE: dict[str, Any] = deepcopy(PLAIN["places"][0])
HERE["seat"] |= {"back": "flat"}
HERE["light"] = {"lux": "120", "glare": "lamp"}
THERE: dict[str, Any] = deepcopy(HERE) | {"id": "nook", "light": {"lux": "500", "glare": "none"}}
THERE["seat"] |= {"surface": "hard", "height": "370"}
TWO: dict[str, Any] = {"places": [HERE, THERE], "owns": {"bath_towel": "1"}, "tasks__0__spell": "60"}


def few(*ids: str) -> Any:
    return replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in ids))


def moving() -> Plan:
    return plan(made(**TWO), few("place", "back_towel", "seat_cushion"), SAMPLE, 4000, every_gain=True)


def test_a_task_is_moved_before_its_new_place_is_made_ready() -> None:
    """Where that adds strain for now, what is laid out there first says that it counts with the move."""
    found = moving()
    assert in_set_up_order(found.stages[-1].options)[0].with_name == "work.place=nook"
    whys = {
        line.change.option.with_name: why_text(line.change.state_before, line.change.state_after)
        for _, lines in done_of(found)
        for line in lines
    }
    assert (
        whys["nook.seat_cushion=60"]
        == "By itself it takes nothing off: it counts together with another step."
    )
    assert whys["nook.back_towel"].startswith("It takes strain off: ")


def test_what_is_carried_along_is_taken_away_where_it_was() -> None:
    told = [line.text for _, lines in done_of(moving()) for line in lines]
    assert "Take away or undo step 1: Rolled towel in the small of the back (den)" in told
    assert not [text for text in told if "may stay" in text]


def test_paper_in_the_middle_has_no_side() -> None:
    case = made(
        tasks__0={
            "id": "work", "place": "den", "hours": "6", "spell": "50", "main": "laptop", "reference": "paper",
            "reference_share": "0.5", "writing": "yes", "paper": {"at": "left"},
        }
    )  # fmt: skip
    catalog = few("middle", "paper_side")
    sided = plan(case, catalog, SAMPLE, 0, must=["paper_side"])
    assert {step.option.with_name for step in sided.steps} == {"work.paper_side=right"}
    found = plan(case, catalog, SAMPLE, 0, must=["middle=paper"])
    assert {step.option.with_name for step in found.steps} == {"work.middle=paper"}
