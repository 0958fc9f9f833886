"""A picture and its camera: the file, bounded and upright, its focal length, where points appear.

A focal length "as with 35 mm film" is that of a camera whose frame, 36 by 24 mm, has the same diagonal view
(CIPA DCG-001, from memory); from it follows the focal length in pixels of any picture that is not cropped.

The room has x forward as the person faces, y up and z towards the camera [mm]; the picture has x right and y
down [px], with a person who faces right (others are mirrored first). A camera that is not turned at all looks
along -z. Everything broadcasts over leading axes, so that many pictures are worked out at once.

Pictures come from strangers and from telephones: size is looked at before anything is unpacked, what is
packed too tight is refused, and place, time and name of the camera never leave this module.
"""

from __future__ import annotations

import math
import struct
import warnings
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from deskmend.errors import FaultList, InputFaults
from deskmend.intake.reading.text_file import read_bounded_bytes

FRAME_DIAGONAL = math.hypot(36.0, 24.0)
"""Diagonal of the frame that focal lengths are told for [mm]."""
TOLD_FOCAL_SD = 0.02
"""How far off the focal length is that a file tells, as a part of it [-] (judgement): told in whole mm."""
UNKNOWN_FOCAL, UNKNOWN_FOCAL_SD = 28.0, 0.45
"""Usual focal length of a telephone, and the sd of its logarithm: 80 mm is 2.3 over it [mm] [-] (judgement).

Most pictures are taken with the wide lens; the spread lets in what is zoomed."""


def focal_pixels(size: tuple[int, int], equivalent: float) -> float:
    """Focal length of a picture [px], from that of a camera with a frame of 36 by 24 mm [mm].

    >>> round(focal_pixels((4000, 3000), 26.0))
    3005
    """
    return math.hypot(*size) * equivalent / FRAME_DIAGONAL


Array = NDArray[np.float64]

_FACING = np.diag([1.0, -1.0, -1.0])
"""From the room's axes to those of a camera that is not turned: right, down, ahead."""


def about(axis: int, angle: Array) -> tuple[Array, Array]:
    """Matrices that turn about one axis, right-handed, and their derivatives by the angle [rad]."""
    first, second = ((1, 2), (2, 0), (0, 1))[axis]
    cosine, sine = np.cos(angle), np.sin(angle)
    turn = np.zeros((*np.shape(angle), 3, 3))
    by = np.zeros_like(turn)
    turn[..., axis, axis] = 1.0
    turn[..., first, first] = turn[..., second, second] = cosine
    turn[..., first, second], turn[..., second, first] = -sine, sine
    by[..., first, first] = by[..., second, second] = -sine
    by[..., first, second], by[..., second, first] = -cosine, cosine
    return turn, by


def turned(yaw: Array, pitch: Array, roll: Array) -> tuple[Array, tuple[Array, Array, Array]]:
    """Room to camera: turned about the upright, nodded, then rolled; with derivatives by each [1/rad]."""
    (a, da), (b, db), (c, dc) = about(1, yaw), about(0, pitch), about(2, roll)
    facing = _FACING
    return c @ b @ facing @ a, (c @ b @ facing @ da, c @ db @ facing @ a, dc @ b @ facing @ a)


def sheet_turn(twist: Array, lean: Array, roll: Array) -> tuple[Array, tuple[Array, Array, Array]]:
    """Sheet to room: rolled in its plane, leaned, twisted about the upright; with derivatives [1/rad]."""
    (a, da), (b, db), (c, dc) = about(1, twist), about(0, lean), about(2, roll)
    return a @ b @ c, (da @ b @ c, a @ db @ c, a @ b @ dc)


@dataclass(frozen=True)
class Appearance:
    """Where points appear, and how that moves."""

    pixels: Array
    """(..., 2) [px]."""
    by_point: Array
    """By the point right, down and ahead of the camera (..., 2, 3) [px/mm]."""
    by_focal: Array
    """By the logarithm of the focal length (..., 2) [px]."""
    by_bend: Array
    """By the first figure of the bend (..., 2) [px]."""


def appearance(ahead: Array, focal: Array, bend: Array, centre: tuple[float, float]) -> Appearance:
    """Where points ahead of a camera appear that has square pixels and one figure of bend.

    Zhang 2000, IEEE TPAMI 22(11):1330, equations 1, 11 and 12, without skew and without the second figure.
    """
    flat = ahead[..., :2] / ahead[..., 2:3]
    square = np.sum(flat**2, axis=-1)[..., None]
    bent = flat * (1.0 + bend[..., None] * square)
    offset = focal[..., None] * bent
    by_flat = (1.0 + bend[..., None] * square)[..., None] * np.eye(2)
    by_flat = by_flat + 2.0 * bend[..., None, None] * flat[..., :, None] * flat[..., None, :]
    by_ahead = np.zeros((*flat.shape[:-1], 2, 3))
    by_ahead[..., 0, 0] = by_ahead[..., 1, 1] = 1.0 / ahead[..., 2]
    by_ahead[..., :, 2] = -flat / ahead[..., 2:3]
    return Appearance(
        pixels=offset + np.asarray(centre),
        by_point=focal[..., None, None] * (by_flat @ by_ahead),
        by_focal=offset,
        by_bend=focal[..., None] * flat * square,
    )


