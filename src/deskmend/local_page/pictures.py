"""A picture on the local page: looked at, measured with its marks, and put into a case.

The picture is held in memory alone. What the page is shown is made anew, upright and without anything that
the file said besides.
"""

from __future__ import annotations

import base64
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any

from deskmend.errors import FaultList, InputFaults
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.hashes import text_digest
from deskmend.intake.reading.text_file import decoded
from deskmend.language import tr
from deskmend.local_page.rendering import rendered
from deskmend.picture.drawn_back import LINES
from deskmend.picture.landmarks import landmarks, sheets
from deskmend.picture.marks import read_marks
from deskmend.picture.measured import LENGTHS
from deskmend.picture.measuring import PictureMeasures, Shot, measured_with
from deskmend.picture.merging import Merged, merged_with
from deskmend.picture.picture_file import KEPT_SIDE, Picture, picture_of
from deskmend.picture.scene import CORNERS
from deskmend.report.measuring import (
    doubt_words,
    measured_rows,
    measured_warnings,
    merged_lines,
    to_tape_lines,
)
from deskmend.report.picture_words import CORNER_NAMES, MEASURE_NAMES, POINT_NAMES, SHEET_NAMES

__all__ = ["KeptPictures", "marking"]

KEPT = 2
"""Most pictures that stay unpacked."""

POINT_HELP = {
    "eye": "Where the lids meet, towards the ear.",
    "tragus": "The small flap in front of the opening.",
    "c7": "The bump that sticks out most where neck and back meet.",
    "acromion": "The bony tip at the outer end of the shoulder.",
    "elbow": "The middle of the joint, seen from the side.",
    "wrist": "The middle of the joint, seen from the side.",
    "knuckle": "Where the middle finger begins.",
    "trochanter": "The bony bump at the side of the hip; feel for it through the clothes.",
    "knee": "The middle of the joint, seen from the side.",
    "ankle": "The bump at its outer side.",
    "seat_front": "The upper edge, where the seat ends at the knees.",
    "seat_back": "The upper edge, where the seat meets the back.",
    "desk_edge": "The upper edge, on the person's side.",
    "desk_underside": "The lower edge, on the person's side.",
    "screen_top": "The upper edge of the picture on it, not of the frame.",
    "screen_bottom": "The lower edge of the picture on it, not of the frame.",
    "keys": "The middle row of letters.",
    "foot_surface": "Where the soles rest: floor, bar or stack.",
    "floor_a": "Anywhere on the floor near the chair.",
    "floor_b": "Anywhere on the floor, far from the first.",
}
"""Where exactly each point is."""


def marking(case: Any) -> dict[str, Any]:
    """What the screen that sets marks has to know: points in order, sheets, lines, and places of the case."""
    return {
        "corners": [{"name": name, "words": tr(CORNER_NAMES[name]), "help": ""} for name in CORNERS],
        "points": [
            {"name": name, "words": tr(POINT_NAMES[name]), "help": tr(POINT_HELP[name])}
            for name in landmarks()
        ],
        "sheets": [{"kind": kind, "words": tr(SHEET_NAMES[kind])} for kind in sheets()],
        "tapes": [{"name": name, "words": tr(MEASURE_NAMES[name])} for name in LENGTHS],
        "lines": [list(line) for line in LINES],
        "places": [place.id for place in case.places],
    }


class KeptPictures:
    """Measures pictures, and keeps the last ones unpacked."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Picture] = OrderedDict()

    def _picture(self, data: bytes) -> Picture:
        key = text_digest(data)
        if key not in self._kept:
            self._kept[key] = picture_of(data, tr("the picture"))
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]

    def shown(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """The picture made anew, for the page to show."""
        picture = self._picture(given["picture"])
        image = picture.image
        if max(image.size) > KEPT_SIDE:
            factor = KEPT_SIDE / max(image.size)
            image = image.resize((round(image.width * factor), round(image.height * factor)))
        out = BytesIO()
        image.save(out, format="JPEG", quality=88)
        return {
            "size": list(picture.size),
            "image": f"data:image/jpeg;base64,{base64.b64encode(out.getvalue()).decode('ascii')}",
        }

    def measured(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """What the marks set so far tell."""
        told = self._measures(given)
        doubtful = [doubt_words(one) for one in told.doubts]
        return {
            "html": _measures_html(told, doubtful),
            "doubts": len(doubtful),
            "told": tr("{number} measures.", number=len(told.measures)),
        }

    def taken(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """The case with the measures in it, as text, and what has become of each."""
        told = self._measures(given)
        faults = FaultList(given["file"])
        text = decoded(given["data"], faults)
        if text is None:
            raise InputFaults(faults)
        merged: Merged = merged_with(told, text, given["file"], given["place"], confirmed=True)
        taken, kept = merged_lines(merged)
        return {"held": merged.text, "html": rendered("taken.html", taken=taken, kept=kept)}

    def _measures(self, given: Mapping[str, Any]) -> PictureMeasures:
        case_of_bytes(given["data"], given["file"])
        picture, plain = self._picture(given["picture"]), given["marks"]
        name = plain.get("picture") if isinstance(plain, dict) else None
        file = tr("the marks")
        return measured_with([Shot(picture, read_marks(plain, file, str(name), picture.size), file)])


def _measures_html(told: PictureMeasures, doubtful: Sequence[str]) -> str:
    seen, missing = to_tape_lines(told)
    return rendered(
        "measured.html",
        doubts=doubtful,
        warnings=measured_warnings(told),
        rows=measured_rows(told),
        tape=seen,
        missing=missing,
    )
