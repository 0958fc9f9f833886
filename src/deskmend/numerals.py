"""Numbers, lengths and dates as the reader writes them; files and the names of fixes keep plain digits."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from decimal import Decimal
from typing import Literal

from deskmend.messages import LANGUAGES, current_language
from deskmend.units import format_length

__all__ = [
    "LENGTH_UNITS",
    "current_unit",
    "measure_in",
    "measuring",
    "shown_day",
    "shown_length",
    "shown_number",
]

LengthUnit = Literal["mm", "in"]
LENGTH_UNITS: tuple[LengthUnit, ...] = ("mm", "in")
"""Units a reader may choose for lengths; the first is the one taken without a choice."""

_unit: ContextVar[LengthUnit] = ContextVar("unit", default=LENGTH_UNITS[0])


def current_unit() -> LengthUnit:
    """Unit that lengths are shown in now."""
    return _unit.get()


def measure_in(unit: str) -> None:
    """Show lengths in a unit from here on, up to the end of the `measuring` block around it.

    Parameters
    ----------
    unit : str
        One of `LENGTH_UNITS`.

    Raises
    ------
    ValueError
        It is another one.
    """
    if unit not in LENGTH_UNITS:
        raise ValueError(f"unit: read {unit!r}, allowed {', '.join(LENGTH_UNITS)}")
    _unit.set(unit)


@contextmanager
def measuring(unit: str = LENGTH_UNITS[0]) -> Iterator[None]:
    """Show lengths in a unit for the length of a ``with`` block.

    Parameters
    ----------
    unit : str
        One of `LENGTH_UNITS`.

    Raises
    ------
    ValueError
        It is another one.
    """
    token = _unit.set(_unit.get())
    try:
        measure_in(unit)
        yield
    finally:
        _unit.reset(token)


def shown_number(text: str) -> str:
    """Decimal text as the reader's language writes it.

    Parameters
    ----------
    text : str
        Plain decimal digits, as ``12.30`` or ``-4``.

    Returns
    -------
    str
        The same digits with the decimal sign of the language, as ``12,30``. Thousands are not set apart:
        between languages the sign for it is easily taken for a decimal sign.
    """
    language = current_language()
    if language == LANGUAGES[0]:
        return text
    from babel.numbers import format_decimal

    decimals = len(text.partition(".")[2])
    pattern = "0" + ("." + "0" * decimals if decimals else "")
    return format_decimal(Decimal(text), format=pattern, locale=language)


def shown_length(mm: float) -> str:
    """Length with its unit, as ``1580 mm``, or ``62.2 in`` where inches were chosen.

    Parameters
    ----------
    mm : float
        A length [mm].

    Returns
    -------
    str
        Whole millimetres, or inches with one decimal.
    """
    number, _, unit = format_length(mm, current_unit()).partition(" ")
    return f"{shown_number(number)} {unit}"


def shown_day(day: date) -> str:
    """Date as the reader's language writes it; in English as ``2026-03-01``, which is read one way only.

    Parameters
    ----------
    day : date
        The day.
    """
    language = current_language()
    if language == LANGUAGES[0]:
        return day.isoformat()
    from babel.dates import format_date

    return format_date(day, format="long", locale=language)
