"""Items of ROSA that concern the devices and the time of use, scored from measured quantities.

See `deskmend.risk.rosa` for the source. Every function takes scalars or arrays that broadcast; bands, points
and their status stand in ``tables/rosa_items.csv``. ``fixed`` means not adjustable.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk.item_scores import Reading, item_book, points
from deskmend.risk.ranges import IntArray, checked_flags, checked_number_arrays


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


READINGS: dict[str, Callable[..., tuple[Reading, ...]]] = {
    "monitor": _monitor,
    "telephone": _telephone,
    "mouse": _mouse,
    "keyboard": _keyboard,
    "duration": _duration,
}
"""What each item function reads, by its name; used to explain a score."""
