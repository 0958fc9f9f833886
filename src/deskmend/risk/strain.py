"""Strain: hours a day outside comfortable limits, by body region.

    strain = hours x share x severity x spell factor x region weight x weight   [h/day]

Each exposure is rounded once, here, to a whole number of millionths of an
hour. Every total is a sum of those integers, so model, optimiser and page
agree to the last digit. The index is relative; it says exposure, not harm.

A habit is kept on some days only. Its strain is the mean over days of both
kinds, each exposure worked out in both and rounded once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, partial
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from deskmend.errors import DefectError
from deskmend.measures import MILLION
from deskmend.published import read_table
from deskmend.risk.severity import REGIONS
from deskmend.workstation.graph import ROLES, Array, Evaluation, Words, derive, quantity

__all__ = [
    "Exposure",
    "exposed",
    "exposure_parts",
    "exposures",
    "exposures_in",
    "mean_millionths",
    "spell_factor",
    "strain_terms",
]

T = TypeVar("T")

LONGEST_FREE_SPELL = 60.0
"""Unbroken minutes up to which a static load counts once [min] (guidance: a pause each 50 to 60 minutes)."""
LONGEST_SPELL = 120.0
"""Unbroken minutes from which a static load counts LONGEST_SPELL_FACTOR times [min] (judgement)."""
LONGEST_SPELL_FACTOR = 1.5
"""Factor at LONGEST_SPELL and beyond [-] (judgement).

