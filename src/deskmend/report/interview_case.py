"""The case file that an interview ends in: what was answered, and behind # what was left out."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, get_args

from deskmend.intake.case import CASE_FORMAT
from deskmend.intake.catalog import Catalog
from deskmend.intake.interview import Question, plain_case
from deskmend.intake.interview_answers import Answers
from deskmend.intake.person import Region
from deskmend.intake.tree import Plain
from deskmend.messages import tr
from deskmend.report.interview_words import body_so_far, wording
from deskmend.units import format_number

__all__ = ["interview_case"]

_PLAIN = re.compile(r"[A-Za-z0-9_.](?:[A-Za-z0-9_. ]*[A-Za-z0-9_.])?")
_EXAMPLES: dict[str, dict[str, str]] = {
    "task.spell": {"": "60"},
    "seat.depth": {"": "420"},
    "desk.underside": {"": "690"},
    "inputs": {"keyboard": "separate", "mouse": "separate"},
    "person.discomfort": {region: "0" for region in get_args(Region)},
    "owns.books": {"": "[38, 42, 25]"},
    "owns.things": {"bath_towel": "1"},
    "means.tools": {"": "[scissors]"},
    "means.currency": {"": "EUR"},
    "means.budget": {"": "40.00"},
    "body.sitting_elbow_height": {"": "230"},
    "body.popliteal_height": {"": "400"},
}
"""What stands behind the # of a question left out; by key within the group where the answer is a group."""


@dataclass(frozen=True)
class _Leaf:
    text: str
    remark: str
    told: bool


def interview_case(answers: Answers, every: Sequence[Question], catalog: Catalog) -> str:
    """Write the case that the answers make.

    Parameters
    ----------
    answers : Answers
        Checked answers to every question that they call for.
    every : sequence of Question
        From `deskmend.intake.interview.questions`.
    catalog : Catalog
        For the words of the remarks.

    Returns
    -------
    str
        YAML that `deskmend.intake.case_file.load_case` takes; taking a # away keeps it so.
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
        if not question.asked(answers) and question.key != "means.budget":
            continue
        node: Any = tree
        for part in question.loc[:-1]:
            node = node[part] if isinstance(part, int) else node.setdefault(part, {})
        told = answers.get(question.key) is not None
        ask = wording(question, answers, catalog).ask
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
    if question.key in ("inputs", "person.discomfort", "owns.things"):
        group = node.setdefault(name, {})
        given = value if isinstance(value, dict) else {}
        wanted = [key for key in given if question.key != "owns.things" or isinstance(given[key], str)]
        for number, key in enumerate(key for key in wanted if key not in group):
            if not isinstance(given[key], dict):
                group[key] = _Leaf(_scalar(str(given[key])), ask if number == 0 else "", True)
    elif isinstance(value, list):
        inside = ", ".join(_scalar(str(one)) for one in value)
        node[name] = _Leaf(f"[{inside}]", ask, True)
    elif isinstance(value, str):
        node[name] = _Leaf(_scalar(value), ask, True)


def _add_left_out(node: dict[str, Any], question: Question, answers: Answers, ask: str) -> None:
    remark = tr("left out. {question}", question=ask)
    examples = _EXAMPLES.get(question.key) or {"": next(iter(question.words(answers)), "")}
    body = body_so_far(answers)
    short = str(question.loc[-1])
    if question.key.startswith("body.") and body is not None:
        dimension = body.dimensions[short]
        examples = {"": format_number(dimension.value, 0)}
        remark = tr(
            "left out: an estimate, give or take {sd} mm. {question}",
            sd=format_number(dimension.sd, 0),
            question=ask,
        )
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
