"""Loading a case, and who hands it over: the file, its records, and what its values must say of each other.

Those rules look at the texts as written, not at the finished record, so that they still speak where another
value has a fault of its own. A value that cannot be read is passed over here: its fault is told elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from deskmend.errors import Fault, FaultList, InputFaults, Unreadable, did_you_mean
from deskmend.intake.case import Case, Origin
from deskmend.intake.reading.fields import free_text, ranges, read_quantity, word
from deskmend.intake.reading.records import Record, fault_at, read_plain, read_records, without_spread
from deskmend.intake.reading.tables import TABLE_ENDINGS
from deskmend.intake.reading.text_file import decoded, is_id, repeated
from deskmend.intake.reading.yaml_tree import Loc, YamlTree, parse_tree, read_tree, to_plain
from deskmend.measures import format_number

HOURS_A_DAY = 24.0

ARM_SLACK = 100.0
"""How far seat to elbow and elbow to shoulder may miss seat to shoulder [mm] (judgement)."""
_SHARE_SLACK = 1e-9
"""Decimal shares such as 0.1 + 0.2 + 0.7 must not pass 1 by binary rounding alone."""


@dataclass(frozen=True)
class Conflict:
    """One rule broken: the path to the value to mend, its text, and the rest as in `Fault`."""

    loc: tuple[str | int, ...]
    read: str | None
    allowed: str
    hint: str = ""
    note: str = ""


class _Texts:
    """The raw texts of a case, with readings that give None for anything not fit to be read."""

    def __init__(self, plain: Any) -> None:
        self.plain = plain

    def at(self, *loc: str | int) -> Any:
        node = self.plain
        for part in loc:
            if isinstance(part, int):
                node = node[part] if isinstance(node, list) and part < len(node) else None
            else:
                node = node.get(part) if isinstance(node, dict) else None
        return node

    def text(self, *loc: str | int) -> str | None:
        value = without_spread(self.at(*loc))
        return value if isinstance(value, str) and value != "unknown" else None

    def number(self, key: str, *loc: str | int) -> float | None:
        value = without_spread(self.at(*loc))
        if not isinstance(value, str | int | float):
            return None
        try:
            return read_quantity(value, ranges()[key])
        except Unreadable:
            return None

    def members(self, *loc: str | int) -> range:
        value = self.at(*loc)
        return range(len(value)) if isinstance(value, list) else range(0)


def find_conflicts(plain: Any) -> Iterator[Conflict]:
    """Find everything in a case, as mappings, lists and texts, that contradicts something else in it."""
    texts = _Texts(plain)
    yield from _ids(texts)
    yield from _places(texts)
    yield from _devices(texts)
    yield from _screens(texts)
    yield from _tasks(texts)
    yield from _standing(texts)
    yield from _day(texts)
    yield from _body(texts)
    yield from _means(texts)
    yield from _wishes(texts)


def _ids(texts: _Texts) -> Iterator[Conflict]:
    named = [
        ((group, number, "id"), name)
        for group in ("places", "tasks")
        for number in texts.members(group)
        if (name := texts.text(group, number, "id")) is not None and is_id(name)
    ]
    yield from _once(named, "an id used once among places and tasks, letter case aside")
    for place in texts.members("places"):
        seats = [
            (("places", place, "other_seats", seat, "id"), name)
            for seat in texts.members("places", place, "other_seats")
            if (name := texts.text("places", place, "other_seats", seat, "id")) is not None
        ]
        yield from _once(seats, "an id used once among the seats of a place, letter case aside")


def _once(named: Sequence[tuple[tuple[str | int, ...], str]], allowed: str) -> Iterator[Conflict]:
    for later, first in repeated(name for _, name in named):
        yield Conflict(named[later][0], named[later][1], allowed, note=f"also used as {named[first][1]}")


def _places(texts: _Texts) -> Iterator[Conflict]:
    for place in texts.members("places"):
        here: Loc = ("places", place)
        stands = texts.text(*here, "posture") == "stand"
        seat = texts.at(*here, "seat")
        if isinstance(texts.at(*here), dict) and seat is None and not stands:
            yield Conflict((*here, "seat"), None, "a seat, or posture: stand")
        if texts.text(*here, "feet_on") == "foot_bar" and texts.at(*here, "desk", "foot_bar") is None:
            yield Conflict(
                (*here, "feet_on"), "foot_bar", "foot_bar only with desk.foot_bar", "give the bar's height"
            )
        if texts.text(*here, "feet_on") == "foot_ring" and texts.at(*here, "seat", "foot_ring") is None:
            yield Conflict(
                (*here, "feet_on"),
                "foot_ring",
                "foot_ring only with seat.foot_ring",
                "give the ring's height",
            )
        if texts.text(*here, "desk", "legs") == "lap":
            for key in ("underside", "height_range", "leg_depth", "leg_width", "foot_bar"):
                if texts.at(*here, "desk", key) is not None:
                    read = texts.text(*here, "desk", key)
                    yield Conflict((*here, "desk", key), read, f"no {key} with legs: lap", note="is a lap")
        yield from _below(texts, (*here, "desk"), "desk", "underside", "height")
        yield from _below(texts, (*here, "desk"), "desk", "foot_bar", "underside")
        yield from _top_thickness(texts, (*here, "desk"))
        yield from _within(texts, (*here, "desk"), "desk.height", "height", "height_range")
        yield from _seat(texts, (*here, "seat"))
        for other in texts.members(*here, "other_seats"):
            yield from _seat(texts, (*here, "other_seats", other))


def _top_thickness(texts: _Texts, loc: Loc) -> Iterator[Conflict]:
    height, underside, thickness = (
        texts.number(f"desk.{key}", *loc, key) for key in ("height", "underside", "top_thickness")
    )
    if height is None or underside is None or thickness is None or thickness <= height - underside:
        return
    allowed = f"at most height less underside, {format_number(height - underside)} mm"
    yield Conflict((*loc, "top_thickness"), texts.text(*loc, "top_thickness"), allowed)


def _seat(texts: _Texts, loc: Loc) -> Iterator[Conflict]:
    yield from _within(texts, loc, "seat.height", "height", "height_range")
    yield from _within(texts, loc, "seat.recline", "recline", "recline_range")
    yield from _within(texts, loc, "seat.armrest_height", "armrest_height", "armrest_range")
    yield from _within(texts, loc, "seat.slope", "slope", "slope_range")
    yield from _below(texts, loc, "seat", "foot_ring", "height")
    if texts.text(*loc, "armrests") == "none" and (high := texts.text(*loc, "armrest_height")) is not None:
        yield Conflict((*loc, "armrest_height"), high, "no armrest_height with armrests: none")
    if texts.text(*loc, "armrests") in ("none", "fixed") and texts.at(*loc, "armrest_range") is not None:
        yield Conflict((*loc, "armrests"), texts.text(*loc, "armrests"), "adjustable with an armrest_range")
    if texts.text(*loc, "adjustable") in ("no", "false") and texts.at(*loc, "height_range") is not None:
        yield Conflict((*loc, "adjustable"), texts.text(*loc, "adjustable"), "yes with a height_range")
    back = texts.text(*loc, "back")
    for key in ("back_height", "recline", "recline_range", "lumbar"):
        if back == "none" and texts.at(*loc, key) is not None:
            yield Conflict(
                (*loc, key), texts.text(*loc, key), f"no {key} with back: none", note="has no back"
            )


def _below(texts: _Texts, loc: Loc, table: str, low: str, high: str) -> Iterator[Conflict]:
    lower = texts.number(f"{table}.{low}", *loc, low)
    upper = texts.number(f"{table}.{high}", *loc, high)
    if lower is not None and upper is not None and lower >= upper:
        yield Conflict((*loc, low), texts.text(*loc, low), f"less than {high}, {format_number(upper)} mm")


def _within(texts: _Texts, loc: Loc, key: str, value: str, span: str) -> Iterator[Conflict]:
    now = texts.number(key, *loc, value)
    low, high = texts.number(key, *loc, span, 0), texts.number(key, *loc, span, 1)
    if now is None or low is None or high is None or not low <= high:
        return
    if not low <= now <= high:
        unit = "degrees" if ranges()[key].kind == "angle" else "mm"
        allowed = f"within {span}, {format_number(low)} to {format_number(high)} {unit}"
        yield Conflict((*loc, value), texts.text(*loc, value), allowed)


def _devices(texts: _Texts) -> Iterator[Conflict]:
    has_laptop = texts.at("devices", "laptop") is not None
    for key, built in (("keyboard", "built_in"), ("mouse", "touchpad")):
        if texts.text("devices", key) == built and not has_laptop:
            yield Conflict(("devices", key), built, f"separate, or {built} with devices.laptop")
    yield from _within(texts, ("devices", "monitor"), "monitor.top", "top", "top_range")
    for device, top, height in (("laptop", "screen_top", "screen_height"), ("monitor", "top", "height")):
        upper = texts.number(f"{device}.{top}", "devices", device, top)
        picture = texts.number(f"{device}.{height}", "devices", device, height)
        if upper is not None and picture is not None and picture > upper:
            yield Conflict(
                ("devices", device, height),
                texts.text("devices", device, height),
                f"at most {top}, {format_number(upper)} mm",
                note="the picture would reach below the surface",
            )


def _screens(texts: _Texts) -> Iterator[Conflict]:
    tasks = [name for number in texts.members("tasks") if (name := texts.text("tasks", number, "id"))]
    for screen in texts.members("screens"):
        here: Loc = ("screens", screen)
        upper = texts.number("screen.top", *here, "top")
        picture = texts.number("screen.height", *here, "height")
        if upper is not None and picture is not None and picture > upper:
            yield Conflict(
                (*here, "height"),
                texts.text(*here, "height"),
                f"at most top, {format_number(upper)} mm",
                note="the picture would reach below the surface",
            )
        for number in texts.members(*here, "tasks"):
            name = texts.text(*here, "tasks", number)
            if name is not None and is_id(name) and name not in tasks:
                yield Conflict(
                    (*here, "tasks", number),
                    name,
                    f"the id of a task: {', '.join(tasks)}",
                    did_you_mean(name, tasks),
                )


def _paper_on_desk(texts: _Texts, task: Loc, place: str | None) -> Iterator[Conflict]:
    """Paper is told from the desk's front edge, and lies on the desk."""
    middle = texts.number("paper.distance", *task, "paper", "distance")
    for number in texts.members("places"):
        deep = texts.number("desk.depth", "places", number, "desk", "depth")
        here = texts.text("places", number, "id") == place
        if here and middle is not None and deep is not None and middle > deep:
            loc = (*task, "paper", "distance")
            allowed = (
                f"at most desk.depth, {format_number(deep)} mm: from the front edge to the sheet's middle"
            )
            yield Conflict(loc, texts.text(*loc), allowed)


