"""What one step of a plan says: its name, when and why, what it takes and costs, how it is done.

Text, document and web page say it with these functions; the words of a fix itself stand in the catalog.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import CatalogItem, Fix, Material, Sentence
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.language import current_unit, shown_length, shown_number, tr, trn
from deskmend.measures import Micro, Mm
from deskmend.planning.bill import BillLine, Taking, length_of
from deskmend.planning.dates import DAYS_A_MONTH
from deskmend.planning.explain import MOST_REASONS, Moved, moved
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.options import number_text
from deskmend.planning.model.rules import concerns
from deskmend.planning.order import OrderedStep
from deskmend.planning.plan import Plan
from deskmend.planning.score import PLAIN, modes_in, score
from deskmend.planning.selection import key_of
from deskmend.planning.stages import DAYS_A_WEEK, Stage
from deskmend.report.catalog import evidence_json, evidence_line, kept_up_text
from deskmend.report.cuts import add_cuts, cuts_json
from deskmend.report.documents import money_json, quantity_json, strain_json
from deskmend.report.done_right import looks_of
from deskmend.report.layout import Page
from deskmend.report.words import (
    change_words,
    item_title,
    minutes_text,
    money_text,
    quantity_words,
    region_word,
    strain_text,
    tool_word,
    unit_text,
    value_words,
)
from deskmend.risk.severity import seen_in
from deskmend.workstation.graph import QUANTITIES
from deskmend.workstation.state import Owner, State

if TYPE_CHECKING:
    from deskmend.report.case_documents import StepRecord

__all__ = [
    "TODAY",
    "add_instructions",
    "after_two_weeks",
    "ask_text",
    "buys_text",
    "cautions_of",
    "count_words",
    "day_start",
    "day_words",
    "filled",
    "how_text",
    "lacking_by_check",
    "lacking_text",
    "leave_text",
    "owned_title",
    "purchase_text",
    "right_text",
    "said",
    "short_text",
    "size_json",
    "size_text",
    "step_json",
    "step_title",
    "step_titles",
    "used_text",
    "when_of",
    "when_word",
    "why_numbers",
    "why_text",
]

TODAY = "today"
FIRST_PURCHASE = "first_purchase"
ASK_FIRST = {"owner": "Ask the owner first.", "employer": "Ask the employer first."}
"""By whose leave it takes."""


# --- its name ------------------------------------------------------------------------------------------


def step_title(option: OptionSpec, state: State) -> str:
    """Title of a step with its size; the place or task is named where there are several."""
    size = size_text(option)
    return owned_title(tr(option.fix.title) + (f": {size}" if size else ""), option.owner, state)


def step_titles(options: Iterable[OptionSpec], plan: Plan) -> str:
    """Titles of some steps of a plan, in one line."""
    return "; ".join(step_title(option, plan.state_before) for option in options)


def owned_title(title: str, owner: Owner, state: State) -> str:
    """Title of a fix with the place or task it is for, where there are several."""
    level, name = owner
    several = {"place": len(state.places) > 1, "task": len(state.tasks) > 1}.get(level, False)
    return f"{title} ({name})" if several else title


def size_text(option: OptionSpec) -> str:
    """Size with its unit, and the pieces it is made of; empty where there is no size."""
    if option.size is None:
        return ""
    if isinstance(option.size, str):
        return _word(option.size, option)
    shown = _sized(option.size, option.fix.size.unit if option.fix.size is not None else "mm")
    return f"{shown} ({_stacked(option.pieces)})" if len(option.pieces) > 1 else shown


def _word(size: str, option: OptionSpec) -> str:
    """A word that a fix offers as size; ids of places and seats are the reader's own."""
    words = () if option.fix.size is None else option.fix.size.words
    plain = size.replace("_", " ")
    return tr(plain) if size in words else plain


def _sized(size: float, unit: str) -> str:
    if unit == "mm" and current_unit() != "mm":
        return shown_length(size)
    number = shown_number(number_text(size))
    return f"{number} {unit_text(unit, number)}".strip()


def _stacked(pieces: Sequence[Mm]) -> str:
    unit = f" {unit_text('mm')}"
    return " + ".join(_sized(piece, "mm").removesuffix(unit) for piece in pieces)


