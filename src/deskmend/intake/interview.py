"""Answers of an interview that was stopped: kept beside the case to be, and read with the same care.

Lengths measured without a tape: by laying sheets of paper and bank cards end to end.

How one answer of the interview is read: a text comes in, and what the case holds goes out.

The questions of the interview: which there are, which follow from which, and what they put into a case.

Their words stand in `deskmend.report.forms.interview`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

from deskmend.errors import FaultList, Unreadable, did_you_mean
from deskmend.intake.case import CASE_FORMAT, Back, Eyewear, FeetOn, PaperAt, Region, Surface, Tool
from deskmend.intake.case_file import find_conflicts
from deskmend.intake.catalog import Catalog
from deskmend.intake.reading.fields import CURRENCY, MONEY, MOST_LISTED, ranges, read_quantity
from deskmend.intake.reading.records import fault_at
from deskmend.intake.reading.yaml_tree import Plain, load_tree, to_plain
from deskmend.measures import Range, format_number

__all__ = [
    "ANSWERS_FORMAT",
    "OTHER_THINGS",
    "RULERS",
    "Answers",
    "Question",
    "Reader",
    "answer_text",
    "answers_text",
    "choice",
    "choices",
    "currency",
    "laid_length",
    "load_answers",
    "measure",
    "money",
    "pieces",
    "plain_case",
    "questions",
    "read_answer",
    "to_ask",
    "troubles",
]

RULERS = {
    "a4": Decimal("297"),
    "letter": Decimal("279.4"),
    "card": Decimal("85.6"),
}
"""Long side of each ruler [mm]: sheet of A4 (ISO 216), US letter (11 in, ANSI/ASME Y14.1), bank card (ISO/IEC
7810, ID-1); published, quoted from memory."""

_TERM = re.compile(r"(?:(\d{1,3}(?:\.\d{1,3})?) *)?(a4|letters?|cards?)|(\d{1,4}(?:\.\d{1,3})?) *(?:mm)?")
MOST_TERMS = 6
"""Most parts of one sum."""


def laid_length(text: str) -> str | None:
    """Turn a sum of sheets, cards and millimetres into millimetres.

    Parameters
    ----------
    text : str
        As ``2 A4 + 1 card + 10``. A number in front counts how often it was laid; half a sheet is 0.5.

    Returns
    -------
    str or None
        Millimetres with at most one decimal; None where no sheet or card is named, or it cannot be read.
    """
    parts = text.lower().split("+")
    if len(parts) > MOST_TERMS:
        return None
    total, laid = Decimal(0), False
    for part in parts:
        term = _TERM.fullmatch(part.strip())
        if term is None:
            return None
        if term[2]:
            total += Decimal(term[1] or 1) * RULERS[term[2].removesuffix("s")]
            laid = True
        else:
            total += Decimal(term[3])
    return format_number(float(total), 1) if laid else None


Answers = Mapping[str, str | None]
"""Answers so far by question, as texts; None where the question was skipped."""

Reader = Callable[[str, Answers], Plain]
"""Takes what was typed and the answers before; gives the part of the case, or raises `Unreadable`."""

LONGEST = 400
"""Longest answer [characters]."""
NOTHING = "none"
"""Answer that says that there is nothing of the kind."""
CURRENCY_KEY = "means.currency"


def measure(key: str, words: Sequence[str] = ()) -> Reader:
    """Reader of a quantity, also laid out with sheets and cards where it is a length.

    Parameters
    ----------
    key : str
        Row of ``ranges.csv``.
    words : sequence of str
        Words that are taken in its place.
    """
    limits = ranges()[key]

    def read(text: str, _: Answers) -> Plain:
        if words:
            word = _word(text, words)
            if word is not None:
                return word
        return _measured(text, limits, words)

    return read


def _measured(text: str, limits: Range, words: Sequence[str] = ()) -> str:
    laid = laid_length(text) if limits.kind == "length" else None
    given = text if laid is None else laid
    try:
        read_quantity(given, limits)
    except Unreadable as fault:
        if not words:
            raise
        allowed = f"{', '.join(words)}, or {limits}"
        raise Unreadable(allowed, fault.hint or did_you_mean(text, words), fault.note) from None
    return given


def _word(text: str, words: Sequence[str]) -> str | None:
    """Word meant: written out in any letter case, or by its number in the list."""
    plain = text.strip().lower().replace(" ", "_").replace("-", "_")
    if plain in words:
        return plain
    if plain.isascii() and plain.isdigit() and len(plain) < 4 and 1 <= int(plain) <= len(words):
        return words[int(plain) - 1]
    return None


def choice(words: Sequence[str], allowed: Callable[[Answers], Sequence[str]] | None = None) -> Reader:
    """Reader of one word out of a list, written out or by its number.

    Parameters
    ----------
    words : sequence of str
        All words.
    allowed : callable, optional
        Words that go with the answers before; all if left out.
    """

    def read(text: str, answers: Answers) -> Plain:
        known = words if allowed is None else allowed(answers)
        word = _word(text, known)
        if word is None:
            raise Unreadable(
                f"a number from 1 to {len(known)}, or {', '.join(known)}", did_you_mean(text, known)
            )
        return word

    return read


def choices(words: Sequence[str]) -> Reader:
    """Reader of several words out of a list, by commas or blanks; ``none`` for an empty list."""

    def read(text: str, _: Answers) -> Plain:
        if text.strip().lower() == NOTHING:
            return []
        chosen: list[str] = []
        for part in re.split(r"[,\s]+", text.strip().strip(",")):
            word = _word(part, words)
            if word is None:
                allowed = f"{NOTHING}, or numbers from 1 to {len(words)} with commas between"
                raise Unreadable(allowed, did_you_mean(part, words), f'one of them is "{part[:20]}"')
            if word not in chosen:
                chosen.append(word)
        return list(chosen)

    return read


def pieces(key: str) -> Reader:
    """Reader of the length of each piece of one thing; ``none`` for no pieces.

    Parameters
    ----------
    key : str
        Row of ``ranges.csv`` for one piece.
    """
    limits = ranges()[key]

    def read(text: str, _: Answers) -> Plain:
        if text.strip().lower() == NOTHING:
            return []
        parts = text.split(",") if "," in text else text.split()
        if len(parts) > MOST_LISTED:
            raise Unreadable(f"at most {MOST_LISTED} lengths, each {limits}", note=f"has {len(parts)}")
        try:
            return [_measured(part.strip(), limits) for part in parts]
        except Unreadable as fault:
            hint = 'with units put commas between, as "1.5 in, 2 in"' if "," not in text else fault.hint
            raise Unreadable(f"{NOTHING}, or lengths, each {limits}", hint, fault.note) from None

    return read


def troubles(regions: Sequence[str]) -> Reader:
    """Reader of discomfort by region, as ``neck 6, lower_back 3``; ``none`` where nothing troubles."""
    limits = ranges()["person.discomfort"]
    allowed = f"{NOTHING}, or a part of the body and {limits}, as neck 6, lower_back 3"

    def read(text: str, _: Answers) -> Plain:
        if text.strip().lower() == NOTHING:
            return {}
        found: dict[str, Plain] = {}
        for part in text.split(","):
            name, __, value = part.strip().rpartition(" ")
            region = _word(name, regions) if not name.isdigit() else None
            if region is None:
                raise Unreadable(allowed, did_you_mean(name.strip(), regions))
            try:
                number = read_quantity(value, limits)
            except Unreadable as fault:
                raise Unreadable(allowed, fault.hint) from None
            if number != int(number):
                raise Unreadable(allowed)
            found[region] = format_number(number)
        return found

    return read


def currency(text: str, _: Answers) -> Plain:
    """Read a currency code in any letter case."""
    code = CURRENCY.read(text.strip().upper(), {})
    return str(code)


def money(text: str, answers: Answers) -> Plain:
    """Read an amount in the currency answered before."""
    MONEY.read(text, {"currency": answers.get(CURRENCY_KEY)})
    return text


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
    Unreadable
        It cannot be taken; says what can.
    """
    if len(text) > LONGEST:
        raise Unreadable(f"at most {LONGEST} characters", note=f"has {len(text)}")
    kept = answer_text(question.read(text, answers))
    if question.settled_later:
        return kept
    plain = plain_case({**answers, question.key: kept}, every)
    for conflict in find_conflicts(plain):
        if conflict.loc == question.loc:
            raise Unreadable(conflict.allowed, conflict.hint, conflict.note)
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


