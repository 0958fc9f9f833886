"""Kinds of fields in records, sizes of cuts among them: how a text becomes a value, or what to say.

Each kind is put beside the type, as ``Annotated[int, count("person.age")]``. It takes the text of a file,
and for callers in Python also the finished value. Blank and ``unknown`` are handled by the record. The values
taken for each measured key stand in ``tables/ranges.csv``.

They know four operations, min, max, and sin and tan of degrees. A parser of their own reads them, so that a
catalog can never run anything.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Any, cast, get_args

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from deskmend.errors import Unreadable, did_you_mean
from deskmend.intake.reading.text_file import ALLOWED_FIX_NAME, ALLOWED_ID, is_id, parse_fix_name, text_fault
from deskmend.measures import (
    WRITTEN,
    Minor,
    Mm,
    QuantityKind,
    Range,
    parse_amount,
    parse_currency,
    parse_quantity,
)
from deskmend.published import read_table

MOST_LENGTHS = 100
"""Most pieces listed of one owned thing."""

_YES_NO = {"yes": True, "no": False, "true": True, "false": False}


@cache
def ranges() -> Mapping[str, Range]:
    """Return the values taken for every measured key, as ``seat.height``. Status: judgement."""
    return MappingProxyType(
        {
            row["key"]: Range(cast(QuantityKind, row["kind"]), float(row["low"]), float(row["high"]))
            for row in read_table("deskmend.intake", "ranges.csv")
        }
    )


SINGLE: Mapping[str, Any] = MappingProxyType({"type": ["string", "number", "boolean"]})
"""A single value: numbers and dates are taken as the text they stand as."""
UNKNOWN = "unknown"
"""What may stand wherever a key may be left out; never equal to anything a rule asks for."""


@dataclass(frozen=True)
class FieldKind:
    """How one kind of field is read."""

    allowed: str
    """What may stand there, in plain words."""
    read: Callable[[Any, dict[str, Any]], Any]
    """Takes the raw value and the fields of the record read so far; returns the value or raises
    `Unreadable`."""
    group: Callable[[], Any] | None = None
    """Gives the record that a group of keys in this place is read as; None where none may stand there."""
    written: Mapping[str, Any] = field(default_factory=lambda: SINGLE, compare=False)
    """JSON Schema of how it is written; `read` may take less. Blank and ``unknown`` come on top."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Tell pydantic to use `read` alone, so that its own conversions cannot guess."""
        return core_schema.with_info_plain_validator_function(self._validate)

    def __get_pydantic_json_schema__(self, _: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Tell what may be written, for programs that write such files."""
        ways = [dict(self.written)]
        if self.group is not None:
            # its keys alone: written out at each of a case's measures it would fill most of the schema
            keys = self.group().model_fields
            needed = [name for name, one in keys.items() if one.is_required()]
            ways.append({"type": "object", "propertyNames": {"enum": list(keys)}, "required": needed})
        return {"anyOf": [*ways, {"enum": [None, UNKNOWN]}], "description": self.allowed}

    def _validate(self, value: Any, info: core_schema.ValidationInfo) -> Any:
        return self.read(value, dict(info.data or {}))


def _text(value: Any, allowed: str) -> str:
    if not isinstance(value, str):
        raise Unreadable(allowed, note=f"is {shape_of(value)}")
    return value


def shape_of(value: Any) -> str:
    """Say what stands where a single value should."""
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list | tuple):
        return "a list"
    return "empty" if value is None else f"of type {type(value).__name__}"


def read_quantity(value: Any, limits: Range) -> float:
    """Read a quantity and hold it against its range.

    Takes the text of a file or a finite number; `Unreadable` asks for the unit that would fit.
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value) if math.isfinite(value) else math.nan
    else:
        text = _text(value, str(limits))
        try:
            number = parse_quantity(text, limits.kind)
        except Unreadable as error:
            raise Unreadable(f"{limits}, {WRITTEN[limits.kind]}", error.hint) from None
    if number not in limits:
        raise Unreadable(str(limits), limits.rescaled(number))
    return number


