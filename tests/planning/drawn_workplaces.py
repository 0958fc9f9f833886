"""Workplaces drawn at random, bodies and all invented: of one place or two, sitting, standing or by turns."""

from __future__ import annotations

from random import Random
from typing import Any

from deskmend.intake.case import Case
from deskmend.intake.case_file import read_case
from deskmend.planning.model.offers import Offers, OptionSpec
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import State

from .cases import plain

Mappings = dict[str, Any]


def drawn_case(draw: Random, several_places: bool = True) -> Mappings:
    """Draw one case, as a case file would write it."""
    stature = draw.randrange(1480, 1960, 5)
    monitor = draw.random() < 0.4
    places = [_place(draw, "den")]
    if several_places and draw.random() < 0.3:
        places.append(_place(draw, "nook"))
    tasks = [_task(draw, "work", places, monitor)]
    if draw.random() < 0.4:
        tasks.append(_task(draw, "post", places, monitor))
    case = plain(
        person__stature=str(stature),
        person__sex=draw.choice(["female", "male", "unknown"]),
        person__shoes=str(draw.choice([0, 15, 25])),
        person__eyewear=draw.choice(["none", "single_vision", "multifocal", "unknown"]),
        person__writing_hand=draw.choice(["right", "left", "unknown"]),
        person__body={"popliteal_height": str(round(stature * draw.uniform(0.23, 0.26)))},
        person__discomfort={"neck": str(draw.randrange(10)), "lower_back": str(draw.randrange(10))},
        places=places,
        devices__keyboard="separate" if draw.random() < 0.4 else "built_in",
        devices__mouse=draw.choice(["touchpad", "separate"]),
        devices__phone=draw.choice(["none", "cradled", "headset", "unknown"]),
        devices__monitor={"top": str(draw.choice([360, 400, 450])), "height": "280"} if monitor else None,
        tasks=tasks,
        owns={
            "bath_towel": str(draw.randrange(1, 3)),
            "hardback_book": ["25", "38", "42"],
            "ring_binder": "1",
        },
        means__skill=str(draw.choice([1, 2, 3])),
        means__minutes=draw.choice([None, "90", "240"]),
        means__tools=["scissors", "saw", "drill", "needle"],
        means__may_alter=draw.choice(["yes", "no"]),
    )
    return case


def _place(draw: Random, name: str) -> Mappings:
    desk = draw.randrange(680, 800, 10)
    place = {
        "id": name,
        "seat": {
            "height": str(draw.randrange(400, 520, 10)),
            "depth": str(draw.randrange(380, 480, 10)),
            "surface": draw.choice(["hard", "thin_pad", "foam"]),
            "slope": draw.choice(["flat", "back", "forward"]),
            "back": draw.choice(["none", "flat", "shaped", "unknown"]),
            "base": draw.choice(["legs", "wheels", "stool"]),
            "material": draw.choice(["wood", "metal", "upholstered"]),
        },
        "desk": {
            "height": str(desk),
            "underside": str(desk - draw.choice([25, 60, 110])),
            "depth": str(draw.randrange(500, 900, 100)),
            "width": str(draw.randrange(800, 1600, 200)),
            "top": draw.choice(["wood", "glass"]),
            "legs": draw.choice(["fixed", "folding"]),
            "edge": draw.choice(["sharp", "rounded", "unknown"]),
        },
        "feet_on": draw.choice(["floor", "floor", "nothing", "unknown"]),
        "posture": draw.choice(["sit", "sit", "sit", "both", "stand"]),
    }
    if draw.random() < 0.8:
        place["light"] = {
            "lux": str(draw.choice([150, 300, 500])),
            "glare": draw.choice(["none", "lamp", "window_ahead", "window_behind", "unknown"]),
        }
    return place


def _task(draw: Random, name: str, places: list[Mappings], monitor: bool) -> Mappings:
    tools = ["laptop", "paper", *(["monitor"] if monitor else [])]
    main = draw.choice(tools)
    task: Mappings = {
        "id": name,
        "place": draw.choice(places)["id"],
        "hours": draw.choice(["1.5", "3", "5"]),
        "spell": draw.choice(["30", "60", "90"]),
        "main": main,
    }
    if draw.random() < 0.6:
        task["reference"] = draw.choice([tool for tool in tools if tool != main])
        task["reference_share"] = draw.choice(["0.2", "0.35"])
    if "paper" in (main, task.get("reference")):
        task["writing"] = draw.choice(["yes", "no"])
        task["paper"] = {"at": draw.choice(["front", "left", "right", "behind"])}
    elif draw.random() < 0.3:
        task["hands"] = {"keys": draw.choice(["0", "0.4"]), "mouse": draw.choice(["0", "0.3"])}
    if draw.random() < 0.3:
        task["phone_share"] = draw.choice(["0", "0.25"])
    return task


def checked(mappings: Mappings) -> Case:
    """Read a drawn case; the draw makes none with faults."""
    case, faults = read_case(mappings, "drawn")
    assert case is not None, [str(fault) for fault in faults]
    assert not faults, [str(fault) for fault in faults]
    return case


def drawn_options(draw: Random, offers: Offers, state: State, most: int) -> list[OptionSpec]:
    """Draw fixes that can be applied together, whether or not they should be."""
    taken: list[OptionSpec] = []
    for offer in draw.sample(offers.decisions, len(offers.decisions)):
        option = draw.choice(offer.options)
        try:
            state_with(state, [*taken, option])
        except TwoSets:
            continue
        if len(taken) < most:
            taken.append(option)
    return taken
