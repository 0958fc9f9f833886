"""Priorities that would be absurd, and must not come out."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.plan import Plan, plan
from deskmend.planning.score import PLAIN, score
from deskmend.workstation.state import Slot, state_of

DEN = ("place", "den")


def _plan(case: object, **limits: object) -> Plan:
    return plan(case, CATALOG, SAMPLE, **limits)  # type: ignore[arg-type]


def _gain(case: object, changes: dict[Slot, float | str]) -> int:
    state = state_of(case)  # type: ignore[arg-type]
    return score(state, PLAIN).total - score(state.with_values(changes), PLAIN).total


def _order(found: Plan, ids: Iterable[str]) -> list[str]:
    wanted = set(ids)
    return [step.option.fix.id for step in found.steps if step.option.fix.id in wanted]


@pytest.mark.parametrize("light", [{"lux": "120", "glare": "none"}, {"lux": "500", "glare": "lamp"}])
def test_light_never_outranks_a_bad_neck(light: dict[str, str]) -> None:
    case = made(
        places__0__light=light,
        places__0__desk={"height": "640", "underside": "610", "depth": "700"},
        devices__laptop__screen_top="180",
        devices__laptop__screen_height="150",
    )
    neck = _gain(
        case,
        {
            (DEN, "screen.raise"): 250.0,
            (("device", ""), "keyboard"): "separate",
            (("device", ""), "mouse"): "separate",
        },
    )
    better = {(DEN, "light.lux"): 500.0, (DEN, "light.glare"): "none"}
    assert neck > _gain(case, better) > 0


@pytest.mark.parametrize(
    "field", ["seat.height", "desk.height", "feet.height", "screen.raise", "seat.depth", "back.depth_taken"]
)
def test_ten_millimetres_decide_nothing(field: str) -> None:
    # A tape and a chair give no more than 10 to 20 mm (common practice, no source).
    state = state_of(made())
    total = score(state, PLAIN).total
    for step in (-10.0, 10.0):
        moved = state.with_values({(DEN, field): max(0.0, float(state.values[DEN, field]) + step)})
        # six hours at a place that fits: a fifth of one exposure, far less than any fix is there for
        assert abs(score(moved, PLAIN).total - total) <= 0.2 * 6_000_000


def _on_paper(**more: object) -> object:
    changes: dict[str, object] = {
        "tasks": [
            {
                "id": "work",
                "place": "den",
                "hours": "7",
                "spell": "60",
                "main": "paper",
                "writing": "yes",
                "paper": {"at": "front"},
            }
        ],
        "places__0__desk__height": "705",
        "places__0__desk__underside": "680",
        "places__0__seat__surface": "thin_pad",
        "places__0__seat__height": "440",
    }
    return made(**(changes | more))


def test_flat_paper_all_day_outweighs_a_slightly_high_desk() -> None:
    case = _on_paper()
    slope = _gain(case, {(("task", "work"), "paper.slope"): 13.0})
    lower = _gain(case, {(DEN, "desk.height"): 685.0})
    assert slope > lower


def test_binder_comes_before_cushion_and_footrest() -> None:
    found = _plan(_on_paper())
    order = _order(
        found,
        ("slope_binder", "slope_plank", "slope_boards", "seat_cushion", "seat_foam", "feet_rest_bought"),
    )
    assert order
    assert order[0] in ("slope_binder", "slope_plank", "slope_boards")


def test_riser_with_keyboard_pays_for_a_laptop_far_below_the_eyes() -> None:
    case = made(
        person__body={"popliteal_height": "400", "sitting_elbow_height": "235", "sitting_eye_height": "790"},
        owns={"carton_box": "1", "tape": "500"},
    )
    found = _plan(case)
    ids = {step.option.fix.id for step in found.steps}
    assert {"keyboard_basic", "mouse_basic"} <= ids
    assert ids & {"screen_box", "screen_stand", "screen_books"}


def test_no_money_still_gives_a_plan_of_free_things() -> None:
    found = _plan(made(places__0__seat__surface="hard", owns={"bath_towel": "1"}), budget=0)
    assert found.cost == 0
    assert found.after.total < found.before.total
    assert found.after.total == found.after_free.total
