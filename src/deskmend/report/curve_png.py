"""The curve of strain over money as a PNG picture."""

from __future__ import annotations

from io import BytesIO
from itertools import pairwise

from PIL import Image, ImageDraw, ImageFont

from deskmend.report.curve import HEIGHT, WIDTH, Curve, Dot, Label, Line

__all__ = ["curve_png"]

SCALE = 2
"""Pixels of the picture for each of the drawing, for print."""
DASH, GAP = 6, 4
"""Of a dashed line [px]."""
ANCHORS = {"start": "ls", "middle": "ms", "end": "rs"}


def curve_png(curve: Curve) -> bytes:
    """Draw a curve as a PNG picture of 1440 by 880 pixels.

    Parameters
    ----------
    curve : Curve
        The drawing.

    Returns
    -------
    bytes
        A whole file; the letters are those that come with Pillow.
    """
    picture = Image.new("RGB", (WIDTH * SCALE, HEIGHT * SCALE), "white")
    pen = ImageDraw.Draw(picture)
    for shape in curve.shapes:
        if isinstance(shape, Line):
            _line(pen, shape)
        elif isinstance(shape, Dot):
            x, y, radius = _px(shape.at[0]), _px(shape.at[1]), shape.radius * SCALE
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=shape.colour)
        else:
            _label(picture, pen, shape)
    file = BytesIO()
    picture.save(file, "PNG")
    return file.getvalue()


def _px(tenths: int) -> float:
    return tenths * SCALE / 10


def _line(pen: ImageDraw.ImageDraw, line: Line) -> None:
    points = [(_px(x), _px(y)) for x, y in line.points]
    if not line.dashed:
        pen.line(points, fill=line.colour, width=line.width * SCALE)
        return
    # only level lines are dashed
    for (left, y), (right, _) in pairwise(points):
        x = left
        while x < right:
            pen.line(((x, y), (min(x + DASH * SCALE, right), y)), fill=line.colour, width=line.width * SCALE)
            x += (DASH + GAP) * SCALE


def _label(picture: Image.Image, pen: ImageDraw.ImageDraw, label: Label) -> None:
    font = ImageFont.load_default(label.size * SCALE)
    x, y = _px(label.at[0]), _px(label.at[1])
    if not label.upright:
        pen.text((x, y), label.text, fill=label.colour, font=font, anchor=ANCHORS[label.anchor])
        return
    left, top, right, bottom = (int(edge) for edge in font.getbbox(label.text))
    strip = Image.new("RGB", (right - left, bottom - top), "white")
    ImageDraw.Draw(strip).text((-left, -top), label.text, fill=label.colour, font=font)
    upright = strip.transpose(Image.Transpose.ROTATE_90)
    picture.paste(upright, (int(x) - upright.width, int(y) - upright.height // 2))
