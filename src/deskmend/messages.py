"""Sentences in the reader's language: English is written in the code, other languages are message catalogs.

The language is set for a piece of work with `reading` and is never taken from the machine, so that the same
input gives the same bytes everywhere.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib.resources import files
from io import BytesIO

__all__ = ["LANGUAGES", "current_language", "read_in", "reading", "tr", "trn"]

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