def _tasks(texts: _Texts) -> Iterator[Conflict]:
    places = [name for number in texts.members("places") if (name := texts.text("places", number, "id"))]
    for task in texts.members("tasks"):
        here: Loc = ("tasks", task)
        place = texts.text(*here, "place")
        if place is not None and is_id(place) and place not in places:
            yield Conflict(
                (*here, "place"),
                place,
                f"the id of a place: {', '.join(places)}",
                did_you_mean(place, places),
            )
        main, reference = texts.text(*here, "main"), texts.text(*here, "reference")
        for key, tool in (("main", main), ("reference", reference)):
            if tool in ("laptop", "monitor") and texts.at("devices", tool) is None:
                yield Conflict((*here, key), tool, f"{tool} only with devices.{tool}")
        middle = texts.text(*here, "middle")
        if middle in ("laptop", "monitor", "paper") and main is not None and middle not in (main, reference):
            yield Conflict((*here, "middle"), middle, "the task's main or reference")
        share = texts.number("task.share", *here, "reference_share")
        if share and reference in (None, "none"):
            yield Conflict(
                (*here, "reference_share"), texts.text(*here, "reference_share"), "0 without a reference"
            )
        yield from _hands(texts, here)
        yield from _paper_on_desk(texts, here, place)
        hours = texts.number("task.hours", *here, "hours")
        spell = texts.number("task.spell", *here, "spell")
        if hours is not None and spell is not None and spell > hours * 60 + _SHARE_SLACK:
            allowed = f"at most the task's {format_number(hours * 60)} min a day"
            yield Conflict((*here, "spell"), texts.text(*here, "spell"), allowed)


