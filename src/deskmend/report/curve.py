"""The curve of strain over money as shapes, in tenths of a pixel; drawn as SVG or PNG elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from deskmend.errors import visible
from deskmend.messages import tr
from deskmend.money import currencies
from deskmend.numerals import shown_number
from deskmend.planning.compare import Comparison
from deskmend.report.case_name import case_name
from deskmend.report.numbers import amount_text
from deskmend.risk.strain import MILLION

__all__ = ["HEIGHT", "WIDTH", "Curve", "Dot", "Label", "Line", "curve_of"]

WIDTH, HEIGHT = 720, 440
LEFT, RIGHT, TOP, BOTTOM = 80, 24, 56, 64
"""Margins [px]."""
STEPS = (1, 2, 5)
"""Leading digits of the steps of an axis."""
MOST_TICKS = 8
INK, PALE, DARK, MARK = "#1a5276", "#dddddd", "#555555", "#b9770e"

Point = tuple[int, int]
"""Across and down [tenths of a pixel]."""


@dataclass(frozen=True)
class Line:
    """A line through points; widths in pixels."""

    points: tuple[Point, ...]
    colour: str
    width: int = 1
    dashed: bool = False


@dataclass(frozen=True)
class Label:
    """A line of text; `at` is where its base line starts, has its middle, or ends [tenths of a pixel]."""

    text: str
    at: Point
    anchor: Literal["start", "middle", "end"] = "start"
    size: int = 13
    colour: str = "#000000"
    upright: bool = False


@dataclass(frozen=True)
class Dot:
    """One plan; radius in pixels."""

    at: Point
    radius: int
    colour: str
    text: str


@dataclass(frozen=True)
class Curve:
    """A drawing: what it shows in words, and its shapes from the back to the front."""

    named: str
    shapes: tuple[Line | Label | Dot, ...]


def curve_of(comparison: Comparison) -> Curve:
    """Draw strain left over money spent.

    Parameters
    ----------
    comparison : Comparison
        With at least one rung.

    Returns
    -------
    Curve
        Each plan stays the best up to the next, so the curve is a stair.
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
    out: list[Line | Label | Dot] = [Label(title, (LEFT * 10, 280), size=15)]
    for value in money:
        x = across(value)
        shown = amount_text(value, currency) if value % unit else str(value // unit)
        out += [Line(((x, TOP * 10), (x, low)), PALE), Label(shown, (x, low + 200), "middle")]
    for value in strain:
        y = down(value)
        whole, rest = divmod(value, MILLION)
        shown = shown_number(str(whole) + (f".{rest:06d}".rstrip("0") if rest else ""))
        out += [
            Line(((LEFT * 10, y), (right, y)), PALE),
            Label(shown, (LEFT * 10 - 80, y + 40), "end"),
        ]
    now = down(comparison.before.total)
    out.append(Line(((LEFT * 10, now), (right, now)), DARK, dashed=True))
    out.append(Label(tr("now"), (right, now - 60), "end", colour=DARK))
    stair = [(across(rungs[0].cost), down(rungs[0].strain))]
    for rung in rungs[1:]:
        stair += [(across(rung.cost), stair[-1][1]), (across(rung.cost), down(rung.strain))]
    stair.append((across(money[-1]), stair[-1][1]))
    out.append(Line(tuple(stair), INK, 2))
    for rung in rungs:
        knee = comparison.knee is not None and rung.cost == comparison.knee.cost
        text = f"{amount_text(rung.cost, currency)} {currency}"
        if knee:
            text += f": {tr('more buys less from here')}"
        out.append(Dot((across(rung.cost), down(rung.strain)), 6 if knee else 4, MARK if knee else INK, text))
    spent = tr("money spent [{currency}]", currency=currency)
    out.append(Label(spent, ((LEFT + WIDTH - RIGHT) * 5, (HEIGHT - 20) * 10), "middle"))
    left = tr("strain left [strain-hours a day]")
    out.append(Label(left, (220, (TOP + HEIGHT - BOTTOM) * 5), "middle", upright=True))
    return Curve(tr("Strain left over money spent: {case}", case="") + title, tuple(out))


def _ticks(most: int, unit: int) -> list[int]:
    """Round steps from 0 to the first that is not under the largest value."""
    size = 1
    while True:
        for digit in STEPS:
            step = digit * size
            if -(-most // step) <= MOST_TICKS and (step >= unit or unit % step == 0):
                return [step * number for number in range(-(-most // step) + 1)]
        size *= 10
