"""Visits: the record of one, what people type of it, and whether what stands as done shows in a case.

A cushion shows in the height of the seat, a stack under the feet in what they rest on. What no measure tells,
as a towel in a case without a word on the back, stands by the word of the casebook alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from deskmend.casebook.store import PersonBook, PlannedStep, Rating, Visit
from deskmend.errors import Fault, InputFaults, Unreadable, did_you_mean, option_fault
from deskmend.intake.case import Case
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import Catalog, catalog_digest, file_digest, running_version
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.text_file import ALLOWED_ID, is_id, text_fault
from deskmend.measures import Minor, parse_amount
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan import Plan
from deskmend.planning.selection import state_with
from deskmend.risk.severity import REGIONS
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.fields import Value
from deskmend.workstation.state import DEVICES, Owner, Slot, State, state_of

__all__ = [
    "KEYS",
    "LARGEST_RATING",
    "LONGEST_NOTE",
    "Entries",
    "Shown",
    "case_of_visit",
    "discomfort_told",
    "outdated_ratings",
    "shown_in",
    "visit_of",
]


def visit_of(
    day: date, case_file: str, case_text: str, catalog: Catalog, prices: PriceTable, plan: Plan, document: str
) -> Visit:
    """The record of a visit; `document` is that of the plan, as text."""
    return Visit(
        day=day,
        case_file=case_file,
        case_text=case_text,
        catalog_hash=catalog_digest(catalog),
        prices_hash=file_digest(prices.path),
        version=running_version(),
        currency=prices.currency,
        plan=document,
        steps=tuple(PlannedStep(step.option.with_name, step.option.fix.id) for step in plan.steps),
    )


def discomfort_told(case: Case, day: date, person: PersonBook | None = None) -> tuple[Rating, ...]:
    """Ratings of discomfort that a case tells, as what was felt on a day.

    What a person was asked that day comes before the case. A rating that stands in the case as it did at the
    visit before was not asked anew, and is no rating of that day.
    """
    told = _rated(case)
    if person is not None:
        asked = {one.region for one in person.felt if one.day == day}
        before = _rated(case_of_visit(person.visits[-1])) if person.visits else {}
        told = {
            region: rating
            for region, rating in told.items()
            if region not in asked and before.get(region) != rating
        }
    return tuple(Rating(day, region, rating) for region, rating in told.items())


def outdated_ratings(case: Case, person: PersonBook) -> tuple[Rating, ...]:
    """What was felt last, where the case still tells another rating."""
    last = {one.region: one for one in person.felt}
    return tuple(
        last[region]
        for region, rating in _rated(case).items()
        if region in last and last[region].rating != rating
    )


def case_of_visit(visit: Visit) -> Case:
    """The case of a visit, from the text that is kept of it."""
    return case_of_bytes(visit.case_text.encode("utf-8"), visit.case_file)


def _rated(case: Case) -> dict[str, int]:
    told = case.person.discomfort
    ratings = {region: getattr(told, region) for region in REGIONS}
    return {region: rating for region, rating in ratings.items() if rating is not None}


LARGEST_RATING = 10
LONGEST_NOTE = 2000
"""Most characters of a note or a reason."""
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_WHOLE = re.compile(r"[0-9]{1,4}", re.ASCII)


class Entries:
    """Reads one thing after another and gathers what is wrong; `refuse` raises it all together."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def fault(self, where: str, read: str | None, allowed: str, hint: str = "", note: str = "") -> None:
        """Record that something may not stand on the command line."""
        self.faults.append(option_fault(where, read, allowed, hint, note))

    def refuse(self) -> None:
        """Raise `InputFaults` where anything was wrong."""
        if self.faults:
            raise InputFaults(dict.fromkeys(self.faults))

    def key(self, text: str) -> str:
        """Key of a person, of the assessor's choosing."""
        if not is_id(text):
            self.fault("KEY", text, ALLOWED_ID)
        return text

    def day(self, text: str | None, option: str = "--on") -> date:
        """Day as ``2026-03-01``; today's where it is left out, since that is when it is written down."""
        if text is None:
            return date.today()
        try:
            if _DAY.fullmatch(text):
                return date.fromisoformat(text)
        except ValueError:
            # as 2026-02-30: told below with every other text that is no day
            pass
        self.fault(option, text, "a day as 2026-03-01")
        return date.min

    def words(self, text: str | None, option: str) -> str:
        """Free text in one line; empty where it is left out."""
        note = text_fault(text or "", LONGEST_NOTE)
        if note:
            self.fault(option, text, f"one line of at most {LONGEST_NOTE} characters", note=note)
        return text or ""

    def paid(self, text: str | None, currency: str) -> Minor | None:
        """Money that was paid; None where nobody said."""
        try:
            return None if text is None else parse_amount(text, currency)
        except Unreadable as error:
            self.fault("--paid", text, error.allowed, error.hint)
            return None

    def ratings(self, texts: Sequence[str], day: date) -> tuple[Rating, ...]:
        """Ratings written as ``neck=6``."""
        out: dict[str, Rating] = {}
        for text in texts:
            region, equals, number = text.partition("=")
            if not equals or not region or not number:
                self.fault("REGION=RATING", text, "a region and a rating from 0 to 10, as neck=6")
                continue
            if region not in REGIONS:
                allowed = f"one of {', '.join(REGIONS)}"
                self.fault("REGION=RATING", region, allowed, did_you_mean(region, REGIONS))
            elif region in out:
                self.fault("REGION=RATING", text, "each region once")
            if not _WHOLE.fullmatch(number) or int(number) > LARGEST_RATING:
                self.fault(region, number, f"a whole number from 0 to {LARGEST_RATING}")
            else:
                out[region] = Rating(day, region, int(number))
        return tuple(out.values())


