"""Rows that make hosts agree on what they share as a whole, not only variable by variable.

They are implied as soon as the options are whole, so they change no answer.  But without them the solver's
relaxation may mix cells of one host in a way that contradicts another, and its bound is far too low.  Hosts
are joined along a spanning forest of the largest overlaps, as in a junction tree.
"""

from __future__ import annotations

import numpy as np

from deskmend.choice.formulation import Formulation, Host
from deskmend.choice.linear_model import Sense
from deskmend.choice.network import Scope
from deskmend.choice.validation import IntArray

MOST_ROWS = 1000
"""Overlaps with more joint states than this are left to agree variable by variable."""


def add_agreement(formulation: Formulation) -> None:
    """Add the rows.

    Parameters
    ----------
    formulation : Formulation
        With all its hosts; its model gets more rows.
    """
    hosts = formulation.hosts
    overlaps = []
    for later, host in enumerate(hosts):
        for earlier in range(later):
            shared = tuple(sorted(_held(host) & _held(hosts[earlier])))
            gates = {gate for gate in (host.gate, hosts[earlier].gate) if gate is not None}
            if len(shared) >= 2 and len(gates) <= 1:
                overlaps.append((shared, later, earlier))
    overlaps.sort(key=lambda overlap: -len(overlap[0]))
    group = list(range(len(hosts)))
    for shared, later, earlier in overlaps:
        if group[later] != group[earlier] and _join(formulation, shared, later, earlier):
            old = group[later]
            group = [group[earlier] if member == old else member for member in group]


def _held(host: Host) -> set[int]:
    return {*host.scope, host.link.node} if host.link is not None else set(host.scope)


def _join(formulation: Formulation, shared: Scope, later: int, earlier: int) -> bool:
    """Make two hosts agree on what they share; False when that takes too many rows."""
    first, second = formulation.hosts[later], formulation.hosts[earlier]
    first_state, first_column = _states(formulation, first, shared)
    second_state, second_column = _states(formulation, second, shared)
    states = np.union1d(first_state, second_state)
    if states.size > MOST_ROWS:
        return False
    names = ",".join(formulation.network.names[variable] for variable in shared)
    sense: Sense = "="
    if first.gate != second.gate:
        # behind its gate a host has the same cells or none
        sense = "<=" if second.gate is None else ">="
    for state in states.tolist():
        terms = dict.fromkeys(first_column[first_state == state].tolist(), 1)
        terms.update(dict.fromkeys(second_column[second_state == state].tolist(), -1))
        formulation.model.row(f"agreement[{names};{later},{earlier},{state}]", terms, sense, 0)
    return True


def _states(formulation: Formulation, host: Host, shared: Scope) -> tuple[IntArray, IntArray]:
    """Joint state of the shared variables at every cell of a host that is allowed, and its column."""
    grid: dict[int, IntArray] = dict(zip(host.scope, np.indices(host.cells.shape, sparse=True), strict=True))
    if host.link is not None:
        grid[host.link.node] = host.link.index[tuple(grid[variable] for variable in host.link.scope)]
    state = np.zeros(host.cells.shape, dtype=np.int64)
    for variable in shared:
        state = state * formulation.network.sizes[variable] + grid[variable]
    real = host.cells >= 0
    return state[real], host.cells[real]
