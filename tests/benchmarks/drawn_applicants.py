"""Invented applicants: body dimensions of a public survey, workplaces drawn with a seed.

Bodies come from a file that lies beside the project; without it there is nothing to measure on, and the
program says so.
"""

from __future__ import annotations

import csv
import random
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

BODIES = Path(__file__).resolve().parents[3] / "shared" / "data" / "ansur2_bodies_mm.csv"
FROM_SURVEY = (
    "popliteal_height",
    "sitting_elbow_height",
    "sitting_eye_height",
    "buttock_popliteal_length",
    "thigh_clearance",
)
THICKNESS = (18, 55)
"""Thinnest and thickest book drawn [mm]."""

Row = dict[str, object]


def bodies() -> list[dict[str, str]]:
    """The survey's rows; the program ends where it is absent."""
    if not BODIES.is_file():
        sys.exit("skipped: the table of body dimensions does not lie beside the project")
    with open(BODIES, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def applicants(count: int, seed: int, books: bool = False) -> list[Row]:
    """Invented people: real body dimensions, drawn workplaces.

    Parameters
    ----------
    count : int
        How many [-].
    seed : int
        Of the draw.
    books : bool
        Whether about a third own one to four books. Nothing else of anybody is drawn otherwise for it.
    """
    draw, shelf = random.Random(seed), random.Random(f"books {seed}")
    known = bodies()
    rows = [_applicant(draw, number, draw.choice(known)) for number in range(count)]
    if books:
        for row in rows:
            row["owns.hardback_book"] = _owned_books(shelf)
    return rows


def _owned_books(draw: random.Random) -> str:
    if draw.random() >= 1 / 3:
        return ""
    return " ".join(str(draw.randint(*THICKNESS)) for _ in range(draw.randint(1, 4)))


def _applicant(draw: random.Random, number: int, body: Mapping[str, str]) -> Row:
    monitor = draw.random() < 0.25
    separate = monitor or draw.random() < 0.15
    height = draw.choice([700, 720, 735, 745, 755, 770])
    back = draw.choice(["flat", "flat", "none", "shaped"])
    row: Row = {
        "id": f"p{number:06d}",
        "group": draw.choice(["home", "home", "shop", "school"]),
        "person.stature": body["stature"],
        "person.sex": body["sex"],
        "person.shoes": draw.choice([0, 10, 15, 20, 25]),
        "person.writing_hand": draw.choice(["right"] * 7 + ["left"]),
        "person.mouse_hand": "right",
        "person.eyewear": draw.choice(["none", "none", "single_vision", "multifocal"]),
        **{f"person.body.{name}": body[name] for name in FROM_SURVEY},
        "seat.height": draw.choice([430, 440, 450, 460, 465, 480]),
        "seat.depth": draw.choice([400, 420, 430, 450]),
        "seat.surface": draw.choice(["hard", "hard", "thin_pad", "foam"]),
        "seat.back": back,
        "seat.base": "stool" if back == "none" else draw.choice(["legs", "legs", "legs", "wheels"]),
        "seat.material": draw.choice(["wood", "plastic", "metal"]),
        "desk.height": height,
        "desk.underside": height - draw.choice([25, 40, 60]),
        "desk.depth": draw.choice([500, 600, 700, 800]),
        "desk.width": draw.choice([800, 1000, 1200, 1400]),
        "desk.top": draw.choice(["wood", "board", "board", "glass"]),
        "desk.legs": draw.choice(["fixed", "fixed", "folding"]),
        "desk.edge": draw.choice(["sharp", "rounded"]),
        "feet_on": "floor",
        "light.lux": draw.choice([150, 200, 250, 350, 500]),
        "light.glare": draw.choice(["none", "none", "window_behind", "lamp"]),
        "devices.laptop.screen_top": draw.choice([220, 232, 240]),
        "devices.laptop.screen_height": draw.choice([175, 190, 195]),
        "devices.laptop.keys": draw.choice([18, 20, 22]),
        "devices.laptop.depth": draw.choice([220, 235, 245]),
        "devices.monitor.top": draw.choice([360, 400, 430]) if monitor else "",
        "devices.monitor.height": draw.choice([270, 300]) if monitor else "",
        "devices.keyboard": "separate" if separate else "built_in",
        "devices.mouse": "separate" if separate or draw.random() < 0.3 else "touchpad",
        "task.hours": draw.choice([2, 3, 4, 5, 6]),
        "task.spell": draw.choice([45, 60, 90, 120]),
        "task.main": "monitor" if monitor else "laptop",
        "owns.bath_towel": draw.choice([1, ""]),
        "owns.ring_binder": draw.choice([1, "", ""]),
        "owns.carton_box": draw.choice([1, ""]),
        "means.minutes": draw.choice([60, 120, 180, ""]),
        "means.skill": draw.choice([1, 1, 2]),
        "means.tools": draw.choice(["scissors", "", "scissors saw"]),
        "means.may_alter": "no",
    }
    if draw.random() < 0.6:
        row["task.reference"], row["task.reference_share"] = "paper", draw.choice([0.2, 0.3, 0.35])
        row["task.writing"] = draw.choice(["yes", "no"])
    return row


def write_table(path: Path, rows: Sequence[Row], seed: int) -> None:
    """Write the table that `allocate` reads."""
    header = list(dict.fromkeys(key for row in rows for key in row))
    with open(path, "w", encoding="utf-8", newline="") as stream:
        stream.write(f"# Invented workplaces, drawn with the seed {seed}.\n")
        writer = csv.DictWriter(stream, header, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
