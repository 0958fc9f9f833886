"""What one step of a plan says: its name, why it is there, what it takes and how it is done."""

from __future__ import annotations

import math
from collections.abc import Sequence

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import EvidenceNote, Material
from deskmend.intake.price_table import PriceTable
from deskmend.messages import tr, trn
from deskmend.numerals import current_unit, shown_length, shown_number
from deskmend.planning.bill import Bill, BillLine, bill_of
from deskmend.planning.naming import number_text
from deskmend.planning.offers import OptionSpec
from deskmend.planning.order import OrderedStep
from deskmend.planning.plan import Plan
from deskmend.planning.reasons import SHOWN, Moved, moved
from deskmend.planning.sequence import DAYS_A_MONTH, DAYS_A_WEEK
from deskmend.report.numbers import unit_text
from deskmend.report.words import GRADES, TESTED, VERDICTS, change_words, quantity_words, value_words
from deskmend.workstation.state import State

__all__ = [
    "bought_in",
    "counted",
    "day_start",
    "day_words",
    "evidence_line",
    "filled",
    "material_text",
    "place_of",
    "running_bills",
    "size_text",
    "step_title",
    "task_of",
    "when_of",
    "why_text",
]

TODAY = "today"
FIRST_PURCHASE = "first_purchase"


def place_of(option: OptionSpec) -> str | None:
    """Id of the place an option is for, or None."""
    return option.owner[1] if option.owner[0] == "place" else None


def task_of(option: OptionSpec) -> str | None:
    """Id of the task an option is for, or None."""
    return option.owner[1] if option.owner[0] == "task" else None


def size_text(option: OptionSpec) -> str:
    """Size with its unit, and the pieces it is made of; empty where there is no size."""
    if option.size is None:
        return ""
    if isinstance(option.size, str):
        return _word(option.size, option)
    unit = option.fix.size.unit if option.fix.size is not None else "mm"
    shown = _sized(option.size, unit)
    if len(option.pieces) > 1:
        shown += f" ({_stacked(option.pieces)})"
    return shown


def _word(size: str, option: OptionSpec) -> str:
    """A word that a fix offers as size; ids of places and seats are the reader's own."""
    words = () if option.fix.size is None else option.fix.size.words
    plain = size.replace("_", " ")
    return tr(plain) if size in words else plain


def _sized(size: float, unit: str) -> str:
    if unit == "mm" and current_unit() != "mm":
        return shown_length(size)
    return f"{shown_number(number_text(size))} {unit_text(unit)}".strip()


def _stacked(pieces: Sequence[float]) -> str:
    unit = f" {unit_text('mm')}"
    return " + ".join(_sized(piece, "mm").removesuffix(unit) for piece in pieces)


def step_title(option: OptionSpec, state: State) -> str:
    """Title of a step with its size; the place or task is named where there are several."""
    size = size_text(option)
    level, owner = option.owner
    several = {"place": len(state.places) > 1, "task": len(state.tasks) > 1}.get(level, False)
    return tr(option.fix.title) + (f": {size}" if size else "") + (f" ({owner})" if several else "")


def filled(text: str, option: OptionSpec) -> str:
    """Text of a fix in the reader's language with its size put in."""
    told = tr(text)
    if option.size is None:
        return told
    if isinstance(option.size, str):
        return told.replace("{size}", _word(option.size, option))
    told = told.replace("{size} mm", _sized(option.size, "mm"))
    return told.replace("{size}", shown_number(number_text(option.size)))


def when_of(plan: Plan) -> list[str]:
    """When each step can be done.

    A step that costs nothing but comes after a purchase waits for it: were it possible before, it would
    stand before.

    Returns
    -------
    list of str
        ``today``, ``first_purchase``, or as ``after month 2`` where it waits for money or time, one a step;
        the same in every language.
    """
    out: list[str] = []
    for step in plan.steps:
        if step.day:
            out.append(day_words(step.day))
            continue
        waits = step.cost > 0 or (bool(out) and out[-1] == FIRST_PURCHASE)
        out.append(FIRST_PURCHASE if waits else TODAY)
    return out


def day_words(day: int) -> str:
    """Day counted from today, as ``after month 2`` or ``after week 1``; the same in every language."""
    if day % DAYS_A_MONTH == 0:
        return f"after month {day // DAYS_A_MONTH}" if day else TODAY
    return f"after week {day // DAYS_A_WEEK}"


