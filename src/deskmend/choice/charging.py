"""Charging of items option by option wherever that is exact."""

from __future__ import annotations

import numpy as np

from deskmend.choice.network import Network
from deskmend.choice.purchase import UNAVAILABLE, SharedItem, cost_of, is_linear


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
