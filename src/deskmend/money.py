"""Money as whole minor units, in the decimals of its currency.

Amounts are integers of the smallest unit (cents, yen, fils), so sums are exact. The codes and their decimals
are read from ``currencies.csv`` (ISO 4217:2015, list one; status per row).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from deskmend.errors import did_you_mean

MAX_MAJOR_DIGITS = 12
"""Most digits before the decimal point, so that a thousand such amounts still fit 64 bits [digits]."""

_AMOUNT = re.compile(r"([0-9]+)(?:\.([0-9]+))?", re.ASCII)


class UnreadableAmount(ValueError):
    """Text that is not an amount of the currency, or not a currency.

    Parameters
    ----------
    allowed : str
        What may stand there, in plain words.
    hint : str
        A question or advice; may be empty.
    """

    def __init__(self, allowed: str, hint: str = "") -> None:
        self.allowed = allowed
        self.hint = hint
        super().__init__(f"allowed {allowed}" + (f"; {hint}" if hint else ""))


@cache
def currencies() -> Mapping[str, int]:
    """Return the decimals of every known currency.

    Returns
    -------
    mapping of str to int
        ISO 4217 code to decimals of the minor unit [-].
    """
    text = files("deskmend").joinpath("currencies.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return MappingProxyType({row["code"]: int(row["decimals"]) for row in rows})


def parse_currency(text: str) -> str:
    """Read a currency code.

    Parameters
    ----------
    text : str
        What was written.

    Returns
    -------
    str
        The ISO 4217 code.

    Raises
    ------
    UnreadableAmount
        Where it is no code of ``currencies.csv``; codes are capital letters.
    """
    code = text.strip()
    if code not in currencies():
        near = code.upper() if code.upper() in currencies() else ""
        hint = f"did you mean {near}?" if near else did_you_mean(code, currencies())
        raise UnreadableAmount("a currency code of ISO 4217 as EUR", hint)
    return code


def parse_amount(text: str, currency: str, *, negative: bool = False) -> int:
    """Read an amount of money.

    Parameters
    ----------
    text : str
        Digits with a decimal point, as ``40``, ``40.00`` or ``40.5``. No sign, no separators between
        thousands, no symbol.
    currency : str
        ISO 4217 code.
    negative : bool
        Whether a leading minus is taken.

    Returns
    -------
    int
        The amount in minor units of the currency.

    Raises
    ------
    UnreadableAmount
        Where the text is anything else, has more decimals than the currency, or more than twelve digits
        before the point.
    """
    decimals = currencies()[parse_currency(currency)]
    plain = text.strip()
    minus = negative and plain.startswith("-")
    match = _AMOUNT.fullmatch(plain[1:] if minus else plain)
    example = "40" if decimals == 0 else "40." + "0" * decimals
    allowed = f"an amount in {currency} as {example}"
    if match is None:
        raise UnreadableAmount(allowed, _advice(plain, decimals))
    major, minor = match[1], match[2] or ""
    if len(minor) > decimals:
        many = "no decimals" if decimals == 0 else f"at most {decimals} decimals"
        raise UnreadableAmount(f"{allowed}: {currency} has {many}")
    if len(major.lstrip("0")) > MAX_MAJOR_DIGITS:
        raise UnreadableAmount(f"at most {MAX_MAJOR_DIGITS} digits before the point")
    value = int(major[-MAX_MAJOR_DIGITS:] + minor.ljust(decimals, "0"))
    return -value if minus else value


def _advice(plain: str, decimals: int) -> str:
    if re.fullmatch(r"[0-9]{1,12},[0-9]{1,3}", plain, re.ASCII):
        before, after = plain.split(",")
        readings = [f"{before}.{after}"] if len(after) <= decimals else []
        readings += [before + after] if len(after) == 3 else []
        return f"did you mean {' or '.join(readings)}?" if readings else ""
    if re.fullmatch(r"[0-9]{1,3}(?:[, '][0-9]{3})+(?:\.[0-9]+)?", plain, re.ASCII):
        return f"did you mean {re.sub(r'[, ]', '', plain).replace(chr(39), '')}?"
    if re.fullmatch(r"-[0-9.]{1,20}", plain, re.ASCII):
        return "an amount here is not negative"
    return ""


def format_amount(minor: int, currency: str) -> str:
    """Write an amount as the decimal text used in JSON, CSV and files.

    Parameters
    ----------
    minor : int
        Amount in minor units.
    currency : str
        ISO 4217 code.

    Returns
    -------
    str
        As ``40.00`` for EUR, ``40`` for JPY, ``40.000`` for KWD.

    Raises
    ------
    UnreadableAmount
        Where the currency is unknown.
    """
    decimals = currencies()[parse_currency(currency)]
    sign = "-" if minor < 0 else ""
    digits = str(abs(minor)).rjust(decimals + 1, "0")
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}" if decimals else f"{sign}{digits}"
