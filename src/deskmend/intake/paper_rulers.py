"""Lengths measured without a tape: by laying sheets of paper and bank cards end to end."""

from __future__ import annotations

import re
from decimal import Decimal

from deskmend.units import format_number

__all__ = ["RULERS", "laid_length"]

RULERS = {
    "a4": Decimal("297"),
    "letter": Decimal("279.4"),
    "card": Decimal("85.6"),
}
"""Long side of each ruler [mm]: sheet of A4 (ISO 216), US letter (11 in, ANSI/ASME Y14.1), bank card (ISO/IEC
7810, ID-1); published, quoted from memory."""

_TERM = re.compile(r"(?:(\d{1,3}(?:\.\d{1,3})?) *)?(a4|letters?|cards?)|(\d{1,4}(?:\.\d{1,3})?) *(?:mm)?")
MOST_TERMS = 6
"""Most parts of one sum."""


def laid_length(text: str) -> str | None:
    """Turn a sum of sheets, cards and millimetres into millimetres.

    Parameters
    ----------
    text : str
        As ``2 A4 + 1 card + 10``. A number in front counts how often it was laid; half a sheet is 0.5.

    Returns
    -------
    str or None
        Millimetres with at most one decimal; None where no sheet or card is named, or it cannot be read.
    """
    parts = text.lower().split("+")
    if len(parts) > MOST_TERMS:
        return None
    total, laid = Decimal(0), False
    for part in parts:
        term = _TERM.fullmatch(part.strip())
        if term is None:
            return None
        if term[2]:
            total += Decimal(term[1] or 1) * RULERS[term[2].removesuffix("s")]
            laid = True
        else:
            total += Decimal(term[3])
    return format_number(float(total), 1) if laid else None