Two hours of sitting raised discomfort 1.43 times (1.33 to 1.53, n 20; baker_2018, published)."""


@dataclass(frozen=True)
class Exposure:
    """One kind of exposure, as listed in ``tables/exposures.csv``."""

    name: str
    words: str
    severity: str
    role: str
    modes: tuple[str, ...]
    regions: tuple[tuple[str, float], ...]
    share: str
    spell: str


@cache
def exposures() -> tuple[Exposure, ...]:
    """Every exposure of the model."""
    out = []
    for row in read_table("deskmend.risk", "exposures.csv"):
        pairs = [pair.split(":") for pair in row["regions"].split()]
        if not all(region in REGIONS for region, _ in pairs):
            raise DefectError(f"exposures.csv: {row['exposure']} names an unknown region")
        out.append(
            Exposure(
                row["exposure"],
                row["words"],
                row["severity"],
                row["role"],
                tuple(row["modes"].split()),
                tuple((region, float(weight)) for region, weight in pairs),
                row["share"],
                row["spell"],
            )
        )
    return tuple(out)


def spell_factor(minutes: Array) -> Array:
    """Stretch of a static load by its unbroken spell [-].

    Parameters
    ----------
    minutes : ndarray
        Longest unbroken spell [min].

    Returns
    -------
    ndarray
        1 up to 60 minutes, rising to 1.5 at 120 (judgement; hse_l26 advises a
        pause each 50 to 60 minutes, and baker_2018 measured 1.43 over two hours,
        both published).
    """
    along = (np.asarray(minutes, dtype=float) - LONGEST_FREE_SPELL) / (LONGEST_SPELL - LONGEST_FREE_SPELL)
    return 1.0 + (LONGEST_SPELL_FACTOR - 1.0) * np.clip(along, 0.0, 1.0)


derive("task_spell_factor", "-", "task_spell", spell_factor)
derive("place_spell_factor", "-", "sitting_spell", spell_factor)
derive("lapsed_task_spell_factor", "-", "lapsed_task_spell", spell_factor)
derive("lapsed_place_spell_factor", "-", "lapsed_sitting_spell", spell_factor)


@quantity("-")
def screen_share(look_screen: Array, look_second: Array, second_used: Words) -> Array:
    """Part of the looking time at the screen; all that screens show where the second is off."""
    return look_screen + np.where(np.asarray(second_used) == "no", look_second, 0.0)


@quantity("-")
def second_share(look_second: Array, second_used: Words) -> Array:
    """Part of the looking time at the second screen; none where it is off."""
    return np.where(np.asarray(second_used) == "no", 0.0, look_second)


def _rest(share: Array) -> Array:
    return np.asarray(1.0 - share)


derive("look_share", "-", "screen_share", target="screen")
derive("look_share", "-", "second_share", target="second")
derive("look_share", "-", "look_paper", target="paper")
derive("hand_share", "-", "hands_keys", hand="keys")
derive("hand_share", "-", "hands_mouse", hand="mouse")
derive("hand_share", "-", "hands_writing", hand="writing")
derive("mode_share", "-", "stand_share", _rest, mode="sit")
derive("mode_share", "-", "stand_share", mode="stand")
derive("lapsed_mode_share", "-", "lapsed_stand_share", _rest, mode="sit")
derive("lapsed_mode_share", "-", "lapsed_stand_share", mode="stand")

ON_LAPSED_DAYS = {
    name: f"lapsed_{name}"
    for name in ("mode_share", "standing_severity", "task_spell_factor", "place_spell_factor")
}
"""Quantities that a habit changes, and the same on days when none is kept."""


def mean_millionths(
    weight: float, kept_up: Array, hours: Array, share: Array, *days: Array
) -> npt.NDArray[np.int64]:
    """Mean strain of one exposure over days on which a habit is kept and days on which it is not.

    Parameters
    ----------
    weight : float
        Region weight times the exposure's weight [-].
    kept_up : ndarray
        Part of the days on which it is kept [-].
    hours, share : ndarray
        Hours a day of the task [h], and the part of them that counts [-].
    *days : ndarray
        Mode share, severity and spell factor of days on which it is kept, and of the others [-].

    Returns
    -------
    ndarray of int64
        Whole millionths of an hour a day; both kinds of days are rounded at once.
    """
    kept, lapsed = (
        _hours_outside(hours, mode, share, severity, factor, weight)
        for mode, severity, factor in (days[:3], days[3:])
    )
    return _whole(np.asarray(kept_up) * kept + (1.0 - np.asarray(kept_up)) * lapsed)


def _hours_outside(
    hours: Array, mode_share: Array, share: Array, severity: Array, factor: Array, weight: float
) -> Array:
    product = np.asarray(hours) * mode_share * share * severity * factor * weight
    # Where no time is spent at all, what it would be like may not even be known.
    return np.where((np.asarray(mode_share) == 0) | (np.asarray(share) == 0), 0.0, product)


def _whole(strain: Array) -> npt.NDArray[np.int64]:
    return np.rint(MILLION * strain).astype(np.int64)


def strain_terms(
    evaluation: Evaluation[T], weights: Mapping[str, float], modes: tuple[str, ...] = ROLES["mode"]
) -> Iterator[tuple[str, str, dict[str, str], T]]:
    """Strain of every exposure of one task at one place.

    Parameters
    ----------
    evaluation : Evaluation
        Of the task at the place, in any number type.
    weights : mapping
        Region weight by region [-].
    modes : tuple of str
        Modes that can have a share of the time.

    Yields
    ------
    tuple
        Exposure name, region, roles and strain [millionths of h/day].
    """
    for exposure, roles, parts in exposed(evaluation, modes):
        for region, weight in exposure.regions:
            label = (f"strain:{exposure.name}:{region}", tuple(sorted(roles.items())))
            value = evaluation.compute(label, partial(mean_millionths, weight * weights[region]), parts)
            yield exposure.name, region, roles, value


def exposed(
    evaluation: Evaluation[T], modes: tuple[str, ...] = ROLES["mode"], only: str = ""
) -> Iterator[tuple[Exposure, dict[str, str], list[T]]]:
    """What makes the strain of every exposure of one task at one place, region by region but for its weight.

    Parameters
    ----------
    evaluation : Evaluation
        Of the task at the place, in any number type.
    modes : tuple of str
        Modes that can have a share of the time.
    only : str
        Name of the exposure that alone is asked for; empty for all.

    Yields
    ------
    tuple
        Exposure, roles, and its parts; see `exposure_parts`. Exposures whose share of the time is fixed at 0
        are left out.
    """
    for exposure, roles in exposures_in(modes):
        if only and exposure.name != only:
            continue
        if not (exposure.share and evaluation.is_zero(evaluation(exposure.share, **roles))):
            yield exposure, roles, exposure_parts(evaluation, exposure, roles)


@cache
def exposures_in(modes: tuple[str, ...]) -> tuple[tuple[Exposure, dict[str, str]], ...]:
    """Every exposure in every role in which it can be.

    Parameters
    ----------
    modes : tuple of str
        Modes that can have a share of the time.

    Returns
    -------
    tuple
        Exposures with roles.
    """
    return tuple(
        (exposure, {"mode": mode} | ({exposure.role: case} if case else {}))
        for exposure in exposures()
        for mode in exposure.modes
        if mode in modes
        for case in (ROLES[exposure.role] if exposure.role else ("",))
    )


def exposure_parts(evaluation: Evaluation[T], exposure: Exposure, roles: dict[str, str]) -> list[T]:
    """What makes the strain of one exposure, region by region but for its weight.

    Parameters
    ----------
    evaluation : Evaluation
        Of the task at the place, in any number type.
    exposure : Exposure
        The exposure.
    roles : dict
        Its roles.

    Returns
    -------
    list
        The part of the days on which a habit is kept, hours a day of the task, the role's share of them, then
        mode's share, severity and spell factor of days on which it is kept, and the same three of days on
        which it is not.
    """
    names = ("mode_share", exposure.severity, exposure.spell)
    one = evaluation.constant(1.0)
    share = evaluation(exposure.share, **roles) if exposure.share else one
    kept = [evaluation(name, **roles) if name else one for name in names]
    lapsed = [evaluation(ON_LAPSED_DAYS.get(name, name), **roles) if name else one for name in names]
    return [evaluation("kept_up"), evaluation("task_hours"), share, *kept, *lapsed]
