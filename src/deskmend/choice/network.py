"""A problem in numbers, without what cannot matter: the form both engines start from.

Variables, tables, links and masks over small integer domains.  Building a network removes options that are
forbidden outright or never better than another, node states that cannot occur and variables that have one
state left, and charges items option by option wherever that is exact.  Nothing here loses an assignment that
could be best.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import prod
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from deskmend.choice.problem import BoolArray, IntArray, Item, Mask, Option, Problem, Table
from deskmend.choice.purchases import UNAVAILABLE, SharedItem, cost_of, prices_apart
from deskmend.choice.result import Choice, best_choice, evaluate, no_choice, packs_for

VariableNumbers = tuple[int, ...]
"""Numbers of variables in rising order, one an axis."""
Resource = str | int
"""What a limit is on: "cost", "minutes", or the number of a bound."""
Number = TypeVar("Number", bound=np.generic)

LARGEST_MASK = 4096
"""Cells up to which a bound over several tables becomes a mask."""

TRIED_COLUMNS = 16
"""Columns of each block, about, by which options are compared before whole blocks are."""


@dataclass
class Factor:
    """A table over variables, perhaps behind a gate (variable, state)."""

    scope: VariableNumbers
    values: IntArray
    gate: tuple[int, int] | None = None


@dataclass
class Link:
    """How the state of a node follows from the variables in its scope."""

    node: int
    scope: VariableNumbers
    index: IntArray


@dataclass
class Limit:
    """Most that may be taken of a resource; of a bound that is the sum of factors, each starting from 0."""

    resource: Resource
    at_most: int
    factors: list[Factor] = field(default_factory=list)


@dataclass
class Network:
    """A problem in numbers.

    Variables 0..decisions-1 are the decisions in catalog order, the others nodes, parents first.

    ``sizes`` are the states left of each variable, ``kept`` their original positions, and by option stand
    work, whether it is a fix, and the cost of what couples no decisions; ``shared`` are the items that do.
    ``offset`` is the constant part of the value, ``impossible`` why no assignment is allowed, empty when that
    is not known.
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
    masks: list[tuple[VariableNumbers, BoolArray]] = field(default_factory=list)
    limits: list[Limit] = field(default_factory=list)
    offset: int = 0
    impossible: str = ""

    @property
    def factors(self) -> list[Factor]:
        """Tables of the value and of all limits."""
        return [*self.tables, *(factor for limit in self.limits for factor in limit.factors)]

    def change_factors(self, change: Callable[[list[Factor]], list[Factor]]) -> None:
        """Change the tables of the value and of each limit alike."""
        self.tables = change(self.tables)
        for limit in self.limits:
            limit.factors = change(limit.factors)

    def cells(self, scope: Iterable[int]) -> int:
        """Count the combinations of some variables."""
        return prod(self.sizes[variable] for variable in scope)

    def names_of(self, states: Sequence[int]) -> dict[str, str]:
        """Turn a state of each decision, counted among the options left, into {decision: option}."""
        return {
            decision.name: decision.options[int(kept[state])].name
            for decision, kept, state in zip(
                self.problem.decisions, self.kept[: self.decisions], states, strict=True
            )
        }


def settled(problem: Problem, network: Network) -> Choice | None:
    """Answer where reduction leaves no choice, scored against a problem; None where there is one left."""
    if network.impossible:
        return no_choice("reduction")
    if any(network.sizes[variable] > 1 for variable in range(network.decisions)):
        return None
    scored = evaluate(problem, network.names_of([0] * network.decisions))
    return no_choice("reduction") if scored.violations else best_choice(problem, scored, "reduction")


# --- arrays over variables ----------------------------------------------------------------------------


def in_order(scope: Sequence[int], array: npt.NDArray[Number]) -> tuple[VariableNumbers, npt.NDArray[Number]]:
    """Sort the axes of an array by variable number."""
    order = sorted(range(len(scope)), key=lambda axis: scope[axis])
    return tuple(scope[axis] for axis in order), np.transpose(array, order)


def spread(array: npt.NDArray[Number], scope: VariableNumbers, wider: VariableNumbers) -> npt.NDArray[Number]:
    """Give an array over ``scope`` axes of length 1 where ``wider`` has further variables."""
    return array.reshape([array.shape[scope.index(v)] if v in scope else 1 for v in wider])