KEYS: Mapping[str, str] = {
    "seat.height": "places.seat.height",
    "seat.pad": "places.seat.height",
    "seat.pressure": "places.seat.surface",
    "seat.depth": "places.seat.depth",
    "seat.slope": "places.seat.slope",
    "seat.recline": "places.seat.recline",
    "seat.armrests": "places.seat.armrests",
    "seat.armrest_height": "places.seat.armrest_height",
    "seat.foot_ring": "places.seat.foot_ring",
    "seat.lumbar_depth": "places.seat.lumbar",
    "back.roll": "places.seat.lumbar",
    "feet.height": "places.feet_on",
    "feet.on": "places.feet_on",
    "desk.height": "places.desk.height",
    "desk.depth": "places.desk.depth",
    "desk.edge": "places.desk.edge",
    "light.lux": "places.light.lux",
    "light.glare": "places.light.glare",
    "sitting_spell": "places.sitting_spell",
    "keyboard": "devices.keyboard",
    "keyboard.number_pad": "devices.keyboard_size",
    "mouse": "devices.mouse",
    "mouse.offset": "devices.mouse_offset",
    "phone": "devices.phone",
    "task.spell": "tasks.spell",
    "task.middle": "tasks.middle",
    "task.viewing_distance": "tasks.viewing_distance",
    "paper.side": "tasks.paper.at",
    "paper.distance": "tasks.paper.distance",
    "paper.slope": "tasks.paper.slope",
    "text.scale": "tasks.text_size",
}
"""Where a case tells a field that fixes change; screens raised are told by their top edge (`_seen`)."""


@dataclass(frozen=True)
class Shown:
    """One fix that stands as done, looked for in a case.

    - `where`: ``told`` where the case has it; ``not_told`` where it could and tells nothing of it, or no key
      of a case can; ``missing`` where the case tells it as it was without.
    - `keys`: where the case would tell it.
    """

    option: OptionSpec
    where: Literal["told", "not_told", "missing"]
    keys: tuple[str, ...]


def shown_in(first: Case, now: Case, options: Sequence[OptionSpec]) -> tuple[Shown, ...]:
    """Each of some fixes as it shows in a case, against the first visit without and with them."""
    bare, here = state_of(first), state_of(now)
    known = [one for one in options if all(change.slot in bare.values for change in one.changes)]
    try:
        made = state_with(bare, known)
    except TwoSets:
        made = bare
    return tuple(_shown(option, bare, made, here) for option in options)


def _shown(option: OptionSpec, bare: State, made: State, here: State) -> Shown:
    keys: list[str] = []
    missing = False
    told = False
    for slot in dict.fromkeys(change.slot for change in option.changes):
        key = _key(slot, bare)
        if key is None or slot not in bare.values or slot not in here.values:
            continue
        was, then, is_now = (_seen(slot, state) for state in (bare, made, here))
        if was == then:
            continue
        keys.append(key)
        if _nearer(is_now, then, was):
            told = True
        elif _told_by(slot) not in here.assumed:
            missing = True
    where: Literal["told", "not_told", "missing"] = "told" if told else "missing" if missing else "not_told"
    return Shown(option, where, tuple(dict.fromkeys(keys)))


def _nearer(value: Value, one: Value, other: Value) -> bool:
    """Whether a value is nearer to one than to another."""
    if isinstance(value, str) or isinstance(one, str) or isinstance(other, str):
        return value == one
    return abs(value - one) < abs(value - other)


def _key(slot: Slot, state: State) -> str | None:
    _owner, name = slot
    if name == "screen.raise":
        return f"devices.{_tool(state)}." + ("screen_top" if _tool(state) == "laptop" else "top")
    return KEYS.get(name)


def _tool(state: State) -> str:
    return "monitor" if state.values[DEVICES, "screen.tool"] == "monitor" else "laptop"


def _told_by(slot: Slot) -> Slot:
    """The field by which a case tells what a fix changes."""
    owner, name = slot
    return owner, {"back.roll": "seat.lumbar_depth", "seat.pad": "seat.height"}.get(name, name)


def _seen(slot: Slot, state: State) -> Value:
    """What a tape would tell of a field: what lies on a thing is measured with it."""
    owner, name = slot

    def number(field: str, at: Owner = owner) -> float:
        return float(state.values[at, field])

    if name in ("seat.height", "seat.pad"):
        return number("seat.height") + number("seat.pad")
    if name in ("seat.lumbar_depth", "back.roll"):
        return number("seat.lumbar_depth") + number("back.roll")
    if name == "screen.raise":
        top = "laptop.screen_top" if _tool(state) == "laptop" else "monitor.top"
        return number("screen.raise") + number(top, DEVICES)
    return state.values[slot]
