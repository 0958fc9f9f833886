"""The integer program of a network.

x[d,o] picks an option.  A host is a set of variables whose joint state is written out: z over its cells is
at least 0, and for every variable in scope the cells that agree with a state sum to that state's column, so
z is the one cell that x names as soon as x is whole.  Links and tables live on hosts, and share them where
one scope holds another.  A table behind a gate has its own cells, which sum to the gate.

A node with almost as many states as its scope has cells costs a row and a column for each state and saves
little; where only one table looks at it, that is read straight off the node's own scope.  Rows of agreement
are implied as soon as the options are whole, so they change no answer.  But without them the solver's
relaxation may mix cells of one host in a way that contradicts another, and its bound is far too low.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from deskmend.choice.network import (
    Factor,
    Link,
    Network,
    Number,
    VariableNumbers,
    added_up,
    open_gates,
    spread,
    variables_used,
    with_gate,
)
from deskmend.choice.problem import BoolArray, IntArray
from deskmend.choice.program.solver import LinearModel, Sense
from deskmend.choice.purchases import SharedItem, price_segments

ROOM = 2
"""A node goes when the table without it has at most so many times the cells there were with it."""

MOST_CLAUSES = 64
"""A mask that would need more rows than this gets cells of its own."""

MOST_AGREEMENT_ROWS = 1000
"""Overlaps with more joint states than this are left to agree variable by variable."""


def without_idle_nodes(network: Network) -> Network:
    """Write tables straight over the scope of nodes that nothing else looks at, where that is hardly larger.

    The network is left as it is; it comes back with fewer nodes and tables over one scope added up.
    """
    links, tables = list(network.links), list(network.tables)
    fixed = variables_used(scope for scope, _ in network.masks)
    fixed |= variables_used(factor.scope for limit in network.limits for factor in limit.factors)
    fixed |= {factor.gate[0] for factor in network.factors if factor.gate is not None}
    for link in reversed(network.links):
        looked_at = fixed | variables_used(other.scope for other in links if other is not link)
        users = [factor for factor in tables if link.node in factor.scope]
        if link.node in looked_at or len(users) != 1 or len(link.scope) < 2:
            continue
        (user,) = users
        scope = tuple(sorted({*user.scope, *link.scope} - {link.node}))
        if network.cells(scope) <= ROOM * (link.index.size + user.values.size):
            written = _written_out(network, user, link, scope)
            rest = [factor for factor in tables if factor is not user]
            tables = added_up([*rest, *open_gates([written], network.sizes)])
            links = [other for other in links if other is not link]
    return replace(network, links=links, tables=tables)


def _written_out(network: Network, factor: Factor, link: Link, scope: VariableNumbers) -> Factor:
    """Write a table over a scope with the link's instead of the node."""
    shape = [network.sizes[v] for v in scope]
    grid = dict(zip(scope, np.indices(shape, sparse=True), strict=True))
    grid[link.node] = link.index[tuple(grid[v] for v in link.scope)]
    values: IntArray = factor.values[tuple(grid[v] for v in factor.scope)]
    return Factor(scope, np.broadcast_to(values, shape), factor.gate)


@dataclass
class Host:
    """Variables whose cells are written out, with the node they determine, perhaps behind a gate."""

    scope: VariableNumbers
    cells: IntArray
    link: Link | None = None
    gate: tuple[int, int] | None = None

    @property
    def variables(self) -> set[int]:
        """Its variables and its node."""
        return {*self.scope, self.link.node} if self.link is not None else set(self.scope)

    def covers(self, scope: VariableNumbers, gate: tuple[int, int] | None) -> bool:
        """Tell whether a table over ``scope`` behind ``gate`` can be read off these cells."""
        if self.gate is not None and self.gate != gate:
            return False
        needed = {*scope, gate[0]} if gate is not None and self.gate is None else set(scope)
        return needed <= self.variables


@dataclass
class Formulation:
    """A linear model with the meaning of its columns.

    The model has the objectives ``value``, ``cost``, ``minutes`` and ``fixes``; ``picks`` holds the column of
    each state of each variable, those of nodes continuous.
    """

    network: Network
    model: LinearModel = field(default_factory=LinearModel)
    picks: list[list[int]] = field(default_factory=list)
    hosts: list[Host] = field(default_factory=list)


def formulate(network: Network) -> Formulation:
    """State a network, reduced and not impossible, as an integer program.

    Exact: its whole solutions are the allowed assignments, and each objective is what it says, the value less
    the network's offset.
    """
    formulation = Formulation(network)
    _columns(formulation)
    _make_hosts(formulation)
    for host in formulation.hosts:
        _tie(formulation, host)
    _masks(formulation)
    objectives = formulation.model.objectives
    objectives["value"] = _sum_of(formulation, network.tables)
    for name, amounts in (("cost", network.prices), ("minutes", network.minutes), ("fixes", network.fixes)):
        terms: dict[int, int] = {}
        for columns, figures in zip(formulation.picks[: network.decisions], amounts, strict=True):
            _add_terms(terms, dict(zip(columns, figures.tolist(), strict=True)))
        if name == "cost":
            for shared in network.shared:
                _add_terms(terms, _packs(formulation, shared))
        objectives[name] = terms
    _state_limits(formulation)
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
    wanted: list[tuple[int, VariableNumbers, tuple[int, int] | None]] = []
    for factor in network.factors:
        if len(factor.scope) >= 2 or factor.gate is not None:
            wanted.append((factor.values.size, factor.scope, factor.gate))
    for scope, allowed in network.masks:
        if len(_clauses(allowed)) > MOST_CLAUSES:
            wanted.append((allowed.size, scope, None))
    # The largest first, so that smaller scopes find a host that holds them; without a gate before behind one.
    for _, scope, gate in sorted(wanted, key=lambda want: (want[2] is not None, -want[0])):
        if not any(host.covers(scope, gate) for host in formulation.hosts):
            formulation.hosts.append(_host(formulation, scope, gate=gate))


