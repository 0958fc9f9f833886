"""A name in a drawing is written at its thing, or in the key under it with its mark there: none is lost."""

from __future__ import annotations

from xml.etree import ElementTree

from deskmend.report.drawing.labels import DISC, MOST, NamedPoint, place_labels
from deskmend.report.drawing.svg import Canvas


def drawn(names: list[NamedPoint]) -> ElementTree.Element:
    """A floor with names over it."""
    canvas = Canvas(0.0, 900.0, 0.0, 900.0, "drawn for a test")
    canvas.line((0.0, 0.0), (600.0, 0.0), "floor")
    place_labels(canvas, names, (0.0, 600.0, 0.0, 600.0))
    return ElementTree.fromstring(canvas.svg())


def test_every_name_is_written() -> None:
    names = [NamedPoint((40.0 * number, 300.0), f"thing {number}") for number in range(MOST + 4)]
    texts = list(drawn(names).iter("text"))
    written = [text.text for text in texts]
    for name in names:
        assert written.count(name.name) == 1
    keyed = [text for text in texts if text.get("class") == "label key"]
    # each of them has its mark twice: at the thing and in the key
    marks = [text.text for text in texts if "number" in (text.get("class") or "")]
    assert len(keyed) >= 4
    assert sorted(marks) == sorted(2 * [chr(ord("A") + number) for number in range(len(keyed))])


def test_marks_of_steps_without_room_are_their_numbers_and_stand_apart() -> None:
    names = [NamedPoint((300.0 + number, 300.0), "name", "30 mm", number + 1) for number in range(MOST + 3)]
    root = drawn(names)
    marks = [text.text for text in root.iter("text") if "number" in (text.get("class") or "")]
    assert set(marks) == {str(number + 1) for number in range(MOST + 3)}
    discs = [
        (float(one.get("cx") or 0), float(one.get("cy") or 0))
        for one in root.iter("circle")
        if "disc" in (one.get("class") or "").split()
    ]
    for number, (x, y) in enumerate(discs):
        for other in discs[number + 1 :]:
            assert max(abs(x - other[0]), abs(y - other[1])) >= 2 * DISC - 1e-3
    left, top, wide, high = (float(value) for value in (root.get("viewBox") or "").split())
    for x, y in discs:
        assert left <= x - DISC
        assert x + DISC <= left + wide
        assert top <= -y - DISC
        assert -y + DISC <= top + high


def test_what_lies_apart_is_all_written_at_its_place() -> None:
    names = [NamedPoint((0.0, 900.0), "lamp"), NamedPoint((600.0, 100.0), "footrest")]
    assert [text.get("class") for text in drawn(names).iter("text")] == 2 * ["label name"]
