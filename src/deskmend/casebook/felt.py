"""What a change of ratings can be said to be, by the published errors of a scale from 0 to 10.

The words hold to the largest error that was found, 4 points at the neck: in any region a smaller change of
one person may be error alone. None of them says what the change comes from: people come when it is worst, and
ratings then fall by themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from deskmend.casebook.store import Rating
from deskmend.published import read_table
from deskmend.risk.severity import REGIONS

__all__ = ["CLEAR", "MAY_BE", "FeltChange", "RatingError", "felt_changes", "rating_errors"]

MAY_BE = 2
"""Points from which a change may be one: the least important difference of the limbs (Hrvatin and Puh 2021,
doi 10.6016/ZdravVestn.3108; published)."""
CLEAR = 4
"""Points from which a change is clear: least detectable change at the neck (Kovacs and others 2008, doi
10.1186/1471-2474-9-43; published)."""

Clarity = Literal["none", "may_be", "clear"]


@dataclass(frozen=True)
class FeltChange:
    """Two ratings of one region: the first and the last."""

    region: str
    first: Rating
    last: Rating

    @property
    def points(self) -> int:
        """How much less it is now; under 0 where it is more."""
        return self.first.rating - self.last.rating

    @property
    def clarity(self) -> Clarity:
        """How sure it is that anything changed, for one person."""
        moved = abs(self.points)
        return "clear" if moved >= CLEAR else "may_be" if moved >= MAY_BE else "none"


def felt_changes(felt: Sequence[Rating]) -> tuple[FeltChange, ...]:
    """First and last rating of each region that was rated on two days; of a day the last counts."""
    by_region: dict[str, dict[date, Rating]] = {}
    for one in felt:
        by_region.setdefault(one.region, {})[one.day] = one
    return tuple(
        FeltChange(region, rated[min(rated)], rated[max(rated)])
        for region in REGIONS
        if len(rated := by_region.get(region, {})) > 1
    )


@dataclass(frozen=True)
class RatingError:
    """How far ratings of some regions may move by themselves [points]."""

    regions: tuple[str, ...]
    low: float
    high: float
    source: str
    """Key of the catalog's sources."""


def rating_errors(regions: Iterable[str]) -> tuple[RatingError, ...]:
    """What was published of the error of a rating, for these regions; nothing for one without a figure."""
    asked = set(regions)
    found: dict[tuple[str, str, str], list[str]] = {}
    for row in read_table("deskmend.casebook", "rating_errors.csv"):
        if row["region"] in asked and row["source"]:
            found.setdefault((row["low"], row["high"], row["source"]), []).append(row["region"])
    return tuple(
        RatingError(tuple(names), float(low), float(high), source)
        for (low, high, source), names in found.items()
    )
