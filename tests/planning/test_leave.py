"""What leave is asked for beside a plan would take strain off; nothing else is told."""

from __future__ import annotations

from typing import Any

import pytest

from deskmend.planning.model.offers import offers_for
from deskmend.planning.worth import worth_leave
from deskmend.workstation.state import state_of

from .cases import CATALOG, SAMPLE, made

D, S = "places__0__desk__", "places__0__seat__"
HIGH = {D + "height": "740", D + "underside": "715"}
LOW = {D + "height": "560", D + "underside": "530"}
ALLOWED = {"means__may_alter": "yes", "room__landlord_leave": "yes", "means__skill": "3"}


def told(**changes: Any) -> set[str]:
    """Ids of what leave is told to be worth asking for beside no plan at all."""
    case = made(**changes)
    state = state_of(case)
    left_out = offers_for(case, state, CATALOG, SAMPLE).left_out
    return {left.fix.id for left in worth_leave(case, state, [()], left_out, CATALOG)[0]}


@pytest.mark.parametrize(
    ("changes", "wanted", "untold"),
    [
        (HIGH, {"desk_lower"}, {"desk_blocks", "foot_bar_clear", "curtain_window"}),
        ({**HIGH, D + "top": "stone"}, set(), {"desk_lower", "desk_blocks"}),
        (LOW, {"desk_blocks"}, {"desk_lower", "chair_legs_raise", "keyboard_tray_made"}),
        ({"places__0__light__glare": "window_behind", **LOW}, {"desk_blocks", "curtain_window"}, set()),
        ({**HIGH, S + "base": "wheelchair"}, {"desk_lower"}, {"chair_legs_raise", "armrests_off"}),
    ],
)
def test_leave_is_told_of_what_helps_here(
    changes: dict[str, Any], wanted: set[str], untold: set[str]
) -> None:
    found = told(**changes)
    assert found >= wanted
    assert not found & untold


def test_nothing_is_told_where_leave_is_given_or_the_plan_does_as_much() -> None:
    assert told(**HIGH, **ALLOWED) == set()
    case = made(**HIGH)
    state = state_of(case)
    offers = offers_for(case, state, CATALOG, SAMPLE, everything=True)
    (cut,) = (one for one in offers.options() if one.with_name == "den.desk_lower=80")
    (left,) = worth_leave(case, state, [[cut]], offers.left_out, CATALOG)
    assert "desk_lower" not in {one.fix.id for one in left}
