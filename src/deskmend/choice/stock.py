"""Leaving the stock of owned pieces aside, and finding where an assignment overdraws it.

Pieces that cannot be bought (a book of one thickness, say) couple every decision that may use them. That is
seldom decisive: usually the best assignment without the limit keeps it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import reduce

import numpy as np

from deskmend.choice.problem import Decision, Item, Mask, Problem
from deskmend.choice.result import Choice
from deskmend.choice.validation import BoolArray


def most_used(problem: Problem) -> Counter[str]:
    """Add up the most of each item that the decisions could use together.

    Parameters
    ----------
    problem : Problem
        Any problem; its rules are not looked at.

    Returns
    -------
    Counter
        Units by item; items that nothing uses are left out.
    """
    most: Counter[str] = Counter()
    for decision in problem.decisions:
        largest: Counter[str] = Counter()
        for option in decision.options:
            largest |= Counter(option.use)
        most += largest
    return most


def without_stock(problem: Problem) -> Problem:
    """Give a problem without the limits of items that cannot be bought and several decisions may use.

    Parameters
    ----------
    problem : Problem
        Any problem.

    Returns
    -------
    Problem
        Such items are owned in any number; everything else is as it was.
    """
    most = most_used(problem)
    users = Counter(name for decision in problem.decisions for name in _used(decision))
    items = []
    for item in problem.items:
        if item.price is None and users[item.name] > 1:
            # no option may take more alone than there is, whatever the others take
            if not any(o.use.get(item.name, 0) > item.owned for d in problem.decisions for o in d.options):
                item = Item(item.name, None, item.pack, max(item.owned, most[item.name]))
        items.append(item)
    return replace(problem, items=items)


def split(problem: Problem, relaxed: Problem, choice: Choice) -> list[Problem]:
    """Part a relaxed problem where its best assignment uses more pieces than are owned.

    Parameters
    ----------
    problem : Problem
        With all its limits.
    relaxed : Problem
        The same with some of them left aside.
    choice : Choice
        An assignment of it.

    Returns
    -------
    list of Problem
        Together they allow what `relaxed` does but for this overdraft and others of the same decisions.
        Empty where the assignment keeps to what is owned.
    """
    guilty = _overdrawing(problem, choice)
    if not guilty:
        return []
    joint = _mask(problem, guilty)
    if len(guilty) > 2:
        return [_with_masks(relaxed, joint)]
    one, other = guilty
    contested = {item.name for item in problem.items if item.price is None}
    contested &= _used(one) & _used(other)
    takes_one, takes_other = _takers(one, contested), _takers(other, contested)
    parts = [
        _with_masks(relaxed, Mask((other.name,), np.logical_not(takes_other))),
        _with_masks(relaxed, Mask((other.name,), takes_other), Mask((one.name,), np.logical_not(takes_one))),
    ]
    together = joint.allowed & np.outer(takes_one, takes_other)
    if together.any():
        # few pieces go round twice, so what is left of both is small
        alone = [
            Mask((decision.name,), np.array([row.any() for row in rows]))
            for decision, rows in ((one, together), (other, together.T))
        ]
        parts.append(_with_masks(relaxed, *alone, Mask(joint.scope, together)))
    return parts


def _overdrawing(problem: Problem, choice: Choice) -> list[Decision]:
    """As few decisions as overdraw some item together, by name; empty where none do."""
    for item in problem.items:
        if item.price is not None:
            continue
        uses = [(_taken(decision, choice).get(item.name, 0), decision) for decision in problem.decisions]
        uses.sort(key=lambda entry: (-entry[0], entry[1].name))
        total, count = 0, 0
        while total <= item.owned and count < len(uses):
            total += uses[count][0]
            count += 1
        if total > item.owned:
            return sorted((decision for _, decision in uses[:count]), key=lambda decision: decision.name)
    return []


def _with_masks(problem: Problem, *masks: Mask) -> Problem:
    return replace(problem, masks=(*problem.masks, *masks))


def _used(decision: Decision) -> set[str]:
    return {name for option in decision.options for name, units in option.use.items() if units}


def _takers(decision: Decision, items: set[str]) -> BoolArray:
    """Options of a decision that take any of some items."""
    return np.array([any(option.use.get(name, 0) for name in items) for option in decision.options])


def _taken(decision: Decision, choice: Choice) -> dict[str, int]:
    name = choice.options[decision.name]
    return dict(next(option.use for option in decision.options if option.name == name))


def _mask(problem: Problem, guilty: list[Decision]) -> Mask:
    """Combinations of some decisions that together keep to what is owned."""
    allowed = np.ones([len(decision.options) for decision in guilty], dtype=np.bool_)
    for item in problem.items:
        if item.price is None:
            uses = [np.array([o.use.get(item.name, 0) for o in decision.options]) for decision in guilty]
            allowed &= np.asarray(reduce(np.add.outer, uses) <= item.owned)
    return Mask(tuple(decision.name for decision in guilty), allowed)
