"""Body dimensions: measured where given, else estimated from stature.

Estimates come from least-squares fits on stature (``tables/body_fits.csv``,
ANSUR II, published data) and two standing heights from fractions of stature
(``tables/body_fractions.csv``, from memory). Every estimate carries the
standard deviation of its residual, and says that it is one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from deskmend.published import read_table

__all__ = ["DIMENSIONS", "Body", "Dimension", "estimate_body", "residual_covariance"]

_PACKAGE = "deskmend.workstation"

DIMENSIONS: tuple[str, ...] = (
    "sitting_eye_height",
    "sitting_elbow_height",
    "popliteal_height",
    "knee_height",
    "buttock_popliteal_length",
    "buttock_knee_length",
    "thigh_clearance",
    "sitting_height",
    "sitting_shoulder_height",
    "shoulder_elbow_length",
    "forearm_hand_length",
    "forearm_length",
    "biacromial_breadth",
    "foot_length",
    "standing_eye_height",
    "standing_elbow_height",
)
"""Dimensions the model knows, all in mm, barefoot; sitting ones from the loaded seat."""


@dataclass(frozen=True)
class Dimension:
    """One body dimension.

    Attributes
    ----------
    value : float
        Length [mm].
    estimated : bool
        True where it follows from stature, False where somebody measured it.
    sd : float
        Standard deviation of the estimate [mm]; 0 for a measured one.
    """

    value: float
    estimated: bool
    sd: float


@dataclass(frozen=True)
class Body:
    """A person's stature and dimensions [mm]."""

    stature: float
    sex: str
    dimensions: Mapping[str, Dimension]

    def __getitem__(self, name: str) -> float:
        """Length of one dimension [mm]."""
        return self.dimensions[name].value

    @property
    def estimated(self) -> tuple[str, ...]:
        """Names of the dimensions that nobody measured."""
        return tuple(name for name, d in self.dimensions.items() if d.estimated)


@cache
def _fits() -> dict[tuple[str, str], tuple[float, float, float]]:
    fits = {
        (row["sex"], row["dimension"]): (
            float(row["slope"]),
            float(row["intercept"]),
            float(row["residual_sd"]),
        )
        for row in read_table(_PACKAGE, "body_fits.csv")
    }
    for row in read_table(_PACKAGE, "body_fractions.csv"):
        for sex in ("female", "male", "any"):
            fits[sex, row["dimension"]] = (float(row["fraction"]), 0.0, float(row["residual_sd"]))
    return fits


def estimate_body(stature: float, sex: str, measured: Mapping[str, float | None]) -> Body:
    """Measured dimensions where given, estimates from stature for the rest.

    Parameters
    ----------
    stature : float
        Standing height without shoes [mm].
    sex : str
        ``female`` or ``male`` choose the fit of that sex; anything else the
        fit with both sexes weighted equally.
    measured : mapping
        Measured lengths by dimension name [mm]; None where not measured.

    Returns
    -------
    Body
        Estimates are rounded to whole mm, since no tape reads finer.

    Notes
    -----
    Source: ``ansur_ii`` (published data; soldiers, not everybody). Sitting
    elbow height hardly follows stature (r 0.12 to 0.18): measure it.
    """
    group = sex if sex in ("female", "male") else "any"
    out: dict[str, Dimension] = {}
    for name in DIMENSIONS:
        given = measured.get(name)
        if given is not None:
            out[name] = Dimension(float(given), False, 0.0)
        else:
            slope, intercept, sd = _fits()[group, name]
            out[name] = Dimension(float(round(intercept + slope * stature)), True, sd)
    return Body(float(stature), sex, out)


def residual_covariance(names: tuple[str, ...], sex: str) -> npt.NDArray[np.float64]:
    """Covariance of the residuals of estimated dimensions, given stature.

    Parameters
    ----------
    names : tuple of str
        Dimensions, each once.
    sex : str
        As for :func:`estimate_body`.

    Returns
    -------
    ndarray, shape (n, n)
        Covariance [mm2]. Pairs whose correlation is not tabulated count as
        independent (judgement).

    Notes
    -----
    Source: ``ansur_ii`` (published data), ``tables/body_residual_correlation.csv``.
    """
    group = sex if sex in ("female", "male") else "any"
    rows = {row["dimension"]: row for row in read_table(_PACKAGE, "body_residual_correlation.csv")}
    sd = [_fits()[group, name][2] for name in names]
    cov = np.zeros((len(names), len(names)))
    for i, a in enumerate(names):
        for j, b in enumerate(names):
            r = 1.0 if i == j else float(rows[a][b]) if a in rows and b in rows else 0.0
            cov[i, j] = r * sd[i] * sd[j]
    return cov
