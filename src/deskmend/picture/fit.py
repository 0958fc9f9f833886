"""Least squares of a scene: the likeliest camera and points, how sure they are, and which rows stand out.

Levenberg 1944 and Marquardt 1963, with the damping of each scene its own; the covariance is the inverse of
the curvature at the end. A row is held against what it may differ by once the fit has bent towards it
(Baarda 1968: a test of each row alone, w), so that a mark which pulls the fit is found too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deskmend.picture.camera import Array
from deskmend.picture.measured import MEASURES
from deskmend.picture.scene import OF_POINT, FitRow, PicturedScene, slope_of

MOST_STEPS = 100
SETTLED = 1e-4
"""Expected gain of a further step at which a fit is at its end [squared standard deviations]."""
FIRST_DAMPING, LEAST_DAMPING, LAST_DAMPING = 1e-3, 1e-7, 1e6
"""Share of the curvature added at first, at least, and beyond which no step is left that would help [-]."""
LEAST_SD = 1e-6
"""Least spread of a measure, against rounding [mm] or [deg]."""
FURTHEST = 1e5
"""No point of a workplace lies further from the sheet [mm]."""
LEAST_SPARE = 0.02
"""Part of a row that nothing else foretells; under it the row cannot be tested [-]."""
NORMAL_95 = 1.959963984540054
"""Standard deviations on either side that hold 95 % of a normal distribution."""


@dataclass(frozen=True)
class Measured:
    """A measure with how sure it is, of one scene or of many."""

    name: str
    value: Array
    """[mm] or [deg]."""
    sd: Array
    unit: str

    @property
    def low(self) -> Array:
        """Lower end of what holds it in 95 of 100 cases."""
        return np.asarray(self.value - NORMAL_95 * self.sd)

    @property
    def high(self) -> Array:
        """Upper end of what holds it in 95 of 100 cases."""
        return np.asarray(self.value + NORMAL_95 * self.sd)


@dataclass(frozen=True)
class Fit:
    """A scene worked out."""

    scene: PicturedScene
    unknowns: Array
    covariance: Array
    rows: Array
    """What is left of each row (scenes, rows) [standard deviations]."""
    spare: Array
    """Part of each row that the others do not foretell (scenes, rows) [-]."""
    settled: Array
    """Whether the search came to an end (scenes)."""

    @property
    def points(self) -> Array:
        """Where the points lie (scenes, points, 3) [mm]."""
        return self.scene.points_of(self.unknowns)

    @property
    def misfit(self) -> Array:
        """Sum of the squares of all rows (scenes) [-]."""
        return np.asarray(np.sum(self.rows**2, axis=-1))

    def standing_out(self) -> list[tuple[FitRow, Array]]:
        """Every row that can be tested, with what it is off by [standard deviations]."""
        tested = self.spare > LEAST_SPARE
        w = np.where(tested, self.rows / np.sqrt(np.where(tested, self.spare, 1.0)), 0.0)
        return [(row, w[:, at]) for at, row in enumerate(self.scene.rows)]

    def measured(self, name: str) -> Measured:
        """Work one measure out, errors carried through in a straight line."""
        names = self.scene.names
        value, by = slope_of(name, names, self.points)
        block = self.covariance[:, -OF_POINT * len(names) :, -OF_POINT * len(names) :]
        variance = np.einsum("si,sij,sj->s", by, block, by)
        return Measured(name, value, np.sqrt(np.maximum(variance, LEAST_SD**2)), MEASURES[name].unit)

    @property
    def sound(self) -> bool:
        """Whether the numbers are those of a room: finite, and no point further than any picture shows."""
        spreads = np.einsum("sii->si", self.covariance)
        finite = np.isfinite(self.unknowns).all() and np.isfinite(spreads).all()
        return bool(finite and (spreads > 0).all() and (np.abs(self.points) < FURTHEST).all())

    def measures(self) -> list[Measured]:
        """Every measure that the marked points are enough for."""
        names = frozenset(self.scene.names)
        return [self.measured(name) for name, one in MEASURES.items() if one.known_from(names)]


def fit(scene: PicturedScene, most_steps: int = MOST_STEPS) -> Fit:
    """Find the unknowns of every scene that its rows speak for."""
    # A step may lead out of the numbers: it is no better then, and not taken.
    with np.errstate(all="ignore"):
        return _fit(scene, most_steps)


def _fit(scene: PicturedScene, most_steps: int) -> Fit:
    unknowns = scene.start()
    values, slopes = scene.compared(unknowns)
    damping = np.full(scene.many, FIRST_DAMPING)
    open_still = np.arange(scene.many)
    part = scene
    for _ in range(most_steps):
        across = np.swapaxes(slopes[open_still], -1, -2)
        curvature = across @ slopes[open_still]
        downhill = -(across @ values[open_still][..., None])[..., 0]
        eased = damping[open_still, None] * np.einsum("sii->si", curvature)
        curvature += eased[..., None] * np.eye(scene.unknowns)
        step = np.linalg.solve(curvature, downhill[..., None])[..., 0]
        ends = (np.sum(step * downhill, axis=-1) < SETTLED) | (damping[open_still] > LAST_DAMPING)
        if ends.any():
            open_still, step = open_still[~ends], step[~ends]
            part = scene.part(open_still)
        if not len(open_still):
            break
        tried = unknowns[open_still] + step
        new_values, new_slopes = part.compared(tried)
        before = np.sum(values[open_still] ** 2, axis=-1)
        better = np.sum(new_values**2, axis=-1) <= before
        took = open_still[better]
        unknowns[took], values[took], slopes[took] = tried[better], new_values[better], new_slopes[better]
        damping[open_still] = np.maximum(damping[open_still] * np.where(better, 0.1, 10.0), LEAST_DAMPING)
    settled = np.ones(scene.many, dtype=bool)
    settled[open_still] = False
    covariance = _inverse(np.swapaxes(slopes, -1, -2) @ slopes)
    spare: Array = 1.0 - np.sum((slopes @ covariance) * slopes, axis=-1)
    return Fit(scene, unknowns, covariance, values, spare, settled)


def _inverse(curvature: Array) -> Array:
    """Give the covariance; not a number where rows leave something wholly open, which `Fit.sound` tells."""
    try:
        return np.asarray(np.linalg.inv(curvature), dtype=np.float64)
    except np.linalg.LinAlgError:
        return np.full_like(curvature, np.nan)
