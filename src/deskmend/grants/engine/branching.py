"""Many people and tiers: part the ways of ordering until the discounts leave no gap.

While it is open how much of an item is ordered, the bound may mix a dear small order with a cheap large one.
A leaf holds a range of ways for each item; parting it at the mix closes that gap.  Everybody's best plans at
some prices bound every leaf at once, since only what the market gets back differs from leaf to leaf: so few
rounds of asking everybody are enough for many leaves.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from deskmend.grants.engine.arrays import Aim, Sheet
from deskmend.grants.engine.master import first_share, improved
from deskmend.grants.engine.price_search import DualSearch
from deskmend.grants.engine.prices import (
    Duals,
    Segment,
    Shared,
    Task,
    best_order,
    exact_total,
    paid_out,
    scores,
    way_worth,
)
from deskmend.grants.terms import Terms

__all__ = ["Branching"]

Market = Mapping[str, Sequence[Segment]]

MOST_LEAVES = 400
"""Most leaves looked at."""
ENOUGH = 2500
"""A gap of one part in so many ends the search."""
FIRST_PASSES = 2
"""Rounds of asking everybody before the ways of ordering are parted by the plans known."""
SETTLED = 8000
"""Plans known are enough for a leaf where they miss its proven bound by one part in so many."""
MASTERS = 3
"""Most integer programs solved on the way."""


@dataclass
class _Leaf:
    """Ways of ordering that are open, with the prices found for them."""

    market: Market
    search: DualSearch | None = None
    duals: Duals | None = None
    restricted: int | None = None
    closed: bool = False


@dataclass(frozen=True)
class _Proof:
    """Everybody's best plans at some prices."""

    duals: Duals
    people: int


