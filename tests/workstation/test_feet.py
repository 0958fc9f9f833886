"""Feet that touch: what carries them, and what they do not reach."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.plan import plan
from deskmend.workstation.arms import knee_angle
from deskmend.workstation.state import evaluate, state_of

STOOL: dict[str, Any] = {
    "height": "760",
    "depth": "360",
    "surface": "hard",
    "back": "none",
    "base": "stool",
    "material": "metal",
}
BAR = {"height": "1040", "underside": "1000", "depth": "600"}


def _gap(**changes: Any) -> float:
    return float(evaluate(state_of(made(**changes)), "work")("leg_gap"))


@pytest.mark.parametrize(
    ("feet_on", "gap"),
    # Hollow of the knee 400, shoes 15: on a stool of 760 the soles hang at 345.
    [
        ("345", 0),
        ("335", 10),
        ("330", 20),
        ("320", 40),
        ("300", 75),
        ("256", 89),
        ("nothing", 345),
        ("floor", 345),
    ],
)
def test_a_pile_carries_only_soles_that_it_touches(feet_on: str, gap: float) -> None:
    case = {"places__0__seat": STOOL, "places__0__desk": BAR, "places__0__feet_on": feet_on}
    assert _gap(**case) == gap
    touching = float(evaluate(state_of(made(**case)), "work")("soles_down"))
    assert touching == (1.0 if gap <= 10 else 0.0)


@pytest.mark.parametrize(("ring", "gap"), [("340", 5), ("300", 75), ("250", 95)])
def test_a_stools_ring_carries_feet_that_reach_it(ring: str, gap: float) -> None:
    seat = STOOL | {"foot_ring": ring}
    assert _gap(places__0__seat=seat, places__0__desk=BAR, places__0__feet_on="foot_ring") == gap


def test_no_plan_puts_a_pile_where_the_feet_do_not_reach() -> None:
    # A seat of 640: soles hang at 225, and but for a crate nothing that goes under feet comes to 215.
    seat = {"height": "640", "depth": "420", "back": "flat", "base": "legs", "surface": "foam"}
    desk = {"height": "900", "underside": "860", "depth": "600"}
    owns = {"hardback_book": ["40", "40", "56"], "carton_box": "1", "tape": "1000"}
    case = made(
        places__0__seat=seat,
        places__0__desk=desk,
        places__0__feet_on="nothing",
        owns=owns,
        wishes={"never": ["feet_crate"]},
    )
    found = plan(case, CATALOG, SAMPLE)
    assert not {s.option.fix.decision for s in found.steps} & {"feet"}
    assert float(evaluate(found.state_after, "work")("soles_down")) == 0.0


def test_hanging_feet_leave_the_knees_where_the_seat_holds_them() -> None:
    ask = evaluate(
        state_of(made(places__0__seat=STOOL, places__0__desk=BAR, places__0__feet_on="300")), "work"
    )
    body = state_of(made()).body
    assert float(ask("knee_top")) == 760 + body["knee_height"] - 400


def test_a_knee_goes_from_folded_to_straight_and_no_further() -> None:
    # a seat higher by half the thigh opens it by asin(1/2); by the whole thigh, and by more, it is straight
    gaps = np.array([-600.0, -480.0, -240.0, 0.0, 240.0, 480.0, 600.0])
    assert knee_angle(gaps, np.array(480.0)).tolist() == [0, 0, 60, 90, 120, 180, 180]
