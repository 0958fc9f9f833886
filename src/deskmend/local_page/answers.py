"""Answers and pictures put into a case: shown as they are asked for, changed where they stand, read back.

The questions are those of the form; a case with several places or tasks is asked each of its own.

The picture is held in memory alone. What the page is shown is made anew, upright and without anything that
the file said besides.
"""

from __future__ import annotations

import base64
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Literal

from deskmend.errors import DefectError, FaultList, InputFaults, Unreadable
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import Catalog, text_digest
from deskmend.intake.interview import Question, questions
from deskmend.intake.reading.text_file import decoded
from deskmend.intake.reading.yaml_tree import (
    Loc,
    MappingNode,
    ScalarNode,
    SequenceNode,
    YamlNode,
    parse_tree,
    text_with,
    to_plain,
    with_value,
    without_value,
)
from deskmend.intake.typed_answers import value_text
from deskmend.language import tr
from deskmend.local_page.rendering import rendered
from deskmend.picture.camera import KEPT_SIDE, Picture, picture_of
from deskmend.picture.marks import read_marks
from deskmend.picture.measured import LENGTHS, landmarks, sheets
from deskmend.picture.measuring import LINES, Merged, PictureMeasures, Shot, measured_with, merged_with
from deskmend.picture.scene import CORNERS
from deskmend.planning.observed import ObservedPosture, observed_posture
from deskmend.report.forms.interview import wording
from deskmend.report.html.blocks import Blocks
from deskmend.report.measuring import (
    CORNER_NAMES,
    MEASURE_NAMES,
    POINT_NAMES,
    SHEET_NAMES,
    doubt_words,
    measured_rows,
    measured_warnings,
    merged_lines,
    posture_page,
    to_tape_lines,
)

__all__ = [
    "AnswerRow",
    "KeptPictures",
    "answer_rows",
    "answer_words",
    "case_with_answer",
    "faults_in_short",
    "marking",
    "with_wishes",
]


def with_wishes(data: bytes, file: str, must: Sequence[str], never: Sequence[str]) -> str:
    """A case with these wishes; `InputFaults` where it is no case, before or then."""
    case_of_bytes(data, file)
    faults = FaultList(file)
    text = decoded(data, faults)
    tree = None if text is None else parse_tree(text, file, faults)
    faults.raise_if_any()
    if text is None or tree is None:
        raise DefectError("a case that was read cannot be read")
    entries = tuple(
        (ScalarNode(key, 0), SequenceNode(tuple(ScalarNode(name, 0) for name in names), 0))
        for key, names in (("must", must), ("never", never))
    )
    changed = text_with(text, with_value(tree.root, ("wishes",), MappingNode(entries, 0)))
    case_of_bytes(changed.encode("utf-8"), file)
    return changed


MAY_BE_BEGUN = (("person", "body"), ("owns",), ("means",), ("room",))
"""Groups of a case that an answer may begin; others say what there is, as a second screen."""


AnswerFieldKind = Literal["typed", "one", "yes_no", "several", "numbers"]


@dataclass(frozen=True)
class AnswerRow:
    """One question with its answer.

    - `where`: its path in the case; `key`: the question's.
    - `group`: whom or what it is about, as a heading.
    - `value`: the answer as it is told; empty where there is none.
    - `text`: the answer as it would be typed.
    - `words`: words to choose from, each with what it means.
    - `kind`: how it is answered: typed, one word chosen, yes or no, several words, or numbers by word.
    - `needed`: it cannot be left out.
    """

    where: str
    key: str
    group: str
    ask: str
    how: str
    value: str
    text: str
    words: tuple[tuple[str, str], ...]
    kind: AnswerFieldKind
    needed: bool

    @property
    def chosen(self) -> dict[str, str]:
        """Words of the answer, each with its number where it has one."""
        parts = (part.partition(" ") for part in self.text.split(", ") if part)
        return {word: number for word, _, number in parts}


def answer_rows(data: bytes, file: str, catalog: Catalog) -> list[AnswerRow]:
    """Every question that has its own place in a case, with the answer there."""
    _, root = _tree(data, file)
    plain = to_plain(root)
    out = []
    for question, loc in _asked(plain, catalog):
        words = wording(question, {})
        text = _kept(plain, question, loc)
        out.append(
            AnswerRow(
                where=_path(loc),
                key=question.key,
                group=_group(plain, loc),
                ask=words.ask,
                how=words.how,
                value=_told(question, text, dict(words.choices), loc, plain),
                text=text,
                words=words.choices if question.kind != "pieces" else (),
                kind=_kind(question),
                needed=question.needed,
            )
        )
    return out


