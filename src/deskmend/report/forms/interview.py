"""What the interview says, and the case file it ends in.

Each question stands in ``intake/questions.yaml`` with how to measure it without a tape and what leaving it
out costs; here it is put into the reader's language, with the figures that hang on the answers before. The
file holds what was answered, and behind # what was left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, get_args

from deskmend.errors import visible
from deskmend.intake.case import CASE_FORMAT, Region, Seat
from deskmend.intake.interview import Answers, Question, plain_case, question_file
from deskmend.intake.reading.given_measure import GivenMeasure, likely
from deskmend.intake.reading.yaml_tree import Plain
from deskmend.language import LANGUAGES, current_language, tr
from deskmend.measures import Mm, format_number, parse_quantity
from deskmend.report.words import decimal_text, quantity_text, region_word, tool_word
from deskmend.workstation.body import Body, estimate_body
from deskmend.workstation.state import DEFAULT_SPELL, TOP_THICKNESS, seat_values

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
    left_out: str
    """Empty where it cannot be left out."""
    choices: tuple[tuple[str, str], ...]
    """Words to choose from, each with what it means; the meaning may be empty."""


def opening() -> tuple[str, ...]:
    """What is said before the first question."""
    return (
        tr(
            "Twelve short parts about you and your workplace. It takes about fifteen minutes, best with "
            "somebody who helps to measure."
        ),
        tr(
            "No tape at hand? A sheet of A4 is 297 mm long, a sheet of US letter 279.4 mm, a bank card "
            '85.6 mm. Lay them end to end and write "2 A4 + 1 card"; a sheet folded in half is 0.5 A4.'
        ),
        tr('Lengths are in mm; "46.5 cm", "18 in" and "5 ft 2 in" are understood too.'),
        tr(
            "Enter alone leaves a question out. Write back for the question before. Ctrl-C stops: the "
            "answers are kept, and the same command goes on from there."
        ),
    )


def part_heading(part: int) -> str:
    """Heading of one part, counted from 1."""
    titles = question_file().parts
    return tr("Part {number} of {all}: {title}", number=part, all=len(titles), title=tr(titles[part - 1]))


def wording(question: Question, answers: Answers) -> Wording:
    """Put one question into words; estimates hang on what was answered before."""
    figures = _figures(question, answers)
    left_out = "" if question.needed or figures is None else tr(question.left_out, **figures)
    choices = tuple(
        (word, visible(tr(question.words[word]) or _beside(word), None)) for word in question.choices(answers)
    )
    return Wording(tr(question.ask), _how(question), left_out, choices)


def _how(question: Question) -> str:
    if question.kind != "troubles":
        return tr(question.how)
    regions = get_args(Region)
    if current_language() != LANGUAGES[0]:
        regions = tuple(f"{region} ({region_word(region)})" for region in regions)
    return tr(question.how, names=", ".join(regions))


def _beside(word: str) -> str:
    """What a word means in the reader's language, where that is not the one the word is written in."""
    if current_language() == LANGUAGES[0]:
        return ""
    return tr(CHOICES[word]) if word in CHOICES else tool_word(word)


def body_so_far(answers: Answers) -> Body | None:
    """Body as far as the answers tell; None before the height is known."""
    told = answers.get("person.stature")
    if told is None:
        return None
    stature = parse_quantity(told, "length")
    if answers.get("person.stature_from") == "told":
        stature = likely(GivenMeasure(stature, origin="told"), "person.stature")
    age = answers.get("person.age")
    sex = answers.get("person.sex") or "unknown"
    return estimate_body(stature, sex, {}, None if age is None else int(age))


def _figures(question: Question, answers: Answers) -> dict[str, str] | None:
    """Figures in what leaving a question out costs; None where they cannot be told yet."""
    body = body_so_far(answers)
    if question.loc[:2] == ("person", "body"):
        if body is None:
            return None
        dimension = body.dimensions[str(question.loc[-1])]
        return {"length": quantity_text(dimension.value, "mm"), "sd": quantity_text(dimension.sd, "mm")}
    if question.key == "person.sex":
        return None if body is None else {"length": quantity_text(_shift_by_sex(body), "mm")}
    if question.key == "task.spell":
        return {"minutes": decimal_text(DEFAULT_SPELL)}
    if question.key == "seat.depth":
        seat = seat_values(Seat(height=450.0))
        return {"length": quantity_text(float(seat["seat.depth"]), "mm")}
    return {"length": quantity_text(TOP_THICKNESS, "mm")} if question.key == "desk.underside" else {}