def day_start(day: int) -> str:
    """Day counted from today in the reader's language, as the start of a sentence: ``After month 2``."""
    if not day:
        return tr("Today")
    if day % DAYS_A_MONTH == 0:
        return tr("After month {number}", number=day // DAYS_A_MONTH)
    return tr("After week {number}", number=day // DAYS_A_WEEK)


def running_bills(plan: Plan, prices: PriceTable) -> list[Bill]:
    """The bill after no step, after the first, and so on to the whole plan's."""
    options = [step.option for step in plan.steps]
    return [bill_of(options[:number], plan.case, prices) for number in range(len(options) + 1)]


def bought_in(number: int, bills: list[Bill]) -> list[BillLine]:
    """What a step adds to the bill.

    Parameters
    ----------
    number : int
        Position of the step, from 0.
    bills : list of Bill
        The bill after each number of steps, as `running_bills` gives it.
    """
    until = {line.item: line for line in bills[number].lines}
    out = []
    for line in bills[number + 1].lines:
        had = until.get(line.item, BillLine(line.item, 0, 0))
        if line != had:
            out.append(BillLine(line.item, line.packs - had.packs, line.cost - had.cost))
    return out


def counted(count: int, unit: str) -> str:
    """Number of things a fix takes, as ``2 pieces`` or ``60 cm``."""
    told = {
        "piece": trn("{count} piece", "{count} pieces", count),
        "pair": trn("{count} pair", "{count} pairs", count),
        "set": trn("{count} set", "{count} sets", count),
        "sheet": trn("{count} sheet", "{count} sheets", count),
    }
    return told.get(unit, f"{count} {unit}")


def material_text(material: Material, option: OptionSpec, case: Case, catalog: Catalog) -> str:
    """One thing a fix takes, in words, and whether the person has it."""
    item = catalog.items[material.item]
    if material.quantity is None:
        if not option.pieces:
            return tr(item.title)
        pieces = f"{_stacked(option.pieces)} {unit_text('mm')}"
        return tr("{thing} ({pieces}, you have them)", thing=tr(item.title), pieces=pieces)
    owned = case.owns.get(material.item)
    has = owned is not None and owned.count >= material.quantity
    told = f"{tr(item.title)}, {counted(material.quantity, item.unit)}"
    return told + (tr(" (you have it)") if has else "")


def why_text(step: OrderedStep) -> str:
    """Why a step is in the plan, from the quantities it moves.

    Parameters
    ----------
    step : OrderedStep
        One step.

    Returns
    -------
    str
        As ``looking down at the screen: 38 to 20 degrees``; the largest gains first, then what gets worse.
    """
    changes = moved(step.before, step.after)
    many = len(step.after.tasks) > 1
    better = _told([m for m in changes if m.strain > 0], many)
    worse = _told([m for m in changes if m.strain < 0][::-1], many)
    parts = []
    if better:
        parts.append(tr("Better: {changes}.", changes="; ".join(better)))
    if worse:
        parts.append(tr("Worse: {changes}.", changes="; ".join(worse)))
    return " ".join(parts) or tr("By itself it takes nothing off; another step needs it.")


def _told(changes: list[Moved], many: bool) -> list[str]:
    """The first changes in words, each once: of two modes the first, and one desk edge for keys and mouse."""
    seen: dict[tuple[str, str, str], Moved] = {}
    for one in changes:
        seen.setdefault((one.quantity, one.of, one.task), one)
    return list(dict.fromkeys(_change(one, many) for one in seen.values()))[:SHOWN]


def _change(one: Moved, many: bool) -> str:
    name = quantity_words(one.quantity, one.of) + (f" ({one.task})" if many else "")
    if not one.unit or not math.isfinite(one.before) or not math.isfinite(one.after):
        return name
    shown = change_words(one.before, one.after, one.unit, one.quantity)
    # The measure stays and counts for less or more: it is met for another part of the time, or eased.
    same = shown == value_words(one.before, one.unit, one.quantity)
    if not same:
        return f"{name}: {shown}"
    counts = tr("counts for less") if one.strain > 0 else tr("counts for more")
    return f"{name}: {shown}, {counts}"


def evidence_line(notes: tuple[EvidenceNote, ...]) -> str:
    """What stands behind a fix: the strongest finding for it, and those that speak against it."""
    helps = [note for note in notes if note.verdict == "helps"]
    against = [note for note in notes if note.verdict != "helps"]
    if not notes:
        return tr("No study.")
    parts = []
    if helps:
        best = min(helps, key=lambda note: note.grade)
        parts.append(
            trn(
                "{count} finding for it of grade {grade} ({kind}; {tested})",
                "{count} findings for it, the strongest of grade {grade} ({kind}; {tested})",
                len(helps),
                grade=best.grade,
                kind=tr(GRADES[best.grade]),
                tested=tr(TESTED[best.tested]),
            )
        )
    else:
        parts.append(tr("no finding that it helps"))
    for verdict, words in VERDICTS.items():
        grades = sorted(note.grade for note in against if note.verdict == verdict)
        if grades:
            parts.append(
                tr(
                    "{what} in {number} of grade {grades}",
                    what=tr(words),
                    number=len(grades),
                    grades=", ".join(dict.fromkeys(grades)),
                )
            )
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."
