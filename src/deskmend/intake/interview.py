"""The interview of ``deskmend new``: its questions, how an answer is read, and the case that answers make.

The questions are one table of data, ``questions.yaml``: where an answer goes in a case, how it is read,
which answers call for it, and its words in English; `deskmend.report.forms.interview` says them in the
reader's language. Answers of an interview that was stopped are kept beside the case to be, and read with
the same care.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from deskmend.errors import FaultList, InputFaults, Unreadable, did_you_mean
from deskmend.intake.case import CASE_FORMAT, Region
from deskmend.intake.case_file import find_conflicts
from deskmend.intake.catalog import Catalog
from deskmend.intake.reading.fields import (
    CURRENCY,
    MONEY,
    MOST_LENGTHS,
    YES_NO,
    FieldKind,
    free_text,
    ranges,
    read_quantity,
    word,
)
from deskmend.intake.reading.records import Record, fault_at, read_records
from deskmend.intake.reading.yaml_tree import Plain, load_tree, to_plain
from deskmend.measures import Range, format_number

RULERS = {
    "a4": Decimal("297"),
    "letter": Decimal("279.4"),
    "card": Decimal("85.6"),
}
"""Long side of each ruler [mm]: sheet of A4 (ISO 216), US letter (11 in, ANSI/ASME Y14.1), bank card (ISO/IEC
7810, ID-1); published, quoted from memory."""

_TERM = re.compile(r"(?:(\d{1,3}(?:\.\d{1,3})?) *)?(a4|letters?|cards?)|(\d{1,4}(?:\.\d{1,3})?) *(?:mm)?")
_MOST_TERMS = 6
"""Most parts of one sum."""


def laid_length(text: str) -> str | None:
    """Turn a sum of sheets, cards and millimetres into millimetres with at most one decimal.

    A number in front counts how often a ruler was laid; half a sheet is 0.5. None where no sheet or card is
    named, or the sum cannot be read.

    >>> laid_length("2 A4 + 1 card + 10"), laid_length("0.5 letter"), laid_length("465")
    ('689.6', '139.7', None)
    """
    parts = text.lower().split("+")
    if len(parts) > _MOST_TERMS:
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

AnswerKind = Literal["measure", "choice", "choices", "things", "pieces", "troubles", "currency", "money"]

_NOTHING = "none"
"""Answer that says that there is nothing of the kind."""

_LONGEST = 400
"""Longest answer [characters]."""

_Words = Annotated[str, free_text(400)]


def _read_example(value: Any, _: dict[str, Any]) -> dict[str, str]:
    return {str(key): str(one) for key, one in value.items()} if isinstance(value, dict) else {"": str(value)}


class Question(Record):
    """One question: what is asked, when, and what becomes of the answer."""

    key: str
    """Its name in a file of answers."""
    part: int
    """Which part of the interview it belongs to, from 1."""
    to: str
    """Where its answer goes in a case, as ``places.0.seat.height``."""
    kind: Annotated[AnswerKind, word(AnswerKind)]
    """How an answer is read. measure: a number within `range`, or one of the `words`; choice: one of them;
    choices: several; things: several, each of which is then owned once; pieces: the length of each piece;
    troubles: numbers by part of the body; currency; money."""
    range: str | None = None
    """Row of ``ranges.csv`` that numbers keep to; the key if left out."""
    words: Mapping[str, str] = {}
    """Words to choose from, each with what it means; empty where it says that itself."""
    from_catalog: Annotated[str, word(Literal["signs", "items", "tools"])] | None = None
    """The words are those of the catalog in use, of items those it knows; without any it is not asked."""
    not_again: str | None = None
    """Question whose answer is no choice here."""
    puts: Mapping[str, Mapping[str, str]] = {}
    """What each word puts into the case, where it is not the word itself."""
    needed: Annotated[bool, YES_NO] = False
    """It cannot be left out."""
    asked_if: Mapping[str, tuple[str, ...]] = {}
    """Answers that call for it, any of them; always asked if left out."""
    asked_after: str | None = None
    """Question that must have been answered; money is in the currency told there."""
    settled_later: Annotated[bool, YES_NO] = False
    """A later answer brings what the case demands beside this one."""
    ask: _Words
    """The question."""
    how: _Words = ""
    """How to find out."""
    left_out: _Words = ""
    """What leaving it out costs; names in braces are figures."""
    example: Annotated[Mapping[str, str], FieldKind("a text, or texts by key", _read_example)] = {}
    """What stands behind the # of a question left out, by key where a group goes there; the first word if
    left out."""

    @property
    def loc(self) -> tuple[str | int, ...]:
        """Path of its answer in a case."""
        return tuple(int(part) if part.isdecimal() else part for part in self.to.split("."))

    @property
    def limits(self) -> Range:
        """Range of the numbers in an answer."""
        return ranges()[self.range or self.key]

    def asked(self, answers: Answers) -> bool:
        """Tell whether the answers before call for it."""
        if self.from_catalog is not None and not self.words:
            return False
        if self.asked_after is not None and answers.get(self.asked_after) is None:
            return False
        return not self.asked_if or any(answers.get(key) in known for key, known in self.asked_if.items())

    def choices(self, answers: Answers) -> tuple[str, ...]:
        """Words to choose from, given the answers before; none for a mere measure."""
        if self.kind == "pieces":
            return ()
        taken = None if self.not_again is None else answers.get(self.not_again)
        return tuple(word for word in self.words if word != taken)

    def read(self, text: str, answers: Answers) -> Plain:
        """Read what was typed, given the answers before, as a case has it; `Unreadable` where it is none."""
        return _READERS[self.kind](self, text, answers)


class QuestionFile(Record):
    """All questions."""

    format: Annotated[str, word(Literal["deskmend-questions/1"])]
    parts: tuple[_Words, ...]
    """Titles of the parts, in order."""
    questions: tuple[Question, ...]


@cache
def question_file() -> QuestionFile:
    """Return the questions as they ship, before a catalog gives its words."""
    with as_file(files("deskmend.intake") / "questions.yaml") as path:
        found, faults = read_records(load_tree(path), QuestionFile)
    if found is None:
        raise InputFaults(faults)
    return found


def questions(catalog: Catalog) -> tuple[Question, ...]:
    """Every question there is, in order, with the words of a catalog."""
    items = {item.id: item.title for item in catalog.items.values()}
    tools = sorted({tool for fix in catalog.fixes for tool in fix.tools})
    found = []
    for one in question_file().questions:
        words = dict(one.words)
        if one.from_catalog == "signs":
            words = {sign.id: sign.sign for sign in catalog.signs}
        elif one.from_catalog == "tools":
            words = dict.fromkeys(tools, "")
        elif one.from_catalog == "items":
            words = {item: items[item] for item in one.words if item in items}
        found.append(one.model_copy(update={"words": words}))
    return tuple(found)


def _measured(text: str, limits: Range, words: Sequence[str] = ()) -> str:
    laid = laid_length(text) if limits.kind == "length" else None
    given = text if laid is None else laid
    try:
        read_quantity(given, limits)
    except Unreadable as error:
        if not words:
            raise
        allowed = f"{', '.join(words)}, or {limits}"
        raise Unreadable(allowed, error.hint or did_you_mean(text, words), error.note) from None
    return given


def _word(text: str, words: Sequence[str]) -> str | None:
    """Word meant: written out in any letter case, or by its number in the list.

    >>> _word("Foot bar", ["floor", "foot_bar"]), _word("1", ["floor", "foot_bar"]), _word("3", ["floor"])
    ('foot_bar', 'floor', None)
    """
    plain = text.strip().lower().replace(" ", "_").replace("-", "_")
    if plain in words:
        return plain
    if plain.isascii() and plain.isdigit() and len(plain) < 4 and 1 <= int(plain) <= len(words):
        return words[int(plain) - 1]
    return None


def _read_measure(question: Question, text: str, answers: Answers) -> Plain:
    words = question.choices(answers)
    chosen = _word(text, words)
    return _measured(text, question.limits, words) if chosen is None else chosen


def _read_choice(question: Question, text: str, answers: Answers) -> Plain:
    words = question.choices(answers)
    chosen = _word(text, words)
    if chosen is None:
        raise Unreadable(f"a number from 1 to {len(words)}, or {', '.join(words)}", did_you_mean(text, words))
    return chosen


def _read_choices(question: Question, text: str, answers: Answers) -> Plain:
    if _is_nothing(text):
        return []
    words = question.choices(answers)
    chosen = []
    for part in re.split(r"[,\s]+", text.strip().strip(",")):
        one = _word(part, words)
        if one is None:
            allowed = f"{_NOTHING}, or numbers from 1 to {len(words)} with commas between"
            raise Unreadable(allowed, did_you_mean(part, words), f'one of them is "{part[:20]}"')
        chosen.append(one)
    return list(dict.fromkeys(chosen))


def _read_pieces(question: Question, text: str, _: Answers) -> Plain:
    if _is_nothing(text):
        return []
    limits = question.limits
    parts = text.split(",") if "," in text else text.split()
    if len(parts) > MOST_LENGTHS:
        raise Unreadable(f"at most {MOST_LENGTHS} lengths, each {limits}", note=f"has {len(parts)}")
    try:
        return [_measured(part.strip(), limits) for part in parts]
    except Unreadable as error:
        hint = 'with units put commas between, as "1.5 in, 2 in"' if "," not in text else error.hint
        raise Unreadable(f"{_NOTHING}, or lengths, each {limits}", hint, error.note) from None


def _read_troubles(question: Question, text: str, _: Answers) -> Plain:
    if _is_nothing(text):
        return {}
    regions: tuple[str, ...] = get_args(Region)
    allowed = f"{_NOTHING}, or a part of the body and {question.limits}, as neck 6, lower_back 3"
    found: dict[str, Plain] = {}
    for part in text.split(","):
        name, __, value = part.strip().rpartition(" ")
        region = _word(name, regions) if not name.isdigit() else None
        if region is None:
            raise Unreadable(allowed, did_you_mean(name.strip(), regions))
        try:
            number = read_quantity(value, question.limits)
        except Unreadable as error:
            raise Unreadable(allowed, error.hint) from None
        if number != int(number):
            raise Unreadable(allowed)
        found[region] = format_number(number)
    return found


def _read_currency(question: Question, text: str, _: Answers) -> Plain:
    return str(CURRENCY.read(text.strip().upper(), {}))


def _read_money(question: Question, text: str, answers: Answers) -> Plain:
    MONEY.read(text, {"currency": answers.get(question.asked_after or "")})
    return text


_READERS: Mapping[AnswerKind, Callable[[Question, str, Answers], Plain]] = {
    "measure": _read_measure,
    "choice": _read_choice,
    "choices": _read_choices,
    "things": _read_choices,
    "pieces": _read_pieces,
    "troubles": _read_troubles,
    "currency": _read_currency,
    "money": _read_money,
}


def _is_nothing(text: str) -> bool:
    return text.strip().lower() == _NOTHING


def to_ask(every: Sequence[Question], answers: Answers) -> Question | None:
    """First question that the answers so far call for and do not hold; None at the end."""
    return next((one for one in every if one.key not in answers and one.asked(answers)), None)


def read_answer(question: Question, text: str, answers: Answers, every: Sequence[Question]) -> str:
    """Check one answer, by itself and against those before, and give it as it is kept.

    Reading that again gives the same. `Unreadable` says what can be taken.
    """
    if len(text) > _LONGEST:
        raise Unreadable(f"at most {_LONGEST} characters", note=f"has {len(text)}")
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
    """Case that the answers make, as texts; questions that they do not call for are passed over.

    `deskmend.intake.case_file.read_case` lists what may still be missing.
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
        if isinstance(value, dict) and value:
            if isinstance(node.get(name), str):
                # a measure told before, of which this says how it was come by
                node[name] = {"value": node[name]}
            node.setdefault(name, {}).update(value)
        elif not isinstance(value, dict):
            node[name] = value
    return case


def _values(answers: Answers, every: Sequence[Question]) -> Iterator[tuple[Question, Plain]]:
    """Answered questions that still apply, with what they put into the case."""
    for question in every:
        text = answers.get(question.key)
        if text is None or not question.asked(answers):
            continue
        value = question.read(text, answers)
        if question.puts:
            yield question, dict(question.puts[text])
        elif question.kind == "things" and isinstance(value, list):
            yield question, {str(thing): "1" for thing in value}
        elif value or question.kind == "choices":
            # To have no sign or tool is an answer; to have no book and no trouble is what silence says too.
            yield question, value


ANSWERS_FORMAT = "deskmend-answers/1"
_MAX_BYTES = 100_000


def answers_text(answers: Answers) -> str:
    """Write answers as a file."""
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

    Gives those that the ones before call for, in the order of the questions; `InputFaults` with every fault.
    """
    tree = load_tree(path, _MAX_BYTES)
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
