"""From a picture and its marks to measures, what seems wrong, and what is better taped."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from deskmend.errors import Fault, InputFaults
from deskmend.intake.reading.given_measure import GivenMeasure, spread_of
from deskmend.measures import Mm
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
class PictureMeasures:
    """Everything that a picture and its marks tell."""

    picture: Picture
    marks: MarksRecord
    measures: tuple[PictureMeasure, ...]
    """Taped ones as taped, and behind it as the picture alone has them."""
    tape: tuple[ToTape, ...]
    """The first would make all others surest."""
    doubts: tuple[Doubt, ...]
    implied: Implied | None
    """The stature that the body's parts speak for."""

    @property
    def focal_told(self) -> bool:
        """Whether the file told the focal length."""
        return self.picture.equivalent is not None


def measure_picture(picture_file: str | Path, marks_file: str | Path) -> PictureMeasures:
    """Measure from one picture and its marks; `InputFaults` with every fault of either."""
    picture = read_picture(picture_file)
    return measured_with(picture, load_marks(marks_file, picture_file, picture.size), str(marks_file))


def measured_with(picture: Picture, marks: MarksRecord, file: str) -> PictureMeasures:
    """Measure from a picture and its marks, which stand in a file; `InputFaults` where they fit nothing."""
    scene = scene_of(picture, marks)
    found = fit(scene)
    alone = found if not scene.taped else fit(PicturedScene(scene.views, scene.sheet))
    if not (found.sound and alone.sound):
        allowed, note = "marks that a camera can see so", "the marks do not fit together"
        raise InputFaults([Fault(file, None, "", None, allowed, note=note)])
    known = marks.known.stature
    spread = None if known is None else spread_of(known, "person.stature")
    return PictureMeasures(
        picture,
        marks,
        tuple(_measures(found, alone, marks)),
        tuple(_to_tape(found, marks)),
        tuple(doubts(found, known) if spread is None else doubts(found, known, spread.sd)),
        implied_stature(found),
    )


def scene_of(picture: Picture, marks: MarksRecord) -> PicturedScene:
    """Make the scene of one picture; a person who faces left is mirrored, and so are the sheet's corners."""
    width = picture.size[0]
    left = marks.person_faces == "left"

    def placed(pixel: Pixel) -> list[float]:
        return [width - pixel[0] if left else pixel[0], pixel[1]]

    corners = [placed(corner) for corner in marks.sheet.corners]
    if left:
        corners = [corners[1], corners[0], corners[3], corners[2]]
    equivalent = UNKNOWN_FOCAL if picture.equivalent is None else picture.equivalent
    view = View(
        picture.size,
        np.array([corners]),
        {name: np.array([placed(at)]) for name, at in marks.marked.items()},
        np.array([focal_pixels(picture.size, equivalent)]),
        UNKNOWN_FOCAL_SD if picture.equivalent is None else TOLD_FOCAL_SD,
    )
    return PicturedScene((view,), marks.sheet.size, {name: _tape(one) for name, one in marks.tapes.items()})


def _tape(given: float) -> Taped:
    sd = given.sd if isinstance(given, GivenMeasure) else None
    return Taped(float(given), TAPE_SD if sd is None else max(sd, 0.1))


def _measures(found: Fit, alone: Fit, marks: MarksRecord) -> list[PictureMeasure]:
    names = frozenset(found.scene.names)
    out = []
    for name, derived in MEASURES.items():
        taped = marks.tapes.get(name)
        if taped is not None:
            tape = _tape(taped)
            out.append(PictureMeasure(name, float(taped), tape.sd, derived.unit, "taped"))
        if derived.known_from(names):
            seen = (found if taped is None else alone).measured(name)
            out.append(
                PictureMeasure(name, float(seen.value[0]), float(seen.sd[0]), derived.unit, "pictured")
            )
    return out


def _to_tape(found: Fit, marks: MarksRecord) -> list[ToTape]:
    """Order lengths by how much surer all of them are once they are taped, then those not marked."""
    scene, names = found.scene, frozenset(found.scene.names)
    open_still = [name for name, one in LENGTHS.items() if one.known_from(names) and name not in marks.tapes]
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
        if not one.known_from(names) and name not in marks.tapes
    ]
    return out + missing
