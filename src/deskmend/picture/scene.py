"""What is not known of a scene, what speaks about it, and the likeliest camera and points by least squares.

Unknown are each camera's turn, place, focal length and bend, how the sheet was held, and where each point
lies. Every row compares one thing seen or known before with what the unknowns make of it, in standard
deviations; least squares over all rows is `deskmend.picture.scene`. Many scenes with the same points are one
array axis, which everything here carries in front.

Levenberg 1944 and Marquardt 1963, with the damping of each scene its own; the covariance is the inverse of
the curvature at the end. A row is held against what it may differ by once the fit has bent towards it
(Baarda 1968: a test of each row alone, w), so that a mark which pulls the fit is found too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from deskmend.measures import Mm
from deskmend.picture.camera import Array, appearance, sheet_turn, turned
from deskmend.picture.measured import MEASURES, Points, landmarks

MARK_SD = 2.0
"""How far a mark lies from where it was meant to be set [px] (judgement)."""
TAPE_SD = 3.0
"""How far a taped length is off [mm] (judgement)."""
LEVEL_SD = 4.0
"""How much two points of a floor differ in height [mm] (judgement)."""
BEND_SD = 0.02
"""What bend a telephone leaves in the pictures it keeps [-] (judgement): most take it out themselves."""
CAMERA_YAW_SD, CAMERA_PITCH_SD, CAMERA_ROLL_SD = np.radians([4.0, 6.0, 2.0])
"""How far a camera is turned from straight across, up or down, and from level [rad] (judgement)."""
CAMERA_ASIDE, CAMERA_ABOVE = (0.0, 0.07), (0.05, 0.09)
"""How far forward of the sheet and above it a camera stands for each mm away, with the sd [-] (judgement):
square to the side, between seat and desk. It decides which way a sheet is seen askew."""
SHEET_TWIST_SD, SHEET_LEAN_SD, SHEET_ROLL_SD = np.radians([2.5, 2.0, 2.0])
"""How far a sheet held upright along the body is twisted, leaned, and rolled from plumb [rad] (judgement)."""
SLIGHT = 1e-3
"""Step of a length from which a slope is taken [mm]; the measures are smooth over many thousand of it."""

OF_CAMERA, OF_SHEET, OF_POINT = 8, 3, 3
"""Unknowns: of a camera yaw, pitch, roll, how far forward and above for each mm away, logarithm of how far
away for each px of focal length, logarithm of the focal length, and bend; of a sheet twist, lean and roll; of
a point its place. A scene without focal length is a long valley, which is straight in these."""

RowKind = Literal["corner", "mark", "depth", "level", "taped", "camera", "focal", "bend", "sheet"]


class FitRow(NamedTuple):
    """What a row compares: its kind, of what (a point, corner, measure or turn), in which picture."""

    kind: RowKind
    of: str
    view: int = 0


@dataclass(frozen=True)
class View:
    """What is marked in one picture of a person who faces right."""

    size: tuple[int, int]
    """Across and down [px]."""
    corners: Array
    """Of the sheet, from the top left one clockwise (scenes, 4, 2) [px]."""
    points: Points
    """By name (scenes, 2) [px]."""
    focal: Array
    """Focal length as the file tells it, or in the middle of what is usual (scenes) [px]."""
    focal_sd: float
    """Standard deviation of its logarithm [-]."""


@dataclass(frozen=True)
class Taped:
    """A length measured with a tape."""

    value: Array | Mm
    sd: Mm = TAPE_SD


CORNERS = ("top left", "top right", "bottom right", "bottom left")


@dataclass(frozen=True)
class PicturedScene:
    """Pictures of one scene, the sheet in it, and what was taped there."""

    views: tuple[View, ...]
    sheet: tuple[Mm, Mm]
    """Width and height as it is held."""
    taped: Mapping[str, Taped] = field(default_factory=dict)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Points that are marked in any picture, in the table's order."""
        return tuple(name for name in landmarks() if any(name in view.points for view in self.views))

    @cached_property
    def many(self) -> int:
        """Scenes worked out at once."""
        return len(self.views[0].corners)

    @cached_property
    def unknowns(self) -> int:
        """Unknowns of one scene."""
        return OF_CAMERA * len(self.views) + OF_SHEET + OF_POINT * len(self.names)

    @cached_property
    def rows(self) -> tuple[FitRow, ...]:
        """What each row compares."""
        rows: list[FitRow] = []
        for number, view in enumerate(self.views):
            rows += [FitRow("corner", corner, number) for corner in CORNERS for _ in range(2)]
            rows += [
                FitRow("mark", name, number) for name in self.names if name in view.points for _ in range(2)
            ]
            rows += [FitRow("camera", turn, number) for turn in ("yaw", "pitch", "roll")]
            rows += [FitRow("camera", "aside", number), FitRow("camera", "above", number)]
            rows += [FitRow("focal", "", number), FitRow("bend", "", number)]
        rows += [FitRow("sheet", turn) for turn in ("twist", "lean", "roll")]
        rows += [FitRow("depth", name) for name in self.names]
        rows += [FitRow("level", "floor")] if {"floor_a", "floor_b"} <= set(self.names) else []
        return (*rows, *(FitRow("taped", name) for name in self._usable))

    @cached_property
    def _usable(self) -> tuple[str, ...]:
        """Taped lengths whose points are marked."""
        return tuple(name for name in self.taped if MEASURES[name].known_from(frozenset(self.names)))

    def part(self, chosen: Array) -> PicturedScene:
        """Give some of the scenes, by their numbers."""
        at = chosen.astype(int)
        views = tuple(
            replace(
                view,
                corners=view.corners[at],
                points={name: point[at] for name, point in view.points.items()},
                focal=view.focal[at],
            )
            for view in self.views
        )
        taped = {
            name: replace(one, value=np.broadcast_to(np.asarray(one.value), (self.many,))[at])
            for name, one in self.taped.items()
        }
        return PicturedScene(views, self.sheet, taped)

    def points_of(self, unknowns: Array) -> Array:
        """Where the points lie (scenes, points, 3) [mm]."""
        first = self.unknowns - OF_POINT * len(self.names)
        return unknowns[:, first:].reshape(len(unknowns), len(self.names), OF_POINT)

    def start(self) -> Array:
        """Begin as a camera usually stands, as far away as the sheet says, points at their usual depths."""
        out = np.zeros((self.many, self.unknowns))
        points = self.points_of(out)
        points[..., 2] = [landmarks()[name].depth for name in self.names]
        for number, view in enumerate(self.views):
            own = out[:, OF_CAMERA * number : OF_CAMERA * (number + 1)]
            away = view.focal / self.scale(number)
            own[:, 1] = np.arctan(CAMERA_ABOVE[0])
            turn, _ = turned(own[:, 0], own[:, 1], own[:, 2])
            middle = _ray(view, view.corners.mean(axis=1), turn)
            own[:, 3:5] = middle[:, :2] / middle[:, 2:]
            own[:, 5] = np.log(-middle[:, 2] * away / view.focal)
            own[:, 6] = np.log(view.focal)
            stands = _stands(own)
            for place, name in enumerate(self.names):
                if name in view.points:
                    ray = _ray(view, view.points[name], turn)
                    far = (points[:, place, 2] - stands[:, 2]) / ray[:, 2]
                    points[:, place] = stands + far[:, None] * ray
        return out

    def scale(self, number: int) -> Array:
        """How large the sheet appears in a picture (scenes) [px/mm]."""
        corners = self.views[number].corners
        sides = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=-1)
        return np.asarray(sides.sum(axis=1) / (2 * sum(self.sheet)))

    @cached_property
    def _mark_sds(self) -> tuple[Array, ...]:
        """How far each mark may lie from its point, in each picture (scenes, points of it) [px].

        Who marks a point twice puts it wrong the same way: that part is not averaged over pictures.
        """
        out = []
        for number, view in enumerate(self.views):
            seen = [name for name in self.names if name in view.points]
            often = [sum(name in other.points for other in self.views) for name in seen]
            place = np.array([landmarks()[name].place_sd for name in seen]) * np.sqrt(often)
            out.append(np.sqrt(MARK_SD**2 + (place * self.scale(number)[:, None]) ** 2))
        return tuple(out)

    def compared(self, unknowns: Array) -> tuple[Array, Array]:
        """Rows (scenes, rows) in standard deviations, and their slopes (scenes, rows, unknowns)."""
        many, cameras = len(unknowns), OF_CAMERA * len(self.views)
        values = np.zeros((many, len(self.rows)))
        slopes = np.zeros((many, len(self.rows), self.unknowns))
        first_point = cameras + OF_SHEET
        place = {name: first_point + OF_POINT * at for at, name in enumerate(self.names)}
        points = self.points_of(unknowns)
        turn, turn_by = sheet_turn(*unknowns[:, cameras:first_point].T)
        flat = 0.5 * np.array([[-1, 1, 0], [1, 1, 0], [1, -1, 0], [-1, -1, 0]]) * [*self.sheet, 0.0]
        corners = flat @ np.swapaxes(turn, -1, -2)
        row = 0
        for number, view in enumerate(self.views):
            at = OF_CAMERA * number
            own = unknowns[:, at : at + OF_CAMERA]
            seen = [name for name in self.names if name in view.points]
            index = [self.names.index(name) for name in seen]
            world = np.concatenate([corners, points[:, index]], axis=1)
            told = np.concatenate([view.corners, *(view.points[one][:, None] for one in seen)], axis=1)
            sds = np.concatenate([np.full((many, 4), MARK_SD), self._mark_sds[number]], axis=1)
            room, room_by = turned(own[:, 0], own[:, 1], own[:, 2])
            stands = _stands(own)
            off = world - stands[:, None]
            ahead = off @ np.swapaxes(room, -1, -2)
            focal = np.broadcast_to(np.exp(own[:, 6])[:, None], ahead.shape[:2])
            bend = np.broadcast_to(own[:, 7][:, None], ahead.shape[:2])
            shown = appearance(ahead, focal, bend, (view.size[0] / 2, view.size[1] / 2))
            end = row + 2 * (4 + len(seen))
            values[:, row:end] = ((shown.pixels - told) / sds[..., None]).reshape(many, -1)
            by_world = shown.by_point @ room[:, None] / sds[..., None, None]
            block = slopes[:, row:end].reshape(many, 4 + len(seen), 2, self.unknowns)
            for axis in range(3):
                moved = off @ np.swapaxes(room_by[axis], -1, -2)
                block[..., at + axis] = (shown.by_point @ moved[..., None])[..., 0] / sds[..., None]
                spun = flat @ np.swapaxes(turn_by[axis], -1, -2)
                block[:, :4, :, cameras + axis] = (by_world[:, :4] @ spun[..., None])[..., 0]
            block[..., at + 3 : at + 5] = -by_world[..., :2] * stands[:, None, None, 2:]
            block[..., at + 5] = -(by_world @ stands[:, None, :, None])[..., 0]
            block[..., at + 6] = block[..., at + 5] + shown.by_focal / sds[..., None]
            block[..., at + 7] = shown.by_bend / sds[..., None]
            for here, name in enumerate(seen, 4):
                block[:, here, :, place[name] : place[name] + OF_POINT] = by_world[:, here]
            slopes[:, row:end] = block.reshape(many, -1, self.unknowns)
            row = end
            known = (np.zeros(3), (CAMERA_YAW_SD, CAMERA_PITCH_SD, CAMERA_ROLL_SD))
            row = _prior(values, slopes, unknowns, row, range(at, at + 3), *known)
            usual = zip(CAMERA_ASIDE, CAMERA_ABOVE, strict=True)
            row = _prior(values, slopes, unknowns, row, (at + 3, at + 4), *usual)
            focal_log = np.log(view.focal)[:, None]
            row = _prior(values, slopes, unknowns, row, (at + 6,), focal_log, (view.focal_sd,))
            row = _prior(values, slopes, unknowns, row, (at + 7,), (0.0,), (BEND_SD,))
        held = (np.zeros(3), (SHEET_TWIST_SD, SHEET_LEAN_SD, SHEET_ROLL_SD))
        row = _prior(values, slopes, unknowns, row, range(cameras, first_point), *held)
        depths = [landmarks()[name].depth for name in self.names]
        depth_sds = [landmarks()[name].depth_sd for name in self.names]
        row = _prior(values, slopes, unknowns, row, [place[n] + 2 for n in self.names], depths, depth_sds)
        if {"floor_a", "floor_b"} <= set(self.names):
            up, down = place["floor_a"] + 1, place["floor_b"] + 1
            values[:, row] = (unknowns[:, up] - unknowns[:, down]) / LEVEL_SD
            slopes[:, row, up], slopes[:, row, down] = 1 / LEVEL_SD, -1 / LEVEL_SD
            row += 1
        for name in self._usable:
            taped = self.taped[name]
            found, by = slope_of(name, self.names, points)
            values[:, row] = (found - taped.value) / taped.sd
            slopes[:, row, first_point:] = by / taped.sd
            row += 1
        return values, slopes


