"""Numbers, lengths, money and time as people read them, plain words for what the model names, and cautions.

The words are data: each table in ``tables`` has a name in its first column and what it is called in others.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Urgency
from deskmend.intake.prices import plain_item
from deskmend.language import current_unit, shown_length, shown_number, tr
from deskmend.measures import MILLION, Micro, Minor, Minutes, format_amount, format_number
from deskmend.planning.inputs import most_urgent, sign_warnings
from deskmend.published import read_table
from deskmend.report.layout import Page
from deskmend.risk.strain import exposures

__all__ = [
    "FIRST_OF_ALL",
    "add_cautions",
    "add_signs",
    "amount_text",
    "case_name",
    "change_words",
    "decimal_text",
    "exposure_words",
    "first_of_all",
    "item_title",
    "measure_how",
    "measure_words",
    "minutes_text",
    "money_text",
    "other_warnings",
    "posture_words",
    "quantity_text",
    "quantity_words",
    "range_words",
    "region_word",
    "shared_side",
    "strain_text",
    "tool_word",
    "total_text",
    "unit_text",
    "value_words",
    "waits",
]

UNITS = {"deg": "degrees", "min": "minutes", "percent": "%", "-": "", "word": ""}
"""Units in words; others are shown as they are."""
ONE = {"deg": "degree", "min": "minute"}
"""The same for one alone, where it differs."""
NOT_KNOWN = "not known"
MOST_LINES = 5
"""Most lines of a kind about what things are worth and how sure they are; the document holds all."""
SMALLEST_TOLD: Micro = 50_000
"""Strain below which something open or uncertain gets no line: 3 minutes a day; judgement."""


def strain_text(strain: Micro, decimals: int = 1) -> str:
    """Strain-hours a day, rounded half up, as ``12.3``; never ``-0.0``."""
    exact = Decimal(strain) / MILLION
    shown = exact.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    return shown_number(f"{shown.copy_abs() if shown.is_zero() else shown:f}")


def total_text(amount: Minor, currency: str, invented: bool) -> str:
    """A total of money, and beside it that nobody has named the prices where that is so."""
    total = money_text(amount, currency)
    return tr("{total} (at invented prices)", total=total) if invented and amount else total


def decimal_text(value: float, decimals: int = 3) -> str:
    """A finite number alone, with at most so many decimals and without idle zeros."""
    return shown_number(format_number(value, decimals))


def unit_text(unit: str, number: str = "") -> str:
    """Unit in words, in the singular behind ``1``; empty for a bare number, for lengths the reader's own."""
    if unit == "mm":
        return current_unit()
    if unit in ONE and number.removeprefix("-") == "1":
        return tr(ONE[unit])
    return tr(UNITS[unit]) if unit in UNITS else unit


def quantity_text(value: float, unit: str) -> str:
    """Quantity in its unit, as ``38 degrees`` or ``105 mm``: whole numbers, shares with two decimals."""
    if not math.isfinite(value):
        return tr(NOT_KNOWN)
    number = _bare(value, unit)
    return f"{number} {unit_text(unit, number)}".strip()


def _bare(value: float, unit: str) -> str:
    if unit == "mm":
        return shown_length(value).removesuffix(f" {current_unit()}")
    return decimal_text(value, 2 if unit in ("-", "") else 0)


def money_text(minor: Minor, currency: str) -> str:
    """Amount with its currency, as ``40.00 EUR``."""
    return f"{amount_text(minor, currency)} {currency}"


def amount_text(minor: Minor, currency: str) -> str:
    """Amount alone, as ``40.00``."""
    return shown_number(format_amount(minor, currency))


def minutes_text(minutes: Minutes) -> str:
    """Working time, as ``45 min``, ``2 h`` or ``2 h 15 min``."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def case_name(case: Case) -> str:
    """Title of a case; its file's name without folders where it has none, so that no path is shown."""
    return case.title or (Path(case.source).stem if case.source else tr("untitled case"))


def item_title(item: str, catalog: Catalog) -> str:
    """What a thing is called; its id where the catalog does not know it, as what a fund gave before."""
    plain = plain_item(item)
    return tr(catalog.items[plain].title) if plain in catalog.items else item


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


def measure_how(key: str) -> str:
    """How to take a measure, in its own words or those of its question; empty where neither has any."""
    if own := _rows("measures.csv")[key]["how"]:
        return tr(own)
    from deskmend.intake.interview import question_file

    asked = (
        one.how
        for one in question_file().questions
        if one.kind == "measure" and one.to.replace(".0.", ".*.") == key
    )
    told = next(asked, "")
    return tr(told) if told else ""


def tool_word(tool: str) -> str:
    """Tool in plain words."""
    return tr(tool.replace("_", " "))


