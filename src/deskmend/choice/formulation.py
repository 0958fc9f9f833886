"""The integer program of a network.

x[d,o] picks an option.  A host is a set of variables whose joint state is written out: z over its cells is
at least 0, and for every variable in scope the cells that agree with a state sum to that state's column, so
z is the one cell that x names as soon as x is whole.  Links and tables live on hosts, and share them where
one scope holds another.  A table behind a gate has its own cells, which sum to the gate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from deskmend.choice.linear_model import LinearModel
from deskmend.choice.network import Factor, Kind, Link, Network, Scope, spread
from deskmend.choice.purchase import SharedItem, price_segments
from deskmend.choice.validation import BoolArray, IntArray

MOST_CLAUSES = 64
"""A mask that would need more rows than this gets cells of its own."""


@dataclass
class Host:
    """Variables whose cells are written out, with the node they determine, perhaps behind a gate."""

    scope: Scope
    cells: IntArray
    link: Link | None = None
    gate: tuple[int, int] | None = None

    def covers(self, scope: Scope, gate: tuple[int, int] | None) -> bool:
        """Tell whether a table over ``scope`` behind ``gate`` can be read off these cells."""
        if self.gate is not None and self.gate != gate:
            return False
        held = {*self.scope, self.link.node} if self.link is not None else set(self.scope)
        needed = set(scope)
        if gate is not None and self.gate is None:
            needed.add(gate[0])
        return needed <= held


@dataclass
class Formulation:
    """A linear model with the meaning of its columns.

    Parameters
    ----------
    network : Network
        What it states.
    model : LinearModel
        Columns, rows and the objectives ``value``, ``cost``, ``minutes`` and ``fixes``.
    picks : list of list of int
        Column of each state of each variable; columns of nodes are continuous.
    """

    network: Network
    model: LinearModel = field(default_factory=LinearModel)
    picks: list[list[int]] = field(default_factory=list)
    hosts: list[Host] = field(default_factory=list)


def formulate(network: Network) -> Formulation:
    """State a network as an integer program.

    Parameters
    ----------
    network : Network
        Reduced and not impossible.

    Returns
    -------
    Formulation
        Exact: its whole solutions are the allowed assignments, and each objective is what it says, the
        value less the network's offset.
    """
    formulation = Formulation(network)
    _columns(formulation)
    _make_hosts(formulation)
    for host in formulation.hosts:
        _tie(formulation, host)
    _masks(formulation)
    value: dict[int, int] = {}
    for factor in network.tables:
        _add_terms(value, _place(formulation, factor))
    formulation.model.objectives["value"] = value
    for number, limit in enumerate(network.limits):
        terms: dict[int, int] = {}
        for factor in limit.factors:
            _add_terms(terms, _place(formulation, factor))
        formulation.model.row(f"bound[{number}]", terms, "<=", limit.at_most)
    _money_and_work(formulation)
    return formulation


def _columns(formulation: Formulation) -> None:
    network, model = formulation.network, formulation.model
    linked = {link.node for link in network.links}
    for variable, name in enumerate(network.names):
        columns: list[int] = []
        if variable < network.decisions:
            options = network.problem.decisions[variable].options
            for position in network.kept[variable]:
                columns.append(model.column(f"x[{name},{options[position].name}]", integer=True))
            model.row(f"option[{name}]", dict.fromkeys(columns, 1), "=", 1)
        elif variable in linked:
            columns = [model.column(f"y[{name},{state}]") for state in range(network.sizes[variable])]
        formulation.picks.append(columns)


def _make_hosts(formulation: Formulation) -> None:
    network = formulation.network
    for link in network.links:
        if len(link.scope) == 1:
            _aggregate(formulation, link)
        else:
            formulation.hosts.append(_host(formulation, link.scope, link=link))
    factors = [*network.tables, *(factor for limit in network.limits for factor in limit.factors)]
    wanted: list[tuple[int, Scope, tuple[int, int] | None]] = []
    for factor in factors:
        if len(factor.scope) >= 2 or factor.gate is not None:
            wanted.append((factor.values.size, factor.scope, factor.gate))
    for scope, allowed in network.masks:
        if _clause_count(allowed) > MOST_CLAUSES:
            wanted.append((allowed.size, scope, None))
    # the largest first, so that smaller scopes find a host that holds them; without a gate before behind one
    for _, scope, gate in sorted(wanted, key=lambda want: (want[2] is not None, -want[0])):
        if not any(host.covers(scope, gate) for host in formulation.hosts):
            formulation.hosts.append(_host(formulation, scope, gate=gate))


def _host(
    formulation: Formulation, scope: Scope, link: Link | None = None, gate: tuple[int, int] | None = None
) -> Host:
    """Give every allowed cell of a scope a column; -1 stands where a mask forbids the cell."""
    network, model = formulation.network, formulation.model
    allowed = np.ones([network.sizes[v] for v in scope], dtype=np.bool_)
    if gate is None:
        for part, mask in network.masks:
            if set(part) <= set(scope):
                allowed = allowed & spread(mask, part, scope)
            elif link is not None and set(part) <= {*scope, link.node}:
                allowed = allowed & _seen_from(mask, part, scope, link)
    title = ",".join(network.names[v] for v in scope)
    if gate is not None:
        title += f"|{network.names[gate[0]]}={gate[1]}"
    cells = np.full(allowed.shape, -1, dtype=np.int64)
    for position in zip(*(axis.tolist() for axis in np.nonzero(allowed)), strict=True):
        cells[position] = model.column(f"z[{title},{'.'.join(str(state) for state in position)}]")
    return Host(scope, cells, link, gate)


def _seen_from(array: npt.NDArray[Kind], scope: Scope, host_scope: Scope, link: Link) -> npt.NDArray[Kind]:
    """Read an array over part of a host's variables and its node at every cell of the host."""
    index: list[IntArray] = []
    grid = np.indices([link.index.shape[link.scope.index(v)] for v in host_scope])
    for variable in scope:
        index.append(link.index if variable == link.node else grid[host_scope.index(variable)])
    return array[tuple(index)]