def _host(
    formulation: Formulation,
    scope: VariableNumbers,
    link: Link | None = None,
    gate: tuple[int, int] | None = None,
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


def _seen_from(
    array: npt.NDArray[Number], scope: VariableNumbers, host_scope: VariableNumbers, link: Link
) -> npt.NDArray[Number]:
    """Read an array over part of a host's variables and its node at every cell of the host."""
    grid = dict(zip(host_scope, np.indices(link.index.shape), strict=True)) | {link.node: link.index}
    seen: npt.NDArray[Number] = array[tuple(grid[variable] for variable in scope)]
    return seen


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


def _sum_of(formulation: Formulation, factors: Sequence[Factor]) -> dict[int, int]:
    """Write the sum of some factors as coefficients of columns."""
    terms: dict[int, int] = {}
    for factor in factors:
        _add_terms(terms, _place(formulation, factor))
    return terms


def _place(formulation: Formulation, factor: Factor) -> dict[int, int]:
    """Write a factor as coefficients of columns."""
    picks = formulation.picks
    if factor.gate is None and len(factor.scope) == 1:
        return dict(zip(picks[factor.scope[0]], factor.values.tolist(), strict=True))
    hosts = [host for host in formulation.hosts if host.covers(factor.scope, factor.gate)]
    host = min(hosts, key=lambda host: host.cells.size)
    if host.gate is None:
        factor = with_gate(factor, formulation.network.sizes)
    if host.link is not None and host.link.node in factor.scope:
        seen = _seen_from(factor.values, factor.scope, host.scope, host.link)
    else:
        seen = np.broadcast_to(spread(factor.values, factor.scope, host.scope), host.cells.shape)
    real = host.cells >= 0
    return dict(zip(host.cells[real].tolist(), seen[real].tolist(), strict=True))


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


def _add_terms(terms: dict[int, int], more: dict[int, int]) -> None:
    for column, factor in more.items():
        if factor:
            terms[column] = terms.get(column, 0) + factor


def _state_limits(formulation: Formulation) -> None:
    network, model = formulation.network, formulation.model
    for limit in network.limits:
        if limit.resource == "cost":
            if model.objectives["cost"]:
                model.row("money", model.objectives["cost"], "<=", limit.at_most)
        elif limit.resource == "minutes":
            model.row("minutes", model.objectives["minutes"], "<=", limit.at_most)
        else:
            model.row(f"bound[{limit.resource}]", _sum_of(formulation, limit.factors), "<=", limit.at_most)


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
        # More than needed is bought only to reach a tier, and then just as many as open it.
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


def whole_states(formulation: Formulation, values: Sequence[float]) -> tuple[int, ...]:
    """Read the state of each decision off the columns of a solution: that whose column is largest."""
    decisions = formulation.picks[: formulation.network.decisions]
    return tuple(int(np.argmax([values[column] for column in columns])) for columns in decisions)


def add_agreement(formulation: Formulation) -> None:
    """Add rows that make hosts agree on what they share as a whole, not only variable by variable.

    Hosts are joined along a spanning forest of the largest overlaps, as in a junction tree.
    """
    hosts = formulation.hosts
    overlaps = []
    for later, host in enumerate(hosts):
        for earlier in range(later):
            shared = tuple(sorted(host.variables & hosts[earlier].variables))
            gates = {gate for gate in (host.gate, hosts[earlier].gate) if gate is not None}
            if len(shared) >= 2 and len(gates) <= 1:
                overlaps.append((shared, later, earlier))
    overlaps.sort(key=lambda overlap: -len(overlap[0]))
    group = list(range(len(hosts)))
    for shared, later, earlier in overlaps:
        if group[later] != group[earlier] and _agree(formulation, shared, later, earlier):
            old = group[later]
            group = [group[earlier] if member == old else member for member in group]


def _agree(formulation: Formulation, shared: VariableNumbers, later: int, earlier: int) -> bool:
    """Make two hosts agree on what they share; False when that takes too many rows."""
    first, second = formulation.hosts[later], formulation.hosts[earlier]
    first_state, first_column = _states(formulation, first, shared)
    second_state, second_column = _states(formulation, second, shared)
    states = np.union1d(first_state, second_state)
    if states.size > MOST_AGREEMENT_ROWS:
        return False
    names = ",".join(formulation.network.names[variable] for variable in shared)
    sense: Sense = "="
    if first.gate != second.gate:
        # Behind its gate a host has the same cells or none.
        sense = "<=" if second.gate is None else ">="
    for state in states.tolist():
        terms = dict.fromkeys(first_column[first_state == state].tolist(), 1)
        terms.update(dict.fromkeys(second_column[second_state == state].tolist(), -1))
        formulation.model.row(f"agreement[{names};{later},{earlier},{state}]", terms, sense, 0)
    return True


def _states(formulation: Formulation, host: Host, shared: VariableNumbers) -> tuple[IntArray, IntArray]:
    """Joint state of the shared variables at every cell of a host that is allowed, and its column."""
    grid: dict[int, IntArray] = dict(zip(host.scope, np.indices(host.cells.shape, sparse=True), strict=True))
    if host.link is not None:
        grid[host.link.node] = host.link.index[tuple(grid[variable] for variable in host.link.scope)]
    state = np.zeros(host.cells.shape, dtype=np.int64)
    for variable in shared:
        state = state * formulation.network.sizes[variable] + grid[variable]
    real = host.cells >= 0
    return state[real], host.cells[real]
