"""Leaving the stock of owned pieces aside, and finding where an assignment overdraws it.

Pieces that cannot be bought (a book of one thickness, say) couple every decision that may use them. That is
seldom decisive: usually the best assignment without the limit keeps it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import replace

from deskmend.choice.problem import Item, Problem
from deskmend.choice.result import Choice


def without_stock(problem: Problem, strict: Collection[str]) -> Problem:
    """Give a problem without the limits of items that cannot be bought and several decisions may use.

    Parameters
    ----------
    problem : Problem
        Any problem.
    strict : collection of str
        Items whose limit is kept all the same.

    Returns
    -------
    Problem
        Such items are owned in any number; everything else is as it was.
    """
    most: Counter[str] = Counter()
    users: Counter[str] = Counter()
    for decision in problem.decisions:
        largest: Counter[str] = Counter()
        for option in decision.options:
            largest |= Counter(option.use)
        most += largest
        users.update(largest.keys())
    items = []
    for item in problem.items:
        if item.price is None and item.name not in strict and users[item.name] > 1:
            # no option may take more alone than there is, whatever the others take
            if not any(o.use.get(item.name, 0) > item.owned for d in problem.decisions for o in d.options):
                item = Item(item.name, None, item.pack, max(item.owned, most[item.name]))
        items.append(item)
    return replace(problem, items=items)


def overdrawn(problem: Problem, choice: Choice) -> frozenset[str]:
    """Name the items that cannot be bought and of which an assignment uses more than is owned.

    Parameters
    ----------
    problem : Problem
        With all its limits.
    choice : Choice
        With an assignment.
    """
    use: Counter[str] = Counter()
    for decision in problem.decisions:
        for option in decision.options:
            if option.name == choice.options[decision.name]:
                use.update(option.use)
    return frozenset(i.name for i in problem.items if i.price is None and use[i.name] > i.owned)