def count(key: str) -> FieldKind:
    """Return the kind of a field that gives a whole number within a row of ``ranges.csv``."""
    limits = ranges()[key]
    return FieldKind(str(limits), lambda value, _: _read_count(value, limits))


def _read_count(value: Any, limits: Range) -> int:
    number = read_quantity(value, limits)
    if number != int(number):
        raise Unreadable(str(limits))
    return int(number)


def span(key: str) -> FieldKind:
    """Return the kind of a field that gives a lowest and a highest value within a row of ``ranges.csv``."""
    limits = ranges()[key]
    allowed = f"a list of lowest and highest, each {limits}"

    def read(value: Any, _: dict[str, Any]) -> tuple[float, float]:
        if not isinstance(value, list | tuple) or len(value) != 2:
            raise Unreadable(allowed, "write it as [680, 760]")
        low, high = (read_quantity(end, limits) for end in value)
        if low > high:
            raise Unreadable(allowed, "put the lower one first", "the first is above the second")
        return low, high

    return FieldKind(allowed, read, written=list_of(2))


def list_of(length: int | None = None, of: Mapping[str, Any] = SINGLE) -> dict[str, Any]:
    """JSON Schema of a list, of a length where one is given."""
    bounds = {} if length is None else {"minItems": length, "maxItems": length}
    return {"type": "array", "items": dict(of), **bounds}


def word(vocabulary: Any) -> FieldKind:
    """Return the kind of a field that takes one of the words of a ``Literal``."""
    words: tuple[str, ...] = get_args(vocabulary)
    allowed = ", ".join(words)
    written = {"const": words[0]} if len(words) == 1 else {"enum": list(words)}
    return FieldKind(allowed, lambda value, _: read_word(value, words, allowed), written=written)


def read_word(value: Any, words: Sequence[str], allowed: str) -> str:
    """Read one of some words; `Unreadable` names the nearest."""
    text = _text(value, allowed)
    if text not in words:
        raise Unreadable(allowed, did_you_mean(text, words))
    return text


def _read_yes_no(value: Any, _: dict[str, Any]) -> bool:
    if isinstance(value, bool):
        return value
    text = _text(value, "yes or no")
    if text not in _YES_NO:
        raise Unreadable("yes or no", did_you_mean(text, _YES_NO))
    return _YES_NO[text]


YES_NO = FieldKind("yes or no", _read_yes_no, written={"enum": [*_YES_NO, True, False]})
"""Kind of a field that gives a bool from ``yes``, ``no``, ``true`` or ``false``."""


def _read_id(value: Any, _: dict[str, Any]) -> str:
    text = _text(value, ALLOWED_ID)
    if not is_id(text):
        raise Unreadable(ALLOWED_ID)
    return text


ID = FieldKind(ALLOWED_ID, _read_id)
"""Kind of a field that gives an id; others are refused, never repaired."""


def _read_fix_name(value: Any, _: dict[str, Any]) -> str:
    text = _text(value, ALLOWED_FIX_NAME)
    if parse_fix_name(text) is None:
        raise Unreadable(ALLOWED_FIX_NAME)
    return text


FIX_NAME = FieldKind(ALLOWED_FIX_NAME, _read_fix_name)
"""Kind of a field that names a fix, as ``kitchen.screen_books=105``."""


def free_text(longest: int, *, lines: bool = False) -> FieldKind:
    """Return the kind of a field that takes any readable text, without blanks at its ends.

    `longest` counts characters; `lines` lets line ends in. Control characters and marks that steer the
    writing direction are refused. Markup is kept as it stands: whoever prints the text must escape it.
    """
    allowed = f"text of at most {longest} characters"

    def read(value: Any, _: dict[str, Any]) -> str:
        text = _text(value, allowed).strip()
        if note := text_fault(text, longest, lines=lines):
            raise Unreadable(allowed, note=note)
        return text

    return FieldKind(allowed, read)


_ALLOWED_CURRENCY = "a currency code of ISO 4217 as EUR"
CURRENCY = FieldKind(_ALLOWED_CURRENCY, lambda value, _: parse_currency(_text(value, _ALLOWED_CURRENCY)))
"""Kind of a field that gives an ISO 4217 code."""


