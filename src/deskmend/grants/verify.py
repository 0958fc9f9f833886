"""An allocation added up again from its written numbers, without any part of the engine.

It trusts nothing but the terms and what stands in the allocation: packs, orders, strain left.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import Allocation, FundTerms, ItemOrder
from deskmend.measures import Minor

__all__ = ["allocation_faults"]


def allocation_faults(
    applicants: Sequence[Applicant],
    terms: FundTerms,
    allocation: Allocation,
    plans: Mapping[str, Sequence[Column]] | None = None,
) -> list[str]:
    """List everything in an allocation that does not add up or breaks a limit; empty where all is well.

    The floor is held against `plans` of each person; without them it is not checked.
    """
    if not allocation.chosen and allocation.status in ("infeasible", "not_proven"):
        return []
    people = {one.id: one for one in applicants}
    if sorted(people) != list(allocation.chosen):
        return ["not everybody has exactly one plan, or they are out of order"]
    faults = [*_orders(terms, allocation)]
    for one, column in allocation.chosen.items():
        faults += _person(people[one], column, terms, None if plans is None else plans[one])
    faults += _waiting(allocation)
    faults += [*_shares(people, terms, allocation), *_group_caps(people, terms, allocation)]
    return [*faults, *_sums(people, terms, allocation)]


def _waiting(allocation: Allocation) -> Iterator[str]:
    if not allocation.waiting:
        return
    unserved = {one for one, column in allocation.chosen.items() if not column.packs}
    told = [one.id for one in allocation.waiting]
    if set(told) != unserved or len(told) != len(unserved):
        yield "those who are given nothing are not those of whom it is told why"
    for one in allocation.waiting:
        low, high = one.not_at, one.fund
        if (low is None) != (high is None) or (low is not None and high is not None and high <= low):
            yield f"{one.id}: served at {high}, not at {low}"


def _orders(terms: FundTerms, allocation: Allocation) -> Iterator[str]:
    needed: Counter[str] = Counter()
    for column in allocation.chosen.values():
        for item, count in column.packs:
            if count <= 0:
                yield f"{item}: {count} packs for a person"
            needed[item] += count
    bought = {order.item for order in allocation.orders}
    if len(bought) != len(allocation.orders) or bought != set(needed):
        yield "ordered items are not the items needed"
    for order in allocation.orders:
        if order.needed != needed.get(order.item) or order.packs + order.from_store < order.needed:
            yield f"{order.item}: {order.packs} packs ordered, {needed.get(order.item)} needed"
        if order.item in terms.stock and order.packs > terms.stock[order.item]:
            yield f"{order.item}: {order.packs} packs ordered, stock {terms.stock[order.item]}"
        spare = terms.spare.get(order.item, 0)
        if order.from_store != min(order.needed, spare):
            yield f"{order.item}: {order.from_store} packs taken from store, where {spare} are"
        if order.packs and order.unit_price != _tier_price(terms, order):
            yield f"{order.item}: {order.unit_price} a pack is not the price of {order.packs} packs"
    spent = sum(order.packs * order.unit_price for order in allocation.orders)
    if spent != allocation.spent:
        yield f"orders cost {spent}, written {allocation.spent}"
    if spent > terms.fund:
        yield f"orders cost {spent}, the fund holds {terms.fund}"


def _tier_price(terms: FundTerms, order: ItemOrder) -> Minor:
    # the engine lists whole ranges of pack counts; here the tiers are read once more, from their definition
    price = terms.base[order.item]
    for first, lower in terms.tiers.get(order.item, ()):
        if order.packs >= first:
            price = lower
    return price


def _listed(column: Column, terms: FundTerms) -> Minor:
    return sum(terms.base[item] * count for item, count in column.packs)


def _person(
    person: Applicant, column: Column, terms: FundTerms, plans: Sequence[Column] | None
) -> Iterator[str]:
    listed = _listed(column, terms)
    for most in (terms.cap, terms.caps.get(person.id)):
        if most is not None and listed > most:
            yield f"{person.id}: {listed} is above the cap"
    if column.strain > terms.ceiling.get(person.id, column.strain):
        yield f"{person.id}: more strain is left than people decided"
    if column.strain > person.strain_free:
        yield f"{person.id}: more strain is left than with free fixes"
    if terms.floor is None or listed >= terms.floor or plans is None:
        return
    # less than the floor is given only to those whom nothing within the cap helps more
    if any(
        plan.strain < min(column.strain, person.strain_free)
        and (terms.cap is None or _listed(plan, terms) <= terms.cap)
        and _listed(plan, terms) <= terms.caps.get(person.id, _listed(plan, terms))
        for plan in plans
    ):
        yield f"{person.id}: {listed} is below the floor, and more would have helped"


def _shares(people: Mapping[str, Applicant], terms: FundTerms, allocation: Allocation) -> Iterator[str]:
    if not terms.group_share:
        return
    whole = Fraction(terms.fund + sum(terms.spent_before.values()))
    given = Counter({group: money for group, money in terms.spent_before.items() if group is not None})
    for one, column in allocation.chosen.items():
        given[people[one].group or ""] += _listed(column, terms)
    left = {group: whole * part - given[group] for group, part in terms.group_share.items()}
    # of all groups that could be left whole together, those within their parts ask most; one at the least
    asking = {group for group, money in left.items() if money >= 0} or {max(left, key=lambda one: left[one])}
    others = sum(money for group, money in given.items() if group not in asking)
    kept = whole * sum(terms.group_share[group] for group in asking)
    if others > whole - kept:
        yield f"groups {sorted(asking)}: others are given {others}, which touches the part kept for them"


def _group_caps(people: Mapping[str, Applicant], terms: FundTerms, allocation: Allocation) -> Iterator[str]:
    for group, most in terms.group_cap.items():
        mine = [column for one, column in allocation.chosen.items() if people[one].group == group]
        given = sum(_listed(column, terms) for column in mine)
        if given > most:
            yield f"group {group}: {given} is above its cap"


def _sums(people: Mapping[str, Applicant], terms: FundTerms, allocation: Allocation) -> Iterator[str]:
    weighted = value = 0
    for one, column in allocation.chosen.items():
        person = people[one]
        relief = person.weight * (person.strain_free - column.strain)
        weighted += relief
        if terms.limit is None:
            value += relief
        else:
            free: int | None = person.strain_free
            after: int | None = column.strain
            if not terms.limit.of_strain:
                free, after = person.score_free, column.score
            # a score that cannot be given is neither above the limit before nor below it after
            value += free is not None and after is not None and free > terms.limit.most >= after
    if weighted != allocation.weighted_relief:
        yield f"weighted relief is {weighted}, written {allocation.weighted_relief}"
    if value != allocation.relief:
        yield f"the policy's value is {value}, written {allocation.relief}"
    if allocation.bound < allocation.relief:
        yield f"bound {allocation.bound} is below {allocation.relief}"
