"""What is offered fits this body, this furniture and every posture in which the work is done."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.intake.case import Case
from deskmend.planning.model.offers import offers_for
from deskmend.planning.model.rules import breaches
from deskmend.workstation.effects import apply_changes
from deskmend.workstation.state import State, evaluate, state_of

SCISSORS: dict[str, Any] = {"means__tools": ["scissors"]}
SEPARATE: dict[str, Any] = {"devices__keyboard": "separate", "devices__mouse": "separate"}


def _offered(case: Case) -> set[str]:
    return {option.fix.id for option in offers_for(case, state_of(case), CATALOG, SAMPLE).options()}


def _with(case: Case, *names: str) -> tuple[State, list[str]]:
    """State with options that are offered, by what ``--with`` takes, and the rules that it breaks."""
    before = state_of(case)
    offered = {one.with_name.partition(".")[2] or one.with_name: one for one in _options(case)}
    chosen = [offered[name] for name in names]
    after = apply_changes(before, [change for one in chosen for change in one.changes])
    return after, [one.reason for one in breaches(before, after, [(one.fix, one.owner) for one in chosen])]


def _options(case: Case) -> list[Any]:
    return list(offers_for(case, state_of(case), CATALOG, SAMPLE).options())


def test_a_strap_asks_for_a_backrest_that_it_goes_round() -> None:
    rolls = {"owns": {"bath_towel": "1"}, **SCISSORS, "places__0__seat__back": "flat"}
    assert _with(made(**rolls), "back_towel", "back_strap")[1] == []
    assert not _offered(made(**rolls, places__0__kind="sofa")) & {"back_strap", "back_contoured"}
    # A wall is a back to lean on and nothing that a strap goes round.
    bare = {
        "places__0__seat__back": "none",
        "places__0__seat__recline": None,
        "places__0__seat__base": "stool",
    }
    stool = made(**{**rolls, **bare})
    assert _with(stool, "wall_back", "back_towel")[1] == []
    assert _with(stool, "wall_back", "back_towel", "back_strap")[1]
    assert "A strap needs a backrest to go round." in _with(stool, "back_towel", "back_strap")[1]


@pytest.mark.parametrize(("posture", "highest"), [("sit", 150), ("both", 150), ("stand", 300)])
def test_no_screen_is_raised_above_the_eyes_of_any_posture_in_use(posture: str, highest: int) -> None:
    """Eye 1170 sitting (less what the back sinks in) and 1560 standing; top edge 230 over a desk of 800."""
    case = made(
        places__0__desk={"height": "800", "underside": "770", "depth": "700", "width": "1200"},
        places__0__posture=posture,
        person__body__standing_eye_height="1545",
        **SCISSORS,
        **SEPARATE,
    )
    above = "Sitting, the top edge of the picture would be above your eyes."
    for size in (80, 120, 180, 300):
        assert (above in _with(case, f"screen_box={size}")[1]) == (size > highest)


def test_a_second_screen_is_held_to_the_same() -> None:
    one = {"kind": "monitor", "top": "350", "height": "200", "angle": "30", "distance": "700", "share": "0.5"}
    monitor = {"top": "450", "height": "270"}
    case = made(screens=[one], devices__monitor=monitor, tasks__0__main="monitor", **SCISSORS, **SEPARATE)
    told = [_with(case, f"second_box={size}")[1] for size in (80, 300)]
    assert not told[0]
    assert told[1] == ["Sitting, the top edge of the picture would be above your eyes."]


@pytest.mark.parametrize(("posture", "offered"), [("sit", False), ("both", True), ("stand", True)])
def test_a_table_is_low_or_high_for_each_posture_in_use_by_itself(posture: str, offered: bool) -> None:
    """A worktop of 850: 200 over the seated elbow of 650, and 150 under the standing one of 1015."""
    desk = {"height": "850", "underside": "820", "depth": "700", "width": "1200", "legs": "fixed"}
    case = made(
        places__0__desk=desk,
        places__0__posture=posture,
        person__body__standing_elbow_height="1000",
        owns={"ironing_board": "1", "carton_box": "2", "surface_board": "1", "tape": "900"},
        **SCISSORS,
    )
    assert ("ironing_board" in _offered(case)) == offered
    assert ("surface_on_boxes" in _offered(case)) == offered
    ask = evaluate(state_of(case), "work")
    seated, standing = float(ask("desk_gap", mode="sit")), 850.0 - 1015.0
    gaps = {"sit": [seated], "both": [seated, standing], "stand": [standing]}[posture]
    assert (float(ask("least_desk_gap")), float(ask("most_desk_gap"))) == (min(gaps), max(gaps))


def test_who_has_no_mouse_is_not_told_that_it_lies_near_enough() -> None:
    """A short keyboard brings a mouse in that lies too far out; where none lies, that is what is said."""
    left_out = offers_for(made(), state_of(made()), CATALOG, SAMPLE).left_out
    told = {one.fix.id: one.reason for one in left_out}
    assert told["keyboard_no_number_pad"].startswith("No mouse lies out to the side as yet.")


def test_feet_that_hang_by_a_crate_are_offered_a_crate_and_told_where_none_is_sold() -> None:
    """A bar stool of 720: 305 under the soles, where cartons and footrests end at 150."""
    bar = {
        "places__0__seat": {
            "height": "720",
            "depth": "380",
            "surface": "hard",
            "back": "none",
            "base": "stool",
        },
        "places__0__desk": {"height": "980", "underside": "940", "depth": "600", "legs": "built_in"},
        "places__0__feet_on": "nothing",
    }
    assert _with(made(**bar), "feet_crate=315")[1] == []
    after, _ = _with(made(**bar), "feet_crate=315")
    assert float(evaluate(after, "work")("leg_gap")) == -10.0
    case = made(**bar)
    unsold = replace(SAMPLE, items={name: one for name, one in SAMPLE.items.items() if name != "crate"})
    told = {one.fix.id: one.cause for one in offers_for(case, state_of(case), CATALOG, unsold).left_out}
    assert told["feet_crate"] == "no_price"
