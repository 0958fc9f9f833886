"""What the interview says, and the case file it ends in.

Each question stands in ``intake/questions.yaml`` with how to measure it without a tape and what leaving it
out costs; here it is put into the reader's language. The file holds what was answered, and behind # what was
left out; the form writes the same bytes, ``report/templates/answers.js``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from deskmend.errors import visible
from deskmend.intake.case import CASE_FORMAT, Seat
from deskmend.intake.interview import Answers, Entry, Question, entries, screens
from deskmend.intake.reading.records import group_at
from deskmend.intake.reading.yaml_tree import Plain
from deskmend.intake.typed_answers import how_written, range_text
from deskmend.language import LANGUAGES, current_language, measuring, shown_length, tr
from deskmend.measures import Mm
from deskmend.report.words import decimal_text, quantity_text, region_word, tool_word
from deskmend.workstation.body import estimate_body
from deskmend.workstation.state import DEFAULT_SPELL, TOP_THICKNESS, seat_values

WHO_YOU_ARE = (
    '"You" is whoever works at this place. Do you answer for somebody else? Measure and ask that person; '
    "do not guess, the warning signs least of all."
)
"""Said before the first question, since who helps answers too."""
CHOICES = {
    "laptop": "laptop",
    "left": "left",
    "right": "right",
    "yes": "yes",
    "no": "no",
    "female": "female",
    "male": "male",
    "none": "none",
    "flat": "flat",
    "floor": "floor",
}
"""Words to choose from that explain themselves to who reads English."""


@dataclass(frozen=True)
class Wording:
    """How one question is put: itself, how to find out, and what leaving it out costs."""

    ask: str
    how: str
    short: str
    """Label of a number."""
    left_out: str
    """Empty where it cannot be left out."""
    choices: tuple[tuple[str, str], ...]
    """Words to choose from, each with what it means; the meaning may be empty."""


def opening() -> tuple[str, ...]:
    """What is said before the first question."""
    return (
        tr(
            "Eight questions at most give a first plan, one of them a short list of things at home. It takes "
            "about five minutes, with a tape or a sheet of A4. After that each further answer makes the plan "
            "surer, and you may stop at any time."
        ),
        tr(WHO_YOU_ARE),
        tr(
            "No tape at hand? A sheet of A4 is 297 mm long, a sheet of US letter 279.4 mm, a bank card "
            '85.6 mm. Lay them end to end and write "2 A4 + 1 card"; a sheet folded in half is 0.5 A4.'
        ),
        tr(
            "Write lengths as you like: 465, 46.5 cm, 1.63 m, 18 in, 5'4. Enter alone leaves a question out. "
            "Also understood: ? for more on the question, back for the one before, done to stop asking."
        ),
        tr("Ctrl-C stops: the answers are kept, and the same command goes on from there."),
    )


def where_text(question: Question, answers: Answers, every: Sequence[Question]) -> str:
    """Where one is: the number of a question in its round, with a letter where several are one."""
    rounds = screens(every, answers, question.first)
    if not question.first:
        rounds = [one for one in rounds if question in one or any(each.asked(answers) for each in one)]
    number = next(n for n, screen in enumerate(rounds, start=1) if question in screen)
    asked = [one for one in rounds[number - 1] if one.asked(answers) or one is question]
    letter = chr(ord("a") + asked.index(question)) if len(asked) > 1 else ""
    if question.first:
        return tr("Question {number} of {all}", number=f"{number}{letter}", all=len(rounds))
    return tr("More: {number} of {all}", number=f"{number}{letter}", all=len(rounds))


def wording(question: Question, answers: Answers) -> Wording:
    """Put one question into words; which words there are to choose from hangs on what was answered before."""
    left_out = "" if question.needed else tr(question.left_out, **_figures(question, answers))
    choices = tuple(
        (word, visible(tr(question.words[word]) or _beside(question, word), None))
        for word in question.choices(answers)
    )
    return Wording(tr(question.ask), tr(question.how), tr(question.short), left_out, choices)


SIGN_GROUPS = {
    "emergency": "Any of these needs emergency care now:",
    "today": "Any of these needs medical advice today:",
    "soon": "With any of these, see a doctor or a nurse before you buy or make anything; you can go on with "
    "the questions:",
}
"""What stands over the signs of each urgency."""


def choice_groups(question: Question, answers: Answers) -> list[tuple[str, list[tuple[str, str]]]]:
    """Words to choose from, as `wording` has them, under what is said of several; one without a heading."""
    choices = wording(question, answers).choices
    if not question.urgent:
        return [("", list(choices))]
    return [
        (tr(said), group)
        for urgency, said in SIGN_GROUPS.items()
        if (group := [one for one in choices if question.urgent[one[0]] == urgency])
    ]


def how_answered(question: Question) -> str:
    """How an answer may be written, where the list of words does not say it."""
    if tuple(question.words) == ("yes", "no"):
        return tr("Answer yes or no.")
    if question.kind == "choices":
        return tr("Write none, or the numbers with commas between.")
    if question.kind == "troubles":
        names = (f"{word} ({region_word(word)})" for word in question.words)
        shown = question.words if current_language() == LANGUAGES[0] else names
        return tr('Write "neck 6, lower_back 3", or none. Names: {names}.', names=", ".join(shown))
    if question.kind == "currency":
        return tr('Three letters, as "EUR".')
    return ""


def limits_text(question: Question) -> str:
    """Which numbers can be taken, and how they may be written."""
    if question.kind not in ("measure", "pieces"):
        return how_answered(question)
    kind, usual = question.limits.kind, question.usually or question.limits
    return tr(
        "Usual is {usual}; {range} can be taken, {written}.",
        usual=range_text(usual),
        range=range_text(question.limits),
        written=how_written(kind),
    )


def _beside(question: Question, word: str) -> str:
    """What a word means in the reader's language, where that is not the one the word is written in."""
    if question.kind == "troubles":
        return region_word(word)
    if current_language() == LANGUAGES[0]:
        return ""
    return tr(CHOICES[word]) if word in CHOICES else tool_word(word)


