"""A canvas: SVG in millimetres, heights upwards, each shape written once, the same bytes everywhere."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from deskmend.measures import Mm

__all__ = ["XY", "Canvas", "in_one_frame", "millimetres", "share_shapes"]

XY = tuple[Mm, Mm]
"""Forward and up, or as a drawing says."""
Data = Mapping[str, str] | None


def millimetres(value: float) -> str:
    """Coordinate with at most three decimals and no minus before zero."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


INK_STEP = 14.0
"""How near points are taken along a line [mm]."""


def _pair(point: XY) -> str:
    """A point of a drawn outline, that nothing is reckoned with, in whole mm."""
    return f"{millimetres(round(point[0]))} {millimetres(round(point[1]))}"


class Canvas:
    """A drawing that grows piece by piece, with what it shows in words for who cannot see it.

    Every coordinate is in mm as the model has it: x to the right, y upwards. Lines carry classes alone; how
    they look is the page's style sheet.
    """

    def __init__(self, left: Mm, right: Mm, low: Mm, high: Mm, label: str) -> None:
        self._frame = left, right, low, high
        self._root = ElementTree.Element("svg", {"viewBox": "", "role": "img", "aria-label": label})
        self._starts: list[XY] = []
        self._ends: list[XY] = []
        self._shapes = ElementTree.SubElement(self._root, "g", {"transform": "scale(1 -1)"})
        self._texts = ElementTree.SubElement(self._root, "g", {"aria-hidden": "true"})

    @property
    def frame(self) -> tuple[Mm, Mm, Mm, Mm]:
        """Left, right, low and high of what is drawn and written so far."""
        return self._frame

    def say(self, label: str) -> None:
        """Put what the drawing shows into words anew."""
        self._root.set("aria-label", label)

    def shapes(self) -> str:
        """All that is drawn so far without what is written: equal where two look alike."""
        return ElementTree.tostring(self._shapes, encoding="unicode")

    def widen(self, left: Mm, right: Mm, low: Mm, high: Mm) -> None:
        """Make the frame hold a box too."""
        at = self._frame
        self._frame = min(at[0], left), max(at[1], right), min(at[2], low), max(at[3], high)

    @property
    def inked(self) -> NDArray[np.float64]:
        """Points along all lines drawn so far, where no writing can stand."""
        starts, ends = (np.array(points, dtype=np.float64) for points in (self._starts, self._ends))
        along = ends - starts
        steps = np.maximum(np.ceil(np.hypot(along[:, 0], along[:, 1]) / INK_STEP), 1.0).astype(np.int64)
        line = np.repeat(np.arange(len(steps)), steps + 1)
        first = np.cumsum(steps + 1) - (steps + 1)
        share = (np.arange(len(line)) - first[line]) / steps[line]
        points: NDArray[np.float64] = starts[line] + share[:, None] * along[line]
        return points

    def _ink(self, points: Sequence[XY]) -> None:
        self._starts += points[:-1]
        self._ends += points[1:]

    def _add(self, tag: str, kind: str, data: Data, values: Mapping[str, str]) -> None:
        named = {f"data-{key}": value for key, value in (data or {}).items()}
        ElementTree.SubElement(self._shapes, tag, {"class": kind, **values, **named})

    def line(self, start: XY, end: XY, kind: str, data: Data = None) -> None:
        """Draw a straight line."""
        names = ("x1", "y1", "x2", "y2")
        ends = dict(zip(names, (millimetres(v) for v in (*start, *end)), strict=True))
        self._add("line", kind, data, ends)
        self._ink([start, end])

    def outline(self, points: Sequence[XY], kind: str, data: Data = None, closed: bool = True) -> None:
        """Draw a line through points."""
        text = " ".join(f"{millimetres(x)},{millimetres(y)}" for x, y in points)
        self._add("polygon" if closed else "polyline", kind, data, {"points": text})
        self._ink([*points, points[0]] if closed else points)

    def box(self, left: Mm, right: Mm, low: Mm, high: Mm, kind: str, data: Data = None) -> None:
        """Draw an upright rectangle."""
        values = {"x": left, "y": low, "width": right - left, "height": max(high - low, 0.0)}
        self._add("rect", kind, data, {key: millimetres(value) for key, value in values.items()})
        self._ink([(left, low), (right, low), (right, high), (left, high), (left, low)])

    def circle(self, centre: XY, radius: Mm, kind: str, data: Data = None) -> None:
        """Draw a circle."""
        values = {"cx": centre[0], "cy": centre[1], "r": radius}
        self._add("circle", kind, data, {key: millimetres(value) for key, value in values.items()})
        turns = [math.radians(angle) for angle in range(0, 361, 20)]
        self._ink([(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns])

    def path(self, text: str, kind: str, data: Data = None) -> None:
        """Draw a path written in SVG's own letters."""
        self._add("path", kind, data, {"d": text})

    def smooth(self, points: Sequence[XY], kind: str, data: Data = None) -> None:
        """Draw a closed line that runs smoothly through points."""
        count = len(points)
        text = [f"M{_pair(points[0])}"]
        for number in range(count):
            before, here, there, after = (points[(number + step) % count] for step in (-1, 0, 1, 2))
            first = here[0] + (there[0] - before[0]) / 6.0, here[1] + (there[1] - before[1]) / 6.0
            second = there[0] - (after[0] - here[0]) / 6.0, there[1] - (after[1] - here[1]) / 6.0
            text.append(f"C{_pair(first)} {_pair(second)} {_pair(there)}")
        self.path(f"{' '.join(text)} Z", kind, data)
        self._ink([*points, points[0]])

    def limb(self, start: XY, thick: Mm, end: XY, thin: Mm, kind: str, data: Data = None) -> None:
        """Draw a limb: two circles of radius `thick` and `thin`, and the lines that touch both."""
        distance = math.dist(start, end)
        if distance <= abs(thick - thin):
            self.circle(start if thick > thin else end, max(thick, thin), kind, data)
            return
        along = math.atan2(end[1] - start[1], end[0] - start[0])
        off = math.acos((thick - thin) / distance)

        def at(centre: XY, radius: float, angle: float) -> str:
            return _pair((centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)))

        self._ink([start, end])
        for side in (along + off, along - off):
            self._ink(
                [
                    (start[0] + thick * math.cos(side), start[1] + thick * math.sin(side)),
                    (end[0] + thin * math.cos(side), end[1] + thin * math.sin(side)),
                ]
            )
        far = 1 if thin > thick else 0
        self.path(
            f"M{at(start, thick, along + off)} L{at(end, thin, along + off)} "
            f"A{millimetres(thin)} {millimetres(thin)} 0 {far} 0 {at(end, thin, along - off)} "
            f"L{at(start, thick, along - off)} "
            f"A{millimetres(thick)} {millimetres(thick)} 0 {1 - far} 0 {at(start, thick, along + off)} Z",
            kind,
            data,
        )

    def text(self, place: XY, text: str, anchor: str = "start", kind: str = "label") -> None:
        """Write text upright; the point is the start, middle or end of its base line."""
        values = {"x": millimetres(place[0]), "y": millimetres(-place[1]), "text-anchor": anchor}
        written = ElementTree.SubElement(self._texts, "text", {"class": kind, **values})
        written.text = text

    def svg(self) -> str:
        """The whole drawing as an element for a page."""
        left, right, low, high = self._frame
        box = " ".join(millimetres(value) for value in (left, -high, right - left, high - low))
        self._root.set("viewBox", box)
        return ElementTree.tostring(self._root, encoding="unicode")


