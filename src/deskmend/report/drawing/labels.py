"""Names at the things of a drawing: each in free room near its thing, never over a line or another name.

What finds no room has a mark at its thing, and its name in a key under the drawing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import count

import numpy as np
from numpy.typing import NDArray

from deskmend.measures import Mm
from deskmend.report.drawing.svg import XY, Canvas

__all__ = ["LETTER", "Frame", "NamedPoint", "place_labels", "write_line"]

Floats = NDArray[np.float64]
Frame = tuple[Mm, Mm, Mm, Mm]
"""Left, right, low and high."""

LETTER = 58.0
"""Size of letters, set in the style sheet too [mm]."""
WIDEST = 1480.0
"""Widest that names may make a drawing [mm]: on a telephone, 358 px across, letters are 14 px then."""
WIDE = 0.72
"""Width of a letter, as part of its size: of a wide bold face, most words [-]."""
LINE = 1.3
"""Height of a line of letters [-]."""
DISC = 44.0
"""Radius of the disc with a step's number [mm]."""
CELL = 18.0
"""Side of the squares in which room is kept [mm]."""
AROUND = 12.0
"""Room kept free around a name [mm]."""
FURTHEST = 620.0
"""Furthest that a name stands from its thing [mm]."""
OUTSIDE = 2.5
"""What a millimetre outside the drawing counts, beside one further off [-]: it makes all smaller."""
OVER_INK = 30.0
"""What each line that the way from a name to its thing crosses counts, as so much further off [mm]."""
MOST = 14
"""Most names of one drawing: seven a side."""
FIRST_LETTER = ord("A")
"""Marks of what has no step."""


@dataclass(frozen=True)
class NamedPoint:
    """A name, with its size beneath, at a point of a thing; the number is that of the step, 0 none.

    A figure that belongs to a line of its own stands close by it and is not `led` to it.
    """

    at: XY
    name: str
    size: str = ""
    number: int = 0
    later: bool = False
    led: bool = True


@dataclass(frozen=True)
class _Box:
    """Room of a name: edges [mm], and whether it starts at the side of its thing."""

    left: Mm
    right: Mm
    low: Mm
    high: Mm
    starts: bool

    @property
    def near(self) -> XY:
        """Where the line to the thing begins."""
        return (self.left - 8.0 if self.starts else self.right + 8.0), self.high - 0.5 * LINE * LETTER


