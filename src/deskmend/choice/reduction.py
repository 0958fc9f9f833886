"""Removal of what cannot matter from a network: options, node states, variables, tables."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from deskmend.choice.charging import charge_items
from deskmend.choice.network import (
    Factor,
    Kind,
    Link,
    Network,
    Scope,
    SideLimit,
    in_order,
    spread,
    variables_used,
)
from deskmend.choice.purchase import SharedItem
from deskmend.choice.validation import BoolArray, IntArray

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
