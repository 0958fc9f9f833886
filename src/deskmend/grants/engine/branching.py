"""Many people and tiers: branch on the ways of ordering until the discounts leave no gap.

While it is open how much of an item is ordered, the bound may mix a dear small order with a cheap large one.
A leaf holds a range of ways for each item; parting it at the mix closes that gap.  Everybody's best columns
at some prices bound every leaf at once, since only what the market gets back differs from leaf to leaf: so
few rounds of asking everybody are enough for many leaves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.grants.engine.arrays import (
    Aim,
    AllocationProblem,
    Assignment,
    ColumnArrays,
    Market,
    OrderRange,
    better,
    cheapest_orders,
)
from deskmend.grants.engine.master import improved, price_rounding
from deskmend.grants.engine.prices import (
    Duals,
    DualSearch,
    PricePoint,
    bound_total,
    net_values,
    no_prices,
    paid_out,
)
from deskmend.grants.terms import FundTerms
from deskmend.progress import Deadline

__all__ = ["Branching"]

MOST_LEAVES = 400
"""Most leaves looked at."""
ENOUGH = 2500
"""A gap of one part in so many ends the search."""
FIRST_PASSES = 2
"""Rounds of asking everybody before the ways of ordering are parted by the columns known."""
SETTLED = 8000
"""Columns known are enough for a leaf where they miss its proven bound by one part in so many."""
MASTERS = 3
"""Most integer programs solved on the way."""


@dataclass(frozen=True)
class _Priced:
    """Prices of a leaf over the columns of a problem, and the most these columns can reach there."""

    problem: AllocationProblem
    duals: Duals
    reachable: int


@dataclass(eq=False)
class _Leaf:
    """Ways of ordering that are open, and the prices found for them."""

    market: Market
    point: PricePoint | None = None
    """Where the next search for prices begins."""
    priced: _Priced | None = None
    closed: bool = False
    """Whether there is no way to part it that matters."""


class Branching:
    """Search over the ways of ordering.

    `known` gives arrays of all columns known.  `ask` asks everybody for columns best at prices, at most
    `passes` times, and gives what these leave in all, times `Duals.unit`.  `tell` hears the problem, the best
    assignment and the bound after each step.
    """

    def __init__(
        self,
        aim: Aim,
        terms: FundTerms,
        known: Callable[[], ColumnArrays],
        ask: Callable[[Duals], int],
        tell: Callable[[AllocationProblem, Assignment | None, int | None], None],
        passes: int,
        deadline: Deadline,
    ) -> None:
        self.known = known
        self.ask = ask
        self.tell = tell
        self.passes = passes
        self.deadline = deadline
        self.masters = MASTERS
        self.problem = AllocationProblem(known(), aim, terms)
        self.leaves = [_Leaf(self.problem.market)]
        self.beaten: list[_Leaf] = []
        self.proofs: list[tuple[Duals, int]] = []
        """Prices at which everybody was asked, with what people are left with there."""
        self.best: Assignment | None = None

    @property
    def bound(self) -> int | None:
        """What no allocation exceeds; None before anybody was asked."""
        if not self.proofs:
            return None
        return max((self._proven(leaf) for leaf in self.leaves), default=0)

    @property
    def duals(self) -> Duals:
        """Prices at which everybody was asked last."""
        return self.proofs[-1][0] if self.proofs else no_prices(self.problem)

    def bound_under(self, terms: FundTerms) -> int:
        """What no allocation exceeds under another fund."""
        return max(self._proven(leaf, terms) for leaf in [*self.leaves, *self.beaten])

    def _proven(self, leaf: _Leaf, terms: FundTerms | None = None) -> int:
        under = self.problem.terms if terms is None else terms
        return min(
            (people + paid_out(self.problem.aim, under, duals, leaf.market)) // duals.unit
            for duals, people in self.proofs
        )

    def run(self) -> Assignment | None:
        """Look at the leaf with the highest bound again and again; give the best assignment found."""
        for _ in range(MOST_LEAVES):
            self.beaten += [leaf for leaf in self.leaves if self._beaten(leaf)]
            self.leaves = [leaf for leaf in self.leaves if not self._beaten(leaf)]
            if not self.leaves:
                break
            leaf = max(self.leaves, key=self._proven) if self.proofs else self.leaves[0]
            before = leaf.closed, len(self.proofs)
            self._look_at(leaf)
            if before == (True, len(self.proofs)):
                break
            self.tell(self.problem, self.best, self.bound)
            if self.deadline.over or self._near():
                break
        return self._finished()

    def _beaten(self, leaf: _Leaf) -> bool:
        return bool(self.proofs) and self.best is not None and self._proven(leaf) <= self.best.value

    def _near(self) -> bool:
        bound = self.bound
        return bound is not None and self.best is not None and (bound - self.best.value) * ENOUGH <= bound

    def _look_at(self, leaf: _Leaf) -> None:
        """Find a leaf's prices and an assignment by them; then ask everybody, or part the leaf."""
        priced = leaf.priced
        if priced is None or priced.problem is not self.problem:
            priced = self._price(leaf)
            self._round(leaf, priced)
        if not self.passes or any(duals == priced.duals for duals, _ in self.proofs):
            self._part(leaf, priced)
            return
        missed = not self.proofs or (self._proven(leaf) - priced.reachable) * SETTLED > abs(priced.reachable)
        at_first = len(self.proofs) < FIRST_PASSES
        if missed and (at_first or leaf.closed or not self._promises(priced)):
            self._ask(priced.duals)
        else:
            self._part(leaf, priced)

    def _price(self, leaf: _Leaf) -> _Priced:
        search = DualSearch(self.problem, leaf.market, leaf.point)
        duals = search.run()
        reachable = bound_total(self.problem, duals, leaf.market) // duals.unit
        leaf.point, leaf.priced = search.point, _Priced(self.problem, duals, reachable)
        return leaf.priced

    def _promises(self, priced: _Priced) -> bool:
        """Tell whether a leaf promises more than the best assignment, by the columns known."""
        return self.best is None or (priced.reachable - self.best.value) * ENOUGH > priced.reachable

    def _ask(self, duals: Duals) -> None:
        """Ask everybody and write the columns known anew; the best assignment keeps its columns."""
        self.passes -= 1
        self.proofs.append((duals, self.ask(duals)))
        old, arrays = self.problem.arrays, self.known()
        if len(arrays.columns) == len(old.columns):
            return
        self.problem = AllocationProblem(arrays, self.problem.aim, self.problem.terms)
        if self.best is not None:
            owned = zip(arrays.owner.tolist(), arrays.columns, strict=True)
            places = {mine: number for number, mine in enumerate(owned)}
            numbers = [places[person, old.columns[k]] for person, k in enumerate(self.best.numbers.tolist())]
            self.best = self.problem.checked(np.array(numbers, dtype=np.int64))

    def _round(self, leaf: _Leaf, priced: _Priced) -> None:
        first = price_rounding(self.problem, priced.duals)
        self.best = better(self.best, first)
        short = first is not None and priced.reachable > first.value
        if short and self.masters and len(self.leaves) > 1:
            self.masters -= 1
            found, _ = improved(self.problem, leaf.market, self.deadline, first, priced.duals)
            self.best = better(self.best, found)

    def _finished(self) -> Assignment | None:
        """Improve the best assignment by an integer program, at the prices of the highest leaf."""
        if not self.leaves or not self.proofs:
            return self.best
        leaf = max(self.leaves, key=self._proven)
        priced = leaf.priced
        if priced is None:
            return self.best
        if priced.problem is not self.problem:
            priced = self._price(leaf)
        best = better(self.best, price_rounding(self.problem, priced.duals))
        return improved(self.problem, self.problem.market, self.deadline, best, priced.duals)[0]

    def _part(self, leaf: _Leaf, priced: _Priced) -> None:
        """Replace a leaf by two, parted where the bound mixes two ways of ordering most."""
        where = self._widest_mix(leaf, priced.duals) or self._nearest_tie(leaf, priced)
        if where is None:
            leaf.closed = True
            return
        item, cut = where
        self.leaves.remove(leaf)
        for ways in (leaf.market[item][:cut], leaf.market[item][cut:]):
            self.leaves.append(_Leaf({**leaf.market, item: ways}, leaf.point))

    def _widest_mix(self, leaf: _Leaf, duals: Duals) -> tuple[str, int] | None:
        """Find the item whose market pays out most beyond what the best columns' order costs."""
        arrays = self.problem.arrays
        _, numbers = arrays.best_of_each(net_values(self.problem, duals))
        needed = arrays.packs[numbers].sum(axis=0).tolist()
        widest = 0
        where: tuple[str, int] | None = None
        for (item, ways), price, count in zip(leaf.market.items(), duals.packs, needed, strict=True):
            orders = cheapest_orders(self.problem.market, {item: count})
            cut = _cut(ways, price, count, duals.free)
            if cut is None or orders is None:
                continue
            cost = 0 if duals.free else orders[0].cost
            gap = cost - price * count + max(way.worth(price, duals.free) for way in ways)
            if gap > widest:
                widest, where = gap, (item, cut)
        return where

    def _nearest_tie(self, leaf: _Leaf, priced: _Priced) -> tuple[str, int] | None:
        """Find the item of whose ways two count most nearly the same, near enough to matter."""
        duals = priced.duals
        found: tuple[int, str, int] | None = None
        for (item, ways), price in zip(leaf.market.items(), duals.packs, strict=True):
            worth = sorted(((way.worth(price, duals.free), k) for k, way in enumerate(ways)), reverse=True)
            if len(worth) > 1 and (found is None or worth[0][0] - worth[1][0] < found[0]):
                found = worth[0][0] - worth[1][0], item, max(worth[0][1], worth[1][1])
        if found is None or self.best is None:
            return None
        matters = found[0] * duals.money < (priced.reachable - self.best.value) * duals.unit
        return found[1:] if matters else None


def _cut(ways: Sequence[OrderRange], price: int, count: int, free: bool) -> int | None:
    """Say before which way to part those of an item, if the one that counts most is not that of `count`."""
    counts_most = max(range(len(ways)), key=lambda number: ways[number].worth(price, free))
    if count > ways[counts_most].high:
        return counts_most + 1 if counts_most + 1 < len(ways) else None
    if count < ways[counts_most].low:
        return counts_most or None
    return None