class _Room:
    """What is taken of a drawing, and the names placed in it so far."""

    def __init__(self, inked: Floats, frame: Frame) -> None:
        self._frame = frame
        self._corner = np.array([frame[0] - 2.0 * FURTHEST, frame[2] - 2.0 * FURTHEST])
        across = (frame[1] - frame[0] + 4.0 * FURTHEST, frame[3] - frame[2] + 4.0 * FURTHEST)
        self._taken = np.zeros([int(side / CELL) + 2 for side in across], dtype=np.int32)
        self._mark(inked)
        self._across = frame[0], frame[1]
        self.boxes: list[_Box] = []

    def _cells(self, points: Floats) -> NDArray[np.int64]:
        cells = ((points - self._corner) / CELL).astype(np.int64)
        kept: NDArray[np.int64] = np.clip(cells, 0, np.array(self._taken.shape) - 1)
        return kept

    def _mark(self, points: Floats) -> None:
        cells = self._cells(points)
        self._taken[cells[:, 0], cells[:, 1]] = 1

    def place(self, label: NamedPoint) -> _Box | None:
        """The free place that costs least, kept for the label; None where there is none."""
        edges, starts, far = _ways(label)
        left, right, low, high = edges
        frame = self._frame
        beyond = (
            np.maximum(frame[0] - left, 0.0)
            + np.maximum(right - frame[1], 0.0)
            + np.maximum(high - frame[3], 0.0)
        )
        outermost = np.maximum(right + AROUND, self._across[1]), np.minimum(left - AROUND, self._across[0])
        narrow = outermost[0] - outermost[1] <= max(WIDEST, self._across[1] - self._across[0])
        free = (low >= frame[2]) & narrow & (self._count(left, right, low, high) == 0)
        for box in self.boxes:
            over = (left < box.right + AROUND) & (right > box.left - AROUND)
            free &= ~(over & (low < box.high + AROUND) & (high > box.low - AROUND))
        ways = np.flatnonzero(free)
        if label.led:
            # lines only from places that are free themselves
            x = np.where(starts[ways], left[ways] - 8.0, right[ways] + 8.0)
            near = np.stack([x, high[ways] - 0.5 * LINE * LETTER], axis=1)
            steps = np.linspace(0.0, 1.0, 40)[None, :, None]
            lines = near[:, None, :] + steps * (np.array(label.at)[None, None, :] - near[:, None, :])
            for box in self.boxes:
                x, y = lines[..., 0], lines[..., 1]
                across = (x > box.left - AROUND) & (x < box.right + AROUND)
                clear = ~(across & (y > box.low - AROUND) & (y < box.high + AROUND)).any(axis=1)
                ways, lines = ways[clear], lines[clear]
        if not ways.size:
            return None
        cost = (far + OUTSIDE * beyond)[ways]
        if label.led:
            cells = self._cells(lines)
            crossed = (np.diff(self._taken[cells[..., 0], cells[..., 1]], axis=1) > 0).sum(axis=1)
            cost = cost + OVER_INK * crossed
        cheapest = int(np.argmin(cost))
        best = ways[cheapest]
        at = [float(edge[best]) for edge in edges]
        box = _Box(at[0], at[1], at[2], at[3], bool(starts[best]))
        self.boxes.append(box)
        self._across = min(box.left - AROUND, self._across[0]), max(box.right + AROUND, self._across[1])
        if label.led:
            self._mark(lines[cheapest])
        return box

    def place_mark(self, at: XY) -> XY:
        """Middle of a disc at a thing, or beside it where another name or disc stands; kept."""
        along, up, _ = _rays(70)
        ways = [(0.0, 0.0), *zip(along.tolist(), up.tolist(), strict=True)]
        reach = DISC + AROUND
        x, y = next(
            (
                (at[0] + x, at[1] + y)
                for x, y in ways
                if all(
                    at[0] + x - reach >= box.right
                    or at[0] + x + reach <= box.left
                    or at[1] + y - reach >= box.high
                    or at[1] + y + reach <= box.low
                    for box in self.boxes
                )
            ),
            at,
        )
        self.boxes.append(_Box(x - DISC, x + DISC, y - DISC, y + DISC, True))
        return x, y

    def _count(self, left: Floats, right: Floats, low: Floats, high: Floats) -> NDArray[np.int64]:
        """Cells that are taken within boxes."""
        sums = np.zeros([side + 1 for side in self._taken.shape], dtype=np.int64)
        sums[1:, 1:] = self._taken.cumsum(axis=0).cumsum(axis=1)
        a = self._cells(np.stack([left - AROUND, low - AROUND], axis=1))
        b = self._cells(np.stack([right + AROUND, high + AROUND], axis=1)) + 1
        found: NDArray[np.int64] = (
            sums[b[:, 0], b[:, 1]] - sums[a[:, 0], b[:, 1]] - sums[b[:, 0], a[:, 1]] + sums[a[:, 0], a[:, 1]]
        )
        return found


@cache
def _rays(least: int) -> tuple[Floats, Floats, Floats]:
    """Ways from a thing to the edge of its name, nearest first: along, up, and how far [mm]."""
    far, turn = np.meshgrid(
        np.arange(least, FURTHEST, 25.0), np.radians(np.arange(0, 360, 15)), indexing="ij"
    )
    return (far * np.cos(turn)).ravel(), (far * np.sin(turn)).ravel(), far.ravel()


def _ways(label: NamedPoint) -> tuple[tuple[Floats, Floats, Floats, Floats], NDArray[np.bool_], Floats]:
    """Edges of all places of a name, whether it starts at its thing there, and how far that is."""
    letters = max(len(label.name), len(label.size))
    wide = WIDE * LETTER * letters + (2.3 * DISC if label.number else 0.0)
    high = LINE * LETTER * max(bool(label.name) + bool(label.size), 1)
    high = max(high, 2.0 * DISC if label.number else 0.0)
    along, up, far = _rays(70 if label.led else 25)
    starts = along >= -1e-9
    left = label.at[0] + np.where(starts, along, along - wide)
    top = label.at[1] + up + 0.5 * LINE * LETTER
    return (left, left + wide, top - high, top), starts, far


