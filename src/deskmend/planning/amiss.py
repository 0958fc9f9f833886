"""What stays amiss with a workplace by so much that furniture is in the way, and what would suit instead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from deskmend.measures import Mm
from deskmend.planning.exposures import ExposureRow, exposure_rows
from deskmend.risk.suits import suits
from deskmend.workstation.state import State, evaluate

__all__ = ["Amiss", "amiss_in"]

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


@dataclass(frozen=True)
class Amiss:
    """One thing that is amiss at a place.

    - `kind`: the table stands too high or too low for the hands, or the seat is hard.
    - `there`: height of the table; None for a seat.
    - `low`, `high`: heights that would suit at the seat there is, or standing; None for a seat, or where none
      would.
    """

    place: str
    kind: Literal["table_high", "table_low", "seat_hard"]
    there: Mm | None = None
    low: Mm | None = None
    high: Mm | None = None
    standing: bool = False


def amiss_in(state: State) -> tuple[Amiss, ...]:
    """What is fully amiss at each place; what does not fit at all tells `planning.fit`."""
    return tuple(dict.fromkeys(_found(state)))


def _found(state: State) -> Iterator[Amiss]:
    rows = [row for row in exposure_rows(state) if row.severity >= FULLY and row.share > 0.0]
    for place in state.places:
        here = [row for row in rows if row.place == place]
        yield from _at_the_table(state, place, [row for row in here if row.name == "hands_off_elbow"])
        if any(row.name == "seat_hard" for row in here):
            yield Amiss(place, "seat_hard")


def _at_the_table(state: State, place: str, rows: Sequence[ExposureRow]) -> Iterator[Amiss]:
    """The table too high or too low for hands that work at it; what is on the lap is at no table."""
    values = {name: state.values[("place", place), name] for name in ("desk.legs", "desk.height", "lap.rise")}
    if not rows or values["desk.legs"] == "lap" or float(values["lap.rise"]) >= 0.0:
        return
    there = float(values["desk.height"])
    ask = evaluate(state, rows[0].task, place)
    suited = {one.name: one for one in suits(state, place, float(ask("seat_front")))}
    found = {(row.of, row.mode) for row in rows}
    for hand_and_mode, name in AT_THE_TABLE.items():
        suit = suited.get(name)
        if hand_and_mode in found and suit is not None:
            standing = hand_and_mode[1] == "stand"
            if there > suit.high:
                yield Amiss(place, "table_high", there, suit.low, suit.high, standing)
            elif there < suit.low:
                yield Amiss(place, "table_low", there, suit.low, suit.high, standing)
