"""Doing without nodes that hardly cut anything, for the integer program.

A node with almost as many states as its scope has cells costs a row and a column for each state and saves
little.  Where only one table looks at it, that is better read straight off the node's own scope.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from deskmend.choice.network import Factor, Link, Network, Scope, variables_used
from deskmend.choice.reduction import open_gates
from deskmend.choice.validation import IntArray

ROOM = 2
"""A node goes when the table without it has at most so many times the cells there were with it."""


def without_idle_nodes(network: Network) -> Network:
    """Write tables straight over the scope of nodes that nothing else looks at, where that is hardly larger.

    Parameters
    ----------
    network : Network
        Reduced; left as it is.

    Returns
    -------
    Network
        The same problem with fewer nodes; tables over one scope are added up.
    """
    links, tables = list(network.links), list(network.tables)
    fixed = variables_used(scope for scope, _ in network.masks)
    for limit in network.limits:
        fixed |= variables_used(factor.scope for factor in limit.factors)
    for position in range(len(links) - 1, -1, -1):
        link = links[position]
        others = [other for other in links if other is not link]
        looked_at = fixed | variables_used(other.scope for other in others) | _gates(network)
        users = [factor for factor in tables if link.node in factor.scope]
        if link.node in looked_at or len(users) != 1 or len(link.scope) < 2:
            continue
        (user,) = users
        before = link.index.size + user.values.size
        if _cells(network, _merged_scope(user.scope, link)) <= ROOM * before:
            rest = [factor for factor in tables if factor is not user]
            tables = _added(rest, open_gates([_written_out(network, user, link)], network.sizes))
            del links[position]
    return replace(network, links=links, tables=tables)


def _gates(network: Network) -> set[int]:
    factors = [*network.tables, *(factor for limit in network.limits for factor in limit.factors)]
    return {factor.gate[0] for factor in factors if factor.gate is not None}


def _merged_scope(scope: Scope, link: Link) -> Scope:
    return tuple(sorted({*scope, *link.scope} - {link.node}))


def _cells(network: Network, scope: Iterable[int]) -> int:
    return math.prod(network.sizes[variable] for variable in scope)


def _written_out(network: Network, factor: Factor, link: Link) -> Factor:
    """Write a table over the scope of the link instead of the node."""
    scope = _merged_scope(factor.scope, link)
    grid = dict(zip(scope, np.indices([network.sizes[v] for v in scope], sparse=True), strict=True))
    grid[link.node] = link.index[tuple(grid[v] for v in link.scope)]
    values: IntArray = factor.values[tuple(grid[v] for v in factor.scope)]
    shape = [network.sizes[v] for v in scope]
    return Factor(scope, np.broadcast_to(values, shape), factor.gate)


def _added(factors: list[Factor], more: Sequence[Factor]) -> list[Factor]:
    """Add tables to others over the same scope and gate where there are such."""
    sums = {(factor.scope, factor.gate): factor.values for factor in factors}
    for factor in more:
        key = factor.scope, factor.gate
        sums[key] = sums[key] + factor.values if key in sums else factor.values
    return [Factor(scope, values, gate) for (scope, gate), values in sums.items()]
