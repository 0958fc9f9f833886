"""Facts of the trade that every plan has to show."""

from __future__ import annotations

import json
from math import atan2, degrees

import pytest
from tests.planning.cases import CATALOG, ROOT, SAMPLE, made
from tests.stages import some

from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.intake.prices import load_prices
from deskmend.planning.assessment import assess
from deskmend.planning.budgets import EveryBudget
from deskmend.planning.plan import Plan, plan
from deskmend.planning.ready_case import prepare
from deskmend.planning.score import PLAIN, score
from deskmend.planning.selection import state_with
from deskmend.risk.severity import curves
from deskmend.workstation.state import evaluate, state_of

LINE_OF_SIGHT = 10.0
"""Top edge of the screen below the line of sight [deg] (common practice, no source)."""


def _plan(case: object, **limits: object) -> Plan:
    return plan(case, CATALOG, SAMPLE, **limits)  # type: ignore[arg-type]


def _names(found: Plan) -> list[str]:
    return [step.option.with_name for step in found.steps]


def _ids(found: Plan) -> set[str]:
    return {step.option.fix.id for step in found.steps}


@pytest.mark.parametrize(
    ("stature", "eye", "seat", "elbow", "popliteal", "desk"),
    [
        (1520, 700, 375, 215, 362, 590),
        pytest.param(1680, 770, 425, 240, 412, 665, marks=pytest.mark.thorough),
        (1880, 865, 470, 265, 457, 735),
    ],
)
@pytest.mark.parametrize("eyewear", ["none", "multifocal"])
def test_riser_brings_the_top_edge_to_the_line_of_sight(
    stature: int, eye: int, seat: int, elbow: int, popliteal: int, desk: int, eyewear: str
) -> None:
    case = made(
        person__stature=str(stature),
        person__eyewear=eyewear,
        person__body={
            "sitting_eye_height": str(eye),
            "sitting_elbow_height": str(elbow),
            "popliteal_height": str(popliteal),
        },
        places__0__seat__height=str(seat),
        places__0__desk={"height": str(desk), "underside": str(desk - 25), "depth": "700", "edge": "rounded"},
        means__tools=["scissors"],
        owns={"carton_box": "1"},
        wishes__never=["laptop_incline", "reach_layout"],
    )
    found = _plan(case)
    ask = evaluate(found.state_after, "work")
    top = float(ask("gaze_top", mode="sit", target="screen"))
    raised = float(found.state_after.values[("place", "den"), "screen.raise"])
    # the same by hand: eye over the top edge, and the level distance of 500 mm, or 650 mm behind a keyboard
    eye_now = float(ask("eye_height", mode="sit"))
    level = 650 if "keyboard_basic" in _ids(found) else 500
    assert float(ask("target_distance", mode="sit", target="screen")) == level
    assert top == pytest.approx(degrees(atan2(eye_now - (desk + raised + 230), level)), abs=0.01)
    if eyewear == "none":
        assert raised >= 80
        assert abs(top - LINE_OF_SIGHT) <= 3.0
    else:
        assert top > LINE_OF_SIGHT + 3.0
        assert 25 <= float(ask("gaze_centre", mode="sit", target="screen")) <= 40


def test_laptop_is_never_raised_without_keys_and_mouse() -> None:
    """At every budget at which the plan changes."""
    case = made(owns={"hardback_book": ["30", "45", "60"], "carton_box": "1"})
    every, high = EveryBudget(prepare(case, CATALOG, SAMPLE), None), 0
    for one in (*every.frontier, *every.distinct):
        ids = {option.fix.id for option in one.options}
        if ids & {"screen_books", "screen_box", "screen_stand"}:
            after = state_with(every.ready.state, one.options)
            raised = float(after.values[("place", "den"), "screen.raise"])
            assert raised <= 30 or {"keyboard_basic", "mouse_basic"} <= ids
            high += raised > 30
    assert high


@pytest.mark.parametrize("height", [100, 150, 200])
def test_geometry_alone_would_not_raise_a_laptop_typed_on(height: int) -> None:
    state = state_of(made())
    raised = state.with_values({(("place", "den"), "screen.raise"): float(height)})
    assert score(raised, PLAIN).total > score(state, PLAIN).total


