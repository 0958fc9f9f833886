"""Dropping options that no limit of money or minutes would ever let through, whatever else is taken."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from deskmend.choice.evaluate import packs_for
from deskmend.choice.problem import Item, Mask, Option, Problem

Items = dict[str, Item]


def affordable(problem: Problem) -> Problem:
    """Forbid each option that alone costs or takes more than the limits allow.

    Parameters
    ----------
    problem : Problem
        Any problem.

    Returns
    -------
    Problem
        With the same assignments allowed: the cost of an item never falls as more of it is used, so an
        option too dear alone is too dear in any company.
    """
    items = {item.name: item for item in problem.items}
    masks = []
    for decision in problem.decisions:
        good = np.array([_fits(option, items, problem) for option in decision.options])
        if not good.all():
            masks.append(Mask((decision.name,), good))
    return replace(problem, masks=(*problem.masks, *masks)) if masks else problem


def _fits(option: Option, items: Items, problem: Problem) -> bool:
    if problem.minutes is not None and option.minutes > problem.minutes:
        return False
    if problem.money is None:
        return True
    cost = 0
    for name, units in option.use.items():
        bought = packs_for(items[name], units)
        if bought is None:
            return False
        cost += bought[1]
    return cost <= problem.money
