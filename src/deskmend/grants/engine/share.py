"""Sharing one fund among many people, with proof, and what people ask of it afterwards, reasons among it.

For few people the fund is shared anew with plenty of money, without the parts kept for groups, and at rising
amounts; whoever is served then tells what hindered.  For many that is done only where it is asked for; else
the reason is what is short beside this very allocation, and no fund is told.  Nothing is said of a person
whose plans nobody has asked for.

Who waits for what, what more money would do, what scarcity costs, and what a fairer policy costs in relief.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from deskmend.errors import DefectError
from deskmend.grants.engine.arrays import (
    AllocationProblem,
    cheapest_orders,
    market_of,
    most_possible,
    people_aim,
    people_at_least,
    relief_aim,
)
from deskmend.grants.engine.master import share_known
from deskmend.grants.engine.pricing import FULL_UP_TO, PROVEN_UP_TO, AimResult, ColumnSearch, short_of
from deskmend.grants.engine.worst_off import share_worst_off_first
from deskmend.grants.people.columns import EVERY_COST, Applicant, Column, Pool
from deskmend.grants.terms import (
    Allocation,
    FundTerms,
    Hindrance,
    MoreMoney,
    ReasonsFor,
    SharingStatus,
    StockCost,
    Waiting,
    Watch,
    packs_of,
    step_of,
    weighted_relief,
)
from deskmend.measures import Minor
from deskmend.progress import Deadline

__all__ = ["ASKED_UP_TO", "Reasons", "share"]

ASKED_UP_TO = 300
"""People who are given nothing, up to which each is asked for their plans though nobody wished for it."""
PLENTY_TIMES = 1000
"""So many times what everything for everybody costs at listed prices counts as plenty, or more."""
MOST_FUNDS = 40
"""Most amounts at which a fund is shared again; each step is twice the last."""

Plans = Mapping[str, Column]


Again = Callable[[FundTerms], Allocation | None]
"""Shares by the same policy under other terms; None where nothing was found in the time there is."""


@dataclass(frozen=True)
class _Helped:
    """What would help a person: every plan that takes strain off, and those of them that may be given."""

    all: Sequence[Column]
    permitted: Sequence[Column]


class Reasons:
    """Decides why people are given nothing.

    `again` shares under other terms; `whom` as in `ReasonsFor`.
    """

    def __init__(self, search: ColumnSearch, again: Again, whom: ReasonsFor = "few") -> None:
        self.search = search
        self.terms = search.terms
        self.again = again
        self.whom = whom

    def unserved(self, allocation: Allocation) -> list[Applicant]:
        """Everybody who is given nothing that costs money."""
        return [one for one in self.search.people if not allocation.chosen[one.id].packs]

    def of(self, allocation: Allocation) -> tuple[Waiting, ...]:
        """Say of everybody who is given nothing why, by the fund they wait for, then by id."""
        unserved = self.unserved(allocation)
        if len(unserved) > ASKED_UP_TO and self.whom == "few":
            return self.known(allocation)
        self.search.learn(self.search.pool.columns({}, [one.id for one in unserved]))
        if self.whom == "all" or len(self.search.people) <= PROVEN_UP_TO:
            return self._sorted(self._by_sharing_again(unserved, allocation))
        beside = {one.id: self._beside(one, allocation) for one in unserved}
        # a frontier may leave out what does without the scarce thing for a little more
        doubted = [one for one in unserved if beside[one.id] == "stock"]
        coupling = sorted({*self.terms.tiers, *self.terms.stock, *self.terms.spare} & set(self.terms.base))
        found = self.search.pool.every(coupling, {one.id: EVERY_COST for one in doubted})
        self.search.learn({one: columns for one, columns in found.items() if columns is not None})
        beside |= {
            one.id: "not_asked" if found[one.id] is None else self._beside(one, allocation) for one in doubted
        }
        return self._sorted([Waiting(one, why) for one, why in beside.items()])

    def known(self, allocation: Allocation, broken_off: bool = False) -> tuple[Waiting, ...]:
        """The same without asking anybody: of whom too little is known, nothing is said."""
        why: Hindrance = "broken_off" if broken_off else "not_asked"
        return self._sorted([Waiting(one.id, why) for one in self.unserved(allocation)])

    def _helped(self, person: Applicant) -> _Helped:
        known = [column for column in self.search.known[person.id].values() if self._helps(person, column)]
        cost = self.terms.base
        rules = self.search.rules
        may = [one for one in known if rules.admitted(person, one.strain, one.cost(cost)) is not None]
        return _Helped(known, may)

    def _helps(self, person: Applicant, column: Column) -> bool:
        """Whether a plan costs something and takes strain off, or brings the person under the limit."""
        limit = self.terms.limit
        under = (
            limit is not None
            and limit.broken(person.strain_free, person.score_free)
            and limit.kept(column.strain, column.score)
        )
        less = column.strain < person.strain_free
        return bool(column.packs) and (less or (under and column.strain <= person.strain_free))

    def _beside(self, person: Applicant, allocation: Allocation, terms: FundTerms | None = None) -> Hindrance:
        """What keeps somebody from being given anything beside an allocation by these or other terms."""
        terms = self.terms if terms is None else terms
        helped = self._helped(person)
        if not helped.permitted:
            return "cap" if helped.all else "no_help"
        given = list(allocation.chosen.values())
        in_stock, paid, within = False, False, False
        listed = self._listed(allocation)
        for plan in helped.permitted:
            needed = packs_of([*given, plan])
            orders = cheapest_orders(market_of(terms, needed), needed)
            if orders is None:
                continue
            in_stock = True
            if sum(order.cost for order in orders) > terms.fund:
                continue
            paid = True
            pot = terms.pot_of(person)
            more = [
                money + (plan.cost(terms.base) if number == pot else 0) for number, money in enumerate(listed)
            ]
            if not terms.keeps_group_caps(more):
                continue
            within = True
            if terms.keeps_shares(more):
                return "missed" if person.weight else "weight"
        if paid:
            return "share" if within else "group_cap"
        return "money" if in_stock else "stock"

    def _by_sharing_again(self, unserved: Sequence[Applicant], allocation: Allocation) -> Iterator[Waiting]:
        """Share again with plenty of money, without parts, and at rising amounts."""
        helped = {one.id: self._helped(one) for one in unserved}
        hoping = [one for one in unserved if helped[one.id].permitted]
        for one in unserved:
            if not helped[one.id].permitted:
                yield Waiting(one.id, "cap" if helped[one.id].all else "no_help")
        if not hoping:
            return
        plenty = replace(self.terms, fund=self._plenty())
        self._tell(0, len(hoping))
        rich = self.again(plenty)
        if rich is None or not rich.chosen:
            for one in hoping:
                yield Waiting(one.id, "broken_off")
            return
        waiting = [one for one in hoping if rich.chosen[one.id].packs]
        left = [one for one in hoping if not rich.chosen[one.id].packs]
        uncapped = self._each_cap_lifted(left, plenty)
        for one in left:
            if one.group in uncapped and uncapped[one.group][one.id].packs:
                yield Waiting(one.id, "group_cap")
            else:
                yield Waiting(one.id, self._at_any_fund(one, rich, plenty, allocation))
        if not waiting:
            return
        freed = self.again(replace(self.terms, group_share={})) if self.terms.group_share else None
        ranges = self._ranges([one.id for one in waiting], rich)
        for one in waiting:
            kept = freed is not None and freed.chosen and freed.chosen[one.id].packs
            yield Waiting(one.id, "share" if kept else "money", *ranges.get(one.id, (None, None)))

    def _each_cap_lifted(self, left: Sequence[Applicant], plenty: FundTerms) -> dict[str | None, Plans]:
        """Share plenty of money without the cap of each group that somebody left is of, by that group.

        The caps of others stay: without them it is others who may be given more.
        """
        caps, found = self.terms.group_cap, {}
        for group in sorted({one.group for one in left if one.group in caps}, key=str):
            shared = self.again(
                replace(plenty, group_cap={name: most for name, most in caps.items() if name != group})
            )
            if shared is not None and shared.chosen:
                found[group] = shared.chosen
        return found

    def _at_any_fund(
        self, person: Applicant, rich: Allocation, plenty: FundTerms, allocation: Allocation
    ) -> Hindrance:
        """What refuses somebody whom no amount of money serves, if it is not that the search missed them."""
        if not person.weight:
            return "weight"
        # with plenty of money a part binds only where the parts leave nothing for others
        parts, own = sum(self.terms.group_share.values()), self.terms.group_share.get(person.group or "", 0)
        if parts >= 1 and not own:
            return "share"
        if not self.search.exact and self._beside(person, rich, plenty) != "stock":
            return self._beside(person, allocation)
        return "stock"

    def _tell(self, settled: int, of: int) -> None:
        """Say for how many of those who hope the fund that would serve them is found."""
        self.search.tell("waiting", settled, of)

    def _plenty(self) -> Minor:
        """So much money that no more could do anything."""
        dearest = sum(
            max(column.cost(self.terms.base) for column in columns.values())
            for columns in self.search.known.values()
        )
        before = sum(self.terms.spent_before.values())
        whole = dearest + before + max(self.terms.base.values(), default=1)
        shares = self.terms.group_share.values()
        # the smallest part has to be plenty too
        parts = [part for part in (1 - sum(shares, Fraction(0)), *shares) if part > 0]
        return self.terms.fund + max(PLENTY_TIMES, ceil(1 / min(parts, default=Fraction(1)))) * whole

    def _ranges(self, ids: Sequence[str], rich: Allocation) -> dict[str, tuple[Minor, Minor]]:
        """For each id a fund at which they are not served and a higher one at which they are, as found."""
        enough = self._enough_for(rich)
        last, step = self.terms.fund, step_of(self.terms)
        found: dict[str, tuple[Minor, Minor]] = {}
        for _ in range(MOST_FUNDS):
            fund = last + step
            served: Plans = rich.chosen
            if fund < enough:
                shared = self.again(replace(self.terms, fund=fund))
                if shared is None or not shared.chosen:
                    break
                served = shared.chosen
            else:
                fund = max(enough, self.terms.fund)
            found.update((one, (last, fund)) for one in ids if one not in found and served[one].packs)
            self._tell(len(found), len(ids))
            if fund >= enough or len(found) == len(ids):
                break
            last, step = fund, 2 * step
        return found

    def _enough_for(self, rich: Allocation) -> Minor:
        """Least fund from which an allocation made with plenty can be had: more money cannot do better."""
        listed = self._listed(rich)
        low, high = rich.spent, self._plenty()
        while low < high:
            middle = (low + high) // 2
            if replace(self.terms, fund=middle).keeps_shares(listed):
                high = middle
            else:
                low = middle + 1
        return low

    def _listed(self, allocation: Allocation) -> list[Minor]:
        """Listed money that goes from each of the pots."""
        listed = [0] * len(self.terms.drawn_on)
        for one in self.search.people:
            listed[self.terms.pot_of(one)] += allocation.chosen[one.id].cost(self.terms.base)
        return listed

    def _sorted(self, waiting: Iterator[Waiting] | Sequence[Waiting]) -> tuple[Waiting, ...]:
        last = self._plenty()
        return tuple(sorted(waiting, key=lambda one: (last if one.fund is None else one.fund, one.id)))


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
