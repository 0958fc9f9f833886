"""Coarse least sums: what surely leads to too much is let go of before anything large is paired.

Where what is joined as a variable leaves would be large, the variable leaves in several steps, each with some
of the relations.  Sums are never too high then, so no cell is let go of that an assignment wanted passes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from deskmend.choice.elimination.labels import LARGEST_SUM, Domains, TooWide
from deskmend.choice.elimination.least_sums import LeastSums
from deskmend.choice.elimination.order import steps_of
from deskmend.choice.elimination.tree import BucketTree, Objective
from deskmend.choice.gates import Incumbent
from deskmend.choice.network import Network, VariableNumbers, narrow
from deskmend.choice.problem import BoolArray, IntArray

COARSE_CELLS = 10_000.0
"""Cells that what is joined in one step has at most."""
MOST_COARSE_PAIRS = 1e7
"""Pairs that may be joined to shrink a network; beyond them it stays as it is."""


def let_go(network: Network, incumbent: Incumbent) -> None:
    """Shrink a network by what no assignment passes that keeps to the money and reaches the incumbent's mark.

    All that reach it stay, equal ones included; nothing is done where no mark is known.
    """
    if incumbent.at_most is None:
        return
    # What is owned and not for sale costs nothing: without its stock less hangs together.
    bought = [shared for shared in network.shared if shared.item.price is not None]
    tree = BucketTree(replace(network, shared=bought), math.inf, MOST_COARSE_PAIRS, quick=True)
    objective, room = Objective(), 0
    caps = {limit.resource: limit.at_most for limit in network.limits}
    if incumbent.cost_price and "cost" in caps:
        priced = Objective(incumbent.scale, {"cost": incumbent.cost_price})
        if tree.largest(priced) < LARGEST_SUM:
            objective, room = priced, incumbent.cost_price * caps["cost"]
    most = (incumbent.at_most - tree.offset) * objective.leading + room
    scopes = [part.scope for part in tree.parts]
    kept = [part.cells for part in tree.parts]
    amounts = tree.amounts(objective)
    for steps in (steps_of(scopes, tree.sizes, tree.links, tree.leaving, COARSE_CELLS), tree.steps):
        try:
            sums = LeastSums(
                steps, list(zip(scopes, kept, strict=True)), Domains(tree.sizes, MOST_COARSE_PAIRS)
            )
            wanted = [own <= most for own in sums.through(amounts)]
        except TooWide:
            break
        kept = [cells[some] for cells, some in zip(kept, wanted, strict=True)]
        amounts = [own[some] for own, some in zip(amounts, wanted, strict=True)]
    narrow(network, list(_masks(tree, kept)))


def _masks(tree: BucketTree, kept: Sequence[IntArray]) -> Iterator[tuple[VariableNumbers, BoolArray]]:
    """Masks over variables of a network that leave some cells of each part; of a node, of its parents."""
    nodes = {link: node for node, link in tree.links.items()}
    for number, (part, cells) in enumerate(zip(tree.parts, kept, strict=True)):
        scope = part.scope
        if any(variable >= len(tree.network.sizes) for variable in scope):
            continue
        sizes = [tree.sizes[variable] for variable in scope]
        if number in nodes:
            axis = scope.index(nodes[number])
            places = np.unravel_index(cells, sizes)
            scope, sizes = scope[:axis] + scope[axis + 1 :], sizes[:axis] + sizes[axis + 1 :]
            cells = np.ravel_multi_index(places[:axis] + places[axis + 1 :], sizes)
        reached = np.zeros(sizes, dtype=np.bool_)
        reached.flat[cells] = True
        yield scope, reached