def said(
    sentences: Iterable[Sentence | None], option: OptionSpec, state: State, given: bool = False
) -> list[str]:
    """Sentences of a fix that concern who works in a state, with size and length put in.

    One whose length nobody knows is left out, and what helps to buy where the things are `given`.
    """
    out = []
    for one in sentences:
        if (
            one is None
            or (given and one.buying)
            or not concerns(one, option.owner, state, len(option.pieces), option.size)
        ):
            continue
        told = filled(one.say, option)
        if one.length is None:
            out.append(told)
        elif (length := length_of(one.length, option, state)) is not None:
            out.append(told.replace("{length}", shown_length(length)))
    return out


def filled(text: str, option: OptionSpec) -> str:
    """Text of a fix in the reader's language with its size put in."""
    told = tr(text)
    if option.size is None:
        return told
    if isinstance(option.size, str):
        return told.replace("{size}", _word(option.size, option))
    told = told.replace("{size} mm", _sized(option.size, "mm"))
    return told.replace("{size}", shown_number(number_text(option.size)))


# --- when ----------------------------------------------------------------------------------------------


def when_of(plan: Plan) -> list[str]:
    """From when on each step stays as it is: ``today``, ``first_purchase``, or as ``after month 2``."""
    return [when_word(plan.stages[step.stage]) for step in plan.steps]


def when_word(stage: Stage) -> str:
    """When a stage begins; the same in every language."""
    return TODAY if stage.is_today else day_words(stage.day) if stage.day else FIRST_PURCHASE


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


# --- what is bought for it -----------------------------------------------------------------------------


def purchase_text(line: BillLine, currency: str, catalog: Catalog) -> str:
    """Packs of one thing and what they cost."""
    return trn(
        "{count} pack of {thing}, {cost}",
        "{count} packs of {thing}, {cost}",
        line.packs,
        thing=item_title(line.item, catalog),
        cost=money_text(line.cost, currency),
    )


def buys_text(lines: Iterable[BillLine], currency: str, catalog: Catalog) -> str:
    """What is bought, as part of a sentence."""
    bought = [f"{x.packs} x {item_title(x.item, catalog)}, {money_text(x.cost, currency)}" for x in lines]
    return tr("buy {things}", things="; ".join(bought)) if bought else tr("nothing to buy")


def used_text(item: str, prices: PriceTable) -> str:
    """That a thing is sold second hand; empty where it is not."""
    priced = prices.get(item)
    return tr(" (second hand, look before you pay)") if priced and priced.condition == "used" else ""


def ask_text(item: CatalogItem, prices: PriceTable) -> str:
    """What to ask for or to look at when buying a thing; empty where nothing is said."""
    asks = [item.ask, item.used if used_text(item.id, prices) else None]
    return " ".join(tr(ask) for ask in asks if ask)


# --- why it is there -----------------------------------------------------------------------------------


LEAST_SHOWN: Micro = 5_000
"""Strain that reads as more than 0.00 with two decimals."""


def why_text(before: State, after: State) -> str:
    """Why a step is in the plan: which parts of the body it takes strain off, and to which it adds some.

    As ``It takes strain off the neck (gaze to the screen).``
    """
    had, has = (score(state, PLAIN).by_region for state in (before, after))
    gains = {r: had[r] - has[r] for r in had if abs(had[r] - has[r]) >= LEAST_SHOWN}
    changes = _both_modes(moved(before, after))
    eased = sorted((r for r in gains if gains[r] > 0), key=lambda r: -gains[r])[:MOST_REASONS]
    burdened = sorted((r for r in gains if gains[r] < 0), key=lambda r: gains[r])[:MOST_REASONS]
    if not eased and not burdened:
        return tr("By itself it takes nothing off: it counts together with another step.")
    parts = []
    if eased:
        better = [one for one in changes if one.strain > 0]
        parts.append(tr("It takes strain off: {parts}.", parts=_parts(eased, better)))
    if burdened:
        worse = [one for one in reversed(changes) if one.strain < 0]
        told = _parts(burdened, worse)
        parts.append(
            tr("In return it puts more on: {parts}.", parts=told)
            if eased
            else tr("For now it adds strain for: {parts}. It counts together with another step.", parts=told)
        )
    return " ".join(parts)