def answer_words(catalog: Catalog, key: str, kept: str) -> str:
    """An answer as it is kept, in words."""
    return next((_told(one, kept, {}, one.loc, {}) for one in questions(catalog) if one.key == key), kept)


def case_with_answer(
    data: bytes, file: str, catalog: Catalog, where: str, key: str, text: str, sure: bool
) -> str:
    """A case with one answer changed, read back as a case; an empty text takes the answer out.

    Raises `Unreadable` where the text is no answer, or is asked back and not `sure`; `InputFaults` where the
    case cannot be with it.
    """
    whole, root = _tree(data, file)
    plain = to_plain(root)
    found = next(
        (
            (question, loc)
            for question, loc in _asked(plain, catalog)
            if (_path(loc), question.key) == (where, key)
        ),
        None,
    )
    if found is None:
        raise Unreadable(tr("a question of this case"))
    question, loc = found
    if text.strip():
        kept = question.read(text, _beside(plain, catalog), sure)
        changed = _with_kept(root, plain, question, loc, kept)
    elif question.needed:
        raise Unreadable(tr("an answer: it cannot be left out"))
    elif question.puts:
        changed = root
        for key in _keys_put(question):
            changed = without_value(changed, (*loc, key))
    elif question.kind in ("measure", "money", "choice"):
        changed = with_value(root, loc, ScalarNode("unknown", 0))
    else:
        changed = without_value(root, loc)
    new = text_with(whole, changed)
    case_of_bytes(new.encode("utf-8"), file)
    return new


def _path(loc: Loc) -> str:
    return ".".join(map(str, loc))


def _tree(data: bytes, file: str) -> tuple[str, YamlNode]:
    case_of_bytes(data, file)
    faults = FaultList(file)
    text = decoded(data, faults)
    tree = None if text is None else parse_tree(text, file, faults)
    if text is None or tree is None:
        raise DefectError("a case that was read cannot be read")
    return text, tree.root


def _asked(plain: Any, catalog: Catalog) -> Iterator[tuple[Question, Loc]]:
    """Questions with a place of their own, for each place and task of the case."""
    for question in questions(catalog):
        if any("from" in put for put in question.puts.values()):
            # how surely a measure is known stands with the measure
            continue
        if question.loc[0] == "wishes":
            # a case may refuse more than is asked; wishes are changed beside the plan
            continue
        if question.from_catalog is not None and not question.asked({}) and not question.asked_if:
            continue
        first, *rest = question.loc
        many = first in ("places", "tasks") and rest and rest[0] == 0
        group = _at(plain, (first,))
        for number in range(len(group) if many and isinstance(group, list) else 1):
            loc: Loc = (first, number, *rest[1:]) if many else question.loc
            above = loc if question.puts else loc[:-1]
            if isinstance(_at(plain, above), dict) or above in MAY_BE_BEGUN:
                yield question, loc


def _beside(plain: Any, catalog: Catalog) -> dict[str, str | None]:
    """Answers beside one: those that its reading may ask for."""
    out: dict[str, str | None] = {}
    for question in questions(catalog):
        text = _text(_at(plain, question.loc))
        if text:
            out[question.key] = text
    return out


def _at(plain: Any, loc: Sequence[str | int]) -> Any:
    for part in loc:
        if isinstance(plain, list) and isinstance(part, int):
            plain = plain[part] if part < len(plain) else None
        elif isinstance(plain, Mapping):
            plain = plain.get(part)
        else:
            return None
    return plain


def _text(value: Any) -> str:
    """An answer as it would be typed; empty where there is none."""
    if isinstance(value, Mapping):
        value = value.get("value")
    if isinstance(value, list):
        return ", ".join(one for one in map(_text, value) if one)
    return value if isinstance(value, str) and value != "unknown" else ""


def _kind(question: Question) -> AnswerFieldKind:
    if tuple(question.words) == ("yes", "no"):
        return "yes_no"
    kinds: dict[str, AnswerFieldKind] = {"choice": "one", "choices": "several", "troubles": "numbers"}
    return kinds.get(question.kind, "typed")


