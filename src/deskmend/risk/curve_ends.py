"""How far apart sources put the ends of severity curves, and curves with their ends moved.

The ranges are in ``tables/severity_ends.csv``. An end that no source and no
note states a range for is not moved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from deskmend.published_table import read_table
from deskmend.risk.severity import Curve, curves

__all__ = ["EndRange", "curves_with", "end_ranges"]


@dataclass(frozen=True)
class EndRange:
    """Where one end of a curve is put.

    Attributes
    ----------
    curve, end : str
        Name of the curve; ``zero_at`` or ``one_at``.
    low, high : int
        Range, in the curve's unit [mm] [deg] [lux].
    sources : tuple of str
        Keys of sources.
    status : str
        Of the range.
    """

    curve: str
    end: str
    low: int
    high: int
    sources: tuple[str, ...]
    status: str


@cache
def end_ranges() -> tuple[EndRange, ...]:
    """Every stated range, in the order of the table."""
    return tuple(
        EndRange(
            row["curve"],
            row["end"],
            int(row["low"]),
            int(row["high"]),
            tuple(row["source"].split()),
            row["status"],
        )
        for row in read_table("deskmend.risk", "severity_ends.csv")
    )


def curves_with(ends: Mapping[tuple[str, str], float]) -> dict[str, Curve]:
    """Curves with some ends elsewhere.

    Parameters
    ----------
    ends : mapping of (str, str) to float
        Value by curve and end, as ``("gaze_low", "zero_at")``, in the curve's unit.

    Returns
    -------
    dict
        Just the curves named, for `deskmend.risk.severity.moved_curves`.

    Raises
    ------
    KeyError
        No such curve.
    """
    out: dict[str, Curve] = {}
    for (name, end), value in ends.items():
        curve = out.get(name, curves()[name])
        out[name] = replace(curve, zero_at=value) if end == "zero_at" else replace(curve, one_at=value)
    return out