def _parts(regions: Sequence[str], changes: Sequence[Moved]) -> str:
    """Parts of the body, each with what changes most for it."""
    first = {one.region: quantity_words(one.quantity, one.of) for one in reversed(changes)}
    told = [f"{region_word(r)} ({first[r]})" if r in first else region_word(r) for r in regions]
    return ", ".join(told)


def why_numbers(before: State, after: State) -> str:
    """The same in figures: quantities that get better, the largest gains first, then those that get worse."""
    changes = _both_modes(moved(before, after))
    better = _told([m for m in changes if m.strain > 0], after)
    worse = _told([m for m in changes if m.strain < 0][::-1], after)
    parts = [tr("Better: {changes}.", changes="; ".join(better))] if better else []
    parts += [tr("Worse: {changes}.", changes="; ".join(worse))] if worse else []
    return " ".join(parts)


def _both_modes(changes: Sequence[Moved]) -> list[Moved]:
    """Changes without those too small to be shown; what stays as it is, sitting and standing together.

    Where one only stands instead of sitting, what strains alike in both is neither better nor worse.
    """
    found: dict[tuple[str, str, str, str, str], list[Moved]] = {}
    for one in changes:
        stays = not one.unit or one.before == one.after
        found.setdefault((one.quantity, one.of, one.task, one.region, "" if stays else one.mode), []).append(
            one
        )
    out = []
    for alike in found.values():
        net = sum(one.strain for one in alike)
        if abs(net) >= LEAST_SHOWN:
            most = max(alike, key=lambda one: one.strain if net > 0 else -one.strain)
            out.append(replace(most, strain=net))
    return sorted(out, key=lambda one: (-one.strain, one.task, one.quantity, one.of))


def _told(changes: list[Moved], after: State) -> list[str]:
    """The first changes in words, each once: of two modes the first, and one desk edge for keys and mouse."""
    seen: dict[tuple[str, str, str], Moved] = {}
    for one in changes:
        seen.setdefault((one.quantity, one.of, one.task), one)
    return list(dict.fromkeys(_change(one, after) for one in seen.values()))[:MOST_REASONS]


def _change(one: Moved, after: State) -> str:
    whose = [one.task] if len(after.tasks) > 1 else []
    measured = one.quantity in QUANTITIES.quantities and "mode" in QUANTITIES.roles_of(one.quantity)
    if measured and len(modes_in(seen_in(after, one.task))) > 1:
        whose.append(tr("standing") if one.mode == "stand" else tr("sitting"))
    name = quantity_words(one.quantity, one.of, ", ".join(whose))
    if not one.unit or not math.isfinite(one.before) or not math.isfinite(one.after):
        return name
    shown = change_words(one.before, one.after, one.unit, one.quantity)
    if shown != value_words(one.before, one.unit, one.quantity):
        return f"{name}: {shown}"
    # The measure stays: it is met for another part of the time, or eased.
    strain = strain_text(abs(one.strain), 2)
    if one.strain > 0:
        return tr("{name}: {shown} as before, {strain} less strain", name=name, shown=shown, strain=strain)
    return tr("{name}: {shown} as before, {strain} more strain", name=name, shown=shown, strain=strain)


# --- how it is done ------------------------------------------------------------------------------------


