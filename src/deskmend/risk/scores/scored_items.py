"""Item scores as quantities: one function scores a state and fills an exact table.

A rule turns quantities into the arguments of an item function of
:mod:`deskmend.risk.rula` or :mod:`deskmend.risk.rosa`. The decorator registers
the score and keeps the rule, so that the reason given for a score is made from
the very arguments that made the score.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from typing import Any, Generic, TypeVar

import numpy as np
import numpy.typing as npt

from deskmend.language import tr
from deskmend.risk import rosa, rula
from deskmend.risk.ranges import IntArray, OutOfRange
from deskmend.workstation.graph import QUANTITIES, Evaluation, quantity

__all__ = [
    "NEUTRAL_DEG",
    "NOT_SCORED",
    "Apply",
    "ItemCall",
    "composed",
    "item_call",
    "item_rule",
    "reason_of",
    "scored_item",
]

T = TypeVar("T")

NOT_SCORED = -9
"""Stands for a score where a quantity lies outside the method's range of use; never shown as a number."""

NEUTRAL_DEG = 5.0
"""Angle from neutral that still counts as neutral, at neck, wrist, back and hip [deg] (judgement).

The methods print no tolerance. Angles here are computed from lengths read to 10 or 20 mm: 20 mm at the desk
turn a forearm of 250 mm by 4.6 degrees. So half a degree must not count as bent."""

USED = "in_use"
"""Argument of a rule that says where the thing is used at all; where it is not, the item scores 0."""

Rule = Callable[..., Mapping[str, Any]]
Apply = Callable[[str, Callable[..., Any], list[T]], T]
"""Calls a function on values of any number type: plain numbers, or grids of exact tables."""


@dataclass(frozen=True)
class ItemCall(Generic[T]):
    """An item, the function that scores it, and what it was called on.

    Attributes
    ----------
    item : str
        Name of the item function, as ``neck``.
    function : callable
        Made by :func:`item_rule` or :func:`scored_item`.
    arguments : list
        Values of its parameters.
    """

    item: str
    function: Callable[..., Any]
    arguments: list[T]


def item_rule(method: str, item: str) -> Callable[[Rule], Callable[..., IntArray]]:
    """Make a scoring function of a rule, without registering it.

    Parameters
    ----------
    method : str
        ``rula`` or ``rosa``.
    item : str
        Name of an item function of that method.

    Returns
    -------
    callable
        Decorator. The decorated rule gives the arguments of the item function;
        the result gives its score [-], 0 where ``in_use`` is False, and
        `NOT_SCORED` where a value is outside the method's range.
    """
    function = getattr({"rula": rula, "rosa": rosa}[method], item)

    def make(rule: Rule) -> Callable[..., IntArray]:
        @wraps(rule)
        def score(*given: Any) -> IntArray:
            arguments = dict(rule(*given))
            used = arguments.pop(USED, True)
            return np.where(used, _where_defined(function, arguments), 0).astype(np.int64)

        score.item = (method, item)  # type: ignore[attr-defined]
        return score

    return make


def scored_item(method: str, item: str, **only: str) -> Callable[[Rule], Callable[..., IntArray]]:
    """Make a scoring function of a rule and register it as quantity ``METHOD_ITEM_score``.

    Parameters
    ----------
    method, item : str
        As for :func:`item_rule`.
    **only : str
        Roles that the rule is written for.
    """

    def register(rule: Rule) -> Callable[..., IntArray]:
        score = item_rule(method, item)(rule)
        quantity("-", name=f"{method}_{item}_score", cut=True, **only)(score)
        return score

    return register


def _where_defined(function: Callable[..., Any], arguments: Mapping[str, Any]) -> IntArray:
    try:
        return np.asarray(function(**arguments), dtype=np.int64)
    except OutOfRange:
        return _one_by_one(function, arguments)


def _one_by_one(function: Callable[..., Any], arguments: Mapping[str, Any]) -> IntArray:
    """Score every distinct combination for itself, so that one bad cell spoils no other."""
    columns = np.broadcast_arrays(*(np.asarray(a) for a in arguments.values()))
    shape = columns[0].shape
    # Infinity keys what is no number: unlike NaN it equals itself.
    keys = np.stack([np.where(np.isnan(c), np.inf, c).ravel() for c in (c.astype(float) for c in columns)])
    _, first, inverse = np.unique(keys, axis=1, return_index=True, return_inverse=True)
    out = np.full(first.size, NOT_SCORED, dtype=np.int64)
    for number, place in enumerate(first.tolist()):
        single = {name: c.ravel()[place] for name, c in zip(arguments, columns, strict=True)}
        try:
            out[number] = int(function(**single))
        except OutOfRange:
            continue
    return out[inverse.ravel()].reshape(shape)


def composed(function: Callable[..., npt.ArrayLike], **scores: Any) -> IntArray:
    """Look up a table where every score is known; `NOT_SCORED` where one is not.

    Parameters
    ----------
    function : callable
        A table of a method.
    **scores : ndarray
        Its arguments [-]; they broadcast.
    """
    known = np.asarray(True)
    for value in scores.values():
        known = known & (np.asarray(value) != NOT_SCORED)
    if not bool(np.any(known)):
        return np.full(known.shape, NOT_SCORED, dtype=np.int64)
    spread = np.broadcast_arrays(known, *(np.asarray(v) for v in scores.values()))
    place = np.unravel_index(int(np.argmax(spread[0])), spread[0].shape)
    filled = {
        name: np.where(spread[0], v, v[place]).astype(np.int64)
        for name, v in zip(scores, spread[1:], strict=True)
    }
    return np.where(spread[0], function(**filled), NOT_SCORED).astype(np.int64)


def item_call(evaluation: Evaluation[T], name: str, **roles: str) -> ItemCall[T]:
    """Find a registered item score with the values of its parameters.

    Parameters
    ----------
    evaluation : Evaluation
        Of a task at a place.
    name : str
        Registered name, as ``rula_neck_score``.
    **roles : str
        Roles in which it is asked.
    """
    entry = QUANTITIES.find(name, roles)
    item: str = entry.call.item[1]  # type: ignore[attr-defined]
    return ItemCall(item, entry.call, [evaluation(need, **roles) for need in entry.needs])


def reason_of(call: ItemCall[Any]) -> tuple[int | None, str]:
    """Score of one item of a state and the reason for it.

    Parameters
    ----------
    call : ItemCall
        On plain numbers.

    Returns
    -------
    score : int or None
        None where the state is outside the method's range.
    reason : str
        As ``neck 3: 24 degrees, band 20 or more``.
    """
    method, item = call.function.item  # type: ignore[attr-defined]
    arguments = dict(call.function.__wrapped__(*call.arguments))  # type: ignore[attr-defined]
    name = tr(item.replace("_", " "))
    if not bool(arguments.pop(USED, True)):
        return 0, tr("{item} 0: not used", item=name)
    try:
        text = {"rula": rula, "rosa": rosa}[method].explain(item, **arguments)
        return int(call.function(*call.arguments)), text
    except OutOfRange as fault:
        return None, tr("{item} not scored: {fault}", item=name, fault=fault)