def _stands(own: Array) -> Array:
    """Give where a camera is (scenes, 3) [mm]."""
    away = np.exp(own[:, 5] + own[:, 6])
    return np.asarray(away[:, None] * np.concatenate([own[:, 3:5], np.ones((len(own), 1))], axis=1))


def _ray(view: View, pixels: Array, turn: Array) -> Array:
    """Give the direction in the room, for one ahead of the camera, in which pixels are seen (scenes, 3)."""
    flat = (pixels - np.asarray(view.size) / 2) / view.focal[:, None]
    ahead = np.concatenate([flat, np.ones((len(flat), 1))], axis=1)
    return np.asarray((np.swapaxes(turn, -1, -2) @ ahead[..., None])[..., 0])


def _prior(
    values: Array, slopes: Array, unknowns: Array, row: int, at: object, means: object, sds: object
) -> int:
    """Fill the rows that compare unknowns with what was known before; gives the next row."""
    columns, sd = np.asarray(at, dtype=int), np.asarray(sds, dtype=float)
    rows = row + np.arange(len(columns))
    values[:, rows] = (unknowns[:, columns] - np.asarray(means, dtype=float)) / sd
    slopes[:, rows, columns] = 1.0 / sd
    return row + len(columns)


def slope_of(name: str, names: tuple[str, ...], points: Array) -> tuple[Array, Array]:
    """Give a measure (scenes) and its slope by every coordinate of every point (scenes, 3 x points)."""
    derived = MEASURES[name]
    used = [one for one in names if one in derived.needs or (derived.over_floor and one.startswith("floor_"))]
    by = np.zeros((len(points), len(names), OF_POINT))
    here = {one: points[:, names.index(one)] for one in used}
    for one in used:
        for axis in range(OF_POINT):
            step = np.zeros(OF_POINT)
            step[axis] = SLIGHT
            ahead = derived.of({**here, one: here[one] + step})
            behind = derived.of({**here, one: here[one] - step})
            by[:, names.index(one), axis] = _difference(ahead, behind, derived.unit) / (2 * SLIGHT)
    return derived.of(here), by.reshape(len(points), -1)


