"""The curve of strain over money as an SVG file, the same bytes on every machine."""

from __future__ import annotations

from xml.sax.saxutils import escape

from deskmend.report.curve import HEIGHT, WIDTH, Curve, Dot, Label, Line

__all__ = ["curve_svg"]


def curve_svg(curve: Curve) -> str:
    """Write a drawing as one SVG document.

    Parameters
    ----------
    curve : Curve
        The drawing.

    Returns
    -------
    str
        A whole document; texts are escaped.
    """
    named = escape(curve.named, {'"': "&quot;"})
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{named}" font-family="sans-serif">',
        f"<title>{named}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>',
        *(_shape(shape) for shape in curve.shapes),
        "</svg>",
    ]
    return "\n".join(out) + "\n"


def _shape(shape: Line | Label | Dot) -> str:
    if isinstance(shape, Line):
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
