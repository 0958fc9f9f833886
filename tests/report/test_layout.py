"""Pages: nothing a file holds can steer a terminal, and no line is too long."""

from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from deskmend.errors import Fault, visible
from deskmend.planning.score import Score, StrainTerm
from deskmend.report.assessment import add_region_table
from deskmend.report.documents import faults_document, json_text
from deskmend.report.layout import WIDTH, Page

HOSTILE = "a\x1b[31mred\x07 \u202eback\u2066 \x9b1m\r\nnew %s {0} [bold]x[/bold] </script>"


@given(st.text(max_size=400))
def test_no_text_can_steer_a_terminal_or_break_the_width(text: str) -> None:
    page = Page()
    page.heading(text)
    page.paragraph(text, indent=3)
    page.point("!", text)
    page.table([[text[:20], text]])
    shown = page.text()
    # an escape is longer than the character it stands for, and a first column is never broken
    assert all(len(line) <= WIDTH for line in shown.splitlines() if len(visible(text, None)) <= 20)
    allowed = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert [c for c in shown if unicodedata.category(c) in allowed and c != "\n"] == []


def test_markup_is_shown_as_it_is_written() -> None:
    page = Page()
    page.paragraph(HOSTILE)
    shown = " ".join(page.text().split())
    assert "\\x1b[31mred\\x07" in shown
    assert "\\u202eback" in shown
    assert "[bold]x[/bold] </script>" in shown


def test_one_line_end_at_the_end_and_never_two_empty_lines() -> None:
    page = Page()
    page.blank()
    page.paragraph("one")
    page.blank()
    page.blank()
    page.heading("two")
    page.paragraph("")
    assert page.text() == "one\n\ntwo\n---\n"


def test_columns_line_up_and_the_last_one_wraps() -> None:
    page = Page()
    page.table([["a", "1", "word " * 30], ["bbb", "22", "x"]], right=(1,))
    lines = page.text().splitlines()
    assert lines[0].startswith("  a     1  word word")
    assert lines[1].startswith(" " * 11 + "word")
    assert lines[-1] == "  bbb  22  x"
    assert max(map(len, lines)) <= WIDTH


@pytest.mark.parametrize("text", ["\x7f", "\x9b", "\u202e", "é", "\ud800", '"', "\\", "\n"])
def test_json_text_is_ascii_and_gives_the_text_back(text: str) -> None:
    written = json_text({"a": [text], text: 1})
    assert written.isascii()
    assert written.endswith("}\n")
    assert "\x7f" not in written
    back = json.loads(written)
    assert back["a"] == ["?" if text == "\ud800" else text]


def test_json_text_refuses_what_is_not_finite() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_text({"a": float("nan")})


def test_faults_document_holds_every_part_of_a_fault() -> None:
    fault = Fault("case.yaml", 3, "person.stature", "158", "1000 to 2300 mm", "did you mean 1580?")
    assert faults_document([fault]) == {
        "format": "deskmend-faults/1",
        "faults": [
            {
                "file": "case.yaml",
                "line": 3,
                "where": "person.stature",
                "read": "158",
                "allowed": "1000 to 2300 mm",
                "hint": "did you mean 1580?",
                "note": "",
            }
        ],
    }


def score_of(**regions: int) -> Score:
    return Score(tuple(StrainTerm("work", "any", region, {}, value) for region, value in regions.items()))


def test_region_bars_show_what_is_left_taken_off_and_added() -> None:
    page = Page()
    add_region_table(
        page, score_of(neck=4_000_000, eyes=0, shoulders=1), score_of(neck=1_000_000, eyes=2_000_000)
    )
    rows = {line[:17].strip(): line.split() for line in page.text().splitlines()}
    assert rows["neck"] == ["neck", "4.00", "1.00", "#" * 10 + "." * 30]
    assert rows["eyes"] == ["eyes", "0.00", "2.00", "+" * 20]
    assert rows["shoulders"] == ["shoulders", "0.00", "0.00", "."]
    assert rows["all"] == ["all", "4.00", "3.00"]
    assert "+ is what it adds" in page.text()


def test_region_table_of_nothing_has_no_bars() -> None:
    page = Page()
    add_region_table(page, score_of(), None)
    assert "#" not in page.text()
