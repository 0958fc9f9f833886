"""Which measure to take again: the one that, off by its SD alone, moves most what the plan takes off."""

from __future__ import annotations

from dataclasses import replace
from math import isqrt

from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.intake.case import Case
from deskmend.planning.draws import Noise, case_with, state_with_body, uncertain_lengths
from deskmend.planning.model.offers import OptionSpec, offers_for
from deskmend.planning.model.options import refitted
from deskmend.planning.plan import plan
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.report.plan import how_sure_text, measure_key_text
from deskmend.workstation.state import State, state_of


def taken_off(case: Case, state: State, options: list[OptionSpec]) -> int:
    after = state_with(state, [refitted(option, case) for option in options])
    return score(state, weights_of(case)).total - score(after, weights_of(case)).total


def test_the_measure_named_is_the_one_that_moves_most() -> None:
    case = made(
        places__0__seat__height="470", places__0__seat__surface="hard", owns={"hardback_book": ["40"]}
    )
    state = state_of(case)
    offered = {option.with_name: option for option in offers_for(case, state, CATALOG, SAMPLE).options()}
    options = [offered["den.feet_book=40"], offered["den.seat_cushion=40"]]
    said = taken_off(case, state, options)
    moved = {}
    for length in uncertain_lengths(case):
        offs = []
        for sign, room in ((-1, length.down), (1, length.up)):
            value = length.value + sign * length.sd
            if length.estimated:
                there = state_with_body(state, {str(length.path[-1]): value})
                offs.append(taken_off(case, there, options) - said)
            elif room >= length.sd:
                other = case_with(case, {length.path: value})
                offs.append(taken_off(other, state_of(other), options) - said)
        if offs:
            moved[length.key] = isqrt(sum(off**2 for off in offs) // len(offs))
    found = Noise(case, state, weights_of(case)).least_sure((), options)
    assert found is not None
    length, by = found
    assert by == max(moved.values()) == moved[length.key]
    assert len(set(moved.values())) > 3


def test_what_moves_nothing_is_not_named() -> None:
    case = made()
    assert Noise(case, state_of(case), weights_of(case)).least_sure((), ()) is None


def test_a_measure_on_which_nothing_hangs_is_not_asked_for_again() -> None:
    found = plan(made(places__0__seat__surface="hard"), CATALOG, SAMPLE, budget=3000)
    assert found.least_sure is not None
    length = found.least_sure[0]
    assert "Most hangs on one measure" in how_sure_text(replace(found, least_sure=(length, 50_000)))
    assert "Most hangs on one measure" not in how_sure_text(replace(found, least_sure=(length, 49_999)))


def test_what_hides_a_better_plan_is_named_with_what_to_do() -> None:
    """With an elbow only estimated, raising the seat is worth much or nothing: nobody can tell which."""
    few = replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id == "seat_height"))
    seat = {"height": "415", "height_range": ["415", "455"], "depth": "420", "surface": "foam"}
    desk = {"height": "680", "underside": "650", "depth": "700", "edge": "rounded"}
    case = made(
        places__0__seat={**seat, "back": "shaped", "base": "wheels", "armrests": "none"},
        places__0__desk=desk,
        person__body={"popliteal_height": "420"},
    )
    found = plan(case, few, SAMPLE, 0)
    assert found.best is not None
    assert found.best.strain < found.after.total
    assert found.hidden_by is not None
    told = how_sure_text(found)
    assert "nearer to this plan than the measures can tell" in told
    assert "It is only estimated so far: measure it and plan again." in told
    # what the measure would decide on is named
    (height,) = [option.size for option in found.best.options]
    assert f"Besides, or at another size, it has: Set the height of the seat: {height:.0f} mm." in told
    assert "It does without" not in told
    assert "Most hangs on" not in told
    assert measure_key_text(found) == f"It goes into the case as {'.'.join(map(str, found.hidden_by.path))}."
    # a member of a list goes by its id there, as in the messages of faults
    other = replace(found.hidden_by, path=("places", 0, "seat", "height"))
    assert (
        measure_key_text(replace(found, hidden_by=other))
        == "It goes into the case as places.den.seat.height."
    )
    # once the elbow is measured, nothing is hidden
    known = made(
        places__0__seat={**seat, "back": "shaped", "base": "wheels", "armrests": "none"},
        places__0__desk=desk,
        person__body={"popliteal_height": "420", "sitting_elbow_height": "225", "thigh_clearance": "140"},
    )
    assert plan(known, few, SAMPLE, 0).hidden_by is None