def taken_text(question: Question, kept: str) -> str:
    """How an answer was taken, for people to see; lengths in both units."""
    if question.kind == "pieces" and kept != "none":
        pieces = kept.split(", ")
        lengths = ", ".join(_both(float(one)) for one in pieces)
        return tr("Taken as: {count} of them, {lengths}.", count=len(pieces), lengths=lengths)
    if question.kind == "measure" and kept not in question.words:
        kind = question.limits.kind
        if kind == "length":
            return tr("Taken as {length}.", length=_both(float(kept)))
        number = decimal_text(float(kept), 2 if kind == "hours" else 0)
        if kind == "hours":
            return tr("Taken as {number} h.", number=number)
        if kind == "minutes":
            return tr("Taken as {number} min.", number=number)
        return tr("Taken as {number}.", number=number)
    if question.kind == "troubles" and kept != "none":
        parts = [part.rpartition(" ") for part in kept.split(", ")]
        return tr("Taken as: {text}.", text=", ".join(f"{region_word(name)} {one}" for name, _, one in parts))
    said = []
    for word in kept.split(", "):
        meaning = question.words.get(word, "")
        said.append(visible(tr(meaning) or _beside(question, word) or word.replace("_", " "), None))
    return tr("Taken as: {text}.", text="; ".join(said))


def _both(mm: Mm) -> str:
    with measuring("mm"):
        metric = shown_length(mm)
    with measuring("in"):
        return f"{metric} ({shown_length(mm)})"


def _figures(question: Question, answers: Answers) -> dict[str, str]:
    """Figures in what leaving a question out costs."""
    instead = question.instead(answers)
    if instead is not None and question.otherwise is not None:
        sd = float(question.otherwise.sd)
        return {"length": quantity_text(float(instead), "mm"), "sd": quantity_text(sd, "mm")}
    if question.loc[:2] == ("person", "body"):
        body = estimate_body(MEAN_STATURE, "unknown", {})
        return {"sd": quantity_text(body.dimensions[str(question.loc[-1])].sd, "mm")}
    if question.key == "person.sex":
        return {"length": quantity_text(_shift_by_sex(), "mm")}
    if question.key == "task.spell":
        return {"minutes": decimal_text(DEFAULT_SPELL)}
    if question.key == "seat.depth":
        seat = seat_values(Seat(height=450.0))
        return {"length": quantity_text(float(seat["seat.depth"]), "mm")}
    return {"length": quantity_text(TOP_THICKNESS, "mm")} if question.key == "desk.underside" else {}