BOX = re.compile(r'viewBox="([^"]*)"')


def in_one_frame(drawings: Sequence[str | None]) -> list[str | None]:
    """The same drawings in a frame that holds each: at one width they have one scale and level floors."""
    found = [BOX.search(one) for one in drawings if one is not None]
    boxes = [[float(value) for value in box[1].split()] for box in found if box is not None]
    if not boxes:
        return list(drawings)
    left, top = min(box[0] for box in boxes), min(box[1] for box in boxes)
    right, low = max(box[0] + box[2] for box in boxes), max(box[1] + box[3] for box in boxes)
    frame = " ".join(millimetres(value) for value in (left, top, right - left, low - top))
    return [None if one is None else BOX.sub(f'viewBox="{frame}"', one, count=1) for one in drawings]


Element = ElementTree.Element
KEPT = "eye"
"""What stays in each drawing itself, for whoever reads coordinates off a page."""
LEAST_PAIRS = 3
"""How often two shapes follow each other before they are worth a definition of their own."""


@dataclass(frozen=True)
class _Shape:
    """A shape as it is written: tag with coordinates, and how it looks."""

    geometry: str
    kind: str


Token = _Shape | int | str
"""A shape, the number of a pair of tokens, or an element that is not shared."""


def share_shapes(drawings: Sequence[str]) -> tuple[str, list[str]]:
    """Definitions for a page, and the drawings that use them; they look as they did.

    Names of definitions hold a dot, which no name of a fix, place or task can.
    """
    roots = [ElementTree.fromstring(one) for one in drawings]
    rows = [[_token(child) for child in root[0]] for root in roots]
    counts = Counter(one.geometry for row in rows for one in row if isinstance(one, _Shape))
    pairs = _pairs(rows)
    names: dict[str, str] = {}
    definitions: list[str] = []

    def written(token: Token) -> str:
        if isinstance(token, str):
            return token
        if isinstance(token, int):
            return f'<use href="#{group(token)}"/>'
        if counts[token.geometry] < 2:
            return f'{token.geometry} class="{token.kind}"/>'
        if token.geometry not in names:
            names[token.geometry] = f"s.{len(names)}"
            head, _, rest = token.geometry.partition(" ")
            line = f'{head} id="{names[token.geometry]}" vector-effect="non-scaling-stroke" {rest}/>'
            definitions.append(line)
        return f'<use href="#{names[token.geometry]}" class="{token.kind}"/>'

    def group(number: int) -> str:
        key = f"pair {number}"
        if key not in names:
            inner = "".join(written(one) for one in pairs[number])
            names[key] = f"s.{len(names)}"
            definitions.append(f'<g id="{names[key]}">{inner}</g>')
        return names[key]

    out = []
    for root, row in zip(roots, rows, strict=True):
        shapes = "".join(written(token) for token in row)
        root[0].clear()
        root[0].set("transform", "scale(1 -1)")
        root[0].text = "\0"
        out.append(ElementTree.tostring(root, encoding="unicode").replace("\0", shapes))
    return "".join(definitions), out


