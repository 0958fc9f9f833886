"""A published score as a plug-in: what a method says of itself, the quantities and conditions it needs.

The methods print words where a plan needs figures. Every threshold here is the one the strain index uses, or
a judgement named at its constant.

Whatever shows or asks for scores goes through the registered methods: text, documents for programs, the
page, goals and a fund's limit. None of them knows a method by name.

A method scores *occasions*: each posture of a task for one, the whole seat for another. A task stands at its
worst occasion, a day at its worst task, and the less the better. `occasions` is written once and serves plain
numbers and whole grids alike, so a goal and a report cannot differ.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, update_wrapper
from math import prod
from typing import Any, Generic, TypeVar

import numpy as np

from deskmend.errors import DefectError
from deskmend.language import told_in
from deskmend.risk.ranges import NOT_SCORED, BoolArray, IntArray
from deskmend.risk.scores.items import Given
from deskmend.risk.severity import curves
from deskmend.workstation.graph import QUANTITIES, Array, Evaluation, Words, quantity

__all__ = [
    "ABDUCTED_OVER",
    "ARM_OUT_OVER",
    "BACK_LACK_WELL_SUPPORTED",
    "LOOSE_PAPER_UNDER",
    "NEUTRAL_DEG",
    "TWISTED_OVER",
    "Apply",
    "ItemCall",
    "ItemScore",
    "Occasion",
    "OccasionScore",
    "ScoreMethod",
    "is_yes",
    "item_call",
    "item_quantity",
    "item_rule",
    "occasion_scores",
    "register",
    "registered",
]

NEUTRAL_DEG = 5.0
"""Angle from neutral that still counts as neutral, at neck, wrist, back and hip [deg] (judgement).

The methods print no tolerance. Angles here are computed from lengths read to 10 or 20 mm: 20 mm at the desk
turn a forearm of 250 mm by 4.6 degrees. So half a degree must not count as bent."""
ABDUCTED_OVER = 20.0
"""Abduction from which the upper arm counts as away from the side [deg]: the range of ansi_hfes_100
(published); its use for RULA, which prints no figure, is a judgement."""
ARM_OUT_OVER = 100.0
"""Distance beside the shoulder from which the forearm works out to the side [mm] (judgement)."""
TWISTED_OVER = 10.0
"""Turn of neck or trunk from which it counts as twisted [deg]: iso_11226 (from memory); RULA prints none."""
BACK_LACK_WELL_SUPPORTED = 0.5
"""Lack of back support up to which the back counts as well supported [-] (judgement): a shaped back or a
tied roll, not a plain flat board."""
LOOSE_PAPER_UNDER = 10.0
"""Slope from which paper counts as held by a holder [deg] (judgement; 10 is the slope studied by
freudenthal_1991)."""


def is_yes(word: Words) -> BoolArray:
    """Where a field says yes; what is unknown does not."""
    return np.asarray(np.asarray(word) == "yes")


# --- arms ----------------------------------------------------------------------------------------


@quantity("-", name="arm_raised_flag", cut=True, hand=("keys", "mouse"))
def hands_raised(hand_gap: Array) -> BoolArray:
    """Shoulder raised: hands higher above the elbow than the strain index lets pass."""
    return np.asarray(hand_gap > curves()["hand_high"].zero_at)


@quantity("-", name="arm_raised_flag", cut=True, hand="writing")
def writing_raised(elbow_lift: Array) -> BoolArray:
    """Shoulder raised by a desk high above the elbow."""
    return np.asarray(elbow_lift > curves()["writing_high"].zero_at)


@quantity("-", cut=True)
def arm_abducted_flag(shoulder_abduction: Array) -> BoolArray:
    """Upper arm away from the side."""
    return np.asarray(shoulder_abduction > ABDUCTED_OVER)


@quantity("-", name="arm_out_flag", cut=True, hand=("keys", "mouse"))
def hands_out(outside_shoulder: Array) -> BoolArray:
    """Forearm out to the side."""
    return np.asarray(outside_shoulder > ARM_OUT_OVER)


@quantity("-", name="arm_out_flag", cut=True, hand="writing")
def writing_across(reach_sideways: Array) -> BoolArray:
    """Forearm across the midline, to paper on the other hand's side."""
    return np.asarray(reach_sideways > 0.0)