def _difference(ahead: Array, behind: Array, unit: str) -> Array:
    """Difference of two values; of angles on either side of half a turn the short way."""
    step = ahead - behind
    return np.asarray((step + 180.0) % 360.0 - 180.0 if unit == "deg" else step)


MOST_STEPS = 100
SETTLED = 1e-4
"""Expected gain of a further step at which a fit is at its end [squared standard deviations]."""
FIRST_DAMPING, LEAST_DAMPING, LAST_DAMPING = 1e-3, 1e-7, 1e6
"""Share of the curvature added at first, at least, and beyond which no step is left that would help [-]."""
LEAST_SD = 1e-6
"""Least spread of a measure, against rounding [mm] or [deg]."""
FURTHEST = 1e5
"""No point of a workplace lies further from the sheet [mm]."""
LEAST_SPARE = 0.02
"""Part of a row that nothing else foretells; under it the row cannot be tested [-]."""
NORMAL_95 = 1.959963984540054
"""Standard deviations on either side that hold 95 % of a normal distribution."""


@dataclass(frozen=True)
class Measured:
    """A measure with how sure it is, of one scene or of many."""

    name: str
    value: Array
    """[mm] or [deg]."""
    sd: Array
    unit: str

    @property
    def low(self) -> Array:
        """Lower end of what holds it in 95 of 100 cases."""
        return np.asarray(self.value - NORMAL_95 * self.sd)

    @property
    def high(self) -> Array:
        """Upper end of what holds it in 95 of 100 cases."""
        return np.asarray(self.value + NORMAL_95 * self.sd)


