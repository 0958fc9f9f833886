"""Classes of posture quantities after published standards: inside, conditional or outside.

ISO 11226:2000 with EN 1005-4:2005 for head, neck, trunk and upper arm; ANSI/HFES 100-2007 for shoulder,
elbow, wrist and hip; ISO 9241 and others for the screen. Ranges, sources, editions and status stand row by
row in ``tables/postural_classes.csv``. The ends of a range belong to the milder class.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from types import MappingProxyType
from typing import Literal, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from deskmend.messages import tr
from deskmend.numerals import shown_number
from deskmend.risk.item_scores import Band, plain_number
from deskmend.risk.ranges import FloatArray, OutOfRange, UnknownName, WrongArgument, checked_number_arrays
from deskmend.risk.score_tables import TableDefect, rows_of

PostureClass = Literal["inside", "conditional", "outside"]
"""``inside`` the recommended range; ``conditional`` on support, time or another standard; ``outside``."""

CLASSES: tuple[PostureClass, ...] = ("inside", "conditional", "outside")
"""The classes, mildest first."""


@dataclass(frozen=True)
class Zone:
    """One stretch of a quantity and its class.

    Parameters
    ----------
    band
        The stretch, in the unit of the quantity; its points are the place of the class in `CLASSES`.
    posture_class
        The class.
    unit
        Unit in words.
    source, edition
        Where it is published.
    """

    band: Band
    posture_class: PostureClass
    unit: str
    source: str
    edition: str


@cache
def zones() -> Mapping[str, tuple[Zone, ...]]:
    """Load the zones of every quantity once.

    Returns
    -------
    mapping of str to tuple of Zone
        Read-only; zones in rising order without gap or overlap.

    Raises
    ------
    TableDefect
        Where zones leave a gap or overlap, or a class is unknown.
    """
    found: dict[str, list[Zone]] = {}
    for row in rows_of("postural_classes"):
        kept = [one for one in CLASSES if one == row["class"]]
        if not kept:
            raise TableDefect(f"postural_classes: unknown class {row['class']}")
        band = Band(
            low=float(row["low"]),
            low_in=row["low_in"] == "yes",
            high=float(row["high"]),
            high_in=row["high_in"] == "yes",
            points=CLASSES.index(kept[0]),
            words=row["words"],
            status=row["status"],
        )
        zone = Zone(band, kept[0], row["unit"], row["source"], row["edition"])
        found.setdefault(row["quantity"], []).append(zone)
    for name, own in found.items():
        for first, second in pairwise(own):
            if first.band.high != second.band.low or first.band.high_in == second.band.low_in:
                raise TableDefect(f"postural_classes: {name} has a gap or overlap at {first.band.high:g}")
    return MappingProxyType({name: tuple(own) for name, own in found.items()})


@overload
def classify(quantity: str, value: float) -> PostureClass: ...
@overload
def classify(quantity: str, value: ArrayLike) -> PostureClass | NDArray[np.str_]: ...


def classify(quantity: str, value: ArrayLike) -> PostureClass | NDArray[np.str_]:
    """Name the class of a quantity.

    Parameters
    ----------
    quantity
        Name of the quantity, one of `zones`: angles [deg], ``viewing_distance`` and ``seat_clearance`` [mm].
    value
        Its value or values.

    Returns
    -------
    str or ndarray of str
        ``inside``, ``conditional`` or ``outside``; an array where `value` is one.

    Raises
    ------
    UnknownName
        Where there is no such quantity.
    OutOfRange
        Where a value is no number or beyond what the quantity can be.

    Notes
    -----
    Status stands with each zone; see `zones` and ``docs/methods.md``.
    """
    own, checked = _zones_of("postural_classes.classify", quantity, value)
    place = np.zeros(checked.shape, dtype=np.int64)
    for zone in own:
        place = np.where(zone.band.holds(checked), zone.band.points, place)
    if place.ndim == 0:
        return CLASSES[int(place)]
    return np.asarray(CLASSES, dtype=np.str_)[place]


def explain(quantity: str, value: float) -> str:
    """Say in plain words why a quantity has its class, and after what source.

    Parameters
    ----------
    quantity
        Name of the quantity.
    value
        A single value, in the unit of the quantity.

    Returns
    -------
    str
        Such as ``neck flexion outside: 26 degrees, over 25 (ISO 11226; EN 1005-4; confirmed ...)``.

    Raises
    ------
    UnknownName
        Where there is no such quantity.
    OutOfRange
        As `classify`, and where `value` is an array.
    """
    own, checked = _zones_of("postural_classes.explain", quantity, value)
    if checked.ndim:
        wrong = WrongArgument("value", "an array", "a single value")
        raise OutOfRange("postural_classes.explain", (wrong,))
    zone = next(zone for zone in own if zone.band.holds(checked))
    number = plain_number(float(checked), tuple(zone.band for zone in own))
    return tr(
        "{quantity} {zone}: {number} {unit}, {range} ({source}; {status})",
        quantity=tr(quantity.replace("_", " ")),
        zone=tr(zone.posture_class),
        number=shown_number(number),
        unit=tr(zone.unit),
        range=tr(zone.band.words),
        source=tr(zone.source),
        status=tr(zone.band.status),
    )


def _zones_of(where: str, quantity: str, value: ArrayLike) -> tuple[tuple[Zone, ...], FloatArray]:
    known = zones()
    if quantity not in known:
        raise UnknownName(where, "quantity", str(quantity), tuple(known))
    own = known[quantity]
    limits = {quantity: (own[0].band.low, own[-1].band.high, own[0].unit)}
    return own, checked_number_arrays(where, limits, {quantity: value})[quantity]