@quantity("-", name="reaching_flag", cut=True, hand="mouse")
def mouse_reaching(reach: Array, arm_out_flag: BoolArray) -> BoolArray:
    """The arm reaches for the mouse: to the side, or further than the strain index lets pass."""
    return np.asarray(arm_out_flag | (reach > curves()["reach"].zero_at))


# --- back and trunk ------------------------------------------------------------------------------


@quantity("-", cut=True)
def back_well_supported_flag(back_lack: Array, seat_back: Words) -> BoolArray:
    """There is a back to lean on, and it carries the small of the back."""
    return np.asarray((back_lack <= BACK_LACK_WELL_SUPPORTED) & (np.asarray(seat_back) != "none"))


@quantity("-", cut=True)
def hip_open_flag(hip_angle: Array) -> BoolArray:
    """Hip angle of 90 or more, within the neutral tolerance."""
    return np.asarray(hip_angle >= 90.0 - NEUTRAL_DEG)


@quantity("-", cut=True)
def leaning_forward_flag(trunk_inclination: Array) -> BoolArray:
    """Trunk off the backrest, leaning to what is looked at by more than the neutral tolerance."""
    return np.asarray(trunk_inclination > NEUTRAL_DEG)


@quantity("-", name="trunk_rests_flag", cut=True, mode="sit")
def trunk_rests_sitting(
    leaning_forward_flag: BoolArray, back_well_supported_flag: BoolArray, hip_open_flag: BoolArray
) -> BoolArray:
    """Seated, back well supported, hip angle 90 or more."""
    return ~leaning_forward_flag & back_well_supported_flag & hip_open_flag


@quantity("-", name="trunk_rests_flag", cut=True, mode="stand")
def trunk_rests_standing(person_shoes: Array) -> BoolArray:
    """Never: the score 1 is printed for seated work (a worksheet gives it to erect standing, from memory)."""
    return np.asarray(person_shoes < 0.0)


# --- legs, paper ---------------------------------------------------------------------------------


@quantity("-", cut=True)
def feet_hang_flag(leg_gap: Array) -> BoolArray:
    """Feet do not reach what they should rest on: as far as severity 1 of hanging feet."""
    return np.asarray(leg_gap >= curves()["leg_gap"].one_at)


@quantity("-", cut=True)
def legs_cramped_flag(clearance: Array) -> BoolArray:
    """Too little space under the desk: less than the strain index lets pass."""
    return np.asarray(clearance < curves()["clearance"].zero_at)


@quantity("-", cut=True)
def papers_loose_flag(look_paper: Array, paper_slope: Array, desk_tilt: Array) -> BoolArray:
    """Paper is looked at and lies without a holder."""
    return np.asarray((look_paper > 0) & (paper_slope + desk_tilt < LOOSE_PAPER_UNDER))


T = TypeVar("T")

Apply = Callable[[str, Callable[..., Any], list[T]], T]
"""Calls a function on values of any number type, under a label: plain numbers, or grids of exact tables."""

Rule = Callable[..., Given]
"""Gives an item what it looks at, of the quantities named by its parameters."""


# --- items as quantities -------------------------------------------------------------------------


class ItemRule:
    """A rule that can be called for points [-] and asked for the reason of them."""

    def __init__(self, rule: Rule) -> None:
        update_wrapper(self, rule)
        self.rule = rule

    def __call__(self, *values: Any) -> IntArray:
        """Points of the item [-]; `NOT_SCORED` where a value is outside the method's range."""
        return self.rule(*values).points()


item_rule = ItemRule
"""Decorator that makes a scoring function of a rule, without registering it."""


def item_quantity(name: str, **only: str | tuple[str, ...]) -> Callable[[Rule], ItemRule]:
    """Make a scoring function of a rule and register it as a quantity.

    Parameters
    ----------
    name : str
        Of the quantity, ending in ``_score``, which keeps it out of the list of measures.
    **only : str or tuple of str
        Roles that the rule is written for, with the case or cases.

    Returns
    -------
    callable
        Decorator. The parameter names of the rule are the quantities and fields that it needs.
    """

    def make(rule: Rule) -> ItemRule:
        made = ItemRule(rule)
        quantity("-", name=name, cut=True, asks=None, **only)(made)
        return made

    return make


