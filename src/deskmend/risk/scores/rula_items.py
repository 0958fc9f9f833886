"""Items of RULA, scored from measured quantities; see `deskmend.risk.rula` for the source.

Every function takes scalars or arrays that broadcast. Bands, points and their status stand in
``tables/rula_items.csv``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk.ranges import IntArray, UnknownName, checked_flags, checked_number_arrays
from deskmend.risk.scores.bands import Reading, item_book, points, told

FORCE_KINDS = ("intermittent", "static_or_repeated", "shock")
"""Kinds of force that `force` knows."""


def upper_arm(
    flexion_deg: ArrayLike,
    raised: ArrayLike = False,
    abducted: ArrayLike = False,
    supported: ArrayLike = False,
) -> IntArray:
    """Upper arm score.

    Parameters
    ----------
    flexion_deg
        Upper arm against the trunk [deg], extension negative.
    raised, abducted, supported
        Shoulder raised (+1), arm away from the side (+1), arm supported or person leaning (-1).

    Returns
    -------
    ndarray of int64
        Item score [-], 1 to 6.

    Raises
    ------
    OutOfRange
        Where the angle is outside -180 to 180 or no number.

    Notes
    -----
    Figure 1; published. -20 and 20 score 1 ("20 extension to 20 flexion"); 90 scores 4 ("90 or more"); 45
    is printed in two bands and scores 2, as in a worked example. A supported arm in the first band stays at
    1 because table A has no row 0 (judgement). An older worksheet prints 15 instead of 20; 20 is used.
    """
    return points(item_book("rula_items"), *_upper_arm(flexion_deg, raised, abducted, supported))


def lower_arm(elbow_flexion_deg: ArrayLike, out_or_across: ArrayLike = False) -> IntArray:
    """Lower arm score.

    Parameters
    ----------
    elbow_flexion_deg
        Elbow flexion from the straight arm [deg]; a right-angled elbow is 90. The included angle of
        ANSI/HFES 100 is 180 less this.
    out_or_across
        Arm across the midline or out to the side (+1, once).

    Returns
    -------
    ndarray of int64
        Item score [-], 1 to 3.

    Raises
    ------
    OutOfRange
        Where the angle is outside 0 to 180 or no number.

    Notes
    -----
    Figure 1; confirmed at a secondary source. 60 and 100 score 1 ("less than 60 or more than 100" scores 2).
    """
    return points(item_book("rula_items"), *_lower_arm(elbow_flexion_deg, out_or_across))


def wrist(extension_deg: ArrayLike, deviated: ArrayLike = False, neutral_deg: float = 0.0) -> IntArray:
    """Wrist score.

    Parameters
    ----------
    extension_deg
        Wrist extension [deg], flexion negative.
    deviated
        Wrist bent from the midline to either side (+1).
    neutral_deg
        Greatest angle that still counts as neutral [deg], under 15. The paper gives no figure; 0 is
        its letter.

    Returns
    -------
    ndarray of int64
        Item score [-], 1 to 4.

    Raises
    ------
    OutOfRange
        Where an angle is out of range or no number.

    Notes
    -----
    Figure 1; published. Neutral scores 1, under 15 either way 2, 15 itself 3 ("15 or more").
    """
    return points(item_book("rula_items"), *_wrist(extension_deg, deviated, neutral_deg))


def neck(
    flexion_deg: ArrayLike,
    twisted: ArrayLike = False,
    bent: ArrayLike = False,
    neutral_deg: float = 0.0,
) -> IntArray:
    """Neck score.

    Parameters
    ----------
    flexion_deg
        Neck flexion [deg], extension negative.
    twisted, bent
        Neck twisted (+1), bent to the side (+1).
    neutral_deg
        Extension up to which the neck still counts as upright [deg], under 10. The paper gives no figure; 0
        is its letter, and there the score leaps from 1 to 4.

    Returns
    -------
    ndarray of int64
        Item score [-], 1 to 6.

    Raises
    ------
    OutOfRange
        Where an angle is out of range or no number.

    Notes
    -----
    Figure 2; published. 0 scores 1; 10 is printed in two bands and scores 1 (judgement); 20 scores 3 ("20 or
    more"); extension scores 4, so the score falls once as the neck comes up to 0.
    """
    return points(item_book("rula_items"), *_neck(flexion_deg, twisted, bent, neutral_deg))


def trunk(
    flexion_deg: ArrayLike,
    supported: ArrayLike = False,
    twisted: ArrayLike = False,
    bent: ArrayLike = False,
) -> IntArray:
    """Trunk score, seated.

    Parameters
    ----------
    flexion_deg
        Forward inclination of the trunk [deg], leaning back negative.
    supported
        Seated, back well supported and hip angle 90 or more: scores 1.
    twisted, bent
        Trunk twisted (+1), bent to the side (+1).

    Returns
    -------
    ndarray of int64
        Item score [-], 1 to 6.

    Raises
    ------
    OutOfRange
        Where the angle is outside -180 to 180 or no number.

    Notes
    -----
    Figure 2; published. 20 is printed in two bands and scores 2 (judgement); 60 scores 4 ("60 or more").
    Judgement: a trunk more than 20 forward cannot be supported by a backrest, so `supported` is then passed
    over; leaning back without support has no band in the paper and scores 2.
    """
    return points(item_book("rula_items"), *_trunk(flexion_deg, supported, twisted, bent))


def legs(supported: ArrayLike) -> IntArray:
    """Legs score.

    Parameters
    ----------
    supported
        Legs and feet well supported and weight even.

    Returns
    -------
    ndarray of int64
        1 supported, 2 not [-].

    Raises
    ------
    OutOfRange
        Where `supported` is not True or False.

    Notes
    -----
    Figure 2; published.
    """
    return points(item_book("rula_items"), *_legs(supported))


def muscle_use(minutes_static: ArrayLike, repeats_per_minute: ArrayLike) -> IntArray:
    """Muscle use score.

    Parameters
    ----------
    minutes_static
        How long the posture is held without a break [min].
    repeats_per_minute
        How often the action is repeated [1/min].

    Returns
    -------
    ndarray of int64
        1 where held longer than 1 min or repeated more than 4 times a minute, else 0 [-].

    Raises
    ------
    OutOfRange
        Where a value is negative, too great or no number.

    Notes
    -----
    Stage 2; 1 min confirmed at secondary sources. A later worksheet prints 10 min; 1 min is used. Exactly 1
    min and exactly 4 repeats score 0 (judgement: "longer than", "more than").
    """
    book = item_book("rula_items")
    held, often = _muscle_use(minutes_static, repeats_per_minute)
    return np.maximum(points(book, held), points(book, often))


def force(kg: ArrayLike, kind: str = "intermittent") -> IntArray:
    """Force or load score.

    Parameters
    ----------
    kg
        Load or force in kilograms [kg].
    kind
        ``intermittent``, ``static_or_repeated`` or ``shock`` (also rapid build-up).

    Returns
    -------
    ndarray of int64
        Score [-], 0 to 3.

    Raises
    ------
    OutOfRange
        Where the load is negative, over 1000 or no number.
    UnknownName
        Where `kind` is none of these.

    Notes
    -----
    Stage 2; scores 2 and 3 confirmed in the text of the paper, 0 and 1 on worksheets. 2 kg scores as "2 to
    10", 10 kg as well ("more than 10" scores higher). Under 2 kg held or repeated scores 0: a worked example
    does so.
    """
    return points(item_book("rula_items"), *_force(kg, kind))


def explain(item: str, **arguments: Any) -> str:
    """Say in plain words why an item has its score.

    Parameters
    ----------
    item
        Name of an item function of this module, such as ``neck``.
    **arguments
        The arguments of that function, single values only.

    Returns
    -------
    str
        Such as ``neck 3: 24 degrees, band 20 or more``.

    Raises
    ------
    UnknownName
        Where there is no such item.
    OutOfRange
        As the item's function, and where an argument is an array.
    """
    if item not in _READINGS:
        raise UnknownName("rula.explain", "item", item, tuple(_READINGS))
    readings = _READINGS[item](**arguments)
    return told(item_book("rula_items"), item, readings, max)


def _upper_arm(
    flexion_deg: ArrayLike,
    raised: ArrayLike = False,
    abducted: ArrayLike = False,
    supported: ArrayLike = False,
) -> tuple[Reading, ...]:
    flags = {"raised": raised, "abducted": abducted, "supported": supported}
    return (Reading("rula.upper_arm", "upper_arm", "flexion_deg", flexion_deg, flags=flags),)


def _lower_arm(elbow_flexion_deg: ArrayLike, out_or_across: ArrayLike = False) -> tuple[Reading, ...]:
    flags = {"out_or_across": out_or_across}
    return (Reading("rula.lower_arm", "lower_arm", "elbow_flexion_deg", elbow_flexion_deg, flags=flags),)


def _wrist(
    extension_deg: ArrayLike, deviated: ArrayLike = False, neutral_deg: float = 0.0
) -> tuple[Reading, ...]:
    checked = checked_number_arrays(
        "rula.wrist",
        {"extension_deg": (-180, 180, "degrees"), "neutral_deg": (0, 14.999, "degrees")},
        {"extension_deg": extension_deg, "neutral_deg": neutral_deg},
    )
    bend = np.abs(checked["extension_deg"])
    bend = np.where(bend <= checked["neutral_deg"], 0.0, bend)
    flags = {"deviated": deviated}
    return (Reading("rula.wrist", "wrist", "extension_deg", bend, shown=extension_deg, flags=flags),)


def _neck(
    flexion_deg: ArrayLike,
    twisted: ArrayLike = False,
    bent: ArrayLike = False,
    neutral_deg: float = 0.0,
) -> tuple[Reading, ...]:
    checked = checked_number_arrays(
        "rula.neck",
        {"flexion_deg": (-180, 180, "degrees"), "neutral_deg": (0, 9.999, "degrees")},
        {"flexion_deg": flexion_deg, "neutral_deg": neutral_deg},
    )
    flexion = checked["flexion_deg"]
    upright = (flexion < 0) & (flexion >= -checked["neutral_deg"])
    flags = {"twisted": twisted, "bent": bent}
    value = np.where(upright, 0.0, flexion)
    return (Reading("rula.neck", "neck", "flexion_deg", value, shown=flexion_deg, flags=flags),)


def _trunk(
    flexion_deg: ArrayLike,
    supported: ArrayLike = False,
    twisted: ArrayLike = False,
    bent: ArrayLike = False,
) -> tuple[Reading, ...]:
    flexion = checked_number_arrays(
        "rula.trunk", {"flexion_deg": (-180, 180, "degrees")}, {"flexion_deg": flexion_deg}
    )["flexion_deg"]
    leaning_on_back = checked_flags("rula.trunk", {"supported": supported})["supported"] & (flexion <= 20)
    flags = {"supported": leaning_on_back, "twisted": twisted, "bent": bent}
    return (Reading("rula.trunk", "trunk", "flexion_deg", flexion, flags=flags),)


def _legs(supported: ArrayLike) -> tuple[Reading, ...]:
    held = checked_flags("rula.legs", {"supported": supported})["supported"]
    return (Reading("rula.legs", "legs", flags={"unsupported": ~held}),)


def _muscle_use(minutes_static: ArrayLike, repeats_per_minute: ArrayLike) -> tuple[Reading, ...]:
    return (
        Reading("rula.muscle_use", "static_use", "minutes_static", minutes_static),
        Reading("rula.muscle_use", "repeated_use", "repeats_per_minute", repeats_per_minute),
    )


def _force(kg: ArrayLike, kind: str = "intermittent") -> tuple[Reading, ...]:
    if kind not in FORCE_KINDS:
        raise UnknownName("rula.force", "kind", str(kind), FORCE_KINDS)
    return (Reading("rula.force", f"force_{kind}", "kg", kg),)


_READINGS: dict[str, Callable[..., tuple[Reading, ...]]] = {
    "upper_arm": _upper_arm,
    "lower_arm": _lower_arm,
    "wrist": _wrist,
    "neck": _neck,
    "trunk": _trunk,
    "legs": _legs,
    "muscle_use": _muscle_use,
    "force": _force,
}
