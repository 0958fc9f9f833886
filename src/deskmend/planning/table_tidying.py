"""Few tables and few nodes: tables of one scope added up, nodes that serve one table alone taken into it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from deskmend.choice import Mask, Node, Table
from deskmend.planning.conditions import Gate
from deskmend.planning.grid import AnyArray

__all__ = ["absorbed", "added_up"]


def added_up(tables: Sequence[Table]) -> list[Table]:
    """Tables of one scope and gate added up, so that there are few; without those that add nothing.

    Parameters
    ----------
    tables : sequence of Table
        Any.
    """
    groups: dict[tuple[Gate | None, tuple[str, ...]], AnyArray] = {}
    for table in tables:
        key = (table.when, table.scope)
        groups[key] = table.values + groups[key] if key in groups else table.values  # type: ignore[index]
    return [
        Table(scope, np.array(values), when=gate)
        for (gate, scope), values in groups.items()
        if np.any(values)
    ]


def absorbed(
    tables: Sequence[Table], nodes: Sequence[Node], masks: Sequence[Mask]
) -> tuple[list[Table], list[Node]]:
    """Tables and nodes without nodes that serve a single table alone, or nothing.

    Parameters
    ----------
    tables, nodes, masks : sequences
        Of one problem.
    """
    kept = list(nodes)
    tables = list(tables)
    for node in reversed(nodes):
        users = [k for k, table in enumerate(tables) if node.name in table.scope]
        others = any(node.name in n.scope for n in kept) or any(node.name in m.scope for m in masks)
        if others:
            continue
        if not users:
            kept.remove(node)
        elif len(users) == 1 and tables[users[0]].scope == (node.name,):
            table = tables[users[0]]
            tables[users[0]] = Table(node.scope, np.asarray(table.values)[node.index], when=table.when)
            kept.remove(node)
    return added_up(tables), kept
