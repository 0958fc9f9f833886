"""Things stand on a desk only where they can: one geometry for what is reckoned, ruled out and drawn.

Lengths by hand: keyboard 150 deep, sheet 240 (A4, ISO 216, less a margin of 30 at either end), laptop 240 as
the case tells, 30 kept behind the picture; widths 320 and 440 of keyboards, 330 of a laptop, 180 of a sheet
less its margin, 200 for a mouse (judgement and common practice, see docs/methods.md).
"""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from tests.planning.cases import CATALOG, PLAIN, SAMPLE, made
from tests.planning.test_where_rules_are_asked import allowed_by_check, allowed_by_model
from tests.stages import seeds

from deskmend.intake.case import Case
from deskmend.language import tr
from deskmend.planning.model.offers import KEEP, offers_for
from deskmend.planning.model.rules import NO_ROOM, breaches, concerns
from deskmend.planning.plan import NoPlan, plan
from deskmend.planning.plan_check import without_room
from deskmend.planning.ready_case import prepare
from deskmend.planning.score import PLAIN as NO_WEIGHTS
from deskmend.planning.score import score
from deskmend.planning.selection import select, state_with
from deskmend.report.drawing.above import above_view
from deskmend.report.drawing.side import side_view
from deskmend.report.fit import crowded_out
from deskmend.workstation.distances import EYE_TO_EDGE
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import DEVICES, State, evaluate, state_of

DEN: Any = ("place", "den")
WORK: Any = ("task", "work")
APART = {(DEVICES, "keyboard"): "separate", (DEVICES, "mouse"): "separate"}
RAISED = {(DEN, "screen.raise"): 60.0}
SET = {(WORK, "task.viewing_distance"): 600.0, (WORK, "task.screen_set"): "yes"}
PAPER = {"tasks__0__reference": "paper", "tasks__0__reference_share": "0.3"}


def desk(depth: str | None = "700", width: str | None = "1200", **changes: Any) -> Case:
    own = {"height": "650", "underside": "620", "edge": "rounded", "legs": "fixed"}
    sizes = {name: value for name, value in (("depth", depth), ("width", width)) if value is not None}
    return made(places__0__desk=own | sizes, **changes)


def screen_at(state: State) -> float:
    """Front edge to the picture."""
    return float(evaluate(state, "work")("target_distance", mode="sit", target="screen")) - EYE_TO_EDGE


def of(state: State, name: str) -> float:
    return float(evaluate(state, "work")(name))


# --- by hand -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "paper", "nearest", "left"),
    [
        ({}, "left", 240, 700 - 240 - 30),
        (APART, "left", 150 + 240, 700 - 390 - 30),
        # raised by 60 its front half reaches over the keys
        (APART | RAISED, "left", 150 + 120, 700 - 270 - 30),
        # a shelf under the top takes the keyboard off it
        (APART | {(DEN, "keyboard.drop"): 40.0}, "left", 240, 700 - 240 - 30),
        # behind paper in the middle, 250 from the edge, the keyboard beside it; the margin may lie under
        (APART | {(WORK, "task.middle"): "paper"}, "left", 250 + 150 + 240, 700 - 640 - 30 + 30),
        # nor does a raised one reach over what is read
        (APART | RAISED | {(WORK, "task.middle"): "paper"}, "left", 250 + 150 + 240, 700 - 640),
        # keys, sheet and raised laptop in line: the sheet lies right behind the keys
        (APART | RAISED, "front", 150 + 300 + 240, 700 - 690 - 30 + 30),
        # typed on it goes aside of paper in the middle
        ({(WORK, "task.middle"): "paper"}, "left", 240, 700 - 240 - 30),
    ],
)
def test_depth_by_hand(changes: dict[Any, Any], paper: str, nearest: float, left: float) -> None:
    state = state_of(desk(**PAPER, tasks__0__paper={"at": paper})).with_values(changes)
    assert of(state, "screen_nearest") == nearest
    assert of(state, "depth_left") == left


@pytest.mark.parametrize(
    ("changes", "needed"),
    [
        ({}, 330 + 180),
        ({(DEVICES, "mouse"): "separate"}, 330 + 200 + 180),
        (APART, 440 + 200 + 180),
        (APART | {(DEVICES, "keyboard.number_pad"): "no"}, 320 + 200 + 180),
        (APART | {(WORK, "task.middle"): "both"}, 440 + 200),
        # a shelf takes keys and mouse; the laptop itself is wider than the sheet
        (APART | {(DEN, "keyboard.drop"): 40.0}, 330),
        ({(WORK, "look.paper"): 0.0}, 330),
    ],
)
def test_width_by_hand(changes: dict[Any, Any], needed: float) -> None:
    state = state_of(desk(**PAPER, tasks__0__paper={"at": "left"})).with_values(changes)
    assert of(state, "width_left") == 1200 - needed


