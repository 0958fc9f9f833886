"""Reading a marks file: where in a picture the sheet and the points are, and what was taped there.

Pixels are those of the upright picture, from its top left corner, right and down.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import create_model

from deskmend.errors import Fault, InputFaults, Unreadable
from deskmend.intake.reading.fields import FieldKind, free_text, list_of, word
from deskmend.intake.reading.records import Record, fault_at, measured, read_plain
from deskmend.intake.reading.yaml_tree import YamlTree, read_tree, to_plain
from deskmend.measures import Mm
from deskmend.picture.measured import LENGTHS, landmarks, sheets
from deskmend.picture.scene import CORNERS

Pixel = tuple[float, float]

LEAST_SHEET_SIDE = 12.0
"""Side of the sheet under which its corners say nothing [px] (judgement): six times the spread of a mark."""
LEAST_APART = 1.0
"""Two points nearer than this were meant to be one [px] (judgement)."""
FLATTEST = 0.2
"""Least turn at a corner, as the sine of its angle [-] (judgement): a sheet seen so askew tells no scale."""

MOST_PIXELS_ACROSS = 30_000.0
"""Side that no picture has [px]."""
_NUMBER = re.compile(r"[0-9]{1,5}(?:\.[0-9]{0,30})?", re.ASCII)

_PIXEL = "two numbers, right and down from the top left corner of the picture, as [1520, 880]"


def _read_pixel(value: Any, _: dict[str, Any]) -> Pixel:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise Unreadable(_PIXEL, note="are no two numbers")
    across, down = (float(one) if _NUMBER.fullmatch(str(one)) else math.nan for one in value)
    if not (0.0 <= across <= MOST_PIXELS_ACROSS and 0.0 <= down <= MOST_PIXELS_ACROSS):
        shown = ", ".join(str(one)[:20] for one in value)
        raise Unreadable(_PIXEL, note=f'read "{shown}"')
    return across, down


PIXEL = FieldKind(_PIXEL, _read_pixel, written=list_of(2))
"""Kind of a field that gives a place in a picture."""

_FOUR = f"four corners in the order {', '.join(CORNERS)}, each {_PIXEL}"


def _read_corners(value: Any, _: dict[str, Any]) -> tuple[Pixel, ...]:
    if not isinstance(value, list | tuple) or len(value) != len(CORNERS):
        raise Unreadable(_FOUR, note="are not four corners")
    corners = tuple(_read_pixel(one, {}) for one in value)
    if note := _twisted(corners):
        raise Unreadable(_FOUR, note=note)
    return corners


def _twisted(corners: tuple[Pixel, ...]) -> str:
    """Say what is wrong with the corners of a sheet; empty where they may be those of one."""
    sides = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)]
    if min(math.hypot(*side) for side in sides) < LEAST_SHEET_SIDE:
        return f"the sheet is too small: a side has less than {LEAST_SHEET_SIDE:g} pixels"
    turns = [
        (a[0] * b[1] - a[1] * b[0]) / (math.hypot(*a) * math.hypot(*b))
        for a, b in zip(sides, (*sides[1:], sides[0]), strict=True)
    ]
    if max(turns) < -FLATTEST:
        return "the corners run the other way round, as in a mirror"
    if min(turns) < FLATTEST:
        return "the corners lie on a line, or the lines between them cross"
    if sides[0][0] < abs(sides[0][1]):
        return "the first two corners are not its upper side"
    return ""


class SheetMarks(Record):
    """The sheet in a picture."""

    kind: Annotated[Literal["a4", "letter", "card"], word(Literal["a4", "letter", "card"])]
    """Which sheet it is [-]."""
    corners: Annotated[tuple[Pixel, ...], FieldKind(_FOUR, _read_corners, written=list_of(4, list_of(2)))]
    """Its corners [px]."""

    @property
    def size(self) -> tuple[Mm, Mm]:
        """Width and height as it is held, which its marks tell."""
        a, b, c, d = self.corners
        across = math.dist(a, b) + math.dist(d, c)
        down = math.dist(a, d) + math.dist(b, c)
        sheet = sheets()[self.kind]
        return (sheet.narrow, sheet.long) if down >= across else (sheet.long, sheet.narrow)


class KnownFacts(Record):
    """What is known of the person besides; only held against what the picture says."""

    stature: Annotated[Mm, measured("person.stature")] | None = None
    """Height standing upright, without shoes [mm]."""


def _points_record() -> type[Record]:
    fields: dict[str, Any] = {name: (Annotated[Pixel, PIXEL] | None, None) for name in landmarks()}
    return create_model("PointMarks", __base__=Record, **fields)


def _taped_record() -> type[Record]:
    kind = measured("marks.taped")
    fields: dict[str, Any] = {name: (Annotated[float, kind] | None, None) for name in LENGTHS}
    return create_model("TapedLengths", __base__=Record, **fields)


_POINTS, _TAPED = _points_record(), _taped_record()


class MarksRecord(Record):
    """Marks in one picture."""

    format: Annotated[Literal["deskmend-marks/1"], word(Literal["deskmend-marks/1"])]
    """Format of the file [-]."""
    picture: Annotated[str, free_text(200)]
    """Name of the picture's file [-]."""
    person_faces: Annotated[Literal["left", "right"], word(Literal["left", "right"])]
    """Where the person faces, as seen in the picture [-]."""
    sheet: SheetMarks
    """The sheet that gives the scale [-]."""
    points: _POINTS  # type: ignore[valid-type]
    """Points of body and furniture; what is left out cannot be told [px]."""
    taped: _TAPED = _TAPED()  # type: ignore[valid-type]
    """Lengths measured with a tape, which make all others better [mm]."""
    known: KnownFacts = KnownFacts()
    """What is known besides [-]."""

    @property
    def marked(self) -> Mapping[str, Pixel]:
        """Points by name, those left out left out."""
        return {name: at for name in landmarks() if (at := getattr(self.points, name)) is not None}

    @property
    def tapes(self) -> Mapping[str, float]:
        """Taped lengths by name, as they were given [mm]."""
        return {name: one for name in LENGTHS if (one := getattr(self.taped, name)) is not None}


