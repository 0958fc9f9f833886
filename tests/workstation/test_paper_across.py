"""Paper on the other hand's side: how far the writing hand goes across the body, by hand."""

from __future__ import annotations

from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.plan import plan
from deskmend.workstation.state import evaluate, state_of


def copying(hand: str, side: str, **changes: Any) -> Any:
    task = {"id": "work", "place": "den", "hours": "5", "spell": "90", "main": "laptop"}
    paper = {"reference": "paper", "reference_share": "0.35", "writing": "yes", "paper": {"at": side}}
    return made(person__writing_hand=hand, tasks=[task | paper], **changes)


@pytest.mark.parametrize(("hand", "side"), [("left", "right"), ("right", "left")])
def test_the_hand_that_writes_across_starts_from_its_own_shoulder(hand: str, side: str) -> None:
    state = state_of(copying(hand, side))
    ask = evaluate(state, "work")
    # Sheet 320 aside and 300 ahead; the trunk turns 35 degrees to it: 320 cos 35 - 300 sin 35 = 90 is left
    # from the middle of the body, and the writing shoulder lies half the breadth of both beyond.
    half = 0.5 * state.body["biacromial_breadth"]
    assert float(ask("outside_shoulder", hand="writing")) == pytest.approx(90 + half, abs=1)
    assert float(ask("reach", hand="writing", mode="sit")) > 380


@pytest.mark.parametrize("hand", ["left", "right"])
def test_paper_on_the_side_of_the_hand_that_writes_lies_in_front_of_its_shoulder(hand: str) -> None:
    ask = evaluate(state_of(copying(hand, hand)), "work")
    assert float(ask("outside_shoulder", hand="writing")) == 0
    assert float(ask("reach", hand="writing", mode="sit")) < 380


def test_who_writes_across_the_body_for_hours_is_told_to_lay_the_paper_on_the_other_side() -> None:
    steps = {
        (step.option.fix.id, step.option.size)
        for step in plan(copying("left", "right", means__budget="0.00"), CATALOG, SAMPLE).steps
    }
    assert ("paper_side", "left") in steps