def _shift_by_sex(body: Body) -> Mm:
    """Largest distance between an estimate of the mixed tables and one of a sex's own."""
    asked = ("sitting_elbow_height", "popliteal_height", "sitting_eye_height", "buttock_popliteal_length")
    mixed = estimate_body(body.stature, "unknown", {})
    own = [estimate_body(body.stature, sex, {}) for sex in ("female", "male")]
    return max(abs(one[name] - mixed[name]) for one in own for name in asked)


_PLAIN = re.compile(r"[A-Za-z0-9_.](?:[A-Za-z0-9_. ]*[A-Za-z0-9_.])?")


@dataclass(frozen=True)
class _Leaf:
    text: str
    remark: str
    told: bool


def interview_case(answers: Answers, every: Sequence[Question]) -> str:
    """Write the case that the answers to every question they call for make.

    It is YAML that `deskmend.intake.case_file.load_case` takes; taking a # away keeps it so.
    """
    plain: dict[str, Any] = plain_case(answers, every)
    tree: dict[str, Any] = {
        "person": {},
        "places": [{"id": _Leaf("home", tr("a name of your own"), True), "seat": {}, "desk": {}}],
        "devices": {},
        "tasks": [
            {"id": _Leaf("work", tr("a name of your own"), True), "place": _Leaf("home", "", True)},
        ],
    }
    for question in every:
        if not question.asked(answers) and question.kind != "money":
            continue
        node: Any = tree
        for part in question.loc[:-1]:
            node = node[part] if isinstance(part, int) else node.setdefault(part, {})
        told = answers.get(question.key) is not None
        ask = tr(question.ask)
        if told:
            _add_told(node, question, _at(plain, question.loc), ask)
        else:
            _add_left_out(node, question, answers, ask)
    lines = [
        tr("# A case for deskmend, written from answers to its questions."),
        tr("# A line with # in front was left out: to use it, put your own value there and take the # away,"),
        tr("# also from the name of the group above it."),
        tr("# Lengths are mm, or as 46.5 cm, 18 in. More that can be told: deskmend new OTHER_FILE --blank"),
        f"format: {CASE_FORMAT}",
        f"title: {_scalar(tr('My workplace'))}",
    ]
    for group, content in tree.items():
        if content:
            lines += ["", *_lines(group, content, 0)]
    return "\n".join(lines) + "\n"


def _at(plain: Any, loc: Sequence[str | int]) -> Plain:
    for part in loc:
        plain = plain[part] if isinstance(part, int) else plain.get(part)
        if plain is None:
            return None
    value: Plain = plain
    return value


def _add_told(node: dict[str, Any], question: Question, value: Plain, ask: str) -> None:
    name = str(question.loc[-1])
    if isinstance(before := node.get(name), _Leaf):
        node[name] = replace(before, remark=f"{before.remark} {ask}")
        return
    if isinstance(value, dict) and question.kind == "measure":
        inside = ", ".join(f"{key}: {_scalar(str(one))}" for key, one in value.items())
        node[name] = _Leaf(f"{{{inside}}}", ask, True)
    elif question.puts or question.kind in ("troubles", "things"):
        group = node.setdefault(name, {})
        given = value if isinstance(value, dict) else {}
        told = [key for key, one in given.items() if isinstance(one, str) and key not in group]
        for number, key in enumerate(told):
            group[key] = _Leaf(_scalar(given[key]), ask if number == 0 else "", True)
    elif isinstance(value, list):
        inside = ", ".join(_scalar(str(one)) for one in value)
        node[name] = _Leaf(f"[{inside}]", ask, True)
    elif isinstance(value, str):
        node[name] = _Leaf(_scalar(value), ask, True)


def _add_left_out(node: dict[str, Any], question: Question, answers: Answers, ask: str) -> None:
    remark = tr("left out. {question}", question=ask)
    examples = question.example or {"": next(iter(question.choices(answers)), "")}
    body = body_so_far(answers)
    short = str(question.loc[-1])
    if question.loc[:2] == ("person", "body") and body is not None:
        dimension = body.dimensions[short]
        examples = {"": format_number(dimension.value, 0)}
        remark = tr(
            "left out: an estimate, give or take {sd} mm. {question}",
            sd=format_number(dimension.sd, 0),
            question=ask,
        )
    if isinstance(before := node.get(short), _Leaf):
        node[short] = replace(before, remark=f"{before.remark} {ask}")
        return
    for key, text in examples.items():
        if key:
            node.setdefault(short, {}).setdefault(key, _Leaf(text, remark, False))
            remark = ""
        else:
            node[short] = _Leaf(text, remark, False)


def _scalar(text: str) -> str:
    return text if _PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)


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
