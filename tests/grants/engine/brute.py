"""Every allocation there is, one after the other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import combinations, product

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms

from .listed import ListedPool
from .one_piece import value
from .permitted import permitted

Preference = tuple[tuple[int, ...], int, int]


def cheapest_order(terms: FundTerms, item: str, needed: int) -> int | None:
    """Try every number of packs."""
    needed = max(0, needed - terms.spare.get(item, 0))
    starts = [(1, terms.base[item]), *terms.tiers.get(item, ())]
    most = terms.stock.get(item, max(needed, starts[-1][0]))
    costs = [
        packs * next(price for first, price in reversed(starts) if packs >= first)
        for packs in range(max(1, needed), most + 1)
    ]
    return min(costs, default=None) if needed else 0


def spent_on(columns: tuple[Column, ...], terms: FundTerms) -> int | None:
    needed: dict[str, int] = {}
    for column in columns:
        for item, count in column.packs:
            needed[item] = needed.get(item, 0) + count
    costs = [cheapest_order(terms, item, count) for item, count in needed.items()]
    return None if None in costs else sum(cost for cost in costs if cost is not None)


def spent_together(
    columns: tuple[Column, ...], terms: FundTerms, loose: Mapping[str, int], packs: Mapping[str, int]
) -> int | None:
    """The same where some things, each with its units a pack, are ordered for all together.

    A plan's ``choice`` tells how many units of them it takes; `loose` are those in store.
    """
    needed: Counter[str] = Counter()
    units: Counter[str] = Counter()
    for column in columns:
        needed.update({item: count for item, count in column.packs if item not in packs})
        units.update(column.choice if isinstance(column.choice, dict) else {})
    costs = [cheapest_order(terms, item, count) for item, count in needed.items()]
    bare = replace(terms, spare={})
    for item, count in units.items():
        costs.append(cheapest_order(bare, item, -(-max(0, count - loose.get(item, 0)) // packs[item])))
    return None if None in costs else sum(cost for cost in costs if cost is not None)


def keeps_shares(applicants: list[Applicant], columns: tuple[Column, ...], terms: FundTerms) -> bool:
    if not terms.group_share:
        return True
    # what lies in store, and what came back, was given to nobody
    given = {group: money for group, money in terms.spent_before.items() if group is not None}
    for person, column in zip(applicants, columns, strict=True):
        given[person.group or ""] = given.get(person.group or "", 0) + column.cost(terms.base)
    whole = terms.fund + sum(terms.spent_before.values())
    for count in range(1, 1 + len(terms.group_share)):
        for asking in combinations(terms.group_share, count):
            others = sum(money for group, money in given.items() if group not in asking)
            if others > whole - sum(whole * terms.group_share[group] for group in asking):
                return False
    return True


def keeps_group_caps(applicants: list[Applicant], columns: tuple[Column, ...], terms: FundTerms) -> bool:
    given: Counter[str] = Counter()
    for person, column in zip(applicants, columns, strict=True):
        given[person.group or ""] += column.cost(terms.base)
    return all(given[group] <= most for group, most in terms.group_cap.items())


Spent = Callable[[tuple[Column, ...], FundTerms], int | None]


def best_of_all(
    applicants: list[Applicant], pool: ListedPool, terms: FundTerms, spent: Spent = spent_on
) -> Preference | None:
    """Give value of the policy, weighted relief and less money of the best allocation, if any is allowed."""
    return every_best(applicants, pool, terms, spent)[0]


def every_best(
    applicants: list[Applicant], pool: ListedPool, terms: FundTerms, spent_by: Spent = spent_on
) -> tuple[Preference | None, set[frozenset[str]]]:
    """The same, with the ids of those who are given something in each allocation that is as good."""
    best: tuple[tuple[int, ...], int, int] | None = None
    served: set[frozenset[str]] = set()
    choices = [permitted(person, pool.people[person.id].plans, terms) for person in applicants]
    for columns in product(*choices):
        spent = spent_by(columns, terms)
        if spent is None or spent > terms.fund or not keeps_shares(applicants, columns, terms):
            continue
        if not keeps_group_caps(applicants, columns, terms):
            continue
        pairs = list(zip(applicants, columns, strict=True))
        relief = sum(person.weight * (person.strain_free - column.strain) for person, column in pairs)
        first: tuple[int, ...] = ()
        if terms.policy == "most_people":
            first = (sum(value(person, column, terms) for person, column in pairs),)
        elif terms.policy == "worst_off_first":
            first = tuple(-column.strain for column in sorted(columns, key=lambda one: -one.strain))
        key = (first, relief, -spent)
        if best is None or key > best:
            best, served = key, set()
        if key == best:
            served.add(frozenset(person.id for person, column in pairs if column.packs))
    return best, served