def test_high_foot_bar_is_left_for_the_floor() -> None:
    case = made(
        places__0__desk__foot_bar="130",
        places__0__desk__foot_bar_setback="250",
        places__0__feet_on="foot_bar",
    )
    now = evaluate(state_of(case), "work")
    assert float(now("hip_angle")) < 90
    found = _plan(case, budget=0)
    assert "feet_floor" in _ids(found)
    assert float(evaluate(found.state_after, "work")("hip_angle")) >= 90


def test_feet_go_on_something_lower_where_the_seat_edge_presses() -> None:
    case = made(
        person__stature="1520",
        person__body={"popliteal_height": "355", "sitting_elbow_height": "225"},
        places__0__seat__height="480",
        places__0__desk={
            "height": "740",
            "underside": "705",
            "depth": "700",
            "edge": "rounded",
            "foot_bar": "230",
            "foot_bar_setback": "260",
        },
        places__0__feet_on="foot_bar",
        owns={"hardback_book": ["20", "40"]},
    )
    gap = 480 - (355 + 15)
    assert gap == 110
    before = state_of(case)
    totals = {}
    for height in (0, 60, 110):
        state = before.with_values(
            {
                (("place", "den"), "feet.on"): "other",
                (("place", "den"), "feet.height"): float(height),
            }
        )
        totals[height] = score(state, PLAIN).total
    assert totals[110] < totals[60] < totals[0]
    found = _plan(case)
    under = float(found.state_after.values[("place", "den"), "feet.height"])
    pad = float(found.state_after.values[("place", "den"), "seat.pad"])
    assert 60 <= under - pad <= 110


def test_feet_on_60_mm_earn_less_than_on_110_but_more_than_nothing() -> None:
    base = {
        "person__stature": "1520",
        "person__body": {"popliteal_height": "355", "sitting_elbow_height": "225"},
        "places__0__seat__height": "480",
        "places__0__desk": {"height": "740", "underside": "705", "depth": "700"},
    }
    totals = [
        assess(made(**base), CATALOG, SAMPLE, fixes).strain.total
        for fixes in ([], ["feet_carton=60"], ["feet_carton=110"])
    ]
    assert totals[2] < totals[1] < totals[0]


def test_agent_on_a_bar_stool_stands_by_turns_or_sits_elsewhere_and_buys_no_cushion_for_it() -> None:
    folder = ROOT / "scenarios" / "counter_calls"
    case, prices = load_case(folder / "case.yaml"), load_prices(folder / "prices.csv")
    for one in EveryBudget(prepare(case, CATALOG, prices), case.means.minutes).distinct:
        ids = {option.fix.id for option in one.options}
        assert ids & {"stand_by_turns", "other_seat"}
        # A pad lifts still higher who sits too high; on the pantry chair, 310 mm lower, it is soft to sit on.
        assert "other_seat" in ids or not ids & {"seat_blanket", "seat_foam", "seat_cushion"}


@pytest.mark.parametrize("desk", [650, 690, 740])
def test_hours_of_flat_writing_bring_the_binder_that_is_owned(desk: int) -> None:
    """De Wall 1991, Freudenthal 1991: a slope lets trunk and head come up, at any of these desks."""
    case = made(
        places__0__desk__height=str(desk),
        places__0__desk__underside=str(desk - 25),
        tasks__0__main="paper",
        tasks__0__hours="4",
        tasks__0__writing="yes",
        tasks__0__paper={"at": "front"},
        owns={"ring_binder": "1"},
    )
    found = _plan(case, budget=0)
    assert "slope_binder" in _ids(found)
    was, now = (evaluate(one, "work") for one in (found.state_before, found.state_after))
    for name in ("trunk_inclination", "head_inclination"):
        assert float(now(name, mode="sit", target="paper")) < float(was(name, mode="sit", target="paper"))


def test_a_slope_does_not_lift_the_elbow_that_lies_along_it() -> None:
    """By hand: at 13 degrees the sheet's middle rises 35 mm over a foot of 10, a forearm of 240 mm by 54."""
    case = made(tasks__0__main="paper", tasks__0__writing="yes", owns={"ring_binder": "1"})
    before, after = (
        evaluate(one, "work")
        for one in (state_of(case), assess(case, CATALOG, SAMPLE, ["slope_binder"]).after)
    )
    roles = {"mode": "sit", "hand": "writing"}
    assert float(after("hand_gap", **roles)) - float(before("hand_gap", **roles)) == 45
    assert float(after("elbow_lift", **roles)) == float(before("elbow_lift", **roles))


