"""Drawn scenes handed to the solver as a person's marks would be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from deskmend.picture.camera import UNKNOWN_FOCAL, UNKNOWN_FOCAL_SD
from deskmend.picture.scene import Fit, Measured, PicturedScene, Taped, View, fit

from .drawn_scenes import SHEETS, Drawing, DrawnScene, frame_focal


def view_of(scenes: Sequence[DrawnScene], how: Drawing, number: int = 0) -> View:
    seen = [
        scene.further[number - 1] if number else (scene.corners, scene.points, scene.focal_told)
        for scene in scenes
    ]
    told = np.array([focal for _, _, focal in seen])
    guess = np.full(len(scenes), frame_focal(how.size, UNKNOWN_FOCAL))
    return View(
        how.size,
        np.array([corners for corners, _, _ in seen]),
        {name: np.array([points[name] for _, points, _ in seen]) for name in seen[0][1]},
        told if how.focal_known else guess,
        0.02 if how.focal_known else UNKNOWN_FOCAL_SD,
    )


def solved(scenes: Sequence[DrawnScene], how: Drawing, taped: Sequence[str] = ()) -> Fit:
    """Work scenes out, some of their lengths taped with an error of 3 mm."""
    random = np.random.default_rng(1)
    tapes = {
        name: Taped(np.array([scene.truth[name] for scene in scenes]) + random.normal(0, 3, len(scenes)))
        for name in taped
    }
    views = tuple(view_of(scenes, how, number) for number in range(how.views))
    return fit(PicturedScene(views, SHEETS[how.sheet], tapes))


def errors(measured: Measured, scenes: Sequence[DrawnScene]) -> np.ndarray:
    off = measured.value - np.array([scene.truth[measured.name] for scene in scenes])
    return (off + 180) % 360 - 180 if measured.unit == "deg" else off


def held(found: Fit, scenes: Sequence[DrawnScene]) -> dict[str, float]:
    """Share of the scenes in which each measure lies within its interval."""
    return {
        one.name: float(np.mean(np.abs(errors(one, scenes)) <= one.high - one.value))
        for one in found.measures()
    }


def off_by(found: Fit, scenes: Sequence[DrawnScene]) -> dict[str, float]:
    """Error that 95 of 100 measures stay under."""
    return {one.name: float(np.percentile(np.abs(errors(one, scenes)), 95)) for one in found.measures()}