def _read_money(value: Any, earlier: dict[str, Any]) -> Minor:
    if isinstance(value, int) and not isinstance(value, bool) and value >= 0:
        return value
    text = _text(value, "an amount of money")
    currency = earlier.get("currency")
    # Without a currency the fault is the currency's; the amount cannot be judged before that is mended.
    return 0 if currency is None else parse_amount(text, currency)


MONEY = FieldKind("an amount of money as 40.00", _read_money)
"""Kind of a field that gives minor units of the record's ``currency``, which must stand before it. Where that
is missing or wrong the record has to be refused for it: the amount is then read as 0."""


@dataclass(frozen=True)
class Owned:
    """How much of a thing a person has: the length of each piece, or only their number."""

    count: int
    pieces: tuple[Mm, ...] = ()
    """Empty where only the count is known."""


def _read_owned(value: Any, _: dict[str, Any]) -> Owned:
    limits, piece = ranges()["owns.count"], ranges()["owns.piece"]
    allowed = f"a count of {limits}, or a list of at most {MOST_LENGTHS} lengths, each {piece}"
    if isinstance(value, Owned):
        return value
    if isinstance(value, list | tuple):
        if not 0 < len(value) <= MOST_LENGTHS:
            raise Unreadable(allowed, note=f"is a list of {len(value)}")
        lengths = tuple(_read_piece(one, piece, allowed) for one in value)
        return Owned(len(lengths), lengths)
    try:
        return Owned(_read_count(value, limits))
    except Unreadable as error:
        raise Unreadable(allowed, error.hint, error.note) from None


def _read_piece(value: Any, limits: Range, allowed: str) -> Mm:
    try:
        if isinstance(value, str) and "," in value:
            # It might part two pieces.
            raise Unreadable(allowed, "write a decimal point, and each piece for itself")
        return read_quantity(value, limits)
    except Unreadable as error:
        shown = value if isinstance(value, str) else shape_of(value)
        raise Unreadable(allowed, error.hint, f'one of them is "{shown[:20]}"') from None


OWNED = FieldKind("a count, or a list of lengths", _read_owned, written={"anyOf": [dict(SINGLE), list_of()]})
"""Kind of a field that gives an `Owned`."""


_ALLOWED = "a length in mm, or a sum of lengths, size and fields, as min(400, seat.depth) + size"
_LONGEST = 120
"""Longest expression [characters]; it bounds how deep one can nest."""
_TOKEN = re.compile(r"\s*(?:(\d{1,5}(?:\.\d{1,3})?)|([a-z_]+(?:\.[a-z_]+)?)|([-+*/(),]))")
_FUNCTIONS: dict[str, Callable[..., float]] = {
    "min": min,
    "max": max,
    "sin": lambda degrees: math.sin(math.radians(degrees)),
    "tan": lambda degrees: math.tan(math.radians(degrees)),
}
_ARGUMENTS = {"min": (2, 4), "max": (2, 4), "sin": (1, 1), "tan": (1, 1)}

_Parsed = tuple[Any, ...]
"""("number", value), ("name", name), or (operation, tree, ...)."""


@dataclass(frozen=True)
class Expression:
    """A sum that has been read: as it was written, and what it means."""

    text: str
    tree: _Parsed

    def __str__(self) -> str:
        """Return the text."""
        return self.text

    @property
    def names(self) -> tuple[str, ...]:
        """Names in it, each once: ``size`` and fields of the state."""
        return tuple(dict.fromkeys(_names(self.tree)))

    def value(self, lookup: Callable[[str], float]) -> float:
        """Work it out with a lookup of names; nan where it divides by nothing or a value is not known."""
        try:
            return _value(self.tree, lookup)
        except (ZeroDivisionError, OverflowError):
            return math.nan


def _names(tree: _Parsed) -> Iterator[str]:
    if tree[0] == "name":
        yield tree[1]
    elif tree[0] != "number":
        for part in tree[1:]:
            yield from _names(part)


