"""Sharing a fund over a sheet that holds every plan which can matter."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.grants.dual_search import DualSearch
from deskmend.grants.duals import Duals, exact_total
from deskmend.grants.first_share import first_share, losses
from deskmend.grants.integer_master import Master
from deskmend.grants.market import Segment
from deskmend.grants.sharing import Shared, Task

__all__ = ["PROVEN_UP_TO", "Outcome", "improved", "share_sheet"]

Market = Mapping[str, Sequence[Segment]]

PROVEN_UP_TO = 40
"""People up to which answers are exact even where packs couple people."""
FEW_ROWS = 3
"""Further limits beyond which prices tell too little to be looked for before an exact answer."""
IN_DOUBT = 400
"""Plans that stand to choice in the integer program where there are more people."""
BRANCHES = 60
"""Most branches of the integer program there."""
PATIENCE = 20_000
"""Most branches of the integer program that should prove its answer."""
FINE = 20000
"""A share that misses the bound by one part in so many ends the search where there are many people."""


@dataclass(frozen=True)
class Outcome:
    """How a sheet was shared.

    Attributes
    ----------
    shared : Shared or None
        Best choice found.
    bound : int
        Value that none exceeds over the plans of the sheet.
    duals : Duals
        Prices that prove it or come close to it.
    total : int
        What these prices alone prove, times their unit.
    impossible : bool
        Whether no choice keeps every limit.
    """

    shared: Shared | None
    bound: int
    duals: Duals
    total: int
    impossible: bool = False


def share_sheet(
    task: Task,
    market: Market,
    deadline: float | None,
    exact: bool,
    known: Shared | None = None,
    start: DualSearch | None = None,
    cheapest: bool = True,
) -> Outcome:
    """Share the fund over the plans of a sheet.

    Parameters
    ----------
    task : Task
        Sheet, aim, terms.
    market : mapping of str to sequence of Segment
        Ways of ordering each coupling item that are open.
    deadline : float or None
        End of the time allowed, on the monotonic clock [s].
    exact : bool
        Go on until the answer is proven best and, among equals, cheapest.
    known : Shared or None
        A choice over the same sheet.
    start : DualSearch or None
        Prices to begin from.
    cheapest : bool
        Whether, among equals, money counts.
    """
    point = None if start is None or start.sheet.items != task.sheet.items else start.point
    if exact and len(task.aim.rows) > FEW_ROWS:
        duals = Duals(1, 0, (0,) * len(task.sheet.items), (), (0,) * len(task.aim.rows))
    else:
        _, duals = DualSearch(task.sheet, task.aim, task.terms, market, point).run()
    total = exact_total(task.sheet, task.aim, task.terms, duals, market)
    bound = total // duals.unit
    best = first_share(task, duals)
    if known is not None and (best is None or _order(known) > _order(best)):
        best = known
    if exact:
        return _proven(task, market, deadline, best, duals, total, cheapest)
    impossible = False
    if best is None or (bound - best.value) * FINE > bound:
        best, impossible = improved(task, market, deadline, best, duals)
    return Outcome(best, bound, duals, total, impossible)


def _order(shared: Shared) -> tuple[int, int]:
    return shared.value, -shared.spent


def _proven(
    task: Task,
    market: Market,
    deadline: float | None,
    best: Shared | None,
    duals: Duals,
    total: int,
    cheapest: bool,
) -> Outcome:
    """Leave out what prices prove too bad, and let the integer program prove the rest."""
    bound = total // duals.unit
    keep = np.ones(len(task.value), dtype=bool)
    if best is not None:
        keep = losses(task, duals) <= total - duals.unit * best.value
        keep[best.numbers] = True
    candidates = np.flatnonzero(keep)
    fixed = task.sheet.start.copy() if best is None else best.numbers
    master = Master(task, market, fixed, candidates)
    answer = master.most_value(deadline, nodes=PATIENCE, at_least=None if best is None else best.value)
    if answer.impossible:
        if best is None:
            return Outcome(None, 0, duals, total, True)
        return Outcome(best, best.value, duals, total)
    if answer.shared is not None and (best is None or _order(answer.shared) > _order(best)):
        best = answer.shared
    if answer.bound is not None:
        bound = min(bound, answer.bound)
    in_time = deadline is None or time.monotonic() < deadline
    if cheapest and best is not None and bound <= best.value and in_time:
        best = Master(task, market, fixed, candidates).least_money(best, deadline, PATIENCE)
    return Outcome(best, max(bound, 0 if best is None else best.value), duals, total)


def improved(
    task: Task, market: Market, deadline: float | None, best: Shared | None, duals: Duals
) -> tuple[Shared | None, bool]:
    """Let the integer program choose among the plans that prices leave in doubt.

    Gives the best share found, and whether it is proven that none keeps every limit.
    """
    loss = losses(task, duals)
    _, cheapest = task.sheet.best_of_each(-loss)
    fixed = cheapest if best is None else best.numbers
    in_doubt = IN_DOUBT
    while True:
        order = np.lexsort((np.arange(len(loss)), loss))
        others = order[~np.isin(order, fixed)][:in_doubt]
        owners = np.unique(task.sheet.owner[others])
        candidates = np.union1d(others, fixed[owners])
        master = Master(task, market, fixed, candidates)
        gap = 0 if best is None else best.value // FINE
        answer = master.most_value(
            deadline, gap=gap, nodes=BRANCHES, at_least=None if best is None else best.value
        )
        if answer.shared is not None and (best is None or answer.shared.value > best.value):
            best = answer.shared
        if best is not None or len(others) < in_doubt or not answer.impossible:
            return best, best is None and answer.impossible
        in_doubt *= 4
