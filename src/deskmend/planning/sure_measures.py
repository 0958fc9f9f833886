"""Measures of a case and how far off each may be: taken with a tape, or estimated from stature."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from deskmend.intake.case import Body, Case
from deskmend.intake.ranges import ranges
from deskmend.published_table import read_table
from deskmend.workstation.body import Dimension
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import PERSON, State, state_of

__all__ = ["Measure", "case_with", "measures_of", "state_with_body"]

Path = tuple[str | int, ...]

ESTIMATE_ENDS = 2.0
"""Standard deviations of an estimate to which its ends are put [-]: some 95 in 100 lie within (judgement)."""


@dataclass(frozen=True)
class Measure:
    """One length of a case, or one body dimension estimated for want of it.

    Attributes
    ----------
    key : str
        What is measured, as ``places.*.seat.height``.
    path : tuple of str or int
        Where it stands in the case.
    owner : str
        Id of the place, seat or task it belongs to; empty where there is just one person or device.
    value : float
        As given or estimated [mm].
    down, up : int
        How far the true length may lie below and above it [mm].
    estimated : bool
        Nobody measured it.
    """

    key: str
    path: Path
    owner: str
    value: float
    down: int
    up: int
    estimated: bool = False

    @property
    def can_be_taken(self) -> bool:
        """Whether a case can hold it, so that it pays to measure it."""
        return not self.estimated or str(self.path[-1]) in Body.model_fields

    def at(self, off: int) -> float:
        """Length when it is off by so much [mm]."""
        return self.value + off


@dataclass(frozen=True)
class _Kind:
    key: str
    parts: tuple[str, ...]
    low: float
    high: float
    error: int


@cache
def _kinds() -> tuple[_Kind, ...]:
    out = []
    for row in read_table("deskmend.planning", "measured_lengths.csv"):
        taken = ranges()[row["range"]]
        parts = tuple(row["path"].split("."))
        out.append(_Kind(row["path"], parts, taken.low, taken.high, int(row["error"])))
    return tuple(out)


def measures_of(case: Case, tape: float = 1.0, estimates: float = 1.0) -> tuple[Measure, ...]:
    """Every length that a case gives, then every body dimension that is estimated.

    Parameters
    ----------
    case : Case
        The case.
    tape, estimates : float
        Share of the usual error that measured lengths, and estimates, may have [-]; 0: they hold.

    Returns
    -------
    tuple of Measure
        In the order of ``tables/measured_lengths.csv`` and of the case. The ends keep to whole millimetres
        off what is given and to the range in which a case may give it. What may not be off is left out.
    """
    found = [one for kind in _kinds() for one in _found(case, kind, int(kind.error * tape))]
    body = state_of(case).body
    for name in body.estimated:
        if f"body.{name}" in FIELDS:
            field, value = FIELDS[f"body.{name}"], body[name]
            reach = round(ESTIMATE_ENDS * body.dimensions[name].sd * estimates)
            path = ("person", "body", name)
            found.append(_measure(f"person.body.{name}", path, "", value, reach, field.low, field.high, True))
    return tuple(one for one in found if one.down or one.up)


def _measure(
    key: str, path: Path, owner: str, value: float, reach: int, low: float, high: float, estimated: bool
) -> Measure:
    down = max(0, min(reach, math.floor(value - low)))
    up = max(0, min(reach, math.floor(high - value)))
    return Measure(key, path, owner, value, down, up, estimated)


def _found(case: Case, kind: _Kind, reach: int) -> Iterator[Measure]:
    for path, owner, value in _walk(case, kind.parts, (), ""):
        if isinstance(value, float) and math.isfinite(value):
            yield _measure(kind.key, path, owner, value, reach, kind.low, kind.high, False)


def _walk(node: Any, parts: tuple[str, ...], path: Path, owner: str) -> Iterator[tuple[Path, str, Any]]:
    """Follow a pattern through records; ``*`` stands for each member of a list."""
    if node is None or not parts:
        yield path, owner, node
        return
    first, rest = parts[0], parts[1:]
    if first == "*":
        for number, member in enumerate(node):
            yield from _walk(member, rest, (*path, number), member.id)
    elif first.isdigit():
        yield from _walk(node[int(first)], rest, (*path, int(first)), owner)
    else:
        yield from _walk(getattr(node, first), rest, (*path, first), owner)


def case_with(case: Case, lengths: Mapping[Path, float]) -> Case:
    """Case with other lengths.

    Parameters
    ----------
    case : Case
        The case.
    lengths : mapping
        Length by path [mm].
    """
    out: Any = case
    for path, value in lengths.items():
        out = _put(out, path, value)
    changed: Case = out
    return changed


def _put(node: Any, path: Path, value: float) -> Any:
    if not path:
        return value
    first, rest = path[0], path[1:]
    if isinstance(first, int):
        return (*node[:first], _put(node[first], rest, value), *node[first + 1 :])
    return node.model_copy(update={first: _put(getattr(node, first), rest, value)})


def state_with_body(state: State, lengths: Mapping[str, float]) -> State:
    """State of a person whose estimated dimensions are others.

    Parameters
    ----------
    state : State
        The state.
    lengths : mapping of str to float
        Length by dimension [mm]; they stay marked as estimated.
    """
    if not lengths:
        return state
    dimensions = dict(state.body.dimensions)
    for name, value in lengths.items():
        dimensions[name] = Dimension(value, True, dimensions[name].sd)
    changed = state.with_values({(PERSON, f"body.{name}"): value for name, value in lengths.items()})
    return replace(changed, body=replace(state.body, dimensions=dimensions))
