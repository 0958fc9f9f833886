"""Focal length of a picture: from its file in millimetres of a small-picture camera, or as usual.

A focal length "as with 35 mm film" is that of a camera whose frame, 36 by 24 mm, has the same diagonal view
(CIPA DCG-001, from memory); from it follows the focal length in pixels of any picture that is not cropped.
"""

from __future__ import annotations

import math

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
