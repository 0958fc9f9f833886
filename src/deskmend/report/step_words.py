"""What one step of a plan says: its name, why it is there, what it takes and how it is done."""

from __future__ import annotations

import math

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import EvidenceNote, Material
from deskmend.intake.price_table import PriceTable
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
        return option.size.replace("_", " ")
    unit = option.fix.size.unit if option.fix.size is not None else "mm"
    shown = f"{number_text(option.size)} {unit_text(unit)}".strip()
    if len(option.pieces) > 1:
        shown += f" ({' + '.join(number_text(piece) for piece in option.pieces)})"
    return shown


def step_title(option: OptionSpec, state: State) -> str:
    """Title of a step with its size; the place or task is named where there are several."""
    size = size_text(option)
    level, owner = option.owner
    several = {"place": len(state.places) > 1, "task": len(state.tasks) > 1}.get(level, False)
    return option.fix.title + (f": {size}" if size else "") + (f" ({owner})" if several else "")


def filled(text: str, option: OptionSpec) -> str:
    """Text of a fix with its size put in."""
    return text if option.size is None else text.replace("{size}", number_text(option.size).replace("_", " "))


def when_of(plan: Plan) -> list[str]:
    """When each step can be done.

    A step that costs nothing but comes after a purchase waits for it: were it possible before, it would
    stand before.

    Returns
    -------
    list of str
        ``today``, ``first_purchase``, or as ``after month 2`` where it waits for money or time, one a step.
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
    """Day counted from today, as ``after month 2`` or ``after week 1``; ``today`` for the first."""
    if day % DAYS_A_MONTH == 0:
        return f"after month {day // DAYS_A_MONTH}" if day else TODAY
    return f"after week {day // DAYS_A_WEEK}"


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


def _pieces(count: int, unit: str) -> str:
    if unit in ("piece", "pair", "set", "sheet"):
        return f"{count} {unit}" + ("" if count == 1 else "s")
    return f"{count} {unit}"


def material_text(material: Material, option: OptionSpec, case: Case, catalog: Catalog) -> str:
    """One thing a fix takes, in words, and whether the person has it."""
    item = catalog.items[material.item]
    if material.quantity is None:
        pieces = " + ".join(number_text(piece) for piece in option.pieces)
        return f"{item.title} ({pieces} mm, you have them)" if pieces else item.title
    owned = case.owns.get(material.item)
    has = owned is not None and owned.count >= material.quantity
    return f"{item.title}, {_pieces(material.quantity, item.unit)}" + (" (you have it)" if has else "")


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
    better = [_change(m, many) for m in _distinct([m for m in changes if m.strain > 0])[:SHOWN]]
    worse = [_change(m, many) for m in _distinct([m for m in changes if m.strain < 0][::-1])[:SHOWN]]
    parts = []
    if better:
        parts.append(f"Better: {'; '.join(better)}.")
    if worse:
        parts.append(f"Worse: {'; '.join(worse)}.")
    return " ".join(parts) or "By itself it takes nothing off; another step needs it."


def _distinct(changes: list[Moved]) -> list[Moved]:
    """The first of those that would read the same."""
    seen: dict[tuple[str, str, str], Moved] = {}
    for one in changes:
        seen.setdefault((one.quantity, one.of, one.task), one)
    return list(seen.values())


def _change(one: Moved, many: bool) -> str:
    name = quantity_words(one.quantity, one.of) + (f" ({one.task})" if many else "")
    if not one.unit or not math.isfinite(one.before) or not math.isfinite(one.after):
        return name
    shown = change_words(one.before, one.after, one.unit, one.quantity)
    # The measure stays and counts for less or more: it is met for another part of the time, or eased.
    same = shown == value_words(one.before, one.unit, one.quantity)
    return f"{name}: {shown}" + (f", counts for {'less' if one.strain > 0 else 'more'}" if same else "")


def evidence_line(notes: tuple[EvidenceNote, ...]) -> str:
    """What stands behind a fix: the strongest finding for it, and those that speak against it."""
    helps = [note for note in notes if note.verdict == "helps"]
    against = [note for note in notes if note.verdict != "helps"]
    if not notes:
        return "No study."
    parts = []
    if helps:
        best = min(helps, key=lambda note: note.grade)
        count = "1 finding for it" if len(helps) == 1 else f"{len(helps)} findings for it, the strongest"
        parts.append(f"{count} of grade {best.grade} ({GRADES[best.grade]}; {TESTED[best.tested]})")
    else:
        parts.append("no finding that it helps")
    for verdict, words in VERDICTS.items():
        grades = sorted(note.grade for note in against if note.verdict == verdict)
        if grades:
            parts.append(f"{words} in {len(grades)} of grade {', '.join(dict.fromkeys(grades))}")
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."
