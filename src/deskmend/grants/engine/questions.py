"""What people ask when a fund is shared: who waits for what, what more money does, what scarcity costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from deskmend.grants.engine.arrays import Aim
from deskmend.grants.engine.master import share_sheet
from deskmend.grants.engine.prices import Task, segments
from deskmend.grants.engine.pricing import FULL_UP_TO, Found, Search
from deskmend.grants.people.columns import Applicant, Column, pareto
from deskmend.grants.terms import Allocation, MoreMoney, StockCost, Terms, Waiting

__all__ = ["more_money", "stock_costs", "waiting_list"]

MOST_STOCKS = 12
"""Most items for which the cost of scarcity is worked out."""


def more_money(
    search: Search, aim: Aim, allocation: Allocation, extra: int, items: Sequence[str]
) -> MoreMoney | None:
    """Say what a little more money would add: found over the plans known, and proven to be the most."""
    if search.bound_under is None:
        return None
    richer = replace(search.terms, fund=search.terms.fund + extra)
    most = search.bound_under(richer)
    least = _again(search, aim, richer, items) - allocation.relief
    least = max(0, least)
    return MoreMoney(extra, least, max(least, most - allocation.relief))


def stock_costs(
    search: Search, aim: Aim, allocation: Allocation, items: Sequence[str]
) -> tuple[StockCost, ...]:
    """Say for each item whose stock is used up what enough of it would add."""
    found = []
    used_up = [order.item for order in allocation.orders if order.packs == search.terms.stock.get(order.item)]
    for item in used_up[:MOST_STOCKS]:
        stock = {one: most for one, most in search.terms.stock.items() if one != item}
        plenty = replace(search.terms, stock=stock)
        least = max(0, _again(search, aim, plenty, items) - allocation.relief)
        most: int | None = None
        if item not in items:
            most = allocation.bound - allocation.relief
        elif len(search.applicants) <= FULL_UP_TO:
            most = search.bound_with(aim, plenty, items) - allocation.relief
        found.append(StockCost(item, least, None if most is None else max(least, most)))
    return tuple(found)


def _again(search: Search, aim: Aim, terms: Terms, items: Sequence[str]) -> int:
    """Share anew under other terms, over the plans known."""
    task = Task(search.sheet(items), aim, terms)
    market = {item: segments(terms, item) for item in items}
    outcome = share_sheet(task, market, search.deadline, search.exact)
    if outcome.shared is None:
        return 0
    chosen = [task.sheet.columns[int(number)] for number in outcome.shared.numbers]
    over = [
        item
        for item, most in terms.stock.items()
        if item not in items and sum(dict(column.packs).get(item, 0) for column in chosen) > most
    ]
    if over:
        return _again(search, aim, terms, sorted([*items, *over]))
    return outcome.shared.value


def waiting_list(search: Search, allocation: Allocation, found: Found) -> tuple[Waiting, ...]:
    """List those who get nothing that costs money though something would help, and when they would.

    An estimate, by the order in which the policy serves people at the prices of this allocation: by relief
    for money (scarce packs at what they are worth), by strain left, or by money to be brought under the
    limit.  The fund is all that is spent up to and with the first step for that person.
    """
    terms = search.terms
    paid = {**terms.base, **{order.item: order.unit_price for order in allocation.orders}}
    worth = dict(paid)
    if found.duals is not None and found.duals.money and not found.duals.free:
        worth.update(zip(found.items, found.duals.prices, strict=True))
    steps: list[tuple[float, str, int, bool]] = []
    helped: set[str] = set()
    for person in search.applicants:
        plans = [
            column
            for column in search.known[person.id].values()
            if search.rules.admitted(person, column.strain, column.cost(terms.base)) is not None
        ]
        mine = _steps(person, plans, terms, worth, paid)
        steps += [(rank, person.id, money, not number) for number, (rank, money) in enumerate(mine)]
        if not mine or allocation.chosen[person.id].packs:
            helped.add(person.id)
    steps.sort(key=lambda one: (-one[0], one[1]))
    spent = np.cumsum([money for _, _, money, _ in steps]).tolist()
    listed = []
    for (_, one, money, first), total in zip(steps, spent, strict=True):
        if first and one not in helped:
            listed.append(Waiting(one, max(int(total), allocation.spent + money, terms.fund + 1), False))
    shown = {one.id for one in listed} | helped
    listed.sort(key=lambda one: (one.fund or 0, one.id))
    return (*listed, *(Waiting(one.id, None, False) for one in search.applicants if one.id not in shown))


def _steps(
    person: Applicant,
    plans: Sequence[Column],
    terms: Terms,
    worth: Mapping[str, int],
    paid: Mapping[str, int],
) -> list[tuple[float, int]]:
    """Steps from the free plan upwards: how soon the policy takes each, and its money [minor units]."""
    frontier = [plan for plan in pareto(plans, worth) if plan.packs and plan.strain < person.strain_free]
    if terms.limit is not None:
        limit = terms.limit
        kept = [plan for plan in plans if limit.kept(plan.strain, plan.score)]
        if not kept or limit.kept(person.strain_free, person.score_free):
            return []
        least = min(plan.cost(paid) for plan in kept)
        return [(-float(least), least)]
    steps: list[tuple[float, int]] = []
    strain, cost, money = person.strain_free, 0, 0
    while True:
        ahead = [plan for plan in frontier if plan.strain < strain]
        if not ahead:
            return steps
        if terms.policy == "worst_off_first":
            plan = ahead[0]
            rank = float(strain)
        else:
            plan = max(ahead, key=lambda one: _rate(person, strain - one.strain, one.cost(worth) - cost))
            rank = _rate(person, strain - plan.strain, plan.cost(worth) - cost)
        steps.append((rank, max(0, plan.cost(paid) - money)))
        strain, cost, money = plan.strain, plan.cost(worth), max(money, plan.cost(paid))


def _rate(person: Applicant, relief: int, money: int) -> float:
    return person.weight * relief / max(1, money)