def _aggregate(formulation: Formulation, link: Link) -> None:
    """Tie a node over one variable straight to that variable."""
    name = formulation.network.names[link.node]
    for state, column in enumerate(formulation.picks[link.node]):
        terms = {
            formulation.picks[link.scope[0]][parent]: 1 for parent in np.flatnonzero(link.index == state)
        }
        formulation.model.row(f"node[{name},{state}]", {**terms, column: -1}, "=", 0)


def _tie(formulation: Formulation, host: Host) -> None:
    """Make the cells of a host agree with the states of its variables."""
    network, model, picks = formulation.network, formulation.model, formulation.picks
    title = ",".join(network.names[v] for v in host.scope)
    family = "cells"
    if host.gate is not None:
        family = "gated_cells"
        gate = picks[host.gate[0]][host.gate[1]]
        terms = dict.fromkeys(host.cells.ravel().tolist(), 1)
        model.row(f"gate[{title}|{network.names[host.gate[0]]}={host.gate[1]}]", {**terms, gate: -1}, "=", 0)
    for axis, variable in enumerate(host.scope):
        by_state = np.moveaxis(host.cells, axis, 0).reshape(network.sizes[variable], -1)
        for state, numbers in enumerate(by_state):
            terms = dict.fromkeys(numbers[numbers >= 0].tolist(), 1)
            model.row(
                f"{family}[{title};{network.names[variable]},{state}]",
                {**terms, picks[variable][state]: -1},
                "=" if host.gate is None else "<=",
                0,
            )
    if host.link is not None:
        name = network.names[host.link.node]
        for state, column in enumerate(picks[host.link.node]):
            numbers = host.cells[host.link.index == state]
            terms = dict.fromkeys(numbers[numbers >= 0].tolist(), 1)
            model.row(f"node[{name},{state}]", {**terms, column: -1}, "=", 0)


def _place(formulation: Formulation, factor: Factor) -> dict[int, int]:
    """Write a factor as coefficients of columns."""
    picks = formulation.picks
    if factor.gate is None and len(factor.scope) == 1:
        return dict(zip(picks[factor.scope[0]], factor.values.tolist(), strict=True))
    hosts = [host for host in formulation.hosts if host.covers(factor.scope, factor.gate)]
    host = min(hosts, key=lambda host: host.cells.size)
    scope, values = factor.scope, factor.values
    if factor.gate is not None and host.gate is None:
        scope, values = _behind_gate(formulation.network, factor)
    if host.link is not None and host.link.node in scope:
        seen = _seen_from(values, scope, host.scope, host.link)
    else:
        seen = np.broadcast_to(spread(values, scope, host.scope), host.cells.shape)
    real = host.cells >= 0
    return dict(zip(host.cells[real].tolist(), seen[real].tolist(), strict=True))


def _behind_gate(network: Network, factor: Factor) -> tuple[Scope, IntArray]:
    # reduction imports nothing from here, but keeps this rule, which both engines need
    from deskmend.choice.reduction import with_gate

    return with_gate(factor, network.sizes)


