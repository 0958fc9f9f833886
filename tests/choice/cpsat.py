"""An independent oracle: the same problem stated for OR-Tools' CP-SAT, which searches in integers.

It shares no code with the engines: it reads the problem's records and states tables and nodes as allowed
assignments, gates as enforcement, and packs with their tiers as a table over the total use.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from ortools.sat.python import cp_model

from deskmend.choice import Problem, Table

from .brute import price


def cpsat_best(problem: Problem, seconds: float = 60.0) -> tuple[int, int] | None:
    """Least value and then least cost, or (with cost first) the value at least cost and least minutes.

    Returns None when nothing is allowed; fails when CP-SAT cannot prove an answer in time.
    """
    stated = _Stated(problem)
    order = (
        (stated.cost, stated.minutes, stated.value)
        if problem.first == "cost"
        else (stated.value, stated.cost)
    )
    reached: dict[int, int] = {}
    for objective in order:
        stated.model.minimize(objective)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.max_time_in_seconds = seconds
        status = solver.solve(stated.model)
        if status == cp_model.INFEASIBLE:
            return None
        assert status == cp_model.OPTIMAL, solver.status_name(status)
        reached[id(objective)] = round(solver.objective_value)
        stated.model.add(objective == reached[id(objective)])
    return reached[id(stated.value)], reached[id(stated.cost)]


class _Stated:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.model = cp_model.CpModel()
        self.variables: dict[str, cp_model.IntVar] = {}
        self.sizes: dict[str, int] = {}
        self.is_at: dict[tuple[str, int], cp_model.IntVar] = {}
        for decision in problem.decisions:
            self._variable(decision.name, len(decision.options))
        for node in problem.nodes:
            self._variable(node.name, node.size)
            scope = [self.variables[v] for v in node.scope]
            rows = [(*cell, int(node.index[cell])) for cell in np.ndindex(node.index.shape)]
            self.model.add_allowed_assignments([*scope, self.variables[node.name]], rows)
        for mask in problem.masks:
            rows = [cell for cell in np.ndindex(mask.allowed.shape) if mask.allowed[cell]]
            self._only([self.variables[v] for v in mask.scope], rows)
        for entry in problem.forbidden:
            literals = [self._at(v, self._state(v, s)) for v, s in entry.items()]
            self.model.add_bool_or([literal.negated() for literal in literals])
        for bound in problem.bounds:
            self.model.add(sum(self._worth(table) for table in bound.tables) <= bound.at_most)
        self.value = self._named(sum(self._worth(table) for table in problem.tables))
        self.minutes = self._named(self._sum("minutes"))
        self.cost = self._named(sum(self._spent(item) for item in problem.items))
        if problem.money is not None:
            self.model.add(self.cost <= problem.money)
        if problem.minutes is not None:
            self.model.add(self.minutes <= problem.minutes)

    def _variable(self, name: str, size: int) -> None:
        self.sizes[name] = size
        self.variables[name] = self.model.new_int_var(0, size - 1, name)

    def _named(self, expression: object) -> cp_model.IntVar:
        total = self.model.new_int_var(-(2**45), 2**45, "")
        self.model.add(total == expression)
        return total

    def _state(self, variable: str, state: str | int) -> int:
        for decision in self.problem.decisions:
            if decision.name == variable:
                return [option.name for option in decision.options].index(state)
        return int(state)

    def _at(self, variable: str, state: int) -> cp_model.IntVar:
        key = variable, state
        if key not in self.is_at:
            literal = self.model.new_bool_var(f"{variable}={state}")
            self.model.add(self.variables[variable] == state).only_enforce_if(literal)
            self.model.add(self.variables[variable] != state).only_enforce_if(literal.negated())
            self.is_at[key] = literal
        return self.is_at[key]

    def _only(self, variables: list[cp_model.IntVar], rows: list[tuple[int, ...]]) -> None:
        if variables and rows:
            self.model.add_allowed_assignments(variables, rows)
        elif not rows:
            self.model.add_bool_or([])

    def _worth(self, table: Table) -> cp_model.IntVar | int:
        if not table.scope:
            worth: cp_model.IntVar | int = int(table.values)
        else:
            low, high = int(table.values.min()), int(table.values.max())
            worth = self.model.new_int_var(low, high, "")
            rows = [(*cell, int(table.values[cell])) for cell in np.ndindex(table.values.shape)]
            self.model.add_allowed_assignments([*(self.variables[v] for v in table.scope), worth], rows)
        if table.when is None:
            return worth
        open_ = self._at(table.when[0], self._state(*table.when))
        counted = self.model.new_int_var(min(0, int(table.values.min())), max(0, int(table.values.max())), "")
        self.model.add(counted == worth).only_enforce_if(open_)
        self.model.add(counted == 0).only_enforce_if(open_.negated())
        return counted

    def _amounts(self, decision: int, amounts: list[int]) -> cp_model.IntVar:
        amount = self.model.new_int_var(0, max(amounts), "")
        variable = self.variables[self.problem.decisions[decision].name]
        self.model.add_allowed_assignments([variable, amount], list(enumerate(amounts)))
        return amount

    def _sum(self, field: str) -> object:
        return sum(
            self._amounts(d, [getattr(option, field) for option in decision.options])
            for d, decision in enumerate(self.problem.decisions)
        )

    def _spent(self, item: object) -> cp_model.IntVar | int:
        uses = [[option.use.get(item.name, 0) for option in d.options] for d in self.problem.decisions]
        totals = {0}
        for use in uses:
            totals = {total + units for total, units in product(totals, set(use))}
        prices = {total: price(item, total) for total in sorted(totals)}
        rows = [(total, cost) for total, cost in prices.items() if cost is not None]
        if max(totals) == 0:
            return 0
        used = self.model.new_int_var(0, max(totals), "")
        self.model.add(used == sum(self._amounts(d, use) for d, use in enumerate(uses)))
        spent = self.model.new_int_var(0, max((cost for _, cost in rows), default=0), "")
        self._only([used, spent], rows)
        return spent
