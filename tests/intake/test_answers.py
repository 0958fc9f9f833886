"""Answers to single questions, at the ends of what is taken."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.planning.cases import CATALOG

from deskmend.errors import Unreadable
from deskmend.intake.interview import Question, questions


def question(key: str) -> Question:
    return next(one for one in questions(CATALOG) if one.key == key)


def test_an_answer_may_have_400_characters_and_no_more() -> None:
    of_two = next(one for one in questions(CATALOG) if tuple(one.words) == ("yes", "no"))
    assert of_two.read("yes".rjust(400), {}) == "yes"
    with pytest.raises(Unreadable, match="at most 400 characters"):
        of_two.read("yes".rjust(401), {})


@pytest.mark.parametrize(
    ("key", "told", "asked"),
    [
        ("body.thigh_clearance", {}, False),
        ("body.thigh_clearance", {"desk.underside": "690"}, True),
        ("body.thigh_clearance", {"desk.underside": None}, False),
        ("body.thigh_clearance", {"desk.underside": "711"}, False),
        ("body.thigh_clearance", {"desk.underside": "710.9"}, True),
        ("body.knee_height", {"desk.underside": "690", "place.feet_on": "floor"}, False),
        ("body.knee_height", {"desk.underside": "690", "place.feet_on": "60"}, True),
        ("body.knee_height", {"desk.underside": "690", "place.feet_on": "foot_bar"}, False),
        (
            "body.knee_height",
            {"desk.underside": "690", "place.feet_on": "foot_bar", "desk.foot_bar": "140"},
            True,
        ),
    ],
)
def test_legs_are_measured_where_the_table_leaves_them_little_room(
    key: str, told: dict[str, str | None], asked: bool
) -> None:
    answers = {"person.stature": "1640", "seat.height": "465", **told}
    assert question(key).asked(answers) is asked


def test_what_may_be_refused_is_one_fix_each_that_the_catalog_knows() -> None:
    refused = question("wishes.never")
    assert set(refused.words) <= set(CATALOG.by_id)
    fewer = replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id != "ironing_board"))
    words = next(one.words for one in questions(fewer) if one.key == "wishes.never")
    assert set(refused.words) - set(words) == {"ironing_board"}
    none = replace(CATALOG, fixes=())
    assert not next(one for one in questions(none) if one.key == "wishes.never").asked({})


def test_money_is_asked_for_once_it_is_known_in_which_and_what_needs_a_word_once_it_is_said() -> None:
    budget = question("means.budget")
    assert not budget.asked({})
    assert not budget.asked({"means.currency": None})
    assert budget.asked({"means.currency": "EUR"})
