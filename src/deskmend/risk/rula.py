"""RULA: the rapid upper limb assessment of McAtamney and Corlett (1993).

Source: McAtamney L. & Corlett E.N. (1993) Applied Ergonomics 24(2):91-99. Tables A, B and C and the bands
are confirmed at secondary sources; what is a judgement of ours is said at each function and in
``docs/methods.md``. One side of the body is scored at a time. Where two printed bands share an end and the
paper does not say which of them owns it, the end goes to the lower band. The items scored from measured
quantities are kept in `deskmend.risk.scores.rula_items` and offered here as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk.ranges import IntArray, checked_integer_arrays, checked_integers
from deskmend.risk.score_tables import score_table
from deskmend.risk.scores.rula_items import (
    FORCE_KINDS,
    explain,
    force,
    legs,
    lower_arm,
    muscle_use,
    neck,
    trunk,
    upper_arm,
    wrist,
)

__all__ = [
    "FORCE_KINDS",
    "LIMITS",
    "Score",
    "action_level",
    "explain",
    "force",
    "grand",
    "legs",
    "lower_arm",
    "muscle_use",
    "neck",
    "score",
    "table_a",
    "table_b",
    "table_c",
    "trunk",
    "upper_arm",
    "wrist",
]

LIMITS: dict[str, tuple[int, int]] = {
    "upper_arm": (1, 6),
    "lower_arm": (1, 3),
    "wrist": (1, 4),
    "wrist_twist": (1, 2),
    "arm_muscle_use": (0, 1),
    "arm_force": (0, 3),
    "neck": (1, 6),
    "trunk": (1, 6),
    "legs": (1, 2),
    "body_muscle_use": (0, 1),
    "body_force": (0, 3),
}
"""Least and greatest score of each argument of `score` [-]."""


@dataclass(frozen=True)
class Score:
    """Result of a RULA.

    Parameters
    ----------
    a, b
        Posture scores of arm and wrist, and of neck, trunk and legs, 1 to 9 [-].
    c, d
        The same with muscle use and force added, 1 to 13 [-].
    grand
        Grand score, 1 to 7 [-].
    action_level
        1 acceptable if not held or repeated for long; 2 look further, change may be needed; 3 look
        further and change soon; 4 look further and change now [-].
    """

    a: int
    b: int
    c: int
    d: int
    grand: int
    action_level: int


def table_a(upper_arm: ArrayLike, lower_arm: ArrayLike, wrist: ArrayLike, wrist_twist: ArrayLike) -> IntArray:
    """Look up posture score A of arm and wrist.

    Parameters
    ----------
    upper_arm, lower_arm, wrist, wrist_twist
        Item scores [-], 1-6, 1-3, 1-4, 1-2; they broadcast.

    Returns
    -------
    ndarray of int64
        Score A [-], 1 to 9.

    Raises
    ------
    OutOfRange
        Where any item score is not whole or out of range.

    Notes
    -----
    McAtamney & Corlett 1993, table 1; confirmed. An older worksheet prints other values for upper arm 1
    with lower arm 3 and for upper arm 2 to 4; a worked example (upper arm 2, lower arm 2, wrist 1, twist 1
    gives 3) bears out the values here against that sheet's 2.
    """
    given = {"upper_arm": upper_arm, "lower_arm": lower_arm, "wrist": wrist, "wrist_twist": wrist_twist}
    table = score_table("rula_table_a")
    return table.at(**checked_integer_arrays("rula.table_a", table.limits, given))


def table_b(neck: ArrayLike, trunk: ArrayLike, legs: ArrayLike) -> IntArray:
    """Look up posture score B of neck, trunk and legs.

    Parameters
    ----------
    neck, trunk, legs
        Item scores [-], 1-6, 1-6, 1-2; they broadcast.

    Returns
    -------
    ndarray of int64
        Score B [-], 1 to 9.

    Raises
    ------
    OutOfRange
        Where any item score is not whole or out of range.

    Notes
    -----
    McAtamney & Corlett 1993, table 2; confirmed.
    """
    table = score_table("rula_table_b")
    given = {"neck": neck, "trunk": trunk, "legs": legs}
    return table.at(**checked_integer_arrays("rula.table_b", table.limits, given))


def table_c(score_c: ArrayLike, score_d: ArrayLike) -> IntArray:
    """Look up the grand score from scores C and D.

    Parameters
    ----------
    score_c, score_d
        Scores of the arm side and the trunk side [-], 1 to 13; they broadcast.

    Returns
    -------
    ndarray of int64
        Grand score [-], 1 to 7.

    Raises
    ------
    OutOfRange
        Where a score is not whole or out of range.

    Notes
    -----
    McAtamney & Corlett 1993, figure 6; confirmed. Its last row is printed "8+" and its last column "7+":
    score C above 8 reads row 8 and score D above 7 reads column 7.
    """
    checked = checked_integer_arrays(
        "rula.table_c", {"score_c": (1, 13), "score_d": (1, 13)}, {"score_c": score_c, "score_d": score_d}
    )
    return _read_c(checked["score_c"], checked["score_d"])


def score(
    *,
    upper_arm: int,
    lower_arm: int,
    wrist: int,
    wrist_twist: int,
    arm_muscle_use: int = 0,
    arm_force: int = 0,
    neck: int,
    trunk: int,
    legs: int,
    body_muscle_use: int = 0,
    body_force: int = 0,
) -> Score:
    """Score one posture from its item scores.

    Parameters
    ----------
    upper_arm, lower_arm, wrist, wrist_twist
        Item scores of arm and wrist [-], 1-6, 1-3, 1-4, 1-2.
    arm_muscle_use, arm_force
        Added to score A [-], 0-1 and 0-3.
    neck, trunk, legs
        Item scores of neck, trunk and legs [-], 1-6, 1-6, 1-2.
    body_muscle_use, body_force
        Added to score B [-], 0-1 and 0-3.

    Returns
    -------
    Score
        Scores A to D, grand score and action level.

    Raises
    ------
    OutOfRange
        Where any argument is not a whole number or out of range; names every one.

    Notes
    -----
    McAtamney & Corlett 1993, stages 2 and 3; confirmed.
    """
    given: dict[str, object] = {
        "upper_arm": upper_arm,
        "lower_arm": lower_arm,
        "wrist": wrist,
        "wrist_twist": wrist_twist,
        "arm_muscle_use": arm_muscle_use,
        "arm_force": arm_force,
        "neck": neck,
        "trunk": trunk,
        "legs": legs,
        "body_muscle_use": body_muscle_use,
        "body_force": body_force,
    }
    parts = _parts({name: np.asarray(n) for name, n in checked_integers("rula.score", LIMITS, given).items()})
    a, b, c, d, total = (int(part) for part in parts)
    return Score(a, b, c, d, total, int(action_level(total)))


def grand(
    *,
    upper_arm: ArrayLike,
    lower_arm: ArrayLike,
    wrist: ArrayLike,
    wrist_twist: ArrayLike,
    arm_muscle_use: ArrayLike = 0,
    arm_force: ArrayLike = 0,
    neck: ArrayLike,
    trunk: ArrayLike,
    legs: ArrayLike,
    body_muscle_use: ArrayLike = 0,
    body_force: ArrayLike = 0,
) -> IntArray:
    """Compute the grand scores of many postures at once, from the same tables as `score`.

    Parameters
    ----------
    upper_arm, lower_arm, wrist, wrist_twist, arm_muscle_use, arm_force
        As for `score` [-]; integer arrays that broadcast against each other.
    neck, trunk, legs, body_muscle_use, body_force
        As for `score` [-]; integer arrays that broadcast against each other.

    Returns
    -------
    ndarray of int64
        Grand score [-], 1 to 7, of the broadcast shape; of no dimension where all is scalar.

    Raises
    ------
    OutOfRange
        Where any argument is not whole or out of range; names every one.
    """
    given: dict[str, object] = {
        "upper_arm": upper_arm,
        "lower_arm": lower_arm,
        "wrist": wrist,
        "wrist_twist": wrist_twist,
        "arm_muscle_use": arm_muscle_use,
        "arm_force": arm_force,
        "neck": neck,
        "trunk": trunk,
        "legs": legs,
        "body_muscle_use": body_muscle_use,
        "body_force": body_force,
    }
    return _parts(checked_integer_arrays("rula.grand", LIMITS, given))[-1]


def action_level(grand_score: ArrayLike) -> IntArray:
    """Look up the action level of a grand score.

    Parameters
    ----------
    grand_score
        Grand score [-], 1 to 7.

    Returns
    -------
    ndarray of int64
        1 for 1 and 2, 2 for 3 and 4, 3 for 5 and 6, 4 for 7 [-].

    Raises
    ------
    OutOfRange
        Where a grand score is not whole or out of range.

    Notes
    -----
    McAtamney & Corlett 1993, action list; confirmed.
    """
    limits = {"grand_score": (1, 7)}
    checked = checked_integer_arrays("rula.action_level", limits, {"grand_score": grand_score})
    return np.asarray((checked["grand_score"] + 1) // 2, dtype=np.int64)


def _parts(scores: dict[str, IntArray]) -> tuple[IntArray, IntArray, IntArray, IntArray, IntArray]:
    table_of_a, table_of_b = score_table("rula_table_a"), score_table("rula_table_b")
    a = table_of_a.at(**{name: scores[name] for name in table_of_a.limits})
    b = table_of_b.at(**{name: scores[name] for name in table_of_b.limits})
    c = np.asarray(a + scores["arm_muscle_use"] + scores["arm_force"], dtype=np.int64)
    d = np.asarray(b + scores["body_muscle_use"] + scores["body_force"], dtype=np.int64)
    return a, b, c, d, _read_c(c, d)


def _read_c(score_c: IntArray, score_d: IntArray) -> IntArray:
    table = score_table("rula_table_c")
    (_, c_last), (_, d_last) = table.limits["score_c"], table.limits["score_d"]
    return table.at(score_c=np.minimum(score_c, c_last), score_d=np.minimum(score_d, d_last))
