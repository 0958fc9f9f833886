"""Telling problems apart by all they hold, so that none is solved twice."""

from __future__ import annotations

from hashlib import sha256

from deskmend.choice import Problem

__all__ = ["fingerprint"]


def fingerprint(problem: Problem) -> bytes:
    """Digest of a problem; two problems with the same one have the same best choice.

    Parameters
    ----------
    problem : Problem
        Without side limits.
    """
    plain = (
        problem.decisions,
        problem.items,
        problem.forbidden,
        problem.money,
        problem.minutes,
        problem.first,
        problem.bounds,
    )
    digest = sha256(repr(plain).encode())
    for table in problem.tables:
        digest.update(repr((table.scope, table.when, table.values.shape, table.values.dtype.str)).encode())
        digest.update(table.values.tobytes())
    for node in problem.nodes:
        digest.update(repr((node.name, node.scope, node.size, node.index.shape)).encode())
        digest.update(node.index.tobytes())
    for mask in problem.masks:
        digest.update(repr((mask.scope, mask.implied, mask.allowed.shape)).encode())
        digest.update(mask.allowed.tobytes())
    return digest.digest()
