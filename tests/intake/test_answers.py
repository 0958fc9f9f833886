"""Answers to single questions, at the ends of what is taken."""

from __future__ import annotations

import pytest
from tests.planning.cases import CATALOG

from deskmend.errors import Unreadable
from deskmend.intake.interview import questions


def test_an_answer_may_have_400_characters_and_no_more() -> None:
    question = next(one for one in questions(CATALOG) if tuple(one.words) == ("yes", "no"))
    assert question.read("yes".rjust(400), {}) == "yes"
    with pytest.raises(Unreadable, match="at most 400 characters"):
        question.read("yes".rjust(401), {})
