"""Putting pictured measures into a case: as a new text, never over what somebody taped.

A value without origin counts as taped. What is not taken over is kept beside it, as a line of the notes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from deskmend.errors import Fault, FaultList, InputFaults
from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case, read_case
from deskmend.intake.reading.fields import ranges
from deskmend.intake.reading.given_measure import GivenMeasure, spread_of
from deskmend.intake.reading.text_file import read_bounded_text
from deskmend.intake.reading.yaml_tree import (
    MOST_BYTES,
    Loc,
    MappingNode,
    ScalarNode,
    YamlNode,
    YamlTree,
    parse_tree,
    to_plain,
)
from deskmend.intake.tree_writing import text_with, with_value
from deskmend.measures import format_number
from deskmend.picture.measuring import PictureMeasure, PictureMeasures

LEAST_FOOT_SURFACE = 30.0
"""Height that the feet must be pictured over to stand on something else than the floor [mm] (judgement)."""
REPLACED = ("pictured", "told", "estimated")
"""Origins of values that a surer pictured one may take the place of."""


@dataclass(frozen=True)
class Kept:
    """A value of the case that stays, beside what the picture says."""

    where: str
    value: float
    pictured: PictureMeasure

    @property
    def beyond_both(self) -> bool:
        """Whether the two differ by more than the picture's interval lets in."""
        return not self.pictured.low <= self.value <= self.pictured.high


@dataclass(frozen=True)
class Merged:
    """A case with pictured measures."""

    text: str
    case: Case
    place: str
    """Id of the place that is pictured."""
    taken: tuple[tuple[str, PictureMeasure], ...]
    """Measures that went in, and where."""
    kept: tuple[Kept, ...]


def merge(told: PictureMeasures, case_file: str | Path, place: str | None, confirmed: bool) -> Merged:
    """Put measures into a case; `InputFaults` where the case has several places and none is named."""
    load_case(case_file)
    faults = FaultList(str(case_file))
    text = read_bounded_text(case_file, MOST_BYTES, faults)
    if text is None:
        raise InputFaults(faults)
    return merged_with(told, text, str(case_file), place, confirmed)


def merged_with(told: PictureMeasures, text: str, file: str, place: str | None, confirmed: bool) -> Merged:
    """Put measures into a case given as the text of its file, as `merge`; remarks elsewhere in it stay."""
    case, tree = _read(text, file)
    number = _place_number(case, place)
    root = tree.root
    taken, kept = [], []
    for loc, key, measure in _targets(told, case, number):
        where = ".".join(str(part) for part in loc)
        there = _value(case, loc)
        if isinstance(there, int | float) and not _gives_way(there, key, measure):
            kept.append(Kept(where, float(there), measure))
        elif measure.value in ranges()[key]:
            root = with_value(root, loc, _group(measure))
            taken.append((where, measure))
    root = _noted(root, told, kept, confirmed)
    merged = text_with(text, root)
    made, _ = _read(merged, file)
    return Merged(merged, made, made.places[number].id, tuple(taken), tuple(kept))


def _place_number(case: Case, place: str | None) -> int:
    ids = [one.id for one in case.places]
    if place is None and len(ids) == 1:
        return 0
    if place in ids:
        return ids.index(place)
    hint = "the case has several: say which with --place" if place is None else ""
    raise InputFaults([Fault("command line", None, "--place", place, ", ".join(ids), hint)])


