"""The stock of owned pieces: a problem without it, parted where it is broken, narrowed and searched with it.

Pieces that cannot be bought (a book of one thickness, say) couple every decision that may use them, and that
is seldom decisive.  What is best without a limit and keeps the limit is best with it; only an assignment that
overdraws the stock parts the problem, or has it searched with its stock.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from functools import reduce

import numpy as np

from deskmend.choice.problem import BoolArray, Decision, Item, Mask, Option, Problem, most_used
from deskmend.choice.result import Choice, Scored, evaluate


def without_stock(problem: Problem) -> Problem:
    """Let there be any number of items that cannot be bought and that several decisions may use."""
    most = most_used(problem)
    users = Counter(name for decision in problem.decisions for name in _used(decision))
    options = [option for decision in problem.decisions for option in decision.options]
    items = []
    for item in problem.items:
        if item.price is None and users[item.name] > 1:
            # No option may take more alone than there is, whatever the others take.
            if not any(option.use.get(item.name, 0) > item.owned for option in options):
                item = Item(item.name, None, item.pack, max(item.owned, most[item.name]))
        items.append(item)
    return replace(problem, items=items)


def repaired(problem: Problem, choice: Choice) -> Scored | None:
    """Find an assignment that keeps to all limits near one that overdraws the stock; None where none is met.

    One decision after the other takes less of what is overdrawn, each time where least value is lost.
    """
    options = dict(choice.options)
    for _ in problem.decisions:
        guilty = _overdrawing(problem, options)
        if not guilty:
            break
        better = [
            evaluate(problem, options | {decision.name: option.name})
            for decision in guilty
            for option in _taking_less(problem, decision, options[decision.name])
        ]
        if not better:
            return None
        options = dict(min(better, key=lambda one: (len(one.violations), one.value)).options)
    scored = evaluate(problem, options)
    return None if scored.violations else scored


def _taking_less(problem: Problem, decision: Decision, name: str) -> list[Option]:
    """Options of a decision that take less than one of it of what cannot be bought, and no more of any."""
    now = decision.options[problem.state_of(decision.name, name)].use
    owned = [item.name for item in problem.items if item.price is None]
    out = []
    for option in decision.options:
        change = [option.use.get(item, 0) - now.get(item, 0) for item in owned]
        if min(change) < 0 and max(change) <= 0:
            out.append(option)
    return out


def split(problem: Problem, relaxed: Problem, choice: Choice) -> list[Problem]:
    """Part a relaxed problem where its best assignment uses more pieces than are owned.

    Together the parts allow what `relaxed` does but for this overdraft and others of the same decisions.
    Empty where the assignment keeps to what is owned.
    """
    guilty = _overdrawing(problem, choice.options)
    if not guilty:
        return []
    joint = _within_owned(problem, guilty)
    if len(guilty) > 2:
        return [with_masks(relaxed, joint)]
    # Either the other takes none of what both want, or it does and the one takes none, or both take some.
    one, other = guilty
    contested = {item.name for item in problem.items if item.price is None}
    contested &= _used(one) & _used(other)
    takes_one, takes_other = _takers(one, contested), _takers(other, contested)
    parts = [
        with_masks(relaxed, Mask((other.name,), np.logical_not(takes_other))),
        with_masks(relaxed, Mask((other.name,), takes_other), Mask((one.name,), np.logical_not(takes_one))),
    ]
    together = joint.allowed & np.outer(takes_one, takes_other)
    if together.any():
        # Few pieces go round twice, so what is left of both is small.
        alone = [
            Mask((decision.name,), np.array([row.any() for row in rows]))
            for decision, rows in ((one, together), (other, together.T))
        ]
        parts.append(with_masks(relaxed, *alone, Mask(joint.scope, together)))
    return parts


def _overdrawing(problem: Problem, options: Mapping[str, str]) -> list[Decision]:
    """As few decisions as overdraw some item together, by name; empty where none do."""
    taken = [
        decision.options[problem.state_of(decision.name, options[decision.name])].use
        for decision in problem.decisions
    ]
    for item in problem.items:
        if item.price is not None:
            continue
        uses = [(use.get(item.name, 0), d) for use, d in zip(taken, problem.decisions, strict=True)]
        uses.sort(key=lambda entry: (-entry[0], entry[1].name))
        total, count = 0, 0
        while total <= item.owned and count < len(uses):
            total += uses[count][0]
            count += 1
        if total > item.owned:
            return sorted((decision for _, decision in uses[:count]), key=lambda decision: decision.name)
    return []


def with_masks(problem: Problem, *masks: Mask) -> Problem:
    """The same problem with further masks."""
    return replace(problem, masks=(*problem.masks, *masks))


def _used(decision: Decision) -> set[str]:
    return {name for option in decision.options for name, units in option.use.items() if units}


def _takers(decision: Decision, items: set[str]) -> BoolArray:
    """Options of a decision that take any of some items."""
    return np.array([any(option.use.get(name, 0) for name in items) for option in decision.options])


def _within_owned(problem: Problem, guilty: list[Decision]) -> Mask:
    """Combinations of some decisions that together keep to what is owned."""
    allowed = np.ones([len(decision.options) for decision in guilty], dtype=np.bool_)
    for item in problem.items:
        if item.price is None:
            uses = [np.array([o.use.get(item.name, 0) for o in decision.options]) for decision in guilty]
            allowed &= np.asarray(reduce(np.add.outer, uses) <= item.owned)
    return Mask(tuple(decision.name for decision in guilty), allowed)
