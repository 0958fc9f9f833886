"""Intervals hold what they promise, and errors stay as small as was found possible.

Scenes are drawn and seen by `drawn_scenes`, which shares no line with the solver. Aims are those of a first
trial by simulation; no photograph of a person was measured.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.stages import some

from deskmend.picture.measured import MEASURES

from .drawn_scenes import Drawing, drawn, many
from .solved import held, off_by, solved

CAREFUL = Drawing(exact=True, care=0.4)
"""Every mark on its point but for the hand; the sheet stands against something, the camera on a chair."""
TRIED = {
    "a4": {
        "seat_height": 28, "eye_height": 23, "viewing_distance": 18, "craniovertebral_angle": 4.6,
        "elbow_angle": 3.4, "knee_angle": 2.0,
    },
    "card": {
        "seat_height": 32, "eye_height": 40, "viewing_distance": 28, "craniovertebral_angle": 5.8,
        "elbow_angle": 3.3, "knee_angle": 2.1,
    },
}  # fmt: skip
"""95 of 100 errors stayed under these in the first trial [mm] [deg]."""


def outside(shares: dict[str, float], low: float, high: float) -> dict[str, float]:
    return {name: share for name, share in shares.items() if not low <= share <= high}


def test_intervals_hold() -> None:
    how = Drawing()
    scenes = many(range(300), how)
    found = solved(scenes, how)
    assert len(found.measures()) == len(MEASURES)
    assert outside(held(found, scenes), 0.90, 0.99) == {}
    assert found.settled.mean() > 0.99


@pytest.mark.thorough
def test_intervals_hold_over_many_scenes() -> None:
    how = Drawing()
    scenes = many(range(10_000, 12_000), how)
    assert outside(held(solved(scenes, how), scenes), 0.93, 0.97) == {}


@pytest.mark.thorough
@pytest.mark.parametrize("factor", [0.75, 1.25])
def test_intervals_hold_with_depths_wrong_by_a_quarter(factor: float) -> None:
    how = Drawing(depth_factor=factor)
    scenes = many(range(10_000, 12_000), how)
    assert outside(held(solved(scenes, how), scenes), 0.90, 1.0) == {}


@pytest.mark.thorough
@pytest.mark.parametrize("size", [(4000, 3000), (1600, 1200)])
@pytest.mark.parametrize("equivalent", [None, 26.0])
def test_intervals_hold_without_a_focal_length(size: tuple[int, int], equivalent: float | None) -> None:
    how = Drawing(focal_known=False, size=size, equivalent=equivalent)
    scenes = many(range(600), how)
    assert outside(held(solved(scenes, how), scenes), 0.90, 1.0) == {}


def test_no_focal_length_makes_wider_intervals() -> None:
    scenes = many(range(50), Drawing())
    known, unknown = solved(scenes, Drawing()), solved(scenes, Drawing(focal_known=False))
    pairs = zip(known.measures(), unknown.measures(), strict=True)
    assert [one.name for one, other in pairs if one.unit == "mm" and other.sd.mean() < one.sd.mean()] == []


@pytest.mark.parametrize("sheet", some(["a4", "card"], "a4"))
def test_errors_stay_as_small_as_tried(sheet: str) -> None:
    how = Drawing(exact=True, care=0.4, sheet=sheet)
    scenes = many(range(500), how)
    found = off_by(solved(scenes, how), scenes)
    assert {name: found[name] for name, most in TRIED[sheet].items() if found[name] > 1.15 * most} == {}


def test_one_taped_height_makes_the_others_better() -> None:
    scenes = many(range(250), CAREFUL)
    found = off_by(solved(scenes, CAREFUL, ["desk_height"]), scenes)
    assert found["seat_height"] <= 10.0
    assert found["elbow_height"] <= 10.0


def test_slopes_are_those_of_the_rows() -> None:
    scenes = many(range(2), Drawing())
    scene = solved(scenes, Drawing(), ["desk_height", "viewing_distance"]).scene
    at = scene.start() + np.random.default_rng(0).normal(0, 0.01, (2, scene.unknowns))
    _, slopes = scene.compared(at)
    for unknown in range(scene.unknowns):
        step = np.zeros(scene.unknowns)
        step[unknown] = 1e-6
        difference = (scene.compared(at + step)[0] - scene.compared(at - step)[0]) / 2e-6
        assert np.allclose(difference, slopes[..., unknown], atol=1e-5)


def test_a_scene_alone_is_the_same_as_among_others() -> None:
    together = solved(many(range(5), Drawing()), Drawing())
    alone = solved([drawn(3, Drawing())], Drawing())
    for one, other in zip(together.measures(), alone.measures(), strict=True):
        assert abs(one.value[3] - other.value[0]) < 0.05
        assert abs(one.sd[3] / other.sd[0] - 1) < 1e-2


def test_a_second_picture_makes_it_surer() -> None:
    """Two pictures of one scene: intervals of lengths are narrower, and hold as often as they say."""
    how = Drawing(views=2)
    scenes = many(range(50), how)
    one, both = solved(scenes, Drawing()), solved(scenes, how)
    pairs = [(a, b) for a, b in zip(one.measures(), both.measures(), strict=True) if a.unit == "mm"]
    assert [a.name for a, b in pairs if b.sd.mean() >= 0.95 * a.sd.mean()] == []
    assert outside(held(both, scenes), 0.88, 1.0) == {}


def test_what_is_not_marked_is_not_measured() -> None:
    how = Drawing(leave_out=("floor_a", "floor_b", "eye"))
    found = {one.name for one in solved([drawn(1, how)], how).measures()}
    assert not found & {"seat_height", "eye_height", "viewing_distance", "screen_top"}
    assert {"elbow_angle", "screen_height", "seat_depth"} <= found
    known = frozenset(["seat_front"])
    assert MEASURES["seat_height"].missing(known) == ("floor_a",)
    assert MEASURES["viewing_distance"].missing(known) == ("eye", "screen_top", "screen_bottom")