def add_instructions(
    page: Page,
    option: OptionSpec,
    takes: Sequence[Taking],
    state: State,
    catalog: Catalog,
    prices: PriceTable,
    before: State,
    rights: Sequence[str] = (),
    indent: int = 0,
) -> None:
    """Say what a step takes, what to mind, how it is done, when it is right and what stands behind it.

    `takes` is what it takes in its stage, `state` the workplace as it is then, `before` as it is before the
    step; `rights` are sentences that say when it is right.
    """
    fix = option.fix
    needs = [_material_text(material, option, takes, catalog) for material in fix.takes_at(option.size)]
    if needs:
        page.paragraph(tr("You need: {things}.", things="; ".join(needs)), indent)
    asks = {
        m.item: ask_text(catalog.items[m.item], prices)
        for m in fix.takes_at(option.size)
        if _is_bought(m, option, takes)
    }
    page.points(
        [f"{item_title(item, catalog)}{used_text(item, prices)}: {ask}" for item, ask in asks.items() if ask],
        indent + 2,
    )
    add_cuts(page, option, state, catalog, indent)
    if fix.tools:
        page.paragraph(tr("Tools: {tools}.", tools=", ".join(tool_word(tool) for tool in fix.tools)), indent)
    if fix.minutes:
        page.paragraph(tr("Time: {time}.", time=minutes_text(fix.minutes)), indent)
    page.points([leave_text(option), *cautions_of(option, state)], indent, "!")
    for place, line in enumerate(how_text(option, before, state)):
        page.point(f"{chr(ord('a') + place % 26)})", line, indent)
    for right in rights:
        page.paragraph(right, indent)
    if side_effects := said(fix.side_effects, option, state):
        page.paragraph(tr("Good to know:"), indent)
        page.points(side_effects, indent + 2)
    if kept := _kept_text(fix):
        page.paragraph(kept, indent)
    for upkeep in said([fix.upkeep], option, state):
        page.paragraph(tr("Upkeep: {what}", what=upkeep), indent)
    page.paragraph(tr("What stands behind it: {findings}", findings=evidence_line(fix.evidence)), indent)


def _kept_text(fix: Fix) -> str:
    """On how many days a step is counted; empty where nobody has to keep it up."""
    if fix.kept_up is not None:
        return kept_up_text(fix.kept_up)
    if fix.often_dropped is not None:
        return tr(
            "Counted as kept every day, though not everybody does. {why}", why=tr(fix.often_dropped.why)
        )
    return tr("Counted as kept every day.") if fix.kind == "habit" else ""


def cautions_of(option: OptionSpec, state: State) -> list[str]:
    """What could hurt in a step; it stands with the step wherever that is told, before how it is done."""
    return said(option.fix.cautions, option, state)


def short_text(option: OptionSpec, before: State, state: State) -> str:
    """How a step is done in one line, never a clipped one: all of how it is done where no short text is."""
    if option.fix.short is not None:
        return filled(option.fix.short, option)
    return " ".join(how_text(option, before, state))


def leave_text(option: OptionSpec) -> str:
    """Whom to ask first; empty where nobody has to be asked."""
    return "" if option.fix.leave == "none" else tr(ASK_FIRST[option.fix.leave])


FEET_LEAVE = {
    "foot_bar": "Take the feet off the bar under the desk, and set them down in front of it.",
    "foot_ring": "Take the feet off the ring of the seat.",
}
"""What is said where a step puts feet elsewhere, by what they rest on before it."""


def how_text(option: OptionSpec, before: State, state: State, given: bool = False) -> list[str]:
    """How a step is done in a state, line by line; what leaves its place for it comes first.

    Where the things are `given`, without what helps to buy them.
    """
    out = []
    for change in option.changes:
        owner, name = change.slot
        rested = str(before.values.get((owner, name), ""))
        if name == "feet.on" and rested in FEET_LEAVE and change.value not in FEET_LEAVE:
            out.append(tr(FEET_LEAVE[rested]))
    return out + said(option.fix.how, option, state, given)


def right_text(option: OptionSpec, state: State) -> str | None:
    """How to see that a step is right in a state; None where nothing is said."""
    own = said([option.fix.right], option, state)
    seen = [look for looks in looks_of(option, state).values() for look in looks if look.right]
    of_all, of_one = ([look.text for look in seen if look.labelled == one] for one in (False, True))
    return " ".join((*of_all, *own, *of_one)) or None


def lacking_text(option: OptionSpec, state: State) -> str | None:
    """What of a step is out of its range in a state for all that; None where nothing is."""
    return " ".join(lacking_by_check(option, state).values()) or None


def lacking_by_check(option: OptionSpec, state: State) -> dict[str, str]:
    """The same by what it is looked at by."""
    told = {
        check: " ".join(sign.text for sign in signs if not sign.right)
        for check, signs in looks_of(option, state).items()
    }
    return {check: text for check, text in told.items() if text}