def place_labels(canvas: Canvas, labels: Sequence[NamedPoint], frame: Frame) -> None:
    """Write names into a drawing and widen it for them.

    `frame` holds what is drawn. Names are placed one after the other, from the top, each where it is nearest
    to its thing among the places that are free and leave the drawing narrow enough for a telephone. What
    finds none goes into a key under the drawing: by the number of its step, else by a letter, which stands at
    the thing.
    """
    room = _Room(canvas.inked, frame)
    placed: list[tuple[NamedPoint, _Box]] = []
    keyed = list(labels[MOST:])
    for label in sorted(labels[:MOST], key=lambda one: (-one.at[1], one.at[0])):
        box = room.place(label)
        if box is None:
            keyed.append(label)
        else:
            placed.append((label, box))
    for label, box in placed:
        if label.led:
            canvas.line(box.near, label.at, "halo")
    for label, box in placed:
        if label.led:
            canvas.line(box.near, label.at, "leader")
            canvas.circle(label.at, 9.0, "dot")
        _write(canvas, label, box)
        canvas.widen(box.left - AROUND, box.right + AROUND, box.low - AROUND, box.high + AROUND)
    _write_key(canvas, room, keyed, frame)


def _write_key(canvas: Canvas, room: _Room, keyed: Sequence[NamedPoint], frame: Frame) -> None:
    """Marks at things, and under the drawing what they are."""
    letters = (chr(FIRST_LETTER + number) for number in count())
    low = min([frame[2], *(box.low for box in room.boxes)])
    numbered_first = sorted(keyed, key=lambda label: (not label.number, label.number))
    for row, label in enumerate(numbered_first):
        mark = str(label.number) if label.number else next(letters)
        later = label.later or not label.number
        at = room.place_mark(label.at)
        if at != label.at:
            canvas.line(at, label.at, "leader")
            canvas.circle(label.at, 9.0, "dot")
        _disc(canvas, at, mark, later)
        reach = DISC + AROUND
        canvas.widen(at[0] - reach, at[0] + reach, at[1] - reach, at[1] + reach)
        middle = frame[0] + DISC, low - 2.4 * DISC * (row + 0.6)
        _disc(canvas, middle, mark, later)
        text = " ".join(filter(None, (label.name, label.size)))
        base = middle[0] + 1.5 * DISC, middle[1] - 0.34 * LETTER
        canvas.text(base, text, kind="label key")
        wide = WIDE * LETTER * len(text)
        canvas.widen(frame[0] - AROUND, base[0] + wide, middle[1] - 1.2 * DISC, middle[1])


def write_line(canvas: Canvas, text: str) -> None:
    """Write a sentence under all that is drawn and written so far; long ones take several lines."""
    left, right, low, _ = canvas.frame
    words, rows = text.split(), [""]
    most = max(int((right - left) / (WIDE * LETTER)), 12)
    for word in words:
        if rows[-1] and len(rows[-1]) + 1 + len(word) > most:
            rows.append("")
        rows[-1] = f"{rows[-1]} {word}".strip()
    for number, row in enumerate(rows):
        base = low - LINE * LETTER * (number + 1)
        canvas.text((left, base), row, kind="label key")
        canvas.widen(left, left + WIDE * LETTER * len(row), base - 0.4 * LETTER, base)


def _disc(canvas: Canvas, middle: XY, mark: str, later: bool) -> None:
    canvas.circle(middle, DISC, "disc later" if later else "disc")
    kind = "label number later" if later else "label number"
    canvas.text((middle[0], middle[1] - 0.34 * LETTER), mark, "middle", kind)


def _write(canvas: Canvas, label: NamedPoint, box: _Box) -> None:
    base = box.high - LETTER
    text = box.left if box.starts else box.right
    if label.number:
        middle = (box.left + DISC if box.starts else box.right - DISC, box.high - 0.5 * LINE * LETTER)
        _disc(canvas, middle, str(label.number), label.later)
        text += 2.3 * DISC if box.starts else -2.3 * DISC
    anchor = "start" if box.starts else "end"
    if label.name:
        canvas.text((text, base), label.name, anchor, "label name")
        base -= LINE * LETTER
    if label.size:
        canvas.text((text, base), label.size, anchor)
