"""The questions of the interview: which there are, which follow from which, and what they put into a case.

Their words stand in `deskmend.report.interview_words`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from deskmend.intake.case import CASE_FORMAT, PaperAt, Tool
from deskmend.intake.case_rules import find_conflicts
from deskmend.intake.catalog import Catalog
from deskmend.intake.fields import FieldFault
from deskmend.intake.interview_answers import (
    LONGEST,
    Answers,
    Reader,
    choice,
    choices,
    currency,
    measure,
    money,
    pieces,
    troubles,
)
from deskmend.intake.person import Eyewear, Region
from deskmend.intake.place import Back, FeetOn, Surface
from deskmend.intake.tree import Plain

__all__ = ["OTHER_THINGS", "Question", "answer_text", "plain_case", "questions", "read_answer", "to_ask"]

BOOK = "hardback_book"
OTHER_THINGS = ("carton_box", "blanket", "bath_towel", "ring_binder")
"""Things asked after besides books, as far as the catalog knows them."""
INPUTS = ("both_built_in", "keyboard", "mouse", "both_separate")
"""What is used of a laptop: its own keys and touchpad, or which of the two is separate."""
_INPUT_KEYS = {
    "both_built_in": {"keyboard": "built_in", "mouse": "touchpad"},
    "keyboard": {"keyboard": "separate", "mouse": "touchpad"},
    "mouse": {"keyboard": "built_in", "mouse": "separate"},
    "both_separate": {"keyboard": "separate", "mouse": "separate"},
}
YES_NO_WORDS = ("yes", "no")
PLACE, TASK = ("places", 0), ("tasks", 0)


@dataclass(frozen=True)
class Question:
    """One question.

    Attributes
    ----------
    key : str
        Its name in a file of answers.
    part : int
        Which of the twelve parts it belongs to, from 1 [-].
    loc : tuple of str or int
        Where its answer goes in a case.
    read : callable
        Reads what was typed.
    needed : bool
        Whether it cannot be skipped.
    asked : callable
        Whether the answers before call for it.
    words : callable
        Words to choose from, given the answers before; none for a measure.
    settled_later : bool
        Whether a later answer brings what the case demands beside this one.
    """

    key: str
    part: int
    loc: tuple[str | int, ...]
    read: Reader
    needed: bool = False
    asked: Callable[[Answers], bool] = lambda _: True
    words: Callable[[Answers], Sequence[str]] = lambda _: ()
    settled_later: bool = False


def _known(vocabulary: Any) -> tuple[str, ...]:
    return tuple(word for word in get_args(vocabulary) if word != "unknown")


def _uses(tool: str) -> Callable[[Answers], bool]:
    return lambda answers: tool in (answers.get("task.main"), answers.get("task.reference"))


def _is(key: str, *values: str) -> Callable[[Answers], bool]:
    return lambda answers: answers.get(key) in values


def _references(answers: Answers) -> tuple[str, ...]:
    return tuple(word for word in ("none", *_known(Tool)) if word != answers.get("task.main"))


def _one(key: str, part: int, loc: tuple[str | int, ...], words: Sequence[str], **more: Any) -> Question:
    return Question(key, part, loc, choice(words), words=lambda _: words, **more)


def _length(key: str, part: int, loc: tuple[str | int, ...], **more: Any) -> Question:
    return Question(key, part, loc, measure(key), **more)


def questions(catalog: Catalog) -> tuple[Question, ...]:
    """Every question there is, in order.

    Parameters
    ----------
    catalog : Catalog
        For warning signs, tools and things that a case can name.
    """
    signs = tuple(sign.id for sign in catalog.signs)
    tools = tuple(sorted({tool for fix in catalog.fixes for tool in fix.tools}))
    things = tuple(thing for thing in OTHER_THINGS if thing in catalog.items)
    surfaces, backs, feet = _known(Surface), _known(Back), _known(FeetOn)
    seat, desk = (*PLACE, "seat"), (*PLACE, "desk")
    all_references = ("none", *_known(Tool))
    laptop, monitor = _uses("laptop"), _uses("monitor")
    return (
        _length("task.hours", 1, (*TASK, "hours"), needed=True),
        _length("task.spell", 1, (*TASK, "spell")),
        _one("task.main", 2, (*TASK, "main"), _known(Tool), needed=True, settled_later=True),
        Question(
            "task.reference",
            2,
            (*TASK, "reference"),
            choice(all_references, _references),
            words=_references,
            settled_later=True,
        ),
        _one("paper.at", 2, (*TASK, "paper", "at"), _known(PaperAt), asked=_uses("paper")),
        _one("task.writing", 2, (*TASK, "writing"), YES_NO_WORDS, asked=_uses("paper")),
        _length("person.stature", 3, ("person", "stature"), needed=True),
        _one("person.sex", 3, ("person", "sex"), ("female", "male")),
        _length("body.sitting_elbow_height", 4, ("person", "body", "sitting_elbow_height")),
        _length("body.popliteal_height", 5, ("person", "body", "popliteal_height")),
        _length("seat.height", 6, (*seat, "height"), needed=True),
        _length("seat.depth", 6, (*seat, "depth")),
        _one("seat.surface", 6, (*seat, "surface"), surfaces),
        _one("seat.back", 6, (*seat, "back"), backs),
        _length("desk.height", 7, (*desk, "height"), needed=True),
        _length("desk.underside", 7, (*desk, "underside")),
        Question(
            "place.feet_on",
            8,
            (*PLACE, "feet_on"),
            measure("place.feet_on", feet),
            words=lambda _: feet,
            settled_later=True,
        ),
        _length("desk.foot_bar", 8, (*desk, "foot_bar"), needed=True, asked=_is("place.feet_on", "foot_bar")),
        _length(
            "seat.foot_ring", 8, (*seat, "foot_ring"), needed=True, asked=_is("place.feet_on", "foot_ring")
        ),
        _length("laptop.screen_top", 9, ("devices", "laptop", "screen_top"), needed=True, asked=laptop),
        _length("laptop.screen_height", 9, ("devices", "laptop", "screen_height"), needed=True, asked=laptop),
        _length("laptop.keys", 9, ("devices", "laptop", "keys"), needed=True, asked=laptop),
        _length("monitor.top", 9, ("devices", "monitor", "top"), needed=True, asked=monitor),
        _length("monitor.height", 9, ("devices", "monitor", "height"), needed=True, asked=monitor),
        _one("inputs", 10, ("devices",), INPUTS, asked=laptop),
        _one("person.eyewear", 10, ("person", "eyewear"), _known(Eyewear)),
        Question("person.discomfort", 11, ("person", "discomfort"), troubles(get_args(Region))),
        Question(
            "person.warning_signs",
            11,
            ("person", "warning_signs"),
            choices(signs),
            needed=True,
            asked=lambda _: bool(signs),
            words=lambda _: signs,
        ),
        Question(
            "owns.books", 12, ("owns", BOOK), pieces("owns.piece"), asked=lambda _: BOOK in catalog.items
        ),
        Question(
            "owns.things",
            12,
            ("owns",),
            choices(things),
            asked=lambda _: bool(things),
            words=lambda _: things,
        ),
        Question(
            "means.tools",
            12,
            ("means", "tools"),
            choices(tools),
            asked=lambda _: bool(tools),
            words=lambda _: tools,
        ),
        _one("means.skill", 12, ("means", "skill"), ("1", "2", "3")),
        Question("means.currency", 12, ("means", "currency"), currency),
        Question(
            "means.budget",
            12,
            ("means", "budget"),
            money,
            asked=lambda answers: answers.get("means.currency") is not None,
        ),
    )


def to_ask(every: Sequence[Question], answers: Answers) -> Question | None:
    """First question that the answers so far call for and do not hold.

    Parameters
    ----------
    every : sequence of Question
        From `questions`.
    answers : Answers
        What was answered or skipped.
    """
    return next((one for one in every if one.key not in answers and one.asked(answers)), None)


def read_answer(question: Question, text: str, answers: Answers, every: Sequence[Question]) -> str:
    """Check one answer, by itself and against those before.

    Parameters
    ----------
    question : Question
        What was asked.
    text : str
        What was typed.
    answers : Answers
        What was answered before.
    every : sequence of Question
        From `questions`.

    Returns
    -------
    str
        The answer as it is kept; reading that again gives the same.

    Raises
    ------
    FieldFault
        It cannot be taken; says what can.
    """
    if len(text) > LONGEST:
        raise FieldFault(f"at most {LONGEST} characters", note=f"has {len(text)}")
    kept = answer_text(question.read(text, answers))
    if question.settled_later:
        return kept
    plain = plain_case({**answers, question.key: kept}, every)
    for conflict in find_conflicts(plain):
        if conflict.loc == question.loc:
            raise FieldFault(conflict.allowed, conflict.hint, conflict.note)
    return kept


def answer_text(plain: Plain) -> str:
    """Text from which an answer is read again."""
    if isinstance(plain, dict):
        return ", ".join(f"{key} {value}" for key, value in plain.items()) or "none"
    if isinstance(plain, list):
        return ", ".join(str(one) for one in plain) or "none"
    return plain or ""


def plain_case(answers: Answers, every: Sequence[Question]) -> dict[str, Plain]:
    """Case that the answers make, as texts.

    Parameters
    ----------
    answers : Answers
        Checked answers; questions that they do not call for are passed over.
    every : sequence of Question
        From `questions`.

    Returns
    -------
    dict
        Fit for `deskmend.intake.case_file.read_case`, which lists what may still be missing.
    """
    case: dict[str, Any] = {
        "format": CASE_FORMAT,
        "person": {},
        "places": [{"id": "home", "seat": {}, "desk": {}}],
        "tasks": [{"id": "work", "place": "home"}],
    }
    for question, value in _values(answers, every):
        node: Any = case
        for part in question.loc[:-1]:
            node = node[part] if isinstance(part, int) else node.setdefault(part, {})
        name = question.loc[-1]
        if isinstance(value, dict):
            node.setdefault(name, {}).update(value)
        else:
            node[name] = value
    return case


def _values(answers: Answers, every: Sequence[Question]) -> Iterator[tuple[Question, Plain]]:
    """Answered questions that still apply, with what they put into the case."""
    for question in every:
        text = answers.get(question.key)
        if text is None or not question.asked(answers):
            continue
        value = question.read(text, answers)
        if question.key == "inputs":
            yield question, dict(_INPUT_KEYS[text])
        elif question.key == "owns.things" and isinstance(value, list):
            yield question, {str(thing): "1" for thing in value}
        elif value or question.key in ("person.warning_signs", "means.tools"):
            yield question, value
