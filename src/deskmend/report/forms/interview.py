"""The case file that an interview ends in: what was answered, and behind # what was left out.

What the interview says: each question, how to measure it without a tape, and what leaving it out costs.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from deskmend.errors import visible
from deskmend.intake.case import CASE_FORMAT, Region, Seat
from deskmend.intake.catalog import Catalog
from deskmend.intake.interview import Answers, Question, plain_case
from deskmend.intake.reading.yaml_tree import Plain
from deskmend.language import LANGUAGES, current_language, tr
from deskmend.measures import format_number, parse_quantity
from deskmend.report.words import decimal_text, quantity_text, region_word, tool_word
from deskmend.workstation.body import Body, estimate_body
from deskmend.workstation.state import DEFAULT_SPELL, TOP_THICKNESS, seat_values

__all__ = ["PARTS", "Wording", "body_so_far", "interview_case", "opening", "part_title", "wording"]

PARTS = 12
"""Parts of the interview [-]."""

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
    """How one question is put.

    Attributes
    ----------
    ask : str
        The question.
    how : str
        How to find out.
    left_out : str
        What leaving it out costs; empty where it cannot be left out.
    choices : tuple of (str, str)
        Words to choose from, each with what it means; the meaning may be empty.
    """

    ask: str
    how: str
    left_out: str
    choices: tuple[tuple[str, str], ...]


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


def part_title(part: int) -> str:
    """Title of one part.

    Parameters
    ----------
    part : int
        From 1 to `PARTS` [-].
    """
    return (
        tr("your day"),
        tr("your work"),
        tr("your height"),
        tr("your elbow above the seat"),
        tr("your knee above the floor"),
        tr("your seat"),
        tr("your table"),
        tr("your feet"),
        tr("your screen"),
        tr("keys, mouse and glasses"),
        tr("how you are"),
        tr("what you have"),
    )[part - 1]


def wording(question: Question, answers: Answers, catalog: Catalog) -> Wording:
    """Put one question into words.

    Parameters
    ----------
    question : Question
        What is asked.
    answers : Answers
        What was answered before; estimates hang on it.
    catalog : Catalog
        For signs, things and tools.
    """
    ask, how = _asked()[question.key]
    left_out = "" if question.needed else _left_out(question.key, answers)
    meanings = _meanings(question.key, catalog)
    choices = tuple(
        (word, visible(meanings.get(word) or _beside(word), None)) for word in question.words(answers)
    )
    return Wording(ask, how, left_out, choices)


def _beside(word: str) -> str:
    """What a word means in the reader's language, where that is not the one the word is written in."""
    if current_language() == LANGUAGES[0]:
        return ""
    return tr(CHOICES[word]) if word in CHOICES else tool_word(word)


