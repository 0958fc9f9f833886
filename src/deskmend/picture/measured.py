"""Points that can be marked in a picture, sheets that give it scale, and the measures that follow.

Each is one function of points by name, x forward, y up and z towards the camera [mm], and broadcasts. Lengths
and angles are those seen from the side, in the plane in which the person faces, as an observer scores them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Literal

import numpy as np

from deskmend.measures import Mm
from deskmend.picture.camera import Array
from deskmend.published import read_table

Points = Mapping[str, Array]

FLOOR = ("floor_a", "floor_b")
"""Points of which one is enough to know where the floor is."""


@dataclass(frozen=True)
class Derived:
    """A measure: from which points, and how."""

    unit: Literal["mm", "deg"]
    needs: tuple[str, ...]
    of: Callable[[Points], Array]
    over_floor: bool = False
    """Whether it is a height above the floor, which a point of the floor is needed for."""

    def known_from(self, names: frozenset[str]) -> bool:
        """Whether these points are enough."""
        return not self.missing(names)

    def missing(self, names: frozenset[str]) -> tuple[str, ...]:
        """Points that are wanting."""
        lacks = tuple(name for name in self.needs if name not in names)
        return (*lacks, FLOOR[0]) if self.over_floor and names.isdisjoint(FLOOR) else lacks


def _floor(points: Points) -> Array:
    seen = [points[name][..., 1] for name in FLOOR if name in points]
    return np.asarray(sum(seen) / len(seen))


def _height(name: str) -> Derived:
    return Derived("mm", (name,), lambda points: points[name][..., 1] - _floor(points), over_floor=True)


def _length(way: Array) -> Array:
    return np.asarray(np.hypot(way[..., 0], way[..., 1]))


def _over(high: str, low: str) -> Derived:
    """Height of one point over another [mm]."""
    return Derived("mm", (high, low), lambda points: points[high][..., 1] - points[low][..., 1])


def _between(first: str, second: str) -> Callable[[Points], Array]:
    """Length between two points, seen from the side [mm]."""
    return lambda points: _length(points[second] - points[first])


def _viewing_distance(points: Points) -> Array:
    middle = 0.5 * (points["screen_top"] + points["screen_bottom"])
    return _length(middle - points["eye"])


def _seat_depth(points: Points) -> Array:
    return np.asarray(points["seat_front"][..., 0] - points["seat_back"][..., 0])


def _heading(points: Points, start: str, end: str) -> Array:
    """Direction from one point to another, from straight ahead towards up [rad]."""
    way = points[end] - points[start]
    return np.asarray(np.arctan2(way[..., 1], way[..., 0]))


def _signed(angle: Array) -> Array:
    """An angle between -180 and 180 [deg]."""
    return np.asarray(np.degrees(np.arctan2(np.sin(angle), np.cos(angle))))


def _above_level(start: str, end: str) -> Callable[[Points], Array]:
    return lambda points: _signed(_heading(points, start, end))


def _forward_of_up(start: str, end: str) -> Callable[[Points], Array]:
    return lambda points: _signed(np.pi / 2 - _heading(points, start, end))


def _forward_of_down(start: str, end: str) -> Callable[[Points], Array]:
    return lambda points: _signed(_heading(points, start, end) + np.pi / 2)


def _neck(points: Points) -> Array:
    return _signed(_heading(points, "trochanter", "acromion") - _heading(points, "c7", "tragus"))


def bend(first: str, middle: str, last: str) -> Callable[[Points], Array]:
    """How far the second of two segments is turned from the first, towards up and back over 0 [deg]."""
    return lambda points: _signed(_heading(points, middle, last) - _heading(points, first, middle))


def _arm_to_trunk(points: Points) -> Array:
    return _signed(_heading(points, "acromion", "elbow") - _heading(points, "acromion", "trochanter"))


def _joint(first: str, middle: str, last: str, way: float) -> Derived:
    """Angle at a joint: 180 straight; over 180 bent against its way."""
    turn = bend(first, middle, last)
    return Derived("deg", (first, middle, last), lambda points: 180.0 - way * turn(points))


MEASURES: Mapping[str, Derived] = {
    "seat_height": _height("seat_front"),
    "seat_depth": Derived("mm", ("seat_front", "seat_back"), _seat_depth),
    "seat_slope": Derived("deg", ("seat_front", "seat_back"), _above_level("seat_back", "seat_front")),
    "desk_height": _height("desk_edge"),
    "desk_underside": _height("desk_underside"),
    "foot_surface": _height("foot_surface"),
    "keys_height": _height("keys"),
    "elbow_height": _height("elbow"),
    "eye_height": _height("eye"),
    "screen_top": _height("screen_top"),
    "screen_bottom": _height("screen_bottom"),
    "screen_over_desk": _over("screen_top", "desk_edge"),
    "screen_height": Derived("mm", ("screen_top", "screen_bottom"), _between("screen_bottom", "screen_top")),
    "viewing_distance": Derived("mm", ("eye", "screen_top", "screen_bottom"), _viewing_distance),
    "craniovertebral_angle": Derived("deg", ("c7", "tragus"), _above_level("c7", "tragus")),
    "neck_angle": Derived("deg", ("trochanter", "acromion", "c7", "tragus"), _neck),
    "trunk_angle": Derived("deg", ("trochanter", "acromion"), _forward_of_up("trochanter", "acromion")),
    "upper_arm_angle": Derived("deg", ("acromion", "elbow"), _forward_of_down("acromion", "elbow")),
    "arm_to_trunk_angle": Derived("deg", ("trochanter", "acromion", "elbow"), _arm_to_trunk),
    "elbow_angle": _joint("acromion", "elbow", "wrist", 1.0),
    "wrist_extension": Derived("deg", ("elbow", "wrist", "knuckle"), bend("elbow", "wrist", "knuckle")),
    "hip_angle": _joint("acromion", "trochanter", "knee", 1.0),
    "knee_angle": _joint("trochanter", "knee", "ankle", -1.0),
}
"""Every measure by name, in the order in which they are told.

