"""From pictures of one scene and their marks to measures, marks drawn back, and measures put into a case.

They are drawn on a blank ground; on the picture only where that was asked for, made anew without anything
that its file said, and with the head blurred unless it may be seen.

A value without origin counts as taped. What is not taken over is kept beside it, as a line of the notes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from deskmend.errors import Fault, FaultList, InputFaults, option_fault, read_each
from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case, read_case
from deskmend.intake.reading.fields import ranges
from deskmend.intake.reading.records import GivenMeasure, spread_of
from deskmend.intake.reading.text_file import read_bounded_text
from deskmend.intake.reading.yaml_tree import (
    MOST_BYTES,
    Loc,
    MappingNode,
    ScalarNode,
    YamlNode,
    YamlTree,
    parse_tree,
    text_with,
    to_plain,
    with_value,
)
from deskmend.measures import Mm, format_number
from deskmend.picture.camera import (
    TOLD_FOCAL_SD,
    UNKNOWN_FOCAL,
    UNKNOWN_FOCAL_SD,
    Array,
    Picture,
    focal_pixels,
    read_picture,
)
from deskmend.picture.doubts import Doubt, Implied, doubts, implied_stature
from deskmend.picture.marks import MarksRecord, Pixel, load_marks
from deskmend.picture.measured import LENGTHS, MEASURES, landmarks
from deskmend.picture.scene import (
    NORMAL_95,
    OF_POINT,
    TAPE_SD,
    Fit,
    PicturedScene,
    Taped,
    View,
    fit,
    slope_of,
)

SURE_ENOUGH: Mm = 10.0
"""Standard deviation under which a length need not be taped (judgement: a desk is set by the cm)."""


@dataclass(frozen=True)
class PictureMeasure:
    """One measure, with how it was come by."""

    name: str
    value: float
    """[mm] or [deg]."""
    sd: float
    unit: Literal["mm", "deg"]
    origin: Literal["taped", "pictured"]

    @property
    def low(self) -> float:
        """Lower end of what holds it in 95 of 100 cases."""
        return self.value - NORMAL_95 * self.sd

    @property
    def high(self) -> float:
        """Upper end of what holds it in 95 of 100 cases."""
        return self.value + NORMAL_95 * self.sd


@dataclass(frozen=True)
class ToTape:
    """A length better taped: what is not marked for it, or how sure the picture is of it."""

    name: str
    missing: tuple[str, ...] = ()
    """Points without which the picture cannot tell it."""
    sd: Mm | None = None


@dataclass(frozen=True)
class Shot:
    """A picture with its marks."""

    picture: Picture
    marks: MarksRecord
    file: str
    """Where the marks stand."""


@dataclass(frozen=True)
class SeenAngles:
    """Angles of the posture as they were seen, and how their errors go together."""

    names: tuple[str, ...]
    values: Array
    """(angles) [deg]."""
    covariance: Array
    """(angles, angles) [deg^2]."""


@dataclass(frozen=True)
class PictureMeasures:
    """Everything that pictures of one scene and their marks tell."""

    shots: tuple[Shot, ...]
    measures: tuple[PictureMeasure, ...]
    """Taped ones as taped, and behind it as the pictures alone have them."""
    angles: SeenAngles
    tape: tuple[ToTape, ...]
    """The first would make all others surest."""
    doubts: tuple[Doubt, ...]
    implied: Implied | None
    """The stature that the body's parts speak for."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the pictures' files."""
        return tuple(shot.marks.picture for shot in self.shots)

    @property
    def focal_told(self) -> bool:
        """Whether every file told the focal length."""
        return all(shot.picture.equivalent is not None for shot in self.shots)

    @property
    def cropped(self) -> bool:
        """Whether a part of any picture may have been cut off."""
        return any(shot.picture.cropped for shot in self.shots)


def measure_pictures(
    files: Sequence[tuple[str | Path, str | Path]], stature: Mm | None = None
) -> PictureMeasures:
    """Measure from pictures of one scene, each with its marks; `InputFaults` with every fault of any.

    `stature` is that of the person where no marks tell it; it is only held against the pictures.
    """

    def shot(picture_file: str | Path, marks_file: str | Path) -> Shot:
        picture = read_picture(picture_file)
        return Shot(picture, load_marks(marks_file, picture_file, picture.size), str(marks_file))

    return measured_with(read_each(*(partial(shot, *pair) for pair in files)), stature)


def measured_with(shots: Sequence[Shot], stature: Mm | None = None) -> PictureMeasures:
    """Measure from pictures of one scene with their marks; `InputFaults` where they fit nothing."""
    tapes = _agreed(shots)
    scene = scene_of(shots, tapes)
    found = fit(scene)
    alone = found if not scene.taped else fit(PicturedScene(scene.views, scene.sheet))
    if not (found.sound and alone.sound):
        allowed, note = "marks that a camera can see so", "the marks do not fit together"
        raise InputFaults([Fault(shots[0].file, None, "", None, allowed, note=note)])
    known = next((one for shot in shots if (one := shot.marks.known.stature) is not None), stature)
    spread = None if known is None else spread_of(known, "person.stature")
    return PictureMeasures(
        tuple(shots),
        tuple(_measures(found, alone, tapes)),
        _angles(found),
        tuple(_to_tape(found, tapes)),
        tuple(doubts(found, known) if spread is None else doubts(found, known, spread.sd)),
        implied_stature(found),
    )


def _agreed(shots: Sequence[Shot]) -> Mapping[str, float]:
    """Taped lengths of all marks; `InputFaults` where marks of one scene contradict each other."""
    first, tapes, faults = shots[0].marks, dict(shots[0].marks.tapes), []

    def fault(shot: Shot, where: str, read: object, allowed: object, note: str) -> None:
        faults.append(Fault(shot.file, None, where, str(read), str(allowed), note=note))

    for shot in shots[1:]:
        marks = shot.marks
        if marks.person_faces != first.person_faces:
            note = "pictures together are taken from the same side"
            fault(shot, "person_faces", marks.person_faces, first.person_faces, note)
        if (marks.sheet.kind, marks.sheet.size) != (first.sheet.kind, first.sheet.size):
            note = "pictures together show the same sheet, held the same way"
            fault(shot, "sheet", marks.sheet.kind, first.sheet.kind, note)
        for name, one in marks.tapes.items():
            if float(tapes.setdefault(name, one)) != float(one):
                fault(
                    shot, f"taped.{name}", f"{one:g}", f"{tapes[name]:g}", "was taped once for all pictures"
                )
        if None not in (marks.known.stature, first.known.stature) and marks.known != first.known:
            fault(shot, "known.stature", marks.known.stature, first.known.stature, "is the same person's")
    if faults:
        raise InputFaults(faults)
    return {name: tapes[name] for name in LENGTHS if name in tapes}


def scene_of(shots: Sequence[Shot], tapes: Mapping[str, float]) -> PicturedScene:
    """Make the scene of pictures; a person who faces left is mirrored, and so are the sheet's corners."""
    taped = {name: _tape(one) for name, one in tapes.items()}
    return PicturedScene(tuple(map(_view_of, shots)), shots[0].marks.sheet.size, taped)


