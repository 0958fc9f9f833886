"""Sentences of the catalog are said where they concern somebody, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, SAMPLE, made
from tests.stages import each

from deskmend.cli import deskmend
from deskmend.errors import Fault
from deskmend.intake.catalog import load_catalog
from deskmend.planning.catalog_check import check_catalog
from deskmend.planning.model.offers import OptionSpec, offers_for
from deskmend.planning.selection import state_with
from deskmend.report.layout import Page
from deskmend.report.steps import add_instructions, ask_text
from deskmend.workstation.state import State, state_of

from .fix_cases import MONITOR, PAPER, D, S
from .small_catalog import PARTS, PRICES, write

RAISED: dict[str, Any] = {
    **MONITOR,
    "devices__monitor": {"top": "480", "height": "290", "top_range": ["380", "505"]},
}
CANNOT_STAND = {"person__cannot_stand": "yes"}
BED = {"places__0__kind": "bed", S + "base": "unknown"}


def told(fix: str, number: int = 0, **changes: Any) -> str:
    """All that a step says of doing it, in the state with it alone."""
    usual = {"owns": {"hardback_book": ["40", "60"]}, "places__0__light__glare": "window_behind"}
    case = made(**{**usual, **changes})
    before = state_of(case)
    offers = offers_for(case, before, CATALOG, SAMPLE, everything=True)
    options = [option for offer in offers.decisions for option in offer.options if option.fix.id == fix]
    return instructions(options[number], before)


def instructions(option: OptionSpec, before: State) -> str:
    page = Page()
    add_instructions(page, option, (), state_with(before, [option]), CATALOG, SAMPLE, before)
    return " ".join(page.text().split())


@each(
    ("fix", "sentence", "there", "elsewhere"),
    [
        ("screen_box", "With multifocal", {"person__eyewear": "multifocal"}, {"person__eyewear": "none"}),
        (
            "screen_box",
            "With multifocal",
            {"person__eyewear": "unknown"},
            {"person__eyewear": "single_vision"},
        ),
        ("screen_box", "air holes of the laptop", {}, MONITOR),
        ("screen_box", "own keys become too high", {"devices__keyboard": "separate"}, MONITOR),
        ("screen_box", "own keys become too high", {"devices__keyboard": "separate"}, {}),
        ("lamp_move", "still lights the paper", PAPER, {}),
        ("lamp_task", "hand that does not write", {**PAPER, "tasks__0__writing": "yes"}, {}),
        ("lamp_task", "Never clamp to glass", {D + "top": "glass"}, {D + "top": "wood"}),
        ("lamp_task", "Never clamp to glass", {D + "top": "unknown"}, {D + "top": "stone"}),
        ("lamp_task", "fits the desk edge", {D + "top": "wood"}, {D + "top": "glass"}),
        ("text_size_up", "Paper stays as small", PAPER, {}),
        ("feet_rest_bought", "on wheels drifts", {S + "base": "wheels"}, {S + "base": "legs"}),
        ("seat_foam", "near the wheels", {S + "base": "wheels"}, {S + "base": "legs"}),
        ("seat_foam", "Chair arms are lower", {S + "armrests": "unknown"}, {S + "armrests": "none"}),
        ("seat_height", "Put on the shoes", {S + "height_range": ["400", "500"]}, None),
        ("monitor_top", "Set the seat first", RAISED, {**RAISED, "places__0__posture": "stand"}),
        ("monitor_top", "on the finished seat", RAISED, {**RAISED, "places__0__posture": "stand"}),
        ("screen_box", "on the finished seat", MONITOR, {**MONITOR, "places__0__posture": "stand"}),
        ("break_timer", "If you stood at the work, sit down", {"places__0__posture": "stand"}, {}),
        ("desk_turn_window", "Two people to lift", {}, CANNOT_STAND),
        ("desk_turn_window", "Let two others lift", CANNOT_STAND, {}),
        ("wall_back", "Let two others lift", CANNOT_STAND, {}),
        ("wall_back", "headboard", BED, {}),
        ("wall_back", "Push the seat against a wall", {}, BED),
    ],
)
def test_a_sentence_is_said_only_to_whom_it_concerns(
    fix: str, sentence: str, there: dict[str, Any], elsewhere: dict[str, Any] | None
) -> None:
    barefoot = {**there, "person__shoes": "0"}
    assert sentence in told(fix, **there)
    assert sentence not in told(fix, **(barefoot if elsewhere is None else elsewhere))


def test_the_timer_tells_nobody_who_stands_to_get_up() -> None:
    fix = CATALOG.by_id["break_timer"]
    always = [fix.title, fix.short, *(one.say for one in fix.how if not one.conditions)]
    assert not [text for text in always if "get up" in str(text) or "stand up" in str(text)]


def test_one_book_is_no_pile() -> None:
    one, pile = told("screen_books"), told("screen_books", 2)
    assert "Take a hardback book 40 mm thick" in one
    assert not any(word in one for word in ("Pile", "largest at the bottom", "Tie", "push the books"))
    assert "Pile up hardback books to 100 mm, the largest at the bottom" in pile
    assert "Tie the pile" in pile


def test_lengths_are_those_of_the_devices_there_are() -> None:
    deep, usual = (told("laptop_incline", **{"devices__laptop__depth": depth}) for depth in ("300", "240"))
    # 240 sin 8 = 33.4 and 300 sin 8 = 41.8
    assert "its back edge is then 33 mm higher" in usual
    assert "its back edge is then 42 mm higher" in deep


def test_second_hand_is_said_only_of_what_is_sold_so() -> None:
    item = CATALOG.items["keyboard"]
    priced = SAMPLE.items["keyboard"]
    assert item.used is not None
    for condition, told in (("new", False), ("used", True)):
        prices = replace(SAMPLE, items={"keyboard": replace(priced, condition=condition)})
        assert (item.used in ask_text(item, prices)) == told


# --- what a catalog of one's own may write --------------------------------------------------------

BELL = "how: [Set the bell.]"


def catalog_with(folder: Path, line: str) -> Path:
    return write(folder, fixes_second=(BELL, line))


def faults_of(folder: Path) -> list[Fault]:
    return check_catalog(load_catalog(folder))


def test_conditions_of_sentences_are_checked_like_needs(tmp_path: Path) -> None:
    good = 'how: [Set the bell., {when: [seat.base is wheels], say: "Roll away."}]'
    assert faults_of(catalog_with(tmp_path / "good", good)) == []
    for number, (condition, allowed) in enumerate(
        [
            ("seat.bse is wheels", "a field or quantity of the model"),
            ("seat.base is rolls", "legs, folding, wheels, glides, stool, wheelchair, unknown"),
            ("pieces at least 2", "pieces only where the size is made of pieces"),
        ]
    ):
        line = f"how: [Set the bell., {{unless: [{condition}], say: Roll away.}}]"
        (fault,) = faults_of(catalog_with(tmp_path / str(number), line))
        assert (fault.where, fault.read, fault.allowed) == ("fixes.bell.how", condition, allowed)
        assert fault.line == PARTS["fixes/second.yaml"].splitlines().index("  - id: bell") + 1


@pytest.mark.parametrize(
    ("line", "allowed"),
    [
        ("how: [{when: [seat.base is wheels]}]", "text of at most 400 characters"),
        ("how: [{say: Roll., whn: [seat.base is wheels]}]", "the keys when, unless, say, length"),
        ("how: [{say: Roll., when: [seat.base wheels]}]", "NAME is WORD"),
        ("how: [{say: Roll., length: 20}]", "length where {length} is said, and only there"),
        ("how: ['Roll {length}.']", "length where {length} is said, and only there"),
        ("how: [[Roll.]]", "a group of the keys when, unless, say, length"),
    ],
)
def test_a_sentence_that_cannot_be_read_is_a_fault(tmp_path: Path, line: str, allowed: str) -> None:
    result = CliRunner().invoke(deskmend, ["check", str(catalog_with(tmp_path / "mine", line))])
    assert result.exit_code == 2, result.output
    assert allowed in " ".join(result.stdout.split())


def test_the_catalog_tells_where_a_sentence_is_said(tmp_path: Path) -> None:
    folder = catalog_with(tmp_path / "mine", 'how: [{unless: [seat.base is legs], say: "Roll away."}]')
    (folder / "prices.csv").write_text(PRICES, encoding="utf-8")
    page = CliRunner().invoke(deskmend, ["catalog", "bell", "--catalog", str(folder)]).stdout
    assert "1. Roll away. (not when seat.base is legs)" in page
