"""Numbers as they are shown: strain, lengths, angles, money and time."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

from deskmend.messages import tr
from deskmend.money import format_amount
from deskmend.numerals import current_unit, shown_length, shown_number
from deskmend.risk.strain import MILLION
from deskmend.units import format_number

__all__ = [
    "amount_text",
    "decimal_text",
    "minutes_text",
    "money_text",
    "quantity_json",
    "quantity_text",
    "range_text",
    "strain_json",
    "strain_text",
    "unit_text",
]

UNITS = {"deg": "degrees", "min": "minutes", "percent": "%", "-": "", "word": ""}
"""Units in words; others are shown as they are."""
NOT_KNOWN = "not known"


def strain_text(millionths: int, decimals: int = 1) -> str:
    """Strain for the eye.

    Parameters
    ----------
    millionths : int
        Strain [millionths of h/day].
    decimals : int
        Decimals shown [-].

    Returns
    -------
    str
        Strain-hours a day in the reader's language, rounded half up, as ``12.3``; never ``-0.0``.
    """
    exact = Decimal(millionths) / MILLION
    shown = exact.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    return shown_number(f"{shown.copy_abs() if shown.is_zero() else shown:f}")


def strain_json(millionths: int) -> float:
    """Strain for programs.

    Parameters
    ----------
    millionths : int
        Strain [millionths of h/day].

    Returns
    -------
    float
        Strain-hours a day with at most six decimals: the double nearest to the exact value, which is written
        back with the same digits up to a thousand million hours.
    """
    return millionths / MILLION


def quantity_json(value: float | None) -> float | None:
    """Any other quantity for programs.

    Parameters
    ----------
    value : float or None
        In its unit [mm], [deg], [lux], [-].

    Returns
    -------
    float or None
        Three decimals; None where it is not a number.
    """
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), 3) + 0.0


def decimal_text(value: float, decimals: int = 3) -> str:
    """Write a bare number in the reader's language, without idle zeros.

    Parameters
    ----------
    value : float
        A finite number [-].
    decimals : int
        Most decimals shown [-].
    """
    return shown_number(format_number(value, decimals))


def unit_text(unit: str) -> str:
    """Unit in words, empty for a bare number; for lengths the one the reader chose."""
    if unit == "mm":
        return current_unit()
    return tr(UNITS[unit]) if unit in UNITS else unit


def quantity_text(value: float, unit: str) -> str:
    """Quantity for the eye.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        As ``mm``, ``deg``, ``lux`` or ``-``.

    Returns
    -------
    str
        As ``38 degrees`` or ``105 mm``: whole numbers, shares with two decimals.
    """
    if not math.isfinite(value):
        return tr(NOT_KNOWN)
    return f"{_bare(value, unit)} {unit_text(unit)}".strip()


def range_text(low: float | None, high: float | None, unit: str) -> str:
    """Range in which a quantity scores nothing, in words; empty where there is none."""
    if low is not None and high is not None:
        return tr("{low} to {high}", low=_bare(low, unit), high=quantity_text(high, unit))
    if low is not None:
        return tr("at least {low}", low=quantity_text(low, unit))
    return tr("at most {high}", high=quantity_text(high, unit)) if high is not None else ""


def _bare(value: float, unit: str) -> str:
    if unit == "mm":
        return shown_length(value).removesuffix(f" {current_unit()}")
    return decimal_text(value, 2 if unit in ("-", "") else 0)


def money_text(minor: int, currency: str) -> str:
    """Amount with its currency, as ``40.00 EUR``, in the reader's language."""
    return f"{amount_text(minor, currency)} {currency}"


def amount_text(minor: int, currency: str) -> str:
    """Amount alone, as ``40.00``, in the reader's language."""
    return shown_number(format_amount(minor, currency))


def minutes_text(minutes: int) -> str:
    """Working time, as ``45 min``, ``2 h`` or ``2 h 15 min``."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"