@dataclass(frozen=True)
class Fit:
    """A scene worked out."""

    scene: PicturedScene
    unknowns: Array
    covariance: Array
    rows: Array
    """What is left of each row (scenes, rows) [standard deviations]."""
    spare: Array
    """Part of each row that the others do not foretell (scenes, rows) [-]."""
    settled: Array
    """Whether the search came to an end (scenes)."""

    @property
    def points(self) -> Array:
        """Where the points lie (scenes, points, 3) [mm]."""
        return self.scene.points_of(self.unknowns)

    @property
    def misfit(self) -> Array:
        """Sum of the squares of all rows (scenes) [-]."""
        return np.asarray(np.sum(self.rows**2, axis=-1))

    def standing_out(self) -> list[tuple[FitRow, Array]]:
        """Every row that can be tested, with what it is off by [standard deviations]."""
        tested = self.spare > LEAST_SPARE
        w = np.where(tested, self.rows / np.sqrt(np.where(tested, self.spare, 1.0)), 0.0)
        return [(row, w[:, at]) for at, row in enumerate(self.scene.rows)]

    def measured(self, name: str) -> Measured:
        """Work one measure out, errors carried through in a straight line."""
        names = self.scene.names
        value, by = slope_of(name, names, self.points)
        block = self.covariance[:, -OF_POINT * len(names) :, -OF_POINT * len(names) :]
        variance = np.einsum("si,sij,sj->s", by, block, by)
        return Measured(name, value, np.sqrt(np.maximum(variance, LEAST_SD**2)), MEASURES[name].unit)

    @property
    def sound(self) -> bool:
        """Whether the numbers are those of a room: finite, and no point further than any picture shows."""
        spreads = np.einsum("sii->si", self.covariance)
        finite = np.isfinite(self.unknowns).all() and np.isfinite(spreads).all()
        return bool(finite and (spreads > 0).all() and (np.abs(self.points) < FURTHEST).all())

    def measures(self) -> list[Measured]:
        """Every measure that the marked points are enough for."""
        names = frozenset(self.scene.names)
        return [self.measured(name) for name, one in MEASURES.items() if one.known_from(names)]