def _token(child: Element) -> Token:
    if child.get("data-of") == KEPT or len(child):
        return ElementTree.tostring(child, encoding="unicode")
    kind = child.attrib.pop("class", "")
    geometry = ElementTree.tostring(child, encoding="unicode")
    return _Shape(geometry.removesuffix("/>").rstrip(), kind)


def _pairs(rows: list[list[Token]]) -> list[tuple[Token, Token]]:
    """Put a number for the two tokens that most often follow each other, again and again; what each is.

    Of pairs that are as frequent the one met first is taken.
    """
    # tokens as small numbers, which are compared far faster: those met from 0 up, numbers of pairs below 0
    met: dict[Token, int] = {}
    numbered = [[met.setdefault(token, len(met)) for token in row] for row in rows]
    tokens = list(met)
    whole = {number for token, number in met.items() if isinstance(token, str)}
    pairs: list[tuple[int, int]] = []
    while True:
        found = Counter(pair for row in numbered for pair in pairwise(row) if whole.isdisjoint(pair))
        pair, most = max(found.items(), key=lambda one: one[1], default=(None, 0))
        if pair is None or most < LEAST_PAIRS:
            break
        pairs.append(pair)
        for row in numbered:
            at = 0
            while at + 1 < len(row):
                if row[at] == pair[0] and row[at + 1] == pair[1]:
                    row[at : at + 2] = [-len(pairs)]
                at += 1

    def written(number: int) -> Token:
        return tokens[number] if number >= 0 else -1 - number

    for given, numbers in zip(rows, numbered, strict=True):
        given[:] = [written(number) for number in numbers]
    return [(written(one), written(other)) for one, other in pairs]