def _view_of(shot: Shot) -> View:
    picture, marks = shot.picture, shot.marks
    width = picture.size[0]
    left = marks.person_faces == "left"

    def placed(pixel: Pixel) -> list[float]:
        return [width - pixel[0] if left else pixel[0], pixel[1]]

    corners = [placed(corner) for corner in marks.sheet.corners]
    if left:
        corners = [corners[1], corners[0], corners[3], corners[2]]
    equivalent = UNKNOWN_FOCAL if picture.equivalent is None else picture.equivalent
    return View(
        picture.size,
        np.array([corners]),
        {name: np.array([placed(at)]) for name, at in marks.marked.items()},
        np.array([focal_pixels(picture.size, equivalent)]),
        UNKNOWN_FOCAL_SD if picture.equivalent is None else TOLD_FOCAL_SD,
    )


def _angles(found: Fit) -> SeenAngles:
    known = frozenset(found.scene.names)
    names = tuple(name for name, one in MEASURES.items() if one.unit == "deg" and one.known_from(known))
    slopes = [slope_of(name, found.scene.names, found.points) for name in names]
    points = slice(found.scene.unknowns - OF_POINT * len(found.scene.names), None)
    by = np.concatenate([slope for _, slope in slopes]) if names else np.zeros((0, 0))
    covariance = by @ found.covariance[0][points, points] @ by.T if names else by
    return SeenAngles(names, np.array([float(value[0]) for value, _ in slopes]), covariance)


def _tape(given: float) -> Taped:
    sd = given.sd if isinstance(given, GivenMeasure) else None
    return Taped(float(given), TAPE_SD if sd is None else max(sd, 0.1))


def _measures(found: Fit, alone: Fit, tapes: Mapping[str, float]) -> list[PictureMeasure]:
    names = frozenset(found.scene.names)
    out = []
    for name, derived in MEASURES.items():
        taped = tapes.get(name)
        if taped is not None:
            tape = _tape(taped)
            out.append(PictureMeasure(name, float(taped), tape.sd, derived.unit, "taped"))
        if derived.known_from(names):
            seen = (found if taped is None else alone).measured(name)
            out.append(
                PictureMeasure(name, float(seen.value[0]), float(seen.sd[0]), derived.unit, "pictured")
            )
    return out


