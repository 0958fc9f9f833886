"""A camera: where a point of the room appears in the picture, and along which ray a pixel looks.

The room has x forward as the person faces, y up and z towards the camera [mm]; the picture has x right and y
down [px], with a person who faces right (others are mirrored first). A camera that is not turned at all looks
along -z. Everything broadcasts over leading axes, so that many pictures are worked out at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

NEWTON_STEPS = 30
"""Most steps to take the bend of a lens out of a ray; a lens of a telephone needs four."""

_FACING = np.diag([1.0, -1.0, -1.0])
"""From the room's axes to those of a camera that is not turned: right, down, ahead."""


@dataclass(frozen=True)
class Lens:
    """What is inside a camera: five figures of the pinhole, and two of the bend that a lens adds.

    Zhang 2000, IEEE TPAMI 22(11):1330, equations 1, 11 and 12. Arrays, or plain numbers.
    """

    across: Array | float
    """Focal length along x [px]."""
    down: Array | float
    """Focal length along y [px]."""
    centre: tuple[Array | float, Array | float]
    """Where the axis meets the picture [px]."""
    bend: tuple[Array | float, Array | float] = (0.0, 0.0)
    """k1 and k2, of the second and fourth power of the distance from the axis [-]."""
    skew: Array | float = 0.0
    """How far the columns lean [px]."""

    def pixels(self, ahead: Array) -> Array:
        """Pixels of points given right, down and ahead of the camera (..., 3)."""
        flat = ahead[..., :2] / ahead[..., 2:3]
        bent = flat * self._stretch(flat)[..., None]
        x = self.across * bent[..., 0] + self.skew * bent[..., 1] + self.centre[0]
        y = self.down * bent[..., 1] + self.centre[1]
        return np.stack([x, y], axis=-1)

    def rays(self, pixels: Array) -> Array:
        """Directions, right and down of the axis for one ahead, that appear at pixels (..., 2)."""
        v = (pixels[..., 1] - self.centre[1]) / self.down
        u = (pixels[..., 0] - self.centre[0] - self.skew * v) / self.across
        bent = np.stack([u, v], axis=-1)
        far = np.linalg.norm(bent, axis=-1)
        radius = far.copy()
        k1, k2 = self.bend
        for _ in range(NEWTON_STEPS):
            square = radius**2
            off = radius * (1.0 + k1 * square + k2 * square**2) - far
            radius = radius - off / (1.0 + 3.0 * k1 * square + 5.0 * k2 * square**2)
        scale = np.divide(radius, far, out=np.ones_like(far), where=far > 0.0)
        return np.asarray(bent * scale[..., None])

    def _stretch(self, flat: Array) -> Array:
        square = np.sum(flat**2, axis=-1)
        return np.asarray(1.0 + self.bend[0] * square + self.bend[1] * square**2)


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
    """Where points ahead of a camera appear that has square pixels and one figure of bend."""
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
