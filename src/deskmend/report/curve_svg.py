"""The curve of strain over money as a drawing: one SVG file, the same bytes on every machine."""

from __future__ import annotations

from xml.sax.saxutils import escape

from deskmend.errors import visible
from deskmend.messages import tr
from deskmend.money import currencies
from deskmend.numerals import shown_number
from deskmend.planning.compare import Comparison
from deskmend.report.case_name import case_name
from deskmend.report.numbers import amount_text
from deskmend.risk.strain import MILLION

__all__ = ["curve_svg"]

WIDTH, HEIGHT = 720, 440
LEFT, RIGHT, TOP, BOTTOM = 80, 24, 56, 64
"""Margins [px]."""
STEPS = (1, 2, 5)
"""Leading digits of the steps of an axis."""
MOST_TICKS = 8


def curve_svg(comparison: Comparison) -> str:
    """Draw strain left over money spent.

    Parameters
    ----------
    comparison : Comparison
        With at least one rung.

    Returns
    -------
    str
        A whole SVG document. Each plan stays the best up to the next, so the curve is a stair.
    """
    currency = comparison.currency
    unit = 10 ** currencies()[currency]
    rungs = comparison.rungs
    budgets = [one.budget for one in comparison.at]
    money = _ticks(max(rungs[-1].cost, *budgets, 1) if budgets else max(rungs[-1].cost, 1), unit)
    strain = _ticks(max(comparison.before.total, 1), MILLION)
    widest, highest = money[-1], strain[-1]

    def across(cost: int) -> str:
        return _tenths(LEFT * 10 + cost * (WIDTH - LEFT - RIGHT) * 10 // widest)

    def down(value: int) -> str:
        return _tenths((HEIGHT - BOTTOM) * 10 - value * (HEIGHT - TOP - BOTTOM) * 10 // highest)

    title = escape(visible(case_name(comparison.case), None), {'"': "&quot;"})
    named = escape(tr("Strain left over money spent: {case}", case="")) + title
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{named}" '
        'font-family="sans-serif" font-size="13">',
        f"<title>{named}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>',
        f'<text x="{LEFT}" y="28" font-size="15">{title}</text>',
    ]
    for value in money:
        x = across(value)
        out.append(f'<line x1="{x}" y1="{TOP}" x2="{x}" y2="{HEIGHT - BOTTOM}" stroke="#ddd"/>')
        shown = amount_text(value, currency) if value % unit else str(value // unit)
        out.append(f'<text x="{x}" y="{HEIGHT - BOTTOM + 20}" text-anchor="middle">{shown}</text>')
    for value in strain:
        y = down(value)
        out.append(f'<line x1="{LEFT}" y1="{y}" x2="{WIDTH - RIGHT}" y2="{y}" stroke="#ddd"/>')
        whole, rest = divmod(value, MILLION)
        shown = shown_number(str(whole) + (f".{rest:06d}".rstrip("0") if rest else ""))
        out.append(f'<text x="{LEFT - 8}" y="{y}" dy="4" text-anchor="end">{shown}</text>')
    now = down(comparison.before.total)
    out.append(
        f'<line x1="{LEFT}" y1="{now}" x2="{WIDTH - RIGHT}" y2="{now}" stroke="#777" stroke-dasharray="6 4"/>'
    )
    out.append(
        f'<text x="{WIDTH - RIGHT}" y="{now}" dy="-6" text-anchor="end" fill="#555">'
        f"{escape(tr('now'))}</text>"
    )
    path = [f"M{across(rungs[0].cost)} {down(rungs[0].strain)}"]
    for rung in rungs[1:]:
        path.append(f"H{across(rung.cost)} V{down(rung.strain)}")
    path.append(f"H{across(widest)}")
    out.append(f'<path d="{" ".join(path)}" fill="none" stroke="#1a5276" stroke-width="2"/>')
    for rung in rungs:
        knee = comparison.knee is not None and rung.cost == comparison.knee.cost
        dot = f'<circle cx="{across(rung.cost)}" cy="{down(rung.strain)}" r="{6 if knee else 4}" '
        fill = "#b9770e" if knee else "#1a5276"
        label = f"{amount_text(rung.cost, currency)} {currency}"
        if knee:
            label += f": {escape(tr('more buys less from here'))}"
        out.append(f'{dot}fill="{fill}"><title>{label}</title></circle>')
    spent = tr("money spent [{currency}]", currency=currency)
    middle = _tenths((LEFT + WIDTH - RIGHT) * 5)
    out.append(f'<text x="{middle}" y="{HEIGHT - 20}" text-anchor="middle">{escape(spent)}</text>')
    left = escape(tr("strain left [strain-hours a day]"))
    centre = _tenths((TOP + HEIGHT - BOTTOM) * 5)
    out.append(
        f'<text x="22" y="{centre}" text-anchor="middle" transform="rotate(-90 22 {centre})">{left}</text>'
    )
    return "\n".join([*out, "</svg>"]) + "\n"


def _ticks(most: int, unit: int) -> list[int]:
    """Round steps from 0 to the first that is not under the largest value."""
    size = 1
    while True:
        for digit in STEPS:
            step = digit * size
            if -(-most // step) <= MOST_TICKS and (step >= unit or unit % step == 0):
                return [step * number for number in range(-(-most // step) + 1)]
        size *= 10


def _tenths(value: int) -> str:
    """A tenth of a whole number, as decimal text."""
    return f"{value // 10}.{value % 10}"