def _value(tree: _Parsed, lookup: Callable[[str], float]) -> float:
    kind = tree[0]
    if kind == "number":
        return float(tree[1])
    if kind == "name":
        return float(lookup(tree[1]))
    parts = [_value(part, lookup) for part in tree[1:]]
    if any(math.isnan(part) for part in parts):
        return math.nan
    if kind in _FUNCTIONS:
        return float(_FUNCTIONS[kind](*parts))
    first, *rest = parts
    if kind == "-":
        return first - rest[0] if rest else -first
    return {"+": lambda: first + rest[0], "*": lambda: first * rest[0], "/": lambda: first / rest[0]}[kind]()


def parse_expression(text: str) -> Expression:
    """Read a sum; lengths in mm, angles in degrees.

    >>> parse_expression("min(400, seat.depth) + size").value({"seat.depth": 430, "size": 20}.__getitem__)
    420.0
    >>> parse_expression("desk.depth * tan(size)").names
    ('desk.depth', 'size')

    Raises `Unreadable`, which says where reading ended.
    """
    if len(text) > _LONGEST:
        raise Unreadable(_ALLOWED, note=f"has {len(text)} characters, {_LONGEST} are read")
    reader = _Reader(text)
    tree = reader.sum()
    reader.end()
    return Expression(text.strip(), tree)


class _Reader:
    """Reads one sum from left to right."""

    def __init__(self, text: str) -> None:
        self._tokens: list[tuple[str, str]] = []
        at = 0
        text = text.rstrip()
        while at < len(text):
            found = _TOKEN.match(text, at)
            if found is None:
                raise Unreadable(_ALLOWED, note=f'cannot be read from "{text[at:].strip()[:20]}" on')
            number, name, sign = found.groups()
            self._tokens.append(("number", number) if number else ("name", name) if name else ("sign", sign))
            at = found.end()
        self._at = 0

    def _next(self) -> tuple[str, str]:
        return self._tokens[self._at] if self._at < len(self._tokens) else ("end", "")

    def _take(self, sign: str) -> bool:
        if self._next() == ("sign", sign):
            self._at += 1
            return True
        return False

    def _want(self, sign: str) -> None:
        if not self._take(sign):
            raise self._fault(f"needs {sign}")

    def _fault(self, what: str) -> Unreadable:
        here = self._next()[1]
        return Unreadable(_ALLOWED, note=f'{what} before "{here}"' if here else f"{what} at its end")

    def end(self) -> None:
        if self._next()[0] != "end":
            raise self._fault("needs + - * or /")

    def sum(self) -> _Parsed:
        tree = self._product()
        while self._next() in (("sign", "+"), ("sign", "-")):
            sign = self._next()[1]
            self._at += 1
            tree = (sign, tree, self._product())
        return tree

    def _product(self) -> _Parsed:
        tree = self._single()
        while self._next() in (("sign", "*"), ("sign", "/")):
            sign = self._next()[1]
            self._at += 1
            tree = (sign, tree, self._single())
        return tree

    def _single(self) -> _Parsed:
        kind, text = self._next()
        if self._take("-"):
            return ("-", self._single())
        if self._take("("):
            tree = self.sum()
            self._want(")")
            return tree
        if kind == "number":
            self._at += 1
            return ("number", float(text))
        if kind != "name":
            raise self._fault("needs a number or a name")
        self._at += 1
        if text not in _FUNCTIONS:
            return ("name", text)
        self._want("(")
        parts = [self.sum()]
        while self._take(","):
            parts.append(self.sum())
        self._want(")")
        least, most = _ARGUMENTS[text]
        if not least <= len(parts) <= most:
            raise Unreadable(_ALLOWED, note=f"{text} takes {least} to {most} values, not {len(parts)}")
        return (text, *parts)


def _read(value: Any, _: dict[str, Any]) -> Expression:
    if isinstance(value, Expression):
        return value
    if not isinstance(value, str):
        raise Unreadable(_ALLOWED)
    return parse_expression(value)


EXPRESSION = FieldKind(_ALLOWED, _read)
"""Kind of a field that gives an `Expression`."""
