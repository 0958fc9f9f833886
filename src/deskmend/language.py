"""Numbers, lengths and dates as the reader writes them; files and the names of fixes keep plain digits.

Sentences in the reader's language: English is written in the code, other languages are message catalogs.

The language is set for a piece of work with `reading` and is never taken from the machine, so that the same
input gives the same bytes everywhere.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from decimal import Decimal
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import Literal

from deskmend.measures import format_length

__all__ = [
    "LANGUAGES",
    "LENGTH_UNITS",
    "current_language",
    "current_unit",
    "measure_in",
    "measuring",
    "read_in",
    "reading",
    "shown_day",
    "shown_length",
    "shown_number",
    "tr",
    "trn",
]

LANGUAGES = ("en", "es")
"""Languages with a complete message catalog; the first is the one the code is written in."""

_language: ContextVar[str] = ContextVar("language", default=LANGUAGES[0])


def current_language() -> str:
    """Language that sentences are read in now, as ``en``."""
    return _language.get()


def read_in(language: str) -> None:
    """Read sentences in a language from here on, up to the end of the `reading` block around it.

    Parameters
    ----------
    language : str
        One of `LANGUAGES`.

    Raises
    ------
    ValueError
        There is no catalog for it.
    """
    if language not in LANGUAGES:
        raise ValueError(f"language: read {language!r}, allowed {', '.join(LANGUAGES)}")
    _language.set(language)


@contextmanager
def reading(language: str = LANGUAGES[0]) -> Iterator[None]:
    """Read sentences in a language for the length of a ``with`` block.

    Parameters
    ----------
    language : str
        One of `LANGUAGES`.

    Raises
    ------
    ValueError
        There is no catalog for it.
    """
    token = _language.set(_language.get())
    try:
        read_in(language)
        yield
    finally:
        _language.reset(token)


def tr(message: str, /, **values: object) -> str:
    """Give a sentence in the language being read.

    Parameters
    ----------
    message : str
        English text; names in braces are filled from `values`. Without values braces stay as they are.
    **values
        What to fill in.

    Returns
    -------
    str
        The translation, or the English text where there is none.
    """
    text = _translations(_language.get()).gettext(message) if message else message
    return text.format_map(values) if values else text


def trn(one: str, many: str, count: int, /, **values: object) -> str:
    """Give a sentence whose form depends on a number; ``{count}`` is filled with it.

    Parameters
    ----------
    one, many : str
        English text for one, and for any other number.
    count : int
        The number [-].
    **values
        What else to fill in.
    """
    text = _translations(_language.get()).ngettext(one, many, count)
    return text.format_map({"count": count, **values})


@cache
def _translations(language: str) -> gettext.NullTranslations:
    if language == LANGUAGES[0]:
        return gettext.NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    source = files("deskmend").joinpath("locale", f"{language}.po").read_bytes()
    compiled = BytesIO()
    write_mo(compiled, read_po(BytesIO(source), locale=language))
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


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
