"""Whether bodies fit furniture: legs and armrests under desks, room for the knees, seats, feet that rest.

Fit comes before strain: where it lacks, it is said first, by how much, what would fit, and whether anything
on offer mends it at any price. What would fit is told as whole places: a seat that mends one thing and leaves
the hands far under the table is told together with the table that goes with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import cos, radians
from typing import Literal

import numpy as np

from deskmend.measures import Mm
from deskmend.planning.model.model import Model
from deskmend.planning.model.rules import ROOM_ON_DESK
from deskmend.planning.model.tables import Grid
from deskmend.risk.severity import curves
from deskmend.risk.suits import THINNEST_TOP, SuitRange, suits
from deskmend.workstation.distances import NARROW
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.state import PERSON, Owner, State, evaluate

__all__ = ["Lack", "Remedy", "at_some_place", "desk_lacks", "lacks_of", "somewhere", "with_remedies"]

LackKind = Literal["seat_low", "legs_under", "armrests_under", "knee_room", "leg_width", "feet_down"]

ROOM_LACKS = 60.0
"""Body back from the desk from which on room lacks [mm]: the usual room between body and edge (judgement)."""
MAY_BE_OFF = 2.0
"""Standard deviations by which an estimate of the body may be off before something surely lacks [-]."""
LOWEST_SEAT = cos(radians(30.0))
"""Lowest seat that goes with a body, as a part of the hollow of the knee in shoes [-] (gouvali_2006)."""
FLOOR_SEAT = 200.0
"""Seat up to which one sits on the floor, with the legs stretched or crossed [mm]."""


@dataclass(frozen=True)
class Remedy:
    """Furniture with which a lack would be gone, all of it together; what is None may stay as it is.

    - `seat`, `table`: lowest and highest.
    - `free_under`: from the floor to the table's lowest part, at least.
    - `support`: height of what is under the feet.
    - `depth`, `width`: free for the legs, at least.
    - `armrests`: above the bare seat, at most.
    """

    seat: tuple[Mm, Mm] | None = None
    table: tuple[Mm, Mm] | None = None
    free_under: Mm | None = None
    support: Mm | None = None
    depth: Mm | None = None
    width: Mm | None = None
    armrests: Mm | None = None


@dataclass(frozen=True)
class Lack:
    """One thing that does not fit at a place where somebody sits and works.

    - `task`, `place`: where; the first task done there.
    - `kind`: the seat is too low for the legs, legs or armrests do not go under the desk, knees have no room
      behind its edge or from side to side, feet reach nothing.
    - `by`: how much is lacking.
    - `remedies`: what would fit, each alone.
    - `mendable`: whether anything on offer might mend it, at any price; None where nobody asked.
    - `settable`: armrests or footrests that can be set, and who does it: the person, or who fitted the
      wheelchair.
    - `unsure`: measure of the body that is only estimated, and might be off by what is lacking; else empty.
    - `with_leave`: title of what would mend it but for want of the owner's leave; else empty.
    """

    task: str
    place: str
    kind: LackKind
    by: Mm
    remedies: tuple[Remedy, ...] = ()
    mendable: bool | None = None
    settable: Literal["person", "fitter"] | None = None
    unsure: str = ""
    with_leave: str = ""


def lacks_of(state: State) -> tuple[Lack, ...]:
    """What does not fit where somebody sits to work, place by place."""
    first = {place: task for task, place in reversed(list(state.place_of.items()))}
    return tuple(
        lack
        for place in state.places
        if place in first
        for lack in _Place(state, first[place], place).lacks()
    )


def desk_lacks(state: State, task: str) -> Mapping[str, Mm]:
    """How much depth and width a desk lacks for a task's things, by `ROOM_ON_DESK`; only what it lacks."""
    ask = evaluate(state, task)
    left = {name: float(ask(name)) for name in ROOM_ON_DESK}
    return {name: -room for name, room in left.items() if room < 0.0}


