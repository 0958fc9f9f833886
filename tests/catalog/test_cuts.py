"""Cut lists: sums are read and worked out right, pieces come out of what is bought, sizes hold the trade's.

Sizes, materials and rules of making are trade knowledge of the reference facts, not measured.
"""

from __future__ import annotations

import dataclasses
import json
import math
import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import each

from deskmend.cli import deskmend
from deskmend.errors import Unreadable
from deskmend.intake.case_file import read_case
from deskmend.intake.catalog import load_catalog
from deskmend.intake.prices import load_prices
from deskmend.intake.reading.fields import Expression, parse_expression
from deskmend.planning.bill import CutPiece, cheapest_packs, cut_pieces, shortages
from deskmend.planning.model.offers import OptionSpec
from deskmend.report.cuts import inches_text
from deskmend.workstation.state import State, state_of

from .small_catalog import write

CATALOG = load_catalog()
MADE = [fix for fix in CATALOG.fixes if fix.kind == "made"]
CUTTING = {"saw", "scissors", "knife"}
NOT_CUT = {
    "curtain_window": "hung whole; the window is no part of a case",
}
"""Made fixes with a tool that cuts and yet no cut list, and why."""


def state(seat_depth: str | None = "420", desk_depth: str = "600", desk_width: str = "1200") -> State:
    seat = {"height": "450"} | ({} if seat_depth is None else {"depth": seat_depth})
    desk = {"height": "740", "depth": desk_depth, "width": desk_width}
    case, faults = read_case(
        {
            "format": "deskmend-case/1",
            "person": {"stature": "1650"},
            "places": [{"id": "den", "seat": seat, "desk": desk}],
            "tasks": [{"id": "work", "place": "den", "hours": "4", "main": "paper"}],
        },
        "test",
    )
    assert case is not None, faults
    return state_of(case)


def pieces_of(name: str, size: float | None, at: State | None = None) -> dict[str, CutPiece]:
    fix = CATALOG.by_id[name]
    owner = ("task", "work") if fix.scope == "task" else ("place", "den")
    option = OptionSpec(name, fix, owner, size, (), (), None, {})
    return {piece.part: piece for piece in cut_pieces(option, at or state())}


def sizes_of(name: str) -> list[float | None]:
    size = CATALOG.by_id[name].size
    if size is None or size.low is None or size.high is None or size.step is None:
        return [None]
    count = round((size.high - size.low) / size.step)
    return [size.low + number * size.step for number in range(count + 1)]


# --- sums ------------------------------------------------------------------------------------------

SUMS = st.recursive(
    st.integers(0, 999).map(str) | st.sampled_from(["size", "seat.depth"]),
    lambda inner: (
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})")
        | st.tuples(st.sampled_from(["min", "max"]), inner, inner).map(lambda t: f"{t[0]}({t[1]}, {t[2]})")
        | inner.map(lambda text: f"-{text}")
    ),
    max_leaves=6,
)


@given(SUMS.filter(lambda text: len(text) <= 120))
def test_sums_are_worked_out_as_python_works_them_out(text: str) -> None:
    values = {"size": 60.0, "seat.depth": 420.0}
    try:
        expected = eval(text.replace("seat.depth", "420.0"), {"size": 60.0, "min": min, "max": max})
    except ZeroDivisionError:
        expected = math.nan
    value = parse_expression(text).value(values.__getitem__)
    assert value == pytest.approx(expected, rel=1e-12, nan_ok=True)


@given(st.text(alphabet="0123456789.+-*/(), sizemnxadt_", max_size=130))
def test_any_other_text_is_refused_in_words(text: str) -> None:
    try:
        one = parse_expression(text)
    except Unreadable as fault:
        told = fault
    else:
        assert isinstance(one, Expression)
        return
    assert told.note


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("", "needs a number or a name at its end"),
        ("2 +", "needs a number or a name at its end"),
        ("2 size", 'needs + - * or / before "size"'),
        ("min(2)", "min takes 2 to 4 values, not 1"),
        ("(2", "needs ) at its end"),
        ("__import__('os')", "cannot be read from"),
        ("2 ** 9", 'needs a number or a name before "*"'),
        ("1" * 121, "has 121 characters, 120 are read"),
    ],
)
def test_what_is_wrong_with_a_sum_is_said(text: str, note: str) -> None:
    with pytest.raises(Unreadable) as caught:
        parse_expression(text)
    assert note in caught.value.note