ANSWERS_FORMAT = "deskmend-answers/1"
MAX_BYTES = 100_000
"""Largest file of answers read [bytes]."""


def answers_text(answers: Answers) -> str:
    """Write answers as a file.

    Parameters
    ----------
    answers : Answers
        What was answered; None where a question was left out.
    """
    lines = [
        '# Answers kept by "deskmend new", so that it can go on from here. It may be deleted.',
        f"format: {ANSWERS_FORMAT}",
        "answers:",
    ]
    for key, text in answers.items():
        lines.append(f"  {key}:" if text is None else f"  {key}: {json.dumps(text)}")
    return "\n".join(lines) + "\n"


def load_answers(path: Path, every: Sequence[Question]) -> dict[str, str | None]:
    """Read answers that were kept, and check each as if it had just been typed.

    Parameters
    ----------
    path : Path
        The file.
    every : sequence of Question
        From `deskmend.intake.interview.questions`.

    Returns
    -------
    dict
        Answers that the ones before call for, in the order of the questions.

    Raises
    ------
    deskmend.errors.InputFaults
        The file cannot be read, or an answer in it cannot be taken; every fault.
    """
    tree = load_tree(path, MAX_BYTES)
    plain = to_plain(tree.root)
    faults = FaultList(str(path))

    def fault(loc: tuple[str, ...], read: str | None, allowed: str, hint: str = "", note: str = "") -> None:
        faults.extend([fault_at(loc, plain, str(path), tree, read, allowed, hint, note)])

    groups = plain if isinstance(plain, dict) else {}
    written, kept = groups.get("format"), groups.get("answers")
    if written != ANSWERS_FORMAT:
        fault(("format",), written if isinstance(written, str) else None, ANSWERS_FORMAT)
    if not isinstance(kept, dict):
        if kept is not None or "answers" not in groups:
            fault(("answers",), None, "answers by question", note="are no group of keys")
        kept = {}
    known = {question.key for question in every}
    for key in kept:
        if key not in known:
            fault(("answers", key), key, "a question of the interview", did_you_mean(key, known))
    answers: dict[str, str | None] = {}
    for question in every:
        if question.key not in kept or not question.asked(answers):
            continue
        text = kept[question.key]
        if text is None:
            if not question.needed:
                answers[question.key] = None
        elif not isinstance(text, str):
            fault(("answers", question.key), None, "one text", note="is a group or a list")
        else:
            try:
                answers[question.key] = read_answer(question, text, answers, every)
            except Unreadable as wrong:
                fault(("answers", question.key), text, wrong.allowed, wrong.hint, wrong.note)
    faults.raise_if_any()
    return answers
