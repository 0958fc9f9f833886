"""Whether bodies fit furniture: legs under desks, room for the knees, feet that reach something.

Fit comes before strain: where it lacks, it is said first, by how much, what would fit, and whether anything
on offer mends it at any price.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from deskmend.measures import Mm
from deskmend.planning.model.model import Model
from deskmend.planning.model.tables import Grid
from deskmend.risk.severity import curves
from deskmend.workstation.state import TOP_THICKNESS, State, evaluate

__all__ = ["Lack", "lacks_of", "with_remedies"]

Kind = Literal["legs_under", "knee_room", "feet_down"]

KNEE_ROOM_LACKS = 60.0
"""Stand-off from which on room for the knees lacks [mm]: the usual room between body and edge (judgement)."""


@dataclass(frozen=True)
class Lack:
    """One thing that does not fit at a place where somebody sits and works.

    - `task`, `place`: where; the first task done there.
    - `kind`: legs do not go under the desk, knees have no room behind its edge, feet reach nothing.
    - `by`: how much is lacking.
    - `table`, `seat`, `support`, `depth`: what would fit, each alone: height of a table with a thin top at
      least, height of the seat at most, height of what is under the feet, free depth under the table; None
      where that is none.
    - `mendable`: whether anything on offer might mend it, at any price; None where nobody asked.
    """

    task: str
    place: str
    kind: Kind
    by: Mm
    table: Mm | None = None
    seat: Mm | None = None
    support: Mm | None = None
    depth: Mm | None = None
    mendable: bool | None = None


def lacks_of(state: State) -> tuple[Lack, ...]:
    """What does not fit where somebody sits to work, place by place."""
    first = {place: task for task, place in reversed(list(state.place_of.items()))}
    return tuple(lack for place in state.places if place in first for lack in _at(state, first[place], place))


def _at(state: State, task: str, place: str) -> Iterator[Lack]:
    ask = evaluate(state, task)

    def of(name: str) -> float:
        return float(ask(name))

    if of("stand_share") >= 1.0:
        return
    room, seat = of("clearance"), of("seat_height")
    if room < 0.0:
        knees = of("foot_surface") + of("person_shoes") + of("knee_height")
        under = of("desk_underside") - of("desk_lap_lost")
        lower = seat + room if knees <= under else None
        yield Lack(task, place, "legs_under", -room, table=of("legs_top") + TOP_THICKNESS, seat=lower)
    elif of("stand_off") >= KNEE_ROOM_LACKS:
        yield Lack(task, place, "knee_room", of("stand_off"), depth=of("legs_need"))
    gap = of("seat_front") - of("popliteal_height") - of("person_shoes") - of("foot_surface")
    if of("leg_gap") > curves()["leg_gap"].zero_at and gap > 0.0:
        rest = of("foot_surface") + gap
        yield Lack(task, place, "feet_down", gap, seat=seat - rest, support=rest)


def with_remedies(lacks: tuple[Lack, ...], model: Model) -> tuple[Lack, ...]:
    """Lacks with whether they may be mended: not where no state that can be chosen is without them."""
    return tuple(replace(lack, mendable=_mendable(lack, model)) for lack in lacks)


FREE_OF: dict[Kind, tuple[str, Callable[[object], object]]] = {
    "legs_under": ("clearance", lambda value: np.asarray(value) >= 0.0),
    "knee_room": ("stand_off", lambda value: np.asarray(value) < KNEE_ROOM_LACKS),
    "feet_down": ("leg_gap", lambda value: np.asarray(value) <= curves()["leg_gap"].zero_at),
}
"""By what quantity a lack is seen to be gone."""


def _mendable(lack: Lack, model: Model) -> bool:
    """Whether some state that can be chosen is without the lack: here, standing, or at another place."""
    name, gone = FREE_OF[lack.kind]
    for place, _ in model.places_of(lack.task):
        evaluation = model.evaluation(lack.task, place)
        if _somewhere(model, evaluation(name), gone):
            return True
        if _somewhere(model, evaluation("stand_share"), lambda value: np.asarray(value) >= 1.0):
            return True
    return False


def _somewhere(model: Model, grid: Grid, good: Callable[[object], object]) -> bool:
    """Whether any cell that choices reach is good; what is not known to be out of reach counts."""
    cells = np.asarray(good(grid.values), dtype=np.bool_)
    reach = model.builder.reach(grid.scope) if grid.scope else None
    return bool(np.any(cells if reach is None else cells & reach))
