"""The questions of ``deskmend new``, its form and the local page, and the case that answers make.

The questions are one table of data, ``questions.yaml``: where an answer goes in a case, how it is read,
which answers call for it, what is usual, and its words in English; `deskmend.report.forms.interview` says
them in the reader's language. Answers are kept as `deskmend.intake.typed_answers` gives them. Those of an
interview that was stopped are kept beside the case to be, and read with the same care.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from deskmend.errors import FaultList, InputFaults, Unreadable, did_you_mean
from deskmend.intake.case import CASE_FORMAT
from deskmend.intake.case_file import find_conflicts
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Urgency
from deskmend.intake.reading.fields import YES_NO, FieldKind, free_text, ranges, word
from deskmend.intake.reading.records import Record, fault_at, group_at, read_records
from deskmend.intake.reading.yaml_tree import Plain, load_tree, to_plain
from deskmend.intake.typed_answers import (
    NO,
    NOTHING,
    YES,
    kept_number,
    range_text,
    read_amount,
    read_measured,
    read_pieces,
    value_text,
)
from deskmend.language import tr
from deskmend.measures import Range, currencies, format_number

Answers = Mapping[str, str | None]
"""Answers so far by question, as they are kept; None where the question was skipped."""

AnswerKind = Literal["measure", "choice", "choices", "pieces", "troubles", "currency", "money"]

_NOTHING = "none"
"""Kept where there is nothing of the kind."""

JOINING = ("and", "&", "y")
"""Words between the last two of several, as people write them."""

_LONGEST = 400
"""Longest answer [characters]."""

_Words = Annotated[str, free_text(400)]


def _read_example(value: Any, _: dict[str, Any]) -> dict[str, str]:
    return {str(key): str(one) for key, one in value.items()} if isinstance(value, dict) else {"": str(value)}


class Usual(Record):
    """Values that are usual; others are asked again. Judgement throughout."""

    low: float
    high: float


class Otherwise(Record):
    """What stands in the case where the case demands a value and nobody told it; judgement."""

    value: str
    sd: str


class Most(Record):
    """A bound that another answer sets."""

    by: str
    """Question whose answer it is."""
    times: float = 1.0
    """Multiplies it."""
    below: Annotated[bool, YES_NO] = False
    """It may not be reached."""


class Below(Record):
    """A number that is less than others together, each times its factor; what is no number adds nothing."""

    of: str
    """Question whose answer it is; nothing is less before it is told."""
    than: Mapping[str, float]
    """Factors by question."""

    def holds(self, answers: Answers) -> bool:
        """Tell whether it is less by these answers."""
        told = _number(answers.get(self.of))
        return told is not None and told < sum(
            (_number(answers.get(key)) or 0.0) * factor for key, factor in self.than.items()
        )


def _number(kept: str | None) -> float | None:
    return float(kept) if kept is not None and _NUMBER.fullmatch(kept) else None


_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")


class Question(Record):
    """One question: what is asked, when, and what becomes of the answer."""

    key: str
    """Its name in a file of answers."""
    first: Annotated[bool, YES_NO] = False
    """It is one of those that a first plan takes."""
    screen: str | None = None
    """Questions in a row with the same are put at once; by itself if left out."""
    to: str
    """Where its answer goes in a case, as ``places.0.seat.height``."""
    kind: Annotated[AnswerKind, word(AnswerKind)]
    """How an answer is read. measure: a number within `range`, or one of the `words`; choice: one of them;
    choices: several; pieces: the thickness of each piece; troubles: numbers by part of the body; currency;
    money."""
    range: str | None = None
    """Row of ``ranges.csv`` that numbers keep to; the key if left out."""
    usual: Usual | None = None
    """Numbers that are not asked again, in the unit of the range."""
    most: Most | None = None
    """Bound by another answer."""
    otherwise: Otherwise | None = None
    """What is put where the question is left out, no more than the bound lets."""
    words: Mapping[str, str] = {}
    """Words to choose from, each with what it means; empty where it says that itself. Of troubles: parts."""
    urgent: Mapping[str, str] = {}
    """How urgent each word is, of signs; it comes from the catalog."""
    also: Mapping[str, tuple[str, ...]] = {}
    """What people write instead of a word."""
    from_catalog: Annotated[str, word(Literal["signs", "items", "tools", "fixes"])] | None = None
    """The words are those of the catalog in use; of items: it is asked where the catalog knows `item`; of
    fixes: those of `words` that the catalog knows."""
    item: str | None = None
    """Thing that is asked for."""
    not_again: str | None = None
    """Question whose answer is no choice here."""
    puts: Mapping[str, Mapping[str, str]] = {}
    """What each word puts into the case, where it is not the word itself."""
    needed: Annotated[bool, YES_NO] = False
    """It cannot be left out."""
    asked_if: Mapping[str, tuple[str, ...]] = {}
    """Answers that call for it, any of them; always asked if left out."""
    asked_below: Below | None = None
    """It is asked only where this holds: else it could hardly change a plan (judgement)."""
    asked_after: str | None = None
    """Question that must have been answered; money is in the currency told there."""
    settled_later: Annotated[bool, YES_NO] = False
    """A later answer brings what the case demands beside this one."""
    drawing: str | None = None
    """Drawing of the measure."""
    short: _Words = ""
    """Name of the number, as a label."""
    ask: _Words
    """The question."""
    how: _Words = ""
    """How to find out."""
    left_out: _Words = ""
    """What leaving it out costs; names in braces are figures."""
    example: Annotated[Mapping[str, str], FieldKind("a text, or texts by key", _read_example)] = {}
    """What stands behind the # of a question left out, by key where a group goes there; the first word, or
    ``unknown``, if left out."""

    @property
    def loc(self) -> tuple[str | int, ...]:
        """Path of its answer in a case."""
        return tuple(int(part) if part.isdecimal() else part for part in self.to.split("."))

    @property
    def limits(self) -> Range:
        """Range of the numbers in an answer."""
        return ranges()[self.range or self.key]

    @property
    def usually(self) -> Range | None:
        """Usual numbers."""
        return None if self.usual is None else Range(self.limits.kind, self.usual.low, self.usual.high)

    def asked(self, answers: Answers) -> bool:
        """Tell whether the answers before call for it."""
        if self.from_catalog is not None and not self.words and self.kind != "pieces":
            return False
        if self.asked_after is not None and answers.get(self.asked_after) is None:
            return False
        if self.asked_below is not None and not self.asked_below.holds(answers):
            return False
        return not self.asked_if or any(answers.get(key) in known for key, known in self.asked_if.items())

    def may_be_asked(self, answers: Answers, to_come: Collection[str]) -> bool:
        """Tell whether answers still to come may call for it, or those there are do."""
        return self.asked(answers) or any(key in to_come and key not in answers for key in self.asked_if)

    def choices(self, answers: Answers) -> tuple[str, ...]:
        """Words to choose from, given the answers before; none for a mere measure."""
        taken = None if self.not_again is None else answers.get(self.not_again)
        return tuple(word for word in self.words if word != taken)

    def read(self, text: str, answers: Answers, sure: bool = False) -> str:
        """Read what was typed, given the answers before, as it is kept; `Unreadable` where it is none.

        What is unlikely is asked back by `AskedBack`, unless it is `sure`. Reading what is kept, sure, gives
        the same.
        """
        if len(text) > _LONGEST:
            raise Unreadable(
                tr("at most {most} characters", most=_LONGEST), note=tr("has {number}", number=len(text))
            )
        usual = None if sure else self.usually
        if self.kind == "measure":
            kept = self._measure(text, answers, usual)
        elif self.kind == "choice":
            kept = self._chosen(text, self.choices(answers))
        elif self.kind == "choices":
            kept = self._several(text, self.choices(answers))
        elif self.kind == "pieces":
            kept = _NOTHING if _is_nothing(text) else ", ".join(read_pieces(text, self.limits, usual))
        elif self.kind == "troubles":
            kept = self._troubles(text)
        elif self.kind == "currency":
            kept = _currency(text)
        else:
            kept = read_amount(text, answers.get(self.asked_after or "") or "")
        return kept

    def _measure(self, text: str, answers: Answers, usual: Range | None) -> str:
        words = self.choices(answers)
        chosen = self.word_meant(text, words)
        if chosen is not None:
            return chosen
        try:
            return read_measured(text, self.limits, usual)
        except Unreadable as error:
            if not words or error.note:
                raise
            allowed = tr("{words}, or {range}", words=", ".join(words), range=range_text(self.limits))
            raise Unreadable(allowed, error.hint or did_you_mean(text, words), error.note) from None

    def word_meant(self, text: str, words: Sequence[str]) -> str | None:
        """Word meant: written out in any letter case, or by its number in the list; None for no word of it.

        A question of yes and no takes no number, which might be how many there are.
        """
        plain = text.strip().lower()
        if tuple(self.words) == ("yes", "no"):
            return "yes" if plain in YES else "no" if plain in NO else None
        named = plain.replace(" ", "_").replace("-", "_")
        if named in words:
            return named
        for one, others in self.also.items():
            if plain in others and one in words:
                return one
        if "none" in words and plain in NOTHING:
            return "none"
        if self.kind == "measure" or not (plain.isascii() and plain.isdigit() and len(plain) < 4):
            return None
        return words[int(plain) - 1] if 1 <= int(plain) <= len(words) else None

    def _chosen(self, text: str, words: Sequence[str]) -> str:
        chosen = self.word_meant(text, words)
        if chosen is None and tuple(words) == ("yes", "no"):
            raise Unreadable(tr("yes or no"))
        if chosen is None:
            allowed = tr("a number from 1 to {most}, or {words}", most=len(words), words=", ".join(words))
            raise Unreadable(allowed, did_you_mean(text, words))
        return chosen

    def _several(self, text: str, words: Sequence[str]) -> str:
        if _is_nothing(text):
            return _NOTHING
        chosen = []
        parts = re.split(r"[,;\s]+", text.strip().strip(",;"))
        for part in (one for one in parts if one.lower() not in JOINING):
            one = self.word_meant(part, words)
            if one is None:
                raise Unreadable(
                    tr("none, or numbers from 1 to {most} with commas between", most=len(words)),
                    did_you_mean(part, words),
                    tr('one of them is "{text}"', text=part[:20]),
                )
            chosen.append(one)
        return ", ".join(one for one in words if one in chosen)

    def _troubles(self, text: str) -> str:
        if _is_nothing(text):
            return _NOTHING
        allowed = tr(
            "none, or a part of the body and {range}, as neck 6, lower_back 3", range=range_text(self.limits)
        )
        found: dict[str, str] = {}
        rest = text.strip()
        while rest:
            part = _TROUBLE.match(rest)
            if part is None:
                raise Unreadable(allowed)
            region = self.word_meant(part[1].strip(), tuple(self.words))
            if region is None or int(part[2]) not in self.limits:
                raise Unreadable(allowed, did_you_mean(part[1].strip(), self.words))
            found[region] = kept_number(float(part[2]), "count")
            rest = rest[part.end() :]
        return ", ".join(f"{region} {found[region]}" for region in self.words if region in found)

    def held_under(self, kept: str, answers: Answers) -> None:
        """Hold a number against the bound that another answer sets; `Unreadable` where it is too much."""
        bound = self._bound(answers)
        if bound is None or kept in self.words:
            return
        told = value_text(format_number(bound), self.limits.kind)
        if self.most is not None and self.most.below:
            if float(kept) >= bound:
                raise Unreadable(tr("less than {value}, by another answer", value=told))
        elif float(kept) > bound:
            raise Unreadable(tr("at most {value}, by another answer", value=told))

    def _bound(self, answers: Answers) -> float | None:
        told = None if self.most is None else answers.get(self.most.by)
        return None if self.most is None or told is None else float(told) * self.most.times

    def instead(self, answers: Answers) -> str | None:
        """Value put where it is left out and the case demands one; None where the case does without."""
        if self.otherwise is None:
            return None
        bound = self._bound(answers)
        value = float(self.otherwise.value)
        return kept_number(value if bound is None else min(value, bound), self.limits.kind)


_TROUBLE = re.compile(r"\s*([^\d,;:=]+?)[\s:=]*(\d{1,2})(?:\s*[,;]\s*|\s+|$)(?:(?:and|y|e)\s+)?")


def _currency(text: str) -> str:
    code = text.strip().upper()
    if code not in currencies():
        raise Unreadable(tr("a currency code of ISO 4217, as EUR"), did_you_mean(code, currencies()))
    return code


def _is_nothing(text: str) -> bool:
    return text.strip().lower() in NOTHING


class QuestionFile(Record):
    """All questions."""

    format: Annotated[str, word(Literal["deskmend-questions/1"])]
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
    tools = sorted({tool for fix in catalog.fixes for tool in fix.tools})
    found = []
    for one in question_file().questions:
        words = dict(one.words)
        if one.from_catalog == "signs":
            by_urgency = sorted(catalog.signs, key=lambda sign: get_args(Urgency).index(sign.urgency))
            words = {sign.id: sign.sign for sign in by_urgency}
            one = one.model_copy(update={"urgent": {sign.id: sign.urgency for sign in by_urgency}})
        elif one.from_catalog == "fixes":
            words = {id_: told for id_, told in words.items() if id_ in catalog.by_id}
        elif one.from_catalog == "tools":
            words = dict.fromkeys(tools, "")
        if one.item is None or one.item in catalog.items:
            found.append(one.model_copy(update={"words": words}))
    return tuple(found)


def to_ask(every: Sequence[Question], answers: Answers) -> Question | None:
    """First question that the answers so far call for and do not hold; None at the end."""
    return next((one for one in every if one.key not in answers and one.asked(answers)), None)


def screens(every: Sequence[Question], answers: Answers, first: bool) -> list[list[Question]]:
    """Questions of the first round or of the second that are, or may come to be, asked; those put at once."""
    out: list[list[Question]] = []
    to_come = [one.key for one in every if one.first or not first]
    for one in every:
        if one.first is not first or not one.may_be_asked(answers, to_come):
            continue
        if out and one.screen is not None and out[-1][-1].screen == one.screen:
            out[-1].append(one)
        else:
            out.append([one])
    return out


def read_answer(
    question: Question, text: str, answers: Answers, every: Sequence[Question], sure: bool = False
) -> str:
    """Check one answer, by itself and against those before, and give it as it is kept.

    `Unreadable` says what can be taken; see `Question.read`.
    """
    kept = question.read(text, answers, sure)
    if question.kind == "measure":
        question.held_under(kept, answers)
    if question.settled_later:
        return kept
    for conflict in find_conflicts(plain_case({**answers, question.key: kept}, every)):
        if conflict.loc == question.loc:
            raise Unreadable(conflict.allowed, conflict.hint, conflict.note)
    return kept


def still_held(every: Sequence[Question], answers: Answers) -> dict[str, str | None]:
    """Answers that still hold beside each other and are still called for, after one was changed."""
    out: dict[str, str | None] = {}
    while True:
        before = len(out)
        for one in every:
            if one.key in out or one.key not in answers or not one.asked(out):
                continue
            text = answers[one.key]
            try:
                out[one.key] = None if text is None else read_answer(one, text, out, every, sure=True)
            except Unreadable:
                # It is asked again.
                continue
        if len(out) == before:
            return out


@dataclass(frozen=True)
class Entry:
    """One line of a case: where it goes, what stands there, and which questions it comes from."""

    loc: tuple[str | int, ...]
    value: Plain
    told: bool
    """False for an example behind a #."""
    guessed: bool
    """Nobody told it, and the case demands it."""
    questions: tuple[Question, ...]