@dataclass(frozen=True)
class ItemCall(Generic[T]):
    """An item's rule and the values it is called on, in any number type."""

    rule: ItemRule
    values: list[T]


def item_call(evaluation: Evaluation[T], name: str, **roles: str) -> ItemCall[T]:
    """Find an item registered by `item_quantity`, with the values of its parameters.

    Parameters
    ----------
    evaluation : Evaluation
        Of a task at a place.
    name : str
        Of the quantity, as ``rula_neck_score``.
    **roles : str
        Roles in which it is asked.
    """
    entry = QUANTITIES.find(name, roles)
    if not isinstance(entry.call, ItemRule):
        raise DefectError(f"{name} is no item of a score")
    return ItemCall(entry.call, evaluation.arguments(entry, roles))


@dataclass(frozen=True)
class ItemScore:
    """One item with its reason.

    Attributes
    ----------
    item : str
        Name of the item.
    score : int or None
        None where the state is outside the method's range [-].
    reason : str
        As ``neck 3: 24 degrees, band 20 or more``.
    """

    item: str
    score: int | None
    reason: str

    @classmethod
    def of(cls, call: ItemCall[Any]) -> ItemScore:
        """Score an item of plain numbers, the reason made from the very values that made the score."""
        return cls(*_told(call.rule, _Told(call.values), told_in()))


class _Told:
    """Values that an item is told of: equal where what is told is, whatever holds the numbers."""

    def __init__(self, values: Sequence[Any]) -> None:
        self.values = values
        self._key = tuple(np.asarray(value).item() for value in values)

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Told) and self._key == other._key


KEPT_REASONS = 2048
"""Reasons of items that are kept: in most plans most items score the same for the same reason."""


@lru_cache(maxsize=KEPT_REASONS)
def _told(rule: ItemRule, told: _Told, *_: object) -> tuple[str, int | None, str]:
    given = rule.rule(*told.values)
    return given.item.name, *given.reason()


# --- methods -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Occasion(Generic[T]):
    """What a method scores at once, in any number type.

    Attributes
    ----------
    label : str
        Apart from all others of the same task at the same place.
    roles : mapping of str to str
        What the hands do (``hand``), what is looked at (``target``), sitting or standing (``mode``), as far
        as the method tells them apart.
    times : tuple of (T, T)
        Parts of the task's time; the occasion counts where both are over 0, and their product is its share.
    score : T
        The score, `NOT_SCORED` where it cannot be given [-].
    items : callable
        Gives the items with their reasons, where the values are plain numbers.
    """

    label: str
    roles: Mapping[str, str]
    times: tuple[T, T]
    score: T
    items: Callable[[], Iterable[ItemScore]]


@dataclass(frozen=True)
class OccasionScore:
    """One occasion of a state, scored.

    Attributes
    ----------
    roles : mapping of str to str
        As in `Occasion`.
    share : float
        Part of the task's time [-].
    items : tuple of ItemScore
        With reasons.
    score : int or None
        None where an item could not be scored [-].
    parts : mapping of str to int
        Scores on the way, by the names of `ScoreMethod.parts` [-]; empty where there is no score.
    """

    roles: Mapping[str, str]
    share: float
    items: tuple[ItemScore, ...]
    score: int | None
    parts: Mapping[str, int]


def every_item(occasion: OccasionScore) -> tuple[ItemScore, ...]:
    """All items that have a score."""
    return tuple(item for item in occasion.items if item.score is not None)