def _asked() -> dict[str, tuple[str, str]]:
    regions = ", ".join(
        region if current_language() == LANGUAGES[0] else f"{region} ({region_word(region)})"
        for region in get_args(Region)
    )
    return {
        "task.hours": (
            tr("How many hours a day do you work here?"),
            tr('On a usual day, as "5" or "4.5".'),
        ),
        "task.spell": (
            tr("How long do you go on at most without getting up?"),
            tr('In minutes, as "90"; look at the clock for one day.'),
        ),
        "task.main": (tr("What do you look at most of the time?"), ""),
        "task.reference": (tr("And what besides, now and then?"), ""),
        "paper.at": (tr("Where does the paper lie?"), ""),
        "task.writing": (tr("Do you write on it by hand?"), ""),
        "person.stature": (
            tr("How tall are you without shoes?"),
            tr(
                "Stand with your back to a wall, lay a book flat on your head against the wall, mark its "
                "underside and measure down to the floor. What your papers say will do."
            ),
        ),
        "person.sex": (
            tr("Which body tables shall fill in what is not measured?"),
            tr("They were made from measures of women and of men."),
        ),
        "body.sitting_elbow_height": (
            tr("How high is the underside of your elbow above the seat?"),
            tr(
                "Sit upright on a hard flat seat. Let the upper arm hang down and bend the elbow to a right "
                "angle. Measure from the seat straight up. Without a tape: stand a sheet of A4 on the seat "
                "beside you, mark the elbow on it, and fold it to tell how much of 297 mm that is."
            ),
        ),
        "body.popliteal_height": (
            tr("How high is the hollow of your knee above the floor?"),
            tr(
                "Shoes off, thighs level, lower legs straight down. Measure from the floor to where the "
                "thigh begins at the back of the knee. Without a tape: one sheet of A4 on end and bank cards "
                "above it."
            ),
        ),
        "seat.height": (
            tr("How high is the front edge of your seat above the floor?"),
            tr("Sit on it while somebody measures: a soft seat sinks in."),
        ),
        "seat.depth": (
            tr("How deep is the seat from its front edge to the back?"),
            tr("Measure where you sit, along the middle."),
        ),
        "seat.surface": (tr("What do you sit on?"), ""),
        "seat.back": (tr("What back does the seat have?"), ""),
        "desk.height": (
            tr("How high is the top of your table above the floor?"),
            tr("Where your hands work. Without a tape: two sheets of A4 on end, then bank cards."),
        ),
        "desk.underside": (
            tr("How high is its lowest part over your thighs?"),
            tr("Floor to the underside of the top, of a drawer or of a frame, whichever is lowest."),
        ),
        "place.feet_on": (
            tr("What do your feet rest on?"),
            tr("For a box or a pile, write its height instead."),
        ),
        "desk.foot_bar": (tr("How high is the bar above the floor?"), tr("To its upper side.")),
        "seat.foot_ring": (tr("How high is the ring or rung above the floor?"), tr("To its upper side.")),
        "laptop.screen_top": (
            tr("How high is the top edge of the picture above what the laptop stands on?"),
            tr("Leave the lid at the angle you work with, and measure straight up."),
        ),
        "laptop.screen_height": (
            tr("How high is the picture itself?"),
            tr("Along the screen, from the lower to the upper edge of what lights up."),
        ),
        "laptop.keys": (
            tr("How high are the laptop's middle keys above what it stands on?"),
            tr("Most lie 15 to 25 mm up. Ten bank cards on each other are about 8 mm."),
        ),
        "monitor.top": (
            tr("How high is the top edge of the picture above what the screen stands on?"),
            tr("Foot of the screen included."),
        ),
        "monitor.height": (
            tr("How high is the picture of the screen itself?"),
            tr("From the lower to the upper edge of what lights up."),
        ),
        "inputs": (tr("What do you type and point with?"), ""),
        "person.eyewear": (tr("What glasses do you wear at this work?"), ""),
        "person.discomfort": (
            tr("Which parts of the body trouble you, and how much?"),
            tr(
                '0 is not at all, 10 as badly as can be; write as "neck 6, lower_back 3", or none. Names: '
                "{names}.",
                names=regions,
            ),
        ),
        "person.warning_signs": (
            tr("Is any of these true of you?"),
            tr("Write none, or the numbers with commas between. This comes before any fix."),
        ),
        "owns.books": (
            tr("How thick are the hardback books that you can spare?"),
            tr('Each one in mm with its cover, as "38 42 25", or none. They carry screens and feet.'),
        ),
        "owns.things": (
            tr("Which of these can you use?"),
            tr("Write none, or the numbers with commas between."),
        ),
        "means.tools": (
            tr("Which tools are at hand?"),
            tr("Write none, or the numbers with commas between."),
        ),
        "means.skill": (tr("How used are you to making things?"), ""),
        "means.currency": (
            tr("Which money do you pay with?"),
            tr('Three letters of ISO 4217, as "EUR", "USD" or "KES".'),
        ),
        "means.budget": (
            tr("How much money is in hand for this now?"),
            tr('As "40.00"; 0 shows what can be done for nothing.'),
        ),
    }


def _meanings(key: str, catalog: Catalog) -> Mapping[str, str]:
    if key == "person.warning_signs":
        return {sign.id: tr(sign.sign) for sign in catalog.signs}
    if key == "owns.things":
        return {item.id: tr(item.title) for item in catalog.items.values()}
    return {
        "task.main": {"monitor": tr("a screen of its own"), "paper": tr("books, forms, drawings")},
        "task.reference": {"none": tr("nothing else"), "monitor": tr("a screen of its own")},
        "paper.at": {
            "front": tr("straight before you"),
            "behind": tr("straight before you, behind the keyboard"),
        },
        "seat.surface": {
            "hard": tr("wood, metal or plastic"),
            "thin_pad": tr("a pad that a finger presses flat"),
            "foam": tr("thick foam or springs"),
        },
        "seat.back": {"shaped": tr("bulges out at the hollow of the back")},
        "place.feet_on": {
            "foot_bar": tr("a bar of the table"),
            "foot_ring": tr("a ring or rung of the seat"),
            "nothing": tr("they hang"),
        },
        "inputs": {
            "both_built_in": tr("the laptop's own keys and touchpad"),
            "keyboard": tr("a separate keyboard, the laptop's touchpad"),
            "mouse": tr("the laptop's own keys, a separate mouse"),
            "both_separate": tr("a separate keyboard and mouse"),
        },
        "person.eyewear": {
            "single_vision": tr("one strength all over"),
            "multifocal": tr("progressive or bifocal"),
        },
        "means.skill": {
            "1": tr("what anyone can do"),
            "2": tr("some practice"),
            "3": tr("used to wood and tools"),
        },
    }.get(key, {})


