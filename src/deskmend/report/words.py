"""Plain words for regions, quantities and what stands behind a fix; the texts are data in ``tables``."""

from __future__ import annotations

import math
from functools import cache

from deskmend.messages import tr
from deskmend.published_table import read_table
from deskmend.report.numbers import quantity_text, range_text, unit_text
from deskmend.sources import Source

__all__ = [
    "GRADES",
    "KINDS",
    "TESTED",
    "VERDICTS",
    "change_words",
    "exposure_words",
    "measure_words",
    "quantity_words",
    "range_words",
    "region_word",
    "source_place",
    "source_title",
    "tool_word",
    "value_words",
]

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
    return tr(source.title)


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
