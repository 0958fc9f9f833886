"""Sharing the fund over the columns known: an allocation from prices, then an integer program.

Prices give a good allocation at once: everybody's best column, then what the money left allows.  The integer
program holds the columns that prices leave in doubt and what is ordered at which tier: with few people all
of them, so that it proves its answer; with many those most in doubt, the rest held fixed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from deskmend.choice.problem import IntArray
from deskmend.choice.program.solver import Backend, LinearModel, Outcome
from deskmend.grants.engine.arrays import AllocationProblem, Assignment, Market, better
from deskmend.grants.engine.prices import (
    Duals,
    DualSearch,
    PricePoint,
    bound_total,
    fits,
    net_values,
    no_prices,
    reduced_costs,
)
from deskmend.progress import Deadline

__all__ = ["KnownShare", "MasterProgram", "improved", "price_rounding", "share_known"]

DEARER = (64, 66, 68, 72, 80, 96, 128, 256, 1024, 1 << 14)
"""Prices tried, in 64ths of the best ones, until everybody's best columns fit in."""
MOST_CHANGES = 4000
"""Most changes tried with the money left."""
FEW_LIMITS = 3
"""Further limits beyond which prices tell too little to be looked for before an exact answer."""
IN_DOUBT = 400
"""Columns that stand to choice in the integer program where there are more people."""
BRANCHES = 60
"""Most branches of the integer program there."""
PROOF_BRANCHES = 20_000
"""Most branches of the integer program that should prove its answer."""
FINE = 20_000
"""A share that misses the bound by one part in so many ends the search where there are many people."""


