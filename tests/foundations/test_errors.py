"""Faults are shown so that text from a file can do nothing but be read."""

import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import each

from deskmend.errors import DefectError, Fault, FaultList, InputFaults, did_you_mean, nearest, visible


def test_a_fault_reads_as_one_line() -> None:
    fault = Fault("case.yaml", 12, "person.stature", "158", "1000 to 2300 mm", "did you mean 1580?")
    assert str(fault) == (
        'case.yaml:12: person.stature: read "158"; allowed 1000 to 2300 mm; did you mean 1580?'
    )


def test_what_is_missing_and_what_is_noted() -> None:
    assert str(Fault("a.yaml", 3, "person.stature", None, "a length")) == (
        "a.yaml:3: person.stature: missing; allowed a length"
    )
    assert str(Fault("a.yaml", None, "", None, "a file", note="is a folder")) == (
        "a.yaml: is a folder; allowed a file"
    )


@each(
    ("text", "shown"),
    [
        ("\x1b[31mred", "\\x1b[31mred"),
        ("a\u202eb", "a\\u202eb"),
        ("a\nb\tc\r", "a\\nb\\tc\\r"),
        ("\u2066x\u2069", "\\u2066x\\u2069"),
        ("\ud800", "\\ud800"),
        ("\u0378", "\\u0378"),  # unassigned
        ("\ue000\U0010fffd", "\\ue000\\U0010fffd"),  # for private use
        ("\ufffe\ufdd0\U0010ffff", "\\ufffe\\ufdd0\\U0010ffff"),  # never to be assigned
        ("a\u200b\u200d\u2060\ufeffb", "a\\u200b\\u200d\\u2060\\ufeffb"),  # of no width
        ("\u200e\u200f\u061c\u202d", "\\u200e\\u200f\\u061c\\u202d"),  # direction of writing
        ("\xad\U000e0041", "\\xad\\U000e0041"),  # soft hyphen, tag
        ("\x00\x7f\x85\x9b", "\\x00\\x7f\\x85\\x9b"),
        ("\u2028\u2029\u3000\u202f", "\\u2028\\u2029\\u3000\\u202f"),
        ("a\u00a0b", "a\\xa0b"),
        ("Stühle, 椅子", "Stühle, 椅子"),
        ("x" * 81, "x" * 80 + "..."),
        ("x" * 80, "x" * 80),
    ],
)
def test_hidden_characters_are_shown(text: str, shown: str) -> None:
    assert visible(text) == shown


def test_every_part_that_comes_from_outside_is_shown_safely() -> None:
    text = str(Fault("a\x1b.yaml", 1, "b\u202e", "c\x07", "words"))
    assert text == 'a\\x1b.yaml:1: b\\u202e: read "c\\x07"; allowed words'
    # What is allowed, advised or noted may repeat names that stand elsewhere in the file.
    text = str(Fault("a", 1, "b", "c", "one of: d\u0378", "did you mean d\u200bx?", "see \ue000\n"))
    assert text == 'a:1: b: see \\ue000\\n; read "c"; allowed one of: d\\u0378; did you mean d\\u200bx?'


def test_what_is_shown_once_more_stays_as_it_is() -> None:
    assert visible(visible("a\u0378\n\\u0378", None), None) == "a\\u0378\\n\\u0378"


TEXTS = st.text(max_size=30)


@given(TEXTS, TEXTS, TEXTS, TEXTS, TEXTS, TEXTS)
def test_whatever_a_fault_is_made_of_it_is_one_line_that_can_be_printed(
    file: str, where: str, read: str, allowed: str, hint: str, note: str
) -> None:
    assert str(Fault(file, 1, where, read, allowed, hint, note)).isprintable()


@pytest.mark.thorough
@pytest.mark.parametrize("hidden", [True, False])
def test_of_all_characters_those_that_cannot_be_seen_are_escaped(hidden: bool) -> None:
    """General categories of Unicode: C is control, format, surrogate, private or unassigned, Z separates."""
    found = set()
    for character in map(chr, range(sys.maxunicode + 1)):
        category = unicodedata.category(character)
        if (category[0] in "CZ" and character != " ") == hidden:
            found.add(category)
            shown = visible(character)
            assert (shown != character) == hidden
            assert not hidden or (shown[0] == "\\" and shown.isascii() and shown.isprintable())
    assert not hidden or found == {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp", "Zs"}


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("sexx", "sex"),
        ("Foot-Bar", "foot_bar"),
        ("foot bar", "foot_bar"),
        ("zzz", None),
        ("", None),
        ("x" * 81, None),
    ],
)
def test_nearest_spelling(word: str, near: str | None) -> None:
    assert nearest(word, ["sex", "foot_bar", "age"]) == near


def test_no_question_where_the_word_is_right_or_far() -> None:
    assert did_you_mean("sex", ["sex"]) == ""
    assert did_you_mean("zzz", ["sex"]) == ""
    assert did_you_mean("sx", ["sex"]) == "did you mean sex?"


def test_faults_are_listed_by_line_once_and_bounded() -> None:
    faults = FaultList("f", limit=3)
    for line in (5, 2, 2, 9, 10):
        faults.add(line, "x", "y", "z")
    assert [fault.line for fault in faults] == [2, 5, None]
    assert faults.full
    with pytest.raises(InputFaults) as caught:
        faults.raise_if_any()
    assert str(caught.value).splitlines()[-1] == "f: the list ends at 3; there may be more"
    assert len(caught.value.faults) == 3


def test_an_empty_list_raises_nothing() -> None:
    FaultList("f").raise_if_any()
    assert not FaultList("f")


def test_a_defect_is_not_an_input_fault() -> None:
    assert not issubclass(DefectError, InputFaults)
