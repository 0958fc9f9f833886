"""Body dimensions: measured where given, else estimated from stature.

Estimates of adults come from least-squares fits on stature (``tables/body_fits.csv``, ANSUR II, published
data). Nobody shorter than 1409 mm and no child was measured there: for them the size marks of school
furniture (``tables/size_marks.csv``) tell popliteal and elbow height, and mean proportions the rest. Every
estimate carries its standard deviation, and says that it is one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from deskmend.published import read_table

__all__ = [
    "DIMENSIONS",
    "Body",
    "Dimension",
    "SizeMark",
    "estimate_body",
    "residual_covariance",
    "size_marks",
    "takes_size_marks",
]

_PACKAGE = "deskmend.workstation"

DIMENSIONS: tuple[str, ...] = (
    "sitting_eye_height",
    "sitting_elbow_height",
    "popliteal_height",
    "knee_height",
    "buttock_popliteal_length",
    "buttock_knee_length",
    "abdominal_depth",
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
    """A person's stature and dimensions [mm].

    Attributes
    ----------
    stature : float
        Height standing upright [mm].
    dimensions : mapping
        Every dimension by name.
    spreads : mapping
        Standard deviation of each dimension given stature, also of those that were measured [mm].
    by_size_marks : bool
        Estimates come from size marks for children, not from the survey of adults.
    """

    stature: float
    dimensions: Mapping[str, Dimension]
    spreads: Mapping[str, float]
    by_size_marks: bool = False

    def __getitem__(self, name: str) -> float:
        """Length of one dimension [mm]."""
        return self.dimensions[name].value

    @property
    def estimated(self) -> tuple[str, ...]:
        """Names of the dimensions that nobody measured."""
        return tuple(name for name, d in self.dimensions.items() if d.estimated)


ADULT_FROM = 15
"""Age from which a body is held against the survey of adults [years] (judgement)."""
FITS_FROM = 1490.0
"""Stature from which a body of unknown age counts as an adult's [mm]: 26 of 6068 measured were shorter."""
SHORTEST_MEASURED = 1409.0
"""Shortest adult of the survey [mm] (published data)."""


def takes_size_marks(stature: float, age: int | None) -> bool:
    """Whether the survey of adults tells nothing of a body, so that size marks have to.

    Parameters
    ----------
    stature : float
        Standing height without shoes [mm].
    age : int or None
        Age [years]; None where nobody told.

    Returns
    -------
    bool
        True under 15 years, under 1490 mm at an unknown age, and under 1409 mm at any.
    """
    if age is None:
        return stature < FITS_FROM
    return age < ADULT_FROM or stature < SHORTEST_MEASURED


@dataclass(frozen=True)
class SizeMark:
    """One size of school chair and table [mm]."""

    mark: int
    stature: tuple[float, float]
    popliteal: tuple[float, float]
    seat: float
    table: float


@cache
def size_marks() -> tuple[SizeMark, ...]:
    """Size marks from the smallest to the largest; the largest has no upper popliteal height."""
    return tuple(
        SizeMark(
            int(row["mark"]),
            (float(row["stature_low"]), float(row["stature_high"])),
            (float(row["popliteal_low"]), float(row["popliteal_high"] or "inf")),
            float(row["seat"]),
            float(row["table"]),
        )
        for row in read_table(_PACKAGE, "size_marks.csv")
    )


ELBOW_SHARE = float(1.0 - np.cos(np.radians(25.0)) * np.cos(np.radians(20.0)))
"""Part of elbow to shoulder by which the elbow of an arm rises that is 25 degrees forward and 20 aside [-].
Derived; the rule of the mismatch equations (``gouvali_2006``), which prints 0.1483."""


@cache
def _fits() -> dict[tuple[str, str], tuple[float, float, float]]:
    return {
        (row["sex"], row["dimension"]): (
            float(row["slope"]),
            float(row["intercept"]),
            float(row["residual_sd"]),
        )
        for row in read_table(_PACKAGE, "body_fits.csv")
    }