MOST_BYTES = 25_000_000
"""Largest file [bytes]."""
MOST_PIXELS = 60_000_000
"""Largest picture [px]."""
KEPT_SIDE = 1600
"""Longer side that a picture keeps at least, if it has it [px]."""
LEAST_SIDE = 200
"""Shorter side under which marks cannot be set well [px] (judgement)."""
FOCAL_TAKEN = (10.0, 300.0)
"""Focal lengths taken for true [mm]; others count as not told."""
USUAL_SHAPES = (1.0, 4 / 3, 3 / 2, 16 / 9)
"""Longer over shorter side of pictures as cameras write them [-]."""
SHAPE_SLACK = 0.02
"""How far a shape may be off as a part of it [-]: sides are cut to whole blocks."""

_EXIF, _ORIENTATION, _FOCAL_35, _WIDTH, _HEIGHT = 0x8769, 0x0112, 0xA405, 0xA002, 0xA003
"""Tags of Exif 2.3 (CIPA DC-008, from memory)."""
_ON_ITS_SIDE = (5, 6, 7, 8)
"""Orientations in which a picture lies on its side."""
_ALLOWED = "a picture as JPEG, PNG or HEIF"
_UNREADABLE = (OSError, ValueError, SyntaxError, EOFError, IndexError, KeyError, TypeError, struct.error)
"""What the decoders raise on damaged files, beside the two refusals of Pillow itself."""


@dataclass(frozen=True)
class Picture:
    """What is taken from a picture file; sizes are those of the upright picture."""

    size: tuple[int, int]
    """Across and down [px]."""
    equivalent: float | None
    """Focal length as with a frame of 36 by 24 mm [mm]; None where the file does not tell."""
    cropped: bool
    """Whether its shape is none that a camera writes, so that a part may have been cut off."""
    image: Image.Image
    """The upright picture, made anew, perhaps smaller: it carries nothing that the file said besides."""


def read_picture(path: str | Path) -> Picture:
    """Read a picture; `InputFaults` with the one thing that is wrong with it."""
    faults = FaultList(str(path))
    data = read_bounded_bytes(path, MOST_BYTES, faults)
    if data is None:
        raise InputFaults(faults)
    return picture_of(data, str(path))


def picture_of(data: bytes, name: str) -> Picture:
    """Read a picture from what stands in its file; `InputFaults` with the one thing that is wrong with it."""
    faults = FaultList(name)
    try:
        with warnings.catch_warnings():
            # What Pillow only warns of is over our own bound as well.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            return _read(data, faults)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        faults.add(None, "", None, f"at most {MOST_PIXELS // 1_000_000} megapixels", "", "is too large")
    except UnidentifiedImageError:
        faults.add(None, "", None, _ALLOWED, "", "is no picture that can be read")
    except _UNREADABLE:
        faults.add(None, "", None, _ALLOWED, "", "is damaged, or ends early")
    raise InputFaults(faults)


def _read(data: bytes, faults: FaultList) -> Picture:
    formats = ["JPEG", "PNG"]
    if data[4:8] == b"ftyp":
        _open_telephone_pictures(faults)
        formats = ["HEIF"]
    with Image.open(BytesIO(data), formats=formats) as opened:
        if opened.width * opened.height > MOST_PIXELS:
            note = f"has {opened.width} by {opened.height} pixels"
            faults.add(None, "", None, f"at most {MOST_PIXELS // 1_000_000} megapixels", "", note)
        elif min(opened.size) < LEAST_SIDE:
            note = f"has {opened.width} by {opened.height} pixels"
            faults.add(None, "", None, f"at least {LEAST_SIDE} pixels on every side", "", note)
        faults.raise_if_any()
        exif = opened.getexif()
        told = exif.get_ifd(_EXIF)
        size = opened.size
        turned = exif.get(_ORIENTATION) in _ON_ITS_SIDE
        # A JPEG is read whole but unpacked smaller: marks need its size, and drawings no more than this.
        opened.draft(None, (KEPT_SIDE, KEPT_SIDE))
        opened.load()
        ImageOps.exif_transpose(opened, in_place=True)
        image = Image.new("RGB", opened.size)
        image.paste(opened if opened.mode == "RGB" else opened.convert("RGB"))
        taken = (told.get(_WIDTH), told.get(_HEIGHT))
        upright = (size[1], size[0]) if turned else size
        return Picture(upright, _focal(told.get(_FOCAL_35)), _cropped(size, taken), image)


def _open_telephone_pictures(faults: FaultList) -> None:
    try:
        import pi_heif
    except ImportError:
        hint = "save it as JPEG, or install deskmend[heif]"
        faults.add(None, "", None, _ALLOWED, hint, "is a picture in HEIF")
        raise InputFaults(faults) from None
    pi_heif.register_heif_opener()


def _focal(told: object) -> float | None:
    try:
        focal = float(told)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return focal if FOCAL_TAKEN[0] <= focal <= FOCAL_TAKEN[1] else None


def _cropped(size: tuple[int, int], taken: tuple[object, object]) -> bool:
    """Whether a picture has lost a part: it has another shape than when it was taken, or an unusual one."""
    shape = max(size) / min(size)
    across, down = taken
    if isinstance(across, int) and isinstance(down, int) and min(across, down) > 0:
        usual = (max(across, down) / min(across, down),)
        return not any(abs(shape / one - 1) < SHAPE_SLACK for one in usual)
    return not any(abs(shape / one - 1) < SHAPE_SLACK for one in USUAL_SHAPES)