def load_marks(path: str | Path, picture: str | Path, size: tuple[int, int]) -> MarksRecord:
    """Read the marks of a picture of this size [px]; `InputFaults` with every fault."""
    tree, faults = read_tree(path)
    if tree is None:
        raise InputFaults(faults)
    return read_marks(to_plain(tree.root), tree.file, Path(picture).name, size, tree, faults)


def read_marks(
    plain: Any,
    file: str,
    name: str,
    size: tuple[int, int],
    tree: YamlTree | None = None,
    faults: Sequence[Fault] = (),
) -> MarksRecord:
    """Check marks, as mappings, lists and texts, of a picture of this name and size [px].

    `InputFaults` with every fault, those found before among them.
    """
    marks, found = read_plain(plain, MarksRecord, file, tree)
    told = [*faults, *found]
    if marks is not None:
        told += _misplaced(marks, plain, file, tree, name, size)
    if marks is None or told:
        raise InputFaults(told)
    return marks


def _misplaced(
    marks: MarksRecord, plain: Any, file: str, tree: YamlTree | None, name: str, size: tuple[int, int]
) -> Iterator[Fault]:
    """Tell what the marks cannot be, given their picture."""
    if marks.picture != name:
        yield fault_at(("picture",), plain, file, tree, marks.picture, f"{name}, the picture given")
    inside = f"a place in the picture of {size[0]} by {size[1]} pixels"
    places = [(("points", key), at) for key, at in marks.marked.items()]
    for loc, (across, down) in (
        *places,
        *((("sheet", "corners"), corner) for corner in marks.sheet.corners),
    ):
        if across > size[0] or down > size[1]:
            yield fault_at(loc, plain, file, tree, f"{across:g}, {down:g}", inside)
    for (first, at), (second, other) in combinations(marks.marked.items(), 2):
        if math.dist(at, other) < LEAST_APART:
            note = f"lies where {first} lies"
            yield fault_at(("points", second), plain, file, tree, None, "a place of its own", note=note)
    if not marks.marked:
        yield fault_at(("points",), plain, file, tree, None, "at least one point", note="is empty")