Heights are above the floor. ``craniovertebral_angle`` is that of the line from C7 to the ear above the level,
``neck_angle`` how far that line lies forward of the trunk, ``trunk_angle`` the trunk forward of upright,
``upper_arm_angle`` the arm forward of hanging, ``arm_to_trunk_angle`` forward of the trunk's own line;
``wrist_extension`` the hand bent up from the forearm; those of elbow, hip and knee are 180 when straight.
"""

LENGTHS: Mapping[str, Derived] = {name: one for name, one in MEASURES.items() if one.unit == "mm"}
"""Measures that can be taped."""


@dataclass(frozen=True)
class Landmark:
    """A point of the body or of the furniture."""

    name: str
    depth: Mm
    """From the plane of the near hip, towards the camera."""
    depth_sd: Mm
    place_sd: Mm
    """How far from the true point a careful person puts the mark, up and along."""


@dataclass(frozen=True)
class Sheet:
    """A sheet of known size."""

    kind: str
    narrow: Mm
    long: Mm


@cache
def landmarks() -> Mapping[str, Landmark]:
    """Return every point by name; figures and status stand in the table."""
    return MappingProxyType(
        {
            row["name"]: Landmark(
                row["name"],
                float(row["depth"]),
                float(row["depth_sd"]),
                float(row["place_sd"]),
            )
            for row in read_table("deskmend.picture", "landmarks.csv")
        }
    )


@cache
def sheets() -> Mapping[str, Sheet]:
    """Return every sheet by kind."""
    return MappingProxyType(
        {
            row["kind"]: Sheet(row["kind"], float(row["narrow"]), float(row["long"]))
            for row in read_table("deskmend.picture", "sheets.csv")
        }
    )
