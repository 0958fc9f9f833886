"""A name in a drawing is written at its thing, or said to have had no room: none is lost."""

from __future__ import annotations

from deskmend.report.drawing.labels import MOST, NamedPoint, place_labels
from deskmend.report.drawing.svg import Canvas


def test_every_name_is_written_or_given_back() -> None:
    names = [NamedPoint((40.0 * number, 300.0), f"thing {number}") for number in range(MOST + 4)]
    canvas = Canvas(0.0, 900.0, 0.0, 900.0, "drawn for a test")
    canvas.line((0.0, 0.0), (600.0, 0.0), "floor")
    left = place_labels(canvas, names, (0.0, 600.0, 0.0, 600.0))
    written = canvas.svg()
    assert left
    assert {one.name for one in names if f">{one.name}<" in written} == {
        one.name for one in names if one not in left
    }


def test_what_lies_apart_is_all_written() -> None:
    names = [NamedPoint((0.0, 900.0), "lamp"), NamedPoint((900.0, 100.0), "footrest")]
    canvas = Canvas(0.0, 900.0, 0.0, 900.0, "drawn for a test")
    canvas.line((0.0, 0.0), (900.0, 0.0), "floor")
    assert place_labels(canvas, names, (0.0, 900.0, 0.0, 900.0)) == []