class _Place:
    """One place and a body at it."""

    def __init__(self, state: State, task: str, place: str) -> None:
        self._state, self._task, self._place = state, task, place
        self._ask = evaluate(state, task)

    def of(self, name: str) -> float:
        return float(self._ask(name, mode="sit"))

    def lacks(self) -> Iterator[Lack]:
        """Lacks, that of the seat first: table and feet are for the seat there is."""
        if self.of("stand_share") >= 1.0:
            return
        yield from self._seat()
        if self.of("clearance") < 0.0:
            lack = self._lack(
                "legs_under", -self.of("clearance"), self._tables(self.of("legs_top")), self._lower()
            )
            knees = self.of("knee_top") > self.of("thigh_top")
            yield self._unsure(lack, "knee_height" if knees else "thigh_clearance")
        elif self.of("legs_back") >= ROOM_LACKS:
            yield self._room()
        elif self.of("armrests_back") >= ROOM_LACKS:
            lower = Remedy(armrests=self.of("seat_armrest_height") + self.of("armrest_room"))
            higher = self._tables(self.of("armrest_top")) if self._reachable(self.of("armrest_top")) else None
            lack = self._lack("armrests_under", -self.of("armrest_room"), lower, higher)
            yield replace(lack, settable=self._settable())
        gap = self.of("seat_front") - self.of("popliteal_height") - self.of("person_shoes")
        rest = gap
        gap -= self.of("foot_surface")
        if self.of("leg_gap") > curves()["leg_gap"].zero_at and gap > 0.0:
            lack = self._lack("feet_down", gap, Remedy(support=rest), self._other_seat())
            fitted = str(self._ask("seat_base")) == "wheelchair"
            lack = replace(lack, settable="fitter" if fitted else None)
            yield self._unsure(lack, "popliteal_height", curves()["leg_gap"].zero_at)

    def _unsure(self, lack: Lack, measure: str, borne: Mm = 0.0) -> Lack:
        """The lack, marked where an estimate off by its error would leave no more than what is borne."""
        known = self._state.body.dimensions[measure]
        unsure = known.estimated and lack.by - borne < MAY_BE_OFF * known.sd
        return replace(lack, unsure=measure) if unsure else lack

    def _settable(self) -> Literal["person", "fitter"] | None:
        if str(self._ask("seat_armrests")) != "adjustable":
            return None
        return "fitter" if str(self._ask("seat_base")) == "wheelchair" else "person"

    def _lack(self, kind: LackKind, by: Mm, *remedies: Remedy | None) -> Lack:
        told = tuple(one for one in remedies if one is not None and one != Remedy())
        return Lack(self._task, self._place, kind, by, told)

    def _seat(self) -> Iterator[Lack]:
        soles = self.of("popliteal_height") + self.of("person_shoes")
        front, suited = self.of("seat_front"), self._suited().get("seat_height")
        on_floor = front <= FLOOR_SEAT or str(self._ask("place_kind")) in ("floor", "bed")
        if (
            suited is not None
            and not on_floor
            and self.of("foot_surface") <= 0.0
            and front < LOWEST_SEAT * soles
        ):
            yield self._lack("seat_low", suited.low - front, self._other_seat())

    def _room(self) -> Lack:
        """Knees that have no room: for want of width or of depth, by what the least standard asks for."""
        asked, width = self._suited(), self.of("desk_leg_width")
        if width < NARROW[1]:
            least = asked["leg_width"].low
            return self._lack("leg_width", least - width, Remedy(width=least))
        least = max(asked["knee_depth"].low, self.of("legs_need"))
        return self._lack("knee_room", least - self.of("desk_leg_depth"), Remedy(depth=least))

    # --- what would fit --------------------------------------------------------------------------

    def _suited(self, seat_height: Mm | None = None) -> Mapping[str, SuitRange]:
        """What suits this body by name, for a seat that suits it or one of a height."""
        return {one.name: one for one in suits(self._state, self._place, seat_height)}

    def _hands(self, suited: Mapping[str, SuitRange]) -> SuitRange | None:
        """Heights of the table for what the hands do here."""
        writes = self.of("hands_keys") + self.of("hands_mouse") <= 0.0
        return suited.get("desk_height_writing" if writes else "desk_height_keys")

    def _reachable(self, free: Mm) -> bool:
        """Whether a table with so much free under it can suit the hands at the seat there is."""
        hands = self._hands(self._suited(self.of("seat_front")))
        return hands is not None and free + THINNEST_TOP <= hands.high

    def _tables(self, free: Mm) -> Remedy:
        """A table with so much free under it; with another seat too where its top would be too high here."""
        return Remedy(free_under=free) if self._reachable(free) else self._other_place()

    def _other_place(self) -> Remedy:
        """Seat and table that suit the body and go with each other."""
        suited = self._suited()
        seat, hands, under = suited.get("seat_height"), self._hands(suited), suited.get("desk_underside")
        if seat is None or hands is None or under is None:
            return Remedy()
        low = min(max(hands.low, under.low + THINNEST_TOP), hands.high)
        return Remedy(seat=(seat.low, seat.high), table=(low, hands.high), free_under=under.low)

    def _other_seat(self) -> Remedy:
        """A seat that suits; with a table too where the one there is would not suit the hands then."""
        suited = self._suited()
        seat, hands = suited.get("seat_height"), self._hands(suited)
        if seat is None:
            return Remedy()
        on_lap = str(self._ask("desk_legs")) == "lap" or self.of("lap_rise") >= 0.0
        under = suited.get("desk_underside")
        bears = hands is not None and hands.low <= self.of("work_surface") <= hands.high
        free = self.of("desk_underside") - self.of("desk_lap_lost")
        if on_lap or (bears and under is not None and under.low <= free):
            return Remedy(seat=(seat.low, seat.high))
        return self._other_place()

    def _lower(self) -> Remedy | None:
        """A lower seat under the same table, where feet, knees and hands bear it."""
        height = self.of("seat_height") + self.of("clearance")
        knees = self.of("foot_surface") + self.of("person_shoes") + self.of("knee_height")
        seat, hands = self._suited().get("seat_height"), self._hands(self._suited(height))
        if knees > self.of("desk_underside") - self.of("desk_lap_lost") or seat is None or hands is None:
            return None
        bearable = height >= seat.low and hands.low <= self.of("work_surface") <= hands.high
        return Remedy(seat=(seat.low, height)) if bearable else None


