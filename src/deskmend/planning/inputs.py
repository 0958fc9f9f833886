"""What every command starts from: a case, a catalog and prices that fit together, and which prices matter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import get_args

from deskmend.errors import Fault, InputFaults, did_you_mean
from deskmend.intake.case import Case, Paper, Task, values_at
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Sign, Urgency
from deskmend.intake.prices import PriceTable, load_prices, plain_item
from deskmend.language import shown_day, shown_length, tr
from deskmend.measures import Micro
from deskmend.planning.model.offers import Offers, OptionSpec, offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import State, second_screen, state_of

__all__ = [
    "DEFAULT_CURRENCY",
    "PriceQuestion",
    "find_prices",
    "fitting_faults",
    "most_urgent",
    "person_notes",
    "price_questions",
    "prices_for",
    "sign_told",
    "sign_warnings",
    "signs_of",
    "stale_prices",
    "unused_warnings",
]

DEFAULT_CURRENCY = "EUR"
"""Currency of the shipped sample table that is used where a case names none."""

STALE_DAYS = 366
"""Days after which a price is called old (judgement)."""
MOST_NAMED = 8
"""Most things that one warning names."""
SCREEN_WORDS = {"laptop": "laptop", "monitor": "monitor", "tablet": "tablet", "other": "other screen"}
"""Kinds of screens in words."""
NEVER_READ = (
    "person.mass",
    "places.*.seat.back_height",
    "places.*.desk.tiltable",
    "devices.monitor.width",
    "devices.keyboard_size.width",
    "tasks.*.text_size",
)
"""Keys that a case may give and nothing reads."""


@dataclass(frozen=True)
class FoundPrices:
    """A price table and what has to be said about it."""

    table: PriceTable
    warnings: tuple[str, ...]


def prices_for(
    catalog: Catalog,
    named: str | Path | None,
    beside: str | Path | None,
    currency: str | None,
    today: date | None,
) -> FoundPrices | None:
    """Price table that is named, else ``prices.csv`` beside a file, else the shipped sample of a currency.

    None where there is no such sample. `today` is the day from which the age of prices counts; the newest of
    the table if left out.
    """
    warnings = []
    file = named
    if file is None and beside is not None:
        own = Path(beside).parent / "prices.csv"
        file = own if own.is_file() else None
    if file is None:
        file = sample = catalog.price_folder / f"sample_{(currency or DEFAULT_CURRENCY).lower()}.csv"
        if not sample.is_file():
            return None
        warnings.append(
            tr(
                "prices are an invented sample ({file}); fill in your own with --prices FILE",
                file=sample.name,
            )
        )
    table = replace(load_prices(file), invented=bool(warnings))
    return FoundPrices(table, (*warnings, *stale_prices(table, today)))


def find_prices(
    case: Case, catalog: Catalog, path: str | Path | None = None, today: date | None = None
) -> FoundPrices:
    """Price table of a case, as `prices_for`.

    Raises `InputFaults` where the table has faults, is in another currency than the case, or there is none.
    """
    wanted = case.means.currency
    named = None if path is None else Path(path)
    found = prices_for(catalog, named, case.source or None, wanted, today)
    if found is None:
        samples = catalog.price_folder.glob("sample_*.csv")
        known = ", ".join(sorted(sample.stem.removeprefix("sample_").upper() for sample in samples))
        allowed = f"--prices FILE, prices.csv beside the case, or a currency with a sample table ({known})"
        raise InputFaults([case.fault(("means", "currency"), wanted or DEFAULT_CURRENCY, allowed)])
    if wanted is not None and found.table.currency != wanted:
        allowed = f"{wanted}, as the case says"
        raise InputFaults([Fault(found.table.path, None, "currency", found.table.currency, allowed)])
    return found


def stale_prices(table: PriceTable, today: date | None = None) -> list[str]:
    """Warn of prices over a year old on a day, or where it is left out than the newest; no clock is asked."""
    days = {item: priced.as_of for item, priced in table.items.items() if priced.as_of is not None}
    newest = max(days.values(), default=None)
    if newest is None:
        return []
    out = []
    old = [item for item, day in days.items() if ((today or newest) - day).days > STALE_DAYS]
    if old and today is None:
        out.append(
            tr(
                "prices over a year older than the newest ({day}): {items}; ask again",
                day=shown_day(newest),
                items=_named(old),
            )
        )
    elif old and today is not None:
        out.append(
            tr("prices over a year old on {day}: {items}; ask again", day=shown_day(today), items=_named(old))
        )
    ahead = [item for item, day in days.items() if today is not None and day > today]
    if ahead and today is not None:
        out.append(
            tr(
                "prices from after {day}: {items}; look at their dates",
                day=shown_day(today),
                items=_named(ahead),
            )
        )
    return out


def _named(items: list[str]) -> str:
    more = len(items) - MOST_NAMED
    return ", ".join(items[:MOST_NAMED]) + (tr(" and {number} more", number=more) if more > 0 else "")


def fitting_faults(case: Case, catalog: Catalog) -> list[Fault]:
    """Faults of a case that only a catalog shows: unknown owned things and warning signs."""
    faults = []
    signs = [sign.id for sign in catalog.signs]
    for number, sign in enumerate(case.person.warning_signs):
        if sign not in signs:
            where, hint = ("person", "warning_signs", number), did_you_mean(sign, signs)
            faults.append(case.fault(where, sign, "a sign of the catalog", hint))
    for item in case.owns:
        if plain_item(item) not in catalog.items:
            hint = did_you_mean(plain_item(item), catalog.items)
            faults.append(case.fault(("owns", item), item, "an item of the catalog", hint))
    return faults


URGENCIES: tuple[Urgency, ...] = get_args(Urgency)
"""From the most urgent to the least."""

SIGN_TOLD: dict[Urgency, str] = {
    "emergency": "Get emergency care now, before any of this: {sign}",
    "today": "Get medical advice today, before any of this: {sign}",
    "soon": "See a licensed clinician before buying or making anything: {sign}",
}


def signs_of(names: Sequence[str], catalog: Catalog) -> list[Sign]:
    """Warning signs of a catalog with these names, the most urgent first."""
    have = [sign for sign in catalog.signs if sign.id in names]
    return sorted(have, key=lambda sign: URGENCIES.index(sign.urgency))


def most_urgent(case: Case, catalog: Catalog) -> Urgency | None:
    """How urgent the most urgent warning sign of the person is; None where there is none."""
    return next((sign.urgency for sign in signs_of(case.person.warning_signs, catalog)), None)


def sign_told(sign: Sign) -> str:
    """What to do about a warning sign, with the sign itself in plain words."""
    return tr(SIGN_TOLD[sign.urgency], sign=tr(sign.sign))


def person_notes(case: Case) -> list[str]:
    """What has to be said of how a case is taken: days that differ, a side that is weak."""
    out = []
    told = case.person.stature - case.person.likely_stature
    if told:
        out.append(
            tr(
                "the height is told, not measured: people add {length} to it, which is taken off again",
                length=shown_length(told),
            )
        )
    if any(task.days is not None for task in case.tasks):
        out.append(
            tr(
                "tasks that are not done every day count with their mean hours a working day, in the "
                "published scores too"
            )
        )
    if case.person.weak_side in ("left", "right"):
        out.append(
            tr(
                "one side is weak ({side}): put what is used most on the other, and let somebody help who "
                "lifts, saws and screws",
                side=tr(case.person.weak_side),
            )
        )
    held = [task.id for task in case.tasks if task.phone_share]
    if held and case.devices.phone == "hand":
        out.append(
            tr(
                "the telephone is held in the hand ({tasks}): no strain is counted for the arm that holds "
                "it, nor for working with one hand meanwhile; a headset may be worth more than is shown here",
                tasks=", ".join(held),
            )
        )
    return out


def sign_warnings(case: Case, catalog: Catalog) -> list[str]:
    """Warning signs that the person has, the most urgent first, in plain words."""
    return [sign_told(sign) for sign in signs_of(case.person.warning_signs, catalog)]


def unused_warnings(case: Case) -> list[str]:
    """Warnings about what a case tells and the model does not use: nothing is passed over silently."""
    out = []
    unread = [
        pattern.replace("*", owner)
        for pattern in NEVER_READ
        for _, owner, value in values_at(case, pattern)
        if value is not None
    ]
    if unread:
        out.append(tr("told, but nothing here uses it: {keys}", keys=", ".join(unread)))
    for task in case.tasks:
        uses = {task.main, task.reference}
        if "paper" not in uses:
            about = [key for key, told in (("writing", task.writing), ("paper", _about_paper(task))) if told]
            if task.hands is not None and task.hands.writing:
                about.append("hands.writing")
            if about:
                out.append(
                    tr(
                        "{task}: {keys} told, but no paper is looked at there, so it counts for nothing or "
                        "little; name paper as main or reference",
                        task=task.id,
                        keys=", ".join(about),
                    )
                )
    out += _screen_warnings(case)
    return out


def _about_paper(task: Task) -> bool:
    return task.paper != Paper()


def _screen_warnings(case: Case) -> Iterator[str]:
    """What of several screens is left out: the model counts one beside the first."""
    second = second_screen(case)
    left = [screen for screen in case.screens if screen is not second]
    if left:
        counted = tr(SCREEN_WORDS["laptop" if second == "laptop" or second is None else second.kind])
        yield tr(
            "one screen beside the first is counted ({counted}); further ones are not: {number}",
            counted=counted,
            number=len(left),
        )
    at_screens = [task for task in case.tasks if {task.main, task.reference} & {"laptop", "monitor"}]
    if case.screens and not at_screens:
        yield tr("screens are told, but no task is done on a screen")
    by_laptop = {
        task.middle == "laptop"
        for task in at_screens
        if {task.main, task.reference} >= {"laptop", "monitor"} and task.middle != "unknown"
    }
    if len(by_laptop) > 1:
        yield tr("tasks tell different screens in the middle; the laptop is taken to stand there in all")


MOST_HELPERS = 3
"""Most further fixes that are taken along to meet what one needs [-]."""


@dataclass(frozen=True)
class PriceQuestion:
    """One item whose price could matter.

    - `pack`: suggested pack size: that of the shipped sample, else the most that one fix takes [item's unit].
    - `relief`: most strain that one fix which takes it removes, alone or with what it needs.
    - `fixes`: fixes that take it, in catalog order.
    """

    item: str
    pack: int
    relief: Micro
    fixes: tuple[str, ...]


def price_questions(case: Case, catalog: Catalog) -> tuple[PriceQuestion, ...]:
    """Items that could matter for a case: by relief, falling, then those of more fixes, then by name.

    What the case owns enough of is not asked, and fixes that the person cannot or may not carry out ask
    nothing.
    """
    state, weights = state_of(case), weights_of(case)
    before = score(state, weights).total
    asked = {fix.id for fix in catalog.fixes}
    offers = offers_for(case, state, catalog, None, asked=asked)
    relief: dict[str, int] = {}
    most: dict[str, int] = {}
    takes: dict[str, dict[str, None]] = {}
    for option in offers.options():
        group = _with_needs(option, offers, state)
        if group is None:
            continue
        gain = before - score(state_with(state, group), weights).total
        for one in group:
            for item, quantity in one.use.items():
                if item in catalog.items:
                    relief[item] = max(relief.get(item, 0), gain)
                    most[item] = max(most.get(item, 0), quantity)
                    takes.setdefault(item, {})[one.fix.id] = None
    sample = catalog.price_folder / "sample_eur.csv"
    packs = {}
    if sample.is_file():
        packs = {item: priced.pack for item, priced in load_prices(sample).items.items()}
    out = []
    for item, gain in relief.items():
        owned = case.owns.get(item)
        if owned is None or owned.count < most[item]:
            out.append(PriceQuestion(item, packs.get(item, most[item]), gain, tuple(takes[item])))
    return tuple(sorted(out, key=lambda one: (-one.relief, -len(one.fixes), one.item)))


def _with_needs(option: OptionSpec, offers: Offers, state: State) -> tuple[OptionSpec, ...] | None:
    """An option with the first fixes that meet what it needs; None where none do."""
    group: tuple[OptionSpec, ...] = (option,)
    for _ in range(MOST_HELPERS + 1):
        try:
            after = state_with(state, group)
        except TwoSets:
            return None
        if not breaches(state, after, [(one.fix, one.owner) for one in group]):
            return group
        helper = next(_helpers(group, offers, after), None)
        if helper is None:
            return None
        group = (*group, helper)
    return None


def _helpers(group: Sequence[OptionSpec], offers: Offers, after: State) -> Iterator[OptionSpec]:
    """Options that set a word which some fix of the group needs and does not find."""
    taken = {(one.owner, one.fix.decision) for one in group}
    wanted = {
        (predicate.name, predicate.value)
        for one in group
        for need in one.fix.needs
        for predicate in need.all
        if predicate.relation == "is"
    }
    for option in offers.options():
        if (option.owner, option.fix.decision) in taken:
            continue
        for change in option.changes:
            name = change.slot[1]
            if (
                change.operation == "set"
                and (name, change.value) in wanted
                and after.values[change.slot] != change.value
            ):
                yield option
                break
