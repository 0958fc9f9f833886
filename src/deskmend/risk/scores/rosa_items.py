"""Items of ROSA that concern the devices and the time of use, scored from measured quantities.

See `deskmend.risk.rosa` for the source. Every function takes scalars or arrays that broadcast; bands, points
and their status stand in ``tables/rosa_items.csv``. ``fixed`` means not adjustable.

Items of ROSA that concern the chair, scored from measured quantities.

See `deskmend.risk.rosa` for the source. Every function takes scalars or arrays that broadcast; bands, points
and their status stand in ``tables/rosa_items.csv``. The method gives few figures: where it says "about" or
"too high" the tolerance is a judgement of ours and marked so there. ``fixed`` means not adjustable.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk.ranges import BoolArray, IntArray, checked_flags, checked_number_arrays
from deskmend.risk.scores.bands import Reading, item_book, points


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


CHAIR_READINGS: dict[str, Callable[..., tuple[Reading, ...]]] = {
    "seat_height": _seat_height,
    "seat_depth": _seat_depth,
    "armrest": _armrest,
    "back_support": _back_support,
}
"""What each item function reads, by its name; used to explain a score."""


def monitor(
    gaze_down_deg: ArrayLike,
    distance_mm: ArrayLike = 600,
    twist_deg: ArrayLike = 0,
    glare: ArrayLike = False,
    documents_loose: ArrayLike = False,
    duration: ArrayLike = 0,
) -> IntArray:
    """Monitor score after its duration.

    Parameters
    ----------
    gaze_down_deg
        Centre of the screen below the horizontal at the eye [deg], above it negative.
    distance_mm
        From eye to screen [mm].
    twist_deg
        Neck turned to the screen, either way [deg].
    glare, documents_loose
        Glare on the screen (+1), documents without a holder (+1).
    duration
        Points of `duration` [-].

    Returns
    -------
    ndarray of int64
        Part score [-], 0 to 7.

    Raises
    ------
    OutOfRange
        Where a value is out of range or no number; names every one.

    Notes
    -----
    Sonne et al. 2012, section B; 30 below and 30 of twist do not count yet ("below 30", "greater than 30"),
    750 mm is not too far. Too high scores 3 as on the paper's form (2 in one report); the sum can then reach
    8 and is held at 7, the end of the published range (judgement). Which line of sight the form means is not
    said: the screen's centre is used, and "too high" starts where it lies above the eye (judgement). A screen
    nearer than 400 mm is not neutral, but no points are printed for it: none are added.
    """
    return points(
        item_book("rosa_items"),
        *_monitor(gaze_down_deg, distance_mm, twist_deg, glare, documents_loose, duration),
    )


def telephone(
    reach_mm: ArrayLike,
    neck_hold: ArrayLike = False,
    hands_free: ArrayLike = True,
    duration: ArrayLike = 0,
) -> IntArray:
    """Telephone score after its duration.

    Parameters
    ----------
    reach_mm
        Distance to the telephone [mm].
    neck_hold
        Held between neck and shoulder (+2).
    hands_free
        A headset or loudspeaker can be used; +1 where not.
    duration
        Points of `duration` [-].

    Returns
    -------
    ndarray of int64
        Part score [-], 0 to 6.

    Raises
    ------
    OutOfRange
        Where a value is out of range or no number.

    Notes
    -----
    Sonne et al. 2012, section B; 300 mm itself is not too far. Without a telephone: 1 and duration -1, so 0
    (judgement).
    """
    return points(item_book("rosa_items"), *_telephone(reach_mm, neck_hold, hands_free, duration))


def mouse(
    reaching: ArrayLike,
    other_surface: ArrayLike = False,
    pinch_grip: ArrayLike = False,
    palm_rest: ArrayLike = False,
    duration: ArrayLike = 0,
) -> IntArray:
    """Mouse score after its duration.

    Parameters
    ----------
    reaching
        The arm reaches for the mouse; the method prints no distance.
    other_surface, pinch_grip, palm_rest
        On another surface than the keyboard (+2), small mouse (+1), palm rest in front of it (+1).
    duration
        Points of `duration` [-].

    Returns
    -------
    ndarray of int64
        Part score [-], 0 to 7.

    Raises
    ------
    OutOfRange
        Where a condition is no truth value or the duration out of range.

    Notes
    -----
    Sonne et al. 2012, section C.
    """
    return points(item_book("rosa_items"), *_mouse(reaching, other_surface, pinch_grip, palm_rest, duration))


def keyboard(
    wrist_extension_deg: ArrayLike,
    deviated: ArrayLike = False,
    too_high: ArrayLike = False,
    overhead: ArrayLike = False,
    fixed: ArrayLike = False,
    duration: ArrayLike = 0,
) -> IntArray:
    """Keyboard score after its duration.

    Parameters
    ----------
    wrist_extension_deg
        Wrist extension [deg], flexion negative.
    deviated, too_high, overhead, fixed
        Hands turned sideways (+1), shoulders raised (+1), reaching overhead (+1), surface not
        adjustable (+1).
    duration
        Points of `duration` [-].

    Returns
    -------
    ndarray of int64
        Part score [-], 0 to 7.

    Raises
    ------
    OutOfRange
        Where a value is out of range or no number.

    Notes
    -----
    Sonne et al. 2012, section C; 15 itself scores 1 ("greater than 15"). The last two additions are from
    memory; without them the published range 0 to 7 could not be reached. Flexion is not in the method.
    """
    return points(
        item_book("rosa_items"),
        *_keyboard(wrist_extension_deg, deviated, too_high, overhead, fixed, duration),
    )


def duration(hours_a_day: ArrayLike, unbroken_minutes: ArrayLike) -> IntArray:
    """Points for time of use.

    Parameters
    ----------
    hours_a_day
        Use in all [h/day].
    unbroken_minutes
        Longest use without a break [min].

    Returns
    -------
    ndarray of int64
        -1, 0 or 1 [-].

    Raises
    ------
    OutOfRange
        Where a value is negative, too great or no number.

    Notes
    -----
    Sonne et al. 2012; confirmed. -1 under 30 min unbroken or under 1 h a day, 1 over 1 h unbroken or over 4 h
    a day, else 0; 30 min, 60 min, 1 h and 4 h themselves give 0. Where one of the two speaks for 1 and the
    other for -1, 1 holds (judgement).
    """
    book = item_book("rosa_items")
    day, spell = (points(book, reading) for reading in _duration(hours_a_day, unbroken_minutes))
    return np.where((day == 1) | (spell == 1), np.int64(1), np.minimum(day, spell))


def _monitor(
    gaze_down_deg: ArrayLike,
    distance_mm: ArrayLike = 600,
    twist_deg: ArrayLike = 0,
    glare: ArrayLike = False,
    documents_loose: ArrayLike = False,
    duration: ArrayLike = 0,
) -> tuple[Reading, ...]:
    where = "rosa.monitor"
    seen = checked_number_arrays(
        where,
        {
            "gaze_down_deg": (-90, 90, "degrees"),
            "distance_mm": (1, 5000, "mm"),
            "twist_deg": (-180, 180, "degrees"),
        },
        {"gaze_down_deg": gaze_down_deg, "distance_mm": distance_mm, "twist_deg": twist_deg},
    )
    flags: dict[str, object] = {
        "far": seen["distance_mm"] > 750,
        "twisted": np.abs(seen["twist_deg"]) > 30,
        "glare": glare,
        "documents_loose": documents_loose,
    }
    value = seen["gaze_down_deg"]
    return (Reading(where, "monitor", "gaze_down_deg", value, flags=flags, duration=duration),)


def _telephone(
    reach_mm: ArrayLike,
    neck_hold: ArrayLike = False,
    hands_free: ArrayLike = True,
    duration: ArrayLike = 0,
) -> tuple[Reading, ...]:
    where = "rosa.telephone"
    no_hands_free = ~checked_flags(where, {"hands_free": hands_free})["hands_free"]
    flags = {"neck_hold": neck_hold, "no_hands_free": no_hands_free}
    return (Reading(where, "telephone", "reach_mm", reach_mm, flags=flags, duration=duration),)


def _mouse(
    reaching: ArrayLike,
    other_surface: ArrayLike = False,
    pinch_grip: ArrayLike = False,
    palm_rest: ArrayLike = False,
    duration: ArrayLike = 0,
) -> tuple[Reading, ...]:
    flags = {
        "reaching": reaching,
        "other_surface": other_surface,
        "pinch_grip": pinch_grip,
        "palm_rest": palm_rest,
    }
    return (Reading("rosa.mouse", "mouse", flags=flags, duration=duration),)


def _keyboard(
    wrist_extension_deg: ArrayLike,
    deviated: ArrayLike = False,
    too_high: ArrayLike = False,
    overhead: ArrayLike = False,
    fixed: ArrayLike = False,
    duration: ArrayLike = 0,
) -> tuple[Reading, ...]:
    flags = {"deviated": deviated, "too_high": too_high, "overhead": overhead, "fixed": fixed}
    where, argument = "rosa.keyboard", "wrist_extension_deg"
    return (Reading(where, "keyboard", argument, wrist_extension_deg, flags=flags, duration=duration),)


def _duration(hours_a_day: ArrayLike, unbroken_minutes: ArrayLike) -> tuple[Reading, ...]:
    return (
        Reading("rosa.duration", "time_a_day", "hours_a_day", hours_a_day),
        Reading("rosa.duration", "time_unbroken", "unbroken_minutes", unbroken_minutes),
    )


DEVICE_READINGS: dict[str, Callable[..., tuple[Reading, ...]]] = {
    "monitor": _monitor,
    "telephone": _telephone,
    "mouse": _mouse,
    "keyboard": _keyboard,
    "duration": _duration,
}
"""What each item function reads, by its name; used to explain a score."""