@pytest.mark.parametrize(
    ("depth", "changes", "stands"),
    [
        # 600 from the eye are 357 from the edge, where a laptop 240 deep behind 150 of keys cannot stand
        ("700", APART, 390),
        ("700", APART | RAISED, 357),
        ("700", APART | {(WORK, "task.middle"): "paper"}, 640),
        # a desk 30 shorter: the margin of the sheet lies under the laptop
        ("640", APART | {(WORK, "task.middle"): "paper"}, 610),
    ],
)
def test_a_screen_set_anew_stands_behind_what_is_before_it(
    depth: str, changes: dict[Any, Any], stands: float
) -> None:
    case = desk(depth, **PAPER, tasks__0__paper={"at": "left"})
    assert screen_at(state_of(case).with_values(SET | changes)) == stands


@pytest.mark.parametrize("raised", [{}, RAISED])
@pytest.mark.parametrize("middle", ["screen", "paper", "both"])
@pytest.mark.parametrize("leg_depth", ["0", "700"])
def test_what_fits_is_drawn_in_its_place(leg_depth: str, middle: str, raised: dict[Any, Any]) -> None:
    """Also with the body far back, where a screen is set as near as it goes."""
    case = desk("800", **PAPER, tasks__0__paper={"at": "left"}, places__0__desk__leg_depth=leg_depth)
    for changes in (APART, APART | SET):
        state = state_of(case).with_values(changes | raised | {(WORK, "task.middle"): middle})
        if of(state, "depth_left") >= 0.0:
            seen = score(state, NO_WEIGHTS)
            drawn = side_view(state, state, "work", "sit", seen, seen).svg
            assert "No room where it is reckoned" not in drawn


@pytest.mark.parametrize(
    ("depth", "changes", "said"),
    [
        # 520 less 150 of keys, 240 of laptop and 30 leave just 100 (Marcus 2002: over 120 mm from the edge)
        ("520", {}, "Push keys and screen in by 100 mm"),
        ("519", {}, "no 100 mm to spare"),
        # the arms rest, or a shelf carries the keys: other steps say where they go
        ("520", {(DEN, "arms.supported"): "yes"}, ""),
        ("519", {(DEN, "arms.supported"): "yes"}, ""),
        ("520", {(DEN, "keyboard.drop"): 40.0}, ""),
        # who cannot sit nearer is not told to
        ("520", {(DEN, "desk.leg_depth"): 100.0}, ""),
    ],
)
def test_room_for_the_hands_before_the_keys_is_told(depth: str, changes: dict[Any, Any], said: str) -> None:
    state = state_of(desk(depth)).with_values(APART | changes)
    for name in ("keyboard_basic", "keyboard_no_number_pad"):
        steps = [one.say for one in CATALOG.by_id[name].how if concerns(one, DEVICES, state)]
        about = [one for one in steps if "100 mm" in one]
        assert len(about) == bool(said)
        assert said in "".join(about)


# --- the rule ------------------------------------------------------------------------------------


def told(case: Case, *names: str) -> set[str]:
    """What rules and the check of a plan say of fixes."""
    before = state_of(case)
    offers = offers_for(case, before, CATALOG, SAMPLE, asked=set())
    options = select(names, offers, case, SAMPLE, CATALOG.by_id, "--with", [])
    after = state_with(before, options)
    found = {b.reason for b in breaches(before, after, [(one.fix, one.owner) for one in options])}
    missing = {tr(why) for why in NO_ROOM.values()} & found
    assert bool(missing) == bool(without_room(before, after))
    return missing


def test_what_does_not_fit_is_refused_with_its_reason() -> None:
    deep, wide = (tr(NO_ROOM[name]) for name in ("depth_left", "width_left"))
    assert "does not fit" in deep
    assert told(desk("419"), "keyboard_basic") == {deep}
    assert told(desk("420"), "keyboard_basic") == set()
    assert told(desk("300", owns={"hardback_book": ["60"]}), "keyboard_basic", "mouse_basic") == {deep}
    paper = {**PAPER, "tasks__0__paper": {"at": "left"}}
    assert told(desk(width="699", **paper), "keyboard_basic", "mouse_basic") == {wide}
    assert told(desk(width="700", **paper), "keyboard_basic", "mouse_basic") == set()


def test_where_the_size_is_estimated_nothing_is_refused_and_it_is_told_as_an_estimate() -> None:
    assert told(desk(None), "keyboard_basic") == set()
    guess: Any = {"value": "400", "from": "estimated", "sd": "50"}
    assert told(desk(guess), "keyboard_basic") == set()
    before = state_of(desk("700", None, **PAPER, tasks__0__paper={"at": "left"}))
    after = before.with_values(APART | {(DEN, "desk.width"): 800.0})
    assert "How wide it is is only estimated." in crowded_out(before, after)
    known = state_of(desk("700", "800", **PAPER, tasks__0__paper={"at": "left"}))
    assert crowded_out(known, known.with_values(APART))
    assert "estimated" not in crowded_out(known, known.with_values(APART))


TWO: dict[str, Any] = {
    "devices__monitor": {"top": "480", "height": "288"},
    "devices__keyboard": "separate",
    "devices__mouse": "separate",
    "tasks__0__main": "monitor",
    "screens": [{"kind": "monitor", "top": "480", "height": "270", "angle": "50", "share": "0.4"}],
}


