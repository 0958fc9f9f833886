"""Whether what stands in the casebook as done shows in a case: told there, as measured with it in place.

A cushion shows in the height of the seat, a stack under the feet in what they rest on. What no measure tells,
as a towel in a case without a word on the back, stands by the word of the casebook alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from deskmend.intake.case import Case
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.fields import Value
from deskmend.workstation.state import DEVICES, Owner, Slot, State, state_of

__all__ = ["KEYS", "Shown", "shown_in"]

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
