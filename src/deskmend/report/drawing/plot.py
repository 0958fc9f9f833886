"""Strain over money as a picture: shapes in tenths of a pixel, written as SVG or painted as PNG.

The same comparison gives the same bytes on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from typing import Literal
from xml.sax.saxutils import escape

from PIL import Image, ImageDraw, ImageFont

from deskmend.errors import visible
from deskmend.language import shown_number, tr
from deskmend.measures import MILLION, currencies
from deskmend.planning.budgets import Comparison
from deskmend.report.words import amount_text, case_name

__all__ = ["HEIGHT", "WIDTH", "Dot", "Label", "Plot", "Stroke", "plot_of", "plot_png", "plot_svg"]

WIDTH, HEIGHT = 720, 440
LEFT, RIGHT, TOP, BOTTOM = 80, 24, 56, 64
"""Margins [px]."""
TICK_DIGITS = (1, 2, 5)
"""Leading digits of the steps of an axis."""
MOST_TICKS = 8
INK, PALE, DARK, MARK = "#1a5276", "#dddddd", "#555555", "#b9770e"

Tenths = tuple[int, int]
"""Across and down [tenths of a pixel]."""


@dataclass(frozen=True)
class Stroke:
    """A line through points; widths in pixels."""

    points: tuple[Tenths, ...]
    colour: str
    width: int = 1
    dashed: bool = False


@dataclass(frozen=True)
class Label:
    """A line of text; `at` is where its base line starts, has its middle, or ends [tenths of a pixel]."""

    text: str
    at: Tenths
    anchor: Literal["start", "middle", "end"] = "start"
    size: int = 13
    colour: str = "#000000"
    upright: bool = False


@dataclass(frozen=True)
class Dot:
    """One plan; radius in pixels."""

    at: Tenths
    radius: int
    colour: str
    text: str


@dataclass(frozen=True)
class Plot:
    """A drawing: what it shows in words, and its shapes from the back to the front."""

    named: str
    shapes: tuple[Stroke | Label | Dot, ...]


def plot_of(comparison: Comparison) -> Plot:
    """Draw strain left over money spent; each plan stays the best up to the next, so the curve is a stair.

    Of budgets asked for nothing is known in between: each plan then has a line from its cost to the budget.
    """
    currency = comparison.currency
    unit = 10 ** currencies()[currency]
    rungs = comparison.rungs
    money = _ticks(max(rungs[-1].cost, 1, *(one.budget for one in comparison.at)), unit)
    strain = _ticks(max(comparison.before.total, 1), MILLION)
    low, right = (HEIGHT - BOTTOM) * 10, (WIDTH - RIGHT) * 10

    def across(cost: int) -> int:
        return LEFT * 10 + cost * (WIDTH - LEFT - RIGHT) * 10 // money[-1]

    def down(value: int) -> int:
        return low - value * (HEIGHT - TOP - BOTTOM) * 10 // strain[-1]

    title = visible(case_name(comparison.case), None)
    out: list[Stroke | Label | Dot] = [Label(title, (LEFT * 10, 280), size=15)]
    for value in money:
        x = across(value)
        shown = amount_text(value, currency) if value % unit else str(value // unit)
        out += [Stroke(((x, TOP * 10), (x, low)), PALE), Label(shown, (x, low + 200), "middle")]
    for value in strain:
        y = down(value)
        whole, rest = divmod(value, MILLION)
        shown = shown_number(str(whole) + (f".{rest:06d}".rstrip("0") if rest else ""))
        out += [
            Stroke(((LEFT * 10, y), (right, y)), PALE),
            Label(shown, (LEFT * 10 - 80, y + 40), "end"),
        ]
    now = down(comparison.before.total)
    out.append(Stroke(((LEFT * 10, now), (right, now)), DARK, dashed=True))
    out.append(Label(tr("now"), (right, now - 60), "end", colour=DARK))
    for one in comparison.at:
        if one.plan is not None and one.plan.cost < one.budget:
            y = down(one.plan.strain)
            out.append(Stroke(((across(one.plan.cost), y), (across(one.budget), y)), INK, 2))
    if not comparison.at:
        stair = [(across(rungs[0].cost), down(rungs[0].strain))]
        for rung in rungs[1:]:
            stair += [(across(rung.cost), stair[-1][1]), (across(rung.cost), down(rung.strain))]
        stair.append((across(money[-1]), stair[-1][1]))
        out.append(Stroke(tuple(stair), INK, 2))
    for rung in rungs:
        knee = comparison.knee is not None and rung.cost == comparison.knee.cost
        x, y = across(rung.cost), down(rung.strain)
        text = f"{amount_text(rung.cost, currency)} {currency}"
        if knee:
            text += f": {tr('more buys less from here')}"
            # a falling stair leaves room above on its right, and below on its left
            if x < (LEFT + WIDTH - RIGHT) * 5:
                out.append(Label(text, (x + 100, y - 100), colour=MARK))
            else:
                out.append(Label(text, (x - 100, y + 200), "end", colour=MARK))
        out.append(Dot((x, y), 6 if knee else 4, MARK if knee else INK, text))
    spent = tr("money spent [{currency}]", currency=currency)
    out.append(Label(spent, ((LEFT + WIDTH - RIGHT) * 5, (HEIGHT - 20) * 10), "middle"))
    left = tr("strain left [strain-hours a day]")
    out.append(Label(left, (220, (TOP + HEIGHT - BOTTOM) * 5), "middle", upright=True))
    return Plot(tr("Strain left over money spent: {case}", case="") + title, tuple(out))


def _ticks(most: int, unit: int) -> list[int]:
    """Round steps from 0 to the first that is not under the largest value."""
    size = 1
    while True:
        for digit in TICK_DIGITS:
            step = digit * size
            if -(-most // step) <= MOST_TICKS and (step >= unit or unit % step == 0):
                return [step * number for number in range(-(-most // step) + 1)]
        size *= 10


SCALE = 2
"""Pixels of the picture for each of the drawing, for print."""
DASH, GAP = 6, 4
"""Of a dashed line [px]."""
ANCHORS = {"start": "ls", "middle": "ms", "end": "rs"}


def plot_png(plot: Plot) -> bytes:
    """PNG file of 1440 by 880 pixels; the letters are those that come with Pillow."""
    picture = Image.new("RGB", (WIDTH * SCALE, HEIGHT * SCALE), "white")
    pen = ImageDraw.Draw(picture)
    for shape in plot.shapes:
        if isinstance(shape, Stroke):
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


def _line(pen: ImageDraw.ImageDraw, stroke: Stroke) -> None:
    points = [(_px(x), _px(y)) for x, y in stroke.points]
    if not stroke.dashed:
        pen.line(points, fill=stroke.colour, width=stroke.width * SCALE)
        return
    # only level lines are dashed
    for (left, y), (right, _) in pairwise(points):
        x = left
        while x < right:
            pen.line(
                ((x, y), (min(x + DASH * SCALE, right), y)), fill=stroke.colour, width=stroke.width * SCALE
            )
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


def plot_svg(plot: Plot) -> str:
    """SVG document; texts are escaped."""
    named = escape(plot.named, {'"': "&quot;"})
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{named}" font-family="sans-serif">',
        f"<title>{named}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>',
        *(_shape(shape) for shape in plot.shapes),
        "</svg>",
    ]
    return "\n".join(out) + "\n"


def _shape(shape: Stroke | Label | Dot) -> str:
    if isinstance(shape, Stroke):
        path = " ".join(f"{'M' if k == 0 else 'L'}{_at(x)} {_at(y)}" for k, (x, y) in enumerate(shape.points))
        dashes = ' stroke-dasharray="6 4"' if shape.dashed else ""
        return f'<path d="{path}" fill="none" stroke="{shape.colour}" stroke-width="{shape.width}"{dashes}/>'
    x, y = _at(shape.at[0]), _at(shape.at[1])
    if isinstance(shape, Dot):
        title = f"<title>{escape(shape.text)}</title>"
        return f'<circle cx="{x}" cy="{y}" r="{shape.radius}" fill="{shape.colour}">{title}</circle>'
    turned = f' transform="rotate(-90 {x} {y})"' if shape.upright else ""
    return (
        f'<text x="{x}" y="{y}" text-anchor="{shape.anchor}" font-size="{shape.size}" '
        f'fill="{shape.colour}"{turned}>{escape(shape.text)}</text>'
    )


def _at(tenths: int) -> str:
    """Tenths of a pixel, as decimal text."""
    return f"{tenths // 10}.{tenths % 10}"
