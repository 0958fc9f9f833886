"""Sharing one fund among many people, with proof."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace

from deskmend.errors import DefectError
from deskmend.grants.engine.arrays import Aim, people_aim, people_at_least, relief_aim
from deskmend.grants.engine.prices import best_orders, needed_packs
from deskmend.grants.engine.pricing import Found, Search
from deskmend.grants.engine.questions import more_money, stock_costs, waiting_list
from deskmend.grants.engine.worst_off import share_worst_off_first
from deskmend.grants.people.columns import Applicant, Column, Pool
from deskmend.grants.terms import Allocation, Status, Terms, Watch

__all__ = ["share"]


def share(
    applicants: Sequence[Applicant],
    pool: Pool,
    terms: Terms,
    watch: Watch | None = None,
    seconds: float | None = None,
    questions: bool = True,
    hundred: int = 10_000,
) -> Allocation:
    """Share a fund.

    Parameters
    ----------
    applicants : sequence of Applicant
        In any order; the answer for each id is the same.
    pool : Pool
        Gives their plans.
    terms : Terms
        Fund, market, policy and rules.
    watch : callable or None
        Told of progress: best value and bound so far.
    seconds : float or None
        Time allowed [s]; None: no limit.
    questions : bool
        Work out also the waiting list, the next 100 of money, what stock limits cost, the price of fairness.
    hundred : int
        100 of the currency [minor units].

    Returns
    -------
    Allocation
        Where time runs out or an interrupt comes, the best found so far with its proven bound, status
        ``not_proven``.

    Raises
    ------
    ValueError
        Where two applicants share an id, or a limit on a score is asked for that nobody has.
    """
    people = sorted(applicants, key=lambda one: one.id)
    if len({one.id for one in people}) != len(people):
        raise ValueError("applicants: two share an id")
    deadline = None if seconds is None else time.monotonic() + seconds
    search = Search(people, pool, terms, watch, deadline)
    sharing = _Sharing(search, questions, hundred)
    try:
        return sharing.run()
    except KeyboardInterrupt:
        return sharing.so_far()


class _Sharing:
    """One sharing, which can be broken off at any moment."""

    def __init__(self, search: Search, questions: bool, hundred: int) -> None:
        self.search = search
        self.terms = search.terms
        self.questions = questions
        self.hundred = hundred
        self.finished: Allocation | None = None
        self.first_aim = True

    def run(self) -> Allocation:
        """Share by the policy, then answer the questions."""
        policy = self.terms.policy
        if not self.search.applicants:
            return self._allocation({}, 0, 0, "optimal")
        by_policy = {
            "most_relief": self._most_relief,
            "most_people": self._most_people,
            "worst_off_first": self._worst_off_first,
        }
        self.finished = by_policy[policy]()
        if self.finished.status == "infeasible" or not self.questions or self.search.out_of_time:
            return self.finished
        self.search.tell("questions", self.finished.relief, self.finished.bound)
        aim = people_aim(self.terms.limit) if self.terms.limit is not None else relief_aim()
        if policy != "worst_off_first":
            self.finished = replace(
                self.finished,
                more_money=more_money(self.search, aim, self.finished, self.hundred, self.proof_items),
                stock_costs=stock_costs(self.search, aim, self.finished, self.proof_items),
            )
        self.finished = replace(
            self.finished, waiting=waiting_list(self.search, self.finished, self.duals_of_aim)
        )
        if policy != "most_relief":
            self._price_of_fairness()
        return self.finished

    def _price_of_fairness(self) -> None:
        assert self.finished is not None
        found = self.search.solve(relief_aim())
        if found.chosen is not None:
            most = max(found.value, self.finished.weighted_relief)
            self.finished = replace(self.finished, most_relief=most, most_relief_bound=max(found.bound, most))

    def _solved(self, aim: Aim) -> Found:
        found = self.search.solve(aim)
        self.duals_of_aim = found
        self.proof_items = found.items
        return found

    def _most_relief(self) -> Allocation:
        found = self._solved(relief_aim())
        if found.chosen is None:
            return self._nothing(found)
        return self._allocation(found.chosen, found.value, found.bound, self._status(found))

    def _most_people(self) -> Allocation:
        assert self.terms.limit is not None
        first = self._solved(people_aim(self.terms.limit))
        if first.chosen is None:
            return self._nothing(first)
        self.first_aim = False
        self.finished = self._allocation(first.chosen, first.value, first.bound, "not_proven")
        bound_under = self.search.bound_under
        rest = self.search.solve(relief_aim(people_at_least(self.terms.limit, first.value)))
        self.search.bound_under = bound_under
        chosen = first.chosen if rest.chosen is None else rest.chosen
        proven = self._status(first) == "optimal" and rest.bound > rest.value
        return self._allocation(
            chosen, first.value, first.bound, "within_gap" if proven else self._status(first)
        )

    def _worst_off_first(self) -> Allocation:
        self.first_aim = False
        leveled = share_worst_off_first(self.search)
        found = leveled.found
        self.duals_of_aim, self.proof_items = found, found.items
        if found.chosen is None:
            return self._nothing(found)
        proven = leveled.complete and all(level.proven for level in leveled.levels)
        status: Status = "optimal" if proven and found.bound == found.value else "within_gap"
        if status != "optimal" and self.search.out_of_time:
            status = "not_proven"
        most = self.search.most_relief_bound
        bound = found.value if status == "optimal" or most is None else max(found.value, most)
        made = self._allocation(found.chosen, found.value, bound, status)
        return replace(made, levels=leveled.levels)

    def _status(self, found: Found) -> Status:
        if found.bound == found.value:
            return "optimal"
        return "not_proven" if self.search.out_of_time else "within_gap"

    def _nothing(self, found: Found) -> Allocation:
        status: Status = "infeasible" if found.impossible else "not_proven"
        return Allocation(self.terms.policy, status, {}, (), 0, 0, max(0, found.bound), 0)

    def so_far(self) -> Allocation:
        """Give the best allocation found before an interrupt, with what is proven of it."""
        if self.finished is not None:
            return replace(self.finished, status="not_proven")
        best = self.search.best
        if best is not None and best.chosen is not None and self.first_aim:
            return self._allocation(best.chosen, best.value, best.bound, "not_proven")
        people = self.search.applicants
        bound = sum(one.weight * one.strain_free for one in people)
        if self.terms.policy == "most_people":
            bound = len(people)
        chosen: Mapping[str, Column] = {one.id: Column((), one.strain_free, one.score_free) for one in people}
        if best is not None and best.chosen is not None and self.terms.policy == "worst_off_first":
            chosen = best.chosen
        elif self.terms.floor is not None:
            return Allocation(self.terms.policy, "not_proven", {}, (), 0, 0, bound, 0)
        relief = 0 if self.terms.policy == "most_people" else self._relief(chosen)
        return self._allocation(chosen, relief, bound, "not_proven")

    def _relief(self, chosen: Mapping[str, Column]) -> int:
        return sum(one.weight * (one.strain_free - chosen[one.id].strain) for one in self.search.applicants)

    def _allocation(
        self, chosen: Mapping[str, Column], relief: int, bound: int, status: Status
    ) -> Allocation:
        orders = best_orders(self.terms, needed_packs(chosen.values()))
        if orders is None:
            raise DefectError("an allocation needs more packs than there are")
        spent = sum(order.cost for order in orders)
        if spent > self.terms.fund:
            raise DefectError("an allocation costs more than the fund holds")
        return Allocation(
            self.terms.policy,
            status,
            {one: chosen[one] for one in sorted(chosen)},
            orders,
            spent,
            relief,
            bound,
            self._relief(chosen) if chosen else 0,
        )
