"""Scores of single items: bands over a measured quantity, and points added or set by conditions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from deskmend.language import shown_number, tr
from deskmend.risk.ranges import (
    BoolArray,
    FloatArray,
    IntArray,
    OutOfRange,
    WrongArgument,
    checked_flags,
    checked_integer_arrays,
    checked_number_arrays,
)
from deskmend.risk.score_tables import TableDefect, rows_of


@dataclass(frozen=True)
class Band:
    """A stretch of a quantity that scores the same.

    Parameters
    ----------
    low, high
        Its ends, in the unit of the quantity.
    low_in, high_in
        Whether each end belongs to it.
    points
        Its score [-].
    words
        The band in plain words.
    status
        How far it is confirmed.
    """

    low: float
    low_in: bool
    high: float
    high_in: bool
    points: int
    words: str
    status: str

    def holds(self, value: FloatArray) -> BoolArray:
        """Tell which values lie in the band."""
        above = value >= self.low if self.low_in else value > self.low
        below = value <= self.high if self.high_in else value < self.high
        return np.asarray(above & below, dtype=np.bool_)


@dataclass(frozen=True)
class Condition:
    """Points that a condition adds, or the score it sets.

    Parameters
    ----------
    kind
        ``set`` replaces the score of the band, ``add`` comes on top.
    flag
        Name of the condition.
    points
        Points [-].
    words
        The condition in plain words.
    """

    kind: str
    flag: str
    points: int
    words: str


@dataclass(frozen=True)
class Item:
    """How one item is scored.

    Parameters
    ----------
    name
        Item, such as ``neck``.
    unit
        Unit of its quantity in words, empty where it has none.
    bands
        Bands in rising order, without gap or overlap; empty where conditions alone decide.
    base
        Score [-] and words where there is no band.
    conditions
        What sets or adds points.
    limit
        Least and greatest score [-] where the method itself ends there, with the reason; or None.
    """

    name: str
    unit: str
    bands: tuple[Band, ...]
    base: tuple[int, str]
    conditions: tuple[Condition, ...]
    limit: tuple[int, int, str] | None


@dataclass(frozen=True)
class Reading:
    """What was seen of one item, ready to be scored or explained.

    Parameters
    ----------
    where
        Function that was called, for messages.
    item
        Item of the book.
    argument
        Name of the quantity's argument, empty where the item has none.
    value
        The quantity, in the unit of the item.
    shown
        The quantity as the caller gave it, for the explanation.
    flags
        The conditions, by name.
    duration
        Points for time of use, -1, 0 or 1 [-]; None where the item has none.
    """

    where: str
    item: str
    argument: str = ""
    value: object = 0.0
    shown: object = None
    flags: Mapping[str, object] = field(default_factory=dict)
    duration: object = None


@cache
def item_book(name: str) -> Mapping[str, Item]:
    """Load the items of a method once.

    Parameters
    ----------
    name
        File name in ``tables``, without the ending, such as ``rula_items``.

    Returns
    -------
    mapping of str to Item
        Read-only.

    Raises
    ------
    TableDefect
        Where the bands of an item leave a gap or overlap.
    """
    records = rows_of(name)
    book: dict[str, Item] = {}
    for item in dict.fromkeys(record["item"] for record in records):
        own = [record for record in records if record["item"] == item]
        bands = tuple(
            Band(
                float(r["low"]),
                r["low_in"] == "yes",
                float(r["high"]),
                r["high_in"] == "yes",
                int(r["points"]),
                r["words"],
                r["status"],
            )
            for r in own
            if r["kind"] == "band"
        )
        for first, second in pairwise(bands):
            if first.high != second.low or first.high_in == second.low_in:
                raise TableDefect(f"{name}: {item} has a gap or an overlap at {first.high:g}")
        base = [(int(r["points"]), r["words"]) for r in own if r["kind"] == "base"]
        limit = [(int(r["low"]), int(r["high"]), r["words"]) for r in own if r["kind"] == "limit"]
        book[item] = Item(
            name=item,
            unit=next((r["unit"] for r in own if r["unit"]), ""),
            bands=bands,
            base=base[0] if base else (0, ""),
            conditions=tuple(
                Condition(r["kind"], r["flag"], int(r["points"]), r["words"])
                for r in own
                if r["kind"] in ("set", "add")
            ),
            limit=limit[0] if limit else None,
        )
    return MappingProxyType(book)


def points(book: Mapping[str, Item], reading: Reading) -> IntArray:
    """Score one item.

    Parameters
    ----------
    book
        Items of the method.
    reading
        What was seen; quantity and conditions broadcast.

    Returns
    -------
    ndarray of int64
        The score [-]; of no dimension where all was scalar.

    Raises
    ------
    OutOfRange
        Where the quantity is no number or out of range, or a condition is no truth value.
    """
    item = book[reading.item]
    value, flags, duration = _checked(item, reading)
    score = np.full(value.shape, item.base[0], dtype=np.int64)
    for band in item.bands:
        score = np.where(band.holds(value), band.points, score)
    for condition in item.conditions:
        if condition.kind == "set":
            score = np.where(flags[condition.flag], condition.points, score)
    for condition in item.conditions:
        if condition.kind == "add":
            score = score + condition.points * flags[condition.flag]
    score = score + duration
    if item.limit is not None:
        score = np.clip(score, item.limit[0], item.limit[1])
    return np.asarray(score, dtype=np.int64)


def reason(book: Mapping[str, Item], reading: Reading) -> str:
    """Say in plain words why one item has its score.

    Parameters
    ----------
    book
        Items of the method.
    reading
        What was seen, scalars only.

    Returns
    -------
    str
        Such as ``neck 3: 24 degrees, band 20 or more``.

    Raises
    ------
    OutOfRange
        As `points`, and where anything given is an array.
    """
    score, text = _why(book, reading)
    return f"{reading.item} {score}: {text}"


def _why(book: Mapping[str, Item], reading: Reading) -> tuple[int, str]:
    """Score of one item [-], and why it has it, in the reader's language."""
    item = book[reading.item]
    value, flags, duration = _checked(item, reading)
    score = points(book, reading)
    if score.ndim:
        raise OutOfRange(reading.where, (WrongArgument("arguments", "an array", "single values"),))
    parts = [_first_words(item, reading, value, flags)]
    total = 0
    for condition in item.conditions:
        if condition.kind == "add" and flags[condition.flag]:
            parts.append(f"{tr(condition.words)} {condition.points:+d}")
            total += condition.points
    if int(duration):
        parts.append(tr("time of use {points}", points=f"{int(duration):+d}"))
    if item.limit is not None:
        bare = Reading(
            reading.where, reading.item, reading.argument, reading.value, flags=_only_sets(item, flags)
        )
        raw = int(_unlimited(item, bare)) + total + int(duration)
        if raw != int(score):
            parts.append(tr("held at {score}, {why}", score=int(score), why=tr(item.limit[2])))
    return int(score), "; ".join(parts)


