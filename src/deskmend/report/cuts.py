"""The pieces of what is made: cut lists in words and as data, and drawn to scale."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from textwrap import wrap
from typing import TYPE_CHECKING, TypeVar

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.reading.fields import Expression
from deskmend.language import current_unit, shown_length, tr
from deskmend.measures import MM_PER_INCH
from deskmend.planning.bill import CutPiece, cut_pieces, shortages
from deskmend.planning.model.offers import OptionSpec
from deskmend.report.layout import Page
from deskmend.report.words import item_title
from deskmend.workstation.state import State

if TYPE_CHECKING:
    from deskmend.report.case_documents import CutRecord
    from deskmend.report.drawing.svg import XY, Canvas
    from deskmend.report.other_documents import CutFormula

__all__ = [
    "add_cuts",
    "cut_drawing",
    "cut_formulas",
    "cuts_json",
    "formulas_json",
    "inches_text",
]

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


PIECE_LETTER = 46.0
"""Size of letters on a telephone, set in the style sheet too; no other screen or paper has larger ones [mm of
the drawing]."""
ROW_WIDTH = 600.0
"""Width of every drawing: inside a step that is done with others a telephone of 390 px leaves 200 px for it,
so that letters are 15 px. Pieces that do not fit beside the last stand under it [mm of the drawing]."""
LONGEST_DRAWN = 400.0
"""Length at which the longest piece is drawn at most [mm of the drawing]."""
SLANT = 0.4
"""How much of a depth is drawn, up and to the right [-] (judgement, drawn only)."""
THIN = 14.0
"""Height at which a side that is the material's own is drawn [mm of the drawing]."""
GAP = 60.0
"""Room between two pieces [mm of the drawing]."""
LINE = 1.15 * PIECE_LETTER
"""From one line of letters to the next [mm of the drawing]."""
SMALLER = 0.95
"""By how much all is drawn smaller until a piece and its sizes fit [-]."""


@dataclass(frozen=True)
class _Word:
    """Something written at a piece, from the lower left corner of its room: start, middle or end of it."""

    at: XY
    text: str
    anchor: str = "start"

    @property
    def ends(self) -> tuple[float, float]:
        """Where it begins and ends."""
        x, wide = self.at[0], _wide(self.text)
        start = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * wide
        return start, start + wide


@dataclass(frozen=True)
class _Shape:
    """A piece as a block [mm]: its length to the right, one side upwards, where all are known one in depth.

    ``_to`` is a side at the far end of a piece that tapers; `scale` is what a millimetre is drawn as.
    """

    title: str
    long: int
    high: int | None
    high_to: int | None
    deep: int | None
    deep_to: int | None
    scale: float = 1.0

    @property
    def length(self) -> float:
        return self.long * self.scale

    @property
    def left(self) -> float:
        return THIN if self.high is None else self.high * self.scale

    @property
    def right(self) -> float:
        return self.left if self.high_to is None else self.high_to * self.scale

    @property
    def near(self) -> float:
        return 0.0 if self.deep is None else self.deep * self.scale * SLANT

    @property
    def far(self) -> float:
        return self.near if self.deep_to is None else self.deep_to * self.scale * SLANT

    @property
    def told(self) -> str:
        """Its length in words."""
        return f"{_shown(self.long)} {current_unit()}"

    @property
    def corner(self) -> XY:
        """Its lower left corner, from that of its room: words beside and under it have room there."""
        beside = _wide(_shown(self.high)) + 20.0 if self.high is not None else 0.0
        return max(beside, 0.5 * (_wide(self.told) - self.length)), 1.6 * PIECE_LETTER

    @property
    def tall(self) -> float:
        return max(self.left + self.near, self.right + self.far)

    @property
    def words(self) -> list[_Word]:
        """Everything that is written at it."""
        x, y = self.corner
        end, middle = x + self.length, x + 0.5 * self.length
        length = _Word((middle, y - 1.1 * PIECE_LETTER), self.told, "middle")
        deep = [_shown(side) for side in (self.deep, self.deep_to) if side is not None]
        out = [length]
        # One end of a depth that tapers above the other: beside each other they would be too wide in inches.
        for number, line in enumerate(reversed(deep)):
            out.append(_Word((end + self.far + 14.0, y + 0.5 * self.far + number * LINE), line))
        if self.high is not None:
            out.append(_Word((x - 12.0, y + _beside(self.left)), _shown(self.high), "end"))
        if self.high_to is not None and deep:
            # A tapering block has its depth written to the right of it.
            out.append(_Word((max(end, length.ends[1]) + 16.0, y - 1.1 * PIECE_LETTER), _shown(self.high_to)))
        elif self.high_to is not None:
            out.append(_Word((end + 14.0, y + _beside(self.right)), _shown(self.high_to)))
        above = max(y + self.tall + 0.5 * PIECE_LETTER, max(word.at[1] for word in out) + LINE)
        titles = wrap(self.title, int(ROW_WIDTH / _wide("m")))
        out += [_Word((0.0, above + number * LINE), line) for number, line in enumerate(reversed(titles))]
        return out

    @property
    def room(self) -> XY:
        """Width and height taken with all that is written."""
        words = self.words
        drawn = self.corner[0] + max(self.length + self.far, self.near)
        return max(drawn, *(word.ends[1] for word in words)), max(word.at[1] for word in words) + PIECE_LETTER


