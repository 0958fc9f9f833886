"""Scenes drawn with what they truly measure, seen through a pinhole written for these tests alone.

Nothing here comes from the solver: points are projected one by one with the three rules of a pinhole (how far
right, up and away a point lies from the camera, as sums of its own axes), and angles come from dot products.
Depths, places of marks and habits of holding camera and sheet are drawn as the guide to pictures states them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

DEPTHS = {  # mean and standard deviation, towards the camera [mm]
    "eye": (-135, 20), "tragus": (-105, 15), "c7": (-180, 15), "acromion": (15, 20), "elbow": (50, 35),
    "wrist": (-20, 40), "knuckle": (-20, 45), "trochanter": (0, 15), "knee": (-40, 35), "ankle": (-60, 40),
    "seat_front": (20, 25), "seat_back": (20, 25), "desk_edge": (0, 30), "desk_underside": (0, 30),
    "screen_top": (-180, 30), "screen_bottom": (-180, 30), "keys": (-80, 60), "foot_surface": (-60, 50),
    "floor_a": (0, 60), "floor_b": (0, 60),
}  # fmt: skip
BODY = ("eye", "tragus", "c7", "acromion", "elbow", "wrist", "trochanter", "knee", "ankle")
SHEETS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "card": (85.6, 53.98)}


@dataclass(frozen=True)
class Drawing:
    """How scenes are drawn."""

    sheet: str = "a4"
    size: tuple[int, int] = (4000, 3000)
    equivalent: float | None = 26.0
    """Focal length of a camera with the same view and a frame of 36 by 24 mm [mm]; None: drawn."""
    focal_known: bool = True
    distance: float = 2500.0
    noise: float = 2.0
    exact: bool = False
    """Whether every mark lies on its true point, but for the noise of the hand."""
    depth_factor: float = 1.0
    """What the true mean depths are a multiple of."""
    care: float = 1.0
    """What the usual turns of camera and sheet are a multiple of; under 1 both stand on something."""
    leave_out: tuple[str, ...] = ()
    sheet_depth: float = 0.0
    """How much nearer to the camera than the hip the sheet stands [mm]."""
    sheet_twist: float = 0.0
    sheet_lean: float = 0.0
    """What the sheet is turned besides, about the upright and out of plumb [deg]."""
    views: int = 1
    """Pictures of the scene; who marks a point in several puts it wrong the same way."""


@dataclass
class DrawnScene:
    """One scene as marked, and what is true of it."""

    corners: list[tuple[float, float]]
    points: dict[str, tuple[float, float]]
    truth: dict[str, float]
    focal_told: float
    focal: float
    stature: float
    further: list[tuple[list[tuple[float, float]], dict[str, tuple[float, float]], float]]
    """Corners, points and focal length told of further pictures."""


def _unit(vector: list[float]) -> list[float]:
    length = math.sqrt(sum(part * part for part in vector))
    return [part / length for part in vector]


def _cross(a: list[float], b: list[float]) -> list[float]:
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]


def _dot(a: list[float], b: list[float]) -> float:
    return sum(one * other for one, other in zip(a, b, strict=True))


class Pinhole:
    """A camera by where it stands, the way it looks, and how far it is rolled."""

    def __init__(
        self,
        place: list[float],
        turn: tuple[float, float, float],
        focal: float,
        bend: float,
        size: tuple[int, int],
    ) -> None:
        yaw, pitch, roll = turn
        ahead = [math.sin(yaw) * math.cos(pitch), math.sin(pitch), -math.cos(yaw) * math.cos(pitch)]
        level = _unit(_cross(ahead, [0.0, 1.0, 0.0]))
        above = _cross(level, ahead)
        self.right = [math.cos(roll) * a + math.sin(roll) * b for a, b in zip(level, above, strict=True)]
        self.up = [-math.sin(roll) * a + math.cos(roll) * b for a, b in zip(level, above, strict=True)]
        self.ahead, self.place, self.focal, self.bend, self.size = ahead, place, focal, bend, size

    def sees(self, point: list[float]) -> tuple[float, float]:
        way = [one - other for one, other in zip(point, self.place, strict=True)]
        away = _dot(way, self.ahead)
        x, y = _dot(way, self.right) / away, _dot(way, self.up) / away
        stretch = 1 + self.bend * (x * x + y * y)
        return (
            self.size[0] / 2 + self.focal * x * stretch,
            self.size[1] / 2 - self.focal * y * stretch,
        )


def frame_focal(size: tuple[int, int], equivalent: float) -> float:
    """Focal length by the diagonal of the picture [px]."""
    return math.hypot(*size) * equivalent / math.hypot(36.0, 24.0)


def drawn(seed: int, how: Drawing) -> DrawnScene:
    """Draw one scene."""
    random = np.random.default_rng(seed)
    # What was added later has draws of its own, so that scenes stay those they were.
    later = np.random.default_rng([seed, 1])

    def normal(mean: float, sd: float) -> float:
        return float(random.normal(mean, sd))

    def normal_later(mean: float, sd: float) -> float:
        return float(later.normal(mean, sd))

    stature = float(np.clip(normal(1680, 90), 1480, 1920))
    part = stature / 1680
    seat = normal(450, 30)
    trunk, arm = math.radians(normal(2, 8)), math.radians(normal(15, 10))
    fore, thigh = math.radians(normal(5, 10)), math.radians(normal(0, 6))
    shank = math.radians(normal(0, 10))
    flat: dict[str, tuple[float, float]] = {"trochanter": (0.0, seat + 80)}

    def beyond(start: str, name: str, length: float, heading: float) -> None:
        x, y = flat[start]
        flat[name] = (x + length * math.cos(heading), y + length * math.sin(heading))

    beyond("trochanter", "acromion", 470 * part, math.pi / 2 - trunk)
    beyond("acromion", "c7", 75 * part, math.pi / 2 + math.radians(35) - trunk)
    beyond("c7", "tragus", 125 * part, math.radians(normal(45, 8)))
    beyond("tragus", "eye", 85 * part, math.radians(normal(10, 8)))
    beyond("acromion", "elbow", 0.186 * stature * normal(1, 0.03), -math.pi / 2 + arm)
    beyond("elbow", "wrist", 0.146 * stature * normal(1, 0.03), fore)
    beyond("trochanter", "knee", 0.245 * stature * normal(1, 0.03), thigh)
    beyond("knee", "ankle", 0.246 * stature * normal(1, 0.03), -math.pi / 2 + shank)
    desk = normal(735, 20)
    edge = flat["elbow"][0] + normal(60, 40)
    screen = flat["eye"][0] + normal(560, 60)
    flat["seat_front"] = (0.17 * stature, seat)
    flat["seat_back"] = (flat["seat_front"][0] - normal(430, 20), seat - normal(10, 8))
    flat["desk_edge"] = (edge, desk)
    flat["desk_underside"] = (edge, desk - normal(35, 8))
    top = desk + normal(430, 60)
    tall = normal(250, 30)
    flat["screen_top"] = (screen + 30, top)
    flat["screen_bottom"] = (screen, top - tall)
    flat["keys"] = (edge + normal(140, 30), desk + 25)
    flat["foot_surface"] = (flat["ankle"][0] + 60, abs(normal(0, 1)) if random.random() < 0.7 else 80.0)
    hand = fore + math.radians(normal_later(12, 10))
    beyond("wrist", "knuckle", 85 * part * normal_later(1, 0.03), hand)
    flat["floor_a"], flat["floor_b"] = (normal(-300, 60), 0.0), (normal(600, 80), normal(0, 4))

    def draws(name: str) -> Callable[[float, float], float]:
        return normal_later if name == "knuckle" else normal

    world = {
        name: [x, y, draws(name)(how.depth_factor * DEPTHS[name][0], DEPTHS[name][1])]
        for name, (x, y) in flat.items()
        if name not in how.leave_out
    }

    width, height = SHEETS[how.sheet]
    twist, lean, roll = (math.radians(normal(0, how.care * sd)) for sd in (2.5, 2, 2))
    twist, lean = twist + math.radians(how.sheet_twist), lean + math.radians(how.sheet_lean)
    middle = [normal(60, 60), seat + normal(180, 60), how.sheet_depth]
    # How the sheet lies: along and down its sides, by twisting, leaning and rolling it in the room.
    along = [math.cos(twist), 0.0, -math.sin(twist)]
    facing = [math.sin(twist), 0.0, math.cos(twist)]
    upward = [math.sin(lean) * facing[0], math.cos(lean), math.sin(lean) * facing[2]]
    side = [math.cos(roll) * a + math.sin(roll) * b for a, b in zip(along, upward, strict=True)]
    tall_side = [-math.sin(roll) * a + math.cos(roll) * b for a, b in zip(along, upward, strict=True)]
    corners = [
        [
            m + sx * width / 2 * a + sy * height / 2 * b
            for m, a, b in zip(middle, side, tall_side, strict=True)
        ]
        for sx, sy in ((-1, 1), (1, 1), (1, -1), (-1, -1))
    ]

    def place_sd(name: str) -> float:
        return 17.5 if name == "trochanter" else 10.0 if name in BODY or name == "knuckle" else 5.0

    offsets: dict[str, tuple[float, float]] = {}

    def pictured(
        any_normal: Callable[[float, float], float], random: np.random.Generator
    ) -> tuple[list[tuple[float, float]], dict[str, tuple[float, float]], float, float]:
        equivalent = (
            math.exp(random.uniform(math.log(24), math.log(80))) if how.equivalent is None else how.equivalent
        )
        distance = how.distance * (equivalent / 26 if how.equivalent is None else 1)
        focal = frame_focal(how.size, equivalent)
        told = focal * math.exp(any_normal(0, 0.02))
        yaw = math.radians(any_normal(0, how.care * 3.5))
        place = [160 - distance * math.sin(yaw), any_normal(650, how.care * 100), distance * math.cos(yaw)]
        aim = math.atan2(640 - place[1], distance)
        turn = [math.radians(any_normal(0, how.care * sd)) for sd in (2, 3, 2)]
        camera = Pinhole(place, (yaw + turn[0], aim + turn[1], turn[2]), focal, any_normal(0, 0.01), how.size)

        def marked(name: str, point: list[float], sd: float) -> tuple[float, float]:
            draw = normal_later if name == "knuckle" else any_normal
            if name not in offsets:
                offsets[name] = (0.0, 0.0) if how.exact else (draw(0, sd), draw(0, sd))
            x, y = (one + off for one, off in zip(point, offsets[name], strict=False))
            across, down = camera.sees([x, y, point[2]])
            return across + draw(0, how.noise), down + draw(0, how.noise)

        return (
            [marked(f"corner {number}", corner, 0.0) for number, corner in enumerate(corners)],
            {name: marked(name, point, place_sd(name)) for name, point in world.items()},
            told,
            focal,
        )

    first_corners, points, told, focal = pictured(normal, random)
    more = [pictured(normal_later, later)[:3] for _ in range(1, how.views)]
    return DrawnScene(
        corners=first_corners,
        points=points,
        truth=truth_of({name: tuple(point) for name, point in world.items()}),
        focal_told=told,
        focal=focal,
        stature=stature,
        further=more,
    )


def truth_of(world: dict[str, tuple[float, ...]]) -> dict[str, float]:
    """What the measures truly are, in words of their own."""
    flat = {name: (x, y) for name, (x, y, _) in world.items()}
    floor = [flat[name][1] for name in ("floor_a", "floor_b") if name in flat]
    out: dict[str, float] = {}
    for measure, name in (
        ("seat_height", "seat_front"), ("desk_height", "desk_edge"), ("desk_underside", "desk_underside"),
        ("foot_surface", "foot_surface"), ("keys_height", "keys"), ("elbow_height", "elbow"),
        ("eye_height", "eye"), ("screen_top", "screen_top"), ("screen_bottom", "screen_bottom"),
    ):  # fmt: skip
        if floor and name in flat:
            out[measure] = flat[name][1] - sum(floor) / len(floor)

    def inside(first: str, middle: str, last: str) -> float:
        a = [flat[first][i] - flat[middle][i] for i in range(2)]
        b = [flat[last][i] - flat[middle][i] for i in range(2)]
        return math.degrees(math.acos(_dot(_unit(a), _unit(b))))

    def lean(low: str, high: str) -> float:
        return math.degrees(math.atan2(flat[high][0] - flat[low][0], flat[high][1] - flat[low][1]))

    if {"screen_top", "desk_edge"} <= set(flat):
        out["screen_over_desk"] = flat["screen_top"][1] - flat["desk_edge"][1]
    if {"seat_front", "seat_back"} <= set(flat):
        out["seat_depth"] = flat["seat_front"][0] - flat["seat_back"][0]
        rise = flat["seat_front"][1] - flat["seat_back"][1]
        out["seat_slope"] = math.degrees(math.atan(rise / out["seat_depth"]))
    if {"screen_top", "screen_bottom", "eye"} <= set(flat):
        out["screen_height"] = math.dist(flat["screen_top"], flat["screen_bottom"])
        half = [(a + b) / 2 for a, b in zip(flat["screen_top"], flat["screen_bottom"], strict=True)]
        out["viewing_distance"] = math.dist(half, flat["eye"])
    if set(BODY) <= set(flat):
        out["craniovertebral_angle"] = 90 - lean("c7", "tragus")
        out["neck_angle"] = lean("c7", "tragus") - lean("trochanter", "acromion")
        out["trunk_angle"] = lean("trochanter", "acromion")
        x, y = (flat["elbow"][i] - flat["acromion"][i] for i in range(2))
        out["upper_arm_angle"] = math.degrees(math.atan2(x, -y))
        out["arm_to_trunk_angle"] = out["upper_arm_angle"] + out["trunk_angle"]
        if "knuckle" in flat:
            rises = [
                math.atan2(flat[end][1] - flat[start][1], flat[end][0] - flat[start][0])
                for start, end in (("elbow", "wrist"), ("wrist", "knuckle"))
            ]
            out["wrist_extension"] = math.degrees(rises[1] - rises[0])
        out["elbow_angle"] = inside("acromion", "elbow", "wrist")
        out["hip_angle"] = inside("acromion", "trochanter", "knee")
        out["knee_angle"] = inside("trochanter", "knee", "ankle")
    return out


def many(seeds: range, how: Drawing) -> list[DrawnScene]:
    """Draw scenes, one a seed."""
    return [drawn(seed, how) for seed in seeds]
