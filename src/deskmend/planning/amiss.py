"""What stays amiss with a workplace by so much that furniture is in the way, and what would suit instead."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from deskmend.measures import Mm
from deskmend.planning.exposures import exposure_rows
from deskmend.risk.suits import suits
from deskmend.workstation.state import State

__all__ = ["Amiss", "amiss_in"]

FULLY = 1.0
"""Severity from which something is amiss that nobody overlooks: a curve's end (`severity.csv`)."""
AT_THE_TABLE = {"keys": "desk_height_keys", "mouse": "desk_height_keys", "writing": "desk_height_writing"}
"""Which height of table suits the hand that works so."""


@dataclass(frozen=True)
class Amiss:
    """One thing that is amiss at a place.

    - `kind`: the table stands too high or too low for the hands, or the seat is hard.
    - `there`: height of the table; None for a seat.
    - `low`, `high`: heights that would suit at the seat there is; None for a seat, or where none would.
    """

    kind: Literal["table_high", "table_low", "seat_hard"]
    there: Mm | None = None
    low: Mm | None = None
    high: Mm | None = None


def amiss_in(state: State) -> tuple[Amiss, ...]:
    """What is fully amiss where most of the work is done; what does not fit at all tells `planning.fit`."""
    return tuple(dict.fromkeys(_found(state)))


def _found(state: State) -> Iterator[Amiss]:
    rows = [row for row in exposure_rows(state) if row.severity >= FULLY and row.share > 0.0]
    hands = {row.of: row.place for row in rows if row.name == "hands_off_elbow" and row.mode == "sit"}
    ranges = {one.name: one for one in suits(state)} if hands else {}
    for hand in (one for one in AT_THE_TABLE if one in hands):
        there = float(state.values[("place", hands[hand]), "desk.height"])
        suit = ranges.get(AT_THE_TABLE[hand])
        if suit is None:
            continue
        if there > suit.high:
            yield Amiss("table_high", there, suit.low, suit.high)
        elif there < suit.low:
            yield Amiss("table_low", there, suit.low, suit.high)
    if any(row.name == "seat_hard" for row in rows):
        yield Amiss("seat_hard")
