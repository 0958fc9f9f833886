"""Plain words for regions, quantities and what stands behind a fix; the texts are data in ``tables``.

Numbers as they are shown: strain, lengths, angles, money and time.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from functools import cache

from deskmend.intake.catalog_records import Source
from deskmend.language import current_unit, shown_length, shown_number, tr
from deskmend.measures import format_amount, format_number
from deskmend.published import read_table
from deskmend.risk.strain import MILLION

__all__ = [
    "GRADES",
    "KINDS",
    "TESTED",
    "VERDICTS",
    "amount_text",
    "change_words",
    "decimal_text",
    "exposure_words",
    "measure_words",
    "minutes_text",
    "money_text",
    "quantity_json",
    "quantity_text",
    "quantity_words",
    "range_text",
    "range_words",
    "region_word",
    "source_place",
    "source_title",
    "strain_json",
    "strain_text",
    "tool_word",
    "unit_text",
    "value_words",
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


GRADES = {
    "A": "trial or review",
    "B": "laboratory",
    "C": "guidance or weak study",
    "D": "no study",
}
TESTED = {
    "direct": "this very thing",
    "near": "nearly the same thing",
    "function": "another thing that does the same",
    "none": "not tested",
}
VERDICTS = {
    "helps": "it helped",
    "no_benefit_shown": "no benefit shown",
    "was_placebo": "used as the dummy treatment",
    "mixed": "results mixed",
}
KINDS = {
    "rearranged": "set or move what is there",
    "habit": "a habit",
    "made": "made by hand",
    "bought": "bought",
}


@cache
def _rows(name: str) -> dict[str, dict[str, str]]:
    rows = read_table("deskmend.report", name)
    return {next(iter(row.values())): row for row in rows}


def region_word(region: str) -> str:
    """Region of the body in plain words."""
    return tr(_rows("regions.csv")[region]["word"])


def measure_words(key: str) -> str:
    """Measure of a case in plain words, as ``height of the seat`` for ``places.*.seat.height``."""
    return tr(_rows("measures.csv")[key]["words"])


def quantity_words(name: str, of: str) -> str:
    """What is measured, in plain words.

    Parameters
    ----------
    name : str
        Quantity or exposure.
    of : str
        Thing looked at or touched; may be empty.

    Returns
    -------
    str
        As ``looking down at the screen``; the name with spaces where no words are kept for it.
    """
    row = _rows("phrases.csv").get(name)
    phrase = name.replace("_", " ") if row is None else tr(row["phrase"])
    thing = tr(_rows("things.csv")[of]["word"]) if of in _rows("things.csv") else of.replace("_", " ")
    return phrase.replace("{of}", thing or tr("work"))


def exposure_words(exposure: str, of: str) -> str:
    """What strains, in plain words, as ``neck bent down to the screen``."""
    thing = tr(_rows("things.csv")[of]["word"]) if of in _rows("things.csv") else of.replace("_", " ")
    return tr(_rows("strains.csv")[exposure]["phrase"]).replace("{of}", thing or tr("work"))


def tool_word(tool: str) -> str:
    """Tool in plain words."""
    return tr(tool.replace("_", " "))


def source_title(source: Source) -> str:
    """Title of a source: published titles stay as they are, a description of ours is translated."""
    return tr(source.cited)


def source_place(source: Source) -> str:
    """Where a source stands; remarks of ours, between semicolons and without a number, translated."""
    parts = source.place.split("; ")
    return "; ".join(part if any(c.isdigit() for c in part) else tr(part) for part in parts)


def value_words(value: float, unit: str, name: str) -> str:
    """Value of a quantity in plain words, its sign told in words where it has a meaning.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        As ``mm`` or ``deg``.
    name : str
        Quantity.

    Returns
    -------
    str
        As ``97 mm above the elbow`` or ``38 degrees``.
    """
    sign = _sign(value, name)
    return f"{quantity_text(abs(value), unit)} {sign}" if sign else quantity_text(value, unit)


def change_words(before: float, after: float, unit: str, name: str) -> str:
    """Two values of a quantity, as ``97 to 87 mm above the elbow``; one where they would read the same."""
    first, second = value_words(before, unit, name), value_words(after, unit, name)
    if first == second:
        return first
    words = f"{unit_text(unit)} {_sign(before, name)}".strip()
    same = _sign(before, name) == _sign(after, name) and bool(words)
    start = first.removesuffix(words).strip() if same else first
    return tr("{first} to {second}", first=start, second=second)


def range_words(low: float | None, high: float | None, unit: str, name: str) -> str:
    """Range of a quantity in plain words; empty where there is none."""
    signed = any(end is not None and _sign(end, name) for end in (low, high))
    if not signed:
        return range_text(low, high, unit)
    ends = [None if end is None else value_words(end, unit, name) for end in (low, high)]
    if ends[0] is not None and ends[1] is not None:
        return tr("{low} to {high}", low=ends[0], high=ends[1])
    if ends[0] is not None:
        return tr("not under {low}", low=ends[0])
    return tr("not over {high}", high=ends[1])


def _sign(value: float, name: str) -> str:
    """Words for the sign of a value that is not 0 once rounded."""
    row = _rows("phrases.csv").get(name)
    if row is None or not row["over"] or not math.isfinite(value) or round(value) == 0:
        return ""
    return tr(row["over"] if value > 0 else row["under"])
