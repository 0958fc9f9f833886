"""RULA: the rapid upper limb assessment of McAtamney and Corlett (1993).

Source: McAtamney L. & Corlett E.N. (1993) Applied Ergonomics 24(2):91-99. Tables A, B and C and the bands
are confirmed at secondary sources; what is a judgement of ours is said at each function and in
``docs/methods.md``. One side of the body is scored at a time. Where two printed bands share an end and the
paper does not say which of them owns it, the end goes to the lower band. Every item takes scalars or arrays
that broadcast; its bands, points and their status stand in ``tables/rula_items.csv``.
"""

from __future__ import annotations

import inspect
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from deskmend.risk.ranges import IntArray, UnknownName, checked_integer_arrays, checked_integers, score_table
from deskmend.risk.scores.items import Changes, ItemBook

__all__ = [
    "FORCE_KINDS",
    "LIMITS",
    "RulaScore",
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

ITEMS = ItemBook("rula")
explain = ITEMS.explain
"""Say in plain words why an item has its score."""

FORCE_KINDS = ("intermittent", "static_or_repeated", "shock")
"""Kinds of force that `force` knows."""

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


# --- items ---------------------------------------------------------------------------------------


@ITEMS.scored()
def upper_arm(
    flexion_deg: ArrayLike,
    raised: ArrayLike = False,
    abducted: ArrayLike = False,
    supported: ArrayLike = False,
) -> None:
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


@ITEMS.scored()
def lower_arm(elbow_flexion_deg: ArrayLike, out_or_across: ArrayLike = False) -> None:
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


@ITEMS.scored(extension_deg=(-180, 180, "degrees"), neutral_deg=(0, 14.999, "degrees"))
def wrist(extension_deg: ArrayLike, deviated: ArrayLike = False, neutral_deg: float = 0.0) -> Changes:
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
    bend = np.abs(extension_deg)
    return {"extension_deg": np.where(bend <= neutral_deg, 0.0, bend)}


@ITEMS.scored(neutral_deg=(0, 9.999, "degrees"))
def neck(
    flexion_deg: ArrayLike,
    twisted: ArrayLike = False,
    bent: ArrayLike = False,
    neutral_deg: float = 0.0,
) -> Changes:
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
    flexion = np.asarray(flexion_deg)
    upright = (flexion < 0) & (flexion >= -np.asarray(neutral_deg))
    return {"flexion_deg": np.where(upright, 0.0, flexion)}


@ITEMS.scored()
def trunk(
    flexion_deg: ArrayLike,
    supported: ArrayLike = False,
    twisted: ArrayLike = False,
    bent: ArrayLike = False,
) -> Changes:
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
    return {"supported": np.asarray(supported) & (np.asarray(flexion_deg) <= 20)}


@ITEMS.scored()
def legs(supported: ArrayLike) -> None:
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


@ITEMS.scored()
def muscle_use(minutes_static: ArrayLike, repeats_per_minute: ArrayLike) -> None:
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


def _force_rows(kg: ArrayLike, kind: str) -> str:
    if kind not in FORCE_KINDS:
        raise UnknownName("rula.force", "kind", str(kind), FORCE_KINDS)
    return f"force_{kind}"


@ITEMS.scored(rows=_force_rows)
def force(kg: ArrayLike, kind: str = "intermittent") -> None:
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


# --- tables --------------------------------------------------------------------------------------


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
    return score_table("rula_table_a").look_up(
        "rula.table_a", upper_arm=upper_arm, lower_arm=lower_arm, wrist=wrist, wrist_twist=wrist_twist
    )


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
    return score_table("rula_table_b").look_up("rula.table_b", neck=neck, trunk=trunk, legs=legs)


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
    limits = {"score_c": (1, 13), "score_d": (1, 13)}
    return _read_c(**checked_integer_arrays("rula.table_c", limits, {"score_c": score_c, "score_d": score_d}))


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


# --- score ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RulaScore:
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
) -> RulaScore:
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
    RulaScore
        Scores A to D, grand score and action level.

    Raises
    ------
    OutOfRange
        Where any argument is not a whole number or out of range; names every one.

    Notes
    -----
    McAtamney & Corlett 1993, stages 2 and 3; confirmed.

    Examples
    --------
    A solved exercise: parts picked up by hand, six times a minute.

    >>> found = score(upper_arm=2, lower_arm=2, wrist=1, wrist_twist=1, arm_muscle_use=1,
    ...               neck=1, trunk=1, legs=1, body_muscle_use=1)
    >>> found.a, found.c, found.d, found.grand, found.action_level
    (3, 4, 2, 3, 2)
    >>> score(upper_arm=2, lower_arm=2, wrist=1, wrist_twist=1, neck=7, trunk=1, legs=0)
    Traceback (most recent call last):
    deskmend.risk.ranges.OutOfRange: rula.score: neck read 7, allowed 1 to 6; legs read 0, allowed 1 to 2
    """
    given = checked_integers("rula.score", LIMITS, dict(locals()))
    a, b, c, d, total = (int(part) for part in _parts({name: np.asarray(n) for name, n in given.items()}))
    return RulaScore(a, b, c, d, total, int(action_level(total)))


def grand(**items: ArrayLike) -> IntArray:
    """Compute the grand scores of many postures at once, from the same tables as `score`.

    Parameters
    ----------
    **items
        The arguments of `score` [-]; integer arrays that broadcast against each other.

    Returns
    -------
    ndarray of int64
        Grand score [-], 1 to 7, of the broadcast shape; of no dimension where all is scalar.

    Raises
    ------
    OutOfRange
        Where any argument is not whole or out of range; names every one.
    """
    given = inspect.signature(score).bind(**items)
    given.apply_defaults()
    return _parts(checked_integer_arrays("rula.grand", LIMITS, given.arguments))[-1]


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