# --- inches ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mm", "inches"),
    # 25.4 mm an inch exactly (ISO 31-1 and the 1959 agreement), by hand
    [(0, "0"), (1, "1/16"), (25, "1"), (100, "3 15/16"), (165, "6 1/2"), (305, "12"), (400, "15 3/4")],
)
def test_inches_as_a_ruler_shows_them(mm: int, inches: str) -> None:
    assert inches_text(mm) == inches


@given(st.integers(0, 10_000))
def test_inches_are_off_by_no_more_than_half_a_sixteenth(mm: int) -> None:
    told = sum(Fraction(part) for part in inches_text(mm).split())
    assert abs(told * Fraction("25.4") - mm) <= Fraction("25.4") / 32


# --- the shipped lists -----------------------------------------------------------------------------


def test_every_made_fix_that_is_cut_has_its_list() -> None:
    cut = {fix.id for fix in MADE if CUTTING & set(fix.tools)}
    assert {name for name in cut if not CATALOG.by_id[name].cuts} == set(NOT_CUT)
    assert all(fix.kind == "made" for fix in CATALOG.fixes if fix.cuts)


@each("name", [fix.id for fix in CATALOG.fixes if fix.cuts])
def test_pieces_come_out_of_what_the_fix_brings(name: str) -> None:
    """No side is longer than the material's, nor all together larger; a carton unfolds and is left out."""
    fix = CATALOG.by_id[name]
    for size in sizes_of(name):
        pieces = pieces_of(name, size)
        assert pieces
        assert all(piece.length for piece in pieces.values())
        assert shortages(tuple(pieces.values()), fix, size, CATALOG) == (), size
        for material in fix.takes_at(size):
            item = CATALOG.items[material.item]
            found = re.search(r"(\d+) by (\d+) mm", item.title)
            if found is None or item.unit == "cm" or item.id == "carton_box" or material.quantity is None:
                continue
            sides = sorted((int(found[1]), int(found[2])))
            ours = [piece for piece in pieces.values() if piece.item == item.id]
            area = 0.0
            for piece in ours:
                flat = sorted((piece.length or 0, piece.width or 0))
                assert flat[0] <= sides[0], (size, piece)
                assert flat[1] <= sides[1], (size, piece)
                width = ((piece.width or 0) + (piece.width_to or piece.width or 0)) / 2
                area += piece.count * (piece.length or 0) * width
            assert area <= material.quantity * sides[0] * sides[1], (size, ours)


SAW_TAKES = 3
"""What a saw takes off at each cut [mm] (common practice, no source)."""


@each("name", [fix.id for fix in CATALOG.fixes if fix.cuts])
def test_what_is_bought_by_length_is_what_its_size_is_cut_into(name: str) -> None:
    """Where a piece is as long as the desk or seat there, no one length is right, and `shortages` tells."""
    fix = CATALOG.by_id[name]
    for size in sizes_of(name):
        cuts = [one for one in fix.cuts if one.from_size is None or (size or 0) >= one.from_size]
        fitted = {one.of for one in cuts if set(one.length.names) - {"size"}}
        for material in fix.takes_at(size):
            ours = [one for one in pieces_of(name, size).values() if one.item == material.item]
            if not ours or CATALOG.items[material.item].unit != "cm" or material.item in fitted:
                continue
            lost = SAW_TAKES if "saw" in fix.tools else 0
            taken = sum(piece.count * ((piece.length or 0) + lost) for piece in ours)
            assert material.quantity == math.ceil(taken / 10), (size, material.item)


@pytest.mark.parametrize(("size", "packs"), [(20, 1), (60, 1), (80, 2)])
def test_low_blocks_take_one_length_of_batten(size: float, packs: int) -> None:
    # 8 x 100 + 8 x 140 = 1920 mm and 16 cuts of 3: one batten of 2 m; bars that join them are for high ones.
    (batten,) = [m for m in CATALOG.by_id["desk_blocks"].takes_at(size) if m.item == "timber_batten"]
    assert batten.quantity is not None
    found = cheapest_packs(
        load_prices(CATALOG.price_folder / "sample_eur.csv").items["timber_batten"], batten.quantity
    )
    assert found is not None
    assert found[0] == packs


