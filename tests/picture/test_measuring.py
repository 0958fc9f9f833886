"""From files to measures: left and right, tapes beside what is seen, what is better taped."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from deskmend.picture.measured import LENGTHS, MEASURES
from deskmend.picture.measuring import SURE_ENOUGH, PictureMeasures, measure_pictures

from .drawn_scenes import Drawing, drawn
from .written import SMALL, marks_of, write_both, write_marks, write_picture


def measure_picture(picture: Path, marks: Path) -> PictureMeasures:
    return measure_pictures([(picture, marks)])


def test_every_measure_has_its_interval_and_lies_near_the_truth(tmp_path: Path) -> None:
    picture, marks, scene = write_both(tmp_path)
    told = measure_picture(picture, marks)
    assert {one.name for one in told.measures} == set(scene.truth)
    for one in told.measures:
        assert one.origin == "pictured"
        assert one.low < one.value < one.high
        assert abs(one.value - scene.truth[one.name]) < 4 * one.sd
    assert told.doubts == ()
    assert told.focal_told


def test_who_faces_left_is_measured_as_in_a_mirror(tmp_path: Path) -> None:
    scene = drawn(3, SMALL)
    picture = write_picture(tmp_path / "desk.jpg", SMALL.size)
    right = write_marks(tmp_path / "right.yaml", marks_of(scene, "desk.jpg"))
    left = write_marks(tmp_path / "left.yaml", marks_of(scene, "desk.jpg", "left", SMALL.size[0]))
    for one, other in zip(
        measure_picture(picture, right).measures, measure_picture(picture, left).measures, strict=True
    ):
        assert abs(one.value - other.value) < 1e-6
        assert abs(one.sd - other.sd) < 1e-6


def test_a_taped_length_is_kept_beside_what_the_picture_says(tmp_path: Path) -> None:
    picture, marks, scene = write_both(tmp_path)
    alone = {one.name: one for one in measure_picture(picture, marks).measures}
    content = {**marks_of(scene, "desk.jpg"), "taped": {"desk_height": round(scene.truth["desk_height"])}}
    told = measure_picture(picture, write_marks(tmp_path / "taped.yaml", content)).measures
    desk = [one for one in told if one.name == "desk_height"]
    assert [one.origin for one in desk] == ["taped", "pictured"]
    assert desk[0].value == round(scene.truth["desk_height"])
    assert desk[1].value == alone["desk_height"].value
    surer = {one.name: one.sd for one in told if one.origin == "pictured"}
    assert surer["seat_height"] < 0.7 * alone["seat_height"].sd
    assert surer["elbow_height"] < 0.8 * alone["elbow_height"].sd


def test_what_to_tape_begins_with_what_makes_all_others_surest(tmp_path: Path) -> None:
    how = Drawing(size=(1600, 1200), leave_out=("foot_surface",))
    picture, marks, scene = write_both(tmp_path, how=how)
    told = measure_picture(picture, marks)
    seen = [one for one in told.tape if one.sd is not None]
    assert all(one.sd is not None and one.sd > SURE_ENOUGH for one in seen)
    assert [one.name for one in told.tape if one.missing] == ["foot_surface"]
    first = seen[0].name
    content = {**marks_of(scene, "desk.jpg"), "taped": {first: round(scene.truth[first])}}
    after = measure_picture(picture, write_marks(tmp_path / "taped.yaml", content))
    assert first not in {one.name for one in after.tape}
    assert len([one for one in after.tape if one.sd is not None]) < len(seen)


def test_a_picture_without_focal_length_is_told(tmp_path: Path) -> None:
    picture, marks, _ = write_both(tmp_path)
    sure = measure_picture(picture, marks)
    write_picture(picture, SMALL.size, focal=None)
    unsure = measure_picture(picture, marks)
    assert not unsure.focal_told
    assert sum(one.sd for one in unsure.measures) > sum(one.sd for one in sure.measures)


@pytest.mark.parametrize("names", [("elbow",), ("eye", "floor_a"), ("seat_front", "floor_a", "floor_b")])
def test_a_few_points_are_enough_for_what_hangs_on_them(tmp_path: Path, names: tuple[str, ...]) -> None:
    scene = drawn(3, SMALL)
    scene.points = {name: scene.points[name] for name in names}
    picture = write_picture(tmp_path / "desk.jpg", SMALL.size)
    told = measure_picture(picture, write_marks(tmp_path / "marks.yaml", marks_of(scene, "desk.jpg")))
    known = {name for name, one in MEASURES.items() if one.known_from(frozenset(names))}
    assert {one.name for one in told.measures} == known
    assert len([one for one in told.tape if one.missing]) == len(set(LENGTHS) - known)


@pytest.mark.parametrize("seed", range(4))
def test_marks_at_random_are_doubted(tmp_path: Path, seed: int) -> None:
    random = np.random.default_rng(seed)
    scene = drawn(3, SMALL)
    scene.points = {name: (random.uniform(0, 1600), random.uniform(0, 1200)) for name in scene.points}
    picture = write_picture(tmp_path / "desk.jpg", SMALL.size)
    marks = write_marks(tmp_path / "marks.yaml", marks_of(scene, "desk.jpg"))
    told = measure_picture(picture, marks)
    assert told.doubts
    assert all(np.isfinite([one.value, one.sd]).all() and one.sd > 0 for one in told.measures)
