"""Answers of every kind, changed where they stand in a case."""

from __future__ import annotations

import pytest
from tests.local_page.served import case_text

from deskmend.errors import InputFaults, Unreadable
from deskmend.intake.case import Case
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import load_catalog
from deskmend.local_page.answers import AnswerRow, answer_rows, case_with_answer

CATALOG = load_catalog()
OWNS = {"bath_towel": "2", "hardback_book": ["38", "42"], "crate": "1"}


def rows(text: str) -> dict[str, AnswerRow]:
    return {row.key: row for row in answer_rows(text.encode(), "case.yaml", CATALOG)}


def changed(text: str, where: str, key: str, typed: str) -> tuple[str, Case]:
    new = case_with_answer(text.encode(), "case.yaml", CATALOG, where, key, typed, True)
    return new, case_of_bytes(new.encode(), "case.yaml")


def test_every_question_with_a_place_in_the_case_is_there() -> None:
    found = rows(case_text(owns=OWNS, person__discomfort={"neck": "6"}, person__warning_signs=[]))
    assert {key: found[key].kind for key in ("owns.towel", "owns.book_thickness", "person.warning_signs",
            "person.discomfort", "means.tools", "inputs", "person.cannot_stand", "desk.height")} == {
        "owns.towel": "yes_no", "owns.book_thickness": "typed", "person.warning_signs": "several",
        "person.discomfort": "numbers", "means.tools": "several", "inputs": "one",
        "person.cannot_stand": "yes_no", "desk.height": "typed",
    }  # fmt: skip
    assert (found["owns.towel"].text, found["owns.towel"].value) == ("yes", "yes, 2")
    assert found["owns.carton"].text == "", "not told is not known"
    assert found["owns.book_thickness"].text == "38, 42"
    assert found["person.warning_signs"].text == "none"
    assert found["person.discomfort"].chosen == {"neck": "6"}


def test_a_count_of_books_is_no_thickness() -> None:
    found = rows(case_text(owns={"hardback_book": "3"}))
    assert (found["owns.books"].value, found["owns.book_thickness"].text) == ("yes, 3", "")


@pytest.mark.parametrize(
    ("key", "typed", "count"),
    [("owns.towel", "yes", 2), ("owns.towel", "no", 0), ("owns.towel", "", None), ("owns.carton", "yes", 1)],
)
def test_things_at_home_by_yes_and_no(key: str, typed: str, count: int | None) -> None:
    _, case = changed(case_text(owns=OWNS), "owns", key, typed)
    thing = {"owns.towel": "bath_towel", "owns.carton": "carton_box"}[key]
    assert (case.owns[thing].count if thing in case.owns else None) == count
    assert case.owns["hardback_book"].pieces == (38, 42)
    assert case.owns["crate"].count == 1, "what no question asks for stays"


def test_signs_are_taken_back_and_never_left_open() -> None:
    sign = CATALOG.signs[0].id
    text, case = changed(case_text(), "person.warning_signs", "person.warning_signs", sign)
    assert case.person.warning_signs == (sign,)
    text, case = changed(text, "person.warning_signs", "person.warning_signs", "none")
    assert case.person.warning_signs == ()
    assert rows(text)["person.warning_signs"].text == "none"
    with pytest.raises(Unreadable, match="left out"):
        changed(text, "person.warning_signs", "person.warning_signs", "")
    with pytest.raises(Unreadable):
        changed(text, "person.warning_signs", "person.warning_signs", "no_such_sign")


def test_troubles_tools_and_choices_of_several_keys() -> None:
    text = case_text(person__discomfort={"neck": "6"})
    text, case = changed(text, "person.discomfort", "person.discomfort", "eyes 2, lower_back 3")
    assert (case.person.discomfort.eyes, case.person.discomfort.neck) == (2, None)
    text, case = changed(text, "person.discomfort", "person.discomfort", "")
    assert case.person.discomfort.eyes is None
    text, case = changed(text, "means.tools", "means.tools", "scissors")
    assert case.means.tools == ("scissors",)
    text, case = changed(text, "devices", "inputs", "both_separate")
    assert (case.devices.keyboard, case.devices.mouse) == ("separate", "separate")
    assert rows(text)["inputs"].text == "both_separate"
    _, case = changed(text, "person", "person.cannot_stand", "no")
    assert case.person.cannot_stand is True
    with pytest.raises(InputFaults):
        changed("format: deskmend-case/1\nseat: 3\n", "person", "person.cannot_stand", "no")


def test_what_is_not_changed_stays_to_the_letter() -> None:
    text = "# mine\n" + case_text(owns=OWNS)
    new, _ = changed(text, "owns", "owns.towel", "yes")
    assert new == text
