"""Kinds of fields in records: how a text becomes a value, and what to say where it cannot.

Each kind is put beside the type, as ``Annotated[float, quantity("seat.height")]``. It takes the text of a
file, and for callers in Python also the finished value. Blank and ``unknown`` are handled by the record.

The range of values taken for each measured key, read from ``ranges.csv``.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, cast, get_args

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from deskmend.errors import did_you_mean
from deskmend.intake.reading.ids import ALLOWED_FIX_NAME, ALLOWED_ID, is_id, parse_fix_name
from deskmend.intake.reading.text_file import text_fault
from deskmend.measures import (
    WRITTEN,
    Kind,
    Range,
    UnreadableAmount,
    UnreadableQuantity,
    parse_amount,
    parse_currency,
    parse_quantity,
)


@cache
def ranges() -> Mapping[str, Range]:
    """Return the range of every measured key.

    Returns
    -------
    mapping of str to Range
        Key, as ``seat.height``, to the values taken, in the unit of its kind. Status: judgement.
    """
    text = files("deskmend.intake").joinpath("ranges.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return MappingProxyType(
        {row["key"]: Range(cast(Kind, row["kind"]), float(row["low"]), float(row["high"])) for row in rows}
    )


MAX_PIECES = 100
"""Most pieces listed of one owned thing."""

_YES_NO = {"yes": True, "no": False, "true": True, "false": False}


class FieldFault(ValueError):
    """What is wrong with one value; the reader of records adds file, line and name.

    Parameters
    ----------
    allowed : str
        What may stand there, in plain words.
    hint : str
        A question or advice; may be empty.
    note : str
        What is wrong, where quoting the value does not say it; may be empty.
    """

    def __init__(self, allowed: str, hint: str = "", note: str = "") -> None:
        self.allowed = allowed
        self.hint = hint
        self.note = note
        super().__init__(allowed)


@dataclass(frozen=True)
class FieldKind:
    """How one kind of field is read.

    Attributes
    ----------
    allowed : str
        What may stand there, in plain words.
    read : callable
        Takes the raw value and the fields of the record read so far; returns the value or raises
        `FieldFault`.
    """

    allowed: str
    read: Callable[[Any, dict[str, Any]], Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Tell pydantic to use `read` alone, so that its own conversions cannot guess."""
        return core_schema.with_info_plain_validator_function(self._validate)

    def _validate(self, value: Any, info: core_schema.ValidationInfo) -> Any:
        return self.read(value, dict(info.data or {}))


def _text(value: Any, allowed: str) -> str:
    if not isinstance(value, str):
        raise FieldFault(allowed, note=f"is {_shape(value)}")
    return value


def _shape(value: Any) -> str:
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list | tuple):
        return "a list"
    return f"of type {type(value).__name__}"


