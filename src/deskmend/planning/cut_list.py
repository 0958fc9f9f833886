"""The pieces to cut for one step of a plan, in whole millimetres."""

from __future__ import annotations

import math
from dataclasses import dataclass

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.cut_expressions import Expression
from deskmend.planning.offers import OptionSpec
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import Owner, State, owner_of

__all__ = ["SIZE", "CutPiece", "Shortage", "cut_pieces", "shortages"]

SIZE = "size"
"""Name that stands for the chosen size in a cut list."""


@dataclass(frozen=True)
class CutPiece:
    """One kind of piece.

    Attributes
    ----------
    part : str
        What it becomes.
    item : str or None
        Item it is cut from; None: it is cut off what stands there.
    count : int
        How many, all alike [-].
    length, width, thickness : int or None
        Sides [mm]; None where it is the material's own, or cannot be told.
    width_to, thickness_to : int or None
        The same at the other end of a piece that tapers [mm].
    measure_first : bool
        It has to be measured where it goes: the size is a start, or rests on what was not measured.
    """

    part: str
    item: str | None
    count: int
    length: int | None
    width: int | None = None
    width_to: int | None = None
    thickness: int | None = None
    thickness_to: int | None = None
    measure_first: bool = False


@dataclass(frozen=True)
class Shortage:
    """How much more of an item the pieces take than the fix brings.

    Attributes
    ----------
    item : str
        The item; it is counted by length.
    missing : int
        Length missing [mm].
    """

    item: str
    missing: int


def cut_pieces(option: OptionSpec, state: State) -> tuple[CutPiece, ...]:
    """Work out the cut list of one step.

    Parameters
    ----------
    option : OptionSpec
        The fix with its size.
    state : State
        The workplace as it will be; sides may hang on its fields.

    Returns
    -------
    tuple of CutPiece
        In the order of the catalog; rounded half up to whole millimetres.
    """
    size = option.size if isinstance(option.size, float | int) else math.nan
    out = []
    for cut in option.fix.cuts:
        if cut.from_size is not None and not size >= cut.from_size:
            continue
        sums = (cut.length, cut.width, cut.width_to, cut.thickness, cut.thickness_to)
        sides = [None if one is None else _side(one, option, state, size) for one in sums]
        told = [value for one, value in zip(sums, sides, strict=True) if one is not None]
        guessed = any(_assumed(name, option.owner, state) for one in sums if one for name in one.names)
        length, width, width_to, thickness, thickness_to = sides
        out.append(
            CutPiece(
                cut.part,
                cut.of,
                cut.count,
                length,
                width,
                width_to,
                thickness,
                thickness_to,
                cut.fit or guessed or None in told,
            )
        )
    return tuple(out)


def _side(one: Expression, option: OptionSpec, state: State, size: float) -> int | None:
    def lookup(name: str) -> float:
        if name == SIZE:
            return size
        value = state.values.get((_owner(name, option.owner, state), name), math.nan)
        return value if isinstance(value, float) else math.nan

    value = one.value(lookup)
    if not math.isfinite(value) or value < 0.5:
        return None
    return math.floor(value + 0.5)


def _owner(name: str, owner: Owner, state: State) -> Owner:
    """Whose field a name of a cut list means, for a fix of one owner."""
    level, of = owner
    task = of if level == "task" else ""
    place = state.place_of[of] if level == "task" else of if level == "place" else ""
    return owner_of(FIELDS[name].level, task, place)


def _assumed(name: str, owner: Owner, state: State) -> bool:
    return name != SIZE and (_owner(name, owner, state), name) in state.assumed


def shortages(pieces: tuple[CutPiece, ...], fix: Fix, catalog: Catalog) -> tuple[Shortage, ...]:
    """Items counted by length of which the pieces take more than the fix brings.

    Parameters
    ----------
    pieces : tuple of CutPiece
        From `cut_pieces`.
    fix : Fix
        The fix.
    catalog : Catalog
        For the units of items.
    """
    out = []
    for material in fix.materials:
        if material.quantity is None or catalog.items[material.item].unit != "cm":
            continue
        taken = sum(piece.count * (piece.length or 0) for piece in pieces if piece.item == material.item)
        if taken > material.quantity * 10:
            out.append(Shortage(material.item, taken - material.quantity * 10))
    return tuple(out)