def by_state(scope: VariableNumbers, array: IntArray, variable: int) -> IntArray:
    """Give an array one row for each state of a variable."""
    return np.moveaxis(array, scope.index(variable), 0).reshape(array.shape[scope.index(variable)], -1)


def variables_used(scopes: Iterable[VariableNumbers]) -> set[int]:
    """All variables that stand in any of the scopes."""
    return {variable for scope in scopes for variable in scope}


def with_gate(factor: Factor, sizes: list[int]) -> Factor:
    """Write a factor as a plain table over its scope and its gate."""
    if factor.gate is None:
        return factor
    variable, state = factor.gate
    values = np.zeros((sizes[variable], *factor.values.shape), dtype=np.int64)
    values[state] = factor.values
    return Factor(*in_order((variable, *factor.scope), values))


def open_gates(factors: list[Factor], sizes: list[int]) -> list[Factor]:
    """Turn gates into plain tables where the gate is in scope anyway or the table is a constant."""
    opened = []
    for factor in factors:
        if factor.gate is None:
            opened.append(factor)
            continue
        variable, state = factor.gate
        if variable in factor.scope:
            at_state = spread(np.arange(sizes[variable]) == state, (variable,), factor.scope)
            opened.append(Factor(factor.scope, np.where(at_state, factor.values, 0)))
        elif factor.values.size and factor.values.min() == factor.values.max():
            values = np.zeros(sizes[variable], dtype=np.int64)
            values[state] = factor.values.flat[0]
            opened.append(Factor((variable,), values))
        else:
            opened.append(factor)
    return opened


def added_up(factors: Iterable[Factor]) -> list[Factor]:
    """Add up factors over the same scope and gate, in the order they are first met."""
    sums: dict[tuple[VariableNumbers, tuple[int, int] | None], IntArray] = {}
    for factor in factors:
        key = factor.scope, factor.gate
        sums[key] = sums[key] + factor.values if key in sums else factor.values
    return [Factor(scope, values, gate) for (scope, gate), values in sums.items()]


# --- building -----------------------------------------------------------------------------------------


def build(problem: Problem) -> Network:
    """Put a valid problem into numbers; ``impossible`` is set where a contradiction shows already here."""
    network = Network(problem)
    number: dict[str, int] = {}
    for decision in problem.decisions:
        options = decision.options
        number[decision.name] = len(network.names)
        network.names.append(decision.name)
        network.sizes.append(len(options))
        network.kept.append(np.arange(len(options)))
        network.minutes.append(np.array([option.minutes for option in options], dtype=np.int64))
        fixes = [decision.is_fix(position) for position in range(len(options))]
        network.fixes.append(np.array(fixes, dtype=np.int64))
        network.prices.append(np.zeros(len(options), dtype=np.int64))
    network.decisions = len(problem.decisions)
    for node in problem.nodes:
        number[node.name] = len(network.names)
        network.names.append(node.name)
        network.sizes.append(node.size)
        network.kept.append(np.arange(node.size))
        scope, index = in_order([number[name] for name in node.scope], node.index)
        network.links.append(Link(number[node.name], scope, index))

    def factor(table: Table) -> Factor:
        scope, values = in_order([number[name] for name in table.scope], table.values)
        gate = None if table.when is None else (number[table.when[0]], problem.state_of(*table.when))
        return Factor(scope, values, gate)

    network.tables = [factor(table) for table in problem.tables]
    for place, bound in enumerate(problem.bounds):
        network.limits.append(Limit(place, bound.at_most, [factor(table) for table in bound.tables]))
    if problem.money is not None:
        network.limits.append(Limit("cost", problem.money))
    if problem.minutes is not None:
        network.limits.append(Limit("minutes", problem.minutes))
    _forbid(network, number)
    used: dict[str, list[tuple[int, IntArray]]] = {}
    for variable, decision in enumerate(problem.decisions):
        for name in dict.fromkeys(name for option in decision.options for name in option.use):
            use = np.array([option.use.get(name, 0) for option in decision.options], dtype=np.int64)
            if use.any():
                used.setdefault(name, []).append((variable, use))
    network.shared = [SharedItem(item, tuple(used[item.name])) for item in problem.items if item.name in used]
    _reduce(network)
    return network


def _forbid(network: Network, number: dict[str, int]) -> None:
    """Collect masks and forbidden assignments, one mask a scope."""
    masks: dict[VariableNumbers, BoolArray] = {}

    def mask_over(scope: VariableNumbers) -> BoolArray:
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


