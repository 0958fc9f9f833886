"""Pages on a screen say what they say in a pipe; escapes are ours alone, and plain bytes stay the same."""

from __future__ import annotations

import re
import unicodedata
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from deskmend.errors import visible
from deskmend.report.layout import WIDEST, Page, laid_out_by, width_in
from deskmend.report.screen import screen_text

OURS = re.compile(r"\x1b\[[0-9;]*m")


def page_of(text: str = "words") -> Page:
    page = Page()
    page.heading("A heading")
    page.paragraph(text, 2)
    page.point("!", text)
    page.point("3.", text)
    page.blank()
    page.blank()
    page.table([["", "now", text], ["neck", "1.00", "##..."], ["all", "22.00", ""]], right=(1,), head=True)
    return page


def on_screen(page: Page, width: int = WIDEST) -> str:
    with laid_out_by(partial(screen_text, width=width_in(width))):
        return page.text()


@given(st.text(max_size=300))
def test_no_text_steers_the_screen(text: str) -> None:
    shown = OURS.sub("", on_screen(page_of(text)))
    allowed = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert [c for c in shown if unicodedata.category(c) in allowed and c != "\n"] == []


@given(st.text(alphabet=st.characters(codec="ascii"), max_size=200))
def test_a_screen_says_what_a_pipe_says(text: str) -> None:
    def letters(shown: str) -> str:
        return "".join(re.sub(r"[-─]", "", OURS.sub("", shown)).split())

    page = Page()
    page.paragraph(text)
    page.points([text, "[bold]x[/bold] :smile:"])
    page.table([["a", text], ["b", "c"]])
    assert sorted(letters(on_screen(page))) == sorted(letters(page.text()))
    assert letters(on_screen(page)).startswith(letters(visible(text, None)))


@pytest.mark.parametrize("width", [1, 40, 72, 100, 400])
def test_lines_keep_to_the_window(width: int) -> None:
    shown = OURS.sub("", on_screen(page_of("word " * 60), width))
    assert max(map(len, shown.splitlines())) <= min(max(width, 40), WIDEST)


def test_weight_and_colour_where_they_tell_something() -> None:
    shown = on_screen(page_of())
    assert "\x1b[1mA heading\x1b[0m\n" in shown
    assert "\x1b[1;33m!\x1b[0m words" in shown
    assert "\x1b[1m3.\x1b[0m words" in shown
    assert "\x1b[31m##\x1b[0m\x1b[32m...\x1b[0m" in shown
    plain = OURS.sub("", shown)
    assert "\n\n\n" not in plain
    # the first row stands over a rule as head of the columns; figures stand flush right
    head, rule, neck, everything = [line.rstrip() for line in plain.splitlines()[-4:]]
    assert head.split() == ["now", "words"]
    assert set(rule.strip()) == {"─"}
    assert neck.index("1.00") + 4 == everything.index("22.00") + 5 == head.index("now") + 3


def test_plain_bytes_do_not_hang_on_what_a_screen_was_shown() -> None:
    page = page_of()
    before = page.text()
    on_screen(page)
    assert page.text() == before
    assert "\x1b" not in before


def test_the_choice_of_a_screen_ends_with_its_block() -> None:
    with pytest.raises(RuntimeError), laid_out_by(partial(screen_text, width=80)):
        raise RuntimeError
    assert "\x1b" not in page_of().text()
