"""The camera: published equations, depth by two views, and slopes as differences."""

from __future__ import annotations

import numpy as np

from deskmend.picture.camera import about, appearance, focal_pixels, sheet_turn, turned

ZHANG = (832.5, 303.959, 206.585, -0.228601)
"""alpha, u0, v0 and k1 of the example of Zhang 2000, IEEE TPAMI 22(11):1330; skew and k2 are not modelled."""


def by_hand(x: float, y: float, z: float) -> tuple[float, float]:
    """Equations 1, 11 and 12 of the paper, written out for square pixels and one figure of bend."""
    alpha, u0, v0, k1 = ZHANG
    x, y = x / z, y / z
    u, v = u0 + alpha * x, v0 + alpha * y
    r2 = x * x + y * y
    return u + (u - u0) * k1 * r2, v + (v - v0) * k1 * r2


def test_the_published_equations_are_kept_to() -> None:
    alpha, u0, v0, k1 = ZHANG
    random = np.random.default_rng(2000)
    points = np.column_stack([random.uniform(-180, 180, (400, 2)), random.uniform(500, 900, 400)])
    told = np.array([by_hand(*point) for point in points])
    here = appearance(points, np.full(400, alpha), np.full(400, k1), (u0, v0))
    assert np.abs(here.pixels - told).max() < 1e-9


def test_two_cameras_side_by_side_see_a_point_as_far_apart_as_its_depth_says() -> None:
    """Middlebury 2014, motorcycle, at a quarter: focal length, centres and base as published."""
    focal, centre, shift, base = 994.978, (311.193, 254.877), 31.086, 193.001
    for disparity in (20.0, 35.5, 60.0):
        point = np.array([400.0, -250.0, focal * base / (disparity + shift)])
        left, right = (
            appearance(seen, np.asarray(focal), np.asarray(0.0), middle).pixels
            for seen, middle in ((point, centre), (point - [base, 0.0, 0.0], (centre[0] + shift, centre[1])))
        )
        assert abs(left[0] - right[0] - disparity) < 1e-9


def test_a_matrix_turns_right_handed_and_keeps_lengths() -> None:
    turn, _ = about(2, np.array(np.pi / 2))
    assert np.allclose(turn @ [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    for made, _ in (turned(*np.full((3, 1), 0.3)), sheet_turn(*np.full((3, 1), 0.3))):
        assert np.allclose(made[0] @ made[0].T, np.eye(3))


def test_a_camera_that_is_not_turned_looks_away_from_itself() -> None:
    turn, _ = turned(np.zeros(1), np.zeros(1), np.zeros(1))
    assert np.allclose(turn[0] @ [0.0, 0.0, -1.0], [0.0, 0.0, 1.0])
    assert np.allclose(turn[0] @ [0.0, 1.0, 0.0], [0.0, -1.0, 0.0])


def test_slopes_are_those_of_the_appearance() -> None:
    random = np.random.default_rng(3)
    ahead = np.column_stack([random.uniform(-800, 800, (20, 2)), random.uniform(2000, 3000, 20)])
    focal, bend = np.full(20, 3000.0), np.full(20, -0.1)
    here = appearance(ahead, focal, bend, (2000.0, 1500.0))
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-3
        ends = [appearance(ahead + way * step, focal, bend, (2000.0, 1500.0)).pixels for way in (1, -1)]
        assert np.allclose((ends[0] - ends[1]) / 2e-3, here.by_point[..., axis], atol=1e-6)
    ends = [appearance(ahead, focal * np.exp(way), bend, (2000.0, 1500.0)).pixels for way in (1e-6, -1e-6)]
    assert np.allclose((ends[0] - ends[1]) / 2e-6, here.by_focal, rtol=1e-6)
    ends = [appearance(ahead, focal, bend + way, (2000.0, 1500.0)).pixels for way in (1e-6, -1e-6)]
    assert np.allclose((ends[0] - ends[1]) / 2e-6, here.by_bend, atol=1e-5)


def test_a_wide_lens_of_a_telephone_in_pixels() -> None:
    """26 mm on a diagonal of 43.27 mm, and 5000 px across the corners of 4000 by 3000."""
    assert abs(focal_pixels((4000, 3000), 26.0) - 5000 * 26 / 43.2666) < 0.01
