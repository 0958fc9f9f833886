"""The reader's language and unit of length, and sentences, numbers, lengths and days in them.

English is written in the code, other languages are message catalogs. Files and the names of fixes keep plain
digits in every language.

What the reader chose is set for a piece of work with `reading` and `measuring`. It is never taken from the
machine, so that the same input gives the same bytes everywhere.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Literal

from deskmend.measures import Mm, format_length

LANGUAGES = ("en", "es")
"""Languages with a complete message catalog; the first is the one the code is written in."""

_language: ContextVar[str] = ContextVar("language", default=LANGUAGES[0])


def current_language() -> str:
    """Language that sentences are read in now, as ``en``."""
    return _language.get()


def read_in(language: str) -> None:
    """Read sentences in one of `LANGUAGES` from here on, up to the end of the `reading` block around it."""
    if language not in LANGUAGES:
        raise ValueError(f"language: read {language!r}, allowed {', '.join(LANGUAGES)}")
    _language.set(language)


@contextmanager
def reading(language: str = LANGUAGES[0]) -> Iterator[None]:
    """Read sentences in one of `LANGUAGES` for the length of a ``with`` block."""
    token = _language.set(_language.get())
    try:
        read_in(language)
        yield
    finally:
        _language.reset(token)


def tr(message: str, /, **values: object) -> str:
    """Give a sentence in the language being read; the English one where it has no translation.

    Names in braces are filled from `values`; without values braces stay as they are. Lengths that the
    sentence itself gives in mm are told in the reader's unit.
    """
    text = in_own_unit(_translations(_language.get()).gettext(message)) if message else message
    return text.format_map(values) if values else text


def trn(one: str, many: str, count: int, /, **values: object) -> str:
    """Give a sentence whose form depends on a number; ``{count}`` is filled with it."""
    text = in_own_unit(_translations(_language.get()).ngettext(one, many, count))
    return text.format_map({"count": count, **values})


class _Sentences(gettext.NullTranslations):
    """Sentences of a message catalog, read from the text that translators write."""

    _LINE = re.compile(r'(?:(msgid|msgid_plural|msgstr)(?:\[(\d)\])? )?"(.*)"')
    _ESCAPED = re.compile(r"\\(.)")
    _MEANT: Mapping[str, str] = {"n": "\n", "t": "\t", "r": "\r"}
    _FORMS = re.compile(r"Plural-Forms:.*plural=(.*?);")

    def __init__(self, text: str) -> None:
        super().__init__()
        self._one: dict[str, str] = {}
        self._many: dict[str, list[str]] = {}
        self._form: Callable[[int], int] = int
        for entry in text.split("\n\n"):
            self._take(entry)

    def _take(self, entry: str) -> None:
        told: dict[str, str] = {}
        at = ""
        for line in entry.splitlines():
            if line.startswith("#,") and "fuzzy" in line:
                return
            if found := self._LINE.fullmatch(line):
                at = f"{found[1]}{found[2] or ''}" if found[1] else at
                told[at] = told.get(at, "") + found[3]
        told = {key: self._ESCAPED.sub(self._mean, text) for key, text in told.items()}
        of = told.get("msgid")
        if of == "" and (forms := self._FORMS.search(told["msgstr"])):
            self._form = gettext.c2py(forms[1])
        elif of and "msgid_plural" in told:
            forms_of = [told[key] for key in sorted(told) if key.startswith("msgstr")]
            if all(forms_of):
                self._many[of], self._one[of] = forms_of, forms_of[self._form(1)]
        elif of and told["msgstr"]:
            self._one[of] = told["msgstr"]

    def _mean(self, escaped: re.Match[str]) -> str:
        return self._MEANT.get(escaped[1], escaped[1])

    def gettext(self, message: str) -> str:
        """A sentence; the English one where it has no translation."""
        return self._one.get(message, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """A sentence in the form that a number asks for."""
        forms = self._many.get(msgid1)
        return super().ngettext(msgid1, msgid2, n) if forms is None else forms[self._form(n)]


@cache
def _translations(language: str) -> gettext.NullTranslations:
    if language == LANGUAGES[0]:
        return gettext.NullTranslations()
    return _Sentences(files("deskmend").joinpath("locale", f"{language}.po").read_text(encoding="utf-8"))


LengthUnit = Literal["mm", "in"]
LENGTH_UNITS: tuple[LengthUnit, ...] = ("mm", "in")
"""Units a reader may choose for lengths; the first is the one taken without a choice."""

_unit: ContextVar[LengthUnit] = ContextVar("unit", default=LENGTH_UNITS[0])


def current_unit() -> LengthUnit:
    """Unit that lengths are shown in now."""
    return _unit.get()


def told_in() -> Hashable:
    """What sentences hang on beside their values: whoever keeps one keeps it for this alone."""
    return _translations(_language.get()), _unit.get()


def measure_in(unit: str) -> None:
    """Show lengths in one of `LENGTH_UNITS` from here on, to the end of the `measuring` block around it."""
    if unit not in LENGTH_UNITS:
        raise ValueError(f"unit: read {unit!r}, allowed {', '.join(LENGTH_UNITS)}")
    _unit.set(unit)


@contextmanager
def measuring(unit: str = LENGTH_UNITS[0]) -> Iterator[None]:
    """Show lengths in one of `LENGTH_UNITS` for the length of a ``with`` block."""
    token = _unit.set(_unit.get())
    try:
        measure_in(unit)
        yield
    finally:
        _unit.reset(token)


def shown_number(text: str) -> str:
    """Plain decimal text with the decimal sign of the reader's language.

    Thousands are not set apart: between languages the sign for it is easily taken for a decimal sign.

    >>> with reading("es"):
    ...     shown_number("1234.50")
    '1234,50'
    """
    language = current_language()
    if language == LANGUAGES[0]:
        return text
    from babel.numbers import format_decimal

    decimals = len(text.partition(".")[2])
    pattern = "0" + ("." + "0" * decimals if decimals else "")
    return format_decimal(Decimal(text), format=pattern, locale=language)


def shown_length(mm: Mm) -> str:
    """Length with its unit: whole millimetres, or inches with one decimal where those were chosen."""
    number, _, unit = format_length(mm, current_unit()).partition(" ")
    return f"{shown_number(number)} {unit}"


_NUMBER = r"\d+(?:[.,]\d+)?"
_LENGTHS = re.compile(rf"(?P<numbers>{_NUMBER}(?: (?:to|by|a|por) {_NUMBER})*) mm\b")
"""One length in mm, or several with their unit once: ``20 to 40 mm``, ``400 by 300 mm``."""
SMALL = 13
"""Lengths under this [mm] take a second decimal in inches, or they would differ by a quarter."""


def in_own_unit(text: str) -> str:
    """Text with its lengths in mm told in the reader's unit, so that no sentence mixes two.

    >>> with measuring("in"):
    ...     in_own_unit("A board of 400 by 300 mm, 9 mm thick.")
    'A board of 15.7 by 11.8 in, 0.35 in thick.'
    """
    unit = current_unit()
    if unit == LENGTH_UNITS[0] or " mm" not in text:
        return text

    def told(found: re.Match[str]) -> str:
        return f"{re.sub(_NUMBER, _inches, found['numbers'])} {unit}"

    return _LENGTHS.sub(told, text)


def _inches(number: re.Match[str]) -> str:
    mm = float(number[0].replace(",", "."))
    return shown_number(f"{mm / 25.4:.{2 if mm < SMALL else 1}f}")


def shown_day(day: date) -> str:
    """Date as the reader's language writes it; in English as ``2026-03-01``, which is read one way only."""
    language = current_language()
    if language == LANGUAGES[0]:
        return day.isoformat()
    from babel.dates import format_date

    return format_date(day, format="long", locale=language)
