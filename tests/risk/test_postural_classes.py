"""Posture classes: whole ranges covered, order of severity, vectorised against single, faults."""

import numpy as np
import pytest

from deskmend.language import reading
from deskmend.risk.ranges import OutOfRange, UnknownName
from deskmend.risk.scores import day as postural_classes
from deskmend.risk.scores.day import CLASSES, classify, zones
from deskmend.risk.scores.items import OTHER_SIDE


@pytest.mark.parametrize("quantity", list(zones()))
def test_every_value_has_exactly_one_zone_and_arrays_agree_with_singles(quantity):
    own = zones()[quantity]
    ends = [own[0].band.low, *(zone.band.high for zone in own)]
    values = np.unique(np.concatenate([np.linspace(ends[0], ends[-1], 101), ends]))
    held = sum(zone.band.holds(values).astype(int) for zone in own)
    assert (held == 1).all()
    many = classify(quantity, values)
    assert many.tolist() == [classify(quantity, float(v)) for v in values]
    assert set(many) <= set(CLASSES)
    assert "inside" in many


@pytest.mark.parametrize("quantity", list(zones()))
def test_classes_never_get_milder_away_from_the_inside(quantity):
    places = [zone.band.points for zone in zones()[quantity]]
    first = places.index(0)
    last = len(places) - 1 - places[::-1].index(0)
    assert places[:first] == sorted(places[:first], reverse=True)
    assert places[last:] == sorted(places[last:])
    assert set(places[first : last + 1]) == {0}


@pytest.mark.parametrize("quantity", list(zones()))
def test_every_zone_carries_source_edition_status(quantity):
    for zone in zones()[quantity]:
        assert zone.source
        assert zone.edition
        assert zone.band.status.split(" (")[0].split(";")[0] in ("confirmed", "from memory", "judgement")


def test_judged_zones_fall_as_documented():
    """Judgement, see docs/methods.md."""
    assert classify("seat_clearance", [-1, 0, 49, 100, 101]).tolist() == [
        "outside",
        "conditional",
        "conditional",
        "inside",
        "conditional",
    ]
    assert classify("hip_angle", 121) == "conditional"
    assert classify("shoulder_flexion", -1) == "outside"


def test_noise_of_arithmetic_tips_no_class():
    assert classify("hip_angle", [np.nextafter(90, 0), 90 - 1e-6]).tolist() == ["inside", "outside"]


def test_faults_are_named():
    with pytest.raises(UnknownName, match="did you mean hip_angle"):
        classify("hip_angel", 90)
    for bad in (float("nan"), 181, "90", None, True, [90, float("nan")]):
        with pytest.raises(OutOfRange, match="hip_angle"):
            classify("hip_angle", bad)
    with pytest.raises(OutOfRange, match="single"):
        postural_classes.explain("hip_angle", [90, 91])


def test_reason_names_value_zone_and_source():
    assert postural_classes.explain("neck_flexion", 26) == (
        "26 degrees forward, over 25 (ISO 11226; EN 1005-4; confirmed (secondary source))"
    )
    assert postural_classes.explain("neck_flexion", 25.04).startswith("25.04 degrees forward, over 25 (")


def test_a_value_below_zero_is_told_by_its_side_and_once():
    assert postural_classes.explain("gaze_centre", -3.5).startswith("3.5 degrees above eye level, over 0 (")
    assert postural_classes.explain("wrist_extension", -31).startswith("31 degrees bent down, over 30 (")
    with reading("es"):
        told = postural_classes.explain("gaze_centre", -3.5)
    assert told.startswith("3,5 grados por encima de los ojos, más de 0 (")


def test_every_quantity_with_a_stretch_below_zero_names_both_sides():
    below = [zone for own in postural_classes.zones().values() for zone in own if zone.band.low < 0]
    assert below
    assert all(zone.unit in OTHER_SIDE for zone in below)
