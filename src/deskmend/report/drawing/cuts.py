"""The pieces of what is made, drawn to scale with their cut sizes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from deskmend.language import current_unit, tr
from deskmend.planning.bill import CutPiece
from deskmend.report.cuts import inches_text
from deskmend.report.drawing.svg import XY, Canvas

__all__ = ["cut_drawing"]

PIECE_LETTER = 44.0
"""Size of letters, set in the style sheet too [mm of the drawing]."""
ROW_WIDTH = 960.0
"""Width of a drawing; pieces that do not fit beside the last stand under it [mm of the drawing]."""
LONGEST_DRAWN = 600.0
"""Length at which the longest piece is drawn at most [mm of the drawing]."""
SLANT = 0.4
"""How much of a depth is drawn, up and to the right [-] (judgement, drawn only)."""
THIN = 14.0
"""Height at which a side that is the material's own is drawn [mm of the drawing]."""
GAP = 60.0
"""Room between two pieces [mm of the drawing]."""


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
    def words(self) -> tuple[str, str, str]:
        """What is written at the left end, at the right end, and at the depth."""
        deep = " - ".join(_shown(side) for side in (self.deep, self.deep_to) if side is not None)
        return _shown(self.high), _shown(self.high_to), deep

    @property
    def tall(self) -> float:
        return max(self.left + self.near, self.right + self.far)

    @property
    def room(self) -> tuple[float, float]:
        """Width and height taken with all that is written."""
        left, right, deep = (_wide(word) for word in self.words)
        wide = left + 20.0 + max(self.length + self.far, self.near) + 20.0 + max(right, deep)
        return max(wide, _wide(self.title)) + GAP, self.tall + 3.4 * PIECE_LETTER + 0.5 * GAP


def _shape(piece: CutPiece, length: int) -> _Shape:
    title = tr("{count} x {part}", count=piece.count, part=tr(piece.part))
    if piece.width is not None and piece.thickness is not None:
        return _Shape(title, length, piece.thickness, piece.thickness_to, piece.width, piece.width_to)
    if piece.width is not None:
        return _Shape(title, length, piece.width, piece.width_to, None, None)
    return _Shape(title, length, piece.thickness, piece.thickness_to, None, None)


def cut_drawing(pieces: Sequence[CutPiece]) -> str:
    """Draw the pieces of one step to one scale, as an SVG element; empty where no length is known."""
    shapes = [_shape(piece, piece.length) for piece in pieces if piece.length is not None]
    if not shapes:
        return ""
    scale = min(1.0, LONGEST_DRAWN / max(shape.long for shape in shapes))
    rows: list[list[_Shape]] = [[]]
    for shape in (replace(one, scale=scale) for one in shapes):
        if rows[-1] and sum(one.room[0] for one in rows[-1]) + shape.room[0] > ROW_WIDTH:
            rows.append([])
        rows[-1].append(shape)
    heights = [max(shape.room[1] for shape in row) for row in rows]
    wide = max(sum(shape.room[0] for shape in row) for row in rows)
    label = tr("The pieces to cut, drawn to scale. Their sizes stand in the list.")
    canvas = Canvas(0.0, max(ROW_WIDTH, wide), -sum(heights), 0.0, label)
    y = 0.0
    for row, high in zip(rows, heights, strict=True):
        y -= high
        x = 0.0
        for shape in row:
            _draw(canvas, shape, (x, y))
            x += shape.room[0]
    return canvas.svg()


def _shown(mm: int | None) -> str:
    if mm is None:
        return ""
    return inches_text(mm) if current_unit() == "in" else str(mm)


def _wide(text: str) -> float:
    """About as wide as a text is written."""
    return 0.6 * PIECE_LETTER * len(text)


def _draw(canvas: Canvas, shape: _Shape, corner: XY) -> None:
    at_left, at_right, at_depth = shape.words
    x, y = corner[0] + _wide(at_left) + 20.0, corner[1] + 1.6 * PIECE_LETTER
    end, left, right, far = x + shape.length, y + shape.left, y + shape.right, shape.far
    if shape.near or far:
        back = (end + far, right + far)
        canvas.outline([(x, left), (end, right), back, (x + shape.near, left + shape.near)], "piece top")
        canvas.outline([(end, y), (end + far, y + far), back, (end, right)], "piece end")
        canvas.text((end + far + 14.0, y + 0.5 * far), at_depth)
    canvas.outline([(x, y), (end, y), (end, right), (x, left)], "piece", {"length": str(shape.long)})
    canvas.text((corner[0], y + shape.tall + 0.5 * PIECE_LETTER), shape.title)
    canvas.text(
        (x + 0.5 * shape.length, y - 1.1 * PIECE_LETTER), f"{_shown(shape.long)} {current_unit()}", "middle"
    )
    if at_left:
        canvas.text((x - 12.0, y + 0.5 * shape.left - 0.35 * PIECE_LETTER), at_left, "end")
    if at_right:
        # A tapering block has its depth written to the right of it.
        place = (
            (end + 16.0, y - 1.1 * PIECE_LETTER)
            if at_depth
            else (end + 14.0, y + 0.5 * shape.right - 0.35 * PIECE_LETTER)
        )
        canvas.text(place, at_right)
