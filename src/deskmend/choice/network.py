"""A problem in numbers: variables, tables, links and masks over small integer domains.

Both engines start from this form.  Building it removes what cannot matter: options that are forbidden
outright or never better than another, node states that cannot occur, variables that have one state left.
Nothing here loses an assignment that could be best.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from deskmend.choice.problem import Problem, Table
from deskmend.choice.purchase import SharedItem
from deskmend.choice.validation import BoolArray, IntArray

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
    from deskmend.choice.reduction import reduce_network

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
