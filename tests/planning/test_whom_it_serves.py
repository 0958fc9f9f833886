"""What a case can state of people, places and days, and that it is taken as meant."""

from __future__ import annotations

from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made, plain

from deskmend.intake.case_file import read_case
from deskmend.planning.assessment import assess
from deskmend.planning.model.offers import offers_for, shared_notes
from deskmend.workstation.state import PERSON, state_of

T = "tasks__0__"
ALTERING: dict[str, Any] = {
    "means__may_alter": "yes",
    "room__landlord_leave": "yes",
    "means__tools": ["scissors", "needle", "saw", "drill", "screwdriver", "spanner", "knife", "hammer"],
    "places__0__seat__height": "350",
    "places__0__desk__height": "600",
    "places__0__desk__underside": "570",
}


def faults(**changes: Any) -> list[str]:
    return [str(one) for one in read_case(plain(**changes), "mine.yaml")[1]]


def test_days_that_differ_count_with_their_mean_hours() -> None:
    """Six hours on two of five days are 2.4 a day; strain is linear in hours, to the millionth each term."""
    daily = assess(made(**{T + "hours": "2.4"}), CATALOG, SAMPLE)
    twice = assess(made(**{T + "hours": "6", T + "days": "2"}), CATALOG, SAMPLE)
    assert twice.strain.total == daily.strain.total
    assert any("mean hours" in warning for warning in twice.warnings)
    assert not any("mean hours" in warning for warning in daily.warnings)
    # of a week of four working days it is half
    four = made(**{T + "hours": "6", T + "days": "2", "person__work_days": "4"})
    assert state_of(four).values[("task", "work"), "task.hours"] == 3.0


def test_more_days_than_one_works_are_a_fault() -> None:
    (fault,) = faults(**{T + "days": "6", "person__work_days": "5"})
    assert "tasks.work.days" in fault
    assert "at most person.work_days, 5 a week" in fault


def test_long_days_that_do_not_meet_are_no_fault() -> None:
    other = plain()["tasks"][0] | {"id": "nights", "hours": "20", "days": "2"}
    first = plain()["tasks"][0] | {"hours": "20", "days": "3"}
    assert not faults(tasks=[first, other], person__work_days="5")
    assert "24 h a day" in faults(tasks=[first | {"days": "5"}, other], person__work_days="5")[0]


def broken(fix: str, **changes: Any) -> set[str]:
    """Rules of its own that a fix at its smallest size breaks."""
    size = CATALOG.by_id[fix].size
    assert size is not None
    found = assess(made(**(ALTERING | changes)), CATALOG, SAMPLE, [f"den.{fix}={size.low:g}"])
    return {one.reason for one in found.breaches if one.fix.id == fix}


@pytest.mark.parametrize("fix", ["chair_legs_raise", "chair_legs_shorten"])
def test_a_folding_chair_stands_on_no_blocks_and_keeps_its_legs(fix: str) -> None:
    assert broken(fix, places__0__seat__base="folding") - broken(fix)


@pytest.mark.parametrize("fix", ["desk_blocks", "desk_lower"])
def test_a_worktop_on_the_wall_is_neither_raised_nor_lowered(fix: str) -> None:
    assert broken(fix, places__0__desk__legs="built_in") - broken(fix)


def test_a_tablet_flat_on_the_table_can_be_stated() -> None:
    flat = {"screen_top": "25", "screen_height": "15", "keys": "10", "depth": "170"}
    low = assess(made(devices__laptop=flat), CATALOG, SAMPLE)
    usual = assess(made(), CATALOG, SAMPLE)
    assert low.strain.by_region["neck"] > usual.strain.by_region["neck"]


def test_a_desk_that_others_use_keeps_what_does_not_come_off() -> None:
    tall = [{"stature": "1900", "sex": "male"}]
    case = made(**ALTERING, places__0__desk__shared_with=tall)
    causes = {one.cause for one in offers_for(case, state_of(case), CATALOG, SAMPLE).left_out}
    alone = made(**ALTERING)
    assert "shared" in causes
    assert "shared" not in {one.cause for one in offers_for(alone, state_of(alone), CATALOG, SAMPLE).left_out}
    assert "The desk at den is shared" in shared_notes(case, [state_of(case)])[0]
    # on what somebody sits who shares the desk alone, nobody told: nothing is said of legs and feet
    tiny = made(places__0__desk__shared_with=[{"stature": "1400"}, {"stature": "2100"}])
    assert len(shared_notes(tiny, [state_of(tiny)])) == 1
    both = made(places__0__desk__shared_with=tall, places__0__seat__shared_with=tall)
    assert "Seat and desk at den are shared" in shared_notes(both, [state_of(both)])[0]
    # whoever uses both is told of once
    assert sum("1900" in note and "legs" in note for note in shared_notes(both, [state_of(both)])) <= 1


def test_a_shared_seat_is_told_of_only_where_somebody_works_while_the_plan_is_carried_out() -> None:
    tall = [{"stature": "1900", "sex": "male"}]
    case = made(places__0__seat__shared_with=tall)
    state = state_of(case)
    gone = state.with_values({}, dict.fromkeys(state.place_of, "annex"))
    assert "The seat at den is shared" in shared_notes(case, [state, gone])[0]
    assert shared_notes(case, [gone]) == ()


@pytest.mark.parametrize(("weak", "strong"), [("left", "right"), ("right", "left")])
def test_who_is_weak_on_one_side_is_taken_to_write_and_point_with_the_other(weak: str, strong: str) -> None:
    case = made(person__weak_side=weak, person__writing_hand=None, person__mouse_hand=None)
    state = state_of(case)
    assert state.values[PERSON, "person.writing_hand"] == strong
    assert state.values[PERSON, "person.mouse_hand"] == strong
    assert any(f"one side is weak ({weak})" in one for one in assess(case, CATALOG, SAMPLE).warnings)
    told = state_of(made(person__weak_side=weak, person__writing_hand=weak))
    assert told.values[PERSON, "person.writing_hand"] == weak


LAP: dict[str, Any] = {"places__0__desk": {"height": "560", "depth": "350", "legs": "lap"}}


def test_work_on_the_lap_has_room_and_is_not_lifted_off_by_seat_or_feet() -> None:
    case = made(**LAP, owns={"hardback_book": ["40", "60"], "blanket": "1"})
    found = assess(case, CATALOG, SAMPLE)
    assert not {one.name for one in found.quantities if one.severity > 0} & {"clearance", "leg_gap"}
    offers = offers_for(case, state_of(case), CATALOG, SAMPLE)
    changed = {effect.change for option in offers.options() for effect in option.fix.effects}
    assert not changed & {"seat.height", "seat.pad", "feet.height", "screen.raise"}
    assert "lap" in {one.cause for one in offers.left_out}
    assert "lap_board" in {option.fix.id for option in offers.options()}


def test_a_lap_has_no_underside() -> None:
    desk = {"height": "560", "underside": "540", "legs": "lap"}
    (fault,) = faults(places__0__desk=desk)
    assert "places.den.desk.underside" in fault
    assert "no underside with legs: lap" in fault