def _shape(piece: CutPiece, length: int) -> _Shape:
    title = tr("{count} x {part}", count=piece.count, part=tr(piece.part))
    if piece.width is not None and piece.thickness is not None:
        return _Shape(title, length, piece.thickness, piece.thickness_to, piece.width, piece.width_to)
    if piece.width is not None:
        return _Shape(title, length, piece.width, piece.width_to, None, None)
    return _Shape(title, length, piece.thickness, piece.thickness_to, None, None)


def cut_drawing(pieces: Sequence[CutPiece]) -> str:
    """Draw the pieces of one step to one scale, as an SVG element; empty where no length is known."""
    from deskmend.report.drawing.svg import Canvas

    shapes = [_shape(piece, piece.length) for piece in pieces if piece.length is not None]
    if not shapes:
        return ""
    scale = min(1.0, LONGEST_DRAWN / max(shape.long for shape in shapes))
    while any(replace(one, scale=scale).room[0] > ROW_WIDTH and one.long * scale > THIN for one in shapes):
        scale *= SMALLER
    rows: list[list[_Shape]] = [[]]
    for shape in (replace(one, scale=scale) for one in shapes):
        if rows[-1] and sum(one.room[0] + GAP for one in rows[-1]) + shape.room[0] > ROW_WIDTH:
            rows.append([])
        rows[-1].append(shape)
    heights = [max(shape.room[1] for shape in row) for row in rows]
    label = tr("The pieces to cut, drawn to scale. Their sizes stand in the list.")
    canvas = Canvas(0.0, ROW_WIDTH, -sum(heights), 0.0, label)
    y = 0.0
    for row, high in zip(rows, heights, strict=True):
        y -= high
        x = 0.0
        for shape in row:
            _draw(canvas, shape, (x, y))
            x += shape.room[0] + GAP
    return canvas.svg()


def _shown(mm: int | None) -> str:
    if mm is None:
        return ""
    return inches_text(mm) if current_unit() == "in" else str(mm)


def _wide(text: str) -> float:
    """At most about as wide as a text is written: figures of a wide face."""
    return 0.64 * PIECE_LETTER * len(text)


def _beside(high: float) -> float:
    """Base line of what is written beside a side: at its middle, and clear of the length under the piece."""
    return max(0.5 * high - 0.35 * PIECE_LETTER, -0.08 * PIECE_LETTER)


def _draw(canvas: Canvas, shape: _Shape, place: XY) -> None:
    x, y = place[0] + shape.corner[0], place[1] + shape.corner[1]
    end, left, right, far = x + shape.length, y + shape.left, y + shape.right, shape.far
    if shape.near or far:
        back = (end + far, right + far)
        canvas.outline([(x, left), (end, right), back, (x + shape.near, left + shape.near)], "piece top")
        canvas.outline([(end, y), (end + far, y + far), back, (end, right)], "piece end")
    canvas.outline([(x, y), (end, y), (end, right), (x, left)], "piece", {"length": str(shape.long)})
    for word in shape.words:
        canvas.text((place[0] + word.at[0], place[1] + word.at[1]), word.text, word.anchor)