def narrow(network: Network, masks: Iterable[tuple[VariableNumbers, BoolArray]]) -> None:
    """Shrink a network that is not impossible by further masks, which all that is wanted keeps."""
    together: dict[VariableNumbers, BoolArray] = dict(network.masks)
    for scope, allowed in masks:
        together[scope] = together[scope] & allowed if scope in together else allowed
    network.masks = list(together.items())
    _reduce(network)


def affordable(problem: Problem) -> Problem:
    """Forbid each option that alone costs or takes more than the limits allow.

    The same assignments stay allowed: the cost of an item never falls as more of it is used, so an option too
    dear alone is too dear in any company.
    """
    items = {item.name: item for item in problem.items}
    masks = []
    for decision in problem.decisions:
        good = np.array([_fits(option, items, problem) for option in decision.options])
        if not good.all():
            masks.append(Mask((decision.name,), good))
    return replace(problem, masks=(*problem.masks, *masks)) if masks else problem


def _fits(option: Option, items: dict[str, Item], problem: Problem) -> bool:
    if problem.minutes is not None and option.minutes > problem.minutes:
        return False
    if problem.money is None:
        return True
    bought = [packs_for(items[name], units) for name, units in option.use.items()]
    return None not in bought and sum(one[1] for one in bought if one is not None) <= problem.money


# --- reduction ----------------------------------------------------------------------------------------


def _reduce(network: Network) -> None:
    """Shrink a network in place; ``impossible`` is set when nothing is left of a variable."""
    network.change_factors(lambda factors: open_gates(factors, network.sizes))
    _limits_to_masks(network)
    # Each of charging, masks over one variable and dominance may make room for the others, so all are tried
    # again until no new mask over one variable comes up.
    fresh = True
    while fresh:
        _charge_items(network)
        _drop_states(network)
        if network.impossible:
            return
        _keep_options(network, [~dominated for dominated in _dominated(network)])
        _drop_states(network)
        if network.impossible:
            return
        _settle_single_states(network)
        fresh = any(len(scope) <= 1 for scope, _ in network.masks)
    network.tables, constant = _without_constants(network.tables, network.sizes)
    network.offset += constant
    for limit in network.limits:
        _shift_to_zero(limit, network)
    minutes = sum(int(amounts.max()) for amounts in network.minutes)
    network.limits = [limit for limit in network.limits if _may_bind(limit, minutes)]
    _drop_unused_nodes(network)


