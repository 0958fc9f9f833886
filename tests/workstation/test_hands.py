"""What the hands do, and how what they lie on slopes, by hand from what a case tells."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.planning.cases import made

from deskmend.workstation.distances import pointing_lean, typing_lean
from deskmend.workstation.posture import mouse_slope
from deskmend.workstation.state import evaluate, state_of


@pytest.mark.parametrize(
    ("changes", "looking", "hands"),
    [
        # all of the time at the laptop: 0.6 of it at the keys, 0.25 with mouse or touchpad (judgement)
        ({"main": "laptop", "reference": "none"}, (1.0, 0.0), (0.6, 0.25, 0.0)),
        # three tenths at paper that is only read
        ({"reference": "paper", "reference_share": "0.3"}, (0.7, 0.3), (0.42, 0.175, 0.0)),
        # and written on, for 0.6 of the time it is looked at
        ({"reference": "paper", "reference_share": "0.3", "writing": "yes"}, (0.7, 0.3), (0.42, 0.175, 0.18)),
        # 0.3 are at what is looked up, where nobody tells (judgement)
        ({"main": "paper", "reference": "laptop", "writing": "yes"}, (0.3, 0.7), (0.18, 0.075, 0.42)),
        # told shares stand as they are, what is not told is 0
        ({"hands": {"keys": "0.5", "mouse": "0.1"}}, (1.0, 0.0), (0.5, 0.1, 0.0)),
    ],
)
def test_shares_of_looking_and_of_the_hands(
    changes: dict[str, Any], looking: tuple[float, float], hands: tuple[float, float, float]
) -> None:
    state = state_of(made(**{f"tasks__0__{key}": value for key, value in changes.items()}))
    at = ("task", "work")

    def told(*names: str) -> list[float]:
        return [float(state.values[at, name]) for name in names]

    assert told("look.screen", "look.paper") == pytest.approx(looking)
    assert told("hands.keys", "hands.mouse", "hands.writing") == pytest.approx(hands)


def test_a_mouse_of_its_own_lies_flat_and_a_touchpad_slopes_with_the_laptop() -> None:
    assert float(mouse_slope("separate", 12.0)) == 0.0
    assert float(mouse_slope("touchpad", 12.0)) == 12.0
    assert mouse_slope(np.array(["touchpad", "separate"]), 12.0).tolist() == [12.0, 0.0]


def test_who_types_leans_to_the_keys_and_reaches_for_the_pointer_with_an_arm() -> None:
    assert (float(typing_lean(0.4, 12.0)), float(typing_lean(0.0, 12.0))) == (12.0, 0.0)
    # hands at mouse, at keys, lean that the mouse asks for
    assert float(pointing_lean(0.3, 0.4, 12.0)) == 0.0
    assert float(pointing_lean(0.3, 0.0, 12.0)) == 12.0
    assert float(pointing_lean(0.0, 0.0, 12.0)) == 0.0


@pytest.mark.parametrize("target", ["screen", "second"])
@pytest.mark.parametrize(
    ("hands", "leads"), [({}, "typing_lean"), ({"keys": "0", "mouse": "0.5"}, "pointing_lean")]
)
def test_one_trunk_leans_as_far_as_the_hands_ask(target: str, hands: dict[str, str], leads: str) -> None:
    # knees have no room under the table, so the body stays back and the hands reach
    desk = {"height": "690", "underside": "650", "depth": "600", "leg_depth": "0"}
    more = {"tasks__0__hands": hands} if hands else {}
    case = made(places__0__desk=desk, devices__keyboard="separate", devices__mouse="separate", **more)
    ask = evaluate(state_of(case), "work")
    leans = {name: float(ask(name, mode="sit")) for name in ("typing_lean", "pointing_lean")}
    assert leans[leads] > min(leans.values()) == 0.0
    assert float(ask("hands_lean", mode="sit", target=target)) == leans[leads]


@pytest.mark.parametrize(
    ("task", "assumed"),
    [
        ({"main": "laptop", "reference": "none"}, False),
        ({"reference": "paper"}, True),
        ({"reference": "paper", "middle": "paper"}, False),
        ({"reference": "paper", "paper": {"at": "left"}}, False),
    ],
)
def test_what_stands_in_the_middle_is_assumed_where_neither_it_nor_the_paper_is_told(
    task: dict[str, Any], assumed: bool
) -> None:
    state = state_of(made(**{f"tasks__0__{key}": value for key, value in task.items()}))
    assert ((("task", "work"), "task.middle") in state.assumed) is assumed


@pytest.mark.parametrize(
    ("pad", "hand", "told", "offset"),
    [
        ("no", "right", None, 300.0),
        ("unknown", "right", None, 300.0),
        ("yes", "unknown", None, 300.0),
        # past the number pad, or on the side that has none (judgement)
        ("yes", "right", None, 420.0),
        ("yes", "left", None, 260.0),
        # what is measured stands
        ("yes", "right", "350", 350.0),
    ],
)
def test_a_mouse_lies_past_the_number_pad_unless_it_is_measured(
    pad: str, hand: str, told: str | None, offset: float
) -> None:
    changes: dict[str, Any] = {
        "devices__keyboard": "separate",
        "devices__mouse": "separate",
        "person__mouse_hand": hand,
        "devices__keyboard_size": {"height": "40", "number_pad": pad},
    }
    if told is not None:
        changes["devices__mouse_offset"] = told
    assert float(state_of(made(**changes)).values[("device", ""), "mouse.offset"]) == offset
