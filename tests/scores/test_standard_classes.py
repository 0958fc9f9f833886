"""Classes of the standards, with the hours spent in each."""

from __future__ import annotations

import pytest

from deskmend.risk.scores.day import ASKED, NEUTRAL_AT, class_readings, hours_by_class, zones
from deskmend.workstation.graph import QUANTITIES
from deskmend.workstation.state import evaluate

from .workplaces import SCENARIOS, changed, scenario


def test_every_quantity_with_a_published_range_is_asked_for() -> None:
    assert {name for name, *_ in ASKED} == set(zones())
    assert set(zones()) <= set(QUANTITIES.quantities)


@pytest.mark.parametrize("name", SCENARIOS)
def test_hours_add_up_to_the_time_of_the_tasks(name: str) -> None:
    state = scenario(name)
    readings = class_readings(state)
    for task in state.tasks:
        hours = float(state.values[("task", task), "task.hours"])
        seated = [r for r in readings if r.task == task and r.quantity == "hip_angle"]
        sitting = float(evaluate(state, task)("mode_share", mode="sit"))
        assert sum(r.hours for r in seated) == pytest.approx(hours * sitting)
        looked = [r for r in readings if r.task == task and r.quantity == "neck_flexion"]
        assert sum(r.hours for r in looked) == pytest.approx(hours)
    for one in hours_by_class(readings):
        own = [r.hours for r in readings if r.quantity == one.quantity]
        assert one.inside + one.conditional + one.outside + one.unknown == pytest.approx(sum(own))


def test_an_angle_a_little_under_a_right_one_counts_as_one_and_says_so() -> None:
    # Judgement: lengths are read to 10 or 20 mm. The standards print 90 without a tolerance.
    assert NEUTRAL_AT["knee_angle"] == 90.0
    state = changed(scenario("kitchen_books"), feet__height=0.0, feet__on="floor")
    level = 395.0 + 15.0
    found = {}
    for drop in (0.0, 20.0, 60.0):
        readings = class_readings(changed(state, seat__height=level - drop))
        found[drop] = next(r for r in readings if r.quantity == "knee_angle")
    assert [found[drop].posture_class for drop in (0.0, 20.0, 60.0)] == ["inside", "inside", "outside"]
    assert "counts as 90" in found[20.0].reason
    assert found[20.0].value < 90.0


def test_each_reading_names_source_and_status() -> None:
    for reading in class_readings(scenario("kitchen_books")):
        assert reading.source
        assert reading.status
        assert reading.reason[0].isdecimal()
        assert reading.source in reading.reason


def test_paper_is_not_held_against_ranges_for_screens() -> None:
    readings = class_readings(scenario("shared_chair_papers"))
    assert not [r for r in readings if r.of == "paper" and r.quantity in ("gaze_top", "viewing_distance")]
    assert [r for r in readings if r.of == "paper" and r.quantity == "head_inclination"]
