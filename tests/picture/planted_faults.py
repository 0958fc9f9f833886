"""Faults planted in the marks of drawn scenes, one each, and the share that is found, by kind.

``python -m tests.picture.planted_faults`` writes the table of ``docs/measuring.md``; the second stage of the
tests holds the shares that are promised. The person's stature is known throughout, as a case tells it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from deskmend.errors import InputFaults
from deskmend.picture.doubts import Doubt, doubts
from deskmend.picture.marks import read_marks
from deskmend.picture.scene import PicturedScene, fit

from .drawn_scenes import SHEETS, Drawing, DrawnScene, drawn
from .solved import view_of

SCENES = 500
FIRST_SEED = 50_000
LIMBS = (("elbow", "wrist"), ("trochanter", "knee"), ("knee", "ankle"), ("acromion", "elbow"))
PAGE = Path(__file__).parents[2] / "docs" / "measuring.md"
BEGIN, END = "<!-- planted faults -->\n", "<!-- end of planted faults -->\n"

PLAIN = Drawing()
Plant = Callable[[DrawnScene, int], None]


@dataclass(frozen=True)
class Kind:
    """One kind of fault, and how it is planted."""

    words: str
    how: Drawing = PLAIN
    plant: Plant | None = None
    told_as: str = ""
    stature_off: float = 0.0
    promised: float | None = None
    """Share that has to be found at least."""
    scenes: int = SCENES


def _limbs(scene: DrawnScene, seed: int) -> None:
    _change(scene, *LIMBS[seed % len(LIMBS)])


def _change(scene: DrawnScene, first: str, second: str) -> None:
    points = scene.points
    points[first], points[second] = points[second], points[first]


def _mirrored(scene: DrawnScene, seed: int) -> None:
    a, b, c, d = scene.corners
    scene.corners = [b, a, d, c] if seed % 2 else [d, c, b, a]


def _corner(scene: DrawnScene, seed: int) -> None:
    x, y = scene.corners[seed % 4]
    heading = np.random.default_rng(seed).uniform(0, 2 * np.pi)
    scene.corners[seed % 4] = (x + 40 * np.cos(heading), y + 40 * np.sin(heading))


def _astray(scene: DrawnScene, seed: int) -> None:
    random = np.random.default_rng(seed)
    name = ("acromion", "elbow", "wrist", "trochanter", "knee", "ankle")[seed % 6]
    heading, (x, y) = random.uniform(0, 2 * np.pi), scene.points[name]
    # 180 mm where the sheet is; a px is nearly 0.84 mm there.
    scene.points[name] = (x + 214 * np.cos(heading), y + 214 * np.sin(heading))


KINDS = (
    Kind("two points of a limb changed over", plant=_limbs, promised=0.95),
    Kind("corners as in a mirror", plant=_mirrored, promised=0.95),
    Kind("Letter told as A4", Drawing(sheet="letter"), told_as="a4", promised=0.95, scenes=SCENES // 2),
    Kind("A4 told as Letter", told_as="letter", promised=0.95, scenes=SCENES // 2),
    Kind("one corner 40 px off", plant=_corner, scenes=100),
    Kind("a joint marked 180 mm off, any way", plant=_astray, scenes=100),
    Kind("sheet turned by 20 degrees", Drawing(sheet_twist=20.0), scenes=100),
    Kind("sheet leaning by 15 degrees", Drawing(sheet_lean=15.0), scenes=100),
    Kind("sheet 300 mm nearer than the hip", Drawing(sheet_depth=300.0), scenes=100),
    Kind("stature told 150 mm off", stature_off=150.0, scenes=100),
    Kind(
        "shoulder and neck (C7) changed over",
        plant=lambda scene, _: _change(scene, "acromion", "c7"),
        scenes=100,
    ),
)
CLEAN = Kind("nothing")


def found(kind: Kind, seed: int) -> list[Doubt] | None:
    """What is doubted in one scene; None where the marks are refused at once."""
    scene = drawn(seed, kind.how)
    if kind.plant is not None:
        kind.plant(scene, seed)
    plain = {
        "format": "deskmend-marks/1",
        "picture": "desk.jpg",
        "person_faces": "right",
        "sheet": {"kind": "a4", "corners": [[f"{x:.6f}", f"{y:.6f}"] for x, y in scene.corners]},
        "points": {"eye": ["100", "100"]},
    }
    try:
        read_marks(plain, "marks", "desk.jpg", kind.how.size)
    except InputFaults:
        return None
    solved = fit(PicturedScene((view_of([scene], kind.how),), SHEETS[kind.told_as or kind.how.sheet]))
    off = kind.stature_off if seed % 2 else -kind.stature_off
    told = scene.stature + off + float(np.random.default_rng([seed, 2]).normal(0, 10))
    return doubts(solved, told)


def share(kind: Kind) -> float:
    """Share of the scenes of a kind in which something is doubted or refused."""
    told = [found(kind, FIRST_SEED + number) for number in range(kind.scenes)]
    return sum(one is None or bool(one) for one in told) / kind.scenes


def table() -> str:
    """Table of the page."""
    rows = [f"| {kind.words} | {kind.scenes} | {100 * share(kind):.0f} % |" for kind in (*KINDS, CLEAN)]
    return "\n".join(["| planted | scenes | told of |", "|---|---|---|", *rows, ""])


def main() -> None:
    """Write the table into the page."""
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    PAGE.write_text(f"{before}{BEGIN}{table()}{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