@pytest.mark.parametrize(("size", "height"), [(4, 42), (6, 63), (8, 84)])
def test_blocks_that_tilt_a_desk(size: float, height: int) -> None:
    """Facts: a desk 600 mm deep rises 42, 63 and 84 mm for 4, 6 and 8 degrees."""
    assert pieces_of("desk_tilt", size)["block"].thickness == height


@pytest.mark.parametrize(("size", "rise"), [(3, 21), (7, 49)])
def test_wedge_rises_over_400_mm(size: float, rise: int) -> None:
    """400 mm times the tangent, by hand: 20.96 and 49.11."""
    wedge = pieces_of("seat_wedge", size)["wedge"]
    assert (wedge.thickness, wedge.thickness_to) == (10, 10 + rise)


@pytest.mark.parametrize("size", range(8, 21, 4))
def test_feet_of_a_reading_board_rise_6_mm_a_degree(size: int) -> None:
    """A board 350 mm deep: 6 mm for each degree, within a millimetre (the sine, by the text of the fix)."""
    foot = pieces_of("slope_plank", size)["foot under the back edge"]
    assert foot.length == pytest.approx(6 * size, abs=1.5)


@pytest.mark.parametrize("size", range(40, 151, 10))
def test_sides_of_a_footrest_carry_its_middle_at_the_size_and_slope_5_to_15_degrees(size: int) -> None:
    side = pieces_of("feet_board_made", size)["side"]
    assert side.width is not None
    assert side.width_to is not None
    assert (side.width + side.width_to) / 2 + 18 == pytest.approx(size, abs=0.6)
    assert 5 <= math.degrees(math.atan2(side.width - side.width_to, 350)) <= 15


def test_a_side_follows_what_was_measured_and_says_where_it_was_not() -> None:
    known = pieces_of("seat_foam", 40, state(seat_depth="380"))["foam"]
    assert (known.length, known.width, known.thickness, known.measure_first) == (400, 380, 40, False)
    deep = pieces_of("seat_foam", 40, state(seat_depth="500"))["foam"]
    assert deep.width == 400
    assert pieces_of("seat_foam", 40, state(seat_depth=None))["foam"].measure_first


def test_bars_that_join_blocks_come_from_80_mm_on() -> None:
    bar = "bar that joins two blocks"
    assert bar not in pieces_of("desk_blocks", 60)
    assert pieces_of("desk_blocks", 80)[bar].length == 600


def test_what_a_deep_desk_takes_more_is_told() -> None:
    pieces = tuple(pieces_of("desk_blocks", 100, state(desk_depth="1000")).values())
    # 8 x 100 + 8 x 140 + 2 x 1000 = 3920 mm; 3500 mm are brought
    (short,) = shortages(pieces, CATALOG.by_id["desk_blocks"], 100, CATALOG)
    assert (short.item, short.missing) == ("timber_batten", 420)


def test_a_side_that_cannot_be_told_is_left_to_be_measured() -> None:
    fix = CATALOG.by_id["desk_tilt"]
    bare = dataclasses.replace(state(), values={})
    option = OptionSpec("desk_tilt", fix, ("place", "den"), 4.0, (), (), None, {})
    block = cut_pieces(option, bare)[0]
    assert (block.length, block.thickness, block.measure_first) == (100, None, True)


# --- a catalog of one's own --------------------------------------------------------------------------