def _standing(texts: _Texts) -> Iterator[Conflict]:
    """Find work that is done standing by a person who cannot stand."""
    if texts.text("person", "cannot_stand") not in ("yes", "true"):
        return
    worked_at = {texts.text("tasks", task, "place") for task in texts.members("tasks")}
    for place in texts.members("places"):
        posture = texts.text("places", place, "posture")
        if posture in ("stand", "both") and texts.text("places", place, "id") in worked_at:
            loc = ("places", place, "posture")
            yield Conflict(loc, posture, "sit where the person works", note="the person cannot stand")


def _hands(texts: _Texts, here: Loc) -> Iterator[Conflict]:
    keys = ("keys", "mouse", "writing")
    shares = [texts.number("task.share", *here, "hands", key) or 0.0 for key in keys]
    if sum(shares) > 1 + _SHARE_SLACK:
        note = f"adds up to {format_number(sum(shares))}"
        yield Conflict((*here, "hands"), None, "shares that add up to at most 1", note=note)
    if texts.text(*here, "writing") in ("no", "false") and shares[2] > 0:
        written = texts.text(*here, "hands", "writing")
        yield Conflict((*here, "hands", "writing"), written, "0 with writing: no")


def _day(texts: _Texts) -> Iterator[Conflict]:
    tasks = texts.members("tasks")
    given = [texts.number("task.days", "tasks", task, "days") for task in tasks]
    told = texts.number("person.work_days", "person", "work_days")
    for task, days in zip(tasks, given, strict=True):
        if days is not None and told is not None and days > told + _SHARE_SLACK:
            loc = ("tasks", task, "days")
            allowed = f"at most person.work_days, {format_number(told)} a week"
            yield Conflict(loc, texts.text(*loc), allowed)
    week = told or max((days for days in given if days is not None), default=0.0)
    hours = [
        (texts.number("task.hours", "tasks", task, "hours") or 0.0) * (1.0 if days is None else days / week)
        for task, days in zip(tasks, given, strict=True)
    ]
    if sum(hours) > HOURS_A_DAY + _SHARE_SLACK:
        note = f"adds up to {format_number(sum(hours))} h a day"
        yield Conflict(("tasks",), None, "tasks of at most 24 h a day together", note=note)