def price_rounding(problem: AllocationProblem, duals: Duals) -> Assignment | None:
    """Share the fund by prices; None where neither these nor the cheapest columns keep every limit."""
    found: Assignment | None = None
    for dearer in DEARER:
        pots, caps = (tuple(one * dearer // 64 for one in some) for some in (duals.pots, duals.caps))
        at = replace(duals, money=duals.money * dearer // 64, pots=pots, caps=caps)
        if not fits(problem, at):
            break
        _, numbers = problem.arrays.best_of_each(net_values(problem, at))
        found = problem.checked(numbers)
        if found is not None:
            break
    if found is None:
        found = problem.checked(problem.arrays.start)
    return None if found is None else _filled(problem, found, reduced_costs(problem, duals))


def _filled(problem: AllocationProblem, first: Assignment, cost: IntArray) -> Assignment:
    """Change one person's column after the other for a better one while the limits allow it."""
    owner, value = problem.arrays.owner, problem.value
    numbers = first.numbers.copy()
    gains = np.flatnonzero(value > value[numbers][owner])
    tally = _Tally(problem, numbers)
    for column in gains[np.lexsort((gains, cost[gains]))][:MOST_CHANGES].tolist():
        if value[column] > value[numbers[owner[column]]]:
            tally.try_change(column)
    return better(problem.checked(numbers), first) or first


class _Tally:
    """Sums of a choice of columns, kept while single ones are changed in place."""

    def __init__(self, problem: AllocationProblem, numbers: IntArray) -> None:
        self.problem = problem
        self.numbers = numbers
        self.plain = int(problem.arrays.plain[numbers].sum())
        self.packs = problem.arrays.packs[numbers].sum(axis=0)
        self.only_money = not problem.terms.pot_numbers and not problem.uses

    def try_change(self, new: int) -> None:
        """Give a column to its person if every limit allows it."""
        arrays, fund = self.problem.arrays, self.problem.terms.fund
        person = int(arrays.owner[new])
        old = int(self.numbers[person])
        plain = self.plain + int(arrays.plain[new] - arrays.plain[old])
        if plain > fund:
            return
        packs = self.packs + arrays.packs[new] - arrays.packs[old]
        orders = self.problem.orders_for(packs)
        if orders is None or plain + sum(order.cost for order in orders) > fund:
            return
        self.numbers[person] = new
        if self.only_money or self.problem.checked(self.numbers) is not None:
            self.plain, self.packs = plain, packs
        else:
            self.numbers[person] = old


@dataclass(frozen=True)
class _Solved:
    """What the integer program found, checked in whole numbers."""

    best: Assignment | None
    bound: int | None
    """Value that no choice among the candidates exceeds; None where nothing is proven."""
    impossible: bool = False
    """Whether it is proven that no choice keeps every limit."""


class MasterProgram:
    """An integer program over candidates: who has any of these columns takes one, others what is `fixed`."""

    def __init__(
        self, problem: AllocationProblem, market: Market, fixed: IntArray, candidates: IntArray
    ) -> None:
        self.problem = problem
        self.fixed = fixed
        self.candidates = candidates
        arrays = problem.arrays
        self.owners = np.unique(arrays.owner[candidates])
        self.fixed_others = fixed[np.setdiff1d(np.arange(len(arrays.people)), self.owners)]
        self.model = LinearModel()
        self.chosen = {int(number): self.model.column(f"plan[{number}]", 1, True) for number in candidates}
        self.money = self._factors(arrays.plain)
        self._one_each()
        self._market(market)
        self._at_most("fund", self.money, arrays.plain, problem.terms.fund)
        self._pots()
        for number, most in problem.terms.pot_caps:
            use = np.where(arrays.pot == number, arrays.listed, 0)
            self._at_most(f"cap[{number}]", self._factors(use), use, most)
        for number, (use, limit) in enumerate(zip(problem.uses, problem.aim.limits, strict=True)):
            self._at_most(f"side[{number}]", self._factors(use), use, limit.most)

    def _factors(self, numbers: IntArray) -> dict[int, int]:
        return {column: int(numbers[plan]) for plan, column in self.chosen.items() if numbers[plan]}

    def _at_most(self, name: str, factors: dict[int, int], use: IntArray, most: int) -> None:
        """Limit a sum of which people held fixed use a part already."""
        self.model.row(name, factors, "<=", most - int(use[self.fixed_others].sum()))

    def _one_each(self) -> None:
        mine: dict[int, dict[int, int]] = {}
        for plan, column in self.chosen.items():
            mine.setdefault(int(self.problem.arrays.owner[plan]), {})[column] = 1
        for person, factors in mine.items():
            self.model.row(f"person[{person}]", factors, "=", 1)

    def _market(self, market: Market) -> None:
        """Buy at least what is needed in at most one way each; what that costs comes out of the fund."""
        arrays = self.problem.arrays
        for item, packs, most in zip(arrays.items, arrays.packs.T, arrays.most_packs().tolist(), strict=True):
            need = self._factors(packs)
            one_of: dict[int, int] = {}
            for place, way in enumerate(market[item]):
                if way.high == 0:
                    continue
                high = max(way.low, min(way.high, most))
                taken = self.model.column(f"tier[{item},{place}]", 1, True)
                bought = self.model.column(f"packs[{item},{place}]", high, True)
                self.model.row(f"most[{item},{place}]", {bought: 1, taken: -high}, "<=", 0)
                self.model.row(f"least[{item},{place}]", {bought: -1, taken: way.low}, "<=", 0)
                one_of[taken] = 1
                need[bought] = -1
                if way.price:
                    self.money[bought] = way.price
                if way.spare and way.price:
                    self.money[taken] = -way.spare * way.price
            if one_of:
                self.model.row(f"tier[{item}]", one_of, "<=", 1)
            self._at_most(f"need[{item}]", need, packs, 0)

    def _pots(self) -> None:
        """Keep each group's part whole: all others, and what groups take beyond theirs, is open money."""
        arrays, pots = self.problem.arrays, self.problem.terms.pots
        if not pots:
            return
        # parts of a minor unit are written whole, so that nothing is rounded
        fine = math.lcm(*(pot.denominator for pot in pots))
        drawn = np.where(arrays.pot < len(pots), arrays.pot, 0)
        uses = [fine * np.where(drawn == pot, arrays.listed, 0) for pot in range(len(pots))]
        most = math.ceil(sum(abs(pot) for pot in pots)) + int(arrays.best_of_each(arrays.listed)[0].sum())
        beyond = {}
        for pot, use in enumerate(uses[1:], start=1):
            beyond[pot] = self.model.column(f"beyond[{pot}]", most, False)
            self._at_most(
                f"share[{pot}]", {**self._factors(use), beyond[pot]: -fine}, use, int(fine * pots[pot])
            )
        for whole in beyond:
            others = {column: fine for pot, column in beyond.items() if pot != whole}
            self._at_most(
                f"open[{whole}]", {**self._factors(uses[0]), **others}, uses[0], int(fine * pots[0])
            )

    def most_value(
        self, deadline: Deadline, nodes: int, gap: int = 0, known: Assignment | None = None
    ) -> _Solved:
        """Maximise the value within so many branches, or until it may fall short by `gap` (0 proves it).

        What is worse than a `known` assignment is not looked for.
        """
        value, owner = self.problem.value, self.problem.arrays.owner
        best = np.zeros(len(self.problem.arrays.people), dtype=np.int64)
        np.maximum.at(best, owner[self.candidates], value[self.candidates])
        loss = {column: int(best[owner[plan]] - value[plan]) for plan, column in self.chosen.items()}
        unit = math.gcd(*loss.values()) or 1
        objective = {column: amount // unit for column, amount in loss.items() if amount}
        top = int(best[self.owners].sum()) + int(value[self.fixed_others].sum())
        if known is not None:
            self.model.row("known", objective, "<=", (top - known.value) // unit + 1)
        outcome = Backend(self.model).minimise(objective, deadline.left, max(0.5, gap / unit), nodes)
        if outcome.outlook == "infeasible":
            return _Solved(None, None, True)
        found = self._read(outcome)
        if outcome.outlook != "optimal" or outcome.bound is None or found is None:
            return _Solved(found, None)
        # losses are whole units: a quarter of one is room enough for the solver's tolerance
        return _Solved(found, max(found.value, top - unit * math.ceil(outcome.bound - 0.25)))

    def least_money(self, best: Assignment, deadline: Deadline) -> Assignment:
        """Find the cheapest choice of the same value; the given one where none is cheaper."""
        value = self.problem.value
        factors = self._factors(-value)
        unit = math.gcd(*factors.values()) or 1
        right = int(value[self.fixed_others].sum()) - best.value
        self.model.row("worth", {column: one // unit for column, one in factors.items()}, "<=", right // unit)
        outcome = Backend(self.model).minimise(self.money, deadline.left, nodes=PROOF_BRANCHES)
        return better(best, self._read(outcome), thrift=True) or best

    def _read(self, outcome: Outcome) -> Assignment | None:
        """Add up what the solver gives in floating numbers; None where it does not hold in whole ones."""
        if outcome.values is None:
            return None
        numbers = self.fixed.copy()
        taken = [plan for plan, column in self.chosen.items() if outcome.values[column] > 0.5]
        numbers[self.problem.arrays.owner[taken]] = taken
        return self.problem.checked(numbers) if len(taken) == len(self.owners) else None


@dataclass(frozen=True)
class KnownShare:
    """The best assignment found over the columns known, and the value that none of them exceeds."""

    best: Assignment | None
    bound: int
    duals: Duals
    """Prices that prove the bound or come close to it."""
    impossible: bool = False
    """Whether it is proven that no choice keeps every limit."""


def share_known(
    problem: AllocationProblem,
    deadline: Deadline,
    exact: bool,
    point: PricePoint | None = None,
    cheapest: bool = True,
) -> KnownShare:
    """Share the fund over the columns known, looking for prices from `point` on.

    `exact` goes on until the answer is proven best and, among equals, `cheapest`.
    """
    market = problem.market
    if exact and len(problem.uses) > FEW_LIMITS:
        duals = no_prices(problem)
    else:
        duals = DualSearch(problem, market, point).run()
    total = bound_total(problem, duals, market)
    best = price_rounding(problem, duals)
    if exact:
        return _proven(problem, deadline, best, duals, total, cheapest)
    bound = total // duals.unit
    impossible = False
    if best is None or (bound - best.value) * FINE > bound:
        best, impossible = improved(problem, market, deadline, best, duals)
    return KnownShare(best, bound, duals, impossible)


def _proven(
    problem: AllocationProblem,
    deadline: Deadline,
    best: Assignment | None,
    duals: Duals,
    total: int,
    cheapest: bool,
) -> KnownShare:
    """Leave out what prices prove too bad, and let the integer program prove the rest."""
    keep = np.ones(len(problem.value), dtype=bool)
    fixed = problem.arrays.start
    if best is not None:
        # a column that costs more than the whole gap cannot be part of anything better
        keep = reduced_costs(problem, duals) <= total - duals.unit * best.value
        keep[best.numbers] = True
        fixed = best.numbers
    candidates = np.flatnonzero(keep)
    program = MasterProgram(problem, problem.market, fixed, candidates)
    solved = program.most_value(deadline, PROOF_BRANCHES, known=best)
    if solved.impossible:
        return KnownShare(best, 0 if best is None else best.value, duals, best is None)
    best = better(best, solved.best, thrift=True)
    bound = total // duals.unit
    if solved.bound is not None:
        bound = min(bound, solved.bound)
    if cheapest and best is not None and bound <= best.value and not deadline.over:
        best = MasterProgram(problem, problem.market, fixed, candidates).least_money(best, deadline)
    return KnownShare(best, max(bound, 0 if best is None else best.value), duals)


def improved(
    problem: AllocationProblem, market: Market, deadline: Deadline, best: Assignment | None, duals: Duals
) -> tuple[Assignment | None, bool]:
    """Let the integer program choose among the columns that prices leave in doubt.

    Gives the best assignment found, and whether it is proven that none keeps every limit.
    """
    cost = reduced_costs(problem, duals)
    _, nearest = problem.arrays.best_of_each(-cost)
    fixed = nearest if best is None else best.numbers
    order = np.lexsort((np.arange(len(cost)), cost))
    others = order[~np.isin(order, fixed)]
    in_doubt = IN_DOUBT
    while True:
        doubted = others[:in_doubt]
        owners = np.unique(problem.arrays.owner[doubted])
        program = MasterProgram(problem, market, fixed, np.union1d(doubted, fixed[owners]))
        gap = 0 if best is None else best.value // FINE
        solved = program.most_value(deadline, BRANCHES, gap, best)
        best = better(best, solved.best)
        if best is not None or len(doubted) < in_doubt or not solved.impossible:
            return best, best is None and solved.impossible
        in_doubt *= 4
