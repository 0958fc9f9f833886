"""What may be true behind a case: whole units, within what is stated, together where they go together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.planning.cases import SAMPLE, made
from tests.stages import NOW

from deskmend.intake.prices import PriceTable, Tier
from deskmend.planning.draws import (
    ALL_ERRORS,
    Errors,
    Sample,
    case_with,
    draw,
    drawn_prices,
    residuals_given,
    state_with_body,
    uncertain_lengths,
)
from deskmend.planning.score import PLAIN, score
from deskmend.published import read_table
from deskmend.report.words import measure_how, measure_words
from deskmend.risk.severity import curves, curves_with, end_ranges, moved_curves, severity
from deskmend.workstation.body import DIMENSIONS, estimate_body, residual_covariance
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import PERSON, state_of

NOTHING = Errors(tape=0, estimates=0, curves=False, prices=False)
CASE = made()


def drawn(count: int, errors: Errors = ALL_ERRORS, prices: PriceTable = SAMPLE) -> list[Sample]:
    measures = uncertain_lengths(CASE, errors)
    return [draw(CASE, prices, measures, errors, 5, number) for number in range(count)]


def test_every_length_given_is_a_measure_and_every_other_dimension_an_estimate() -> None:
    found = {".".join(map(str, one.path)): one for one in uncertain_lengths(CASE)}
    given = {name for name, one in found.items() if not one.estimated}
    assert given == {
        "person.stature",
        "person.shoes",
        "person.body.popliteal_height",
        "person.body.sitting_elbow_height",
        "person.body.sitting_eye_height",
        "places.0.seat.height",
        "places.0.seat.depth",
        "places.0.desk.height",
        "places.0.desk.underside",
        "places.0.desk.depth",
        "places.0.desk.width",
        "devices.laptop.screen_top",
        "devices.laptop.screen_height",
        "devices.laptop.keys",
        "devices.laptop.depth",
    }
    assert found["places.0.seat.height"].down == found["places.0.seat.height"].up == 10
    assert found["person.body.popliteal_height"].up == 20
    # knee height of a woman: residual SD 13.0 mm (ansur_ii, published data), taken twice
    assert (found["person.body.knee_height"].estimated, found["person.body.knee_height"].up) == (True, 26)
    # nobody can give the breadth of the shoulders in a case, so measuring it is not advised
    assert not found["person.body.biacromial_breadth"].can_be_taken
    assert found["person.body.knee_height"].can_be_taken


def test_an_end_keeps_to_what_a_case_may_give() -> None:
    measures = {one.key: one for one in uncertain_lengths(made(devices__laptop__keys="6"))}
    keys = measures["devices.laptop.keys"]
    assert (keys.value, keys.down, keys.up) == (6.0, 1, 3)


def test_without_errors_a_sample_is_the_case() -> None:
    assert uncertain_lengths(CASE, NOTHING) == ()
    (one,) = drawn(1, NOTHING)
    assert (one.case, one.prices, one.curves) == (CASE, SAMPLE, {})
    assert dict(one.state.values) == pytest.approx(dict(state_of(CASE).values), nan_ok=True)


def test_samples_are_whole_millimetres_within_their_ends_and_reach_them() -> None:
    samples = drawn(300)
    at = ("place", "den")
    assert {float(one.state.values[at, "seat.height"]) for one in samples} == {
        float(mm) for mm in range(405, 426)
    }
    for one in samples:
        assert all(float(v).is_integer() for (o, n), v in one.state.values.items() if n.startswith("body."))
        assert one.case.places[0].desk.underside is not None
        assert one.case.places[0].desk.underside < one.case.places[0].desk.height


def test_the_first_samples_are_the_same_however_many_follow() -> None:
    few, many = drawn(2), drawn(4)
    shown = [repr(one) for one in many]
    assert [repr(one) for one in few] == shown[:2]
    assert len(set(shown)) == 4


def test_a_sample_is_the_same_on_every_machine() -> None:
    """Pinned from one run of ours: no outside source, it only has to stay."""
    one = drawn(2)[1]
    values = one.state.values
    body = [float(values[PERSON, f"body.{name}"]) for name in ("knee_height", "forearm_hand_length")]
    assert (float(values[("place", "den"), "seat.height"]), body) == (419.0, [492.0, 455.0])
    assert (one.curves["gaze_low"].zero_at, one.curves["gaze_low"].one_at) == (31.0, 50.0)
    # drawn after the ends of curves, of which there is one more since seats far too low are scored
    assert sum(priced.price for priced in one.prices.items.values()) == 49362


def test_estimates_are_drawn_given_what_is_measured() -> None:
    """Conditional normal distribution, worked out a second way: by the inverse of the joint covariance."""
    names = ("popliteal_height", "buttock_popliteal_length", "thigh_clearance")
    known = ("sitting_elbow_height", "sitting_eye_height")
    off = np.array([30.0, -12.0])
    spreads = estimate_body(1650, "female", {}).spreads
    mean, factor = residuals_given(names, known, off, spreads)
    precision = np.linalg.inv(residual_covariance((*names, *known), spreads))
    covariance = np.linalg.inv(precision[:3, :3])
    assert factor @ factor.T == pytest.approx(covariance, abs=1e-3)
    assert mean == pytest.approx(-covariance @ precision[:3, 3:] @ off, abs=1e-3)


@pytest.mark.both
def test_drawn_bodies_follow_the_correlations() -> None:
    """Without anything measured: popliteal and sitting eye height, r -0.63 (ansur_ii, published data)."""
    case = made(person__body=None)
    errors = Errors(tape=0, curves=False, prices=False)
    measures = uncertain_lengths(case, Errors(tape=0))
    values = [
        draw(case, SAMPLE, measures, errors, 2, n).state.values for n in range(1500 if NOW.thorough else 500)
    ]
    legs, eyes = (
        np.array([float(v[PERSON, f"body.{name}"]) for v in values])
        for name in ("popliteal_height", "sitting_eye_height")
    )
    assert np.corrcoef(legs, eyes)[0, 1] == pytest.approx(-0.63, abs=0.06)
    assert legs.std() == pytest.approx(14.0, abs=1.0)


def test_prices_stay_between_their_ends_and_tiers_move_along() -> None:
    item = next(iter(SAMPLE.items))
    priced = replace(
        SAMPLE.items[item],
        price=500,
        low=400,
        high=900,
        tiers=(Tier(10, 300, 200, 700), Tier(20, 100, 100, 100)),
    )
    table = replace(SAMPLE, items={**SAMPLE.items, item: priced})
    seen = set()
    for seed in range(200):
        found = drawn_prices(table, np.random.Generator(np.random.PCG64(seed))).items[item]
        assert 400 <= found.price <= 900
        assert found.tiers[0].price == found.price - 200
        assert found.tiers[1].price == 100
        seen.add(found.price)
    assert min(seen) < 420
    assert max(seen) > 880


def test_ranges_of_curves_hold_the_curve_and_leave_its_ends_apart() -> None:
    by_curve: dict[str, dict[str, tuple[int, int]]] = {}
    for one in end_ranges():
        now = getattr(curves()[one.curve], one.end)
        assert one.low <= now <= one.high
        assert one.low < one.high
        assert one.sources
        assert one.status
        by_curve.setdefault(one.curve, {})[one.end] = (one.low, one.high)
    for name, ends in by_curve.items():
        curve = curves()[name]
        zero = ends.get("zero_at", (curve.zero_at, curve.zero_at))
        last = ends.get("one_at", (curve.one_at, curve.one_at))
        assert max(zero) < min(last) or max(last) < min(zero), name


def test_a_moved_end_is_used_by_the_same_scoring_and_only_within_its_block() -> None:
    # gaze_low from 20 to 40 degrees: 30 scores a half; from 35 on, nothing
    assert float(severity("gaze_low", np.array(30.0))) == 0.5
    state = state_of(CASE)
    before = score(state, PLAIN).by_region["neck"]
    with moved_curves(curves_with({("gaze_low", "zero_at"): 35.0, ("head_inclination", "one_at"): 60.0})):
        assert float(severity("gaze_low", np.array(30.0))) == 0.0
        assert score(state, PLAIN).by_region["neck"] < before
    assert score(state, PLAIN).by_region["neck"] == before


def test_curves_with_equal_ends_or_unknown_names_are_refused() -> None:
    with (
        pytest.raises(ValueError, match="gaze_low: zero_at and one_at are both 40"),
        moved_curves(curves_with({("gaze_low", "zero_at"): 40.0})),
    ):
        pass
    with pytest.raises(KeyError):
        curves_with({("no_such", "zero_at"): 1.0})


def test_every_measure_has_words() -> None:
    keys = {row["path"] for row in read_table("deskmend.planning", "measured_lengths.csv")}
    keys |= {one.key for one in uncertain_lengths(made(person__body=None))}
    assert all(measure_words(key) for key in keys)
    # what is only estimated is measured first, so somebody has to be told how
    assert all(measure_how(f"person.body.{name}") for name in DIMENSIONS if f"body.{name}" in FIELDS)
    assert {row["name"] for row in read_table("deskmend.report", "measures.csv")} >= keys


def test_lengths_are_put_where_they_stand() -> None:
    changed = case_with(CASE, {("places", 0, "desk", "height"): 651.0, ("person", "stature"): 1640.0})
    assert (changed.places[0].desk.height, changed.person.stature) == (651.0, 1640.0)
    assert CASE.places[0].desk.height == 650.0
    state = state_with_body(state_of(CASE), {"knee_height": 555.0})
    assert state.values[PERSON, "body.knee_height"] == state.body["knee_height"] == 555.0
    assert "knee_height" in state.body.estimated


def given(**how: str) -> dict[str, str]:
    return {"value": "415", **how}


def test_a_measure_is_off_by_what_the_case_says_of_it() -> None:
    def seat(**how: str) -> Any:
        case = made(places__0__seat__height=given(**how))
        return next(one for one in uncertain_lengths(case) if one.key == "places.*.seat.height")

    assert (seat(sd="8").down, seat(sd="8").up, seat(sd="8").sd, seat(sd="8").normal) == (16, 16, 8.0, True)
    # by origin alone, judgement: 15 mm from a picture, 40 mm by eye; a tape as before
    assert seat(**{"from": "pictured"}).sd == 15.0
    assert seat(**{"from": "estimated"}).sd == 40.0
    assert seat(**{"from": "estimated"}).given_as_guess
    assert (seat(**{"from": "taped"}).up, seat(**{"from": "taped"}).normal) == (10, False)
    assert seat(sd="8", **{"from": "estimated"}).sd == 8.0


def test_a_stature_told_is_taken_for_nine_less_and_drawn_about_that() -> None:
    """Civilians add 8 and 11 mm (published), standard deviation 18 mm (derived)."""
    case = made(person__stature={"value": "1700", "from": "told"})
    assert case.person.likely_stature == 1691.0
    assert state_of(case).body.stature == 1691.0
    stature = next(one for one in uncertain_lengths(case) if one.key == "person.stature")
    assert (stature.value, stature.down, stature.up) == (1691.0, 36, 36)
    lengths = uncertain_lengths(case)
    found = [draw(case, SAMPLE, lengths, ALL_ERRORS, 5, k).state.body.stature for k in range(60)]
    assert abs(sum(found) / len(found) - 1691.0) < 4 * 18 / 60**0.5
    # a tape alone keeps to 20 mm either way
    assert max(found) - min(found) > 50


def test_an_angle_is_off_only_where_the_case_says_so() -> None:
    def slope(value: Any) -> list[Any]:
        case = made(places__0__seat__slope=value)
        return [one for one in uncertain_lengths(case) if one.key == "places.*.seat.slope"]

    assert not slope("3")
    (one,) = slope({"value": "3", "sd": "2"})
    assert (one.unit, one.down, one.up) == ("deg", 4, 4)
