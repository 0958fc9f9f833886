"""A whole fund as one integer program: everybody's exact tables, the fund, the stock and the tiers in it.

Nothing of the engine that shares a fund is used: the problems of all people become one problem of choice,
and HiGHS gets the program made of it. Packs are opened for each person; tiers and stock count over the
sum of all packs. Only the value is asked for, not the order of preference among equals.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from deskmend.choice.network import build
from deskmend.choice.problem import Bound, Decision, Item, Mask, Node, Option, Problem, Table
from deskmend.choice.program.formulation import add_agreement, formulate, whole_states, without_idle_nodes
from deskmend.choice.program.levels import BOUND_TOLERANCE
from deskmend.choice.program.solver import Backend
from deskmend.choice.result import evaluate
from deskmend.grants.people.columns import WEIGHT_UNIT
from deskmend.grants.people.plans import without_tiers
from deskmend.intake.applicants import load_applicants
from deskmend.intake.catalog import load_catalog
from deskmend.intake.prices import PriceTable
from deskmend.planning.ready_case import prepare

Tiers = Mapping[str, Sequence[tuple[int, int]]]


@dataclass(frozen=True)
class OnePiece:
    """What one program says.

    Attributes
    ----------
    value : int or None
        Best sum found, scored again in whole numbers; None where nothing was found that holds.
    bound : int or None
        What no sum is below, as the solver claims.
    columns, rows : int
        Size of the program [-].
    """

    value: int | None
    bound: int | None
    columns: int
    rows: int


def joined(people: Mapping[str, Problem], fund: int, stock: Mapping[str, int], tiers: Tiers) -> Problem:
    """Make one problem of the problems of many people.

    Parameters
    ----------
    people : mapping of str to Problem
        By id; the limit of minutes is each one's own. Items with a price have neither stock nor tiers.
    fund : int
        Money for all [minor units].
    stock : mapping of str to int
        Most packs that can be had, over all people [-].
    tiers : mapping of str to sequence of (int, int)
        (from_packs, price of each pack [minor units]), over all people.

    Returns
    -------
    Problem
        Its money is the fund, and its value the sum of all values.
    """
    parts = [_Part(who, problem) for who, problem in people.items()]
    prices: dict[str, int] = {}
    for part in parts:
        for name, price in part.prices.items():
            if prices.setdefault(name, price) != price:
                raise ValueError(f"{name}: two prices of one item")
    bought = [
        Item(name, price, stock=stock.get(name), tiers=tuple(tiers.get(name, ())))
        for name, price in sorted(prices.items())
    ]
    return Problem(
        decisions=[one for part in parts for one in part.decisions],
        items=[*bought, *(one for part in parts for one in part.items)],
        tables=[one for part in parts for one in part.tables],
        forbidden=[one for part in parts for one in part.forbidden],
        money=fund,
        nodes=[one for part in parts for one in part.nodes],
        masks=[one for part in parts for one in part.masks],
        bounds=[one for part in parts for one in part.bounds],
    )


class _Part:
    """One person's share of the problem, every name with the person's id before it."""

    def __init__(self, who: str, problem: Problem) -> None:
        self.who = who
        self.prices: dict[str, int] = {}
        self.items: list[Item] = []
        self.masks = [Mask(self._own(m.scope), m.allowed, m.implied) for m in problem.masks]
        self.tables = [self._table(table) for table in problem.tables]
        self.nodes = [Node(self._name(n.name), self._own(n.scope), n.index, n.size) for n in problem.nodes]
        self.forbidden = [
            {self._name(name): state for name, state in one.items()} for one in problem.forbidden
        ]
        self.bounds = [Bound([self._table(t) for t in b.tables], b.at_most) for b in problem.bounds]
        if problem.minutes is not None:
            work = [
                Table((self._name(d.name),), np.array([o.minutes for o in d.options], dtype=np.int64))
                for d in problem.decisions
            ]
            self.bounds.append(Bound(work, problem.minutes))
        uses: dict[tuple[str, str], dict[str, int]] = {}
        packs: list[Decision] = []
        for item in problem.items:
            users = [d for d in problem.decisions if any(o.use.get(item.name) for o in d.options)]
            if users:
                packs += self._bought(item, users, uses)
        own = [
            Decision(self._name(d.name), [replace(o, use=uses.get((d.name, o.name), {})) for o in d.options])
            for d in problem.decisions
        ]
        self.decisions = own + packs

    def _name(self, name: str) -> str:
        return f"{self.who}/{name}"

    def _own(self, names: Sequence[str]) -> tuple[str, ...]:
        return tuple(self._name(name) for name in names)

    def _table(self, table: Table) -> Table:
        when = None if table.when is None else (self._name(table.when[0]), table.when[1])
        return Table(self._own(table.scope), table.values, when, table.group)

    def _bought(
        self, item: Item, users: Sequence[Decision], uses: dict[tuple[str, str], dict[str, int]]
    ) -> list[Decision]:
        """Note what each option takes of an item; a decision on packs where several decisions take of it."""

        def take(name: str, units: Mapping[tuple[str, str], int]) -> None:
            for option, count in units.items():
                if count:
                    uses.setdefault(option, {})[name] = count

        def packs_for(units: int) -> int:
            return max(0, -(-(units - item.owned) // item.pack))

        units = {(d.name, o.name): o.use.get(item.name, 0) for d in users for o in d.options}
        most = packs_for(sum(max(o.use.get(item.name, 0) for o in d.options) for d in users))
        own = self._name(item.name)
        if item.price is None:
            self.items.append(replace(item, name=own))
            take(own, units)
            return []
        if not most:
            return []
        if item.stock is not None or item.tiers:
            raise ValueError(f"{own}: stock and tiers belong to all together")
        self.prices[item.name] = item.price
        if len(users) == 1:
            take(item.name, {option: packs_for(count) for option, count in units.items()})
            return []
        # Packs not opened take up room of a store that holds what is owned and all packs there could be.
        self.items.append(Item(own, None, owned=item.owned + most * item.pack))
        take(own, units)
        packs = Decision(
            self._name(f"packs of {item.name}"),
            [
                Option(str(count), {item.name: count, own: (most - count) * item.pack}, is_fix=False)
                for count in range(most + 1)
            ],
        )
        counts = np.arange(most + 1)
        for user in users:
            # It follows from the store, but the solver's relaxation does not see it.
            least = np.array([packs_for(units[user.name, option.name]) for option in user.options])
            enough = np.asarray(counts[None, :] >= least[:, None])
            self.masks.append(Mask((self._name(user.name), packs.name), enough, implied=True))
        return [packs]


def least_value(problem: Problem, seconds: float | None) -> OnePiece:
    """Find the least value of a problem by one integer program.

    Parameters
    ----------
    problem : Problem
        Any.
    seconds : float or None
        Time that building the program and solving it may take together [s].
    """
    end = None if seconds is None else time.monotonic() + seconds
    network = build(problem)
    if network.impossible:
        return OnePiece(None, None, 0, 0)
    formulation = formulate(without_idle_nodes(network))
    add_agreement(formulation)
    model = formulation.model
    backend = Backend(model)
    size = len(model.names), len(model.rows)
    objective = model.objectives["value"]
    unit = math.gcd(*objective.values()) or 1
    left = None if end is None else max(0.0, end - time.monotonic())
    outcome = backend.minimise({column: factor // unit for column, factor in objective.items()}, left)
    bound = None
    if outcome.bound is not None:
        bound = math.ceil(outcome.bound - BOUND_TOLERANCE) * unit + formulation.network.offset
    if outcome.values is None:
        return OnePiece(None, bound, *size)
    scored = evaluate(problem, network.names_of(whole_states(formulation, outcome.values)))
    if scored.violations:
        return OnePiece(None, bound, *size)
    # The bound may lie a hair above what is reached, the solver's numbers being what they are.
    return OnePiece(scored.value, None if bound is None else min(bound, scored.value), *size)


def fund_in_one_piece(table: Path, prices: PriceTable, fund: int, seconds: float | None) -> OnePiece:
    """Share a fund for most relief by one integer program.

    Parameters
    ----------
    table : Path
        Applicants, all of whom count once.
    prices : PriceTable
        With tiers and stock.
    fund : int
        Money [minor units].
    seconds : float or None
        Time it may take from here on [s].

    Returns
    -------
    OnePiece
        Value and bound are sums of strain left [millionths of h/day].
    """
    end = None if seconds is None else time.monotonic() + seconds
    catalog = load_catalog()
    listed = without_tiers(prices)
    people, fixed = {}, 0
    for row in load_applicants(table, catalog).people:
        if row.weight != WEIGHT_UNIT:
            raise ValueError(f"{row.id}: everybody has to count once")
        case = row.case
        ready = prepare(case, catalog, listed)
        people[row.id] = ready.problem(None, case.means.minutes)
        fixed += ready.fixed_strain
    stock = {name: item.stock for name, item in prices.items.items() if item.stock is not None}
    tiers = {name: [(t.from_packs, t.price) for t in item.tiers] for name, item in prices.items.items()}
    problem = joined(people, fund, stock, tiers)
    found = least_value(problem, None if end is None else max(0.0, end - time.monotonic()))
    return replace(
        found,
        value=None if found.value is None else found.value + fixed,
        bound=None if found.bound is None else found.bound + fixed,
    )