def entries(answers: Answers, every: Sequence[Question]) -> list[Entry]:
    """Lines of the case that the answers make, in order; later answers to one line are joined to it."""
    out: dict[tuple[str | int, ...], Entry] = {}
    for question in every:
        if not question.asked(answers) and question.kind != "money":
            continue
        text = answers.get(question.key) if question.asked(answers) else None
        for loc, value, told, guessed in _lines_of(question, text, answers):
            before = out.get(loc)
            if before is None:
                out[loc] = Entry(loc, value, told, guessed, (question,))
            elif told:
                joined = {"value": before.value, **value} if isinstance(value, dict) else value
                out[loc] = Entry(loc, joined, True, guessed, (*before.questions, question))
    return list(out.values())


def _lines_of(
    question: Question, text: str | None, answers: Answers
) -> Iterator[tuple[tuple[str | int, ...], Plain, bool, bool]]:
    if text is None:
        instead = question.instead(answers)
        if instead is not None and question.otherwise is not None:
            guess: Plain = {"value": instead, "sd": question.otherwise.sd, "from": "estimated"}
            yield question.loc, guess, True, True
            return
        for key, example in _examples(question, answers).items():
            yield ((*question.loc, key) if key else question.loc), example, False, False
    elif question.puts:
        for key, value in question.puts[text].items():
            if key == "from":
                yield question.loc, {key: value}, True, False
            else:
                yield (*question.loc, key), value, True, False
    elif question.kind == "troubles":
        for part in text.split(", ") if text != _NOTHING else ():
            region, _, number = part.rpartition(" ")
            yield (*question.loc, region), number, True, False
    elif question.kind == "choices":
        # To have no sign or tool is an answer.
        yield question.loc, [] if text == _NOTHING else list(text.split(", ")), True, False
    elif question.kind == "pieces":
        if text != _NOTHING:
            yield question.loc, list(text.split(", ")), True, False
    else:
        yield question.loc, text, True, False


