"""The whole fund as one integer program for a solver of another family, written from the terms alone."""

from __future__ import annotations

import math
from itertools import combinations

from ortools.sat.python import cp_model

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms

from .listed import ListedPool
from .permitted import permitted


def most_by_one_program(
    applicants: list[Applicant], pool: ListedPool, terms: FundTerms
) -> tuple[int, int] | None:
    """Best value of the policy (most_relief or most_people), and the least money for it."""
    model = cp_model.CpModel()
    worth, money = [], []
    packs: dict[str, list[cp_model.LinearExprT]] = {}
    listed: dict[str | None, list[cp_model.LinearExprT]] = {}
    for person in applicants:
        taken = []
        for column in permitted(person, pool.people[person.id].plans, terms):
            x = model.new_bool_var("")
            taken.append(x)
            worth.append(value(person, column, terms) * x)
            listed.setdefault(person.group, []).append(column.cost(terms.base) * x)
            for item, count in column.packs:
                packs.setdefault(item, []).append(count * x)
        model.add_exactly_one(taken)
    for item, uses in packs.items():
        most = min(terms.stock.get(item, 10_000), 10_000)
        bought = model.new_int_var(0, most, item)
        model.add(bought >= sum(uses))
        cost = model.new_int_var(0, 10_000 * terms.base[item], "")
        starts = [(0, terms.base[item]), *terms.tiers.get(item, ())]
        ways = []
        for number, (first, price) in enumerate(starts):
            way = model.new_bool_var("")
            ways.append(way)
            model.add(bought >= first).only_enforce_if(way)
            if number + 1 < len(starts):
                model.add(bought < starts[number + 1][0]).only_enforce_if(way)
            model.add(cost == price * bought).only_enforce_if(way)
        model.add_exactly_one(ways)
        money.append(cost)
    spent = sum(money)
    model.add(spent <= terms.fund)
    for count in range(1, 1 + len(terms.group_share)):
        for asking in combinations(terms.group_share, count):
            others = [x for group, uses in listed.items() if group not in asking for x in uses]
            model.add(sum(others) <= math.floor(terms.fund * (1 - sum(terms.group_share[g] for g in asking))))
    for group, most in terms.group_cap.items():
        model.add(sum(listed.get(group, [])) <= most)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    model.maximize(sum(worth))
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    assert status == cp_model.OPTIMAL
    best = round(solver.objective_value)
    model.add(sum(worth) == best)
    model.minimize(spent)
    assert solver.solve(model) == cp_model.OPTIMAL
    return best, round(solver.objective_value)


def value(person: Applicant, column: Column, terms: FundTerms) -> int:
    if terms.limit is None:
        return person.weight * (person.strain_free - column.strain)
    if terms.limit.score == "strain":
        return int(person.strain_free > terms.limit.most >= column.strain)
    assert person.score_free is not None
    return int(
        person.score_free > terms.limit.most and column.score is not None and column.score <= terms.limit.most
    )
