"""Items of a score: what is looked at, the band it falls in, and what conditions add or set.

An item is a function that says what is looked at, and rows of a table that say how that is scored::

    ITEMS = ItemBook("rula")  # tables/rula_items.csv

    @ITEMS.scored()
    def lower_arm(elbow_flexion_deg: ArrayLike, out_or_across: ArrayLike = False) -> None:
        '''Lower arm score.'''

Called, it gives points; the body only says where something else is seen than was given.  Rows of kind
``band`` score a stretch of the first argument (of the one in ``flag``, where there are several); ``base`` is
the score where there is no band; ``set`` and ``add`` change it where all that ``flag`` names holds, as
``present hard`` or ``not lumbar``; ``limit`` is where the method itself ends.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial, update_wrapper
from itertools import pairwise
from types import MappingProxyType
from typing import Any, Generic, ParamSpec

import numpy as np
from numpy.typing import ArrayLike

from deskmend.language import in_own_unit, shown_number, tr
from deskmend.risk.ranges import (
    NOT_SCORED,
    PACKAGE,
    BoolArray,
    FloatArray,
    IntArray,
    OutOfRange,
    TableDefect,
    UnknownName,
    WrongArgument,
    checked_flags,
    checked_integer_arrays,
    checked_number_arrays,
    table_rows,
)

P = ParamSpec("P")

Changes = Mapping[str, Any] | None
"""What an item sees other than it was given, by argument or condition; None where nothing is."""


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


def bands_of(what: str, rows: Sequence[Mapping[str, str]], points: Sequence[int]) -> tuple[Band, ...]:
    """Read bands that follow one another.

    Parameters
    ----------
    what
        Whose bands, for the message.
    rows
        Rows of a table with ``low``, ``low_in``, ``high``, ``high_in``, ``words`` and ``status``.
    points
        Score of each [-].

    Returns
    -------
    tuple of Band
        In rising order.

    Raises
    ------
    TableDefect
        Where they leave a gap or overlap.
    """
    bands = tuple(
        Band(
            float(row["low"]),
            row["low_in"] == "yes",
            float(row["high"]),
            row["high_in"] == "yes",
            score,
            row["words"],
            row["status"],
        )
        for row, score in zip(rows, points, strict=True)
    )
    for first, second in pairwise(bands):
        if first.high != second.low or first.high_in == second.low_in:
            raise TableDefect(f"{what} has a gap or an overlap at {first.high:g}")
    return bands


def plain_number(value: float, bands: Sequence[Band]) -> str:
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


OTHER_SIDE = {
    "degrees forward": "degrees back",
    "degrees bent up": "degrees bent down",
    "degrees to one side": "degrees to the other side",
    "degrees below eye level": "degrees above eye level",
    "mm above the elbow": "mm below the elbow",
    "mm behind the knee": "mm in front of the hollow of the knee",
}
"""What a unit with a side says of a value below 0, which then loses its sign: one is told, never both."""


def with_side(number: str, unit: str) -> str:
    """Number in its unit, as ``3.5 degrees above eye level`` for -3.5 degrees below it."""
    size = number.removeprefix("-")
    if size != number and unit in OTHER_SIDE:
        return in_own_unit(f"{shown_number(size)} {tr(OTHER_SIDE[unit])}")
    return in_own_unit(f"{shown_number(number)} {tr(unit)}".rstrip())


@dataclass(frozen=True)
class Condition:
    """Points that a condition adds, or the score it sets.

    Parameters
    ----------
    kind
        ``set`` replaces the score of the band, ``add`` comes on top.
    flags
        Names that must all hold, each with whether it must be true or false.
    points
        Points [-].
    words
        The condition in plain words.
    """

    kind: str
    flags: tuple[tuple[str, bool], ...]
    points: int
    words: str

    def holds(self, seen: Mapping[str, Any]) -> BoolArray:
        """Tell where it holds, of what is seen."""
        out: BoolArray = np.asarray(True)
        for name, wanted in self.flags:
            out = out & (seen[name] == wanted)
        return out


def _flags(text: str) -> tuple[tuple[str, bool], ...]:
    words = text.split()
    return tuple((word, words[at - 1 : at] != ["not"]) for at, word in enumerate(words) if word != "not")


@dataclass(frozen=True)
class ScoredItem:
    """How one item is scored.

    Parameters
    ----------
    name
        Item, such as ``neck``.
    bands
        Bands of each quantity by the name of its argument, empty for the first one; of several the one that
        speaks for more holds.  Empty where conditions alone decide.
    units
        Unit of each quantity in words, empty where it has none.
    base
        Score [-] and words where there is no band.
    conditions
        What sets or adds points.
    limit
        Least and greatest score [-] where the method itself ends there, with the reason; or None.
    """

    name: str
    bands: Mapping[str, tuple[Band, ...]]
    units: Mapping[str, str]
    base: tuple[int, str]
    conditions: tuple[Condition, ...]
    limit: tuple[int, int, str] | None

    @cached_property
    def flags(self) -> tuple[str, ...]:
        """Names that its conditions ask for."""
        return tuple(dict.fromkeys(name for one in self.conditions for name, _ in one.flags))

    def points(self, seen: Mapping[str, Any], held: bool = True) -> IntArray:
        """Score what is seen, already checked.

        Parameters
        ----------
        seen
            Quantities, conditions and ``duration`` (points for time of use [-]) by name; they broadcast.
        held
            Whether the score is held within `limit`.

        Returns
        -------
        ndarray of int64
            The score [-]; of no dimension where all was scalar.
        """
        score = stronger([banded(bands, seen[name]) for name, bands in self.bands.items()], self.base[0])
        for condition in self.conditions:
            if condition.kind == "set":
                score = np.where(condition.holds(seen), condition.points, score)
        for condition in self.conditions:
            if condition.kind == "add":
                score = score + condition.points * condition.holds(seen)
        score = score + seen.get("duration", 0)
        if held and self.limit is not None:
            score = np.clip(score, self.limit[0], self.limit[1])
        return np.asarray(score, dtype=np.int64)


def banded(bands: Sequence[Band], value: FloatArray) -> IntArray:
    """Points of the band that each value lies in [-]; the bands must cover them."""
    score = np.zeros(np.shape(value), dtype=np.int64)
    for band in bands:
        score = np.where(band.holds(value), band.points, score)
    return score


def stronger(scores: Sequence[IntArray], base: int) -> IntArray:
    """Of several scores the greatest, or the least where none is over 0 [-]; `base` where there is none."""
    if not scores:
        return np.asarray(base, dtype=np.int64)
    most, least = scores[0], scores[0]
    for score in scores[1:]:
        most, least = np.maximum(most, score), np.minimum(least, score)
    return np.where(most > 0, most, least)


class ItemFunction(Generic[P]):
    """An item of a score, to be called, explained, or told to score later.

    Parameters
    ----------
    function
        Says what is looked at: its parameters, and what it sees of them.
    book
        Where the rows of the item are.
    rows
        Gives the name of the rows, of the arguments; the item's own where it is left out.
    ranges
        Least and greatest value and unit of numbers that no band is for, or that may go beyond the bands.
    """

    def __init__(
        self,
        function: Callable[P, Changes],
        book: ItemBook,
        rows: Callable[..., str] | None,
        ranges: Mapping[str, tuple[float, float, str]],
    ) -> None:
        update_wrapper(self, function)
        self.name = function.__name__
        self.where = f"{book.name}.{self.name}"
        self._function: Callable[..., Changes] = function
        self._signature = inspect.signature(function)
        self._book = book
        self._rows = rows
        self._ranges = ranges
        self._items: dict[str, ScoredItem] = {}

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> IntArray:
        """Score of the item [-]; see the docstring of the function it was made of."""
        item, _, seen = self._seen(self._bound(*args, **kwargs))
        return item.points(seen)

    def given(self, *args: P.args, **kwargs: P.kwargs) -> Given:
        """Take arguments to score or explain later, wherever the method allows it."""
        return Given(self, self._bound(*args, **kwargs))

    def why(self, arguments: Mapping[str, Any]) -> str:
        """Say why the item has its score.

        Parameters
        ----------
        arguments
            Of the item's function, every one, single values only.

        Returns
        -------
        str
            Such as ``neck 3: 24 degrees, band 20 or more``.

        Raises
        ------
        OutOfRange
            As the item's function, and where an argument is an array.
        """
        item, shown, seen = self._seen(arguments)
        score = item.points(seen)
        if score.ndim:
            raise OutOfRange(self.where, (WrongArgument("arguments", "an array", "single values"),))
        held = [one for one in item.conditions if one.holds(seen)]
        set_by = [one.words for one in held if one.kind == "set"]
        parts = [tr(set_by[-1]) if set_by else _band_words(item, shown, seen)]
        parts += [f"{tr(one.words)} {one.points:+d}" for one in held if one.kind == "add"]
        if int(seen.get("duration", 0)):
            parts.append(tr("time of use {points}", points=f"{int(seen['duration']):+d}"))
        if item.limit is not None and int(item.points(seen, held=False)) != int(score):
            parts.append(tr("held at {score}, {why}", score=int(score), why=tr(item.limit[2])))
        return f"{tr(self.name.replace('_', ' '))} {int(score)}: {'; '.join(parts)}"

    def _bound(self, *args: P.args, **kwargs: P.kwargs) -> dict[str, Any]:
        bound = self._signature.bind(*args, **kwargs)
        bound.apply_defaults()
        return bound.arguments

    def _seen(self, given: Mapping[str, Any]) -> tuple[ScoredItem, dict[str, Any], dict[str, Any]]:
        """The rows, the arguments as checked, and what is seen of them."""
        item = self._item(self.name if self._rows is None else self._rows(**given))
        limits = {name: (own[0].low, own[-1].high, item.units[name]) for name, own in item.bands.items()}
        flags = {name: given[name] for name in item.flags if name in given}
        checks: list[Callable[[], Mapping[str, Any]]] = [
            partial(checked_number_arrays, self.where, {**limits, **self._ranges}, given),
            partial(checked_flags, self.where, flags),
        ]
        if "duration" in given:
            checks.append(partial(checked_integer_arrays, self.where, {"duration": (-1, 1)}, given))
        checked: dict[str, Any] = dict(given)
        wrong: list[WrongArgument] = []
        for check in checks:
            try:
                checked.update(check())
            except OutOfRange as fault:
                wrong += fault.wrong
        if wrong:
            places = list(given)
            raise OutOfRange(self.where, tuple(sorted(wrong, key=lambda one: places.index(one.name))))
        return item, checked, {**checked, **(self._function(**checked) or {})}

    def _item(self, rows: str) -> ScoredItem:
        """The rows, a single quantity under the name of the first argument."""
        if rows not in self._items:
            item, first = self._book.items[rows], next(iter(self._signature.parameters))
            if "" in item.bands:
                item = replace(item, bands={first: item.bands[""]}, units={first: item.units[""]})
            self._items[rows] = item
        return self._items[rows]


def _band_words(item: ScoredItem, shown: Mapping[str, Any], seen: Mapping[str, Any]) -> str:
    """The number and its band, of the quantity that decides; the words of the base where there is no band."""
    scores = {name: banded(bands, seen[name]) for name, bands in item.bands.items()}
    if not scores:
        return tr(item.base[1])
    decisive = stronger(list(scores.values()), 0)
    name = next(name for name, score in scores.items() if score == decisive)
    bands, value, given = item.bands[name], float(seen[name]), float(shown[name])
    band = next(band for band in bands if band.holds(np.asarray(value)))
    # What is seen as another number, such as a bend to either side, is shown as it was given.
    if abs(given) == abs(value):
        number = ("-" if given < 0 < value else "") + plain_number(value, bands)
    else:
        number = plain_number(given, ())
    measured = with_side(number, item.units[name])
    return tr("{measured}, band {band}", measured=measured, band=tr(band.words))


@dataclass(frozen=True)
class Given:
    """Arguments of an item, to score it or to say why, wherever the method allows it.

    Parameters
    ----------
    item
        The item.
    arguments
        Every argument of its function.
    used
        Where the thing is used at all; where it is not, the item scores 0.
    """

    item: ItemFunction[...]
    arguments: Mapping[str, Any]
    used: ArrayLike = True

    def where(self, used: ArrayLike) -> Given:
        """The same, but 0 where the thing is not used."""
        return replace(self, used=used)

    def points(self) -> IntArray:
        """Score [-]: 0 where not used, `NOT_SCORED` where a value is outside the method's range."""
        try:
            points = np.asarray(self.item(**self.arguments), dtype=np.int64)
        except OutOfRange:
            points = self._one_by_one()
        return np.where(self.used, points, 0).astype(np.int64)

    def reason(self) -> tuple[int | None, str]:
        """Score of single values, None where one is outside the method's range, and the reason."""
        name = tr(self.item.name.replace("_", " "))
        if not bool(self.used):
            return 0, tr("{item} 0: not used", item=name)
        try:
            return int(self.points()), self.item.why(self.arguments)
        except OutOfRange as fault:
            return None, tr("{item} not scored: {fault}", item=name, fault=fault)

    def _one_by_one(self) -> IntArray:
        """Score every distinct combination for itself, so that one bad cell spoils no other."""
        columns = np.broadcast_arrays(*(np.asarray(a) for a in self.arguments.values()))
        shape = columns[0].shape
        # Infinity keys what is no number: unlike NaN it equals itself.
        keys = np.stack(
            [np.where(np.isnan(c), np.inf, c).ravel() for c in (c.astype(float) for c in columns)]
        )
        _, first, inverse = np.unique(keys, axis=1, return_index=True, return_inverse=True)
        out = np.full(first.size, NOT_SCORED, dtype=np.int64)
        for number, place in enumerate(first.tolist()):
            single = {name: c.ravel()[place] for name, c in zip(self.arguments, columns, strict=True)}
            try:
                out[number] = int(self.item(**single))
            except OutOfRange:
                continue
        return out[inverse.ravel()].reshape(shape)