def fit(scene: PicturedScene, most_steps: int = MOST_STEPS) -> Fit:
    """Find the unknowns of every scene that its rows speak for."""
    # A step may lead out of the numbers: it is no better then, and not taken.
    with np.errstate(all="ignore"):
        return _fit(scene, most_steps)


def _fit(scene: PicturedScene, most_steps: int) -> Fit:
    unknowns = scene.start()
    values, slopes = scene.compared(unknowns)
    damping = np.full(scene.many, FIRST_DAMPING)
    open_still = np.arange(scene.many)
    part = scene
    for _ in range(most_steps):
        across = np.swapaxes(slopes[open_still], -1, -2)
        curvature = across @ slopes[open_still]
        downhill = -(across @ values[open_still][..., None])[..., 0]
        eased = damping[open_still, None] * np.einsum("sii->si", curvature)
        curvature += eased[..., None] * np.eye(scene.unknowns)
        step = np.linalg.solve(curvature, downhill[..., None])[..., 0]
        ends = (np.sum(step * downhill, axis=-1) < SETTLED) | (damping[open_still] > LAST_DAMPING)
        if ends.any():
            open_still, step = open_still[~ends], step[~ends]
            part = scene.part(open_still)
        if not len(open_still):
            break
        tried = unknowns[open_still] + step
        new_values, new_slopes = part.compared(tried)
        before = np.sum(values[open_still] ** 2, axis=-1)
        better = np.sum(new_values**2, axis=-1) <= before
        took = open_still[better]
        unknowns[took], values[took], slopes[took] = tried[better], new_values[better], new_slopes[better]
        damping[open_still] = np.maximum(damping[open_still] * np.where(better, 0.1, 10.0), LEAST_DAMPING)
    settled = np.ones(scene.many, dtype=bool)
    settled[open_still] = False
    covariance = _inverse(np.swapaxes(slopes, -1, -2) @ slopes)
    spare: Array = 1.0 - np.sum((slopes @ covariance) * slopes, axis=-1)
    return Fit(scene, unknowns, covariance, values, spare, settled)


def _inverse(curvature: Array) -> Array:
    """Give the covariance; not a number where rows leave something wholly open, which `Fit.sound` tells."""
    try:
        return np.asarray(np.linalg.inv(curvature), dtype=np.float64)
    except np.linalg.LinAlgError:
        return np.full_like(curvature, np.nan)