def _charge_items(network: Network) -> None:
    """Move the cost of items that couple no decisions into the plain prices of options.

    ``shared`` keeps what truly couples decisions; options whose items are not to be had are masked.
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
            continue
        apart = prices_apart(shared.item, [use for _, use in shared.uses])
        if apart is None:
            left.append(shared)
            continue
        for (variable, _), prices in zip(shared.uses, apart, strict=True):
            network.prices[variable] = network.prices[variable] + prices
    network.shared = left


def _limits_to_masks(network: Network) -> None:
    """Turn bounds on one table, or on tables that share few variables, into masks."""
    left = []
    for limit in network.limits:
        if isinstance(limit.resource, str):
            left.append(limit)
            continue
        plain = [with_gate(factor, network.sizes) for factor in limit.factors]
        scope = tuple(sorted(variables_used(factor.scope for factor in plain)))
        if len(plain) <= 1 or network.cells(scope) <= LARGEST_MASK:
            total = np.zeros([network.sizes[v] for v in scope], dtype=np.int64)
            for factor in plain:
                total += spread(factor.values, factor.scope, scope)
            network.masks.append((scope, total <= limit.at_most))
            continue
        # A gated table with negative values cannot be shifted to start at 0, so its gate is opened.
        limit.factors = [
            opened if factor.gate is not None and factor.values.min() < 0 else factor
            for factor, opened in zip(limit.factors, plain, strict=True)
        ]
        left.append(limit)
    network.limits = left


def _drop_states(network: Network) -> None:
    """Drop options and node states that masks over one variable forbid or nothing leads to."""
    while True:
        allowed = [np.ones(size, dtype=np.bool_) for size in network.sizes]
        masks: list[tuple[VariableNumbers, BoolArray]] = []
        fresh_masks: list[tuple[VariableNumbers, BoolArray]] = []
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
        reached: dict[int, BoolArray] = {}
        for link in network.links:
            # parents come first, so what is left of them is known
            index = _with_states(link.scope, link.index, reached)
            met = np.zeros(network.sizes[link.node], dtype=np.bool_)
            met[index.ravel()] = True
            if (met & ~allowed[link.node]).any():
                # Some combination of the parents leads to a forbidden state, so it is forbidden in its turn.
                fresh_masks.append((link.scope, allowed[link.node][index]))
            if not met.all():
                reached[link.node] = met
        _keep_states(network, reached)
        network.masks += fresh_masks
        for variable, size in enumerate(network.sizes):
            if size == 0:
                network.impossible = f"nothing is left to choose for {network.names[variable]!r}"
        if network.impossible or not fresh:
            return


def _keep_options(network: Network, keep: list[BoolArray]) -> None:
    left = {variable: mask for variable, mask in enumerate(keep) if not mask.all()}
    if not left:
        return
    for variable, mask in left.items():
        for amounts in (network.minutes, network.fixes, network.prices):
            amounts[variable] = amounts[variable][mask]
    network.shared = [
        SharedItem(shared.item, tuple((v, use[left[v]] if v in left else use) for v, use in shared.uses))
        for shared in network.shared
    ]
    _keep_states(network, left)


def _with_states(
    scope: VariableNumbers, array: npt.NDArray[Number], keep: Mapping[int, BoolArray]
) -> npt.NDArray[Number]:
    """Give an array with what is kept of the states of some variables."""
    for axis, variable in enumerate(scope):
        if variable in keep:
            array = np.compress(keep[variable], array, axis=axis)
    return array


def _keep_states(network: Network, keep: Mapping[int, BoolArray]) -> None:
    """Keep only some states of some variables in every array."""
    if not keep:
        return
    renumbered = {variable: np.cumsum(mask) - 1 for variable, mask in keep.items()}

    def kept_factors(factors: list[Factor]) -> list[Factor]:
        left = []
        for factor in factors:
            gate = factor.gate
            if gate is not None and gate[0] in keep:
                if not keep[gate[0]][gate[1]]:
                    continue
                gate = gate[0], int(renumbered[gate[0]][gate[1]])
            left.append(Factor(factor.scope, _with_states(factor.scope, factor.values, keep), gate))
        return left

    network.change_factors(kept_factors)
    network.masks = [(scope, _with_states(scope, mask, keep)) for scope, mask in network.masks]
    for link in network.links:
        link.index = _with_states(link.scope, link.index, keep)
        if link.node in keep:
            link.index = renumbered[link.node][link.index]
    for variable, mask in keep.items():
        network.kept[variable] = network.kept[variable][mask]
        network.sizes[variable] = int(mask.sum())


def _dominated(network: Network) -> list[BoolArray]:
    """Mark the options of each decision that another option of it beats whatever else is chosen.

    Option a beats b when, at every combination of the others, it has no higher table, bound, use, cost,
    minutes and fixes, forbids no more and leads to the same nodes, and either comes first in the catalog
    or is strictly less work or fewer fixes.
    """
    several = [variable for variable in range(network.decisions) if network.sizes[variable] > 1]
    tables: dict[int, list[Factor]] = {variable: [] for variable in several}
    masks: dict[int, list[tuple[VariableNumbers, BoolArray]]] = {variable: [] for variable in several}
    links: dict[int, list[Link]] = {variable: [] for variable in several}
    barred = {variable: np.zeros(network.sizes[variable], dtype=np.bool_) for variable in several}
    for factor in network.factors:
        if factor.gate is not None and factor.gate[0] in barred:
            barred[factor.gate[0]][factor.gate[1]] = True
        for variable in factor.scope:
            if variable in tables:
                tables[variable].append(factor)
    for scope, mask in network.masks:
        for variable in scope:
            if variable in masks:
                masks[variable].append((scope, mask))
    for link in network.links:
        for variable in link.scope:
            if variable in links:
                links[variable].append(link)
    uses: dict[int, list[IntArray]] = {variable: [] for variable in several}
    for shared in network.shared:
        for variable, use in shared.uses:
            if variable in uses:
                uses[variable].append(use)
    out = [np.zeros(size, dtype=np.bool_) for size in network.sizes[: network.decisions]]
    for variable in several:
        minutes, fixes = network.minutes[variable], network.fixes[variable]
        # Each block has a row an option; a beats b where no number of its row is above that of b's.
        blocks = [np.stack([minutes, fixes, network.prices[variable], *uses[variable]], axis=1)]
        blocks += [by_state(factor.scope, factor.values, variable) for factor in tables[variable]]
        blocks += [by_state(scope, (~mask).astype(np.int64), variable) for scope, mask in masks[variable]]
        for link in links[variable]:
            rows = by_state(link.scope, link.index, variable)
            blocks += [rows, -rows]
        out[variable] = _beaten(blocks, minutes, fixes, barred[variable])
    return out


def _beaten(blocks: list[IntArray], minutes: IntArray, fixes: IntArray, barred: BoolArray) -> BoolArray:
    """Mark the options of one decision that another beats in every block, as `_dominated` says."""
    size = barred.size
    dominated = np.zeros(size, dtype=np.bool_)
    # some columns of every block, all at once, tell nearly all pairs apart
    blocks.insert(
        0, np.concatenate([block[:, :: 1 + block.shape[1] // TRIED_COLUMNS] for block in blocks], axis=1)
    )
    positions = np.arange(size)
    for a in range(size):
        if barred[a]:
            continue
        beaten = (positions > a) | (minutes > minutes[a]) | (fixes > fixes[a])
        beaten &= ~barred & ~dominated
        beaten[a] = False
        for block in blocks:
            if not beaten.any():
                break
            chosen = np.flatnonzero(beaten)
            beaten[chosen] = (block[a] <= block[chosen]).all(axis=1)
        dominated |= beaten
    return dominated


def _settle_single_states(network: Network) -> None:
    """Take variables with one state out of every scope."""
    single = {variable for variable, size in enumerate(network.sizes) if size == 1}
    if not single:
        return

    def squeezed(
        scope: VariableNumbers, array: npt.NDArray[Number]
    ) -> tuple[VariableNumbers, npt.NDArray[Number]]:
        axes = tuple(axis for axis, v in enumerate(scope) if v in single)
        return tuple(v for v in scope if v not in single), np.squeeze(array, axis=axes)

    def squeezed_factors(factors: list[Factor]) -> list[Factor]:
        gates = [None if f.gate is None or f.gate[0] in single else f.gate for f in factors]
        return [Factor(*squeezed(f.scope, f.values), gate) for f, gate in zip(factors, gates, strict=True)]

    network.change_factors(squeezed_factors)
    network.masks = [squeezed(scope, mask) for scope, mask in network.masks]
    network.links = [
        Link(link.node, *squeezed(link.scope, link.index))
        for link in network.links
        if link.node not in single
    ]


def _without_constants(factors: list[Factor], sizes: list[int]) -> tuple[list[Factor], int]:
    """Add up factors over the same scope and gate; constants come back as one number."""
    constant = 0
    left = []
    for factor in open_gates(factors, sizes):
        if factor.gate is None and (not factor.scope or factor.values.min() == factor.values.max()):
            constant += int(factor.values.flat[0])
        elif factor.values.any():
            left.append(factor)
    return [factor for factor in added_up(left) if factor.values.any()], constant


def _shift_to_zero(limit: Limit, network: Network) -> None:
    """Let every factor of a limit start from 0, so that a partial sum never rises by what is added."""
    limit.factors, constant = _without_constants(limit.factors, network.sizes)
    limit.at_most -= constant
    for factor in limit.factors:
        # Behind a gate nothing is negative, and what the gate shuts off counts 0.
        least = 0 if factor.gate is not None else int(factor.values.min())
        factor.values = factor.values - least
        limit.at_most -= least
    if limit.at_most < 0:
        network.impossible = "a bound cannot be reached"


def _may_bind(limit: Limit, minutes: int) -> bool:
    if limit.resource == "cost":
        return True
    most = minutes if limit.resource == "minutes" else sum(int(f.values.max()) for f in limit.factors)
    return most > limit.at_most


def _drop_unused_nodes(network: Network) -> None:
    """Drop links to nodes that nothing looks at."""
    factors = network.factors
    used = variables_used(factor.scope for factor in factors)
    used |= {factor.gate[0] for factor in factors if factor.gate is not None}
    used |= variables_used(scope for scope, _ in network.masks)
    # Children stand after their parents, so each link is looked at when its users are known.
    kept = []
    for link in reversed(network.links):
        if link.node in used:
            kept.append(link)
            used.update(link.scope)
    network.links = kept[::-1]
