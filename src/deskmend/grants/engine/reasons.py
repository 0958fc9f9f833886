"""Why somebody is given nothing that costs money, and at which fund they would be: by sharing again.

For few people the fund is shared anew with plenty of money, without the parts kept for groups, and at rising
amounts; whoever is served then tells what hindered.  For many that is done only where it is asked for; else
the reason is what is short beside this very allocation, and no fund is told.  Nothing is said of a person
whose plans nobody has asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from deskmend.grants.engine.orders import cheapest_orders, market_of
from deskmend.grants.engine.pricing import PROVEN_UP_TO, ColumnSearch
from deskmend.grants.people.columns import EVERY_COST, Applicant, Column
from deskmend.grants.terms import Allocation, FundTerms, Hindrance, ReasonsFor, Waiting, packs_of, step_of
from deskmend.measures import Minor

__all__ = ["ASKED_UP_TO", "Reasons"]

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
        uncapped = self._without_group_caps(left, plenty)
        for one in left:
            if uncapped is not None and uncapped.chosen and uncapped.chosen[one.id].packs:
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

    def _without_group_caps(self, left: Sequence[Applicant], plenty: FundTerms) -> Allocation | None:
        """Share plenty of money without caps of groups, where somebody left of one might be served then."""
        if not any(one.group in self.terms.group_cap for one in left):
            return None
        return self.again(replace(plenty, group_cap={}))

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