def after_two_weeks(option: OptionSpec, state: State) -> str:
    """What to look at after two weeks, where that is not just whether all is still right; else empty."""
    return " ".join(said([option.fix.recheck], option, state))


def _material_text(material: Material, option: OptionSpec, takes: Sequence[Taking], catalog: Catalog) -> str:
    """One thing a step takes, in words, and what of it the person has."""
    item = catalog.items[material.item]
    if material.quantity is None:
        if not option.pieces:
            return tr(item.title)
        pieces = f"{_stacked(option.pieces)} {unit_text('mm')}"
        if len(option.pieces) == 1:
            return tr("{thing} ({pieces}, you have it)", thing=tr(item.title), pieces=pieces)
        return tr("{thing} ({pieces}, you have them)", thing=tr(item.title), pieces=pieces)
    told = f"{tr(item.title)}, {count_words(material.quantity, item.unit)}"
    taking = next((one for one in takes if plain_item(one.item) == material.item), None)
    if taking is None:
        return told + tr(" (the same as before)")
    if taking.owned < taking.units:
        return told + (tr(" (you have {count} of that)", count=taking.owned) if taking.owned else "")
    return told + (tr(" (you have it)") if taking.units == 1 or item.unit == "cm" else tr(" (you have them)"))


def _is_bought(material: Material, option: OptionSpec, takes: Sequence[Taking]) -> bool:
    """Whether some of a thing is bought for a step: of what one has, nothing is to be looked at in a shop."""
    if material.quantity is None:
        return not option.pieces
    return any(plain_item(one.item) == material.item and one.owned < one.units for one in takes)


def count_words(count: int, unit: str) -> str:
    """Number of things a fix takes, as ``2 pieces`` or ``60 cm``."""
    told = {
        "piece": trn("{count} piece", "{count} pieces", count),
        "pair": trn("{count} pair", "{count} pairs", count),
        "set": trn("{count} set", "{count} sets", count),
        "sheet": trn("{count} sheet", "{count} sheets", count),
    }
    if unit == "cm" and current_unit() != "mm":
        return shown_length(count * 10)
    return told.get(unit, f"{count} {unit}")


# --- as data -------------------------------------------------------------------------------------------


def step_json(number: int, step: OrderedStep, when: str, plan: Plan, catalog: Catalog) -> StepRecord:
    """One step: strain [h/day] once it is done, sizes in their unit, its texts with the size put in."""
    option, fix = step.option, step.option.fix
    level, owner = option.owner
    return {
        "order": number,
        "fix": fix.id,
        "title": tr(fix.title),
        "with": option.with_name,
        "place": owner if level == "place" else None,
        "task": owner if level == "task" else None,
        "size": size_json(option),
        "unit": None if fix.size is None else fix.size.unit,
        "pieces": [quantity_json(piece) for piece in option.pieces],
        "kind": fix.kind,
        "cost": money_json(step.cost, plan.currency),
        "minutes": step.minutes,
        "when": when,
        "strain_after": strain_json(step.strain_after),
        "bundle": plan.bundle_of[key_of(option)].name,
        "leaving_out": strain_json(plan.bundle_of[key_of(option)].leaving_out),
        "why": why_text(step.before, step.after),
        "why_numbers": why_numbers(step.before, step.after),
        "materials": [
            {"item": one.item, "quantity": one.units, "owned": one.owned}
            for one in step.takes
            if one.item in catalog.items
        ],
        "cuts": cuts_json(option, plan.state_after),
        "how": how_text(option, step.before, plan.state_after),
        "right": right_text(option, plan.state_after),
        "lacking": lacking_text(option, plan.state_after),
        "cautions": cautions_of(option, plan.state_after),
        "side_effects": said(fix.side_effects, option, plan.state_after),
        "evidence": evidence_json(fix.evidence, catalog),
    }


def size_json(option: OptionSpec) -> float | int | str | None:
    """Size in its unit; whole ones as whole numbers, so that it reads the same here as in the step's name."""
    if option.size is None or isinstance(option.size, str):
        return option.size
    size = quantity_json(option.size)
    return int(size) if size is not None and size == int(size) else size