def read_quantity(value: Any, limits: Range) -> float:
    """Read a quantity and hold it against its range.

    Parameters
    ----------
    value : Any
        Text of a file, or a finite number.
    limits : Range
        What is measured, and the values taken.

    Returns
    -------
    float
        The value in the unit of the range's kind.

    Raises
    ------
    FieldFault
        Where it cannot be read or lies outside; asks for the unit that would fit.
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value) if math.isfinite(value) else math.nan
    else:
        text = _text(value, str(limits))
        try:
            number = parse_quantity(text, limits.kind)
        except UnreadableQuantity as error:
            raise FieldFault(f"{limits}, {WRITTEN[limits.kind]}", error.hint) from None
    if number not in limits:
        raise FieldFault(str(limits), limits.rescaled(number))
    return number


def quantity(key: str) -> FieldKind:
    """Return the kind of a measured field.

    Parameters
    ----------
    key : str
        Row of ``ranges.csv``, as ``seat.height``.

    Returns
    -------
    FieldKind
        Gives a float in the unit of the row's kind.
    """
    limits = ranges()[key]
    return FieldKind(str(limits), lambda value, _: read_quantity(value, limits))


def count(key: str) -> FieldKind:
    """Return the kind of a field that holds a whole number.

    Parameters
    ----------
    key : str
        Row of ``ranges.csv`` of kind count.

    Returns
    -------
    FieldKind
        Gives an int.
    """
    limits = ranges()[key]
    return FieldKind(str(limits), lambda value, _: _read_count(value, limits))


def _read_count(value: Any, limits: Range) -> int:
    number = read_quantity(value, limits)
    if number != int(number):
        raise FieldFault(str(limits))
    return int(number)


def span(key: str) -> FieldKind:
    """Return the kind of a field that holds a lowest and a highest value.

    Parameters
    ----------
    key : str
        Row of ``ranges.csv`` both ends must keep to.

    Returns
    -------
    FieldKind
        Gives a tuple of two floats, the first no larger than the second.
    """
    limits = ranges()[key]
    allowed = f"a list of lowest and highest, each {limits}"

    def read(value: Any, _: dict[str, Any]) -> tuple[float, float]:
        if not isinstance(value, list | tuple) or len(value) != 2:
            raise FieldFault(allowed, "write it as [680, 760]")
        low, high = (read_quantity(end, limits) for end in value)
        if low > high:
            raise FieldFault(allowed, "put the lower one first", "the first is above the second")
        return low, high

    return FieldKind(allowed, read)


def word(vocabulary: Any) -> FieldKind:
    """Return the kind of a field that takes one of a few words.

    Parameters
    ----------
    vocabulary : Literal
        The words, all in lower case.

    Returns
    -------
    FieldKind
        Gives the word.
    """
    words: tuple[str, ...] = get_args(vocabulary)
    allowed = ", ".join(words)
    return FieldKind(allowed, lambda value, _: _read_word(value, words, allowed))


def _read_word(value: Any, words: Sequence[str], allowed: str) -> str:
    text = _text(value, allowed)
    if text not in words:
        raise FieldFault(allowed, did_you_mean(text, words))
    return text


def word_or_quantity(vocabulary: Any, key: str) -> FieldKind:
    """Return the kind of a field that takes a word or a measure.

    Parameters
    ----------
    vocabulary : Literal
        The words.
    key : str
        Row of ``ranges.csv`` for the measure.

    Returns
    -------
    FieldKind
        Gives the word, or a float in the unit of the row's kind.
    """
    words: tuple[str, ...] = get_args(vocabulary)
    limits = ranges()[key]
    allowed = f"{', '.join(words)}, or {limits}"

    def read(value: Any, _: dict[str, Any]) -> str | float:
        if isinstance(value, str) and not any(character.isdigit() for character in value):
            return _read_word(value, words, allowed)
        try:
            return read_quantity(value, limits)
        except FieldFault as fault:
            raise FieldFault(allowed, fault.hint, fault.note) from None

    return FieldKind(allowed, read)


def _read_yes_no(value: Any, _: dict[str, Any]) -> bool:
    if isinstance(value, bool):
        return value
    text = _text(value, "yes or no")
    if text not in _YES_NO:
        raise FieldFault("yes or no", did_you_mean(text, _YES_NO))
    return _YES_NO[text]


YES_NO = FieldKind("yes or no", _read_yes_no)
"""Kind of a field that gives a bool from ``yes``, ``no``, ``true`` or ``false``."""


def _read_id(value: Any, _: dict[str, Any]) -> str:
    text = _text(value, ALLOWED_ID)
    if not is_id(text):
        raise FieldFault(ALLOWED_ID)
    return text


ID = FieldKind(ALLOWED_ID, _read_id)
"""Kind of a field that gives an id; others are refused, never repaired."""


def _read_fix_name(value: Any, _: dict[str, Any]) -> str:
    text = _text(value, ALLOWED_FIX_NAME)
    if parse_fix_name(text) is None:
        raise FieldFault(ALLOWED_FIX_NAME)
    return text


FIX_NAME = FieldKind(ALLOWED_FIX_NAME, _read_fix_name)
"""Kind of a field that names a fix, as ``kitchen.screen_books=105``."""


def free_text(longest: int, *, lines: bool = False) -> FieldKind:
    """Return the kind of a field that takes any readable text.

    Markup is kept as it stands: whoever prints the text must escape it for the page it goes to.

    Parameters
    ----------
    longest : int
        Most characters taken.
    lines : bool
        Whether line ends are taken.

    Returns
    -------
    FieldKind
        Gives the text, without blanks at its ends. Control characters and marks that steer the writing
        direction are refused.
    """
    allowed = f"text of at most {longest} characters"

    def read(value: Any, _: dict[str, Any]) -> str:
        text = _text(value, allowed).strip()
        if note := text_fault(text, longest, lines=lines):
            raise FieldFault(allowed, note=note)
        return text

    return FieldKind(allowed, read)


def _read_currency(value: Any, _: dict[str, Any]) -> str:
    try:
        return parse_currency(_text(value, "a currency code of ISO 4217 as EUR"))
    except UnreadableAmount as error:
        raise FieldFault(error.allowed, error.hint) from None


CURRENCY = FieldKind("a currency code of ISO 4217 as EUR", _read_currency)
"""Kind of a field that gives an ISO 4217 code."""


def _read_money(value: Any, earlier: dict[str, Any]) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and value >= 0:
        return value
    text = _text(value, "an amount of money")
    currency = earlier.get("currency")
    if currency is None:
        # The fault is the currency's; the amount cannot be judged before it is mended.
        return 0
    try:
        return parse_amount(text, currency)
    except UnreadableAmount as error:
        raise FieldFault(error.allowed, error.hint) from None


MONEY = FieldKind("an amount of money as 40.00", _read_money)
"""Kind of a field that gives minor units of the record's ``currency``, which must stand before it. Where that
is missing or wrong the record has to be refused for it: the amount is then read as 0."""


@dataclass(frozen=True)
class Owned:
    """How much of a thing a person has.

    Attributes
    ----------
    count : int
        Number of pieces.
    pieces : tuple of float
        Length of each piece [mm]; empty where only the count is known.
    """

    count: int
    pieces: tuple[float, ...] = ()


def _read_owned(value: Any, _: dict[str, Any]) -> Owned:
    limits, piece = ranges()["owns.count"], ranges()["owns.piece"]
    allowed = f"a count of {limits}, or a list of at most {MAX_PIECES} lengths, each {piece}"
    if isinstance(value, Owned):
        return value
    if isinstance(value, list | tuple):
        if not 0 < len(value) <= MAX_PIECES:
            raise FieldFault(allowed, note=f"is a list of {len(value)}")
        lengths = tuple(_read_piece(one, piece, allowed) for one in value)
        return Owned(len(lengths), lengths)
    try:
        return Owned(_read_count(value, limits))
    except FieldFault as fault:
        raise FieldFault(allowed, fault.hint, fault.note) from None


def _read_piece(value: Any, limits: Range, allowed: str) -> float:
    try:
        return read_quantity(value, limits)
    except FieldFault as fault:
        shown = value if isinstance(value, str) else _shape(value)
        raise FieldFault(allowed, fault.hint, f'one of them is "{shown[:20]}"') from None


OWNED = FieldKind("a count, or a list of lengths", _read_owned)
"""Kind of a field that gives an `Owned`."""
