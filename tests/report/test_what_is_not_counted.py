"""What the strain does not count is said, and so is what makes no difference to it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from tests.planning.cases import CATALOG, GIVING_WAY, SAMPLE, made

from deskmend.planning.assessment import assess
from deskmend.planning.plan import Plan, plan
from deskmend.planning.stages import StageChange
from deskmend.report.plan import plan_text
from deskmend.report.stages import why_of

PAPER = {
    "tasks__0__reference": "paper",
    "tasks__0__reference_share": "0.4",
    "tasks__0__writing": "yes",
    "tasks__0__paper": {"at": "left"},
}


@pytest.mark.parametrize(
    ("phone", "share", "told"), [("hand", "0.3", True), ("cradled", "0.3", False), ("hand", None, False)]
)
def test_a_telephone_in_the_hand_is_said_to_count_nothing(phone: str, share: str | None, told: bool) -> None:
    case = made(devices__phone=phone, tasks__0__phone_share=share)
    found = assess(case, CATALOG, SAMPLE)
    assert any("held in the hand" in warning for warning in found.warnings) == told
    if phone == "hand":
        assert found.strain.total == assess(made(tasks__0__phone_share=share), CATALOG, SAMPLE).strain.total


@pytest.mark.parametrize("middle", ["paper", "screen"])
def test_the_screen_is_not_sent_to_the_middle_where_the_paper_lies(middle: str) -> None:
    ids = ("reach_layout", "middle", "keyboard_basic", "mouse_basic")
    few = replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in ids))
    musts = ["reach_layout", "keyboard_basic", *(["middle=paper"] if middle == "paper" else [])]
    case = made(**PAPER, wishes={"never": [] if middle == "paper" else ["middle"]})
    told = plan_text(plan(case, few, SAMPLE, None, must=musts), few, SAMPLE)
    text = " ".join(told.split())
    assert ("Set the screen straight ahead, " in text) == (middle == "screen")
    assert ("Set the screen straight ahead behind the paper" in text) == (middle == "paper")
    assert "You look at the screen straight ahead." not in text


@cache
def raised() -> Plan:
    few = replace(CATALOG, fixes=tuple(f for f in CATALOG.fixes if f.id in ("seat_height", "screen_books")))
    return plan(made(**GIVING_WAY), few, SAMPLE, 0)


def test_what_is_set_anew_without_a_difference_says_so() -> None:
    stage = raised().stages[-1]
    option = stage.options[0]
    idle = StageChange(option, option, (), stage.state, stage.state, stage.strain)
    assert (
        why_of(idle) == "By itself it makes no difference to the strain; the plan is reckoned with it set so."
    )
    assert why_of(replace(idle, before=None)).startswith("By itself it takes nothing off: it counts together")


def test_free_fixes_are_not_said_to_leave_more_than_the_stage_for_nothing() -> None:
    found = raised()
    assert found.stages[0].is_today
    worse = replace(found, after_free=found.before)
    text = " ".join(plan_text(worse, CATALOG, SAMPLE).split())
    assert f"with free fixes alone {found.stages[0].strain / 1e6:.2f} (weighted)" in text
