"""From pictures of one scene and their marks to measures, what seems wrong, and what is better taped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from deskmend.errors import Fault, InputFaults
from deskmend.intake.reading.given_measure import GivenMeasure, spread_of
from deskmend.measures import Mm
from deskmend.picture.camera import Array
from deskmend.picture.doubts import Doubt, Implied, doubts, implied_stature
from deskmend.picture.fit import NORMAL_95, Fit, fit
from deskmend.picture.lens import TOLD_FOCAL_SD, UNKNOWN_FOCAL, UNKNOWN_FOCAL_SD, focal_pixels
from deskmend.picture.marks import MarksRecord, Pixel, load_marks
from deskmend.picture.measured import LENGTHS, MEASURES
from deskmend.picture.picture_file import Picture, read_picture
from deskmend.picture.scene import OF_POINT, TAPE_SD, PicturedScene, Taped, View, slope_of

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
    shots: list[Shot] = []
    faults: list[Fault] = []
    for picture_file, marks_file in files:
        try:
            picture = read_picture(picture_file)
            shots.append(Shot(picture, load_marks(marks_file, picture_file, picture.size), str(marks_file)))
        except InputFaults as error:
            faults += error.faults
    if faults:
        raise InputFaults(faults)
    return measured_with(shots, stature)


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
