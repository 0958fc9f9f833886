"""ROSA: the rapid office strain assessment of Sonne, Villalta and Andrews (2012).

Source: Sonne M., Villalta D.L. & Andrews D.M. (2012) Applied Ergonomics 43(1):98-108. The bands of the items
and the ranges of all scores are confirmed; the chart of section A is from memory and mostly corroborated; the
charts of sections B and C, of monitor and peripherals and of the final score are from memory. Every item
takes scalars or arrays that broadcast; its bands, points and their status stand in ``tables/rosa_items.csv``.
The method gives few figures: where it says "about" or "too high" the tolerance is a judgement of ours and
marked so there. ``fixed`` means not adjustable.
"""

from __future__ import annotations

import inspect
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk.ranges import IntArray, checked_integer_arrays, checked_integers, score_table
from deskmend.risk.scores.items import Changes, ItemBook

__all__ = [
    "ACTION_FROM",
    "LIMITS",
    "RosaScore",
    "armrest",
    "back_support",
    "duration",
    "explain",
    "final",
    "keyboard",
    "monitor",
    "mouse",
    "score",
    "seat_depth",
    "seat_height",
    "table_a",
    "table_b",
    "table_c",
    "table_d",
    "table_e",
    "telephone",
]

ITEMS = ItemBook("rosa")
explain = ITEMS.explain
"""Say in plain words why an item has its score."""

LIMITS: dict[str, tuple[int, int]] = {
    "seat_height": (1, 5),
    "seat_depth": (1, 3),
    "armrest": (1, 5),
    "back_support": (1, 4),
    "chair_duration": (-1, 1),
    "monitor": (0, 7),
    "telephone": (0, 6),
    "mouse": (0, 7),
    "keyboard": (0, 7),
}
"""Least and greatest value of each argument of `score` [-]; the ranges of de Barros et al. 2022."""

ACTION_FROM = 5
"""Final score from which the authors call for action [-]; confirmed (abstract of the paper).

Other readings: above 5 (slides of the first author), 6 (a Brazilian validation).
"""


# --- items ---------------------------------------------------------------------------------------


@ITEMS.scored()
def seat_height(
    knee_angle_deg: ArrayLike,
    foot_contact: ArrayLike = True,
    space_short: ArrayLike = False,
    fixed: ArrayLike = False,
) -> None:
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


@ITEMS.scored()
def seat_depth(clearance_mm: ArrayLike, fixed: ArrayLike = False) -> None:
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


@ITEMS.scored()
def armrest(
    height_gap_mm: ArrayLike,
    present: ArrayLike = True,
    hard: ArrayLike = False,
    wide: ArrayLike = False,
    fixed: ArrayLike = False,
) -> None:
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


@ITEMS.scored()
def back_support(
    back_angle_deg: ArrayLike,
    lumbar: ArrayLike = True,
    used: ArrayLike = True,
    surface_high: ArrayLike = False,
    fixed: ArrayLike = False,
) -> None:
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


@ITEMS.scored(distance_mm=(1, 5000, "mm"), twist_deg=(-180, 180, "degrees"))
def monitor(
    gaze_down_deg: ArrayLike,
    distance_mm: ArrayLike = 600,
    twist_deg: ArrayLike = 0,
    glare: ArrayLike = False,
    documents_loose: ArrayLike = False,
    duration: ArrayLike = 0,
) -> Changes:
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
    return {"far": np.asarray(distance_mm) > 750, "twisted": np.abs(twist_deg) > 30}


@ITEMS.scored()
def telephone(
    reach_mm: ArrayLike,
    neck_hold: ArrayLike = False,
    hands_free: ArrayLike = True,
    duration: ArrayLike = 0,
) -> None:
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


@ITEMS.scored()
def mouse(
    reaching: ArrayLike,
    other_surface: ArrayLike = False,
    pinch_grip: ArrayLike = False,
    palm_rest: ArrayLike = False,
    duration: ArrayLike = 0,
) -> None:
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


@ITEMS.scored()
def keyboard(
    wrist_extension_deg: ArrayLike,
    deviated: ArrayLike = False,
    too_high: ArrayLike = False,
    overhead: ArrayLike = False,
    fixed: ArrayLike = False,
    duration: ArrayLike = 0,
) -> None:
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


@ITEMS.scored()
def duration(hours_a_day: ArrayLike, unbroken_minutes: ArrayLike) -> None:
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


# --- tables --------------------------------------------------------------------------------------


def table_a(seat: ArrayLike, arms_back: ArrayLike) -> IntArray:
    """Look up section A, the chair, before duration.

    Parameters
    ----------
    seat
        Seat height + seat depth [-], 2 to 8.
    arms_back
        Armrest + back support [-], 2 to 9.

    Returns
    -------
    ndarray of int64
        Chair score [-], 2 to 9.

    Raises
    ------
    OutOfRange
        Where an argument is not whole or out of range.

    Notes
    -----
    Sonne et al. 2012, chart of section A; from memory. Slides of the first author differ in six cells
    (seat, arms_back: there): (2, 2: 1), (4, 7: 7), (5, 3: 5), (5, 7: 7), (6, 6: 5), (6, 7: 8). The slides'
    grid would fall as the back gets worse in row 5, so the values here are used.
    """
    return _look_up("a", seat=seat, arms_back=arms_back)


def table_b(telephone: ArrayLike, monitor: ArrayLike) -> IntArray:
    """Look up section B, monitor and telephone.

    Parameters
    ----------
    telephone, monitor
        Item scores after their own duration [-], 0 to 6 and 0 to 7.

    Returns
    -------
    ndarray of int64
        Score of the section [-], 1 to 9.

    Raises
    ------
    OutOfRange
        Where an argument is not whole or out of range.

    Notes
    -----
    Sonne et al. 2012, chart of section B; from memory, no second witness.
    """
    return _look_up("b", telephone=telephone, monitor=monitor)