def _masks(formulation: Formulation) -> None:
    """State the masks that no host's missing cells state already."""
    network, model, picks = formulation.network, formulation.model, formulation.picks
    for scope, allowed in network.masks:
        if any(host.gate is None and host.covers(scope, None) for host in formulation.hosts):
            continue
        title = ",".join(network.names[v] for v in scope)
        for number, prefix in enumerate(_clauses(allowed)):
            terms = {picks[v][state]: 1 for v, state in zip(scope, prefix, strict=False)}
            barred = np.flatnonzero(~allowed[prefix])
            terms.update({picks[scope[-1]][state]: 1 for state in barred.tolist()})
            model.row(f"forbidden[{title};{number}]", terms, "<=", len(scope) - 1)


def _clauses(allowed: BoolArray) -> list[tuple[int, ...]]:
    """States of all variables but the last at which something is forbidden."""
    return [tuple(position) for position in np.argwhere(~allowed.all(axis=-1)).tolist()]


def _clause_count(allowed: BoolArray) -> int:
    return int((~allowed.all(axis=-1)).sum())


def _add_terms(terms: dict[int, int], more: dict[int, int]) -> None:
    for column, factor in more.items():
        if factor:
            terms[column] = terms.get(column, 0) + factor


def _money_and_work(formulation: Formulation) -> None:
    network, model, picks = formulation.network, formulation.model, formulation.picks
    cost: dict[int, int] = {}
    minutes: dict[int, int] = {}
    fixes: dict[int, int] = {}
    most_minutes = 0
    for variable in range(network.decisions):
        for terms, amounts in (
            (cost, network.prices[variable]),
            (minutes, network.minutes[variable]),
            (fixes, network.fixes[variable]),
        ):
            _add_terms(terms, dict(zip(picks[variable], amounts.tolist(), strict=True)))
        most_minutes += int(network.minutes[variable].max())
    for shared in network.shared:
        _add_terms(cost, _packs(formulation, shared))
    model.objectives.update({"cost": cost, "minutes": minutes, "fixes": fixes})
    problem = network.problem
    if problem.money is not None and cost:
        model.row("money", cost, "<=", problem.money)
    if problem.minutes is not None and most_minutes > problem.minutes:
        model.row("minutes", minutes, "<=", problem.minutes)


def _packs(formulation: Formulation, shared: SharedItem) -> dict[int, int]:
    """State how many packs of a shared item are bought; return what they cost."""
    model, item = formulation.model, shared.item
    use: dict[int, int] = {}
    for variable, units in shared.uses:
        _add_terms(use, dict(zip(formulation.picks[variable], units.tolist(), strict=True)))
    needed = max(0, -(-(shared.most - item.owned) // item.pack))
    cost: dict[int, int] = {}
    bought: dict[int, int] = {}
    segments = price_segments(item)
    chosen: list[int] = []
    for first, last, price in segments:
        # more than needed is bought only to reach a tier, and then just as many as open it
        most = max(needed, first) if last is None else min(last, max(needed, first))
        packs = model.column(f"packs[{item.name},{first}]", upper=most, integer=True)
        cost[packs] = price
        bought[packs] = item.pack
        if len(segments) > 1 or first > 1:
            tier = model.column(f"tier[{item.name},{first}]", integer=True)
            chosen.append(tier)
            model.row(f"tiers[{item.name},{first},most]", {packs: 1, tier: -most}, "<=", 0)
            model.row(f"tiers[{item.name},{first},least]", {packs: 1, tier: -first}, ">=", 0)
    if len(chosen) > 1:
        model.row(f"tiers[{item.name}]", dict.fromkeys(chosen, 1), "<=", 1)
    if needed:
        covered = {column: -units for column, units in use.items()}
        model.row(f"packs[{item.name}]", {**covered, **bought}, ">=", -item.owned)
    return cost


def whole_states(formulation: Formulation, values: Sequence[float]) -> list[int]:
    """Read the state of each decision off the columns of a solution.

    Parameters
    ----------
    formulation : Formulation
        What was solved.
    values : sequence of float
        Value of each column, near whole numbers where they must be whole.

    Returns
    -------
    list of int
        For each decision, the state whose column is largest.
    """
    return [
        max(range(len(columns)), key=lambda state, columns=columns: values[columns[state]])  # type: ignore[misc]
        for columns in formulation.picks[: formulation.network.decisions]
    ]
