"""Drawings of a page that share their shapes are the same drawings."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree import ElementTree

from tests.planning.cases import made

from deskmend.planning.score import PLAIN, score
from deskmend.report.drawing.above import above_view
from deskmend.report.drawing.side import looks, side_view
from deskmend.report.drawing.svg import share_shapes
from deskmend.workstation.state import State, state_of

Element = ElementTree.Element
Shape = tuple[str, tuple[tuple[str, str], ...], str]


def drawings() -> list[str]:
    """A few drawings of one workplace that differ a little."""
    before = state_of(made())
    (task,) = before.tasks[:1]
    out = []
    for pad in (0.0, 20.0, 40.0, 60.0):
        after = padded(before, pad)
        out.append(side_view(before, after, task, "sit", score(before, PLAIN), score(after, PLAIN)).svg)
        out.append(above_view(before, after, task).svg)
    return out


def padded(state: State, pad: float) -> State:
    """The same workplace with something on the seat."""
    return state.with_values({(("place", state.places[0]), "seat.pad"): pad})


def shapes(element: Element, known: dict[str, Element], kind: str = "") -> Iterator[Shape]:
    """Shapes in the order they are painted, with the classes that say how they look."""
    for child in element:
        own = child.get("class") or kind
        if child.tag == "use":
            target = known[(child.get("href") or "").removeprefix("#")]
            holder = Element("g")
            holder.append(target)
            yield from shapes(holder, known, own)
        elif child.tag == "g":
            yield from shapes(child, known, kind)
        else:
            left_out = ("class", "id", "vector-effect")
            values = sorted((name, value) for name, value in child.items() if name not in left_out)
            yield child.tag, tuple(values), own


def test_shared_drawings_paint_the_same_shapes_in_the_same_order() -> None:
    plain = drawings()
    definitions, shared = share_shapes(plain)
    known = {
        str(one.get("id")): one
        for one in ElementTree.fromstring(f"<svg>{definitions}</svg>")
        if one.get("id")
    }
    assert known
    for one, other in zip(plain, shared, strict=True):
        first, second = (ElementTree.fromstring(text) for text in (one, other))
        assert list(shapes(first[0], {})) == list(shapes(second[0], known))
        assert first.attrib == second.attrib
        assert [text.text for text in first.iter("text")] == [text.text for text in second.iter("text")]
        # whoever reads coordinates off a page finds the eye in the drawing itself
        assert len(second.findall(".//circle[@data-of='eye']")) == len(
            first.findall(".//circle[@data-of='eye']")
        )
    assert len(definitions) + sum(map(len, shared)) < sum(map(len, plain))


def test_definitions_have_names_that_no_fix_place_or_task_can_have() -> None:
    definitions, _ = share_shapes(drawings())
    names = [one.get("id") or "" for one in ElementTree.fromstring(f"<svg>{definitions}</svg>")]
    assert all("." in name for name in names)
    assert len(names) == len(set(names))


def test_two_states_look_alike_exactly_where_nothing_drawn_differs() -> None:
    before = state_of(made())
    task = before.tasks[0]
    same = before.with_values({(("place", before.places[0]), "light.lux"): 900.0})
    assert looks(before, task, "sit") == looks(same, task, "sit")
    assert looks(before, task, "sit") != looks(padded(before, 20.0), task, "sit")
