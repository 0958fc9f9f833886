"""Invented workplaces drawn with a seed, as unlike each other as the records allow."""

from __future__ import annotations

import random
from typing import Any

from tests.planning.cases import CATALOG, made

from deskmend.intake.case import Case

TOOLS = sorted({tool for fix in CATALOG.fixes for tool in fix.tools})
SIGNS = [sign.id for sign in CATALOG.signs]


def drawn_case(seed: int) -> Case:
    """One person with one to three places and one to three tasks."""
    draw = random.Random(seed)
    places = [_place(draw, name) for name in ("den", "hall", "loft")[: draw.choice([1, 1, 2, 3])]]
    monitor = draw.random() < 0.4
    tasks = [
        _task(draw, name, draw.choice(places)["id"], monitor)
        for name in ("work", "study", "notes")[: draw.choice([1, 1, 2, 3])]
    ]
    return made(
        person=_person(draw), places=places, devices=_devices(draw, monitor), tasks=tasks, **_rest(draw)
    )


def _some(draw: random.Random, **told: Any) -> dict[str, Any]:
    """Keys with their values, each left out one time in six."""
    return {key: value for key, value in told.items() if draw.random() > 1 / 6}


def _person(draw: random.Random) -> dict[str, Any]:
    body = _some(
        draw, popliteal_height=str(draw.randint(350, 480)), sitting_elbow_height=str(draw.randint(190, 290))
    )
    told = _some(
        draw,
        sex=draw.choice(["female", "male"]),
        shoes=str(draw.choice([0, 15, 30])),
        writing_hand=draw.choice(["left", "right"]),
        mouse_hand=draw.choice(["left", "right"]),
        eyewear=draw.choice(["none", "multifocal"]),
        warning_signs=draw.sample(SIGNS, draw.choice([0, 0, 0, 1, 3])),
    )
    return {"stature": str(draw.randint(1480, 1950)), "body": body, **told}


def _seat(draw: random.Random, height: int) -> dict[str, Any]:
    told = _some(
        draw,
        depth=str(draw.choice([380, 420, 470])),
        surface=draw.choice(["hard", "thin_pad", "foam"]),
        slope=draw.choice(["flat", "back", "forward", "2"]),
        back=draw.choice(["none", "flat", "shaped"]),
        armrests=draw.choice(["none", "fixed"]),
        base=draw.choice(["legs", "wheels", "glides", "stool"]),
        material=draw.choice(["wood", "metal"]),
        adjustable=draw.choice(["yes", "no"]),
    )
    if told.get("back") == "none":
        told.pop("armrests", None)
    elif draw.random() < 0.2:
        told |= {"recline": "5", "recline_range": ["0", "20"]}
    return {"height": str(height), **told}


def _place(draw: random.Random, name: str) -> dict[str, Any]:
    seat = _seat(draw, height := draw.randint(380, 500))
    if draw.random() < 0.3:
        seat["adjustable"] = "yes"
        seat["height_range"] = [str(height - 30), str(height + draw.choice([40, 55]))]
    if draw.random() < 0.3:
        seat["shared_with"] = [{"stature": "1820", "sex": "male"}]
    top = draw.randint(620, 800)
    desk = {"height": str(top)} | _some(
        draw,
        underside=str(top - 35),
        depth=str(draw.choice([500, 700])),
        width=str(draw.choice([800, 1200])),
        top=draw.choice(["wood", "glass"]),
        legs=draw.choice(["fixed", "folding"]),
        edge=draw.choice(["sharp", "rounded"]),
        foot_bar="140",
    )
    if draw.random() < 0.3:
        desk["height_range"] = [str(top - 40), str(top + 65)]
        desk["legs"] = "height_adjustable"
    others = [
        {"id": f"{name}_{n}"} | _seat(draw, draw.randint(400, 480)) for n in range(draw.choice([0, 1, 2]))
    ]
    glare = draw.choice(["none", "window_behind", "window_ahead", "window_beside", "lamp"])
    return {
        "id": name,
        "seat": seat,
        "desk": desk,
        "other_seats": others,
        "light": _some(draw, lux=str(draw.choice([90, 400])), glare=glare),
    } | _some(draw, feet_on=draw.choice(["floor", "nothing", "60"]), posture=draw.choice(["sit", "both"]))


def _devices(draw: random.Random, monitor: bool) -> dict[str, Any]:
    out: dict[str, Any] = _some(
        draw,
        keyboard=draw.choice(["built_in", "separate"]),
        mouse=draw.choice(["touchpad", "separate"]),
        keyboard_size={"number_pad": draw.choice(["yes", "no"])},
        mouse_offset=str(draw.choice([250, 300, 350])),
        phone=draw.choice(["none", "cradled", "headset"]),
    )
    out["laptop"] = {"screen_top": "230", "screen_height": "190", "keys": "20"}
    if monitor:
        out["monitor"] = {"top": "400", "height": "290"} | _some(draw, top_range=["380", "505"])
    return out


def _task(draw: random.Random, name: str, place: str, monitor: bool) -> dict[str, Any]:
    main = draw.choice(["laptop", "paper", *(["monitor"] if monitor else [])])
    told = _some(
        draw, spell=str(draw.choice([40, 120])), writing=draw.choice(["yes", "no"]), phone_share="0.2"
    )
    if draw.random() < 0.5:
        told["reference"] = "laptop" if main == "paper" else "paper"
    return {"id": name, "place": place, "hours": "2", "main": main, **told}


def _rest(draw: random.Random) -> dict[str, Any]:
    owns: dict[str, Any] = _some(
        draw, bath_towel=str(draw.randint(1, 4)), ring_binder="1", carton_box="1", tape="300", cord="800"
    )
    if draw.random() < 0.6:
        books = [str(draw.choice([20, 25, 30, 40, 45.5, 60])) for _ in range(draw.randint(1, 6))]
        owns["hardback_book"] = books
    means = {"currency": "EUR"} | _some(
        draw,
        skill=str(draw.choice([1, 2, 3])),
        tools=draw.sample(TOOLS, draw.randint(0, len(TOOLS))),
        may_alter=draw.choice(["yes", "no"]),
    )
    return {"owns": owns, "means": means, "room": _some(draw, landlord_leave=draw.choice(["yes", "no"]))}
