"""Cut lists in words and as data: millimetres always, and inches to the sixteenth for who reads in inches."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import TypeVar

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.cut_expressions import Expression
from deskmend.language import current_unit, shown_length, tr
from deskmend.measures import MM_PER_INCH
from deskmend.planning.bill import CutPiece, cut_pieces, shortages
from deskmend.planning.model.offers import OptionSpec
from deskmend.report.case_documents import CutRecord
from deskmend.report.layout import Page
from deskmend.report.other_documents import CutFormula
from deskmend.report.words import item_title
from deskmend.workstation.state import State

__all__ = ["add_cuts", "cut_formulas", "cuts_json", "formulas_json", "inches_text", "part_text"]

Length = TypeVar("Length", int, Expression)

SIXTEENTHS = 16
"""Parts of an inch that rulers show [-]."""


def inches_text(mm: int) -> str:
    """Length as a ruler in inches shows it, to the nearest sixteenth, as ``3 15/16``; a half goes up."""
    sixteenths = int(Fraction(mm) / Fraction(MM_PER_INCH) * SIXTEENTHS + Fraction(1, 2))
    whole, part = divmod(sixteenths, SIXTEENTHS)
    if not part:
        return str(whole)
    return f"{whole} {Fraction(part, SIXTEENTHS)}" if whole else str(Fraction(part, SIXTEENTHS))


def part_text(piece: CutPiece) -> str:
    """How many pieces, and what each becomes."""
    return tr("{count} x {part}", count=piece.count, part=tr(piece.part))


def add_cuts(page: Page, option: OptionSpec, state: State, catalog: Catalog, indent: int) -> None:
    """Add the cut list of one step, if it has one, worked out for the workplace as it will be."""
    pieces = cut_pieces(option, state)
    if not pieces:
        return
    page.paragraph(tr("To cut:"), indent)
    page.points([_piece(piece, catalog) for piece in pieces], indent + 2)
    for short in shortages(pieces, option.fix, option.size, catalog):
        told = tr(
            "That takes {length} more of {thing} than is counted here: get a longer piece.",
            length=shown_length(short.missing),
            thing=item_title(short.item, catalog),
        )
        page.point("!", told, indent)


def _piece(piece: CutPiece, catalog: Catalog) -> str:
    sides = _sides(piece)
    if sides is None:
        measured = tr("measure it where it goes")
    else:
        number = inches_text if current_unit() == "in" else str
        measured = f"{_joined(sides, number)} {current_unit()}"
        if piece.measure_first:
            measured += tr(", but measure where it goes first")
    told = tr("{count} x {part}: {sides}", count=piece.count, part=tr(piece.part), sides=measured)
    return _from(told, piece.item, catalog)


def _from(told: str, item: str | None, catalog: Catalog) -> str:
    return told if item is None else tr("{piece}; from: {thing}", piece=told, thing=item_title(item, catalog))


def _sides(piece: CutPiece) -> list[tuple[int, int | None]] | None:
    """Sides given, each with its value at the other end where the piece tapers; None where none is known."""
    if piece.length is None:
        return None
    sides: list[tuple[int, int | None]] = [(piece.length, None)]
    if piece.width is not None:
        sides.append((piece.width, piece.width_to))
    if piece.thickness is not None:
        sides.append((piece.thickness, piece.thickness_to))
    return sides


def _joined(sides: Sequence[tuple[Length, Length | None]], shown: Callable[[Length], str]) -> str:
    return " x ".join(
        shown(side) if other is None else tr("{low} to {high}", low=shown(side), high=shown(other))
        for side, other in sides
    )


def cuts_json(option: OptionSpec, state: State) -> list[CutRecord]:
    """Cut list of one step as data: sides [mm]; ``inches`` only where inches were chosen."""
    return [_piece_json(piece) for piece in cut_pieces(option, state)]


def _piece_json(piece: CutPiece) -> CutRecord:
    sides = {
        "length": piece.length,
        "width": piece.width,
        "width_to": piece.width_to,
        "thickness": piece.thickness,
        "thickness_to": piece.thickness_to,
    }
    out: CutRecord = {
        "part": tr(piece.part),
        "item": piece.item,
        "count": piece.count,
        "length": sides["length"],
        "width": sides["width"],
        "width_to": sides["width_to"],
        "thickness": sides["thickness"],
        "thickness_to": sides["thickness_to"],
        "measure_first": piece.measure_first,
    }
    if current_unit() == "in":
        out["inches"] = {name: None if mm is None else inches_text(mm) for name, mm in sides.items()}
    return out


def cut_formulas(fix: Fix, catalog: Catalog) -> list[str]:
    """Cut list of a fix before its size and the workplace are known: sides as sums [mm]."""
    out = []
    for cut in fix.cuts:
        plain = not any(one.names for pair in cut.sides for one in pair if one)
        inches = plain and current_unit() == "in"
        sides = f"{_joined(cut.sides, _formula_in_inches if inches else _formula)} {'in' if inches else 'mm'}"
        told = tr("{count} x {part}: {sides}", count=cut.count, part=tr(cut.part), sides=sides)
        if cut.from_size is not None:
            told = tr("{piece}, from size {size} on", piece=told, size=cut.from_size)
        out.append(_from(told, cut.of, catalog))
    return out


def _formula(one: Expression) -> str:
    return f"({one})" if " " in str(one) else str(one)


def _formula_in_inches(one: Expression) -> str:
    """Sum of bare numbers in inches."""
    return inches_text(math.floor(one.value(lambda _: math.nan) + 0.5))


def formulas_json(fix: Fix) -> list[CutFormula]:
    """Cut list of a fix as data, sides as the sums that the catalog holds."""

    def side(one: Expression | None) -> str | None:
        return None if one is None else str(one)

    return [
        {
            "part": tr(cut.part),
            "item": cut.of,
            "count": cut.count,
            "length": side(cut.length),
            "width": side(cut.width),
            "width_to": side(cut.width_to),
            "thickness": side(cut.thickness),
            "thickness_to": side(cut.thickness_to),
            "from_size": cut.from_size,
            "measure_first": cut.fit,
        }
        for cut in fix.cuts
    ]