def test_raised_seat_goes_with_feet_and_elbows() -> None:
    """A cushion chosen by a plan is never left with the feet hanging by its own height."""
    case = made(
        places__0__seat__surface="hard",
        places__0__desk={"height": "700", "underside": "675", "depth": "700", "edge": "rounded"},
        owns={"hardback_book": ["20", "25", "30"]},
    )
    found = _plan(case)
    pad = float(found.state_after.values[("place", "den"), "seat.pad"])
    assert pad > 0
    assert float(evaluate(found.state_after, "work")("leg_gap")) <= curves()["leg_gap"].zero_at


def test_cost_and_strain_of_the_names_are_those_of_the_plan() -> None:
    case = made(
        places__0__seat__surface="hard", owns={"hardback_book": ["20", "25", "30"], "carton_box": "1"}
    )
    found = _plan(case)
    again = assess(case, CATALOG, SAMPLE, _names(found))
    assert again.strain.total == found.after.total
    assert again.bill.total == found.cost
    assert json.dumps(again.strain.by_region) == json.dumps(found.after.by_region)
    assert not again.breaches
    assert state_with(found.state_before, [s.option for s in found.steps]) == found.state_after


def _offered_and_allowed(case: Case, fix: str) -> bool:
    found = assess(case, CATALOG, SAMPLE, [fix])
    return not found.breaches and not any(found.options[0].fix.title in warning for warning in found.warnings)


@pytest.mark.parametrize(
    ("fix", "changes", "allowed"),
    [
        # Forearms: not on a sharp edge, nor on one nobody looked at; not 60 mm over the elbow (49 to 53
        # is what an arm 25 degrees forward and 20 out reaches, derived from ANSUR II).
        ("forearms_on_desk", {"edge": "rounded", "height": "660", "underside": "640"}, True),
        ("forearms_on_desk", {"edge": "sharp", "height": "660", "underside": "640"}, False),
        ("forearms_on_desk", {"edge": "unknown", "height": "660", "underside": "640"}, False),
        ("forearms_on_desk", {"edge": "rounded", "height": "700", "underside": "680"}, False),
        # Keys are not tilted where the hands are too high: 660 is 20 over an elbow at 415 + 235 - 10.
        ("laptop_incline=8", {"height": "660", "underside": "640"}, True),
        ("laptop_incline=8", {"height": "665", "underside": "640"}, False),
        # Slit foam for 22 mm pipe does not go over a worktop of 40 mm, nor hold on glass of 8.
        ("desk_edge_foam", {"edge": "sharp", "height": "700", "top_thickness": "28"}, True),
        ("desk_edge_foam", {"edge": "sharp", "height": "700", "top_thickness": "40"}, False),
        ("desk_edge_foam", {"edge": "sharp", "height": "700", "top_thickness": "8"}, False),
    ],
)
def test_arms_keys_and_edges_are_where_they_may_be(fix: str, changes: dict[str, str], allowed: bool) -> None:
    desk = {"depth": "700", "width": "1200", "top": "wood", "legs": "fixed", "edge": "rounded", **changes}
    case = made(places__0__desk=desk, owns={"ring_binder": "1"}, means__tools=["scissors"])
    assert _offered_and_allowed(case, fix) == allowed


@pytest.mark.parametrize("desk", some(range(640, 761, 20), 640, 700, 760))
def test_no_plan_tilts_keys_for_hands_too_high(desk: int) -> None:
    case = made(
        places__0__desk__height=str(desk),
        places__0__desk__underside=str(desk - 25),
        owns={"ring_binder": "1"},
    )
    found = _plan(case, budget=0)
    ask = evaluate(found.state_after, "work")
    if float(ask("key_slope", hand="keys")) > 0:
        flat = found.state_after.with_values({(("place", "den"), "laptop.incline"): 0.0})
        assert float(evaluate(flat, "work")("hand_gap", mode="sit", hand="keys")) <= 40


def test_an_upholstered_seat_is_not_hard() -> None:
    told = {"height": "415", "material": "upholstered", "back": "flat"}
    assert float(evaluate(state_of(made(places__0__seat=told)), "work")("seat_pressure")) == 0.3
    assert (
        float(evaluate(state_of(made(places__0__seat={**told, "material": "wood"})), "work")("seat_pressure"))
        == 1
    )
