"""What stays amiss with a workplace by so much that furniture is in the way, and what would suit instead."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.text_file import parse_fix_name
from deskmend.language import tr
from deskmend.measures import Mm
from deskmend.planning.explain import ExposureRow, exposure_rows
from deskmend.planning.fit import at_some_place, somewhere
from deskmend.planning.model.model import Model
from deskmend.planning.model.offers import OptionSpec, offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.model.tables import Grid
from deskmend.planning.selection import decision_of, state_with
from deskmend.risk.suits import suits
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.state import State, evaluate

__all__ = ["Mismatch", "NotPadded", "mismatches_in", "not_padded", "with_mendable"]

FULLY = 1.0
"""Severity from which something is amiss that nobody overlooks: a curve's end (`severity.csv`)."""
AT_THE_TABLE = {
    ("keys", "sit"): "desk_height_keys",
    ("mouse", "sit"): "desk_height_keys",
    ("writing", "sit"): "desk_height_writing",
    ("keys", "stand"): "desk_height_standing",
    ("mouse", "stand"): "desk_height_standing",
}
"""Which height of table suits the hand that works so, sitting or standing."""


MismatchKind = Literal["table_high", "table_low", "seat_hard"]


@dataclass(frozen=True)
class Mismatch:
    """One thing that is amiss at a place.

    - `kind`: the table stands too high or too low for the hands, or the seat is hard.
    - `there`: height of the table; None for a seat.
    - `low`, `high`: heights that would suit at that seat, or standing; None for a seat, or where none would.
    - `seat`: front edge of the seat they are for, sat upon, in the state looked at; None for a seat.
    - `task`, `hand`: the work at the table that shows it.
    - `mendable`: whether anything on offer might make it less than fully amiss; None where nobody asked.
    """

    place: str
    kind: MismatchKind
    there: Mm | None = None
    low: Mm | None = None
    high: Mm | None = None
    seat: Mm | None = None
    standing: bool = False
    task: str = ""
    hand: str = ""
    mendable: bool | None = None


def mismatches_in(state: State) -> tuple[Mismatch, ...]:
    """What is fully amiss at each place; what does not fit at all tells `planning.fit`."""
    found: dict[tuple[str, str, bool], Mismatch] = {}
    for one in _found(state):
        found.setdefault((one.place, one.kind, one.standing), one)
    return tuple(found.values())


def _found(state: State) -> Iterator[Mismatch]:
    rows = [row for row in exposure_rows(state) if _fully(row)]
    for place in state.places:
        here = [row for row in rows if row.place == place]
        yield from _at_the_table(state, place, [row for row in here if row.name == "hands_off_elbow"])
        if any(row.name == "seat_hard" for row in here):
            yield Mismatch(place, "seat_hard")


def _fully(row: ExposureRow) -> bool:
    return row.severity >= FULLY and row.share > 0.0


def _at_the_table(state: State, place: str, rows: Sequence[ExposureRow]) -> Iterator[Mismatch]:
    """The table too high or too low for hands that work at it; what is on the lap is at no table."""
    values = {name: state.values[("place", place), name] for name in ("desk.legs", "desk.height", "lap.rise")}
    if not rows or values["desk.legs"] == "lap" or float(values["lap.rise"]) >= 0.0:
        return
    there = float(values["desk.height"])
    ask = evaluate(state, rows[0].task, place)
    seat = float(ask("seat_front"))
    suited = {one.name: one for one in suits(state, place, seat)}
    found = {(row.of, row.mode): row.task for row in reversed(rows)}
    for (hand, mode), name in AT_THE_TABLE.items():
        suit = suited.get(name)
        if suit is None or (hand, mode) not in found or suit.low <= there <= suit.high:
            continue
        kind: MismatchKind = "table_high" if there > suit.high else "table_low"
        yield Mismatch(
            place, kind, there, suit.low, suit.high, seat, mode == "stand", found[hand, mode], hand
        )


def with_mendable(found: Iterable[Mismatch], model: Model) -> tuple[Mismatch, ...]:
    """What is amiss with whether any state that can be chosen has less of it; of tables alone."""
    return tuple(one if not one.hand else replace(one, mendable=_mendable(one, model)) for one in found)


def _mendable(one: Mismatch, model: Model) -> bool:
    """Whether the work can be done with the hands less far off: here, the other way, or elsewhere."""
    own, other, wholly = ("stand", "sit", 0.0) if one.standing else ("sit", "stand", 1.0)

    def good(evaluation: Evaluation[Grid]) -> bool:
        if _bearable(one, model, evaluation, own):
            return True
        shares = np.asarray(evaluation("stand_share").values)
        return bool(np.any(shares == wholly)) and _bearable(one, model, evaluation, other)

    return at_some_place(model, one.task, good)


def _bearable(one: Mismatch, model: Model, evaluation: Evaluation[Grid], mode: str) -> bool:
    """Whether in some state that can be chosen the hands are less than fully off."""
    off = evaluation("hand_gap_severity", hand=one.hand, mode=mode)
    return somewhere(model, off, lambda severity: np.asarray(severity) < FULLY)


@dataclass(frozen=True)
class NotPadded:
    """A thing to buy for a hard seat that a plan leaves out; what stands against it, empty for nothing."""

    fix: Fix
    against: str


def not_padded(
    case: Case, state: State, plan: Sequence[OptionSpec], catalog: Catalog, prices: PriceTable
) -> tuple[NotPadded, ...]:
    """Hold what is bought for a hard seat against a plan under which the seat stays hard; else nothing.

    `state` is without the plan. Of a thing the first size with nothing against it is looked at, else the
    smallest.
    """
    if not _hard(state_with(state, plan)):
        return ()
    offers = offers_for(case, state, catalog, prices, everything=True)
    asked = tr("it is dear or drastic: it is given only where people decide so")
    left_out = {
        one.fix.id: asked if one.cause == "on_request" else one.reason for one in reversed(offers.left_out)
    }
    refused = {name.fix for text in case.wishes.never if (name := parse_fix_name(text)) is not None}
    found: dict[str, NotPadded] = {}
    for option in offers.options():
        fix = option.fix
        softens = fix.kind == "bought" and any(one.change == "seat.pressure" for one in fix.effects)
        if not softens or (fix.id in found and not found[fix.id].against):
            continue
        together = [*(one for one in plan if decision_of(one) != decision_of(option)), option]
        try:
            after = state_with(state, together)
        except TwoSets:
            continue
        if _hard(after):
            continue
        broken = breaches(state, after, [(one.fix, one.owner) for one in together])
        against = next((one.reason for one in broken), left_out.get(fix.id, ""))
        if not against and fix.id in refused:
            against = tr("it is not wanted, or decided against")
        if fix.id not in found or not against:
            found[fix.id] = NotPadded(fix, against)
    return tuple(found.values())


def _hard(state: State) -> bool:
    return any(map(_fully, exposure_rows(state, only="seat_hard")))
