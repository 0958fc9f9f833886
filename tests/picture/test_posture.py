"""The posture seen: its RULA and intervals, beside what the model expects; what it cannot tell is named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.picture.camera import Picture
from deskmend.picture.marks import read_marks
from deskmend.picture.measured import landmarks
from deskmend.picture.measuring import PictureMeasures, SeenAngles, Shot, measured_with
from deskmend.planning.observed import LEAST_TOLD, AngleBeside, observed_posture
from deskmend.report.measuring import QUESTIONS, difference_words, rula_words
from deskmend.risk import rula
from deskmend.risk.scores.methods.rula_of_task import Unseen, observed_items
from deskmend.workstation.state import evaluate, state_of

from .drawn_scenes import Drawing, DrawnScene, drawn
from .written import marks_of

LARGE = Drawing()
CASE = """format: deskmend-case/1
title: Somebody
person: {stature: 1680}
places:
  - id: home
    seat: {height: 450, depth: 430, back: shaped, recline: 5}
    desk: {height: 720, underside: 690}
tasks:
  - {id: letters, place: home, hours: 1, main: laptop}
  - {id: work, place: home, hours: 4, spell: 90, main: laptop}
devices:
  laptop: {screen_top: 235, screen_height: 190, keys: 22}
"""


def told_of(scene: DrawnScene) -> PictureMeasures:
    marks = read_marks(
        {
            **marks_of(scene, "desk.jpg"),
            "points": {name: [f"{x:.4f}", f"{y:.4f}"] for name, (x, y) in scene.points.items()},
            "sheet": {"kind": "a4", "corners": [[f"{x:.4f}", f"{y:.4f}"] for x, y in scene.corners]},
        },
        "marks",
        "desk.jpg",
        LARGE.size,
    )
    return measured_with([Shot(Picture(LARGE.size, 26.0, False, None), marks, "marks")])  # type: ignore[arg-type]


@pytest.fixture
def case(tmp_path: Path) -> Case:
    path = tmp_path / "case.yaml"
    path.write_text(CASE, encoding="utf-8")
    return load_case(path)


def by_hand(scene: DrawnScene, upright_neck: float) -> int:
    """RULA of the true posture by the worksheet, held for half an hour, nothing else added."""
    true = scene.truth
    arm, bent = true["arm_to_trunk_angle"], 180 - true["elbow_angle"]
    wrist, neck, trunk = abs(true["wrist_extension"]), true["neck_angle"] - upright_neck, true["trunk_angle"]
    return rula.score(
        upper_arm=4 if arm >= 90 else 3 if arm > 45 else 2 if arm > 20 or arm < -20 else 1,
        lower_arm=1 if 60 <= bent <= 100 else 2,
        wrist=1 if wrist <= 5 else 2 if wrist < 15 else 3,
        wrist_twist=1,
        neck=4 if neck < -5 else 1 if neck <= 10 else 2 if neck < 20 else 3,
        trunk=4 if trunk >= 60 else 3 if trunk > 20 else 2,
        legs=1,
        arm_muscle_use=1,
        body_muscle_use=1,
    ).grand


@pytest.mark.thorough
def test_rula_lies_within_its_interval_as_often_as_it_says() -> None:
    random = np.random.default_rng(2)
    held = []
    for seed in range(40):
        scene = drawn(seed, LARGE)
        found = observed_posture(told_of(scene)).rula
        assert found is not None
        held.append(found.low <= by_hand(scene, float(random.normal(40, 5))) <= found.high)
    assert np.mean(held) >= 0.93


def test_items_are_those_of_the_worksheet() -> None:
    angles = {"arm_to_trunk": 50.0, "elbow_angle": 70.0, "neck_angle": 55.0, "trunk_angle": 25.0}
    assert {name: int(one) for name, one in observed_items(**angles).items()} == {
        "upper_arm": 3, "lower_arm": 2, "wrist": 1, "wrist_twist": 1, "arm_muscle_use": 1, "arm_force": 0,
        "neck": 2, "trunk": 3, "legs": 1, "body_muscle_use": 1, "body_force": 0,
    }  # fmt: skip
    resting = Unseen(trunk_rests=True)
    for trunk, hip, score in ((3.0, 95.0, 1), (3.0, 80.0, 2), (8.0, 95.0, 2)):
        items = observed_items(**{**angles, "trunk_angle": trunk}, hip_angle=hip, unseen=resting)
        assert int(items["trunk"]) == score
    assert int(observed_items(**{**angles, "elbow_angle": 185.0})["lower_arm"]) == 2


def test_a_surer_picture_has_a_narrower_score() -> None:
    told = told_of(drawn(3, LARGE))
    seen = told.angles
    sure = replace(told, angles=SeenAngles(seen.names, seen.values, seen.covariance * 1e-8))
    wide, narrow = observed_posture(told).rula, observed_posture(sure).rula
    assert wide is not None
    assert narrow is not None
    assert narrow.score == wide.score
    assert narrow.high - narrow.low < wide.high - wide.low


def test_points_that_rula_lacks_are_named() -> None:
    scene = drawn(3, Drawing(leave_out=("c7", "knuckle")))
    posture = observed_posture(told_of(scene))
    assert posture.rula is None
    assert posture.missing == ("c7",)
    assert list(rula_words(posture)) == ["RULA is not scored: not marked are lowest bump of the neck (C7)."]


def test_what_is_not_seen_is_said(case: Case) -> None:
    told = told_of(drawn(3, Drawing(leave_out=("knuckle",))))
    alone, beside = observed_posture(told).rula, observed_posture(told, case, "home").rula
    assert alone is not None
    assert beside is not None
    assert alone.of_case == frozenset()
    assert alone.unseen["wrist_extension"] == 0.0
    assert beside.unseen["minutes_static"] == 90.0
    assert set(beside.unseen) == beside.of_case
    assert "assumed: held for 30 minutes" in " ".join(rula_words(observed_posture(told)))
    assert "taken from the case: held for 90 minutes" in " ".join(
        rula_words(observed_posture(told, case, "home"))
    )


def test_angles_stand_beside_those_of_the_model(case: Case) -> None:
    told = told_of(drawn(3, LARGE))
    posture = observed_posture(told, case, "home")
    assert posture.doing is not None
    assert (posture.doing.task, posture.doing.hands, posture.doing.eyes) == ("work", "keys", "screen")
    assert posture.doing.mode == "sit"
    evaluation = evaluate(state_of(case), "work")
    expected = {one.name: one.expected for one in posture.angles}
    assert expected["elbow_angle"] == float(evaluation("elbow_angle", hand="keys", mode="sit"))
    assert expected["neck_angle"] == 40 + float(evaluation("neck_flexion", target="screen", mode="sit"))
    assert expected["upper_arm_angle"] is None
    spread = {one.name: one.expected_sd for one in posture.angles}
    assert spread["elbow_angle"] > 1.0
    assert spread["neck_angle"] >= 5.0


def test_only_what_is_beyond_both_is_told() -> None:
    assert not AngleBeside("trunk_angle", 12.0, 1.0, 8.0, 0.0).beyond_both
    assert not AngleBeside("trunk_angle", 22.0, 5.0, 8.0, 6.0).beyond_both
    assert AngleBeside("trunk_angle", 22.0, 2.0, 8.0, 2.0).beyond_both
    assert not AngleBeside("trunk_angle", 22.0, 2.0).beyond_both
    assert LEAST_TOLD == 5.0
    words = difference_words(AngleBeside("trunk_angle", 22.0, 2.0, 8.0, 2.0))
    assert words.startswith("trunk forward of upright: 14 degrees more than seat and desk ask for. Is what")


def test_every_angle_that_is_expected_has_its_question(case: Case) -> None:
    posture = observed_posture(told_of(drawn(3, LARGE)), case, "home")
    asked = {one.name for one in posture.angles if one.expected is not None}
    assert asked == {name for name, _ in QUESTIONS}
    assert len(QUESTIONS) == 2 * len(asked)
    assert set(landmarks()) >= {"knuckle"}