def _examples(question: Question, answers: Answers) -> Mapping[str, str]:
    if any(key == "from" for one in question.puts.values() for key in one):
        return {}
    return question.example or {"": next(iter(question.choices(answers)), "unknown")}


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
    for entry in entries(answers, every):
        if not entry.told:
            continue
        group_at(case, entry.loc[:-1])[entry.loc[-1]] = entry.value
    return case


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
    wrong: set[str] = set()
    while (question := _next_kept(every, answers, kept, wrong)) is not None:
        text = kept[question.key]
        if text is None and question.needed:
            wrong.add(question.key)
        elif text is None:
            answers[question.key] = None
        elif not isinstance(text, str):
            wrong.add(question.key)
            fault(("answers", question.key), None, "one text", note="is a group or a list")
        else:
            try:
                answers[question.key] = read_answer(question, text, answers, every, sure=True)
            except Unreadable as found:
                wrong.add(question.key)
                fault(("answers", question.key), text, found.allowed, found.hint, found.note)
    faults.raise_if_any()
    return answers


def _next_kept(
    every: Sequence[Question], answers: Answers, kept: Mapping[str, Plain], wrong: set[str]
) -> Question | None:
    """First question kept that the answers so far call for; an answer may call for a question before it."""
    return next(
        (
            one
            for one in every
            if one.key in kept and one.key not in answers and one.key not in wrong and one.asked(answers)
        ),
        None,
    )
