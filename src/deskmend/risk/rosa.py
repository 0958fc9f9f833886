"""ROSA: the rapid office strain assessment of Sonne, Villalta and Andrews (2012).

Source: Sonne M., Villalta D.L. & Andrews D.M. (2012) Applied Ergonomics 43(1):98-108. The bands of the items
and the ranges of all scores are confirmed; the chart of section A is from memory and mostly corroborated; the
charts of sections B and C, of monitor and peripherals and of the final score are from memory. The items
scored from measured quantities are kept in `rosa_chair` and `rosa_devices` and offered here as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk.ranges import IntArray, UnknownName, checked_integer_arrays, checked_integers
from deskmend.risk.score_tables import score_table
from deskmend.risk.scores.bands import item_book, told
from deskmend.risk.scores.rosa_items import CHAIR_READINGS as _CHAIR_READINGS
from deskmend.risk.scores.rosa_items import DEVICE_READINGS as _DEVICE_READINGS
from deskmend.risk.scores.rosa_items import (
    armrest,
    back_support,
    duration,
    keyboard,
    monitor,
    mouse,
    seat_depth,
    seat_height,
    telephone,
)

__all__ = [
    "ACTION_FROM",
    "LIMITS",
    "Score",
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


@dataclass(frozen=True)
class Score:
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
) -> Score:
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
    Score
        The sections and the final score.

    Raises
    ------
    OutOfRange
        Where any argument is not a whole number or out of range; names every one.

    Notes
    -----
    Sonne et al. 2012; see the tables for their status.
    """
    given: dict[str, object] = {
        "seat_height": seat_height,
        "seat_depth": seat_depth,
        "armrest": armrest,
        "back_support": back_support,
        "chair_duration": chair_duration,
        "monitor": monitor,
        "telephone": telephone,
        "mouse": mouse,
        "keyboard": keyboard,
    }
    checked = checked_integers("rosa.score", LIMITS, given)
    return Score(*(int(part) for part in _parts({name: np.asarray(n) for name, n in checked.items()})))


def final(
    *,
    seat_height: ArrayLike,
    seat_depth: ArrayLike,
    armrest: ArrayLike,
    back_support: ArrayLike,
    chair_duration: ArrayLike = 0,
    monitor: ArrayLike,
    telephone: ArrayLike,
    mouse: ArrayLike,
    keyboard: ArrayLike,
) -> IntArray:
    """Compute the final scores of many workstations at once, from the same tables as `score`.

    Parameters
    ----------
    seat_height, seat_depth, armrest, back_support, chair_duration
        As for `score` [-]; integer arrays that broadcast against each other.
    monitor, telephone, mouse, keyboard
        As for `score` [-]; integer arrays that broadcast against each other.

    Returns
    -------
    ndarray of int64
        Final score [-], 1 to 10, of the broadcast shape; of no dimension where all is scalar.

    Raises
    ------
    OutOfRange
        Where any argument is not whole or out of range; names every one.
    """
    given: dict[str, object] = {
        "seat_height": seat_height,
        "seat_depth": seat_depth,
        "armrest": armrest,
        "back_support": back_support,
        "chair_duration": chair_duration,
        "monitor": monitor,
        "telephone": telephone,
        "mouse": mouse,
        "keyboard": keyboard,
    }
    return _parts(checked_integer_arrays("rosa.final", LIMITS, given))[-1]


def explain(item: str, **arguments: Any) -> str:
    """Say in plain words why an item has its score.

    Parameters
    ----------
    item
        Name of an item function of this module, such as ``seat_height``.
    **arguments
        The arguments of that function, single values only.

    Returns
    -------
    str
        Such as ``seat depth 2: 20 mm behind the knee, band seat too long``.

    Raises
    ------
    UnknownName
        Where there is no such item.
    OutOfRange
        As the item's function, and where an argument is an array.
    """
    if item not in _READINGS:
        raise UnknownName("rosa.explain", "item", item, tuple(_READINGS))
    return told(item_book("rosa_items"), item, _READINGS[item](**arguments), _stronger)


_READINGS = {**_CHAIR_READINGS, **_DEVICE_READINGS}


def _stronger(scores: Iterable[int]) -> int:
    kept = tuple(scores)
    return max(kept) if max(kept) > 0 else min(kept)


def _look_up(letter: str, **places: ArrayLike) -> IntArray:
    table = score_table(f"rosa_table_{letter}")
    return table.at(**checked_integer_arrays(f"rosa.table_{letter}", table.limits, places))


def _parts(scores: dict[str, IntArray]) -> tuple[IntArray, IntArray, IntArray, IntArray, IntArray]:
    seat = scores["seat_height"] + scores["seat_depth"]
    arms_back = scores["armrest"] + scores["back_support"]
    before_duration = score_table("rosa_table_a").at(seat=seat, arms_back=arms_back)
    chair = np.asarray(before_duration + scores["chair_duration"], dtype=np.int64)
    section_b = score_table("rosa_table_b").at(telephone=scores["telephone"], monitor=scores["monitor"])
    section_c = score_table("rosa_table_c").at(mouse=scores["mouse"], keyboard=scores["keyboard"])
    both = score_table("rosa_table_d").at(monitor_telephone=section_b, mouse_keyboard=section_c)
    return chair, section_b, section_c, both, score_table("rosa_table_e").at(chair=chair, peripherals=both)
