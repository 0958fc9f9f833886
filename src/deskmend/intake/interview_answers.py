"""How one answer of the interview is read: a text comes in, and what the case holds goes out."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from deskmend.errors import did_you_mean
from deskmend.intake.fields import CURRENCY, MAX_PIECES, MONEY, FieldFault, read_quantity
from deskmend.intake.paper_rulers import laid_length
from deskmend.intake.ranges import ranges
from deskmend.intake.tree import Plain
from deskmend.units import Range, format_number

__all__ = ["Answers", "Reader", "choice", "choices", "currency", "measure", "money", "pieces", "troubles"]

Answers = Mapping[str, str | None]
"""Answers so far by question, as texts; None where the question was skipped."""

Reader = Callable[[str, Answers], Plain]
"""Takes what was typed and the answers before; gives the part of the case, or raises `FieldFault`."""

LONGEST = 400
"""Longest answer [characters]."""
NOTHING = "none"
"""Answer that says that there is nothing of the kind."""
CURRENCY_KEY = "means.currency"


def measure(key: str, words: Sequence[str] = ()) -> Reader:
    """Reader of a quantity, also laid out with sheets and cards where it is a length.

    Parameters
    ----------
    key : str
        Row of ``ranges.csv``.
    words : sequence of str
        Words that are taken in its place.
    """
    limits = ranges()[key]

    def read(text: str, _: Answers) -> Plain:
        if words:
            word = _word(text, words)
            if word is not None:
                return word
        return _measured(text, limits, words)

    return read


def _measured(text: str, limits: Range, words: Sequence[str] = ()) -> str:
    laid = laid_length(text) if limits.kind == "length" else None
    given = text if laid is None else laid
    try:
        read_quantity(given, limits)
    except FieldFault as fault:
        if not words:
            raise
        allowed = f"{', '.join(words)}, or {limits}"
        raise FieldFault(allowed, fault.hint or did_you_mean(text, words), fault.note) from None
    return given


def _word(text: str, words: Sequence[str]) -> str | None:
    """Word meant: written out in any letter case, or by its number in the list."""
    plain = text.strip().lower().replace(" ", "_").replace("-", "_")
    if plain in words:
        return plain
    if plain.isascii() and plain.isdigit() and len(plain) < 4 and 1 <= int(plain) <= len(words):
        return words[int(plain) - 1]
    return None


def choice(words: Sequence[str], allowed: Callable[[Answers], Sequence[str]] | None = None) -> Reader:
    """Reader of one word out of a list, written out or by its number.

    Parameters
    ----------
    words : sequence of str
        All words.
    allowed : callable, optional
        Words that go with the answers before; all if left out.
    """

    def read(text: str, answers: Answers) -> Plain:
        known = words if allowed is None else allowed(answers)
        word = _word(text, known)
        if word is None:
            raise FieldFault(
                f"a number from 1 to {len(known)}, or {', '.join(known)}", did_you_mean(text, known)
            )
        return word

    return read


def choices(words: Sequence[str]) -> Reader:
    """Reader of several words out of a list, by commas or blanks; ``none`` for an empty list."""

    def read(text: str, _: Answers) -> Plain:
        if text.strip().lower() == NOTHING:
            return []
        chosen: list[str] = []
        for part in re.split(r"[,\s]+", text.strip().strip(",")):
            word = _word(part, words)
            if word is None:
                allowed = f"{NOTHING}, or numbers from 1 to {len(words)} with commas between"
                raise FieldFault(allowed, did_you_mean(part, words), f'one of them is "{part[:20]}"')
            if word not in chosen:
                chosen.append(word)
        return list(chosen)

    return read


def pieces(key: str) -> Reader:
    """Reader of the length of each piece of one thing; ``none`` for no pieces.

    Parameters
    ----------
    key : str
        Row of ``ranges.csv`` for one piece.
    """
    limits = ranges()[key]

    def read(text: str, _: Answers) -> Plain:
        if text.strip().lower() == NOTHING:
            return []
        parts = text.split(",") if "," in text else text.split()
        if len(parts) > MAX_PIECES:
            raise FieldFault(f"at most {MAX_PIECES} lengths, each {limits}", note=f"has {len(parts)}")
        try:
            return [_measured(part.strip(), limits) for part in parts]
        except FieldFault as fault:
            hint = 'with units put commas between, as "1.5 in, 2 in"' if "," not in text else fault.hint
            raise FieldFault(f"{NOTHING}, or lengths, each {limits}", hint, fault.note) from None

    return read


def troubles(regions: Sequence[str]) -> Reader:
    """Reader of discomfort by region, as ``neck 6, lower_back 3``; ``none`` where nothing troubles."""
    limits = ranges()["person.discomfort"]
    allowed = f"{NOTHING}, or a part of the body and {limits}, as neck 6, lower_back 3"

    def read(text: str, _: Answers) -> Plain:
        if text.strip().lower() == NOTHING:
            return {}
        found: dict[str, Plain] = {}
        for part in text.split(","):
            name, __, value = part.strip().rpartition(" ")
            region = _word(name, regions) if not name.isdigit() else None
            if region is None:
                raise FieldFault(allowed, did_you_mean(name.strip(), regions))
            try:
                number = read_quantity(value, limits)
            except FieldFault as fault:
                raise FieldFault(allowed, fault.hint) from None
            if number != int(number):
                raise FieldFault(allowed)
            found[region] = format_number(number)
        return found

    return read


def currency(text: str, _: Answers) -> Plain:
    """Read a currency code in any letter case."""
    code = CURRENCY.read(text.strip().upper(), {})
    return str(code)


def money(text: str, answers: Answers) -> Plain:
    """Read an amount in the currency answered before."""
    MONEY.read(text, {"currency": answers.get(CURRENCY_KEY)})
    return text
