"""Sharing one fund among many people, with proof, and what people ask of it afterwards.

Who waits for what, what more money would do, what scarcity costs, and what a fairer policy costs in relief.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from deskmend.errors import DefectError
from deskmend.grants.engine.arrays import (
    AllocationProblem,
    most_possible,
    people_aim,
    people_at_least,
    relief_aim,
)
from deskmend.grants.engine.master import share_known
from deskmend.grants.engine.orders import cheapest_orders, market_of
from deskmend.grants.engine.pricing import FULL_UP_TO, AimResult, ColumnSearch, short_of
from deskmend.grants.engine.reasons import Reasons
from deskmend.grants.engine.worst_off import share_worst_off_first
from deskmend.grants.people.columns import Applicant, Column, Pool
from deskmend.grants.terms import (
    Allocation,
    FundTerms,
    MoreMoney,
    ReasonsFor,
    SharingStatus,
    StockCost,
    Watch,
    packs_of,
    step_of,
    weighted_relief,
)
from deskmend.measures import Minor
from deskmend.progress import Deadline

__all__ = ["share"]

MOST_STOCKS = 12
"""Most items for which the cost of scarcity is worked out."""


def share(
    applicants: Sequence[Applicant],
    pool: Pool,
    terms: FundTerms,
    watch: Watch | None = None,
    seconds: float | None = None,
    questions: bool = True,
    extra: Minor | None = None,
    reasons: ReasonsFor = "few",
) -> Allocation:
    """Share a fund among applicants in any order: the answer for each id is the same.

    `questions` works out also why people are given nothing, what `extra` money (one step where left out)
    would add, what stock limits cost and the price of fairness; `reasons` says for whom.  Where the time
    allowed runs out or an interrupt comes, the best found so far is given with its proven bound, and says
    that it was broken off.

    KeyboardInterrupt where an interrupt comes before anything is known.  ValueError where two applicants
    share an id.
    """
    people = sorted(applicants, key=lambda one: one.id)
    if len({one.id for one in people}) != len(people):
        raise ValueError("applicants: two share an id")
    sharing = _Sharing(ColumnSearch(people, pool, terms, Deadline(seconds), watch))
    try:
        allocation = sharing.share()
        if not questions:
            return allocation
        return sharing.answer(allocation, step_of(terms) if extra is None else extra, reasons)
    except KeyboardInterrupt:
        found = sharing.so_far()
        if found is None:
            raise
        return found


class _Sharing:
    """One sharing, which can be broken off at any moment."""

    def __init__(self, search: ColumnSearch) -> None:
        self.search = search
        self.terms = search.terms
        self.aim = relief_aim() if search.terms.limit is None else people_aim(search.terms.limit)
        self.result: AimResult | None = None
        """What came of the policy's own aim."""
        self.finished: Allocation | None = None

    def share(self) -> Allocation:
        """Share by the policy."""
        by_policy = {
            "most_relief": self._most_relief,
            "most_people": self._most_people,
            "worst_off_first": self._worst_off_first,
        }
        if self.search.people:
            self.finished = by_policy[self.terms.policy]()
        else:
            self.finished = self._allocation({}, 0, 0, "optimal")
        return self.finished

    def _most_relief(self) -> Allocation:
        result = self.result = self.search.solve(self.aim)
        if result.chosen is None:
            return self._nothing(result)
        return self._allocation(result.chosen, result.value, result.bound, self._status(result))

    def _most_people(self) -> Allocation:
        limit = self.terms.limit
        assert limit is not None
        first = self.result = self.search.solve(self.aim)
        if first.chosen is None:
            return self._nothing(first)
        self.finished = self._allocation(first.chosen, first.value, first.bound, "not_proven")
        bound_under = self.search.bound_under
        rest = self.search.solve(relief_aim(people_at_least(limit, first.value)))
        self.search.bound_under = bound_under
        chosen = first.chosen if rest.chosen is None else rest.chosen
        # where the most people is not proven, the search for relief may bring more of them under the limit
        value = sum(
            limit.broken(one.strain_free, one.score_free)
            and limit.kept(chosen[one.id].strain, chosen[one.id].score)
            for one in self.search.people
        )
        status = self._status(replace(first, value=value))
        if status == "optimal" and rest.bound > rest.value:
            status = "within_gap"
        return self._allocation(chosen, value, first.bound, status)

    def _worst_off_first(self) -> Allocation:
        leveled = share_worst_off_first(self.search)
        result = self.result = leveled.result
        if result.chosen is None:
            return self._nothing(result)
        proven = leveled.complete and all(level.proven for level in leveled.levels)
        status: SharingStatus = "optimal" if proven and result.bound == result.value else "within_gap"
        if status != "optimal" and self.search.deadline.over:
            status = "not_proven"
        most = self.search.most_relief_bound
        bound = result.value if status == "optimal" or most is None else max(result.value, most)
        made = self._allocation(result.chosen, result.value, bound, status)
        return replace(made, levels=leveled.levels)

    def _status(self, result: AimResult) -> SharingStatus:
        if result.bound == result.value:
            return "optimal"
        return "not_proven" if self.search.deadline.over else "within_gap"

    def _nothing(self, result: AimResult) -> Allocation:
        status: SharingStatus = "infeasible" if result.impossible else "not_proven"
        return Allocation(self.terms.policy, status, {}, (), 0, 0, max(0, result.bound), 0)

    def so_far(self) -> Allocation | None:
        """Give the best allocation found before an interrupt, with what is proven of it; None before any."""
        if self.finished is not None:
            return self._broken_off(self.finished)
        found = (one for one in (self.search.best, self.search.answered) if one is not None)
        best = next((one for one in found if self._keeps_stock(one)), None)
        if best is None or best.chosen is None:
            return None
        value, bound = best.value, best.bound
        if self.terms.policy == "worst_off_first":
            # the aim in work counts people: of its answer only the plans are of use
            value = weighted_relief(self.search.people, best.chosen)
            bound = most_possible(self.aim, self.search.people)
        return self._broken_off(self._allocation(best.chosen, value, bound, "not_proven"))

    def _keeps_stock(self, result: AimResult) -> bool:
        """Whether what was found so far is one that can be handed out: stock is only looked at in the end."""
        return result.chosen is not None and not short_of(result.chosen, self.terms, result.items)

    def _broken_off(self, allocation: Allocation) -> Allocation:
        """Say what is not known because no time was left for it."""
        if not allocation.chosen:
            return allocation
        known = {one.id: one for one in allocation.waiting}
        unknown = Reasons(self.search, self._again).known(allocation, True)
        waiting = tuple(known.get(one.id, one) for one in unknown)
        return replace(allocation, waiting=waiting, broken_off=True)

    def _allocation(
        self, chosen: Mapping[str, Column], relief: int, bound: int, status: SharingStatus
    ) -> Allocation:
        needed = packs_of(chosen.values())
        orders = cheapest_orders(market_of(self.terms, needed), needed)
        if orders is None:
            raise DefectError("an allocation needs more packs than there are")
        spent = sum(order.cost for order in orders)
        if spent > self.terms.fund:
            raise DefectError("an allocation costs more than the fund holds")
        weighted = weighted_relief(self.search.people, chosen) if chosen else 0
        inorder = {one: chosen[one] for one in sorted(chosen)}
        return Allocation(self.terms.policy, status, inorder, orders, spent, relief, bound, weighted)

    def answer(self, allocation: Allocation, extra: Minor, reasons: ReasonsFor) -> Allocation:
        """Answer what people ask of an allocation, one question after the other."""
        if not allocation.chosen:
            return allocation
        if self.search.deadline.over:
            return self._broken_off(allocation)
        self.search.tell("questions", allocation.relief, allocation.bound)
        if self.terms.policy != "worst_off_first":
            more, costs = self._more_money(allocation, extra), self._stock_costs(allocation)
            self.finished = allocation = replace(allocation, more_money=more, stock_costs=costs)
        together = self._together_at_most(allocation)
        self.finished = allocation = replace(allocation, together_at_most=together)
        waiting = Reasons(self.search, self._again, reasons).of(allocation)
        self.finished = allocation = replace(allocation, waiting=waiting)
        if self.search.deadline.over:
            return self._broken_off(allocation)
        if self.terms.policy != "most_relief":
            relief = self.search.solve(relief_aim())
            if relief.chosen is not None:
                most = max(relief.value, allocation.weighted_relief)
                bound = max(relief.bound, most)
                self.finished = replace(allocation, most_relief=most, most_relief_bound=bound)
        return self.finished

    def _again(self, terms: FundTerms) -> Allocation | None:
        """Share by the same policy under other terms; None where the time allowed runs out."""
        if self.search.deadline.over:
            return None
        shared = _Sharing(self.search.again(terms)).share()
        return None if self.search.deadline.over or not shared.chosen else shared

    def _more_money(self, allocation: Allocation, extra: Minor) -> MoreMoney | None:
        """Say what a little more money would add: found over the columns known, and proven to be the most."""
        if self.search.bound_under is None or self.result is None:
            return None
        richer = replace(self.terms, fund=self.terms.fund + extra)
        most = self.search.bound_under(richer) - allocation.relief
        least = max(0, self._shared_again(richer, self.result.items) - allocation.relief)
        return MoreMoney(extra, least, max(least, most))

    def _together_at_most(self, allocation: Allocation) -> int | None:
        """Bound what could be added if people who may take from one pack were counted together.

        Whatever they then have, they could have by opening packs of their own with so much more money and
        stock as sharing can save at most.
        """
        savable, stock = self.terms.savable, self.terms.stock
        if not savable:
            return 0
        if self.terms.policy == "worst_off_first":
            return None
        dearest = sum(self.terms.base[item] * packs for item, packs in savable.items())
        looser = {item: most + savable.get(item, 0) for item, most in stock.items()}
        richer = replace(self.terms, fund=self.terms.fund + dearest, stock=looser)
        if self.search.exact:
            again = self._again(richer)
            return None if again is None else max(0, again.bound - allocation.relief)
        if self.search.bound_under is None:
            return None
        return max(0, self.search.bound_under(richer) - allocation.relief)

    def _stock_costs(self, allocation: Allocation) -> tuple[StockCost, ...]:
        """Say for each item whose stock is used up what enough of it would add."""
        assert self.result is not None
        stock, items = self.terms.stock, self.result.items
        costs = []
        used_up = [order.item for order in allocation.orders if order.packs == stock.get(order.item)]
        for item in used_up[:MOST_STOCKS]:
            plenty = replace(self.terms, stock={one: most for one, most in stock.items() if one != item})
            least = max(0, self._shared_again(plenty, items) - allocation.relief)
            most: int | None = None
            if item not in items:
                # its stock never bound, so what bounds all allocations does so without it
                most = max(least, allocation.bound - allocation.relief)
            elif len(self.search.people) <= FULL_UP_TO:
                most = max(least, self.search.bound_with(self.aim, plenty, items) - allocation.relief)
            costs.append(StockCost(item, least, most))
        return tuple(costs)

    def _shared_again(self, terms: FundTerms, items: Sequence[str]) -> int:
        """Share anew under other terms, over the columns known; give the value."""
        problem = AllocationProblem(self.search.arrays(items), self.aim, terms)
        best = share_known(problem, self.search.deadline, self.search.exact).best
        if best is None:
            return 0
        over = short_of(problem.chosen(best), terms, items)
        return self._shared_again(terms, sorted({*items, *over})) if over else best.value
