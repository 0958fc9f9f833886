"""Workplaces of every kind, drawn with a seed, and small enough to be planned whole within a test.

Kinds come by turns: of as many cases in a row as there are kinds, each case has another. So are owned things
few, places one in most, and where the tables are still too large, wishes refuse ever more fixes.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from random import Random
from typing import Any, TypeVar, get_args

from tests.planning.cases import CATALOG, SAMPLE, made, quickly_solved

from deskmend.intake import case as records
from deskmend.intake.case import Case
from deskmend.planning.ready_case import NoPlan, ReadyCase, TooMuchToChoose, prepare

Kind = TypeVar("Kind")

REFUSED = (0.3, 0.5, 0.7, 0.85, 0.95)
"""Shares of the catalog that wishes refuse: the next where a case would not be small enough."""

MOST_CELLS = 1e6
"""Cells up to which it is: a plan of it takes a second or two, with all that is checked some more."""

HEIGHTS = {
    "desk": ((380, 500), (620, 800)),
    "unknown": ((400, 480), (680, 760)),
    "sofa": ((370, 440), (400, 560)),
    "bed": ((430, 560), (520, 700)),
    "floor": ((50, 180), (300, 420)),
    "worktop": ((600, 720), (850, 960)),
    "bar": ((690, 800), (980, 1120)),
}
"""Between what the seats and desks of each kind of place stand [mm]."""

PIECES = {
    "bath_towel": ["1", "2"],
    "ring_binder": ["1"],
    "carton_box": ["1"],
    "tape": ["300"],
    "cord": ["800"],
    "hardback_book": [["40"], ["25", "38"], ["20", "30", "45.5"]],
}
"""What may be owned, a kind or two at once."""


class Turns:
    """Kinds that follow one another from seed to seed, in another order each time round."""

    def __init__(self, seed: int) -> None:
        self._seed = seed
        self.draw = Random(seed)

    def next(self, what: str, kinds: Sequence[Kind]) -> Kind:
        """The kind whose turn it is."""
        round_, place = divmod(self._seed, len(kinds))
        return Random(f"{what} {round_}").sample(list(kinds), len(kinds))[place]

    def word(self, what: str, literal: Any) -> str:
        """The word whose turn it is, of those that a record allows."""
        return self.next(what, get_args(literal))

    def between(self, low: int, high: int) -> str:
        """Some length."""
        return str(self.draw.randint(low, high))


@cache
def whole_case(seed: int) -> tuple[Case, ReadyCase | None]:
    """A case that is planned within a test, made ready; None where what must be cannot."""
    told = _drawn(seed)
    must = told.pop("must")
    order = Random(f"refused {seed}").sample([fix.id for fix in CATALOG.fixes], len(CATALOG.fixes))
    for share in REFUSED:
        never = [name for name in order[: int(share * len(order))] if name not in must]
        case = made(**told, wishes={"must": must, "never": never})
        try:
            ready = prepare(case, CATALOG, SAMPLE)
        except TooMuchToChoose:
            continue
        except NoPlan:
            return case, None
        if quickly_solved(ready.problem(None, None), MOST_CELLS):
            return case, ready
    return case, ready


def told_case(seed: int) -> Case:
    """The same case before wishes refuse anything."""
    told = _drawn(seed)
    must = told.pop("must")
    return made(**told, wishes={"must": must})


def _drawn(seed: int) -> dict[str, Any]:
    turns = Turns(seed)
    monitor = turns.next("screen", ["laptop", "laptop", "monitor"]) == "monitor"
    names = turns.next("places", [["den"], ["den"], ["den"], ["den"], ["den"], ["den", "hall"]])
    person = _person(turns)
    places = [_place(turns, name, sits=person["cannot_stand"] == "yes") for name in names]
    must = turns.next("must", [[], [], [], [], [], ["break_timer"]])
    tasks = [_task(turns, name, places[-1]["id"], monitor) for name in turns.next("tasks", TASKS)]
    return {
        "person": person,
        "places": places,
        "devices": _devices(turns, monitor),
        "tasks": tasks,
        "owns": _owned(turns),
        "means": _means(turns),
        "room": {"landlord_leave": turns.next("leave", ["yes", "no"])}
        | ({"shared": "yes"} if turns.next("shared", [False, False, True]) else {}),
        # nobody who cannot stand is asked to get up
        "must": [] if person["cannot_stand"] == "yes" else must,
    }


TASKS = [["work"], ["work"], ["work", "study"]]


def _person(turns: Turns) -> dict[str, Any]:
    stature = turns.draw.randint(1490, 1980)
    shares = {
        "popliteal_height": 0.25,
        "sitting_elbow_height": 0.14,
        "sitting_eye_height": 0.457,
        "thigh_clearance": 0.09,
        "buttock_popliteal_length": 0.285,
        "knee_height": 0.31,
        "standing_elbow_height": 0.614,
    }
    body = {
        name: str(round(stature * share * turns.draw.uniform(0.95, 1.05)))
        for name, share in shares.items()
        if turns.draw.random() < 0.3
    }
    return {
        "stature": str(stature),
        "body": body,
        "sex": turns.word("sex", records.Sex),
        "shoes": turns.next("shoes", ["0", "15", "30"]),
        "writing_hand": turns.word("writing hand", records.Hand),
        "mouse_hand": turns.word("mouse hand", records.Hand),
        "eyewear": turns.word("eyewear", records.Eyewear),
        "weak_side": turns.word("weak side", records.Side),
        "cannot_stand": turns.next("stand", ["no", "no", "no", "yes"]),
        "warning_signs": turns.next("signs", [[], [], [], [SIGNS[turns.draw.randrange(len(SIGNS))]]]),
        "discomfort": {turns.word("where it hurts", records.Region): turns.next("how much", ["2", "7"])},
    }


SIGNS = [sign.id for sign in CATALOG.signs]


def _place(turns: Turns, name: str, sits: bool) -> dict[str, Any]:
    kind = turns.word(f"kind of {name}", records.PlaceKind)
    low, high = HEIGHTS[kind]
    height = turns.draw.randint(*low)
    top = turns.draw.randint(*high)
    back = turns.word("back", records.Back)
    seat: dict[str, Any] = {
        "height": str(height),
        "depth": turns.between(360, 480),
        "surface": turns.word("surface", records.Surface),
        "slope": turns.word("slope", records.SlopeWord),
        "back": back,
        "base": turns.word("base", records.Base),
        "material": turns.word("seat material", records.SeatMaterial),
    }
    if back != "none":
        seat["armrests"] = turns.word("armrests", records.Armrests)
        if turns.next("reclines", [False, False, True]):
            seat |= {"recline": "5", "recline_range": ["0", "20"]}
    if turns.next("settable seat", [False, False, True]):
        seat |= {"adjustable": "yes", "height_range": [str(max(50, height - 30)), str(height + 45)]}
    feet_on = turns.next("feet on", [*get_args(records.FeetOn), "60"])
    if kind == "floor":
        feet_on = "floor"
    if feet_on == "foot_ring":
        seat["foot_ring"] = turns.between(150, 300)
    if turns.next("shared seat", [False] * 7 + [True]):
        seat["shared_with"] = [{"stature": "1820", "sex": "male"}]
    legs = turns.word("desk legs", records.DeskLegs)
    desk: dict[str, Any] = {
        "height": str(top),
        "underside": str(top - turns.next("frame", [25, 45, 90])),
        "depth": turns.between(450, 800),
        "width": turns.between(800, 1500),
        "top": turns.word("top", records.Top),
        "legs": legs,
        "edge": turns.word("edge", records.Edge),
    }
    if legs == "height_adjustable":
        desk["height_range"] = [str(max(300, top - 40)), str(top + 65)]
    if feet_on == "foot_bar":
        desk["foot_bar"] = "140"
    if legs == "lap":
        feet_on = "floor" if feet_on == "foot_bar" else feet_on
        for key in ("underside", "foot_bar"):
            desk.pop(key, None)
    place: dict[str, Any] = {
        "id": name,
        "kind": kind,
        "posture": "sit" if sits else turns.word(f"posture in {name}", records.Posture),
        "seat": seat,
        "desk": desk,
        "feet_on": feet_on,
        "light": {
            "lux": turns.next("lux", ["90", "300", "500"]),
            "glare": turns.word("glare", records.Glare),
        },
    }
    if turns.next("other seat", [False, False, True]):
        place["other_seats"] = [{"id": f"{name}_2", "height": turns.between(400, 480), "surface": "foam"}]
    return place


def _devices(turns: Turns, monitor: bool) -> dict[str, Any]:
    out: dict[str, Any] = {
        "laptop": {"screen_top": "230", "screen_height": "190", "keys": "20", "depth": "240"},
        "keyboard": turns.word("keyboard", records.Keyboard),
        "keyboard_size": {"number_pad": turns.next("number pad", ["yes", "no"])},
        "mouse": turns.word("mouse", records.Mouse),
        "phone": turns.word("phone", records.Phone),
    }
    if monitor:
        out["monitor"] = {"top": turns.between(360, 450), "height": "290"}
        if turns.next("settable screen", [False, True]):
            out["monitor"] |= {"top": "400", "top_range": ["380", "505"]}
    return out


def _task(turns: Turns, name: str, place: str, monitor: bool) -> dict[str, Any]:
    tools = ["laptop", "paper", *(["monitor"] if monitor else [])]
    main = turns.next(f"main tool of {name}", tools)
    task: dict[str, Any] = {
        "id": name,
        "place": place,
        "hours": turns.next("hours", ["1.5", "3", "5"]),
        "spell": turns.next("spell", ["30", "60", "90"]),
        "main": main,
        "reference": turns.next(f"reference of {name}", ["none", *(tool for tool in tools if tool != main)]),
    }
    if "paper" in (main, task["reference"]):
        task["writing"] = turns.next("writing", ["yes", "no"])
        task["paper"] = {"at": turns.word("paper at", records.PaperAt)}
    else:
        task["hands"] = {
            "keys": turns.next("on keys", ["0", "0.3", "0.6"]),
            "mouse": turns.next("on mouse", ["0", "0.3"]),
        }
    if turns.next("telephones", [False, False, True]):
        task["phone_share"] = "0.25"
    return task


def _owned(turns: Turns) -> dict[str, Any]:
    names = {turns.next(f"owned {number}", [*PIECES]) for number in range(2)}
    return {name: turns.next(f"pieces of {name}", PIECES[name]) for name in sorted(names)}


def _means(turns: Turns) -> dict[str, Any]:
    return {
        "currency": "EUR",
        "skill": turns.next("skill", ["1", "2", "3"]),
        "tools": turns.next("tools", [[], ["scissors"], ["saw", "drill", "screwdriver"], TOOLS]),
        "may_alter": turns.next("may alter", ["yes", "no"]),
    }


TOOLS = sorted({tool for fix in CATALOG.fixes for tool in fix.tools})