def _kept(plain: Any, question: Question, loc: Loc) -> str:
    """The answer that a case holds, as the interview keeps it; empty where it holds none."""
    there = _at(plain, loc)
    if question.puts:
        return next(
            (word for word, put in question.puts.items() if all(_is_put(there, *one) for one in put.items())),
            "",
        )
    if question.kind == "pieces":
        return _text(there) if isinstance(there, list) else ""
    if question.kind == "choices":
        return (_text(there) or "none") if isinstance(there, list) else ""
    if question.kind == "troubles":
        told = there if isinstance(there, Mapping) else {}
        return ", ".join(f"{word} {number}" for word in question.words if (number := _text(told.get(word))))
    return _text(there)


def _is_put(there: Any, key: str, value: str) -> bool:
    """Whether a case says at a key what a word puts there; of things, one or more is as good as one."""
    found = _at(there, (key,))
    if value == "1":
        return isinstance(found, list) or (_text(found).isdecimal() and int(_text(found)) > 0)
    return _text(found) == value


def _keys_put(question: Question) -> list[str]:
    return list(dict.fromkeys(key for put in question.puts.values() for key in put))


def _with_kept(root: YamlNode, plain: Any, question: Question, loc: Loc, kept: str) -> YamlNode:
    """A case with an answer where it goes."""
    if question.puts:
        for key, value in question.puts[kept].items():
            if not _is_put(_at(plain, loc), key, value):
                root = with_value(root, (*loc, key), ScalarNode(value, 0))
        return root
    if question.kind == "troubles":
        parts = [part.rpartition(" ") for part in kept.split(", ")] if kept != "none" else []
        numbers = tuple((ScalarNode(word, 0), ScalarNode(number, 0)) for word, _, number in parts)
        return with_value(root, loc, MappingNode(numbers, 0))
    return with_value(root, loc, _node(question, kept))


def _told(question: Question, text: str, meanings: Mapping[str, str], loc: Loc, plain: Any) -> str:
    """An answer with its unit, or in words."""
    if question.puts and text == "yes" and loc[0] == "owns":
        (key,) = _keys_put(question)
        there = _at(plain, (*loc, key))
        count = len(there) if isinstance(there, list) else int(_text(there))
        return tr("yes, {count}", count=count) if count > 1 else meanings.get(text) or tr("yes")
    if not text or question.kind == "money":
        return text
    if question.kind in ("choices", "troubles"):
        return _several_told(text, meanings)
    if meanings.get(text):
        return meanings[text]
    parts = text.split(", ")
    numbers = [part for part in parts if part.replace(".", "", 1).isdecimal()]
    if question.kind == "choice" or len(numbers) < len(parts):
        return text
    return ", ".join(value_text(part, question.limits.kind) for part in parts)


def _several_told(text: str, meanings: Mapping[str, str]) -> str:
    if text == "none":
        return tr("none of these")
    parts = (part.partition(" ") for part in text.split(", "))
    return "; ".join(f"{meanings.get(word) or word} {number}".rstrip() for word, _, number in parts)


def _node(question: Question, kept: str) -> YamlNode:
    if question.kind in ("pieces", "choices") and kept != "none":
        return SequenceNode(tuple(ScalarNode(part, 0) for part in kept.split(", ")), 0)
    if question.kind == "choices":
        return SequenceNode((), 0)
    return ScalarNode("0" if question.kind == "pieces" else kept, 0, question.kind == "money")


def _group(plain: Any, loc: Loc) -> str:
    first = loc[0]
    if first in ("places", "tasks") and isinstance(loc[1], int):
        name = _text(_at(plain, (first, loc[1], "id")))
        return tr("Place {name}", name=name) if first == "places" else tr("Task {name}", name=name)
    heads = {
        "person": tr("The person"),
        "devices": tr("Devices"),
        "owns": tr("Things at hand"),
        "means": tr("Money and skill"),
        "room": tr("The room"),
    }
    return heads.get(str(first), str(first))


KEPT = 2
"""Most pictures that stay unpacked."""

POINT_HELP = {
    "eye": "Where the lids meet, towards the ear.",
    "tragus": "The small flap in front of the opening.",
    "c7": "The bump that sticks out most where neck and back meet.",
    "acromion": "The bony tip at the outer end of the shoulder.",
    "elbow": "The middle of the joint, seen from the side.",
    "wrist": "The middle of the joint, seen from the side.",
    "knuckle": "Where the middle finger begins.",
    "trochanter": "The bony bump at the side of the hip; feel for it through the clothes.",
    "knee": "The middle of the joint, seen from the side.",
    "ankle": "The bump at its outer side.",
    "seat_front": "The upper edge, where the seat ends at the knees.",
    "seat_back": "The upper edge, where the seat meets the back.",
    "desk_edge": "The upper edge, on the person's side.",
    "desk_underside": "The lower edge, on the person's side.",
    "screen_top": "The upper edge of the picture on it, not of the frame.",
    "screen_bottom": "The lower edge of the picture on it, not of the frame.",
    "keys": "The middle row of letters.",
    "foot_surface": "Where the soles rest: floor, bar or stack.",
    "floor_a": "Anywhere on the floor near the chair.",
    "floor_b": "Anywhere on the floor, far from the first.",
}
"""Where exactly each point is."""


