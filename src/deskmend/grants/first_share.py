"""A good way to share the fund from prices alone: everybody's best plan, then what the money left allows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from deskmend.grants.duals import Duals, fits, scores
from deskmend.grants.sharing import Shared, Task
from deskmend.grants.sheet import IntArray

__all__ = ["first_share", "losses"]

DEARER = (64, 66, 68, 72, 80, 96, 128, 256, 1024, 1 << 14)
"""Prices tried, in 64ths of the best ones, until everybody's best plans fit in."""
TRIES = 4000
"""Most changes tried with the money left."""


def losses(task: Task, duals: Duals) -> IntArray:
    """What each plan leaves less than the best of its person, times `Duals.unit`."""
    score = scores(task.sheet, task.aim, task.terms, duals)
    best, _ = task.sheet.best_of_each(score)
    return np.asarray(best[task.sheet.owner] - score, dtype=np.int64)


def first_share(task: Task, duals: Duals) -> Shared | None:
    """Share the fund by prices.

    Parameters
    ----------
    task : Task
        Sheet, aim and terms.
    duals : Duals
        Prices near the best ones.

    Returns
    -------
    Shared or None
        None where neither these nor the cheapest plans keep every limit.
    """
    sheet = task.sheet
    found: Shared | None = None
    value = task.aim.value(sheet)
    for dearer in DEARER:
        at = replace(
            duals, money=duals.money * dearer // 64, pots=tuple(pot * dearer // 64 for pot in duals.pots)
        )
        if not fits(sheet, task.aim, terms=task.terms, duals=at):
            break
        _, numbers = sheet.best_of_each(scores(sheet, task.aim, task.terms, at))
        found = task.check(numbers)
        if found is not None:
            break
    if found is None:
        found = task.check(sheet.start)
    if found is None:
        return None
    return _filled(task, found, losses(task, duals), value)


def _filled(task: Task, shared: Shared, loss: IntArray, value: IntArray) -> Shared:
    """Change one person's plan after the other for a better one while the limits allow it."""
    sheet, terms = task.sheet, task.terms
    numbers = shared.numbers.copy()
    better = np.flatnonzero(value > value[numbers][sheet.owner])
    order = better[np.lexsort((better, loss[better]))][:TRIES]
    tally = _Tally(task, numbers)
    for plan in order.tolist():
        person = int(sheet.owner[plan])
        if value[plan] > value[numbers[person]] and tally.try_change(int(numbers[person]), plan):
            numbers[person] = plan
    found = task.check(numbers)
    return shared if found is None or found.value < shared.value or found.spent > terms.fund else found


class _Tally:
    """Sums of a choice of plans, kept while single plans are changed."""

    def __init__(self, task: Task, numbers: IntArray) -> None:
        self.task = task
        sheet = task.sheet
        self.plain = int(sheet.plain[numbers].sum())
        self.packs = sheet.packs[numbers].sum(axis=0)
        self.guarded = bool(sheet.shares or task.side)
        self.numbers = numbers

    def try_change(self, old: int, new: int) -> bool:
        """Take one plan for another if every limit allows it."""
        sheet, terms = self.task.sheet, self.task.terms
        plain = self.plain + int(sheet.plain[new] - sheet.plain[old])
        if plain > terms.fund:
            return False
        packs = self.packs + sheet.packs[new] - sheet.packs[old]
        orders = self.task.orders_for(packs)
        if orders is None or plain + sum(order.cost for order in orders) > terms.fund:
            return False
        if self.guarded:
            trial = self.numbers.copy()
            trial[int(sheet.owner[new])] = new
            if self.task.check(trial) is None:
                return False
        self.plain, self.packs = plain, packs
        return True
