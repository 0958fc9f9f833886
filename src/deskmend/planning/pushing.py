"""Pushing a limit on a score down to the parts that it is made of.

A limit on a node binds everything below it together, which makes exact search
wide. Where the limit says no more than limits on the parts would, as with the
greater of two scores, the parts are limited instead. Nothing is lost or added.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import prod

import numpy as np
import numpy.typing as npt

from deskmend.choice import Mask, Node
from deskmend.planning.grid import GridBuilder

__all__ = ["pushed_down"]

BoolArray = npt.NDArray[np.bool_]

MOST_CELLS = 50_000
"""Most cells of a limit while it is taken apart."""


def pushed_down(mask: Mask, builder: GridBuilder) -> list[Mask]:
    """Limits on parts that together allow exactly what a limit allows.

    Parameters
    ----------
    mask : Mask
        Over decisions and nodes of the builder.
    builder : GridBuilder
        Knows what the nodes follow from, and what can occur at all.

    Returns
    -------
    list of Mask
        The mask itself where it cannot be taken apart; empty where it allows all that can occur.
    """
    nodes = {node.name: node for node in builder.nodes}
    done: list[Mask] = []
    waiting = [mask]
    while waiting:
        one = waiting.pop()
        parts = _taken_apart(one, nodes, builder)
        if parts is None:
            done.append(one)
        else:
            waiting += parts
    return done


def _taken_apart(mask: Mask, nodes: Mapping[str, Node], builder: GridBuilder) -> list[Mask] | None:
    """Limits over the parts of one node of a mask; None where no node can be taken apart."""
    for name in mask.scope:
        if name in nodes:
            parts = _without(mask, nodes[name], builder)
            if parts is not None:
                return parts
    return None


def _without(mask: Mask, node: Node, builder: GridBuilder) -> list[Mask] | None:
    rest = tuple(v for v in mask.scope if v != node.name)
    scope = (*rest, *(v for v in node.scope if v not in rest))
    sizes = tuple(builder.size(v) for v in scope)
    if prod(sizes) > MOST_CELLS:
        return None
    grid = np.ix_(*(np.arange(n) for n in sizes))
    at = dict(zip(scope, grid, strict=True))
    state = node.index[tuple(at[v] for v in node.scope)]
    allowed = mask.allowed[tuple(state if v == node.name else at[v] for v in mask.scope)]
    allowed = np.broadcast_to(allowed, sizes)
    found = builder.reach(scope)
    reached: BoolArray = np.ones(sizes, dtype=np.bool_) if found is None else found
    good = allowed & reached
    parts: list[Mask] = []
    together: BoolArray = np.ones(sizes, dtype=np.bool_)
    for v in node.scope:
        kept = tuple(w for w in scope if w in rest or w == v)
        away = tuple(k for k, w in enumerate(scope) if w not in kept)
        part = good.any(axis=away)
        together &= part.reshape(tuple(n if w in kept else 1 for w, n in zip(scope, sizes, strict=True)))
        possible = reached.any(axis=away)
        if bool(np.any(possible & ~part)):
            parts.append(Mask(kept, np.array(part | ~possible)))
    if bool(np.any(together & reached & ~allowed)):
        return None
    return parts