def marking(case: Any) -> dict[str, Any]:
    """What the screen that sets marks has to know: points in order, sheets, lines, and places of the case."""
    return {
        "corners": [{"name": name, "words": tr(CORNER_NAMES[name]), "help": ""} for name in CORNERS],
        "points": [
            {"name": name, "words": tr(POINT_NAMES[name]), "help": tr(POINT_HELP[name])}
            for name in landmarks()
        ],
        "sheets": [{"kind": kind, "words": tr(SHEET_NAMES[kind])} for kind in sheets()],
        "tapes": [{"name": name, "words": tr(MEASURE_NAMES[name])} for name in LENGTHS],
        "lines": [list(line) for line in LINES],
        "places": [place.id for place in case.places],
    }


class KeptPictures:
    """Measures pictures, and keeps the last ones unpacked."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Picture] = OrderedDict()

    def _picture(self, data: bytes) -> Picture:
        key = text_digest(data)
        if key not in self._kept:
            self._kept[key] = picture_of(data, tr("the picture"))
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]

    def shown(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """The picture made anew, for the page to show."""
        picture = self._picture(given["picture"])
        image = picture.image
        if max(image.size) > KEPT_SIDE:
            factor = KEPT_SIDE / max(image.size)
            image = image.resize((round(image.width * factor), round(image.height * factor)))
        out = BytesIO()
        image.save(out, format="JPEG", quality=88)
        return {
            "size": list(picture.size),
            "image": f"data:image/jpeg;base64,{base64.b64encode(out.getvalue()).decode('ascii')}",
        }

    def measured(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """What the marks set so far tell, the posture beside the one that the case with them asks for."""
        told = self._measures(given)
        doubtful = [doubt_words(one) for one in told.doubts]
        merged = None
        try:
            merged = _merged(told, given)
        except InputFaults as found:
            # Shown with the measures: what does not go with the case is seen from them.
            doubtful += faults_in_short(found)
        posture = (
            observed_posture(told) if merged is None else observed_posture(told, merged.case, merged.place)
        )
        return {
            "html": _measures_html(told, doubtful, posture),
            "doubts": len(doubtful),
            "told": tr("{number} measures.", number=len(told.measures)),
        }

    def taken(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """The case with the measures in it, as text, and what has become of each."""
        merged = _merged(self._measures(given), given)
        taken, kept = merged_lines(merged)
        return {"held": merged.text, "html": rendered("taken.html", taken=taken, kept=kept)}

    def _measures(self, given: Mapping[str, Any]) -> PictureMeasures:
        case = case_of_bytes(given["data"], given["file"])
        picture, plain = self._picture(given["picture"]), given["marks"]
        name = plain.get("picture") if isinstance(plain, dict) else None
        file = tr("the marks")
        shot = Shot(picture, read_marks(plain, file, str(name), picture.size), file)
        return measured_with([shot], case.person.stature)


def faults_in_short(found: InputFaults) -> list[str]:
    """Faults in few words, for a screen where what was read is seen."""
    return [": ".join(part for part in (one.where, one.note or one.allowed) if part) for one in found.faults]


def _merged(told: PictureMeasures, given: Mapping[str, Any]) -> Merged:
    """The case with measures in it; `InputFaults` where they do not go together."""
    faults = FaultList(given["file"])
    text = decoded(given["data"], faults)
    if text is None:
        raise InputFaults(faults)
    return merged_with(told, text, given["file"], given["place"], confirmed=True)


def _measures_html(told: PictureMeasures, doubtful: Sequence[str], posture: ObservedPosture) -> str:
    seen, missing = to_tape_lines(told)
    shown = Blocks(3)
    posture_page(shown, posture)
    return rendered(
        "measured.html",
        doubts=doubtful,
        posture=shown.html(),
        warnings=measured_warnings(told),
        rows=measured_rows(told),
        tape=seen,
        missing=missing,
    )