def quantity_words(name: str, of: str, task: str = "") -> str:
    """What is measured, of what is looked at or touched, as ``gaze to the screen (work)``.

    The name with spaces where no words are kept for it. `of` may be empty; `task` where there is one alone.
    """
    row = _rows("phrases.csv").get(name)
    return _filled(name.replace("_", " ") if row is None else tr(row["phrase"]), of, task)


def posture_words(name: str, of: str, mode: str, task: str = "") -> str:
    """The same of somebody who sits, or stands, which is said."""
    words = quantity_words(name, of, task)
    return f"{words}, {tr('standing')}" if mode == "stand" else words


def exposure_words(exposure: str, of: str, task: str = "") -> str:
    """What strains, in plain words, as ``neck bent down to the screen (work)``."""
    (words,) = (one.words for one in exposures() if one.name == exposure)
    return _filled(tr(words), of, task)


def _filled(phrase: str, of: str, task: str) -> str:
    thing = tr(_rows("things.csv")[of]["word"]) if of in _rows("things.csv") else of.replace("_", " ")
    return phrase.replace("{of}", thing or tr("work")) + (f" ({task})" if task else "")


def value_words(value: float, unit: str, name: str) -> str:
    """Value of a quantity, its sign told in words where it has a meaning, as ``97 mm above the elbow``."""
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
    """Range in which a quantity scores nothing, in plain words; empty where there is none."""
    signed = any(end is not None and _sign(end, name) for end in (low, high))
    if low is not None and high is not None:
        start = value_words(low, unit, name) if signed else _bare(low, unit)
        return tr("{low} to {high}", low=start, high=value_words(high, unit, name))
    row = _rows("phrases.csv").get(name)
    if row is not None and row["over"] and 0 in (low, high):
        # 0 has no side of its own: what is left is not to lie on the other one
        return tr("not {side}", side=tr(row["under" if low is not None else "over"]))
    if low is not None:
        least = value_words(low, unit, name)
        return tr("not under {low}", low=least) if signed else tr("at least {low}", low=least)
    if high is not None:
        most = value_words(high, unit, name)
        return tr("not over {high}", high=most) if signed else tr("at most {high}", high=most)
    return ""


def shared_side(values: Iterable[float], name: str) -> str | None:
    """Side on which all values of a quantity lie, in words, empty for none; None where they lie on both."""
    sides = {side for value in values if (side := _sign(value, name))}
    return None if len(sides) > 1 else next(iter(sides), "")


def _sign(value: float, name: str) -> str:
    """Words for the sign of a value that is not 0 once rounded."""
    row = _rows("phrases.csv").get(name)
    if row is None or not row["over"] or not math.isfinite(value) or round(value) == 0:
        return ""
    return tr(row["over"] if value > 0 else row["under"])


FIRST_OF_ALL: dict[Urgency, str] = {
    "emergency": "EMERGENCY: get emergency care now. Call the emergency number.",
    "today": "TODAY: get medical advice before anything else",
    "soon": "FIRST: see a licensed clinician",
}
"""What comes before any plan, by the most urgent warning sign."""

NOT_CLAIMED = (
    "This counts time spent outside comfortable limits: exposure. It says how much of that is taken off. It "
    "does not say that pain or injury is prevented, and nobody has shown that setting up a desk does that."
)
RULES_FIRST = (
    "Local rules, your employer's rules, the owner of the place and licensed practice come first. This is no "
    "medical advice."
)
SAFETY = (
    "Anything you build must stand firm before you put weight on it. Push it from each side first. Take care "
    "with knives, scissors, plugs and flames."
)
RECHECK = "Check again after two weeks: sit as you do then, measure again, and run deskmend again."


def first_of_all(case: Case, catalog: Catalog) -> str:
    """Heading over a person's warning signs; empty where there are none."""
    urgency = most_urgent(case, catalog)
    return "" if urgency is None else tr(FIRST_OF_ALL[urgency])


def waits(case: Case, catalog: Catalog) -> bool:
    """Whether a person needs emergency care, so that no plan is shown before somebody opens it."""
    return most_urgent(case, catalog) == "emergency"


def add_signs(page: Page, case: Case, catalog: Catalog) -> None:
    """Begin a page with the warning signs, where there are any: nothing stands above them."""
    signs = sign_warnings(case, catalog)
    if signs:
        page.heading(first_of_all(case, catalog))
        page.points(signs, mark="!")
        page.blank()


def add_cautions(page: Page) -> None:
    """Say what is not claimed, whose rules come first, and when to look again."""
    page.heading(tr("What this does not say"))
    for text in (tr(NOT_CLAIMED), tr(RULES_FIRST), tr(SAFETY), tr(RECHECK)):
        page.paragraph(text)


def other_warnings(warnings: Sequence[str], case: Case, catalog: Catalog) -> list[str]:
    """Warnings that do not stand above everything else already."""
    signs = sign_warnings(case, catalog)
    return [warning for warning in warnings if warning not in signs]