def body_so_far(answers: Answers) -> Body | None:
    """Body as far as the answers tell; None before the height is known.

    Parameters
    ----------
    answers : Answers
        Checked answers.
    """
    stature = answers.get("person.stature")
    if stature is None:
        return None
    return estimate_body(parse_quantity(stature, "length"), answers.get("person.sex") or "unknown", {})


def _left_out(key: str, answers: Answers) -> str:
    body = body_so_far(answers)
    short = key.removeprefix("body.")
    if body is not None and short in body.dimensions:
        dimension = body.dimensions[short]
        told = {"length": quantity_text(dimension.value, "mm"), "sd": quantity_text(dimension.sd, "mm")}
        if short == "sitting_elbow_height":
            return tr(
                "Left out, {length} is taken from your height; only two people in three lie within {sd} of "
                "that, and height hardly tells it. No measure helps more: keys, table and seat hang on it.",
                **told,
            )
        return tr(
            "Left out, {length} is taken from your height; two people in three lie within {sd} of that.",
            **told,
        )
    if key == "person.sex" and body is not None:
        return tr(
            "Left out, tables for both are mixed; what is estimated may be up to {length} further off.",
            length=quantity_text(_shift_by_sex(body), "mm"),
        )
    return _assumed(key)


def _shift_by_sex(body: Body) -> float:
    """Largest distance between an estimate of the mixed tables and one of a sex's own [mm]."""
    asked = ("sitting_elbow_height", "popliteal_height", "sitting_eye_height", "buttock_popliteal_length")
    mixed = estimate_body(body.stature, "unknown", {})
    own = [estimate_body(body.stature, sex, {}) for sex in ("female", "male")]
    return max(abs(one[name] - mixed[name]) for one in own for name in asked)


def _assumed(key: str) -> str:
    seat, _ = seat_values(Seat(height=450.0))
    return {
        "task.spell": tr(
            "Left out, {minutes} minutes is taken: longer spells then go unseen.",
            minutes=decimal_text(DEFAULT_SPELL),
        ),
        "task.reference": tr("Left out, nothing else is looked at."),
        "paper.at": tr("Left out, it is taken to lie at the side: how far you turn is then a guess."),
        "task.writing": tr("Left out, no writing counts."),
        "seat.depth": tr(
            "Left out, {length} is taken: whether the seat is too deep is then a guess.",
            length=quantity_text(float(seat["seat.depth"]), "mm"),
        ),
        "seat.surface": tr("Left out, a hard seat is taken."),
        "seat.back": tr("Left out, it is unknown, and fixes that need a back are not offered."),
        "desk.underside": tr(
            "Left out, it is taken {length} below the top: a drawer or frame then goes unseen.",
            length=quantity_text(TOP_THICKNESS, "mm"),
        ),
        "place.feet_on": tr("Left out, they are taken to reach the floor."),
        "inputs": tr("Left out, the laptop's own keys and touchpad are taken."),
        "person.eyewear": tr(
            "Left out, the screen may come out too high for progressive or bifocal glasses."
        ),
        "person.discomfort": tr("Left out, every part of the body counts alike."),
        "owns.books": tr("Left out, no fix with books is offered."),
        "owns.things": tr("Left out, all of them have to be bought or done without."),
        "means.tools": tr("Left out, no fix that takes a tool is offered."),
        "means.skill": tr("Left out, nothing is left out for being hard to make."),
        "means.currency": tr("Left out, invented sample prices in EUR are taken, and money sets no limit."),
        "means.budget": tr("Left out, money sets no limit."),
    }.get(key, "")


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