# --- whether anything mends it -------------------------------------------------------------------


def with_remedies(lacks: tuple[Lack, ...], model: Model) -> tuple[Lack, ...]:
    """Lacks with whether they may be mended: not where no state that can be chosen is without them."""
    found = (replace(lack, mendable=_mendable(lack, model)) for lack in lacks)
    return tuple(
        lack if lack.mendable else replace(lack, with_leave=_with_leave(lack, model)) for lack in found
    )


def _with_leave(lack: Lack, model: Model) -> str:
    """What takes armrests off that are in the way, where it is only not offered for want of leave.

    Never in a wheelchair or for who cannot stand up: there they carry.
    """
    values = model.state.values
    here: Owner = ("place", lack.place)
    carries = values[here, "seat.base"] == "wheelchair" or values[PERSON, "person.cannot_stand"] == "yes"
    if lack.kind != "armrests_under" or carries:
        return ""
    for one in model.offers.left_out:
        off = any(effect.change == "seat.armrests" and effect.value == "none" for effect in one.fix.effects)
        if one.owner == here and off and one.cause == "no_leave":
            return one.fix.title
    return ""


def _no_less(least: float) -> Callable[[object], object]:
    return lambda value: np.asarray(value) >= least


def _less(than: float) -> Callable[[object], object]:
    return lambda value: np.asarray(value) < than


def _gone(lack: Lack, model: Model) -> tuple[str, Callable[[object], object]]:
    """Quantity by which a lack is seen to be gone, and where."""
    if lack.kind == "seat_low":
        body = model.state.body["popliteal_height"]
        soles = body + float(model.state.values[("person", ""), "person.shoes"])
        return "leg_gap", _no_less(-(1.0 - LOWEST_SEAT) * soles)
    if lack.kind == "legs_under":
        return "clearance", _no_less(0.0)
    if lack.kind == "armrests_under":
        return "armrests_back", _less(ROOM_LACKS)
    if lack.kind == "feet_down":
        return "leg_gap", lambda value: np.asarray(value) <= curves()["leg_gap"].zero_at
    return "legs_back", _less(ROOM_LACKS)


def _mendable(lack: Lack, model: Model) -> bool:
    """Whether some state that can be chosen is without the lack: here, standing, or at another place."""
    name, gone = _gone(lack, model)
    return at_some_place(
        model,
        lack.task,
        lambda evaluation: (
            somewhere(model, evaluation(name), gone)
            or somewhere(model, evaluation("stand_share"), _no_less(1.0))
        ),
    )


def at_some_place(model: Model, task: str, good: Callable[[Evaluation[Grid]], bool]) -> bool:
    """Whether a task can be done well at any of the places where it can be done at all."""
    return any(good(model.evaluation(task, place)) for place, _ in model.places_of(task))


def somewhere(model: Model, grid: Grid, good: Callable[[object], object]) -> bool:
    """Whether any cell that choices reach is good; what is not known to be out of reach counts."""
    cells = np.asarray(good(grid.values), dtype=np.bool_)
    reach = model.builder.reach(grid.scope) if grid.scope else None
    return bool(np.any(cells if reach is None else cells & reach))
