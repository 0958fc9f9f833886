"""What in a scene speaks against its own marks: points changed over, another sheet, a tape that disagrees.

Least squares only sees what is told twice: the sheet's corners, the floor, tapes. A point of the body is told
once, so the body itself is asked: joints bend one way, and certain things lie above others. A thing is
doubted only where it is impossible beyond what its interval lets in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from deskmend.measures import Mm
from deskmend.picture.camera import Array
from deskmend.picture.measured import MEASURES, sheets
from deskmend.picture.scene import LEAST_SD, OF_POINT, Fit, PicturedScene, fit

STANDS_OUT = 3.5
"""What a row may be off by [standard deviations]; of a hundred sound pictures two have one such row."""
BEYOND = 2.0
"""How far a rule has to be broken beyond its bound [standard deviations]."""
STATURE_OUT = 2.6
"""What a stature may be off by [standard deviations]; of a hundred sound ones one is."""
BETTER = 6.0
"""By how much another sheet has to fit its corners better [squared standard deviations]."""

STATURES: tuple[Mm, Mm] = (1100.0, 2300.0)
"""Statures between which a sheet may be another one than told (judgement)."""
NEAR_SIZE = 1.5
"""Times by which sheets differ that a body tells from each other [-] (judgement): A4 and Letter do not."""
MOST_UNLIKE = 2
"""Parts of the body that are told to be unlike the others; with fewer than one more nothing can be said."""
MOST_BROKEN = 9
"""Rules that two points changed over can break at most; where more are, nothing so simple is wrong."""
FEW_STEPS = 25
"""Steps enough to see whether points changed over make a body."""

DoubtKind = Literal[
    "swapped", "body", "length", "sheet_kind", "corner", "tilted", "camera", "focal", "level", "tape",
    "stature", "unsettled",
]  # fmt: skip


@dataclass(frozen=True)
class Doubt:
    """One thing that seems wrong."""

    kind: DoubtKind
    points: tuple[str, ...] = ()
    """Points, or the measure, that it is about."""
    found: float | None = None
    """What the picture says, where it disagrees with something told [mm]."""
    told: float | None = None
    """What was told, or what is usual [mm], or by how much a rule is broken [standard deviations]."""
    other: str = ""
    """The sheet that would fit; the rule of the body that is broken; the turn that is unusual."""
    nearer: Mm | None = None
    """How much nearer to the camera than the hip the sheet would stand, were that what is wrong."""


# Least and greatest angle that a joint takes [deg] (judgement: wider than norms of mobility, which are for
# goniometers, since clothes hide the joint).
JOINTS: Mapping[str, tuple[float, float]] = {
    "elbow_angle": (20.0, 190.0),
    "knee_angle": (20.0, 195.0),
    "hip_angle": (35.0, 205.0),
    "craniovertebral_angle": (0.0, 110.0),
    "trunk_angle": (-75.0, 75.0),
}

# Higher and lower point, and by how much the lower may be above the higher [mm] (judgement).
ABOVE: tuple[tuple[str, str, Mm], ...] = (
    ("eye", "acromion", 0.0),
    ("tragus", "acromion", 0.0),
    ("c7", "acromion", 30.0),
    ("acromion", "trochanter", 0.0),
    ("acromion", "elbow", 60.0),
    ("knee", "ankle", 60.0),
    ("trochanter", "ankle", 0.0),
    ("trochanter", "seat_front", 60.0),
    ("desk_edge", "desk_underside", 0.0),
    ("screen_top", "screen_bottom", 0.0),
    ("desk_edge", "floor_a", 0.0),
    ("seat_front", "floor_a", 0.0),
    ("seat_front", "floor_b", 0.0),
    ("ankle", "floor_a", 60.0),
)

# What lies further forward, what behind it, and by how much it may not [mm] (judgement).
BEFORE: tuple[tuple[str, str, Mm], ...] = (
    ("eye", "tragus", 0.0),
    ("tragus", "c7", 0.0),
    ("knee", "trochanter", 0.0),
    ("seat_front", "seat_back", 0.0),
    ("screen_top", "eye", 0.0),
    ("screen_bottom", "eye", 0.0),
)

CHANGED_OVER: tuple[tuple[str, str], ...] = (
    ("elbow", "wrist"),
    ("trochanter", "knee"),
    ("knee", "ankle"),
    ("acromion", "elbow"),
    ("acromion", "c7"),
    ("eye", "tragus"),
    ("tragus", "c7"),
    ("acromion", "trochanter"),
    ("trochanter", "ankle"),
    ("acromion", "wrist"),
    ("seat_front", "seat_back"),
    ("desk_edge", "desk_underside"),
    ("screen_top", "screen_bottom"),
)
"""Points that are easily changed over, the likelier first (judgement)."""

SEGMENTS: Mapping[tuple[str, str], float] = {
    ("acromion", "elbow"): 0.186,
    ("elbow", "wrist"): 0.146,
    ("trochanter", "knee"): 0.245,
    ("knee", "ankle"): 0.246,
}
"""Length of parts of the body for each mm of stature [-] (Drillis and Contini 1966; from memory)."""
SEGMENT_SD = 0.06
"""How far a person's share differs from these, as a part of it [-] (judgement)."""


