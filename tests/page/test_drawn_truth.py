"""Drawings are true: nothing floats, hangs over an edge, goes through another thing or stands elsewhere."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree

import pytest
from tests.planning.drawn_cases import drawn_case
from tests.stages import draws

from deskmend.intake.case_file import load_case
from deskmend.report.drawing.above import above_view
from deskmend.workstation.state import DEVICES, PERSON, State, state_of

from .drawn_truth import faults, points
from .pages import ROOT, SCENARIOS, page_of


def changed(before: State) -> State:
    """A state with much done: raised, padded, propped, its keys and mouse apart, arms at rest."""
    out: dict[Any, Any] = {(DEVICES, "keyboard"): "separate", (DEVICES, "mouse"): "separate"}
    for name in before.places:
        place: Any = ("place", name)
        out |= {
            (place, "seat.pad"): 30.0,
            (place, "back.depth_taken"): 30.0,
            (place, "screen.raise"): 120.0,
            (place, "arms.supported"): "yes",
        }
    for task in before.tasks:
        out[("task", task), "paper.slope"] = 13.0
    return before.with_values(out)


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_scenarios_are_drawn_true_as_they_are_and_with_much_changed(scenario: str) -> None:
    before = state_of(load_case(ROOT / "scenarios" / scenario / "case.yaml"))
    assert faults(before, before) == []
    assert faults(before, changed(before)) == []


@pytest.mark.thorough
@pytest.mark.parametrize("scenario", SCENARIOS)
def test_every_stage_of_every_plan_is_drawn_true(scenario: str) -> None:
    seen = set()
    for plan in page_of(scenario).plans.plans:
        for stage in plan.stages:
            names = tuple(option.with_name for option in stage.options)
            if names not in seen:
                seen.add(names)
                assert faults(plan.state_before, stage.state) == [], names


@pytest.mark.both
@pytest.mark.parametrize("seed", draws(2, 60))
def test_drawn_cases_are_drawn_true(seed: int) -> None:
    before = state_of(drawn_case(seed))
    assert faults(before, before) == []
    assert faults(before, changed(before)) == []


def mirrored(state: State) -> State:
    """The same workplace with left and right exchanged."""
    other = {"left": "right", "right": "left"}
    names = [(PERSON, "person.writing_hand"), (PERSON, "person.mouse_hand")]
    names += [(("task", task), "paper.side") for task in state.tasks]
    return state.with_values(
        {slot: other[str(state.values[slot])] for slot in names if str(state.values[slot]) in other}
    )


@pytest.mark.parametrize("scenario", ["kitchen_books", "seated_editor"])
def test_from_above_a_left_hander_is_a_right_hander_in_the_mirror(scenario: str) -> None:
    before = state_of(load_case(ROOT / "scenarios" / scenario / "case.yaml"))
    for state in (before, changed(before)):
        drawn = [
            {
                (
                    str(one.get("data-of")),
                    frozenset((round(side * x, 3) + 0.0, round(y, 3)) for x, y in points(one)),
                )
                for one in ElementTree.fromstring(above_view(seen, seen, seen.tasks[0]).svg).iter("polygon")
                if one.get("data-of")
            }
            for seen, side in ((state, 1.0), (mirrored(state), -1.0))
        ]
        assert drawn[0] == drawn[1]
        assert len(drawn[0]) >= 3
