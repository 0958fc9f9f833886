"""What one step of a plan says: its name, why it is there, what it takes and how it is done.

Cut lists in words and as data: millimetres always, and inches to the sixteenth for who reads in inches.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any, TypeVar

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import EvidenceNote, Fix, Material
from deskmend.intake.cut_expressions import Expression
from deskmend.intake.prices import PriceTable
from deskmend.language import current_unit, shown_length, shown_number, tr, trn
from deskmend.measures import MM_PER_INCH
from deskmend.planning.bill import Bill, BillLine, CutPiece, bill_of, cut_pieces, shortages
from deskmend.planning.dates import DAYS_A_MONTH, DAYS_A_WEEK
from deskmend.planning.explain import MOST_REASONS, Moved, moved
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.options import number_text
from deskmend.planning.order import OrderedStep
from deskmend.planning.plan import Plan
from deskmend.report.layout import Page
from deskmend.report.words import (
    GRADES,
    TESTED,
    VERDICTS,
    change_words,
    quantity_words,
    unit_text,
    value_words,
)
from deskmend.workstation.state import State

__all__ = [
    "add_cuts",
    "bought_in",
    "counted",
    "cut_documents",
    "cut_formulas",
    "day_start",
    "day_words",
    "evidence_line",
    "filled",
    "formula_documents",
    "inches_text",
    "material_text",
    "place_of",
    "running_bills",
    "size_text",
    "step_title",
    "task_of",
    "when_of",
    "why_text",
]

Side = TypeVar("Side", int, Expression)

SIXTEENTHS = 16
"""Parts of an inch that rulers show [-]."""


def inches_text(mm: int) -> str:
    """Write a length as a ruler in inches shows it.

    Parameters
    ----------
    mm : int
        A length [mm].

    Returns
    -------
    str
        Inches to the nearest sixteenth, as ``3 15/16``; half a sixteenth is rounded up.
    """
    sixteenths = int(Fraction(mm) / Fraction(MM_PER_INCH) * SIXTEENTHS + Fraction(1, 2))
    whole, part = divmod(sixteenths, SIXTEENTHS)
    if not part:
        return str(whole)
    return f"{whole} {Fraction(part, SIXTEENTHS)}" if whole else str(Fraction(part, SIXTEENTHS))


def add_cuts(page: Page, option: OptionSpec, state: State, catalog: Catalog, indent: int) -> None:
    """Add the cut list of one step, if it has one.

    Parameters
    ----------
    page : Page
        Where to.
    option : OptionSpec
        The fix with its size.
    state : State
        The workplace as it will be.
    catalog : Catalog
        For titles of items.
    indent : int
        Columns left free [characters].
    """
    pieces = cut_pieces(option, state)
    if not pieces:
        return
    page.paragraph(tr("To cut:"), indent)
    page.points([_piece(piece, catalog) for piece in pieces], indent + 2)
    for short in shortages(pieces, option.fix, catalog):
        told = tr(
            "That takes {mm} mm more of {thing} than is counted here: get a longer piece.",
            mm=short.missing,
            thing=tr(catalog.items[short.item].title),
        )
        page.point("!", told, indent)


def _piece(piece: CutPiece, catalog: Catalog) -> str:
    sides = _sides(piece)
    if sides is None:
        measured = tr("measure it where it goes")
    else:
        measured = f"{_joined(sides, str)} mm"
        if current_unit() == "in":
            measured += f" ({_joined(sides, inches_text)} in)"
        if piece.measure_first:
            measured += tr(", but measure where it goes first")
    told = tr("{count} x {part}: {sides}", count=piece.count, part=tr(piece.part), sides=measured)
    if piece.item is None:
        return told
    return tr("{piece}; from: {thing}", piece=told, thing=tr(catalog.items[piece.item].title))


def _sides(piece: CutPiece) -> list[tuple[int, int | None]] | None:
    """Sides given, each with its value at the other end where the piece tapers; None where none is known."""
    if piece.length is None:
        return None
    sides: list[tuple[int, int | None]] = [(piece.length, None)]
    if piece.width is not None:
        sides.append((piece.width, piece.width_to))
    if piece.thickness is not None:
        sides.append((piece.thickness, piece.thickness_to))
    return sides


def _joined(sides: Sequence[tuple[Side, Side | None]], shown: Callable[[Side], str]) -> str:
    return " x ".join(
        shown(side) if other is None else tr("{low} to {high}", low=shown(side), high=shown(other))
        for side, other in sides
    )


def cut_documents(option: OptionSpec, state: State) -> list[dict[str, Any]]:
    """Cut list of one step as data: sides [mm]; ``inches`` only where inches were chosen."""
    return [_document(piece) for piece in cut_pieces(option, state)]


def _document(piece: CutPiece) -> dict[str, Any]:
    sides = {
        "length": piece.length,
        "width": piece.width,
        "width_to": piece.width_to,
        "thickness": piece.thickness,
        "thickness_to": piece.thickness_to,
    }
    out: dict[str, Any] = {"part": tr(piece.part), "item": piece.item, "count": piece.count, **sides}
    if current_unit() == "in":
        out["inches"] = {name: None if mm is None else inches_text(mm) for name, mm in sides.items()}
    out["measure_first"] = piece.measure_first
    return out


def cut_formulas(fix: Fix, catalog: Catalog) -> list[str]:
    """Cut list of a fix before its size and the workplace are known: sides as sums [mm]."""
    out = []
    for cut in fix.cuts:
        sides = f"{_joined(cut.sides, _formula)} mm"
        if current_unit() == "in" and not any(one.names for pair in cut.sides for one in pair if one):
            sides += f" ({_joined(cut.sides, _formula_in_inches)} in)"
        told = tr("{count} x {part}: {sides}", count=cut.count, part=tr(cut.part), sides=sides)
        if cut.from_size is not None:
            told = tr("{piece}, from size {size} on", piece=told, size=cut.from_size)
        if cut.of is not None:
            told = tr("{piece}; from: {thing}", piece=told, thing=tr(catalog.items[cut.of].title))
        out.append(told)
    return out


def _formula(one: Expression) -> str:
    return f"({one})" if " " in str(one) else str(one)


def _formula_in_inches(one: Expression) -> str:
    """Sum of bare numbers in inches."""
    return inches_text(math.floor(one.value(lambda _: math.nan) + 0.5))


def formula_documents(fix: Fix) -> list[dict[str, Any]]:
    """Cut list of a fix as data, sides as the sums that the catalog holds."""
    return [
        {
            "part": tr(cut.part),
            "item": cut.of,
            "count": cut.count,
            "length": str(cut.length),
            "width": None if cut.width is None else str(cut.width),
            "width_to": None if cut.width_to is None else str(cut.width_to),
            "thickness": None if cut.thickness is None else str(cut.thickness),
            "thickness_to": None if cut.thickness_to is None else str(cut.thickness_to),
            "from_size": cut.from_size,
            "measure_first": cut.fit,
        }
        for cut in fix.cuts
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
    return list(dict.fromkeys(_change(one, many) for one in seen.values()))[:MOST_REASONS]


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