def _adult(stature: float, sex: str) -> dict[str, tuple[float, float]]:
    """Estimate and standard deviation of every dimension [mm], by the survey of adults."""
    group = sex if sex in ("female", "male") else "any"
    rows = {name: _fits()[group, name] for name in DIMENSIONS}
    return {name: (intercept + slope * stature, sd) for name, (slope, intercept, sd) in rows.items()}


def _young(stature: float) -> dict[str, tuple[float, float]]:
    """Estimate and standard deviation of every dimension [mm], by size marks and proportions.

    The marks that a stature may take span the ends of popliteal height and of table over seat; each is taken
    to lie evenly between them. In between, the middles of neighbouring marks are joined by straight lines.
    """
    out = {
        row["dimension"]: (
            stature * float(row["share"]),
            stature * float(row["share"]) * float(row["sd_share"]),
        )
        for row in read_table(_PACKAGE, "body_proportions.csv")
    }
    marks = [one for one in size_marks() if np.isfinite(one.popliteal[1])]
    middles = [sum(one.stature) / 2.0 for one in marks]
    fitting = [one for one in marks if one.stature[0] <= stature <= one.stature[1]]
    fitting = fitting or [marks[-1] if stature > middles[-1] else marks[0]]
    low, high = min(one.popliteal[0] for one in fitting), max(one.popliteal[1] for one in fitting)
    popliteal = float(np.interp(stature, middles, [sum(one.popliteal) / 2.0 for one in marks]))
    out["popliteal_height"] = (min(max(popliteal, low), high), (high - low) / 12.0**0.5)
    over = [one.table - one.seat for one in fitting]
    rise = float(np.interp(stature, middles, [one.table - one.seat for one in marks]))
    shoulder = out["sitting_shoulder_height"][0]
    elbow = (rise - ELBOW_SHARE * shoulder) / (1.0 - ELBOW_SHARE)
    spread = (max(over) - min(over) + 2.0 * SEAT_AND_TABLE_OFF) / 12.0**0.5
    out["sitting_elbow_height"] = (elbow, max(spread, _fits()["any", "sitting_elbow_height"][2]))
    return out


SEAT_AND_TABLE_OFF = 30.0
"""How far table over seat may be off to either side at one mark, by the standard's tolerances [mm]."""


def estimate_body(
    stature: float, sex: str, measured: Mapping[str, float | None], age: int | None = None
) -> Body:
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
    age : int, optional
        Age [years].

    Returns
    -------
    Body
        Estimates are rounded to whole mm, since no tape reads finer.

    Notes
    -----
    Sources: ``ansur_ii`` (published data; soldiers, not everybody), ``en_1729`` (confirmed). Sitting elbow
    height hardly follows stature (r 0.12 to 0.18): measure it.
    """
    by_marks = takes_size_marks(stature, age)
    fit = _young(stature) if by_marks else _adult(stature, sex)
    out: dict[str, Dimension] = {}
    for name in DIMENSIONS:
        given = measured.get(name)
        if given is not None:
            out[name] = Dimension(float(given), False, 0.0)
        else:
            out[name] = Dimension(float(round(fit[name][0])), True, fit[name][1])
    return Body(float(stature), out, {name: sd for name, (_, sd) in fit.items()}, by_marks)


def residual_covariance(names: tuple[str, ...], spreads: Mapping[str, float]) -> npt.NDArray[np.float64]:
    """Covariance of the residuals of estimated dimensions, given stature.

    Parameters
    ----------
    names : tuple of str
        Dimensions, each once.
    spreads : mapping
        Their standard deviations, as :class:`Body` gives them [mm].

    Returns
    -------
    ndarray, shape (n, n)
        Covariance [mm2]. Pairs whose correlation is not tabulated count as
        independent (judgement); that adults' correlations hold for children too.

    Notes
    -----
    Source: ``ansur_ii`` (published data), ``tables/body_residual_correlation.csv``.
    """
    rows = {row["dimension"]: row for row in read_table(_PACKAGE, "body_residual_correlation.csv")}
    cov = np.zeros((len(names), len(names)))
    for i, a in enumerate(names):
        for j, b in enumerate(names):
            r = 1.0 if i == j else float(rows[a][b]) if a in rows and b in rows else 0.0
            cov[i, j] = r * spreads[a] * spreads[b]
    return cov