class Branching:
    """Search over the ways of ordering.

    Parameters
    ----------
    aim : Aim
        What is maximised.
    terms : Terms
        Fund, market, shares.
    items : sequence of str
        Coupling items.
    market : mapping of str to sequence of Segment
        All ways of ordering them.
    known : callable
        Gives the sheet of all plans known.
    ask : callable
        Asks everybody for plans best at prices; gives what these leave in all, times `Duals.unit`.
    passes : int
        Most rounds of asking everybody.
    """

    def __init__(
        self,
        aim: Aim,
        terms: Terms,
        items: Sequence[str],
        market: Market,
        known: Callable[[], Sheet],
        ask: Callable[[Duals], int],
        passes: int,
    ) -> None:
        self.aim = aim
        self.terms = terms
        self.items = items
        self.known = known
        self.ask = ask
        self.passes = passes
        self.masters = MASTERS
        self.leaves = [_Leaf(market)]
        self.beaten: list[_Leaf] = []
        self.proofs: list[_Proof] = []
        self.last: Duals | None = None
        self.task = Task(known(), aim, terms)
        self.shared: Shared | None = None

    @property
    def bound(self) -> int | None:
        """What no allocation exceeds; None before anybody was asked."""
        if not self.proofs:
            return None
        return max((self._proven(leaf) for leaf in self.leaves), default=0)

    def bound_under(self, terms: Terms) -> int:
        """What no allocation exceeds under another fund."""
        return max(self._proven(leaf, terms) for leaf in [*self.leaves, *self.beaten])

    def _proven(self, leaf: _Leaf, terms: Terms | None = None) -> int:
        under = self.terms if terms is None else terms
        return min(
            (proof.people + paid_out(self.aim, under, proof.duals, self.items, leaf.market))
            // proof.duals.unit
            for proof in self.proofs
        )

    def run(self, go_on: Callable[[Task, Shared | None, int | None], bool], deadline: float | None) -> None:
        """Look at the leaf with the highest bound again and again.

        Parameters
        ----------
        go_on : callable
            Told the task, the best share and the bound after each step; False ends the search.
        deadline : float or None
            End of the time allowed, on the monotonic clock [s].
        """
        for _ in range(MOST_LEAVES):
            self.beaten += [leaf for leaf in self.leaves if self._beaten(leaf)]
            self.leaves = [leaf for leaf in self.leaves if not self._beaten(leaf)]
            if not self.leaves:
                break
            leaf = max(self.leaves, key=self._proven) if self.proofs else self.leaves[0]
            before = leaf.closed, len(self.proofs)
            self._look_at(leaf, deadline)
            if before == (True, len(self.proofs)):
                break
            if not go_on(self.task, self.shared, self.bound) or self._near():
                break

    def _beaten(self, leaf: _Leaf) -> bool:
        return bool(self.proofs) and self.shared is not None and self._proven(leaf) <= self.shared.value

    def _near(self) -> bool:
        bound = self.bound
        return bound is not None and self.shared is not None and (bound - self.shared.value) * ENOUGH <= bound

    def _look_at(self, leaf: _Leaf, deadline: float | None) -> None:
        """Find a leaf's prices and a share by them; then ask everybody, or part the leaf."""
        if leaf.duals is None or leaf.search is None or leaf.search.sheet is not self.task.sheet:
            point = None if leaf.search is None else leaf.search.point
            leaf.search = DualSearch(self.task.sheet, self.aim, self.terms, leaf.market, point)
            _, leaf.duals = leaf.search.run()
            total = exact_total(self.task.sheet, self.aim, self.terms, leaf.duals, leaf.market)
            leaf.restricted = total // leaf.duals.unit
            self._share(leaf, leaf.duals, deadline)
        assert leaf.restricted is not None
        if not self.passes or any(proof.duals == leaf.duals for proof in self.proofs):
            self._part(leaf)
            return
        missed = not self.proofs or (self._proven(leaf) - leaf.restricted) * SETTLED > abs(leaf.restricted)
        at_first = len(self.proofs) < FIRST_PASSES
        if missed and (at_first or leaf.closed or not self._open(leaf)):
            self._ask(leaf.duals)
        else:
            self._part(leaf)

    def _open(self, leaf: _Leaf) -> bool:
        """Tell whether a leaf promises more than the best share, by the plans known."""
        if self.shared is None or leaf.restricted is None:
            return True
        return (leaf.restricted - self.shared.value) * ENOUGH > leaf.restricted

    def _ask(self, duals: Duals) -> None:
        self.passes -= 1
        self.proofs.append(_Proof(duals, self.ask(duals)))
        self.last = duals
        self._learn()

    def _learn(self) -> None:
        """Write the plans known anew; the best share keeps its plans."""
        old = self.task.sheet
        sheet = self.known()
        if len(sheet.columns) == len(old.columns):
            return
        self.task = Task(sheet, self.aim, self.terms)
        if self.shared is not None:
            places = {
                (int(owner), column): number
                for number, (owner, column) in enumerate(zip(sheet.owner, sheet.columns, strict=True))
            }
            numbers = self.shared.numbers.copy()
            for person, plan in enumerate(self.shared.numbers.tolist()):
                numbers[person] = places[person, old.columns[plan]]
            self.shared = self.task.check(numbers)

    def _share(self, leaf: _Leaf, duals: Duals, deadline: float | None) -> None:
        first = first_share(self.task, duals)
        if first is not None and (self.shared is None or first.value > self.shared.value):
            self.shared = first
        wanted = leaf.restricted is not None and first is not None and leaf.restricted > first.value
        if wanted and self.masters and len(self.leaves) > 1:
            self.masters -= 1
            better, _ = improved(self.task, leaf.market, deadline, first, duals)
            if better is not None and (self.shared is None or better.value > self.shared.value):
                self.shared = better

    def finish(self, deadline: float | None, market: Market) -> Shared | None:
        """Let the integer program improve the best share; None where none was found."""
        best = max(self.leaves, key=self._proven) if self.leaves and self.proofs else None
        if best is None or best.duals is None or best.search is None:
            return self.shared
        if best.search.sheet is not self.task.sheet:
            best.search = DualSearch(self.task.sheet, self.aim, self.terms, best.market, best.search.point)
            _, best.duals = best.search.run()
        first = first_share(self.task, best.duals)
        if first is not None and (self.shared is None or first.value > self.shared.value):
            self.shared = first
        return improved(self.task, market, deadline, self.shared, best.duals)[0]

    def _part(self, leaf: _Leaf) -> None:
        """Replace a leaf by two, parted where the bound mixes two ways of ordering most."""
        assert leaf.duals is not None
        score = scores(self.task.sheet, self.aim, self.terms, leaf.duals)
        numbers = self.task.sheet.best_of_each(score)[1]
        needed = self.task.sheet.packs[numbers].sum(axis=0).tolist()
        widest = 0
        where: tuple[str, int] | None = None
        for item, price, count in zip(self.items, leaf.duals.prices, needed, strict=True):
            ways = leaf.market[item]
            order = best_order(self.terms, item, count)
            cut = _cut(ways, price, count, leaf.duals.free)
            if cut is None or order is None:
                continue
            cost = 0 if leaf.duals.free else order.cost
            gap = cost - price * count + max(way_worth(way, price, leaf.duals.free) for way in ways)
            if gap > widest:
                widest, where = gap, (item, cut)
        where = where or self._nearest_tie(leaf, leaf.duals)
        if where is None:
            leaf.closed = True
            return
        item, cut = where
        self.leaves.remove(leaf)
        for ways in (leaf.market[item][:cut], leaf.market[item][cut:]):
            self.leaves.append(_Leaf({**leaf.market, item: ways}, leaf.search))

    def _nearest_tie(self, leaf: _Leaf, duals: Duals) -> tuple[str, int] | None:
        """Find the item of whose ways two count most nearly the same, near enough to matter."""
        found: tuple[int, str, int] | None = None
        for item, price in zip(self.items, duals.prices, strict=True):
            ways = leaf.market[item]
            worth = [way_worth(way, price, duals.free) for way in ways]
            if len(ways) < 2:
                continue
            first, second = sorted(zip(worth, range(len(ways)), strict=True), reverse=True)[:2]
            apart = first[0] - second[0]
            if found is None or apart < found[0]:
                found = apart, item, max(first[1], second[1])
        if found is None or self.shared is None or leaf.restricted is None:
            return None
        matters = found[0] * duals.money < (leaf.restricted - self.shared.value) * duals.unit
        return found[1:] if matters else None


def _cut(ways: Sequence[Segment], price: int, count: int, free: bool) -> int | None:
    """Say before which way to part those of an item, if the one that counts most is not that of `count`."""
    counts_most = max(range(len(ways)), key=lambda number: way_worth(ways[number], price, free))
    if count > ways[counts_most].high:
        return counts_most + 1 if counts_most + 1 < len(ways) else None
    if count < ways[counts_most].low:
        return counts_most or None
    return None
