"""Marks files: read whole, every fault at once, and sheets that cannot be one refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from deskmend.errors import InputFaults
from deskmend.picture.marks import load_marks
from deskmend.picture.measured import landmarks

from .drawn_scenes import drawn
from .written import SMALL, marks_of, write_marks

SIZE = SMALL.size


def content(**changes: Any) -> dict[str, Any]:
    return {**marks_of(drawn(3, SMALL), "desk.jpg"), **changes}


def faults_of(folder: Path, told: dict[str, Any]) -> str:
    with pytest.raises(InputFaults) as caught:
        load_marks(write_marks(folder / "marks.yaml", told), "desk.jpg", SIZE)
    return str(caught.value)


def test_marks_are_read(tmp_path: Path) -> None:
    path = write_marks(tmp_path / "marks.yaml", content(taped={"desk_height": "74.2 cm"}))
    marks = load_marks(path, "desk.jpg", SIZE)
    assert list(marks.marked) == list(landmarks())
    assert dict(marks.tapes) == {"desk_height": 742.0}
    assert marks.sheet.size == (210.0, 297.0)


def test_a_sheet_may_be_held_either_way(tmp_path: Path) -> None:
    corners = [[100, 100], [170, 100], [170, 150], [100, 150]]
    path = write_marks(tmp_path / "marks.yaml", content(sheet={"kind": "card", "corners": corners}))
    assert load_marks(path, "desk.jpg", SIZE).sheet.size == (85.6, 53.98)


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    points = {"elbow": [9000, 10], "knea": [1, 2], "eye": [".nan", 3], "wrist": [1, 2, 3]}
    told = faults_of(tmp_path, content(points=points, taped={"desk_height": 742000}, person_faces="up"))
    for part in ("person_faces", "did you mean knee?", "no two numbers", "desk_height"):
        assert part in told
    told = faults_of(tmp_path, content(points={"elbow": [9000, 10]}, picture="other.jpg"))
    assert "in the picture of 1600 by 1200" in told
    assert "the picture given" in told


@pytest.mark.parametrize(
    ("corners", "note"),
    [
        ([[10, 10], [10, 10], [10, 10], [10, 10]], "too small"),
        ([[10, 10], [110, 10], [210, 10], [310, 10]], "lie on a line"),
        ([[200, 10], [10, 10], [10, 300], [200, 300]], "as in a mirror"),
        ([[10, 10], [200, 300], [200, 10], [10, 300]], "cross"),
        ([[10, 300], [10, 10], [200, 10], [200, 300]], "not its upper side"),
        ([[10, 10], [200, 10], [200, 300]], "are not four corners"),
        ([["nan", 10], [200, 10], [200, 300], [10, 300]], 'read "nan, 10"'),
    ],
)
def test_what_is_no_sheet_is_refused(tmp_path: Path, corners: list[list[Any]], note: str) -> None:
    told = faults_of(tmp_path, content(sheet={"kind": "a4", "corners": corners}))
    assert told.count("\n") == 0
    assert note in told


@pytest.mark.parametrize("seed", range(12))
def test_mirrored_corners_are_found(tmp_path: Path, seed: int) -> None:
    a, b, c, d = (list(corner) for corner in drawn(seed, SMALL).corners)
    told = faults_of(tmp_path, content(sheet={"kind": "a4", "corners": [b, a, d, c]}))
    assert "as in a mirror" in told


def test_two_points_at_one_place_are_refused(tmp_path: Path) -> None:
    told = faults_of(tmp_path, content(points={"knee": [500, 500], "ankle": [500, 500]}))
    assert "ankle: lies where knee lies" in told


def test_no_points_at_all_are_refused(tmp_path: Path) -> None:
    assert "at least one point" in faults_of(tmp_path, content(points={}))