@dataclass(frozen=True)
class UnlikePart:
    """A part of the body that does not go with the others."""

    points: tuple[str, str]
    length: Mm
    usual: Mm
    """Length that the other parts speak for."""
    off: float
    """By how much they differ [standard deviations]."""


@dataclass(frozen=True)
class Implied:
    """The stature that the parts of the body speak for."""

    stature: Mm
    sd: Mm
    misfit: float
    """How far the parts are from agreeing [squared standard deviations]."""
    unlike: tuple[UnlikePart, ...]
    """Parts that are far longer or shorter than the others speak for, the worst first."""


def doubts(found: Fit, stature: Mm | None = None, stature_sd: Mm = 20.0) -> list[Doubt]:
    """List what seems wrong in one scene, the surest first; `stature` is only held against it."""
    # A tape that is wrong pulls everything: marks are held against each other without it.
    scene = found.scene
    alone = fit(PicturedScene(scene.views, scene.sheet)) if scene.taped else found
    if kind := _of_another_size(alone):
        return [Doubt("sheet_kind", other=kind)]
    out = list(_of_the_body(alone))
    out += _of_the_sheet(alone)
    if not alone.settled[0] and not out:
        out.append(Doubt("unsettled"))
    out += _of_tapes(found, alone)
    out += [
        Doubt("level", ("floor_a", "floor_b"))
        for row, off in alone.standing_out()
        if row.kind == "level" and abs(off[0]) > STANDS_OUT
    ]
    implied = implied_stature(found)
    if stature is not None and implied is not None and not out:
        apart = abs(implied.stature - stature) / np.hypot(implied.sd, stature_sd)
        if apart > STATURE_OUT:
            away = float(found.unknowns[0, 5] + found.unknowns[0, 6])
            nearer = float(np.exp(away)) * (stature / implied.stature - 1.0)
            out.append(Doubt("stature", ("stature",), implied.stature, stature, nearer=nearer))
    return out


def _of_the_body(found: Fit) -> Iterator[Doubt]:
    broken = list(_broken(found))
    if not broken:
        implied = implied_stature(found)
        for part in () if implied is None else implied.unlike:
            yield Doubt("length", part.points, part.length, part.usual)
        return
    # Of changes that would mend all, the one that leaves a body of the usual proportions.
    mends: list[tuple[float, tuple[str, str]]] = []
    asked = {point for _, points, _ in broken for point in points}
    for pair in CHANGED_OVER if len(broken) <= MOST_BROKEN else ():
        if set(pair) <= set(found.scene.names) and asked & set(pair):
            changed = fit(_changed_over(found.scene, pair), FEW_STEPS)
            if not list(_broken(changed)):
                implied = implied_stature(changed)
                mends.append((0.0 if implied is None else implied.misfit, pair))
    if mends:
        yield Doubt("swapped", min(mends, key=lambda mend: mend[0])[1])
        return
    for rule, points, by in broken:
        yield Doubt("body", points, told=by, other=rule)


