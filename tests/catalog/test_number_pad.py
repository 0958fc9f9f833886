"""A number pad lies between keys and mouse: who buys keys buys none, who has one can take it away."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.errors import InputFaults
from deskmend.planning.assessment import assess
from deskmend.planning.plan import plan
from deskmend.planning.ready_case import NoPlan
from deskmend.workstation.state import evaluate

MONITOR: dict[str, Any] = {
    "devices__laptop": None,
    "devices__monitor": {"top": "430", "height": "270"},
    "devices__mouse": "separate",
    "tasks__0__main": "monitor",
}


def sideways(hand: str, pad: str, *fixes: str) -> float:
    case = made(
        **MONITOR, devices__keyboard="separate", devices__keyboard_size={"height": "20", "number_pad": pad},
        person__mouse_hand=hand,
    )  # fmt: skip
    after = assess(case, CATALOG, SAMPLE, fixes).after
    return float(evaluate(after, "work")("reach_sideways", hand="mouse"))


def test_without_the_pad_the_mouse_lies_where_it_does_beside_such_keys() -> None:
    assert sideways("right", "yes", "keyboard_no_number_pad") == sideways("right", "no")
    assert sideways("right", "yes", "mouse_other_hand") == sideways("left", "yes")
    assert sideways("right", "no") < sideways("right", "yes")


def test_who_buys_keys_is_not_sent_to_the_other_hand() -> None:
    """The keys bought have no pad to go round, and the person is told what one would do."""
    few = replace(
        CATALOG,
        fixes=tuple(
            fix for fix in CATALOG.fixes if fix.id in ("keyboard_basic", "mouse_basic", "mouse_other_hand")
        ),
    )
    with pytest.raises((NoPlan, InputFaults)):
        plan(made(), few, SAMPLE, None, must=["keyboard_basic", "mouse_basic", "mouse_other_hand"])
    assert "without number pad" in (CATALOG.items["keyboard"].ask or "")
