"""A network as summands for elimination: for each cell of a scope, what it adds to every figure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deskmend.choice.network import Network, Scope
from deskmend.choice.reduction import with_gate
from deskmend.choice.validation import IntArray

Resource = str | int
"""What labels keep track of: "cost", "minutes", or the number of a side limit."""


@dataclass
class Part:
    """One summand of a problem: for each cell of a scope, amounts by field and resource."""

    scope: Scope
    cells: IntArray
    amounts: dict[Resource, IntArray]


def parts_of(network: Network) -> list[Part]:
    """Write a network as parts; a cell that a part leaves out is forbidden.

    Parameters
    ----------
    network : Network
        Reduced and not impossible.

    Returns
    -------
    list of Part
        Everything but the shared items.
    """
    return [
        *_option_parts(network),
        *_value_parts(network),
        *_limit_parts(network),
        *_mask_parts(network),
        *_link_parts(network),
    ]


def _option_parts(network: Network) -> list[Part]:
    return [
        Part(
            (variable,),
            np.arange(network.sizes[variable]),
            {
                "cost": network.prices[variable],
                "minutes": network.minutes[variable],
                "fixes": network.fixes[variable],
                "rank": np.arange(network.sizes[variable]),
            },
        )
        for variable in range(network.decisions)
    ]


def _value_parts(network: Network) -> list[Part]:
    parts = []
    for factor in network.tables:
        scope, values = with_gate(factor, network.sizes)
        parts.append(Part(scope, np.arange(values.size), {"value": (values - values.min()).ravel()}))
    return parts


def _limit_parts(network: Network) -> list[Part]:
    parts = []
    for number, limit in enumerate(network.limits):
        for factor in limit.factors:
            scope, values = with_gate(factor, network.sizes)
            parts.append(Part(scope, np.arange(values.size), {number: values.ravel()}))
    return parts


def _mask_parts(network: Network) -> list[Part]:
    return [Part(scope, np.flatnonzero(allowed), {}) for scope, allowed in network.masks]


def _link_parts(network: Network) -> list[Part]:
    parts = []
    for link in network.links:
        scope = tuple(sorted((*link.scope, link.node)))
        states = dict(zip(link.scope, np.indices(link.index.shape).reshape(len(link.scope), -1), strict=True))
        states[link.node] = link.index.ravel()
        cells = np.ravel_multi_index([states[v] for v in scope], [network.sizes[v] for v in scope])
        parts.append(Part(scope, np.sort(cells), {}))
    return parts
