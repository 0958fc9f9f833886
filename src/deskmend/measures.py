"""Units of every figure, and reading and printing of lengths, angles, times, weights and money.

A parameter of type `Mm` is in millimetres, one of type `Minor` in cents (yen, fils): the type says the
unit, so that no docstring has to.  Every quantity is kept in one unit: mm, deg, h, min, kg, lux, or none.
A bare number is in that unit; other units are written out.  Nothing is guessed: a bare 158 for a stature
stays 158 mm and is refused by its range, with the question whether 1580 was meant.

Amounts of money are integers of the smallest unit, so sums are exact.  The codes and their decimals are
read from ``currencies.csv`` (ISO 4217:2015, list one; status per row).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from types import MappingProxyType
from typing import Literal

from deskmend.errors import Unreadable, did_you_mean
from deskmend.published import read_table

Mm = float
"""Length or height [mm]."""
Deg = float
"""Angle [deg]."""
Hours = float
"""Time of exposure [h a day]."""
Minutes = int
"""Time of work [min]."""
Minor = int
"""Money in the smallest unit of its currency [minor units]."""
Micro = int
"""Strain [millionths of strain-hours a day]."""

MILLION = 1_000_000
"""`Micro` in one strain-hour."""

MAX_MAJOR_DIGITS = 12
"""Most digits before the decimal point, so that a thousand such amounts still fit 64 bits [digits]."""

_DECIMAL_COMMA = re.compile(r"(?<![0-9.,])([0-9]*),([0-9]{1,2})(?![0-9.,])", re.ASCII)
"""A comma before one or two digits; before three it might set thousands apart."""
_AMOUNT = re.compile(r"([0-9]+)(?:\.([0-9]+))?", re.ASCII)


@cache
def currencies() -> Mapping[str, int]:
    """Return the decimals of the minor unit of every known currency, by ISO 4217 code."""
    rows = read_table("deskmend", "currencies.csv")
    return MappingProxyType({row["code"]: int(row["decimals"]) for row in rows})


def parse_currency(text: str) -> str:
    """Read a currency code, in capital letters; `Unreadable` where ``currencies.csv`` does not hold it."""
    code = text.strip()
    if code not in currencies():
        near = code.upper() if code.upper() in currencies() else ""
        hint = f"did you mean {near}?" if near else did_you_mean(code, currencies())
        raise Unreadable("a currency code of ISO 4217 as EUR", hint)
    return code


def decimal_point(text: str) -> str:
    """Text with a point where a decimal comma stands, which is a comma before one or two digits alone.

    >>> decimal_point("46,5 cm"), decimal_point("1,580 mm"), decimal_point("38,42,25")
    ('46.5 cm', '1,580 mm', '38,42,25')
    """
    return _DECIMAL_COMMA.sub(r"\1.\2", text) if text.count(",") == 1 else text


def parse_amount(text: str, currency: str | None) -> Minor:
    """Read an amount of money: digits with a decimal point or comma, nothing between thousands, no symbol.

    Without a currency, as where it is not known yet, it only tells whether some currency reads it so.

    >>> parse_amount("40.5", "EUR"), parse_amount("40,50", "EUR")
    (4050, 4050)

    Raises `Unreadable` where the text is anything else, has more decimals than the currency, or more
    than twelve digits before the point.
    """
    known = currencies()
    decimals = max(known.values()) if currency is None else known[parse_currency(currency)]
    plain = decimal_point(text.strip())
    match = _AMOUNT.fullmatch(plain)
    example = "40" if decimals == 0 else "40." + "0" * decimals
    allowed = "an amount of money as 40.00" if currency is None else f"an amount in {currency} as {example}"
    if match is None:
        raise Unreadable(allowed, _advice(plain, decimals))
    major, minor = match[1], match[2] or ""
    if len(minor) > decimals:
        many = "no decimals" if decimals == 0 else f"at most {decimals} decimals"
        raise Unreadable(allowed if currency is None else f"{allowed}: {currency} has {many}")
    if len(major.lstrip("0")) > MAX_MAJOR_DIGITS:
        raise Unreadable(f"at most {MAX_MAJOR_DIGITS} digits before the point")
    return int(major[-MAX_MAJOR_DIGITS:] + minor.ljust(decimals, "0"))


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


def format_amount(minor: Minor, currency: str) -> str:
    """Write an amount as the decimal text used in JSON, CSV and files; `Unreadable` for another currency.

    >>> format_amount(4000, "EUR"), format_amount(40, "JPY"), format_amount(-5, "KWD")
    ('40.00', '40', '-0.005')
    """
    decimals = currencies()[parse_currency(currency)]
    sign = "-" if minor < 0 else ""
    digits = str(abs(minor)).rjust(decimals + 1, "0")
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}" if decimals else f"{sign}{digits}"


def exact_amount(minor: Minor, currency: str) -> Decimal:
    """An amount in major units without rounding, to reckon with.

    >>> exact_amount(4050, "EUR")
    Decimal('40.50')
    """
    return Decimal(format_amount(minor, currency))


QuantityKind = Literal["length", "angle", "hours", "minutes", "mass", "illuminance", "number", "count"]

MM_PER_INCH = Decimal("25.4")
"""Exact by definition: international yard and pound agreement of 1959; ISO 80000-3. Status: published."""

KG_PER_POUND = Decimal("0.45359237")
"""Exact by definition: international yard and pound agreement of 1959. Status: published."""

_FACTORS: Mapping[QuantityKind, Mapping[str, Decimal]] = {
    "length": {
        **{"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000)},
        **dict.fromkeys(("in", "inch", "inches", '"'), MM_PER_INCH),
        **dict.fromkeys(("ft", "foot", "feet", "'"), 12 * MM_PER_INCH),
    },
    "angle": dict.fromkeys(("deg", "degree", "degrees", "°"), Decimal(1)),
    "hours": {
        **dict.fromkeys(("h", "hour", "hours"), Decimal(1)),
        **dict.fromkeys(("min", "minutes"), 1 / Decimal(60)),
    },
    "minutes": {
        **dict.fromkeys(("min", "minute", "minutes"), Decimal(1)),
        **dict.fromkeys(("h", "hour", "hours"), Decimal(60)),
    },
    "mass": {"kg": Decimal(1), **dict.fromkeys(("lb", "lbs"), KG_PER_POUND)},
    "illuminance": dict.fromkeys(("lux", "lx"), Decimal(1)),
    "number": {},
    "count": {},
}

_BASE_UNIT: Mapping[QuantityKind, str] = {
    "length": "mm",
    "angle": "degrees",
    "hours": "h",
    "minutes": "min",
    "mass": "kg",
    "illuminance": "lux",
    "number": "",
    "count": "",
}

_EXAMPLES: Mapping[QuantityKind, str] = {
    "length": 'a length as 1580, "158 cm", "62 in" or "5 ft 2 in"',
    "angle": 'an angle as 10 or "10 deg"',
    "hours": 'hours as 4 or "4.5 h"',
    "minutes": 'minutes as 90 or "1.5 h"',
    "mass": 'a weight as 70 or "154 lb"',
    "illuminance": "lux as 300",
    "number": "a number as 0.3",
    "count": "a whole number as 3",
}

WRITTEN: Mapping[QuantityKind, str] = {
    "length": 'bare or as "46.5 cm", "18 in", "5 ft 2 in"',
    "angle": 'bare or as "10 deg"',
    "hours": 'bare or as "4.5 h"',
    "minutes": 'bare or as "90 min"',
    "mass": 'bare or as "154 lb"',
    "illuminance": "a bare number",
    "number": "a bare number",
    "count": "a bare number",
}
"""How a quantity may be written, to stand behind its range."""

_NUMBER = r"[+-]?(?:[0-9]{1,12}(?:\.[0-9]{1,12})?|\.[0-9]{1,12})"
_SINGLE = re.compile(rf"({_NUMBER})\s*([a-z°\"']*)", re.ASCII)
_FEET_INCHES = re.compile(
    rf"([0-9]{{1,2}})\s*(?:ft|foot|feet|')\s*({_NUMBER})\s*(?:in|inch|inches|\")?", re.ASCII
)
_COMMA = re.compile(r"[+-]?[0-9]{1,9},[0-9]{1,9}(?![0-9,])", re.ASCII)

_RESCALINGS: tuple[tuple[Decimal, str], ...] = (
    (Decimal(10), ""),
    (MM_PER_INCH, "in"),
    (Decimal(1000), ""),
    (Decimal("0.1"), ""),
)


@dataclass(frozen=True)
class Range:
    """Smallest and largest value taken, both included, in the unit of what is measured."""

    kind: QuantityKind
    low: float
    high: float

    def __contains__(self, value: object) -> bool:
        """Tell whether a number lies within the range; nan never does."""
        return isinstance(value, int | float) and self.low <= value <= self.high

    def __str__(self) -> str:
        """Return the range in words, as ``1000 to 2300 mm``."""
        unit = _BASE_UNIT[self.kind]
        text = f"{format_number(self.low)} to {format_number(self.high)}" + (f" {unit}" if unit else "")
        return f"whole numbers {text}" if self.kind == "count" else text

    def rescaled(self, value: float) -> str:
        """Ask whether another unit was meant: centimetres, inches, metres, or a tenth of what was read.

        >>> Range("length", 1000, 2300).rescaled(158)
        'did you mean 1580?'

        Empty where no reading falls within the range, and for all that is no length.
        """
        if self.kind != "length" or value in self or not math.isfinite(value):
            return ""
        exact = Decimal(repr(value))
        readings = []
        for factor, unit in _RESCALINGS:
            if float(exact * factor) in self:
                readings.append(
                    f'"{format_number(value)} {unit}"' if unit else format_number(float(exact * factor))
                )
        return f"did you mean {' or '.join(dict.fromkeys(readings))}?" if readings else ""


def parse_quantity(text: str, kind: QuantityKind) -> float:
    """Read a quantity as people write it: a number, bare in the unit of its kind or with a unit, not rounded.

    >>> parse_quantity("5 ft 2 in", "length"), parse_quantity("46,5 cm", "length")
    (1574.8, 465.0)

    Raises `Unreadable` where the text is anything else: words, ``nan``, ``inf``, a comma before three digits,
    ``1:30``, an unknown unit, more than twelve digits.
    """
    plain = decimal_point(text.strip())
    if kind == "length" and (both := _FEET_INCHES.fullmatch(plain)):
        inches = Decimal(both[2])
        if not 0 <= inches < 12:
            raise Unreadable('feet with 0 to 12 inches, as "5 ft 2 in"')
        return float((12 * Decimal(both[1]) + inches) * MM_PER_INCH)
    single = _SINGLE.fullmatch(plain)
    units = _FACTORS[kind]
    if single is None or (single[2] and single[2] not in units):
        raise Unreadable(_EXAMPLES[kind], _length_advice(plain, single, units))
    number = Decimal(single[1])
    if kind == "count" and number != number.to_integral_value():
        raise Unreadable(_EXAMPLES[kind])
    if not single[2]:
        return float(number)
    if kind == "hours" and single[2].startswith("min"):
        # 1/60 has no exact decimal: dividing keeps 90 min at 1.5 h.
        return float(number) / 60.0
    return float(number * units[single[2]])


def _length_advice(plain: str, single: re.Match[str] | None, units: Mapping[str, Decimal]) -> str:
    if comma := _COMMA.match(plain):
        return f"did you mean {plain.replace(',', '.', 1)}?" if comma else ""
    if single is None and plain.lower() != plain and _SINGLE.fullmatch(plain.lower()):
        return f"did you mean {plain.lower()}?"
    if single is not None and units:
        return "units known here: " + ", ".join(name for name in units if name.isalpha())
    return ""


def format_number(value: float, decimals: int = 3) -> str:
    """Write a finite number without idle zeros, never in powers of ten.

    >>> format_number(1580.0), format_number(46.5), format_number(-0.0001)
    ('1580', '46.5', '0')
    """
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def format_length(mm: Mm, unit: Literal["mm", "in"] = "mm") -> str:
    """Write a length for the eye: in whole millimetres, or in inches with one decimal."""
    if unit == "in":
        return f"{format_number(mm / float(MM_PER_INCH), 1)} in"
    return f"{format_number(mm, 0)} mm"