def _body(texts: _Texts) -> Iterator[Conflict]:
    here: Loc = ("person", "body")
    stature = texts.number("person.stature", "person", "stature")
    for low, high in (
        ("sitting_elbow_height", "sitting_shoulder_height"),
        ("sitting_shoulder_height", "sitting_eye_height"),
        ("sitting_elbow_height", "sitting_eye_height"),
        ("standing_elbow_height", "standing_eye_height"),
        ("popliteal_height", "knee_height"),
    ):
        yield from _below(texts, here, "body", low, high)
    for key in ("sitting_eye_height", "standing_eye_height", "knee_height"):
        measured = texts.number(f"body.{key}", *here, key)
        if measured is not None and stature is not None and measured >= stature:
            allowed = f"less than stature, {format_number(stature)} mm"
            yield Conflict((*here, key), texts.text(*here, key), allowed)
    parts = ("sitting_elbow_height", "shoulder_elbow_length", "sitting_shoulder_height")
    elbow, arm, shoulder = (texts.number(f"body.{key}", *here, key) for key in parts)
    if elbow is not None and arm is not None and shoulder is not None:
        if abs(elbow + arm - shoulder) > ARM_SLACK:
            allowed = f"about {format_number(elbow + arm)} mm: seat to elbow and elbow to shoulder together"
            yield Conflict((*here, parts[2]), texts.text(*here, parts[2]), allowed, "measure the three again")


