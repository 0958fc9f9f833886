"""Speed of sharing a fund among drawn applicants, plans and all, as a Markdown table.

    python tests/benchmarks/measure_fund.py 24 100 1000        so many applicants
    python tests/benchmarks/measure_fund.py 100 --market       with stock and tier prices
    python tests/benchmarks/measure_fund.py 100 --table t.csv  keep the table of the last run

Workplaces are drawn with a fixed seed. Bodies come from a public survey where its file lies beside the
project; without it there is nothing to measure on, and the program says so. Nothing here is a test: a time
says something about a machine, so none is ever asserted.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import resource
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
BODIES = ROOT.parent / "shared" / "data" / "ansur2_bodies_mm.csv"
PRICES = ROOT / "scenarios" / "relief_fund" / "prices.csv"
SEED = 20_261
EACH = 17
"""Money a person in the fund [major units]: enough for most of what helps most, far from enough for all."""
FROM_SURVEY = (
    "popliteal_height",
    "sitting_elbow_height",
    "sitting_eye_height",
    "buttock_popliteal_length",
    "thigh_clearance",
)

Row = dict[str, object]


def bodies() -> list[dict[str, str]]:
    """The survey's rows; the program ends where it is absent."""
    if not BODIES.is_file():
        sys.exit("skipped: the table of body dimensions does not lie beside the project")
    with open(BODIES, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def applicants(count: int) -> list[Row]:
    """Invented people: real body dimensions, drawn workplaces."""
    draw = random.Random(SEED)
    known = bodies()
    return [_applicant(draw, number, draw.choice(known)) for number in range(count)]


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


def write_table(path: Path, rows: list[Row]) -> None:
    """Write the table that `allocate` reads."""
    header = list(dict.fromkeys(key for row in rows for key in row))
    with open(path, "w", encoding="utf-8", newline="") as stream:
        stream.write("# Invented workplaces, drawn with a fixed seed.\n")
        writer = csv.DictWriter(stream, header, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def processor() -> float:
    """Processor time of this process and of those that have ended [s]."""
    own, children = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def measure(count: int, market: bool, seconds: float | None, table: Path) -> list[str]:
    """Share a fund once; gives the row of the table and tells the parts."""
    from deskmend.grants.fund import share_fund
    from deskmend.grants.fund_inputs import fitted
    from deskmend.grants.fund_wishes import read_wishes
    from deskmend.grants.plans import Workshop
    from deskmend.grants.pool import LocalProcesses, People
    from deskmend.intake.applicants import load_applicants
    from deskmend.intake.catalog import load_catalog
    from deskmend.intake.prices import load_prices

    catalog = load_catalog()
    prices = load_prices(PRICES)
    if market:
        # Scarce and cheaper by the dozen in proportion, so that they matter at any number of people.
        items = {
            name: item if item.stock is None else replace(item, stock=item.stock * count // 24)
            for name, item in prices.items.items()
        }
    else:
        items = {name: replace(item, stock=None, tiers=()) for name, item in prices.items.items()}
    prices = replace(prices, items=items)
    write_table(table, applicants(count))
    began, work = time.monotonic(), processor()
    inputs = fitted(load_applicants(table, catalog), prices, catalog)
    read = time.monotonic() - began
    wishes = read_wishes(str(EACH * count), prices.currency)
    parts: dict[str, list[float]] = defaultdict(list)
    ask = People._ask

    def timed(self: People, question: Any, arguments: Mapping[str, tuple[Any, ...]]) -> dict[str, Any]:
        start = time.monotonic()
        try:
            return ask(self, question, arguments)
        finally:
            parts[question].append(time.monotonic() - start)

    People._ask = timed  # type: ignore[method-assign]
    hands = LocalProcesses(Workshop(catalog, prices), len(os.sched_getaffinity(0)))
    try:
        shared = share_fund(inputs.table, prices, wishes, hands, seconds=seconds)
    finally:
        People._ask = ask  # type: ignore[method-assign]
        clock = time.monotonic() - began
        for hand in hands._hands:
            if hand is not None:
                hand.shutdown(wait=True)
    for name, taken in parts.items():
        print(f"  {name}: {len(taken)} calls, {sum(taken):.1f} s", file=sys.stderr)
    rest = clock - read - sum(sum(taken) for taken in parts.values())
    print(f"  reading: {read:.1f} s, the engine itself: {rest:.1f} s", file=sys.stderr)
    gap = shared.allocation.gap
    return [
        str(count),
        "stock and tiers" if market else "plain prices",
        f"{clock:.0f}",
        f"{processor() - work:.0f}",
        "-" if gap is None else f"{100 * gap:.3f} %",
        shared.allocation.status,
        f"{resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1000:.0f}",
    ]


def main() -> None:
    """Measure what is asked and print the table."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("counts", type=int, nargs="*", default=[24, 100])
    asked.add_argument("--market", action="store_true", help="with stock and tier prices")
    asked.add_argument("--seconds", type=float, help="time each search may take")
    asked.add_argument("--table", type=Path, help="keep the last table here")
    given = asked.parse_args()
    print("| applicants | prices | clock [s] | processor [s] | gap | status | MB, largest process |")
    print("|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for count in given.counts:
            table = given.table or Path(folder) / "people.csv"
            row = measure(count, given.market, given.seconds, table)
            print("| " + " | ".join(row) + " |", flush=True)


if __name__ == "__main__":
    main()
