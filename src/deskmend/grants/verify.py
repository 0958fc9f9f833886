"""An allocation added up again from its written numbers, without any part of the engine.

It trusts nothing but the terms and what stands in the allocation: packs, orders, strain left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import Allocation, Order, Terms

__all__ = ["faults_of"]


def faults_of(
    applicants: Sequence[Applicant],
    terms: Terms,
    allocation: Allocation,
    plans: Mapping[str, Sequence[Column]] | None = None,
) -> list[str]:
    """List everything in an allocation that does not add up or breaks a limit.

    Parameters
    ----------
    applicants : sequence of Applicant
        Everybody who asked.
    terms : Terms
        Fund, market, rules.
    allocation : Allocation
        What is checked.
    plans : mapping of str to sequence of Column, or None
        Plans of each person that the floor is held against; without them the floor is not checked.

    Returns
    -------
    list of str
        Empty where all is well.
    """
    if not allocation.chosen and allocation.status in ("infeasible", "not_proven"):
        return []
    people = {one.id: one for one in applicants}
    faults = []
    if sorted(people) != list(allocation.chosen):
        faults.append("not everybody has exactly one plan, or they are out of order")
        return faults
    faults += _orders(terms, allocation)
    for one, column in allocation.chosen.items():
        faults += _person(people[one], column, terms, None if plans is None else plans[one])
    faults += _shares(people, terms, allocation)
    faults += _sums(people, terms, allocation)
    return faults


def _orders(terms: Terms, allocation: Allocation) -> list[str]:
    faults = []
    needed: dict[str, int] = {}
    for column in allocation.chosen.values():
        for item, count in column.packs:
            if count <= 0:
                faults.append(f"{item}: {count} packs for a person")
            needed[item] = needed.get(item, 0) + count
    bought = {order.item: order for order in allocation.orders}
    if len(bought) != len(allocation.orders) or set(bought) != set(needed):
        faults.append("ordered items are not the items needed")
    for order in allocation.orders:
        if order.needed != needed.get(order.item) or order.packs < order.needed:
            faults.append(f"{order.item}: {order.packs} packs ordered, {needed.get(order.item)} needed")
        if order.item in terms.stock and order.packs > terms.stock[order.item]:
            faults.append(f"{order.item}: {order.packs} packs ordered, stock {terms.stock[order.item]}")
        if order.unit_price != _tier_price(terms, order):
            faults.append(f"{order.item}: {order.unit_price} a pack is not the price of {order.packs} packs")
    spent = sum(order.packs * order.unit_price for order in allocation.orders)
    if spent != allocation.spent:
        faults.append(f"orders cost {spent}, written {allocation.spent}")
    if spent > terms.fund:
        faults.append(f"orders cost {spent}, the fund holds {terms.fund}")
    return faults


def _tier_price(terms: Terms, order: Order) -> int:
    price = terms.base[order.item]
    for first, lower in terms.tiers.get(order.item, ()):
        if order.packs >= first:
            price = lower
    return price


def _listed(column: Column, terms: Terms) -> int:
    return sum(terms.base[item] * count for item, count in column.packs)


def _person(person: Applicant, column: Column, terms: Terms, plans: Sequence[Column] | None) -> list[str]:
    faults = []
    listed = _listed(column, terms)
    if terms.cap is not None and listed > terms.cap:
        faults.append(f"{person.id}: {listed} is above the cap")
    if column.strain > person.strain_free:
        faults.append(f"{person.id}: more strain is left than with free fixes")
    if terms.floor is None or listed >= terms.floor or plans is None:
        return faults
    useful = [
        plan
        for plan in plans
        if plan.strain < person.strain_free and (terms.cap is None or _listed(plan, terms) <= terms.cap)
    ]
    if any(plan.strain < column.strain for plan in useful):
        faults.append(f"{person.id}: {listed} is below the floor, and more would have helped")
    return faults


def _shares(people: Mapping[str, Applicant], terms: Terms, allocation: Allocation) -> list[str]:
    faults = []
    listed: dict[str | None, int] = {}
    for one, column in allocation.chosen.items():
        group = people[one].group
        listed[group] = listed.get(group, 0) + _listed(column, terms)
    for group, part in terms.group_share.items():
        others = sum(money for other, money in listed.items() if other != group)
        if others > Fraction(terms.fund) * (1 - part):
            faults.append(f"group {group}: others are given {others}, which touches the part kept for it")
    return faults


def _sums(people: Mapping[str, Applicant], terms: Terms, allocation: Allocation) -> list[str]:
    faults = []
    weighted = sum(
        people[one].weight * (people[one].strain_free - column.strain)
        for one, column in allocation.chosen.items()
    )
    if weighted != allocation.weighted_relief:
        faults.append(f"weighted relief is {weighted}, written {allocation.weighted_relief}")
    value = weighted
    if terms.limit is not None:
        value = 0
        for one, column in allocation.chosen.items():
            free: int | None = people[one].strain_free
            after: int | None = column.strain
            if not terms.limit.of_strain:
                free, after = people[one].score_free, column.score
            value += free is not None and after is not None and free > terms.limit.most >= after
    if value != allocation.relief:
        faults.append(f"the policy's value is {value}, written {allocation.relief}")
    if allocation.bound < allocation.relief:
        faults.append(f"bound {allocation.bound} is below {allocation.relief}")
    return faults
