"""Sharing a fund over a sheet that holds every plan which can matter.

The integer program over the plans known: who gets which, what is ordered at which tier.

Given few candidates it takes all of them and proves its answer; given many people it takes those plans that
prices leave in doubt and holds the rest fixed.

A good way to share the fund from prices alone: everybody's best plan, then what the money left allows.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from deskmend.choice.program.solver import Backend, LinearModel, Outcome
from deskmend.grants.engine.arrays import IntArray
from deskmend.grants.engine.price_search import DualSearch
from deskmend.grants.engine.prices import Duals, Segment, Shared, Task, exact_total, fits, kept_parts, scores

__all__ = [
    "PROVEN_UP_TO",
    "Answer",
    "Completed",
    "Master",
    "first_share",
    "improved",
    "losses",
    "share_sheet",
]


@dataclass(frozen=True)
class Answer:
    """What the integer program found.

    Attributes
    ----------
    shared : Shared or None
        Best choice found, checked in whole numbers.
    bound : int or None
        Greatest value possible over the candidates; None where nothing is proven.
    impossible : bool
        Whether it is proven that no choice keeps every limit.
    """

    shared: Shared | None
    bound: int | None
    impossible: bool = False


class Master:
    """An integer program over candidates.

    Parameters
    ----------
    task : Task
        Sheet, aim and terms.
    market : mapping of str to sequence of Segment
        Ways of ordering each coupling item that are open.
    fixed : integer array
        Plan of each person without candidates.
    candidates : integer array
        Plans to choose from, sorted; people with any of them take one of them.
    """

    def __init__(
        self,
        task: Task,
        market: Mapping[str, Sequence[Segment]],
        fixed: IntArray,
        candidates: IntArray,
    ) -> None:
        self.task = task
        self.fixed = fixed
        self.candidates = candidates
        sheet = task.sheet
        self.owners = np.unique(sheet.owner[candidates])
        rest = np.setdiff1d(np.arange(len(sheet.people)), self.owners)
        self.base = fixed[rest]
        self.model = LinearModel()
        self.chosen = {int(number): self.model.column(f"plan[{number}]", 1, True) for number in candidates}
        self.money: dict[int, int] = self._terms(sheet.plain)
        self._people()
        self._market(market)
        left = task.terms.fund - int(sheet.plain[self.base].sum())
        self.model.row("fund", self.money, "<=", left)
        self._shares()
        for number, (use, right) in enumerate(task.side):
            self.model.row(f"side[{number}]", self._terms(use), "<=", right - int(use[self.base].sum()))

    def _terms(self, numbers: IntArray) -> dict[int, int]:
        return {column: int(numbers[plan]) for plan, column in self.chosen.items() if numbers[plan]}

    def _people(self) -> None:
        plans: dict[int, dict[int, int]] = {}
        for plan, column in self.chosen.items():
            plans.setdefault(int(self.task.sheet.owner[plan]), {})[column] = 1
        for person, terms in plans.items():
            self.model.row(f"person[{person}]", terms, "=", 1)

    def _market(self, market: Mapping[str, Sequence[Segment]]) -> None:
        sheet = self.task.sheet
        most = sheet.most_packs()
        for number, item in enumerate(sheet.items):
            need = self._terms(sheet.packs[:, number])
            one_of: dict[int, int] = {}
            for place, way in enumerate(market[item]):
                if way.high == 0:
                    continue
                high = max(way.low, min(way.high, int(most[number])))
                taken = self.model.column(f"tier[{item},{place}]", 1, True)
                packs = self.model.column(f"packs[{item},{place}]", high, True)
                self.model.row(f"most[{item},{place}]", {packs: 1, taken: -high}, "<=", 0)
                self.model.row(f"least[{item},{place}]", {packs: -1, taken: way.low}, "<=", 0)
                one_of[taken] = 1
                need[packs] = -1
                if way.price:
                    self.money[packs] = way.price
            if one_of:
                self.model.row(f"tier[{item}]", one_of, "<=", 1)
            self.model.row(f"need[{item}]", need, "<=", -int(sheet.packs[self.base, number].sum()))

    def _shares(self) -> None:
        sheet = self.task.sheet
        if not sheet.shares:
            return
        common, kept = kept_parts(self.task.terms)
        from_common: dict[int, int] = {}
        for pot, part in enumerate((common, *kept)):
            terms = self._terms(np.where(sheet.pot == pot, sheet.listed, 0))
            used = int(sheet.listed[self.base][sheet.pot[self.base] == pot].sum())
            if pot == 0:
                from_common = terms
                common -= used
            else:
                beyond = self.model.column(f"beyond[{pot}]", self.task.terms.fund, False)
                self.model.row(f"share[{pot}]", {**terms, beyond: -1}, "<=", part - used)
                from_common[beyond] = 1
        self.model.row("common", from_common, "<=", common)

    def most_value(
        self, deadline: float | None, gap: int = 0, nodes: int | None = None, at_least: int | None = None
    ) -> Answer:
        """Maximise the value.

        Parameters
        ----------
        deadline : float or None
            End of the time allowed, on the monotonic clock [s].
        gap : int
            Value by which the answer may fall short; 0 proves it.
        nodes : int or None
            Most branches tried.
        at_least : int or None
            Value of a choice already known; worse ones are not looked for.
        """
        value = self.task.value
        best = np.zeros(len(self.task.sheet.people), dtype=np.int64)
        np.maximum.at(best, self.task.sheet.owner[self.candidates], value[self.candidates])
        loss = {
            column: int(best[self.task.sheet.owner[plan]] - value[plan])
            for plan, column in self.chosen.items()
        }
        unit = math.gcd(*loss.values()) or 1
        objective = {column: amount // unit for column, amount in loss.items() if amount}
        top = int(best[self.owners].sum()) + int(value[self.base].sum())
        if at_least is not None:
            self.model.row("known", objective, "<=", (top - at_least) // unit + 1)
        outcome = Backend(self.model).minimise(objective, _left(deadline), max(0.5, gap / unit), nodes)
        return self._answer(outcome, top, unit)

    def _answer(self, outcome: Outcome, top: int, unit: int) -> Answer:
        if outcome.outlook == "infeasible":
            return Answer(None, None, True)
        shared = None if outcome.values is None else self._read(outcome.values)
        bound = None
        if outcome.outlook == "optimal" and outcome.bound is not None and shared is not None:
            # losses are whole units: a quarter of one is room enough for the solver's tolerance
            bound = max(shared.value, top - unit * math.ceil(outcome.bound - 0.25))
        return Answer(shared, bound)

    def least_money(self, shared: Shared, deadline: float | None, nodes: int | None = None) -> Shared:
        """Find the cheapest choice of the same value; the given one where none is cheaper."""
        value = self.task.value
        terms = {column: -int(value[plan]) for plan, column in self.chosen.items() if value[plan]}
        unit = math.gcd(*terms.values()) or 1
        right = int(value[self.base].sum()) - shared.value
        self.model.row("worth", {column: one // unit for column, one in terms.items()}, "<=", right // unit)
        outcome = Backend(self.model).minimise(self.money, _left(deadline), nodes=nodes)
        found = None if outcome.values is None else self._read(outcome.values)
        if found is None or found.value < shared.value or found.spent >= shared.spent:
            return shared
        return found

    def _read(self, values: Sequence[float]) -> Shared | None:
        numbers = self.fixed.copy()
        taken = [plan for plan, column in self.chosen.items() if values[column] > 0.5]
        numbers[self.task.sheet.owner[taken]] = taken
        return self.task.check(numbers) if len(taken) == len(self.owners) else None


def _left(deadline: float | None) -> float | None:
    return None if deadline is None else max(0.0, deadline - time.monotonic())


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
class Completed:
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
) -> Completed:
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
    return Completed(best, bound, duals, total, impossible)


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
) -> Completed:
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
            return Completed(None, 0, duals, total, True)
        return Completed(best, best.value, duals, total)
    if answer.shared is not None and (best is None or _order(answer.shared) > _order(best)):
        best = answer.shared
    if answer.bound is not None:
        bound = min(bound, answer.bound)
    in_time = deadline is None or time.monotonic() < deadline
    if cheapest and best is not None and bound <= best.value and in_time:
        best = Master(task, market, fixed, candidates).least_money(best, deadline, PATIENCE)
    return Completed(best, max(bound, 0 if best is None else best.value), duals, total)


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