def cuts(text: str) -> tuple[str, str]:
    return "    minutes: 5", f"    cuts: [{text}]\n    minutes: 5"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{part: side, of: crates, length: 10}", "cuts of items that stand among the materials"),
        ("{part: side, of: crate, length: seat.dept}", "did you mean seat.depth?"),
        ("{part: side, of: crate, length: paper.distance}", "a fix of scope place can ask for"),
        ("{part: side, of: crate, length: seat.back}", "a number of the model"),
        ("{part: side, of: crate, length: size - 40}", "size - 40 is 0 mm at size 40"),
        ("{part: side, of: crate, length: 9 * desk.depth}", "1 to 5000 mm for every size and field"),
        ("{part: side, of: crate, length: 10, width_to: 5}", "width_to only with width"),
        ("{part: side, of: crate, length: 10, from_size: 0}", "a whole number from 1 to 10000"),
        ("{part: side, of: crate, length: 2 +}", "needs a number or a name at its end"),
        ("{part: side, of: crate}", "length"),
    ],
)
def test_faults_of_a_cut_list_are_told(tmp_path: Path, text: str, told: str) -> None:
    folder = write(tmp_path, fixes_own=cuts(text))
    result = CliRunner().invoke(deskmend, ["check", str(folder)])
    assert result.exit_code == 2
    assert told in result.stdout
    assert "fixes/own.yaml:" in result.stdout


def test_a_material_asks_for_a_size_only_where_there_are_numbers(tmp_path: Path) -> None:
    own = ("    size: {low: 40, high: 120, step: 40}\n", "    size: {unit: word, words: [low, high]}\n")
    taken = ("quantity: 1}]", "quantity: 1, from_size: 3}]")
    folder = write(tmp_path, fixes_own=own)
    file = folder / "fixes" / "own.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace(*taken), encoding="utf-8")
    result = CliRunner().invoke(deskmend, ["check", str(folder)])
    assert "materials.0.from_size" in result.stdout
    assert "only where the fix has sizes in numbers" in result.stdout


def test_size_is_no_name_where_there_is_none(tmp_path: Path) -> None:
    folder = write(tmp_path, fixes_second=cuts("{part: rope, length: size, from_size: 3}"))
    result = CliRunner().invoke(deskmend, ["check", str(folder)])
    assert "no size, since the fix has none in numbers" in result.stdout
    assert "only where the fix has sizes in numbers" in result.stdout


# --- where they are shown ----------------------------------------------------------------------------

CASE = str(Path(__file__).resolve().parents[2] / "scenarios" / "kitchen_books" / "case.yaml")


def planned(*more: str) -> Any:
    return CliRunner().invoke(deskmend, ["plan", CASE, "--steps", "--must", "screen_box", *more])


def test_plan_tells_the_pieces_in_mm_or_where_asked_in_inches() -> None:
    document = json.loads(planned("--json").stdout)
    (step,) = [one for one in document["steps"] if one["fix"] == "screen_box"]
    sides = {"length": 400, "width": 300, "width_to": None, "thickness": step["size"], "thickness_to": None}
    piece = {"part": "carton", "item": "carton_box", "count": 1, **sides, "measure_first": False}
    assert step["cuts"] == [piece]
    (step,) = [
        one
        for one in json.loads(planned("--json", "--units", "in").stdout)["steps"]
        if one["fix"] == "screen_box"
    ]
    assert step["cuts"][0]["inches"]["width"] == "11 13/16"
    assert {key: value for key, value in step["cuts"][0].items() if key != "inches"} == piece
    text = " ".join(planned().stdout.split())
    assert f"To cut: - 1 x carton: 400 x 300 x {step['size']} mm; from: Carton" in text
    assert " in;" not in text
    assert "1 x carton: 15 3/4 x 11 13/16 x" in " ".join(planned("--units", "in").stdout.split())


def test_catalog_tells_the_sums() -> None:
    shown = CliRunner().invoke(deskmend, ["catalog", "seat_wedge", "--units", "in"]).stdout
    assert (
        "1 x wedge: (min(400, seat.depth)) x 400 x 10 to (10 + min(400, seat.depth) * tan(size)) mm"
        in " ".join(shown.split())
    )
    document = json.loads(CliRunner().invoke(deskmend, ["catalog", "desk_blocks", "--json"]).stdout)
    (bar,) = [cut for cut in document["fixes"][0]["cuts"] if cut["from_size"] == 80]
    assert (bar["length"], bar["count"], bar["measure_first"]) == ("desk.depth", 2, True)
    strips = " ".join(
        CliRunner().invoke(deskmend, ["catalog", "slope_plank", "--units", "in"]).stdout.split()
    )
    assert "1 x board: 15 3/4 x 13 3/4 in" in strips