def told(
    book: Mapping[str, Item],
    name: str,
    readings: tuple[Reading, ...],
    decides: Callable[[Iterable[int]], int],
) -> str:
    """Explain an item that rests on one or several readings, under its own name.

    Parameters
    ----------
    book
        Items of the method.
    name
        The item's name for the reader.
    readings
        What was seen, scalars only.
    decides
        Which of several scores holds, such as ``max``.

    Returns
    -------
    str
        The reason of the reading that decides.

    Raises
    ------
    OutOfRange
        As `reason`.
    """
    reasons = [_why(book, reading) for reading in readings]
    scores = [score for score, _ in reasons]
    decisive = decides(scores)
    return f"{tr(name.replace('_', ' '))} {decisive}: {reasons[scores.index(decisive)][1]}"


def plain_number(value: float, bands: tuple[Band, ...]) -> str:
    """Write a number with as few decimals as keep it in its own band.

    Parameters
    ----------
    value
        The number.
    bands
        The bands it is read against.

    Returns
    -------
    str
        Such as ``24`` or ``19.96``, never ``20`` for a number under a band that starts at 20.
    """
    for decimals in range(1, 7):
        text = f"{value:.{decimals}f}"
        near = np.asarray(float(text))
        if all(bool(band.holds(near)) == bool(band.holds(np.asarray(value))) for band in bands):
            break
    else:
        text = repr(value)
    text = text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text
    return "0" if text == "-0" else text


def _checked(item: Item, reading: Reading) -> tuple[FloatArray, dict[str, BoolArray], IntArray]:
    wrong: list[WrongArgument] = []
    value: FloatArray = np.asarray(0.0)
    flags: dict[str, BoolArray] = {}
    duration: IntArray = np.asarray(0, dtype=np.int64)
    try:
        if item.bands:
            limits = {reading.argument: (item.bands[0].low, item.bands[-1].high, item.unit)}
            value = checked_number_arrays(reading.where, limits, {reading.argument: reading.value})[
                reading.argument
            ]
    except OutOfRange as fault:
        wrong += fault.wrong
    try:
        flags = checked_flags(reading.where, reading.flags)
    except OutOfRange as fault:
        wrong += fault.wrong
    try:
        if reading.duration is not None:
            duration = checked_integer_arrays(
                reading.where, {"duration": (-1, 1)}, {"duration": reading.duration}
            )["duration"]
    except OutOfRange as fault:
        wrong += fault.wrong
    if wrong:
        raise OutOfRange(reading.where, tuple(wrong))
    return value, flags, duration


def _first_words(item: Item, reading: Reading, value: FloatArray, flags: Mapping[str, BoolArray]) -> str:
    set_by = [c.words for c in item.conditions if c.kind == "set" and flags[c.flag]]
    if set_by:
        return tr(set_by[-1])
    if not item.bands:
        return tr(item.base[1])
    band = next(band for band in item.bands if band.holds(value))
    number = shown_number(_shown(float(value), reading, item.bands))
    return tr("{number} {unit}, band {band}", number=number, unit=tr(item.unit), band=tr(band.words))


def _shown(value: float, reading: Reading, bands: tuple[Band, ...]) -> str:
    given = value if reading.shown is None else float(np.asarray(reading.shown))
    if given == value:
        return plain_number(given, bands)
    if given == -value:
        return f"-{plain_number(value, bands)}"
    return plain_number(given, ())


def _only_sets(item: Item, flags: Mapping[str, BoolArray]) -> dict[str, object]:
    return {c.flag: flags[c.flag] if c.kind == "set" else np.asarray(False) for c in item.conditions}


def _unlimited(item: Item, reading: Reading) -> IntArray:
    open_item = Item(item.name, item.unit, item.bands, item.base, item.conditions, None)
    return points({item.name: open_item}, reading)
