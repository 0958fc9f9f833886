"""Estimates of the body against the open survey data and against other tables."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from deskmend.workstation.body import estimate_body, residual_covariance

DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "ansur2_bodies_mm.csv"


def _survey(sex: str) -> dict[str, np.ndarray]:
    if not DATA.is_file():
        pytest.skip("the open survey data lie beside the project and are absent here")
    with DATA.open(encoding="utf-8") as handle:
        rows = [row for row in csv.DictReader(handle) if row["sex"] == sex]
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0] if name != "sex"}


@pytest.mark.parametrize("sex", ["female", "male"])
@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("sitting_eye_height", "sitting_eye_height"),
        ("sitting_elbow_height", "sitting_elbow_height"),
        ("popliteal_height", "popliteal_height"),
        ("knee_height", "knee_height_sitting"),
        ("buttock_popliteal_length", "buttock_popliteal_length"),
        ("thigh_clearance", "thigh_clearance"),
        ("sitting_height", "sitting_height"),
        ("shoulder_elbow_length", "shoulder_elbow_length"),
        ("forearm_hand_length", "forearm_hand_length"),
    ],
)
def test_estimates_are_unbiased_and_as_wide_as_said(sex: str, ours: str, theirs: str) -> None:
    # ANSUR II public raw data (Gordon et al. 2014, NATICK/TR-15/007).
    survey = _survey(sex)
    bodies = [estimate_body(s, sex, {}) for s in survey["stature"]]
    residual = survey[theirs] - np.array([body[ours] for body in bodies])
    assert abs(residual.mean()) < 1.0
    assert residual.std() == pytest.approx(bodies[0].dimensions[ours].sd, abs=1.0)


@pytest.mark.parametrize(
    ("dimension", "stature", "sex", "low", "high"),
    [
        # City University of Hong Kong teaching pages, British men and women (Pheasant), median and one SD.
        ("popliteal_height", 1740, "male", 411, 469),
        ("popliteal_height", 1610, "female", 373, 427),
        ("sitting_elbow_height", 1740, "male", 214, 276),
        ("sitting_elbow_height", 1610, "female", 206, 264),
        ("knee_height", 1740, "male", 513, 577),
        ("sitting_height", 1740, "male", 874, 946),
    ],
)
def test_estimates_lie_within_a_deviation_of_another_table(
    dimension: str, stature: float, sex: str, low: float, high: float
) -> None:
    assert low <= estimate_body(stature, sex, {})[dimension] <= high


def test_measured_dimensions_are_kept_and_estimates_marked() -> None:
    body = estimate_body(1700, "unknown", {"popliteal_height": 431.5})
    assert body["popliteal_height"] == 431.5
    assert not body.dimensions["popliteal_height"].estimated
    assert body.dimensions["sitting_elbow_height"].estimated
    assert body.dimensions["sitting_elbow_height"].sd == pytest.approx(27.2)


def test_covariance_is_symmetric_and_positive() -> None:
    names = ("sitting_eye_height", "sitting_elbow_height", "popliteal_height", "knee_height")
    covariance = residual_covariance(names, "female")
    assert np.allclose(covariance, covariance.T)
    assert np.all(np.linalg.eigvalsh(covariance) > 0)
    assert covariance[0, 1] == pytest.approx(0.69 * 20.6 * 26.1)