def _changed_over(scene: PicturedScene, pair: tuple[str, str]) -> PicturedScene:
    first, second = pair
    views = []
    for view in scene.views:
        points = dict(view.points)
        if first in points and second in points:
            points[first], points[second] = points[second], points[first]
        views.append(replace(view, points=points))
    return PicturedScene(tuple(views), scene.sheet, scene.taped)


def _broken(found: Fit) -> Iterator[tuple[str, tuple[str, ...], float]]:
    """Rules of the body that a scene breaks, the points they are of, and by how many standard deviations."""
    names = frozenset(found.scene.names)
    for name, (low, high) in JOINTS.items():
        if MEASURES[name].known_from(names):
            angle = found.measured(name)
            by = max(low - angle.value[0], angle.value[0] - high) / angle.sd[0]
            if by > BEYOND:
                yield name, MEASURES[name].needs, by
    for rule, axis, pairs in (("above", 1, ABOVE), ("before", 0, BEFORE)):
        for more, less, slack in pairs:
            if {more, less} <= names:
                apart, sd = _apart(found, more, less, axis)
                if (-apart - slack) / sd > BEYOND:
                    yield rule, (more, less), float((-apart - slack) / sd)


def _apart(found: Fit, more: str, less: str, axis: int) -> tuple[float, float]:
    """How much further one point lies along an axis than another, and the standard deviation of that [mm]."""
    names = found.scene.names
    start = found.scene.unknowns - OF_POINT * len(names)
    first, second = (start + OF_POINT * names.index(one) + axis for one in (more, less))
    spread = found.covariance[0]
    variance = spread[first, first] + spread[second, second] - 2 * spread[first, second]
    apart = float(found.unknowns[0, first] - found.unknowns[0, second])
    return apart, float(np.sqrt(max(variance, LEAST_SD**2)))


def _of_another_size(found: Fit) -> str:
    """Sheet that makes a person of who is a giant or a dwarf with the one told; empty where none does."""
    implied = implied_stature(found)
    if implied is None or STATURES[0] < implied.stature < STATURES[1]:
        return ""
    for sheet in sheets().values():
        factor = _larger((sheet.narrow, sheet.long), found.scene.sheet)
        if STATURES[0] < implied.stature * factor < STATURES[1] and not 1 / NEAR_SIZE < factor < NEAR_SIZE:
            return sheet.kind
    return ""


def _of_the_sheet(found: Fit) -> Iterator[Doubt]:
    """Doubt the kind of sheet where another fits its corners better, else how it was held or marked."""
    scene = found.scene
    upright = scene.sheet[1] >= scene.sheet[0]
    corners = tuple(replace(view, points={}) for view in scene.views)
    own = float(fit(PicturedScene(corners, scene.sheet)).misfit[0])
    best, kind = own, ""
    # Another size makes another person of the same marks: of a card for an A4, nobody.
    implied = implied_stature(found)
    for sheet in sheets().values():
        size = (sheet.narrow, sheet.long) if upright else (sheet.long, sheet.narrow)
        if (
            implied is not None
            and not STATURES[0] < implied.stature * _larger(size, scene.sheet) < STATURES[1]
        ):
            continue
        other = float(fit(PicturedScene(corners, size)).misfit[0])
        if other < best:
            best, kind = other, sheet.kind
    if own - best > BETTER:
        yield Doubt("sheet_kind", other=kind)
        return
    # All of these speak through the same four corners: the one that stands out most is named.
    kinds = ("corner", "sheet", "camera", "focal", "bend")
    rows = [(float(abs(off[0])), row) for row, off in found.standing_out() if row.kind in kinds]
    by, row = max(rows, key=lambda one: one[0])
    if by <= STANDS_OUT:
        return
    if row.kind == "sheet":
        yield Doubt("tilted", other=row.of)
    elif row.kind == "camera":
        yield Doubt("camera", other=row.of)
    elif row.kind == "focal":
        yield Doubt("focal")
    else:
        yield Doubt("corner", (row.of,) if row.of else ())


