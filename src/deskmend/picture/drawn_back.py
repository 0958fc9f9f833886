"""Marks drawn back, for a person to see whether each is where it belongs.

They are drawn on a blank ground; on the picture only where that was asked for, made anew without anything
that its file said, and with the head blurred unless it may be seen.
"""

from __future__ import annotations

from io import BytesIO

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from deskmend.errors import InputFaults, option_fault
from deskmend.picture.landmarks import landmarks
from deskmend.picture.measuring import PictureMeasures, Shot, scene_of

LONGEST_SIDE = 1600
"""Longer side of a drawing [px]."""
GROUND, INK, BODY, THINGS = "#ffffff", "#1a5276", "#b03a2e", "#117a65"
LINES = (
    ("c7", "tragus"), ("tragus", "eye"), ("c7", "acromion"), ("acromion", "elbow"), ("elbow", "wrist"),
    ("wrist", "knuckle"), ("acromion", "trochanter"), ("trochanter", "knee"), ("knee", "ankle"),
    ("seat_back", "seat_front"),
    ("desk_edge", "desk_underside"), ("screen_top", "screen_bottom"), ("floor_a", "floor_b"),
)  # fmt: skip
"""What is joined by a line."""
OF_BODY = ("eye", "tragus", "c7", "acromion", "elbow", "wrist", "knuckle", "trochanter", "knee", "ankle")
HEAD_RADIUS = 190.0
"""About the ear, what holds every head with its hair [mm] (judgement)."""
DOT = 6


def drawing(told: PictureMeasures, keep: bool = False, face: bool = False) -> bytes:
    """Draw sheet and marks as a PNG, several pictures below each other; with `keep` on the pictures.

    With `face` no head is blurred.
    """
    parts = [_drawn(shot, keep, face) for shot in told.shots]
    whole = Image.new("RGB", (max(one.width for one in parts), sum(one.height for one in parts)), GROUND)
    top = 0
    for one in parts:
        whole.paste(one, (0, top))
        top += one.height
    out = BytesIO()
    whole.save(out, format="PNG")
    return out.getvalue()


def _drawn(shot: Shot, keep: bool, face: bool) -> Image.Image:
    size = shot.picture.size
    factor = min(1.0, LONGEST_SIDE / max(size))
    across, down = (max(1, round(side * factor)) for side in size)
    ground = Image.new("RGB", (across, down), GROUND)
    if keep:
        ground.paste(shot.picture.image.resize((across, down)))
        if not face:
            _blur_head(ground, shot, factor)
    pen = ImageDraw.Draw(ground)
    font = ImageFont.load_default(size=16)
    at = {name: (x * factor, y * factor) for name, (x, y) in shot.marks.marked.items()}
    corners = [(x * factor, y * factor) for x, y in shot.marks.sheet.corners]
    pen.line([*corners, corners[0]], fill=INK, width=3)
    for first, second in LINES:
        if first in at and second in at:
            pen.line([at[first], at[second]], fill=BODY if first in OF_BODY else THINGS, width=2)
    for name, (x, y) in at.items():
        colour = BODY if name in OF_BODY else THINGS
        pen.ellipse((x - DOT, y - DOT, x + DOT, y + DOT), outline=colour, width=3)
        pen.text((x + DOT + 4, y - 8), landmarks()[name].name, fill=colour, font=font)
    return ground


def _blur_head(ground: Image.Image, shot: Shot, factor: float) -> None:
    """Blur what lies about the ear; refused where no mark tells where the head is."""
    marked = shot.marks.marked
    near = next((marked[name] for name in ("tragus", "eye", "c7") if name in marked), None)
    if near is None:
        hint = "mark the ear or the eye, or say --face to show it"
        raise InputFaults([option_fault("--keep", None, "a picture whose head is marked", hint)])
    radius = HEAD_RADIUS * float(scene_of([shot], {}).scale(0)[0]) * factor
    x, y = near[0] * factor, near[1] * factor
    box = np.round([x - radius, y - radius, x + radius, y + radius]).astype(int).tolist()
    left, top = max(box[0], 0), max(box[1], 0)
    right, bottom = min(box[2], ground.width), min(box[3], ground.height)
    if right <= left or bottom <= top:
        return
    part = ground.crop((left, top, right, bottom))
    # Made coarse first: a blur alone can be sharpened again.
    coarse = part.resize((max(1, part.width // 40), max(1, part.height // 40)), Image.Resampling.BOX)
    smooth = coarse.resize(part.size, Image.Resampling.BICUBIC).filter(ImageFilter.GaussianBlur(radius / 8))
    ground.paste(smooth, (left, top))
