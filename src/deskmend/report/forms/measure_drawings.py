"""One drawing for each measure that is asked for: the thing to scale, where the tape goes, what is wanted.

Coordinates are pixels of a telephone's page, heights up; each drawing has a scale of its own, in which its
parts stand to each other as usual furniture and a body of 1650 mm do (judgement, drawn only).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

from deskmend.language import current_language, tr
from deskmend.report.drawing.svg import XY, Canvas

__all__ = ["DRAWINGS", "drawing_of"]

WIDE, HIGH = 360.0, 320.0
"""Size of a drawing [px]."""
LOW = -14.0
"""Lower edge of a drawing under the floor [px]."""
LINE = 19.0
"""From one line of a label to the next [px]."""


def _canvas(label: str, high: float = HIGH) -> Canvas:
    canvas = Canvas(0.0, WIDE, LOW, high, label)
    canvas.line((4.0, 0.0), (WIDE - 4.0, 0.0), "ground")
    return canvas


def _label(canvas: Canvas, thing: XY, at: XY, name: str, rest: str = "", anchor: str = "middle") -> None:
    """Words at a thing: a line from a dot on it to the words, the name bold."""
    x, y = at
    below = y > thing[1]
    foot = y - (LINE if rest else 0.0) - 6.0 if below else y + 15.0
    end = (x, foot) if anchor == "middle" else (x + (-4.0 if anchor == "start" else 4.0), y + 5.0)
    canvas.line(thing, end, "leader")
    canvas.circle(thing, 3.0, "dot")
    canvas.text(at, name, anchor, "name")
    if rest:
        canvas.text((x, y - LINE), rest, anchor, "rest")


def _height(canvas: Canvas, x: float, low: float, high: float, side: str = "right") -> None:
    """The height that is asked for."""
    for y, way in ((low, 1.0), (high, -1.0)):
        canvas.line((x - 7.0, y), (x + 7.0, y), "asked")
        canvas.outline([(x - 4.0, y + 8.0 * way), (x, y), (x + 4.0, y + 8.0 * way)], "asked", closed=False)
    canvas.line((x, low), (x, high), "asked")
    off, anchor = (11.0, "start") if side == "right" else (-11.0, "end")
    canvas.text((x + off, (low + high) / 2.0 - 9.0), "?", anchor, "wanted")


def _level(canvas: Canvas, y: float, left: float, right: float) -> None:
    """The depth that is asked for."""
    for x, way in ((left, 1.0), (right, -1.0)):
        canvas.line((x, y - 7.0), (x, y + 7.0), "asked")
        canvas.outline([(x + 8.0 * way, y - 4.0), (x, y), (x + 8.0 * way, y + 4.0)], "asked", closed=False)
    canvas.line((left, y), (right, y), "asked")
    canvas.text(((left + right) / 2.0, y + 9.0), "?", "middle", "wanted")


def _tape(canvas: Canvas, x: float, low: float, high: float) -> None:
    """A tape held upright, its case above."""
    canvas.box(x, x + 11.0, low, high, "tape")
    for number, y in enumerate(range(int(low) + 8, int(high) - 1, 8)):
        canvas.line((x, float(y)), (x + (6.0 if number % 5 == 4 else 3.5), float(y)), "tick")
    canvas.box(x - 3.0, x + 18.0, high, high + 26.0, "case")


def _edge(canvas: Canvas, y: float, left: float, right: float) -> None:
    canvas.line((left, y), (right, y), "thin")


def _chair(canvas: Canvas, left: float, depth: float, high: float, back: float) -> None:
    right = left + depth
    canvas.outline(
        [
            (left - 8.0, high - 10.0),
            (left - 1.0, high - 10.0),
            (left - 15.0, high + back),
            (left - 22.0, high + back),
        ],
        "wood",
    )
    canvas.line((left + 10.0, high - 14.0), (left + 4.0, 0.0), "leg")
    canvas.line((right - 10.0, high - 14.0), (right - 6.0, 0.0), "leg")
    canvas.box(left, right, high - 14.0, high, "wood")


def _table(canvas: Canvas, left: float, right: float, high: float, frame: float = 0.0) -> None:
    if frame:
        canvas.box(left + 20.0, right - 20.0, high - 11.0 - frame, high - 11.0, "wood")
    for x in (left + 16.0, right - 16.0):
        canvas.line((x, high - 11.0), (x, 0.0), "leg")
    canvas.box(left, right, high - 11.0, high, "wood")


def _seat_height() -> Canvas:
    canvas = _canvas(tr("A chair from the side. The height wanted goes from the floor to its front edge."))
    _chair(canvas, 40.0, 176.0, 189.0, 120.0)
    _tape(canvas, 222.0, 0.0, 214.0)
    _edge(canvas, 189.0, 40.0, 316.0)
    _height(canvas, 300.0, 0.0, 189.0)
    _label(canvas, (130.0, 189.0), (130.0, 252.0), tr("top of the seat,"), tr("at its front edge"))
    _label(canvas, (222.0, 60.0), (122.0, 92.0), tr("tape,"), tr("upright"))
    return canvas


def _seat_depth() -> Canvas:
    canvas = _canvas(tr("A chair from the side. The depth wanted goes from its front edge to its back."))
    _chair(canvas, 60.0, 190.0, 150.0, 130.0)
    _edge_up(canvas, 250.0, 150.0, 216.0)
    _edge_up(canvas, 59.0, 150.0, 216.0)
    _level(canvas, 204.0, 59.0, 250.0)
    _label(canvas, (49.0, 250.0), (120.0, 276.0), tr("back"), anchor="start")
    _label(canvas, (250.0, 150.0), (250.0, 84.0), tr("front edge"))
    return canvas


def _edge_up(canvas: Canvas, x: float, low: float, high: float) -> None:
    canvas.line((x, low), (x, high), "thin")


def _desk_height() -> Canvas:
    canvas = _canvas(tr("A table from the side. The height wanted goes from the floor to its top."))
    _table(canvas, 24.0, 230.0, 225.0)
    _tape(canvas, 236.0, 0.0, 250.0)
    _edge(canvas, 225.0, 24.0, 322.0)
    _height(canvas, 304.0, 0.0, 225.0)
    _label(canvas, (120.0, 225.0), (120.0, 286.0), tr("top of the table,"), tr("where the hands work"))
    _label(canvas, (236.0, 80.0), (130.0, 108.0), tr("tape,"), tr("upright"))
    return canvas


def _desk_underside() -> Canvas:
    canvas = _canvas(tr("A table from the side. The height wanted goes from the floor to its lowest part."))
    _table(canvas, 24.0, 250.0, 240.0, frame=42.0)
    _edge(canvas, 187.0, 60.0, 322.0)
    _height(canvas, 304.0, 0.0, 187.0)
    _label(canvas, (140.0, 187.0), (140.0, 110.0), tr("lowest part:"), tr("drawer or frame"))
    _label(canvas, (120.0, 240.0), (120.0, 282.0), tr("top of the table"))
    return canvas


def _foot_bar() -> Canvas:
    canvas = _canvas(tr("A table with a bar for the feet. The height wanted goes from the floor to the bar."))
    _table(canvas, 24.0, 250.0, 250.0)
    canvas.box(96.0, 120.0, 46.0, 60.0, "wood")
    _edge(canvas, 60.0, 108.0, 322.0)
    _height(canvas, 304.0, 0.0, 60.0)
    _label(canvas, (108.0, 60.0), (128.0, 134.0), tr("upper side"), tr("of the bar"))
    return canvas


def _foot_ring() -> Canvas:
    canvas = _canvas(
        tr("A high seat with a ring for the feet. The height wanted goes from the floor to the ring.")
    )
    canvas.box(90.0, 206.0, 246.0, 262.0, "wood")
    for top, foot in ((104.0, 76.0), (192.0, 220.0)):
        canvas.line((top, 246.0), (foot, 0.0), "leg")
    canvas.box(84.0, 212.0, 90.0, 100.0, "wood")
    _edge(canvas, 100.0, 84.0, 322.0)
    _height(canvas, 304.0, 0.0, 100.0)
    _label(canvas, (148.0, 100.0), (148.0, 170.0), tr("upper side"), tr("of the ring"))
    return canvas


def _feet_on() -> Canvas:
    canvas = _canvas(tr("Feet on a box. The height wanted goes from the floor to the top of the box."))
    canvas.box(60.0, 250.0, 0.0, 92.0, "wood")
    canvas.limb((124.0, 290.0), 26.0, (112.0, 122.0), 15.0, "body")
    canvas.outline([(94.0, 92.0), (94.0, 122.0), (128.0, 126.0), (168.0, 106.0), (174.0, 92.0)], "shoe")
    _edge(canvas, 92.0, 60.0, 322.0)
    _height(canvas, 304.0, 0.0, 92.0)
    _label(canvas, (220.0, 92.0), (236.0, 170.0), tr("what the feet"), tr("rest on"))
    return canvas


def _laptop(canvas: Canvas, left: float, base: float, scale: float) -> tuple[XY, XY]:
    """Draw a laptop from the side, 235 mm deep with a picture of 190 mm; give the ends of its picture."""
    hinge = (left + 235.0 * scale, base + 9.0 * scale)
    canvas.box(left, hinge[0], base, base + 17.0 * scale, "device")
    low = (hinge[0] + 4.0 * scale, base + 36.0 * scale)
    top = (hinge[0] + 62.0 * scale, base + 232.0 * scale)
    canvas.line(hinge, (top[0] + 2.0 * scale, top[1] + 10.0 * scale), "shell")
    canvas.line(low, top, "picture")
    return low, top


def _laptop_top() -> Canvas:
    canvas = _canvas(
        tr("A laptop from the side. The height wanted goes from the table to the top of its picture.")
    )
    canvas.box(4.0, 356.0, 30.0, 44.0, "wood")
    _, top = _laptop(canvas, 30.0, 44.0, 0.85)
    _edge(canvas, top[1], top[0] - 20.0, 322.0)
    _height(canvas, 306.0, 44.0, top[1])
    _label(canvas, top, (130.0, 286.0), tr("top edge"), tr("of what lights up"))
    _label(canvas, (90.0, 58.0), (96.0, 130.0), tr("lid as you work"))
    return canvas


def _laptop_keys() -> Canvas:
    canvas = _canvas(
        tr("The keys of a laptop from the side. The height wanted goes from the table to the keys.")
    )
    canvas.box(4.0, 356.0, 50.0, 74.0, "wood")
    canvas.outline([(20.0, 78.0), (20.0, 116.0), (250.0, 128.0), (250.0, 82.0)], "device")
    for x in range(72, 220, 26):
        canvas.box(float(x), x + 20.0, 120.0, 134.0, "device")
    canvas.line((256.0, 110.0), (286.0, 300.0), "shell")
    _edge(canvas, 134.0, 140.0, 332.0)
    _height(canvas, 318.0, 74.0, 134.0)
    _label(canvas, (160.0, 134.0), (136.0, 216.0), tr("middle row"), tr("of the keys"))
    return canvas


def _front(canvas: Canvas, left: float, right: float, low: float, high: float) -> None:
    """A screen from the front with what lights up of it, and the height of that."""
    canvas.box(left - 10.0, right + 10.0, low - 12.0, high + 10.0, "device")
    canvas.box(left, right, low, high, "lit")
    for y in (low, high):
        _edge(canvas, y, right, 326.0)
    _height(canvas, 306.0, low, high)
    _label(
        canvas, ((left + right) / 2.0, high - 40.0), ((left + right) / 2.0, low + 60.0), tr("what lights up")
    )


def _laptop_height() -> Canvas:
    canvas = _canvas(
        tr("A laptop from the front. The height wanted goes from the lower to the upper edge of its picture.")
    )
    canvas.box(4.0, 356.0, 30.0, 44.0, "wood")
    canvas.outline([(16.0, 44.0), (40.0, 84.0), (250.0, 84.0), (274.0, 44.0)], "device")
    _front(canvas, 40.0, 250.0, 98.0, 250.0)
    return canvas


def _monitor_top() -> Canvas:
    canvas = _canvas(
        tr("A screen from the side. The height wanted goes from the table to the top of its picture.")
    )
    canvas.box(4.0, 356.0, 30.0, 44.0, "wood")
    canvas.box(120.0, 226.0, 44.0, 52.0, "device")
    canvas.line((176.0, 52.0), (176.0, 190.0), "shell")
    canvas.box(150.0, 168.0, 92.0, 262.0, "device")
    canvas.line((150.0, 100.0), (150.0, 252.0), "picture")
    _edge(canvas, 252.0, 150.0, 322.0)
    _height(canvas, 304.0, 44.0, 252.0)
    _label(canvas, (150.0, 252.0), (84.0, 290.0), tr("top edge"), tr("of what lights up"))
    _label(canvas, (130.0, 52.0), (66.0, 120.0), tr("foot included"))
    return canvas


def _monitor_height() -> Canvas:
    canvas = _canvas(
        tr("A screen from the front. The height wanted goes from the lower to the upper edge of its picture.")
    )
    canvas.box(4.0, 356.0, 30.0, 44.0, "wood")
    canvas.box(100.0, 190.0, 44.0, 52.0, "device")
    canvas.box(136.0, 154.0, 52.0, 100.0, "device")
    _front(canvas, 24.0, 266.0, 112.0, 262.0)
    return canvas


def _head(canvas: Canvas, x: float, y: float, radius: float) -> None:
    canvas.circle((x, y), radius, "body")
    canvas.path(
        f"M{x - radius} {y + 1} A{radius} {radius} 0 0 0 {x + radius * 0.7} {y + radius * 0.7} Z", "hair"
    )


def _stature() -> Canvas:
    canvas = _canvas(
        tr("A person upright against a wall, a book flat on the head. The height goes up to the book.")
    )
    scale = 270.0 / 1650.0
    canvas.box(96.0, 108.0, 0.0, 306.0, "wood")
    x = 128.0
    canvas.limb((x, 860.0 * scale), 16.0, (x, 80.0 * scale), 8.0, "body")
    canvas.limb((x, 1340.0 * scale), 17.0, (x, 880.0 * scale), 16.0, "body")
    canvas.limb((x + 2.0, 1310.0 * scale), 7.0, (x + 3.0, 800.0 * scale), 5.0, "body")
    canvas.outline(
        [(x - 10.0, 0.0), (x - 10.0, 13.0), (x + 8.0, 15.0), (x + 28.0, 6.0), (x + 28.0, 0.0)], "body"
    )
    _head(canvas, x, 1650.0 * scale - 18.0, 18.0)
    canvas.box(108.0, 160.0, 270.0, 278.0, "wood")
    _edge(canvas, 270.0, 108.0, 322.0)
    _height(canvas, 300.0, 0.0, 270.0)
    _label(canvas, (156.0, 274.0), (216.0, 296.0), tr("book, level"), anchor="start")
    _label(canvas, (144.0, 5.0), (184.0, 60.0), tr("no shoes"), anchor="start")
    _label(canvas, (102.0, 180.0), (48.0, 224.0), tr("wall"))
    return canvas


def _sitter(canvas: Canvas, bent_arm: bool) -> tuple[float, float]:
    """Draw a person upright on a hard seat; give the heights of the seat and of the hollow of the knee."""
    scale = 268.0 / 1290.0
    seat, x = 420.0 * scale, 92.0
    knee = (x + 455.0 * scale, seat + 68.0 * scale)
    canvas.box(44.0, x + 400.0 * scale, seat - 13.0, seat, "wood")
    canvas.line((58.0, seat - 13.0), (52.0, 0.0), "leg")
    canvas.line((x + 380.0 * scale, seat - 13.0), (x + 384.0 * scale, 0.0), "leg")
    canvas.limb(knee, 14.0, (knee[0] - 2.0, 80.0 * scale), 8.0, "body")
    canvas.outline(
        [
            (knee[0] - 12.0, 0.0),
            (knee[0] - 12.0, 14.0),
            (knee[0] + 6.0, 17.0),
            (knee[0] + 34.0, 6.0),
            (knee[0] + 34.0, 0.0),
        ],
        "body",
    )
    canvas.limb((x, seat + 80.0 * scale), 17.0, (knee[0], knee[1]), 14.0, "body")
    canvas.limb((x, seat + 560.0 * scale), 18.0, (x, seat + 100.0 * scale), 19.0, "body")
    _head(canvas, x + 4.0, seat + 770.0 * scale, 19.0)
    if bent_arm:
        elbow = (x, seat + 235.0 * scale + 8.0)
        canvas.limb((x, seat + 540.0 * scale), 9.0, elbow, 8.0, "body")
        canvas.limb(elbow, 8.0, (x + 330.0 * scale, elbow[1]), 5.0, "body")
    return seat, knee[1] - 14.0


def _sitting_elbow() -> Canvas:
    canvas = _canvas(
        tr("A person who sits upright, elbow bent. The height goes from the seat to below the elbow.")
    )
    seat, _ = _sitter(canvas, bent_arm=True)
    elbow = seat + 235.0 * 268.0 / 1290.0
    _edge(canvas, elbow, 92.0, 322.0)
    _edge(canvas, seat, 176.0, 322.0)
    _height(canvas, 306.0, seat, elbow)
    _label(canvas, (92.0, elbow), (212.0, 196.0), tr("underside"), tr("of the elbow"), anchor="start")
    _label(canvas, (92.0, 180.0), (132.0, 246.0), tr("arm hangs,"), tr("elbow square"), anchor="start")
    _label(canvas, (50.0, seat - 6.0), (96.0, 34.0), tr("hard seat"))
    return canvas


def _popliteal() -> Canvas:
    canvas = _canvas(tr("A person who sits. The height goes from the floor to the hollow of the knee."))
    _, hollow = _sitter(canvas, bent_arm=False)
    _edge(canvas, hollow, 168.0, 322.0)
    _height(canvas, 306.0, 0.0, hollow)
    _label(canvas, (172.0, hollow), (204.0, 196.0), tr("hollow of the knee"), tr("thigh begins here"))
    _label(canvas, (206.0, 6.0), (250.0, 56.0), tr("no shoes"))
    return canvas


def _knee() -> Canvas:
    canvas = _canvas(tr("A person who sits. The height goes from the floor to the top of the knee."))
    _, hollow = _sitter(canvas, bent_arm=False)
    top = hollow + 28.0
    _edge(canvas, top, 176.0, 322.0)
    _height(canvas, 306.0, 0.0, top)
    _label(canvas, (186.0, top), (214.0, 190.0), tr("top of the knee"))
    _label(canvas, (206.0, 6.0), (250.0, 56.0), tr("no shoes"))
    return canvas


def _thigh() -> Canvas:
    canvas = _canvas(tr("A person who sits. The height goes from the seat to the top of the thigh."))
    seat, _ = _sitter(canvas, bent_arm=False)
    top = seat + 34.0
    _edge(canvas, top, 120.0, 322.0)
    _edge(canvas, seat, 176.0, 322.0)
    _height(canvas, 300.0, seat, top)
    _label(canvas, (134.0, top), (214.0, 196.0), tr("top of the thigh,"), tr("where it is thickest"))
    _label(canvas, (50.0, seat - 6.0), (96.0, 34.0), tr("hard seat"))
    return canvas


def _book() -> Canvas:
    named = tr("A book that lies flat. The thickness wanted goes from the table to its upper side.")
    canvas = _canvas(named, 240.0)
    canvas.box(4.0, 356.0, 40.0, 56.0, "wood")
    canvas.box(40.0, 240.0, 56.0, 66.0, "wood")
    canvas.box(40.0, 240.0, 132.0, 142.0, "wood")
    canvas.box(48.0, 232.0, 66.0, 132.0, "body")
    for y in range(74, 130, 8):
        canvas.line((52.0, float(y)), (228.0, float(y)), "thin")
    _edge(canvas, 142.0, 40.0, 322.0)
    _height(canvas, 300.0, 56.0, 142.0)
    _label(canvas, (120.0, 137.0), (140.0, 210.0), tr("with its cover"))
    return canvas


DRAWINGS: Mapping[str, Callable[[], Canvas]] = {
    "book": _book,
    "desk_height": _desk_height,
    "desk_underside": _desk_underside,
    "feet_on": _feet_on,
    "foot_bar": _foot_bar,
    "foot_ring": _foot_ring,
    "knee": _knee,
    "laptop_height": _laptop_height,
    "laptop_keys": _laptop_keys,
    "laptop_top": _laptop_top,
    "monitor_height": _monitor_height,
    "monitor_top": _monitor_top,
    "popliteal": _popliteal,
    "seat_depth": _seat_depth,
    "seat_height": _seat_height,
    "sitting_elbow": _sitting_elbow,
    "stature": _stature,
    "thigh": _thigh,
}
"""Every drawing by name."""


def drawing_of(name: str) -> str:
    """One drawing as an element for a page, in the reader's language."""
    return _drawn(name, current_language())


@cache
def _drawn(name: str, language: str) -> str:
    del language
    return DRAWINGS[name]().svg()
