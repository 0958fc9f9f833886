"""Sizes of cut pieces as small sums of numbers, ``size`` and fields of the state.

They know four operations, min, max, and sin and tan of degrees. A parser of their own reads them, so that a
catalog can never run anything.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from deskmend.errors import Unreadable
from deskmend.intake.reading.fields import FieldKind

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