@pytest.mark.parametrize(("width", "lacking"), [("991", "1 mm"), ("992", "")])
def test_a_second_screen_is_told_by_its_estimated_width_and_refused_by_no_rule(
    width: str, lacking: str
) -> None:
    """Pictures of 16 : 9: 288 high are 512 wide, 270 are 480; a tenth of the second is 48."""
    case = desk("700", width, **TWO)
    assert (of(state_of(case), "second_takes"), of(state_of(case), "screens_left")) == (480, int(width) - 992)
    assert told(case, "second_beside") == set()
    before = state_of(case)
    beside = before.with_values({(DEVICES, "second.angle"): 33.5})
    said = crowded_out(before, beside)
    if lacking:
        assert f"wider than the desk, by {lacking}" in said
        assert "counted with 480 mm, give or take 48 mm" in said
    else:
        assert said == ""
    # where it stands today it stands
    assert crowded_out(before, before) == ""
    assert crowded_out(before, before.with_values({(DEVICES, "second.used"): "no"})) == ""


def test_the_drawing_follows_the_reckoning_of_room() -> None:
    """700 are just enough for keys of 320, 200 for the mouse and 180 of a sheet: only nearer to one end."""
    paper = {**PAPER, "tasks__0__paper": {"at": "left"}}
    short = APART | {(DEVICES, "keyboard.number_pad"): "no"}
    for width, room in (("700", True), ("699", False)):
        state = state_of(desk("700", width, **paper)).with_values(short)
        assert (of(state, "width_left") >= 0.0) == room
        assert ("there is no room beside the rest" in above_view(state, state, "work").things) <= (not room)
        assert "Drawn with the body" in above_view(state, state, "work").things


@seeds(16, 1500)
def test_no_drawing_from_above_says_that_there_is_no_room_where_there_is(seed: int) -> None:
    draw = Random(seed)
    paper = {**PAPER, "tasks__0__paper": {"at": draw.choice(["left", "right", "front"])}}
    sizes = str(draw.randrange(260, 900, 10)), str(draw.randrange(350, 1900, 10))
    hands = {"person__mouse_hand": draw.choice(["left", "right"])}
    state = state_of(desk(*sizes, **paper, **hands)).with_values(
        draw.choice([{}, APART])
        | draw.choice([{}, RAISED, SET])
        | {(WORK, "task.middle"): draw.choice(["screen", "paper", "both"])}
        | {(DEN, "desk.leg_width"): draw.choice([450.0, 700.0, 1600.0])}
    )
    fits = of(state, "depth_left") >= 0.0 and of(state, "width_left") >= 0.0
    view = above_view(state, state, "work")
    assert not (fits and "there is no room beside the rest" in view.things)
    if not fits:
        assert "there is no room beside the rest" in view.things or "room is lacking" in view.things
    assert not crowded_out(state, state)


def test_what_lacks_room_today_may_stay_and_lacks_no_more() -> None:
    apart = {"devices__keyboard": "separate", "devices__mouse": "separate"}
    # 390 + 30 on 400: it stands so today
    today = desk("400", **apart)
    assert of(state_of(today), "depth_left") == -20
    assert told(today) == set()
    found = plan(today, CATALOG, SAMPLE, budget=5000)
    assert of(found.state_after, "depth_left") >= -20


def test_no_plan_at_any_price_leads_where_nothing_fits() -> None:
    with pytest.raises(NoPlan):
        plan(desk("290", "1200"), CATALOG, SAMPLE, budget=50_000, must=["keyboard_basic"])


@seeds(2, 20)
def test_model_rules_and_check_agree_on_small_desks(seed: int) -> None:
    draw = Random(seed)
    task = PLAIN["tasks"][0] | {"reference": "paper", "reference_share": "0.4", "paper": {"at": "left"}}

    def place(name: str) -> dict[str, Any]:
        own = PLAIN["places"][0]
        sizes = {"depth": str(draw.randrange(350, 700, 10)), "width": str(draw.randrange(450, 900, 10))}
        return own | {"id": name, "desk": own["desk"] | sizes}

    owns = {"hardback_book": ["60", "80"], "ring_binder": "1"}
    case = made(tasks=[task], places=[place("den"), place("nook")], owns=owns)
    ready = prepare(case, CATALOG, SAMPLE)
    about = ("keyboard", "mouse", "middle", "screen_height", "place", "layout", "paper_slope")
    offers = [one for one in ready.offers.decisions if one.name.rpartition(".")[2] in about]
    refused = set()
    for _ in range(120):
        options = {one.name: KEEP for one in ready.offers.decisions}
        for offer in offers:
            if draw.random() < 0.6:
                options[offer.name] = draw.choice([KEEP, *(option.name for option in offer.options)])
        allowed = allowed_by_check(ready, options)
        assert allowed_by_model(ready, options) == allowed, options
        try:
            after = state_with(ready.state, ready.offers.taken(options))
        except TwoSets:
            continue
        if without_room(ready.state, after):
            assert not allowed
        refused.add(bool(without_room(ready.state, after)))
    assert refused == {True, False}
