"""Checking the cut lists of a catalog: names that can be resolved, sizes that can be sawn."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from deskmend.errors import did_you_mean
from deskmend.intake.catalog_records import Fix
from deskmend.intake.cut_expressions import Expression
from deskmend.intake.cut_records import Cut
from deskmend.planning.cut_list import SIZE
from deskmend.workstation.fields import FIELDS, Level

__all__ = ["cut_faults"]

SHORTEST, LONGEST = 1.0, 5000.0
"""Sides of a piece that a cut list may give [mm] (judgement)."""
_WITHIN: dict[str, tuple[Level, ...]] = {
    "person": ("person", "device"),
    "device": ("person", "device"),
    "place": ("person", "device", "place"),
    "task": ("person", "device", "place", "task"),
}
"""Levels whose fields are told for a fix of each scope."""


def cut_faults(fix: Fix) -> Iterator[tuple[str, str, str, str]]:
    """Find what in the cut list of a fix cannot be worked out.

    Parameters
    ----------
    fix : Fix
        The fix.

    Yields
    ------
    tuple of str
        Where, what was read, what is allowed, a hint.
    """
    for number, cut in enumerate(fix.cuts):
        where = f"cuts.{number}"
        if cut.from_size is not None and not _sizes(fix):
            yield f"{where}.from_size", str(cut.from_size), "only where the fix has sizes in numbers", ""
        for side in ("length", "width", "width_to", "thickness", "thickness_to"):
            one: Expression | None = getattr(cut, side)
            if one is not None:
                yield from _of_side(fix, cut, f"{where}.{side}", one)


def _of_side(fix: Fix, cut: Cut, where: str, one: Expression) -> Iterator[tuple[str, str, str, str]]:
    known = [name for name, field in FIELDS.items() if field.is_number and field.level in _WITHIN[fix.scope]]
    unknown = [name for name in one.names if name != SIZE and name not in known]
    for name in unknown:
        allowed = f"size, or a number of the model that a fix of scope {fix.scope} can ask for"
        yield where, name, allowed, did_you_mean(name, [SIZE, *known])
    if SIZE in one.names and not _sizes(fix):
        yield where, SIZE, "no size, since the fix has none in numbers", ""
    elif not unknown:
        yield from _out_of_hand(fix, cut, where, one)


def _out_of_hand(fix: Fix, cut: Cut, where: str, one: Expression) -> Iterator[tuple[str, str, str, str]]:
    """Sides that cannot be at an end of the sizes and fields they hang on."""
    ends: list[tuple[float, ...]] = []
    for name in one.names:
        if name == SIZE:
            ends.append(tuple(s for s in _sizes(fix) if cut.from_size is None or s >= cut.from_size))
        else:
            ends.append((FIELDS[name].low, FIELDS[name].high))
    for values in product(*ends):
        given = dict(zip(one.names, values, strict=True))
        value = one.value(given.__getitem__)
        if not (math.isfinite(value) and SHORTEST <= value <= LONGEST):
            at = ", ".join(f"{name} {number:g}" for name, number in given.items())
            allowed = f"{SHORTEST:g} to {LONGEST:g} mm for every size and field"
            yield where, f"{one} is {value:g} mm" + (f" at {at}" if at else ""), allowed, ""
            return


def _sizes(fix: Fix) -> tuple[float, ...]:
    """Smallest and largest size in numbers; none where it has words or what the case offers."""
    size = fix.size
    if size is None or size.low is None or size.high is None:
        return ()
    return (float(size.low), float(size.high))