def _to_tape(found: Fit, tapes: Mapping[str, float]) -> list[ToTape]:
    """Order lengths by how much surer all of them are once they are taped, then those not marked."""
    scene, names = found.scene, frozenset(found.scene.names)
    open_still = [name for name, one in LENGTHS.items() if one.known_from(names) and name not in tapes]
    out = []
    if open_still:
        slopes = np.concatenate([slope_of(name, scene.names, found.points)[1] for name in open_still])
        points = slice(scene.unknowns - OF_POINT * len(scene.names), None)
        spread = slopes @ found.covariance[0][points, points] @ slopes.T
        sds = np.sqrt(np.diag(spread)).tolist()
        while open_still:
            gains = np.sum(spread**2, axis=0) / (np.diag(spread) + TAPE_SD**2)
            best = int(np.argmax(gains))
            if spread[best, best] <= SURE_ENOUGH**2:
                gains = np.where(np.diag(spread) > SURE_ENOUGH**2, gains, -1.0)
                best = int(np.argmax(gains))
                if gains[best] < 0:
                    break
            name = open_still[best]
            out.append(ToTape(name, sd=float(sds[best])))
            spread = spread - np.outer(spread[:, best], spread[best]) / (spread[best, best] + TAPE_SD**2)
            keep = [at for at in range(len(open_still)) if at != best]
            spread = spread[np.ix_(keep, keep)]
            open_still, sds = [open_still[at] for at in keep], [sds[at] for at in keep]
    missing = [
        ToTape(name, one.missing(names))
        for name, one in LENGTHS.items()
        if not one.known_from(names) and name not in tapes
    ]
    return out + missing


LONGEST_SIDE = 1600
"""Longer side of a drawing [px]."""
GROUND, INK, BODY, THINGS = "#ffffff", "#1a5276", "#b03a2e", "#117a65"
LINES = (
    ("c7", "tragus"), ("tragus", "eye"), ("c7", "acromion"), ("acromion", "elbow"), ("elbow", "wrist"),
    ("wrist", "knuckle"), ("acromion", "trochanter"), ("trochanter", "knee"), ("knee", "ankle"),
    ("seat_back", "seat_front"),
    ("desk_edge", "desk_underside"), ("screen_top", "screen_bottom"), ("floor_a", "floor_b"),
)  # fmt: skip
"""What is joined by a line."""
OF_BODY = ("eye", "tragus", "c7", "acromion", "elbow", "wrist", "knuckle", "trochanter", "knee", "ankle")
HEAD_RADIUS = 190.0
"""About the ear, what holds every head with its hair [mm] (judgement)."""
DOT = 6


def drawing(told: PictureMeasures, keep: bool = False, face: bool = False) -> bytes:
    """Draw sheet and marks as a PNG, several pictures below each other; with `keep` on the pictures.

    With `face` no head is blurred.
    """
    parts = [_drawn(shot, keep, face) for shot in told.shots]
    whole = Image.new("RGB", (max(one.width for one in parts), sum(one.height for one in parts)), GROUND)
    top = 0
    for one in parts:
        whole.paste(one, (0, top))
        top += one.height
    out = BytesIO()
    whole.save(out, format="PNG")
    return out.getvalue()


def _drawn(shot: Shot, keep: bool, face: bool) -> Image.Image:
    size = shot.picture.size
    factor = min(1.0, LONGEST_SIDE / max(size))
    across, down = (max(1, round(side * factor)) for side in size)
    ground = Image.new("RGB", (across, down), GROUND)
    if keep:
        ground.paste(shot.picture.image.resize((across, down)))
        if not face:
            _blur_head(ground, shot, factor)
    pen = ImageDraw.Draw(ground)
    font = ImageFont.load_default(size=16)
    at = {name: (x * factor, y * factor) for name, (x, y) in shot.marks.marked.items()}
    corners = [(x * factor, y * factor) for x, y in shot.marks.sheet.corners]
    pen.line([*corners, corners[0]], fill=INK, width=3)
    for first, second in LINES:
        if first in at and second in at:
            pen.line([at[first], at[second]], fill=BODY if first in OF_BODY else THINGS, width=2)
    for name, (x, y) in at.items():
        colour = BODY if name in OF_BODY else THINGS
        pen.ellipse((x - DOT, y - DOT, x + DOT, y + DOT), outline=colour, width=3)
        pen.text((x + DOT + 4, y - 8), landmarks()[name].name, fill=colour, font=font)
    return ground


def _blur_head(ground: Image.Image, shot: Shot, factor: float) -> None:
    """Blur what lies about the ear; refused where no mark tells where the head is."""
    marked = shot.marks.marked
    near = next((marked[name] for name in ("tragus", "eye", "c7") if name in marked), None)
    if near is None:
        hint = "mark the ear or the eye, or say --face to show it"
        raise InputFaults([option_fault("--keep", None, "a picture whose head is marked", hint)])
    radius = HEAD_RADIUS * float(scene_of([shot], {}).scale(0)[0]) * factor
    x, y = near[0] * factor, near[1] * factor
    box = np.round([x - radius, y - radius, x + radius, y + radius]).astype(int).tolist()
    left, top = max(box[0], 0), max(box[1], 0)
    right, bottom = min(box[2], ground.width), min(box[3], ground.height)
    if right <= left or bottom <= top:
        return
    part = ground.crop((left, top, right, bottom))
    # Made coarse first: a blur alone can be sharpened again.
    coarse = part.resize((max(1, part.width // 40), max(1, part.height // 40)), Image.Resampling.BOX)
    smooth = coarse.resize(part.size, Image.Resampling.BICUBIC).filter(ImageFilter.GaussianBlur(radius / 8))
    ground.paste(smooth, (left, top))


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