def _means(texts: _Texts) -> Iterator[Conflict]:
    money = [key for key in ("budget", "saving_per_month") if texts.at("means", key) is not None]
    if money and texts.at("means", "currency") in (None, "unknown"):
        allowed = f"a currency code of ISO 4217 as EUR, needed for {' and '.join(money)}"
        yield Conflict(("means", "currency"), None, allowed)


def _wishes(texts: _Texts) -> Iterator[Conflict]:
    must = [texts.text("wishes", "must", number) for number in texts.members("wishes", "must")]
    for number in texts.members("wishes", "never"):
        never = texts.text("wishes", "never", number)
        if never is not None and never in must:
            yield Conflict(("wishes", "never", number), never, "a fix that is not in must as well")


def load_case(path: str | Path) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or Path
        A YAML file of format ``deskmend-case/1``.

    Returns
    -------
    Case
        The case; lengths [mm], angles [deg], times [h] or [min] as the fields say, money [minor units].

    Raises
    ------
    InputFaults
        Where anything is wrong, with every fault that could be found.
    """
    if Path(path).suffix.lower() in TABLE_ENDINGS and Path(path).is_file():
        told = FaultList(str(path))
        # Whoever gives one took the wrong file, and the faults of its lines would say nothing.
        hint = "applicants go to deskmend allocate, prices to --prices"
        told.add(None, "", None, "a case file, as mine.yaml", hint, "is named as a table")
        raise InputFaults(told)
    tree, found = read_tree(path)
    return _case_of(tree, found)


def case_of_bytes(data: bytes, file: str) -> Case:
    """Read a case from what stands in its file; `InputFaults` with every fault that could be found."""
    found = FaultList(file)
    text = decoded(data, found)
    tree = None if text is None else parse_tree(text, file, found)
    return _case_of(tree, list(found))


def _case_of(tree: YamlTree | None, found: Sequence[Fault]) -> Case:
    if tree is None:
        raise InputFaults(found)
    case, faults = read_case(to_plain(tree.root), tree.file, tree)
    if found or case is None:
        together = FaultList(tree.file)
        together.extend(found)
        together.extend(faults)
        raise InputFaults(together)
    return case


def read_case(plain: Any, file: str, lines: YamlTree | int | None = None) -> tuple[Case | None, list[Fault]]:
    """Check the texts of a case, from a file or from a row of a table; None with every fault, by line.

    Lines come from the file's tree, or are one for all (a table's row).
    """
    case, found = read_plain(plain, Case, file, lines)
    faults = FaultList(file)
    faults.extend(found)
    for one in find_conflicts(plain):
        if faults.full:
            break
        faults.extend([fault_at(one.loc, plain, file, lines, one.read, one.allowed, one.hint, one.note)])
    if case is None or faults:
        return None, list(faults)
    case._origin = Origin(file, lines if isinstance(lines, YamlTree) else None)
    return case, []


_Line = Annotated[str, free_text(200)]


class Sender(Record):
    """Who hands something over. All is free text, shown as it stands."""

    format: Annotated[Literal["deskmend-sender/1"], word(Literal["deskmend-sender/1"])]
    """Format of the file."""
    name: _Line
    """Name of the person or body that sends it."""
    address: tuple[_Line, ...] = ()
    """Lines of the address, from the top."""
    contact: _Line | None = None
    """Whom to ask, and how: a name, a telephone, an address."""
    date: _Line | None = None
    """Day of the letter, as it is to be written; nothing is taken from a clock."""
    reference: _Line | None = None
    """What the matter is filed under."""
    notes: tuple[Annotated[str, free_text(1000)], ...] = ()
    """Remarks to the reader, a paragraph each."""


def load_sender(path: str | Path) -> Sender:
    """Read a sender file; `InputFaults` with every fault."""
    tree, faults = read_tree(path)
    if tree is None:
        raise InputFaults(faults)
    sender, found = read_records(tree, Sender)
    if sender is None or faults:
        raise InputFaults([*faults, *found])
    return sender