def _targets(told: PictureMeasures, case: Case, number: int) -> Iterator[tuple[Loc, str, PictureMeasure]]:
    """Where in the case each measure belongs, and the row of ``ranges.csv`` that holds for it."""
    best: dict[str, PictureMeasure] = {}
    for one in told.measures:
        best.setdefault(one.name, one)
    here: tuple[str | int, ...] = ("places", number)
    place = case.places[number]
    wanted: list[tuple[str, Loc, str]] = []
    if place.seat is not None:
        wanted += [
            ("seat_height", (*here, "seat", "height"), "seat.height"),
            ("seat_depth", (*here, "seat", "depth"), "seat.depth"),
        ]
    wanted += [
        ("desk_height", (*here, "desk", "height"), "desk.height"),
        ("desk_underside", (*here, "desk", "underside"), "desk.underside"),
    ]
    foot = best.get("foot_surface")
    told_in_words = isinstance(place.feet_on, str) and place.feet_on != "unknown"
    if foot is not None and foot.low > LEAST_FOOT_SURFACE and not told_in_words:
        wanted.append(("foot_surface", (*here, "feet_on"), "place.feet_on"))
    at_it = [at for at, task in enumerate(case.tasks) if task.place == place.id]
    if len(at_it) == 1:
        wanted.append(("viewing_distance", ("tasks", at_it[0], "viewing_distance"), "task.viewing_distance"))
        if case.tasks[at_it[0]].main == "monitor" and case.devices.monitor is not None:
            wanted.append(("screen_over_desk", ("devices", "monitor", "top"), "monitor.top"))
            wanted.append(("screen_height", ("devices", "monitor", "height"), "monitor.height"))
        elif case.tasks[at_it[0]].main == "laptop" and case.devices.laptop is not None:
            wanted.append(("screen_over_desk", ("devices", "laptop", "screen_top"), "laptop.screen_top"))
            wanted.append(("screen_height", ("devices", "laptop", "screen_height"), "laptop.screen_height"))
    yield from ((loc, key, best[name]) for name, loc, key in wanted if name in best)


def _value(case: Case, loc: Loc) -> object:
    node: object = case
    for part in loc:
        node = node[part] if isinstance(part, int) and isinstance(node, tuple) else getattr(node, str(part))
    return node


def _gives_way(there: object, key: str, measure: PictureMeasure) -> bool:
    """Whether a value of the case may be replaced: never a taped one, others by a tape or what is surer."""
    if not isinstance(there, GivenMeasure) or there.origin not in REPLACED:
        return False
    if measure.origin == "taped":
        return True
    spread = spread_of(there, key)
    return spread is None or measure.sd < spread.sd


def _group(measure: PictureMeasure) -> MappingNode:
    entries = {
        "value": format_number(round(measure.value, 1)),
        "sd": format_number(round(measure.sd, 1)),
        "from": measure.origin,
    }
    return MappingNode(tuple((ScalarNode(key, 0), ScalarNode(text, 0)) for key, text in entries.items()), 0)


def _noted(root: YamlNode, told: PictureMeasures, kept: list[Kept], confirmed: bool) -> YamlNode:
    """Keep what did not go in, and whether somebody looked at the marks, as lines of the notes."""
    name = ", ".join(told.names)
    lines = [f"Marks of {name}: {'confirmed' if confirmed else 'not confirmed'}."]
    for one in kept:
        pictured = f"{one.pictured.value:.0f} mm, sd {one.pictured.sd:.0f}"
        lines.append(f"Picture {name}, {one.where}: {pictured}; {format_number(one.value)} mm kept.")
    notes = _text_at(root, "notes")
    return with_value(root, ("notes",), ScalarNode("\n".join([notes, *lines] if notes else lines), 0, True))


def _text_at(root: YamlNode, wanted: str) -> str:
    entries: Mapping[str, YamlNode] = (
        {key.text: one for key, one in root.entries} if isinstance(root, MappingNode) else {}
    )
    found = entries.get(wanted)
    return found.text.rstrip("\n") if isinstance(found, ScalarNode) else ""


def _read(text: str, file: str) -> tuple[Case, YamlTree]:
    """Read a case as its file is read; what a picture contradicts in it is told as its faults."""
    faults = FaultList(file)
    tree = parse_tree(text, file, faults)
    faults.raise_if_any()
    case, found = (None, []) if tree is None else read_case(to_plain(tree.root), file, tree)
    if case is None or tree is None:
        raise InputFaults(found)
    return case, tree