MEAN_STATURE = 1650.0
"""Stature of which spreads are told; those of adults do not hang on it [mm]."""
STATURES = (1500.0, 1900.0)
"""Ends between which estimates by sex are held apart; both are straight lines [mm] (judgement)."""


def _shift_by_sex() -> Mm:
    """Largest distance between an estimate of the mixed tables and one of a sex's own."""
    asked = ("sitting_elbow_height", "popliteal_height", "sitting_eye_height", "buttock_popliteal_length")
    return max(
        abs(estimate_body(stature, sex, {})[name] - estimate_body(stature, "unknown", {})[name])
        for stature in STATURES
        for sex in ("female", "male")
        for name in asked
    )


_PLAIN = re.compile(r"[A-Za-z0-9_.](?:[A-Za-z0-9_. ]*[A-Za-z0-9_.])?")


@dataclass(frozen=True)
class CaseWords:
    """Texts of a case file that come from no question."""

    head: tuple[str, ...]
    own_name: str
    left_out: str
    """Begins the remark behind what was left out."""
    guessed: str
    """Begins the remark behind what the case demands and nobody told."""


def case_words() -> CaseWords:
    """Texts of a case file in the reader's language."""
    return CaseWords(
        (
            tr("# A case for deskmend, written from answers to its questions."),
            tr(
                "# A line with # in front was left out: to use it, put your own value there and take the # "
                "away,"
            ),
            tr("# also from the name of the group above it."),
            tr("# Lengths are mm, or as 46.5 cm, 18 in. More that can be told: deskmend new OTHER --blank"),
            f"format: {CASE_FORMAT}",
            f"title: {_scalar(tr('My workplace'))}",
        ),
        tr("a name of your own"),
        tr("left out."),
        tr("left out: as many have it, not measured."),
    )


@dataclass(frozen=True)
class _Leaf:
    text: str
    remark: str
    told: bool


def interview_case(answers: Answers, every: Sequence[Question]) -> str:
    """Write the case that the answers to every question they call for make.

    It is YAML that `deskmend.intake.case_file.load_case` takes; taking a # away keeps it so.
    """
    words = case_words()
    tree: dict[str, Any] = {
        "person": {},
        "places": [{"id": _Leaf("home", words.own_name, True), "seat": {}, "desk": {}}],
        "devices": {},
        "tasks": [{"id": _Leaf("work", words.own_name, True), "place": _Leaf("home", "", True)}],
    }
    said: set[str] = set()
    for entry in entries(answers, every):
        group = group_at(tree, entry.loc[:-1])
        group[str(entry.loc[-1])] = _Leaf(_flow(entry.value), _remark(entry, words, said), entry.told)
    lines = list(words.head)
    for group, content in tree.items():
        if content:
            lines += ["", *_lines(group, content, 0)]
    return "\n".join(lines) + "\n"


def _remark(entry: Entry, words: CaseWords, said: set[str]) -> str:
    """Questions that a line answers; each is said once."""
    asks = [tr(one.ask) for one in entry.questions if one.key not in said]
    said |= {one.key for one in entry.questions}
    if not asks:
        return ""
    before = "" if entry.told and not entry.guessed else words.guessed if entry.told else words.left_out
    return " ".join([before, *asks] if before else asks)


def _flow(value: Plain) -> str:
    """Value on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_scalar(str(one))}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_scalar(str(one)) for one in value) + "]"
    return _scalar(value or "")


def _scalar(text: str) -> str:
    return text if _PLAIN.fullmatch(text) or text.startswith("[") else json.dumps(text, ensure_ascii=False)


def _told(content: Any) -> bool:
    if isinstance(content, _Leaf):
        return content.told
    inside = content.values() if isinstance(content, dict) else content
    return any(_told(one) for one in inside)


def _lines(name: str, content: Any, indent: int) -> list[str]:
    mark = "" if _told(content) else "#"
    start = f"{mark}{' ' * indent}{name}:"
    if isinstance(content, _Leaf):
        line = f"{start} {content.text}"
        return [f"{line:<36}  # {content.remark}" if content.remark else line]
    out = [start]
    if isinstance(content, list):
        for entry in content:
            inside = [line for key, one in entry.items() if one for line in _lines(key, one, indent + 4)]
            out += [inside[0].replace(" " * (indent + 4), f"{' ' * (indent + 2)}- ", 1), *inside[1:]]
        return out
    for key, one in content.items():
        out += _lines(key, one, indent + 2)
    return out