@dataclass(frozen=True, kw_only=True)
class ScoreMethod:
    """A published score, where the less is the better.

    Attributes
    ----------
    name : str
        As goals, limits and documents name it, such as ``rula``.
    title : str
        As texts name it, such as ``RULA``.
    year : int
        Of its publication; methods are told in this order.
    low, high : int
        Least and greatest score [-].
    occasions : callable
        Gives the occasions of a task at a place that can have time, in a fixed order, calling functions of
        its own on values through the `Apply` that it is given.
    holding : callable
        Gives the items that keep the score of an occasion as high as it is.
    parts : tuple of str
        Names of the scores on the way, the last one among them, as documents show them.
    recount : callable, optional
        Makes these parts from the scores of the items once more, by the method's own function; a difference
        from `Occasion.score` is a defect.
    final : str
        Which of the parts is the score.
    several : bool
        Whether a task can have several occasions; documents then list them, with their roles and shares.
    details : str
        Key under which documents show the occasions of a task; ``NAME_parts`` if left out.
    worst : str
        What the score of a day is the score of, such as ``RULA, worst posture``. This and the further words
        are English and are translated where they are shown.
    mean : str
        Words for the mean over the time, where texts are to show it.
    actions : mapping of int to str
        What a score asks for, by the greatest score of each level, rising [-].
    action_from : int, optional
        Score from which the method calls for action, where it has no levels [-].
    caution : str
        What has to be known of the score wherever it is shown, as a sentence.
    not_for : str
        What is said of a task that has no occasion.
    """

    name: str
    title: str
    year: int
    low: int
    high: int
    occasions: Callable[[Evaluation[Any], Apply[Any]], Iterator[Occasion[Any]]]
    holding: Callable[[OccasionScore], Iterable[ItemScore]] = every_item
    parts: tuple[str, ...] = ()
    recount: Callable[[Mapping[str, int]], Mapping[str, int]] | None = None
    final: str = ""
    several: bool = True
    details: str = ""
    worst: str
    mean: str = ""
    actions: Mapping[int, str] = field(default_factory=dict)
    action_from: int | None = None
    caution: str = ""
    not_for: str = ""

    @property
    def words(self) -> tuple[str, ...]:
        """Everything it says that is to be translated."""
        return tuple(
            text
            for text in (self.worst, self.mean, *self.actions.values(), self.caution, self.not_for)
            if text
        )

    def action(self, score: int) -> str:
        """What a score asks for, in English; empty where the method has no levels."""
        return next((words for most, words in self.actions.items() if score <= most), "")


_REGISTERED: dict[str, ScoreMethod] = {}
KEPT_NAMES = ("strain", "tasks", "classes", "class_hours", "goals", "not_scored", "without_fixes")
"""Names that mean something else beside scores, on the command line or in documents."""


def register(method: ScoreMethod) -> ScoreMethod:
    """Make a score known everywhere.

    Parameters
    ----------
    method : ScoreMethod
        The method.

    Returns
    -------
    ScoreMethod
        The same.

    Raises
    ------
    ValueError
        Where the name is taken or no plain lower-case word, or the range is empty.
    """
    if not re.fullmatch(r"[a-z][a-z0-9]*", method.name) or method.name in (*KEPT_NAMES, *_REGISTERED):
        raise ValueError(f"score {method.name!r}: a lower-case word that nothing else is called by is needed")
    if not 0 <= method.low < method.high <= 1000:
        raise ValueError(f"score {method.name}: {method.low} to {method.high} is no range")
    _REGISTERED[method.name] = method
    return method


def registered() -> tuple[ScoreMethod, ...]:
    """Every method registered, in the order of publication."""
    return tuple(sorted(_REGISTERED.values(), key=lambda one: (one.year, one.name)))


def occasion_scores(method: ScoreMethod, evaluation: Evaluation[Any]) -> Iterator[OccasionScore]:
    """Score every occasion of a task, with reasons.

    Parameters
    ----------
    method : ScoreMethod
        By which score.
    evaluation : Evaluation
        Of the task, in plain numbers.

    Raises
    ------
    DefectError
        Where the items put together by the method's own function give another score.
    """
    for occasion in method.occasions(evaluation, plain_apply):
        score = None if (found := int(occasion.score)) == NOT_SCORED else found
        items = tuple(occasion.items())
        parts: Mapping[str, int] = {}
        if score is not None and method.recount is not None:
            parts = method.recount({item.item: item.score for item in items if item.score is not None})
            if parts[method.final] != score:
                raise DefectError(f"{method.name}: {score} by quantities, {parts[method.final]} by items")
        yield OccasionScore(occasion.roles, prod(map(float, occasion.times)), items, score, parts)


def plain_apply(_label: str, function: Callable[..., Any], arguments: list[Any]) -> Any:
    """Call a function on plain numbers."""
    return function(*arguments)
