"""Items of ROSA that concern the chair, scored from measured quantities.

See `deskmend.risk.rosa` for the source. Every function takes scalars or arrays that broadcast; bands, points
and their status stand in ``tables/rosa_items.csv``. The method gives few figures: where it says "about" or
"too high" the tolerance is a judgement of ours and marked so there. ``fixed`` means not adjustable.
"""

from __future__ import annotations

from collections.abc import Callable

from numpy.typing import ArrayLike

from deskmend.risk.item_scores import Reading, item_book, points
from deskmend.risk.ranges import BoolArray, IntArray, checked_flags


def seat_height(
    knee_angle_deg: ArrayLike,
    foot_contact: ArrayLike = True,
    space_short: ArrayLike = False,
    fixed: ArrayLike = False,
) -> IntArray:
    """Seat height score.

    Parameters
    ----------
    knee_angle_deg
        Included angle at the knee [deg].
    foot_contact
        Feet reach the floor or a footrest.
    space_short, fixed
        Too little space under the desk (+1), height not adjustable (+1).

    Returns
    -------
    ndarray of int64
        Part score [-], 1 to 5.

    Raises
    ------
    OutOfRange
        Where the angle is outside 0 to 180 or no number.

    Notes
    -----
    Sonne et al. 2012, section A; 1 at 90 degrees, 2 below or above, 3 without foot contact. "About 90" is
    read as 85 to 95, both included (judgement).
    """
    return points(item_book("rosa_items"), *_seat_height(knee_angle_deg, foot_contact, space_short, fixed))


def seat_depth(clearance_mm: ArrayLike, fixed: ArrayLike = False) -> IntArray:
    """Seat depth score.

    Parameters
    ----------
    clearance_mm
        From the seat's front edge to the back of the knee [mm]; negative where the edge lies behind it.
    fixed
        Depth not adjustable (+1).

    Returns
    -------
    ndarray of int64
        Part score [-], 1 to 3.

    Raises
    ------
    OutOfRange
        Where the clearance is outside -1000 to 1000 or no number.

    Notes
    -----
    Sonne et al. 2012, section A; 1 at about 75 mm, 2 below or above. By the letter every clearance but 75
    scores 2; 50 to 100, both included, count as about 75 (judgement). Spanish sheets print 80.
    """
    return points(item_book("rosa_items"), *_seat_depth(clearance_mm, fixed))


def armrest(
    height_gap_mm: ArrayLike,
    present: ArrayLike = True,
    hard: ArrayLike = False,
    wide: ArrayLike = False,
    fixed: ArrayLike = False,
) -> IntArray:
    """Armrest score.

    Parameters
    ----------
    height_gap_mm
        Armrest less elbow height, shoulders relaxed [mm]; not looked at where there is none.
    present
        There are armrests and they are used.
    hard, wide, fixed
        Hard or damaged (+1), too far apart (+1), not adjustable (+1); they do not count where there is none.

    Returns
    -------
    ndarray of int64
        Part score [-], 1 to 5.

    Raises
    ------
    OutOfRange
        Where the gap is outside -1000 to 1000 or no number.

    Notes
    -----
    Sonne et al. 2012, section A; 1 with elbows supported and shoulders relaxed, 2 too high, too low or
    unsupported. Within 20 mm counts as supported (judgement); no armrest scores 2 without additions
    (judgement).
    """
    return points(item_book("rosa_items"), *_armrest(height_gap_mm, present, hard, wide, fixed))


def back_support(
    back_angle_deg: ArrayLike,
    lumbar: ArrayLike = True,
    used: ArrayLike = True,
    surface_high: ArrayLike = False,
    fixed: ArrayLike = False,
) -> IntArray:
    """Back support score.

    Parameters
    ----------
    back_angle_deg
        Backrest against the horizontal seat [deg]; 90 is upright.
    lumbar
        Support at the small of the back, rightly placed.
    used
        There is a backrest and the person leans on it.
    surface_high, fixed
        Work surface too high with shoulders raised (+1), not adjustable (+1).

    Returns
    -------
    ndarray of int64
        Part score [-], 1 to 4.

    Raises
    ------
    OutOfRange
        Where the angle is outside 0 to 180 or no number.

    Notes
    -----
    Sonne et al. 2012, section A; 95 and 110 themselves score 1 (less than 95 or more than 110 scores 2).
    """
    return points(item_book("rosa_items"), *_back_support(back_angle_deg, lumbar, used, surface_high, fixed))


def _opposite(where: str, **flags: ArrayLike) -> dict[str, BoolArray]:
    return {name: ~value for name, value in checked_flags(where, flags).items()}


def _seat_height(
    knee_angle_deg: ArrayLike,
    foot_contact: ArrayLike = True,
    space_short: ArrayLike = False,
    fixed: ArrayLike = False,
) -> tuple[Reading, ...]:
    no_contact = _opposite("rosa.seat_height", foot_contact=foot_contact)["foot_contact"]
    flags = {"no_foot_contact": no_contact, "space_short": space_short, "fixed": fixed}
    return (Reading("rosa.seat_height", "seat_height", "knee_angle_deg", knee_angle_deg, flags=flags),)


def _seat_depth(clearance_mm: ArrayLike, fixed: ArrayLike = False) -> tuple[Reading, ...]:
    return (Reading("rosa.seat_depth", "seat_depth", "clearance_mm", clearance_mm, flags={"fixed": fixed}),)


def _armrest(
    height_gap_mm: ArrayLike,
    present: ArrayLike = True,
    hard: ArrayLike = False,
    wide: ArrayLike = False,
    fixed: ArrayLike = False,
) -> tuple[Reading, ...]:
    where = "rosa.armrest"
    own = checked_flags(where, {"present": present, "hard": hard, "wide": wide, "fixed": fixed})
    there = own.pop("present")
    flags: dict[str, object] = {"absent": ~there, **{name: value & there for name, value in own.items()}}
    return (Reading(where, "armrest", "height_gap_mm", height_gap_mm, flags=flags),)


def _back_support(
    back_angle_deg: ArrayLike,
    lumbar: ArrayLike = True,
    used: ArrayLike = True,
    surface_high: ArrayLike = False,
    fixed: ArrayLike = False,
) -> tuple[Reading, ...]:
    where = "rosa.back_support"
    missing = _opposite(where, lumbar=lumbar, used=used)
    flags = {
        "no_lumbar": missing["lumbar"],
        "unused": missing["used"],
        "surface_high": surface_high,
        "fixed": fixed,
    }
    return (Reading(where, "back_support", "back_angle_deg", back_angle_deg, flags=flags),)


READINGS: dict[str, Callable[..., tuple[Reading, ...]]] = {
    "seat_height": _seat_height,
    "seat_depth": _seat_depth,
    "armrest": _armrest,
    "back_support": _back_support,
}
"""What each item function reads, by its name; used to explain a score."""
