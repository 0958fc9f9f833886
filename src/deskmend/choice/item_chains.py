"""Shared items for elimination: nodes that count up a use, decision by decision."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from deskmend.choice.network import Scope
from deskmend.choice.parts import Part
from deskmend.choice.purchase import UNAVAILABLE, SharedItem, cost_of
from deskmend.choice.validation import IntArray


@dataclass
class Chain:
    """The nodes that count up one item's use.

    Parameters
    ----------
    parts : list of Part
        How each node follows from the one before, and what the last one costs.
    sizes : list of int
        States of each node.
    parents : dict
        The variables that determine each node.
    """

    parts: list[Part] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    parents: dict[int, Scope] = field(default_factory=dict)


def chain_of(shared: SharedItem, first_node: int) -> Chain:
    """Count an item's use along its decisions, telling sums apart only where the cost may differ later.

    Parameters
    ----------
    shared : SharedItem
        Item with the use of each of its decisions, in the order they are counted.
    first_node : int
        Number of the first node to add.

    Returns
    -------
    Chain
        One node a decision.
    """
    classes = use_classes(shared)
    chain = Chain()
    for step, (variable, use) in enumerate(shared.uses):
        here, after = classes[step], classes[step + 1]
        node = first_node + step
        rows = np.array(
            [
                (option, before, after.of[total + units])
                for option, units in enumerate(use.tolist())
                for before, total in enumerate(here.samples)
                if total + units in after.of
            ],
            dtype=np.int64,
        ).reshape(-1, 3)
        scope: Scope = (variable, node) if step == 0 else (variable, node - 1, node)
        shape = [use.size, after.size] if step == 0 else [use.size, here.size, after.size]
        axes: list[IntArray] = [rows[:, 0], rows[:, 2]] if step == 0 else [rows[:, k] for k in range(3)]
        chain.parts.append(Part(scope, np.sort(np.ravel_multi_index(axes, shape)), {}))
        chain.sizes.append(after.size)
        chain.parents[node] = scope[:-1]
    cost = np.array(classes[-1].costs, dtype=np.int64)
    chain.parts.append(Part((first_node + len(shared.uses) - 1,), np.arange(cost.size), {"cost": cost}))
    return chain


@dataclass(frozen=True)
class UseClasses:
    """Sums of a use after some decisions, told apart only where the cost may differ later."""

    of: dict[int, int]
    samples: list[int]
    costs: list[int]

    @property
    def size(self) -> int:
        """Number of classes."""
        return len(self.samples)


def use_classes(shared: SharedItem) -> list[UseClasses]:
    """Group the sums of a shared item's use, before each decision and after the last.

    Parameters
    ----------
    shared : SharedItem
        Item with the use of each of its decisions, in the order they are counted.

    Returns
    -------
    list of UseClasses
        One more than decisions.  Sums that end beyond what is to be had are left out.
    """
    steps = [use.tolist() for _, use in shared.uses]
    layers = [{0}]
    for use in steps:
        layers.append({total + units for total in layers[-1] for units in use})
    totals = sorted(layers[-1])
    cost = dict(zip(totals, cost_of(shared.item, totals).tolist(), strict=True))
    ends = {total: cost[total] for total in totals if cost[total] != UNAVAILABLE}
    signs: dict[int, object] = dict(ends)
    result = [_classes(signs, ends)]
    for layer, use in zip(reversed(layers[:-1]), reversed(steps), strict=True):
        after = result[-1].of
        signs = {}
        for total in sorted(layer):
            sign = tuple(after.get(total + units, -1) for units in use)
            if any(reached >= 0 for reached in sign):
                signs[total] = sign
        result.append(_classes(signs, {}))
    result.reverse()
    return result


def _classes(signs: dict[int, object], costs: dict[int, int]) -> UseClasses:
    number: dict[object, int] = {}
    of: dict[int, int] = {}
    samples: list[int] = []
    for total in sorted(signs):
        sign = signs[total]
        if sign not in number:
            number[sign] = len(number)
            samples.append(total)
        of[total] = number[sign]
    return UseClasses(of, samples, [costs.get(total, 0) for total in samples])