def _larger(one: tuple[Mm, Mm], other: tuple[Mm, Mm]) -> float:
    """How many times the sides of one sheet are those of another, on average."""
    return float(np.sqrt(one[0] * one[1] / (other[0] * other[1])))


def _of_tapes(found: Fit, alone: Fit) -> Iterator[Doubt]:
    """Doubt tapes that the picture alone does not bear out; both values are kept."""
    scene = found.scene
    standing_out = [
        row.of for row, off in found.standing_out() if row.kind == "taped" and abs(off[0]) > STANDS_OUT
    ]
    for name, tape in scene.taped.items():
        if MEASURES[name].known_from(frozenset(scene.names)):
            seen = alone.measured(name)
            value = float(np.asarray(tape.value).reshape(-1)[0])
            apart = abs(float(seen.value[0]) - value) / np.hypot(float(seen.sd[0]), tape.sd)
            if apart > STANDS_OUT or name in standing_out:
                yield Doubt("tape", (name,), float(seen.value[0]), value)


def implied_stature(found: Fit) -> Implied | None:
    """Stature that the marked parts of the body speak for together; None where none is marked whole."""
    names = found.scene.names
    start = found.scene.unknowns - OF_POINT * len(names)
    parts, statures, slopes = [], [], []
    for (first, second), share in SEGMENTS.items():
        if {first, second} <= set(names):
            way = found.points[0, names.index(second)] - found.points[0, names.index(first)]
            length = max(float(np.linalg.norm(way)), 1.0)
            slope = np.zeros(found.scene.unknowns)
            for one, sign in ((second, 1.0), (first, -1.0)):
                at = start + OF_POINT * names.index(one)
                slope[at : at + OF_POINT] = sign * way / length / share
            parts.append(((first, second), share))
            statures.append(length / share)
            slopes.append(slope)
    if not statures:
        return None
    value, by = np.array(statures), np.array(slopes)
    spread: Array = by @ found.covariance[0] @ by.T + np.diag((SEGMENT_SD * value) ** 2)
    weights = np.linalg.solve(spread, np.ones(len(value)))
    mean = float(weights @ value / weights.sum())
    off = value - mean
    misfit = float(off @ np.linalg.solve(spread, off))
    sd = float(1 / np.sqrt(weights.sum()))
    return Implied(mean, sd, misfit, tuple(_unlike(parts, value, spread)))


def _unlike(parts: Sequence[tuple[tuple[str, str], float]], value: Array, spread: Array) -> list[UnlikePart]:
    """Hold each part against the stature that all others together speak for."""
    out = []
    for at, (points, share) in enumerate(parts if len(parts) > MOST_UNLIKE else ()):
        rest = [one for one in range(len(parts)) if one != at]
        weights = np.linalg.solve(spread[np.ix_(rest, rest)], np.ones(len(rest)))
        weights /= weights.sum()
        usual = float(weights @ value[rest])
        against = np.zeros(len(parts))
        against[at], against[rest] = 1.0, -weights
        off = (value[at] - usual) / float(np.sqrt(against @ spread @ against))
        if abs(off) > STANDS_OUT:
            out.append(UnlikePart(points, float(value[at]) * share, usual * share, float(off)))
    return sorted(out, key=lambda one: -abs(one.off))[:MOST_UNLIKE]