def table_c(mouse: ArrayLike, keyboard: ArrayLike) -> IntArray:
    """Look up section C, mouse and keyboard.

    Parameters
    ----------
    mouse, keyboard
        Item scores after their own duration [-], 0 to 7.

    Returns
    -------
    ndarray of int64
        Score of the section [-], 1 to 9.

    Raises
    ------
    OutOfRange
        Where an argument is not whole or out of range.

    Notes
    -----
    Sonne et al. 2012, chart of section C; from memory, no second witness.
    """
    return _look_up("c", mouse=mouse, keyboard=keyboard)


def table_d(monitor_telephone: ArrayLike, mouse_keyboard: ArrayLike) -> IntArray:
    """Look up monitor and peripherals.

    Parameters
    ----------
    monitor_telephone, mouse_keyboard
        Scores of sections B and C [-], 1 to 9.

    Returns
    -------
    ndarray of int64
        The greater of the two [-], 1 to 9.

    Raises
    ------
    OutOfRange
        Where an argument is not whole or out of range.

    Notes
    -----
    Sonne et al. 2012, chart of monitor and peripherals; from memory. A thesis that cites the paper says the
    chart reaches 10; with sections that end at 9 the greater of the two cannot.
    """
    return _look_up("d", monitor_telephone=monitor_telephone, mouse_keyboard=mouse_keyboard)


def table_e(chair: ArrayLike, peripherals: ArrayLike) -> IntArray:
    """Look up the final score.

    Parameters
    ----------
    chair
        Chair score after duration [-], 1 to 10.
    peripherals
        Monitor and peripherals [-], 1 to 10.

    Returns
    -------
    ndarray of int64
        The greater of the two [-], 1 to 10.

    Raises
    ------
    OutOfRange
        Where an argument is not whole or out of range.

    Notes
    -----
    Sonne et al. 2012, chart of the final score; from memory.
    """
    return _look_up("e", chair=chair, peripherals=peripherals)


def _look_up(letter: str, **places: ArrayLike) -> IntArray:
    return score_table(f"rosa_table_{letter}").look_up(f"rosa.table_{letter}", **places)


# --- score ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RosaScore:
    """Result of a ROSA.

    Parameters
    ----------
    chair
        Section A with the duration added, 1 to 10 [-].
    monitor_telephone, mouse_keyboard
        Sections B and C, 1 to 9 [-].
    peripherals
        Monitor and peripherals, 1 to 9 [-].
    final
        Final score, 1 to 10 [-].
    """

    chair: int
    monitor_telephone: int
    mouse_keyboard: int
    peripherals: int
    final: int


def score(
    *,
    seat_height: int,
    seat_depth: int,
    armrest: int,
    back_support: int,
    chair_duration: int = 0,
    monitor: int,
    telephone: int,
    mouse: int,
    keyboard: int,
) -> RosaScore:
    """Score one workstation from its part scores.

    Parameters
    ----------
    seat_height, seat_depth, armrest, back_support
        Part scores of the chair [-], 1-5, 1-3, 1-5, 1-4.
    chair_duration
        Added after table A [-], -1, 0 or 1.
    monitor, telephone, mouse, keyboard
        Part scores after their own duration [-], 0-7, 0-6, 0-7, 0-7.

    Returns
    -------
    RosaScore
        The sections and the final score.

    Raises
    ------
    OutOfRange
        Where any argument is not a whole number or out of range; names every one.

    Notes
    -----
    Sonne et al. 2012; see the tables for their status.

    Examples
    --------
    A hard chair that cannot be set, and a laptop on the bare desk.

    >>> found = score(seat_height=3, seat_depth=2, armrest=2, back_support=3, chair_duration=1,
    ...               monitor=3, telephone=0, mouse=4, keyboard=3)
    >>> found.chair, found.monitor_telephone, found.mouse_keyboard, found.peripherals, found.final
    (5, 2, 5, 5, 5)
    """
    given = checked_integers("rosa.score", LIMITS, dict(locals()))
    return RosaScore(*(int(part) for part in _parts({name: np.asarray(n) for name, n in given.items()})))


def final(**items: ArrayLike) -> IntArray:
    """Compute the final scores of many workstations at once, from the same tables as `score`.

    Parameters
    ----------
    **items
        The arguments of `score` [-]; integer arrays that broadcast against each other.

    Returns
    -------
    ndarray of int64
        Final score [-], 1 to 10, of the broadcast shape; of no dimension where all is scalar.

    Raises
    ------
    OutOfRange
        Where any argument is not whole or out of range; names every one.
    """
    given = inspect.signature(score).bind(**items)
    given.apply_defaults()
    return _parts(checked_integer_arrays("rosa.final", LIMITS, given.arguments))[-1]


def _parts(scores: dict[str, IntArray]) -> tuple[IntArray, IntArray, IntArray, IntArray, IntArray]:
    seat = scores["seat_height"] + scores["seat_depth"]
    arms_back = scores["armrest"] + scores["back_support"]
    before_duration = score_table("rosa_table_a").at(seat=seat, arms_back=arms_back)
    chair = np.asarray(before_duration + scores["chair_duration"], dtype=np.int64)
    section_b = score_table("rosa_table_b").at(telephone=scores["telephone"], monitor=scores["monitor"])
    section_c = score_table("rosa_table_c").at(mouse=scores["mouse"], keyboard=scores["keyboard"])
    both = score_table("rosa_table_d").at(monitor_telephone=section_b, mouse_keyboard=section_c)
    return chair, section_b, section_c, both, score_table("rosa_table_e").at(chair=chair, peripherals=both)
