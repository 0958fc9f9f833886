"""The empty table of applicants: a header, and above it what each column means, in plain words."""

from __future__ import annotations

import csv
import io

from deskmend.intake.applicant_columns import OWNS, ApplicantColumn, columns
from deskmend.intake.catalog import Catalog
from deskmend.messages import tr

__all__ = ["blank_applicants"]

ASKED = (
    "person.stature",
    "person.sex",
    "person.shoes",
    "person.writing_hand",
    "person.mouse_hand",
    "person.eyewear",
    "person.body.popliteal_height",
    "person.body.sitting_elbow_height",
    "person.warning_signs",
    "seat.height",
    "seat.depth",
    "seat.surface",
    "seat.back",
    "seat.base",
    "seat.material",
    "desk.height",
    "desk.underside",
    "desk.depth",
    "desk.top",
    "desk.legs",
    "desk.edge",
    "desk.foot_bar",
    "feet_on",
    "light.lux",
    "light.glare",
    "devices.laptop.screen_top",
    "devices.laptop.screen_height",
    "devices.laptop.keys",
    "devices.monitor.top",
    "devices.monitor.height",
    "devices.keyboard",
    "devices.mouse",
    "task.hours",
    "task.spell",
    "task.main",
    "task.reference",
    "task.reference_share",
    "task.writing",
    "task2.hours",
    "task2.main",
    "means.minutes",
    "means.skill",
    "means.tools",
)
"""Keys that the empty table asks for: those that decide most, and what safety needs to know."""

OWNED = ("hardback_book", "bath_towel", "ring_binder", "carton_box")
"""Things that the empty table asks for: those that most people have and many fixes use."""

SIGNS = "person.warning_signs"


def blank_applicants(catalog: Catalog) -> str:
    """Write an empty table of applicants.

    Parameters
    ----------
    catalog : Catalog
        For the warning signs and things that a row can name.

    Returns
    -------
    str
        CSV; notes begin with ``#`` and may stay.
    """
    out = io.StringIO()
    for line in _notes(catalog):
        # A table program would part the note at its commas.
        out.write(f"# {line}".rstrip().replace(",", ";") + "\n")
    owned = [f"{OWNS}{item}" for item in OWNED if item in catalog.items]
    csv.writer(out, lineterminator="\n").writerow(["id", "weight", "group", *ASKED, *owned])
    return out.getvalue()


def _notes(catalog: Catalog) -> list[str]:
    known = columns()
    lines = [
        tr("One row a person. Lines that begin with # are notes: they may stay or go."),
        tr("Leave a cell empty where you do not know. A bare number is mm, degrees, hours or minutes."),
        tr("Put spaces between several values in one cell. Write values, never formulas."),
        "",
        tr("id: a name for the row, not the person's name: letters, digits, _ and -. Needed."),
        tr("weight: how much the person counts, 1 if left empty, at most three decimals."),
        tr("group: a word such as shop, where parts of the fund are kept for groups."),
    ]
    for name in ASKED:
        column = known[name]
        need = f" {tr('Needed.')}" if name in NEEDED else ""
        lines.append(f"{_told(column)}{need}")
    lines.append(tr("owns.THING: how many the person has; of books the thickness of each, as 38 42 25 (mm)."))
    lines += ["", tr("Warning signs that person.warning_signs can name:")]
    lines += [f"{sign.id}: {tr(sign.sign)}" for sign in catalog.signs]
    lines += ["", tr("Further columns that may be added:")]
    lines += [_told(column) for column in known.values() if column.name not in ASKED]
    lines += ["", tr("Things for owns.THING:")]
    lines += [f"{OWNS}{item.id}: {tr(item.title)} ({tr(item.unit)})" for item in catalog.items.values()]
    return lines


def _told(column: ApplicantColumn) -> str:
    """What a column means and takes; a bare number needs no unit."""
    meaning = tr(column.meaning.replace(" [-]", ""))
    return f"{column.name}: {meaning} {tr(column.allowed)}.".replace("..", ".")


NEEDED = ("person.stature", "desk.height", "task.hours", "task.main")
"""Keys that every row needs."""
