"""Removal of what cannot matter from a network: options, node states, variables, tables.

A problem in numbers: variables, tables, links and masks over small integer domains.

Both engines start from this form.  Building it removes what cannot matter: options that are forbidden
outright or never better than another, node states that cannot occur, variables that have one state left.
Nothing here loses an assignment that could be best.

Charging of items option by option wherever that is exact.

Dropping options that no limit of money or minutes would ever let through, whatever else is taken.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from deskmend.choice.problem import BoolArray, IntArray, Item, Mask, Option, Problem, Table
from deskmend.choice.purchases import UNAVAILABLE, SharedItem, cost_of, is_linear
from deskmend.choice.result import packs_for

Scope = tuple[int, ...]
Kind = TypeVar("Kind", bound=np.generic)


@dataclass
class Factor:
    """A table over variable numbers in rising order, perhaps behind a gate (variable, state)."""

    scope: Scope
    values: IntArray
    gate: tuple[int, int] | None = None


@dataclass
class Link:
    """How the state of a node follows from the variables in its scope."""

    node: int
    scope: Scope
    index: IntArray


@dataclass
class SideLimit:
    """Factors whose sum, each starting from 0, may not exceed ``at_most``."""

    factors: list[Factor]
    at_most: int


@dataclass
class Network:
    """A problem in numbers.

    Variables 0..decisions-1 are the decisions in catalog order, the others nodes, parents first.

    Parameters
    ----------
    problem : Problem
        Where it comes from.
    names : list of str
        Name of each variable.
    sizes : list of int
        Number of states left of each variable.
    decisions : int
        Number of decisions.
    kept : list of integer array
        For each decision, the original positions of the options left.
    minutes, fixes, prices : list of integer array
        For each decision, by option: work [min], whether a fix, plain cost [minor units].
    shared : list of SharedItem
        Items whose cost couples decisions.
    links, tables, masks, limits : lists
        The rest, over variable numbers.
    offset : int
        Constant part of the value.
    impossible : str
        Why no assignment is allowed; empty when that is not known.
    """

    problem: Problem
    names: list[str] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    decisions: int = 0
    kept: list[IntArray] = field(default_factory=list)
    minutes: list[IntArray] = field(default_factory=list)
    fixes: list[IntArray] = field(default_factory=list)
    prices: list[IntArray] = field(default_factory=list)
    shared: list[SharedItem] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)
    tables: list[Factor] = field(default_factory=list)
    masks: list[tuple[Scope, BoolArray]] = field(default_factory=list)
    limits: list[SideLimit] = field(default_factory=list)
    offset: int = 0
    impossible: str = ""

    def names_of(self, states: Sequence[int]) -> dict[str, str]:
        """Turn a state of each decision into option names.

        Parameters
        ----------
        states : sequence of int
            One for each decision, counted among the options left.

        Returns
        -------
        dict of str to str
            {decision: option}.
        """
        return {
            decision.name: decision.options[int(kept[state])].name
            for decision, kept, state in zip(self.problem.decisions, self.kept, states, strict=True)
        }


def in_order(scope: Sequence[int], array: npt.NDArray[Kind]) -> tuple[Scope, npt.NDArray[Kind]]:
    """Sort the axes of an array by variable number."""
    order = sorted(range(len(scope)), key=lambda axis: scope[axis])
    return tuple(scope[axis] for axis in order), np.transpose(array, order)


def spread(array: npt.NDArray[Kind], scope: Scope, wider: Scope) -> npt.NDArray[Kind]:
    """Give an array over ``scope`` axes of length 1 where ``wider`` has further variables."""
    return array.reshape([array.shape[scope.index(v)] if v in scope else 1 for v in wider])


def build(problem: Problem) -> Network:
    """Put a problem into numbers, without what cannot matter.

    Parameters
    ----------
    problem : Problem
        Any valid problem.

    Returns
    -------
    Network
        With ``impossible`` set where a contradiction shows already here.
    """
    # imported late: reduction needs the types above
    from deskmend.choice.network import reduce_network

    network = Network(problem)
    number = {}
    for decision in problem.decisions:
        number[decision.name] = len(network.names)
        network.names.append(decision.name)
        network.sizes.append(len(decision.options))
        network.kept.append(np.arange(len(decision.options)))
        network.minutes.append(np.array([option.minutes for option in decision.options], dtype=np.int64))
        network.fixes.append(
            np.array(
                [
                    option.is_fix if option.is_fix is not None else position > 0
                    for position, option in enumerate(decision.options)
                ],
                dtype=np.int64,
            )
        )
        network.prices.append(np.zeros(len(decision.options), dtype=np.int64))
    network.decisions = len(problem.decisions)
    for node in problem.nodes:
        number[node.name] = len(network.names)
        network.names.append(node.name)
        network.sizes.append(node.size)
        scope, index = in_order([number[name] for name in node.scope], node.index)
        network.links.append(Link(number[node.name], scope, index))
    network.tables = [_factor(problem, number, table) for table in problem.tables]
    for bound in problem.bounds:
        network.limits.append(
            SideLimit([_factor(problem, number, table) for table in bound.tables], bound.at_most)
        )
    _forbid(network, number)
    _share(network, number)
    reduce_network(network)
    return network


def _factor(problem: Problem, number: dict[str, int], table: Table) -> Factor:
    scope, values = in_order([number[name] for name in table.scope], table.values)
    gate = None
    if table.when is not None:
        gate = number[table.when[0]], problem.state_of(*table.when)
    return Factor(scope, values, gate)


def _forbid(network: Network, number: dict[str, int]) -> None:
    """Collect masks and forbidden assignments, one mask a scope."""
    masks: dict[Scope, BoolArray] = {}

    def mask_over(scope: Scope) -> BoolArray:
        if scope not in masks:
            masks[scope] = np.ones([network.sizes[v] for v in scope], dtype=np.bool_)
        return masks[scope]

    for mask in network.problem.masks:
        scope, allowed = in_order([number[name] for name in mask.scope], mask.allowed)
        mask_over(scope)[...] &= allowed
    for entry in network.problem.forbidden:
        states = {number[name]: network.problem.state_of(name, state) for name, state in entry.items()}
        scope = tuple(sorted(states))
        mask_over(scope)[tuple(states[v] for v in scope)] = False
    network.masks = list(masks.items())


def _share(network: Network, number: dict[str, int]) -> None:
    """Note which decisions use each item; reduction charges those that need not be kept apart."""
    for item in network.problem.items:
        uses = []
        for decision in network.problem.decisions:
            use = np.array([option.use.get(item.name, 0) for option in decision.options], dtype=np.int64)
            if use.any():
                uses.append((number[decision.name], use))
        if uses:
            network.shared.append(SharedItem(item, tuple(uses)))


def variables_used(scopes: Iterable[Scope]) -> set[int]:
    """All variables that stand in any of the scopes."""
    return {variable for scope in scopes for variable in scope}


def charge_items(network: Network) -> None:
    """Move the cost of items that couple no decisions into the plain prices of options.

    Parameters
    ----------
    network : Network
        Changed in place: prices rise, ``shared`` keeps what truly couples decisions, options whose items
        are not to be had are masked.
    """
    left = []
    for shared in network.shared:
        free = [(variable, use) for variable, use in shared.uses if use.min() != use.max()]
        base = sum(int(use[0]) for _, use in shared.uses if use.min() == use.max())
        if len(free) <= 1:
            variable, use = free[0] if free else (shared.uses[0][0], np.zeros(1, dtype=np.int64))
            cost = cost_of(shared.item, (base + use).tolist())
            network.prices[variable] = network.prices[variable] + np.where(cost == UNAVAILABLE, 0, cost)
            if free and (cost == UNAVAILABLE).any():
                network.masks.append(((variable,), cost != UNAVAILABLE))
            elif (cost == UNAVAILABLE).any():
                network.impossible = f"item {shared.item.name!r} is not to be had"
        elif is_linear(shared.item, shared.most):
            if shared.most > shared.item.owned:
                for variable, use in shared.uses:
                    network.prices[variable] = network.prices[variable] + use * (shared.item.price or 0)
        else:
            left.append(SharedItem(shared.item, shared.uses))
    network.shared = left


Items = dict[str, Item]


def affordable(problem: Problem) -> Problem:
    """Forbid each option that alone costs or takes more than the limits allow.

    Parameters
    ----------
    problem : Problem
        Any problem.

    Returns
    -------
    Problem
        With the same assignments allowed: the cost of an item never falls as more of it is used, so an
        option too dear alone is too dear in any company.
    """
    items = {item.name: item for item in problem.items}
    masks = []
    for decision in problem.decisions:
        good = np.array([_fits(option, items, problem) for option in decision.options])
        if not good.all():
            masks.append(Mask((decision.name,), good))
    return replace(problem, masks=(*problem.masks, *masks)) if masks else problem


def _fits(option: Option, items: Items, problem: Problem) -> bool:
    if problem.minutes is not None and option.minutes > problem.minutes:
        return False
    if problem.money is None:
        return True
    cost = 0
    for name, units in option.use.items():
        bought = packs_for(items[name], units)
        if bought is None:
            return False
        cost += bought[1]
    return cost <= problem.money


LARGEST_MASK = 4096
"""Cells up to which a bound over several tables becomes a mask."""


def reduce_network(network: Network) -> None:
    """Shrink a network in place, losing no assignment that could be best.

    Parameters
    ----------
    network : Network
        Changed in place; ``impossible`` is set when nothing is left of a variable.
    """
    network.tables = open_gates(network.tables, network.sizes)
    for limit in network.limits:
        limit.factors = open_gates(limit.factors, network.sizes)
    _limits_to_masks(network)
    # charging, masks over one variable and dominance each may make room for the others
    fresh = True
    while fresh:
        charge_items(network)
        _drop_states(network)
        if network.impossible:
            return
        _keep_options(network, [~_dominated(network, variable) for variable in range(network.decisions)])
        _drop_states(network)
        if network.impossible:
            return
        _settle_single_states(network)
        fresh = any(len(scope) <= 1 for scope, _ in network.masks)
    network.tables, network.offset = _merged(network.tables, network.sizes)
    for limit in network.limits:
        limit.factors, constant = _merged(limit.factors, network.sizes)
        limit.at_most -= constant
        for factor in limit.factors:
            # behind a gate nothing is negative, and what the gate shuts off counts 0
            least = 0 if factor.gate is not None else int(factor.values.min())
            factor.values = factor.values - least
            limit.at_most -= least
        if limit.at_most < 0:
            network.impossible = "a bound cannot be reached"
    network.limits = [
        limit
        for limit in network.limits
        if sum(int(factor.values.max()) for factor in limit.factors) > limit.at_most
    ]
    _drop_unused_nodes(network)


def open_gates(factors: list[Factor], sizes: list[int]) -> list[Factor]:
    """Turn gates into plain tables where the gate is in scope anyway or the table is a constant.

    Parameters
    ----------
    factors : list of Factor
        Tables, some behind gates.
    sizes : list of int
        Number of states of each variable.

    Returns
    -------
    list of Factor
        Worth the same everywhere.
    """
    opened = []
    for factor in factors:
        if factor.gate is None:
            opened.append(factor)
            continue
        variable, state = factor.gate
        if variable in factor.scope:
            axis = factor.scope.index(variable)
            at_state = np.arange(sizes[variable]) == state
            shape = [sizes[variable] if k == axis else 1 for k in range(len(factor.scope))]
            opened.append(Factor(factor.scope, np.where(at_state.reshape(shape), factor.values, 0)))
        elif factor.values.size and factor.values.min() == factor.values.max():
            values = np.zeros(sizes[variable], dtype=np.int64)
            values[state] = factor.values.flat[0]
            opened.append(Factor((variable,), values))
        else:
            opened.append(factor)
    return opened


def with_gate(factor: Factor, sizes: list[int]) -> tuple[Scope, IntArray]:
    """Write a factor as a plain table over its scope and its gate."""
    if factor.gate is None:
        return factor.scope, factor.values
    variable, state = factor.gate
    values = np.zeros((sizes[variable], *factor.values.shape), dtype=np.int64)
    values[state] = factor.values
    return in_order((variable, *factor.scope), values)


def _limits_to_masks(network: Network) -> None:
    """Turn bounds on one table, or on tables that share few variables, into masks."""
    left = []
    for limit in network.limits:
        plain = [with_gate(factor, network.sizes) for factor in limit.factors]
        scope = tuple(sorted(variables_used(scope for scope, _ in plain)))
        cells = 1
        for variable in scope:
            cells *= network.sizes[variable]
        if len(plain) <= 1 or cells <= LARGEST_MASK:
            total = np.zeros([network.sizes[v] for v in scope], dtype=np.int64)
            for part, values in plain:
                total += spread(values, part, scope)
            network.masks.append((scope, total <= limit.at_most))
            continue
        # a gated table with negative values cannot be shifted to start at 0, so its gate is opened
        factors = []
        for factor in limit.factors:
            if factor.gate is not None and factor.values.min() < 0:
                factors.append(Factor(*with_gate(factor, network.sizes)))
            else:
                factors.append(factor)
        left.append(SideLimit(factors, limit.at_most))
    network.limits = left


def _drop_states(network: Network) -> None:
    """Drop options and node states that masks over one variable forbid or nothing leads to."""
    while True:
        allowed = [np.ones(size, dtype=np.bool_) for size in network.sizes]
        masks: list[tuple[Scope, BoolArray]] = []
        fresh = False
        for scope, mask in network.masks:
            if len(scope) == 0 and not mask.all():
                network.impossible = "a bound cannot be reached"
            elif len(scope) == 1:
                allowed[scope[0]] &= mask
                fresh = True
            elif not mask.all():
                masks.append((scope, mask))
        network.masks = masks
        _keep_options(network, allowed[: network.decisions])
        for link in network.links:
            reached = np.zeros(network.sizes[link.node], dtype=np.bool_)
            reached[link.index.ravel()] = True
            if (reached & ~allowed[link.node]).any():
                # some combination of the parents leads to a forbidden state
                network.masks.append((link.scope, allowed[link.node][link.index]))
            _keep_states(network, link.node, reached)
        for variable, size in enumerate(network.sizes):
            if size == 0:
                network.impossible = f"nothing is left to choose for {network.names[variable]!r}"
        if network.impossible or not fresh:
            return


def _keep_options(network: Network, keep: list[BoolArray]) -> None:
    for variable, mask in enumerate(keep):
        if mask.all():
            continue
        network.kept[variable] = network.kept[variable][mask]
        network.minutes[variable] = network.minutes[variable][mask]
        network.fixes[variable] = network.fixes[variable][mask]
        network.prices[variable] = network.prices[variable][mask]
        network.shared = [
            SharedItem(
                shared.item,
                tuple((v, use[mask] if v == variable else use) for v, use in shared.uses),
            )
            for shared in network.shared
        ]
        _keep_states(network, variable, mask)


def _keep_states(network: Network, variable: int, keep: BoolArray) -> None:
    """Keep only some states of a variable in every array."""
    if keep.all():
        return
    renumbered = np.cumsum(keep) - 1

    def kept(scope: Scope, array: npt.NDArray[Kind]) -> npt.NDArray[Kind]:
        return np.compress(keep, array, axis=scope.index(variable)) if variable in scope else array

    def kept_factors(factors: list[Factor]) -> list[Factor]:
        left = []
        for factor in factors:
            gate = factor.gate
            if gate is not None and gate[0] == variable:
                if not keep[gate[1]]:
                    continue
                gate = variable, int(renumbered[gate[1]])
            left.append(Factor(factor.scope, kept(factor.scope, factor.values), gate))
        return left

    network.tables = kept_factors(network.tables)
    for limit in network.limits:
        limit.factors = kept_factors(limit.factors)
    network.masks = [(scope, kept(scope, mask)) for scope, mask in network.masks]
    for link in network.links:
        if link.node == variable:
            link.index = renumbered[link.index]
        else:
            link.index = kept(link.scope, link.index)
    network.sizes[variable] = int(keep.sum())


def _dominated(network: Network, variable: int) -> BoolArray:
    """Mark the options of a decision that another option of it beats whatever else is chosen.

    Option a beats b when, at every combination of the others, it has no higher table, bound, use, cost,
    minutes and fixes, forbids no more and leads to the same nodes, and either comes first in the catalog
    or is strictly less work or fewer fixes.
    """
    size = network.sizes[variable]
    dominated = np.zeros(size, dtype=np.bool_)
    if size < 2:
        return dominated
    columns = [network.minutes[variable], network.fixes[variable], network.prices[variable]]
    columns += [use for shared in network.shared for v, use in shared.uses if v == variable]
    at_most = np.stack(columns, axis=1)
    blocks = [at_most]
    barred = np.zeros(size, dtype=np.bool_)
    factors = [*network.tables, *(factor for limit in network.limits for factor in limit.factors)]
    for factor in factors:
        if factor.gate is not None and factor.gate[0] == variable:
            barred[factor.gate[1]] = True
        if variable in factor.scope:
            blocks.append(_by_state(factor.scope, factor.values, variable))
    for scope, mask in network.masks:
        if variable in scope:
            blocks.append(_by_state(scope, (~mask).astype(np.int64), variable))
    for link in network.links:
        if variable in link.scope:
            rows = _by_state(link.scope, link.index, variable)
            blocks += [rows, -rows]
    positions = np.arange(size)
    work = at_most[:, 0], at_most[:, 1]
    for a in range(size):
        if barred[a]:
            continue
        beaten = (positions > a) | (work[0] > work[0][a]) | (work[1] > work[1][a])
        beaten &= ~barred & ~dominated
        beaten[a] = False
        for block in blocks:
            if not beaten.any():
                break
            chosen = np.flatnonzero(beaten)
            beaten[chosen] = (block[a] <= block[chosen]).all(axis=1)
        dominated |= beaten
    return dominated


def _by_state(scope: Scope, array: IntArray, variable: int) -> IntArray:
    moved = np.moveaxis(array, scope.index(variable), 0)
    return moved.reshape(moved.shape[0], -1)


def _settle_single_states(network: Network) -> None:
    """Take variables with one state out of every scope."""
    single = {variable for variable, size in enumerate(network.sizes) if size == 1}
    if not single:
        return

    def squeezed(scope: Scope, array: npt.NDArray[Kind]) -> tuple[Scope, npt.NDArray[Kind]]:
        axes = tuple(axis for axis, v in enumerate(scope) if v in single)
        return tuple(v for v in scope if v not in single), np.squeeze(array, axis=axes)

    def settled(factors: list[Factor]) -> list[Factor]:
        return [
            Factor(
                *squeezed(factor.scope, factor.values),
                gate=None if factor.gate is not None and factor.gate[0] in single else factor.gate,
            )
            for factor in factors
        ]

    network.tables = settled(network.tables)
    for limit in network.limits:
        limit.factors = settled(limit.factors)
    network.masks = [squeezed(scope, mask) for scope, mask in network.masks]
    links = []
    for link in network.links:
        if link.node not in single:
            scope, index = squeezed(link.scope, link.index)
            links.append(Link(link.node, scope, index))
    network.links = links


def _merged(factors: list[Factor], sizes: list[int]) -> tuple[list[Factor], int]:
    """Add up factors over the same scope and gate; constants come back as one number."""
    constant = 0
    sums: dict[tuple[Scope, tuple[int, int] | None], IntArray] = {}
    for factor in open_gates(factors, sizes):
        if not factor.values.any():
            continue
        if factor.gate is None and (not factor.scope or factor.values.min() == factor.values.max()):
            constant += int(factor.values.flat[0])
            continue
        key = factor.scope, factor.gate
        sums[key] = sums[key] + factor.values if key in sums else factor.values
    return [Factor(scope, values, gate) for (scope, gate), values in sums.items() if values.any()], constant


def _drop_unused_nodes(network: Network) -> None:
    """Drop links to nodes that nothing looks at."""
    for position in range(len(network.links) - 1, -1, -1):
        link = network.links[position]
        used = variables_used(factor.scope for factor in network.tables)
        used |= variables_used(factor.scope for limit in network.limits for factor in limit.factors)
        used |= variables_used(scope for scope, _ in network.masks)
        used |= variables_used(other.scope for other in network.links)
        every = [*network.tables, *(factor for limit in network.limits for factor in limit.factors)]
        used |= {factor.gate[0] for factor in every if factor.gate is not None}
        if link.node not in used:
            del network.links[position]