class ItemBook:
    """The items of one score.

    Parameters
    ----------
    name
        Of the score; the rows stand in ``tables/NAME_items.csv``.
    package
        Dotted name of the package that holds the folder.
    """

    def __init__(self, name: str, package: str = PACKAGE) -> None:
        self.name = name
        self.package = package
        self.functions: dict[str, ItemFunction[...]] = {}

    @cached_property
    def items(self) -> Mapping[str, ScoredItem]:
        """How each item is scored, read once.

        Raises
        ------
        TableDefect
            Where the bands of an item leave a gap or overlap.
        """
        rows = table_rows(f"{self.name}_items", self.package)
        names = dict.fromkeys(row["item"] for row in rows)
        return MappingProxyType(
            {name: self._item(name, [row for row in rows if row["item"] == name]) for name in names}
        )

    def _item(self, name: str, rows: Sequence[Mapping[str, str]]) -> ScoredItem:
        banded: dict[str, list[Mapping[str, str]]] = {}
        for row in rows:
            if row["kind"] == "band":
                banded.setdefault(row["flag"], []).append(row)
        base = [(int(row["points"]), row["words"]) for row in rows if row["kind"] == "base"]
        limit = [(int(row["low"]), int(row["high"]), row["words"]) for row in rows if row["kind"] == "limit"]
        return ScoredItem(
            name,
            {
                argument: bands_of(f"{self.name}_items: {name}", own, [int(row["points"]) for row in own])
                for argument, own in banded.items()
            },
            {argument: own[0]["unit"] for argument, own in banded.items()},
            base[0] if base else (0, ""),
            tuple(
                Condition(row["kind"], _flags(row["flag"]), int(row["points"]), row["words"])
                for row in rows
                if row["kind"] in ("set", "add")
            ),
            limit[0] if limit else None,
        )

    def scored(
        self, rows: Callable[..., str] | None = None, **ranges: tuple[float, float, str]
    ) -> Callable[[Callable[P, Changes]], ItemFunction[P]]:
        """Make an item of the decorated function.

        Parameters
        ----------
        rows, **ranges
            See `ItemFunction`.

        Returns
        -------
        callable
            Decorator.
        """

        def make(function: Callable[P, Changes]) -> ItemFunction[P]:
            made = ItemFunction(function, self, rows, ranges)
            self.functions[made.name] = made
            return made

        return make

    def explain(self, item: str, **arguments: Any) -> str:
        """Say in plain words why an item has its score.

        Parameters
        ----------
        item
            Name of an item.
        **arguments
            The arguments of its function, single values only.

        Returns
        -------
        str
            Such as ``seat depth 2: 20 mm behind the knee, band seat too long``.

        Raises
        ------
        UnknownName
            Where there is no such item.
        OutOfRange
            As the item's function, and where an argument is an array.
        """
        if item not in self.functions:
            raise UnknownName(f"{self.name}.explain", "item", item, tuple(self.functions))
        function = self.functions[item]
        return function.why(function.given(**arguments).arguments)
