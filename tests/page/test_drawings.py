"""Drawings hold the model's own quantities, and nothing in them stands in anything else."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise
from math import atan2, degrees
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from tests.planning.cases import made
from tests.stages import NOW

from deskmend.intake.case import Case
from deskmend.intake.catalog import load_catalog
from deskmend.language import LANGUAGES, LENGTH_UNITS, measuring, reading
from deskmend.planning.bill import CutPiece
from deskmend.planning.inputs import find_prices
from deskmend.planning.plan import plan
from deskmend.planning.score import PLAIN, score
from deskmend.report.cuts import PIECE_LETTER, ROW_WIDTH, cut_drawing
from deskmend.report.drawing.above import above_view
from deskmend.report.drawing.furniture import desk_edge, things_of
from deskmend.report.drawing.person import looked_at, modes_of, pose_of, worked_on
from deskmend.report.drawing.side import SideView, side_view
from deskmend.report.html.drawings import drawings_of
from deskmend.risk.severity import curves
from deskmend.workstation.distances import MIDDLE_FOREARM_HAND
from deskmend.workstation.state import State, evaluate, state_of

from .pages import SCENARIOS, page_of, varied

pytestmark = pytest.mark.both
Element = ElementTree.Element


def drawn(before: State, after: State, task: str, mode: str) -> tuple[SideView, Element]:
    """Side view of two states, and its root."""
    view = side_view(before, after, task, mode, score(before, PLAIN), score(after, PLAIN))
    return view, ElementTree.fromstring(view.svg)


def marked(root: Element, of: str, kind: str) -> list[Element]:
    """Elements that say what they are of, with a class."""
    return [e for e in root.iter() if e.get("data-of") == of and kind in (e.get("class") or "").split()]


def corners(element: Element) -> list[tuple[float, float]]:
    """Points of a polygon."""
    return [
        (float(x), float(y)) for x, y in (pair.split(",") for pair in (element.get("points") or "").split())
    ]


def number(element: Element, name: str) -> float:
    """One coordinate."""
    return float(element.get(name) or "nan")


def last_states() -> list[tuple[str, State, State, str, str]]:
    """Every task of every scenario as it is now and with its dearest plan."""
    out = []
    for scenario in SCENARIOS if NOW.thorough else SCENARIOS[:1]:
        plan = page_of(scenario).plans.plans[-1]
        for task in plan.state_after.tasks:
            for mode in modes_of(plan.state_after, task):
                out.append((scenario, plan.state_before, plan.state_after, task, mode))
    return out


def test_heights_in_the_side_view_are_the_quantities() -> None:
    for _, before, after, task, mode in last_states():
        _, root = drawn(before, after, task, mode)
        ask = evaluate(after, task)
        place: Any = ("place", after.place_of[task])
        target, hand = looked_at(after, task), worked_on(after, task)
        (eye,) = (
            marked(root, "eye", "eye")
            if mode not in modes_of(before, task)
            else [e for e in marked(root, "eye", "eye") if "now" not in (e.get("class") or "")]
        )
        if float(ask("trunk_inclination", mode=mode, target=target)) == 0.0:
            assert number(eye, "cy") == pytest.approx(float(ask("eye_height", mode=mode)), abs=1e-3)
        (hands,) = marked(root, "hand", "joint")
        assert number(hands, "cy") == pytest.approx(float(ask("hand_height", hand=hand)), abs=1e-3)
        (desk,) = marked(root, "desk.height", "then")
        # what carries the work: the table, or a board on the lap
        assert corners(desk)[0][1] == pytest.approx(float(ask("work_surface")), abs=1e-3)
        for screen in marked(root, "screen", "then"):
            top, half = (
                float(ask(name, target="screen")) for name in ("target_top_height", "target_half_height")
            )
            assert number(screen, "y2") == pytest.approx(top, abs=1e-3)
            assert number(screen, "y1") == pytest.approx(top - 2 * half, abs=1e-3)
        for paper in marked(root, "paper", "then"):
            centre = float(ask("target_centre_height", target="paper"))
            assert (number(paper, "y1") + number(paper, "y2")) / 2 == pytest.approx(centre, abs=1e-3)
        if mode == "sit":
            (seat,) = marked(root, "seat.height", "then")
            assert corners(seat)[0][1] == pytest.approx(float(after.values[place, "seat.height"]), abs=1e-3)
            for cushion in marked(root, "seat.pad", "then"):
                assert corners(cushion)[3][1] == pytest.approx(float(ask("seat_front")), abs=1e-3)
            for support in marked(root, "feet", "then"):
                top_edge = number(support, "y") + number(support, "height")
                assert top_edge == pytest.approx(float(ask("foot_surface")), abs=1e-3)


def test_the_distance_to_what_is_looked_at_most_is_the_quantity() -> None:
    for _, before, after, task, mode in last_states():
        target = looked_at(after, task)
        _, root = drawn(before, after, task, mode)
        (thing,) = marked(root, target, "then")
        middle = (number(thing, "x1") + number(thing, "x2")) / 2
        eye = pose_of(after, task, mode).eye_upright[0]
        distance = float(evaluate(after, task)("target_distance", mode=mode, target=target))
        assert middle - eye == pytest.approx(distance, abs=1e-3)


@pytest.mark.thorough
def test_the_line_of_sight_has_the_angle_that_is_written() -> None:
    seen = 0
    for _, before, after, task, mode in last_states():
        view, root = drawn(before, after, task, mode)
        measure = next(one for one in view.dimensions if one.name == "gaze_centre")
        angle = float(evaluate(after, task)("gaze_centre", mode=mode, target=looked_at(after, task)))
        assert measure.value_then == angle
        if measure.low is None:
            continue
        seen += 1
        sight = next(e for e in marked(root, "sight", "then"))
        down = number(sight, "y1") - number(sight, "y2")
        along = number(sight, "x2") - number(sight, "x1")
        assert degrees(atan2(down, along)) == pytest.approx(angle, abs=0.01)
    # Only a screen has a range for the line of sight: paper is judged by head and trunk.
    assert seen >= 2


def test_dimension_lines_are_as_long_as_what_is_written_at_them() -> None:
    for _, before, after, task, mode in last_states():
        view, root = drawn(before, after, task, mode)
        lined = [one for one in view.dimensions if one.kind == "length" and one.low is not None]
        for measure in lined:
            (line,) = marked(root, measure.name, "measure")
            assert number(line, "y2") - number(line, "y1") == pytest.approx(measure.value_then, abs=1e-3)
        written = {e.text for e in root.iter("text")}
        assert {one.then for one in lined} <= written


MONITOR: dict[str, Any] = {
    "devices__monitor": {"top": "560", "height": "300", "top_range": ["300", "560"]},
    "devices__keyboard": "separate",
    "devices__mouse": "separate",
    "tasks__0__main": "monitor",
}


@pytest.mark.parametrize(
    ("language", "told"), [("en", "360 mm to its top edge"), ("es", "360 mm hasta su borde superior")]
)
def test_a_lowered_monitor_is_bold_and_named_with_its_height(language: str, told: str) -> None:
    as_now = state_of(made(**MONITOR))
    lower = state_of(made(**MONITOR | {"devices__monitor": {"top": "360", "height": "300"}}))
    with reading(language):
        for after, bold in ((lower, True), (as_now, False)):
            view, root = drawn(as_now, after, "work", "sit")
            assert bool(marked(root, "case", "moved")) == bold
            assert (told in view.svg) == bold


def test_what_is_bold_and_not_hatched_is_what_stands_otherwise() -> None:
    before = state_of(made(places__0__desk={"height": "740", "underside": "700"}))
    after = state_of(made(places__0__desk={"height": "700", "underside": "660"}))
    _, root = drawn(before, after, "work", "sit")
    moved = {e.get("data-of") for e in root.iter() if "moved" in (e.get("class") or "").split()}
    assert "desk.height" in moved
    assert "seat.height" not in moved


def test_a_step_that_sets_the_monitor_has_its_number_at_the_screen_of_who_looks_at_it() -> None:
    tasks = [
        {"id": "work", "place": "den", "hours": "5", "main": "monitor"},
        {"id": "away", "place": "den", "hours": "1", "main": "laptop"},
    ]
    case = made(**{name: value for name, value in MONITOR.items() if name != "tasks__0__main"}, tasks=tasks)
    catalog = load_catalog()
    alone = replace(catalog, fixes=tuple(fix for fix in catalog.fixes if fix.id == "monitor_top"))
    found = plan(case, alone, find_prices(case, alone).table, 0, must=["monitor_top"])
    for drawing in drawings_of([found]):
        root = ElementTree.fromstring(str(drawing.sides[0].svg))
        numbered = [e for e in root.iter() if "disc" in (e.get("class") or "").split()]
        assert bool(numbered) == (drawing.task == "work")


def test_rings_are_broken_where_strain_is_left_and_plain_where_it_is_gone() -> None:
    for _, before, after, task, mode in last_states():
        _, root = drawn(before, after, task, mode)
        left = {
            term.region
            for term in score(after, PLAIN).terms
            if term.task == task and term.value > 0 and term.roles["mode"] == mode
        }
        for ring in (e for e in root.iter() if e.get("data-part")):
            assert ("out" in (ring.get("class") or "").split()) == (ring.get("data-part") in left)
        assert left <= {e.get("data-part") for e in root.iter()}


def test_the_comfortable_area_is_the_reach_that_scores_nothing() -> None:
    """Normal and maximum reach, scaled to the arm: sanders_mccormick, published; kept in severity.csv."""
    for _, before, after, task, _ in last_states():
        view = above_view(before, after, task)
        root = ElementTree.fromstring(view.svg)
        (area,) = [e for e in root.iter() if e.get("data-of") == "comfortable"]
        arm = after.body["forearm_hand_length"] / MIDDLE_FOREARM_HAND
        assert float(area.get("data-radius") or 0) == pytest.approx(380.0 * arm, abs=1e-3)
        assert curves()["reach"].zero_at == 380.0
        for one in view.reached:
            assert one.inside == (one.value <= 380.0)


STATURES = (1450, 2000)


def extreme(folder: Path, name: str, stature: int) -> Case:
    """Cases at the ends: small and tall, bar stool and floor table."""
    body = {"popliteal_height": round(0.25 * stature), "sitting_elbow_height": round(0.14 * stature)}
    if name == "stool":
        return varied(folder, "counter_calls", person__stature=stature, person__body=body)
    changes: dict[str, Any] = {"person__stature": stature, "person__body": body}
    if name == "floor":
        changes |= {
            "places__0__seat__height": 200,
            "places__0__desk__height": 400,
            "places__0__desk__underside": 380,
            "places__0__desk__foot_bar": None,
            "places__0__desk__foot_bar_setback": None,
            "places__0__feet_on": "floor",
        }
    return varied(folder, "kitchen_books", **changes)


@pytest.mark.parametrize("stature", STATURES)
@pytest.mark.parametrize("name", ["table", "stool", "floor"])
def test_nothing_on_the_desk_stands_in_anything_else_at_the_ends(
    tmp_path: Path, name: str, stature: int
) -> None:
    state = state_of(extreme(tmp_path, name, stature))
    devices: Any = ("device", "")
    place: Any = ("place", state.places[0])
    raised = state.with_values(
        {(devices, "keyboard"): "separate", (devices, "mouse"): "separate", (place, "screen.raise"): 170.0}
    )
    for one in (state, raised):
        for task in one.tasks:
            for middle in ("screen", "paper", "both"):
                told = one.with_values({(("task", task), "task.middle"): middle})
                pose = pose_of(told, task, "sit")
                edge = desk_edge(told, task, "sit", pose)
                things = things_of(told, task, "sit", pose, edge)
                assert things.screen is not None
                assert pose.hand[0] >= things.desk_front
                # Things have their own sizes where the model has them; what meets there is said.
                rows = {"screen": (things.screen.low[0], things.screen.low[0])}
                if things.keyboard is not None:
                    rows["keyboard"] = things.keyboard[:2]
                    assert things.keyboard[0] >= things.desk_front - 1e-6
                if things.screen.deck is not None and things.screen.base - things.desk_height < 60.0:
                    front, hinge = (x for x, _ in things.screen.deck)
                    assert hinge - front == pytest.approx(float(told.values[devices, "laptop.depth"]))
                    rows["screen"] = front, hinge
                if things.paper is not None:
                    rows["paper"] = things.paper[0][0], things.paper[1][0]
                ahead = sorted((*ends, name) for name, ends in rows.items() if name not in things.beside)
                for (_, end, one_name), (start, _, next_name) in pairwise(ahead):
                    assert end <= start or {one_name, next_name} <= set(things.cramped)
                side_text = side_view(told, told, task, "sit", score(told, PLAIN), score(told, PLAIN)).svg
                assert ("No room where it is reckoned" in side_text) == bool(things.cramped)
                above = ElementTree.fromstring(above_view(told, told, task).svg)
                shapes = [corners(e) for e in above.iter("polygon") if "thing" in (e.get("class") or "")]
                for number_, shape in enumerate(shapes):
                    assert not any(overlap(shape, other) for other in shapes[number_ + 1 :])


def laid(state: State) -> tuple[dict[str, list[tuple[float, float]]], list[float], str]:
    """Things from above by name, the sides of the desk, and the list of things."""
    view = above_view(state, state, state.tasks[0])
    root = ElementTree.fromstring(view.svg)
    things = {
        str(e.get("data-of")): corners(e)
        for e in root.iter("polygon")
        if "thing" in (e.get("class") or "").split()
    }
    (desk,) = [e for e in root.iter("polygon") if e.get("data-of") == "desk"]
    return things, sorted({x for x, _ in corners(desk)}), view.things


def full_desk(depth: str, width: str, paper_at: str) -> Case:
    """A desk with laptop, keyboard and mouse, and paper that is written on."""
    task = {"id": "work", "place": "den", "hours": "5", "main": "laptop", "reference": "paper"}
    return made(
        places__0__desk={"height": "740", "underside": "700", "depth": depth, "width": width},
        devices__keyboard="separate",
        devices__mouse="separate",
        tasks=[task | {"writing": "yes", "paper": {"at": paper_at}}],
    )


@pytest.mark.parametrize("width", ["1200", "1000"])
def test_what_lies_beside_stays_on_the_desk(width: str) -> None:
    things, (left, right), told = laid(state_of(full_desk("650", width, paper_at="right")))
    assert set(things) == {"keyboard", "screen", "paper", "mouse"}
    for shape in things.values():
        assert left <= min(x for x, _ in shape)
        assert max(x for x, _ in shape) <= right
    if width == "1200":
        # Keyboard 440, sheet 210 and mouse 64 wide: the mouse has room beside the sheet, or before it.
        assert not overlap(things["paper"], things["mouse"])
    # The model has the sheet's middle 320 aside; a keyboard in the middle moves it by its own half and half.
    assert sum(x for x, _ in things["paper"]) / 4 == pytest.approx(320, abs=10)
    assert "no room" not in told


def test_what_the_desk_has_no_room_for_is_told_and_not_drawn_over_its_edge() -> None:
    things, (left, right), told = laid(state_of(full_desk("450", "600", paper_at="left")))
    lacking = {"keyboard", "screen", "paper", "mouse"} - set(things)
    assert "paper" in lacking
    assert "On the desk there is no room beside the rest for: " in told
    assert "paper" in told.split("for: ")[1]
    for shape in things.values():
        assert left <= min(x for x, _ in shape)
        assert max(x for x, _ in shape) <= right


def overlap(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> bool:
    """Whether two convex shapes overlap by over a hundredth of a millimetre (separating axes)."""
    for shape in (one, other):
        for (x1, y1), (x2, y2) in zip(shape, [*shape[1:], shape[0]], strict=True):
            long = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
            ax, ay = (y1 - y2) / long, (x2 - x1) / long
            first, second = ([ax * x + ay * y for x, y in points] for points in (one, other))
            if max(first) <= min(second) + 0.01 or max(second) <= min(first) + 0.01:
                return False
    return True


def test_cut_pieces_are_to_scale_and_carry_their_sizes() -> None:
    pieces = [
        CutPiece("top", None, 1, 450, 350),
        CutPiece("side", None, 2, 350, 60, 20),
        CutPiece("block", None, 4, 100, 100, None, 40),
        CutPiece("tie", None, 2, 600),
        CutPiece("unknown", None, 1, None),
    ]
    root = ElementTree.fromstring(cut_drawing(pieces))
    faces = {float(e.get("data-length") or 0): corners(e) for e in root.iter() if e.get("data-length")}
    assert set(faces) == {450.0, 350.0, 100.0, 600.0}
    scale = (faces[600.0][1][0] - faces[600.0][0][0]) / 600.0
    assert 0.5 < scale < 1.0
    for length, ((x1, y1), (x2, y2), (_, right), (_, left)) in faces.items():
        assert (x2 - x1, y2) == (pytest.approx(length * scale, abs=2e-3), y1)
        sides = {450.0: (350.0, 350.0), 350.0: (60.0, 20.0), 100.0: (40.0, 40.0)}
        ends = tuple(side * scale for side in sides[length]) if length in sides else (14.0, 14.0)
        assert (left - y1, right - y2) == pytest.approx(ends, abs=2e-3)
    written = [e.text for e in root.iter("text")]
    for text in ("450 mm", "350", "60", "20", "40", "100", "2 x side", "4 x block"):
        assert text in written
    assert cut_drawing([CutPiece("unknown", None, 1, None)]) == ""


@pytest.mark.parametrize("unit", LENGTH_UNITS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_words_of_cut_pieces_stand_apart_and_inside(language: str, unit: str) -> None:
    """Parts of the catalog, the longest names first, with sides hard to write: short, long, tapering."""
    named = {cut.part for fix in load_catalog().fixes for cut in fix.cuts}
    parts = sorted(named, key=lambda part: (-len(part), part))
    hard = [
        (20, None, None, None, None),
        (27, 23, 17, 13, 11),
        (1999, 601, 297, 18, None),
        (999, 997, *[None] * 3),
    ]
    with reading(language), measuring(unit):
        for part in parts if NOW.thorough else parts[:2]:
            drawn = cut_drawing([CutPiece(part, None, 12, *sides) for sides in hard])
            root = ElementTree.fromstring(drawn)
            left, top, wide, high = map(float, root.attrib["viewBox"].split())
            assert wide == ROW_WIDTH, "a wider drawing has smaller letters"
            boxes = [text_box(one) for one in root.iter("text")]
            for text, x1, x2, y1, y2 in boxes:
                assert left <= x1 < x2 <= left + wide, (part, text)
                assert top <= y1 < y2 <= top + high, (part, text)
            assert [
                (part, a[0], b[0])
                for a, b in combinations(boxes, 2)
                if min(a[2], b[2]) > max(a[1], b[1]) and min(a[4], b[4]) > max(a[3], b[3])
            ] == []


def text_box(one: ElementTree.Element) -> tuple[str, float, float, float, float]:
    """A text with its box, by the widths of a wide face (DejaVu Sans: figures 0.636, small letters less)."""
    text, x, y = one.text or "", float(one.attrib["x"]), float(one.attrib["y"])
    wide = 0.636 * PIECE_LETTER * len(text)
    x -= {"start": 0.0, "middle": 0.5, "end": 1.0}[one.attrib["text-anchor"]] * wide
    hangs = any(letter in text for letter in "gjpqy/")
    return text, x, x + wide, y - 0.76 * PIECE_LETTER, y + (0.24 if hangs else 0.02) * PIECE_LETTER
