"""Pictures and marks files as a person would have them, written for tests."""

from __future__ import annotations

from pathlib import Path

import yaml
from PIL import Image

from .drawn_scenes import Drawing, DrawnScene, drawn

SMALL = Drawing(size=(1600, 1200), noise=1.0)
"""A picture of a size that is written quickly."""


def write_picture(path: Path, size: tuple[int, int], focal: float | None = 26.0, turned: int = 1) -> Path:
    """Write a plain picture with what a telephone tells of itself, its place included."""
    exif = Image.Exif()
    exif[0x0112] = turned
    exif[0x010F] = "somebody's telephone"
    told = exif.get_ifd(0x8769)
    if focal is not None:
        told[0xA405] = round(focal)
    exif.get_ifd(0x8825)[1] = "N"
    Image.new("RGB", size, "#8090a0").save(path, exif=exif)
    return path


def marks_of(scene: DrawnScene, picture: str, faces: str = "right", width: int = 0) -> dict[str, object]:
    """Give a marks file's content; who faces left is the same person in a mirror."""
    if faces == "left":
        points = {name: [width - x, y] for name, (x, y) in scene.points.items()}
        a, b, c, d = [[width - x, y] for x, y in scene.corners]
        corners = [b, a, d, c]
    else:
        points = {name: list(at) for name, at in scene.points.items()}
        corners = [list(corner) for corner in scene.corners]
    return {
        "format": "deskmend-marks/1",
        "picture": picture,
        "person_faces": faces,
        "sheet": {"kind": "a4", "corners": corners},
        "points": points,
    }


def write_marks(path: Path, content: dict[str, object]) -> Path:
    path.write_text(yaml.safe_dump(content, sort_keys=False), encoding="utf-8")
    return path


def write_both(folder: Path, seed: int = 3, how: Drawing = SMALL) -> tuple[Path, Path, DrawnScene]:
    """Write a picture and the marks of one drawn scene."""
    scene = drawn(seed, how)
    picture = write_picture(folder / "desk.jpg", how.size)
    return picture, write_marks(folder / "marks.yaml", marks_of(scene, "desk.jpg")), scene
