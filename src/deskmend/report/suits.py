"""What would suit the body, and what to look for second hand.

As the part ``suits`` of an assessment's document, as plain text, and as a line of the web page with details.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from deskmend.language import tr
from deskmend.report.case_documents import SuitRecord
from deskmend.report.documents import quantity_json
from deskmend.report.layout import Fold, Page
from deskmend.report.words import quantity_text, range_words
from deskmend.risk.suits import THINNEST_TOP, SuitRange

__all__ = ["add_suits", "suits_document", "suits_fold"]

NAMES: Mapping[str, str] = {
    "seat_height": "front edge of the seat, sat upon, above the floor",
    "seat_depth": "front edge of the seat to its back",
    "foot_surface": "what the feet rest on, at the seat there is",
    "desk_height_keys": "top of the table to type at",
    "desk_height_writing": "top of the table to write at",
    "desk_height_standing": "top of the table to type at standing",
    "desk_underside": "lowest part of the table over the thighs",
    "screen_top": "top edge of the picture above the floor",
    "leg_width": "room for the legs from side to side",
    "knee_depth": "room behind the table's edge for the knees",
    "foot_depth": "room behind the table's edge for the feet",
}
"""What each range measures, in plain words."""
FOR_WHICH_SEAT = (
    "Tables and picture are for the seat there is where its height suits, else for the nearest height "
    "that does."
)
ESTIMATED = "~"
CHAIR = ("seat_height", "seat_depth")
"""Ranges that a chair has to meet; all others are the table's."""
ROOM = ("leg_width", "knee_depth", "foot_depth")
"""Ranges from what the least standard asks for to what meets all of them."""


def suits_document(ranges: Sequence[SuitRange]) -> dict[str, SuitRecord]:
    """Ranges by name [mm], with their sources."""
    return {
        one.name: {
            "low": quantity_json(one.low),
            "high": quantity_json(one.high),
            "unit": "mm",
            "source": " ".join(one.sources),
            "estimated": one.estimated,
        }
        for one in ranges
    }


def add_suits(page: Page, ranges: Sequence[SuitRange]) -> None:
    """Add a table of what would suit, and what to look for second hand."""
    page.heading(tr("What would suit this body"))
    page.table([(tr(NAMES[one.name]), _words(one)) for one in ranges])
    page.paragraph(tr(FOR_WHICH_SEAT), 2)
    if any(one.estimated for one in ranges):
        page.paragraph(
            tr("{mark} rests on an estimate of the body: measure before you buy.", mark=ESTIMATED), 2
        )
    if found := _second_hand(ranges):
        page.heading(tr("What to look for second hand"))
        page.points(found)


def suits_fold(ranges: Sequence[SuitRange]) -> Fold | None:
    """Put what to look for into a line, with every range behind it; None where all that is there suits."""
    if not _second_hand(ranges):
        return None
    lines = (f"{tr(NAMES[one.name])}: {_words(one)}" for one in ranges)
    return Fold(tr("What to look for second hand"), (*_second_hand(ranges), *lines, tr(FOR_WHICH_SEAT)))


def _words(one: SuitRange) -> str:
    if one.high == 0.0:
        return tr("the floor")
    if one.name in ROOM:
        least, every = quantity_text(one.low, "mm"), quantity_text(one.high, "mm")
        return tr("at least {least}; {every} meets every standard", least=least, every=every)
    mark = f" {ESTIMATED}" if one.estimated else ""
    return range_words(one.low, one.high, "mm", one.name) + mark


def _second_hand(ranges: Sequence[SuitRange]) -> list[str]:
    """What to look for of chair and table, each only where the one that is there does not suit."""
    found = {one.name: one for one in ranges}
    unsuited = {one.name for one in ranges if not one.there_suits}
    if unsuited.isdisjoint(CHAIR):
        found = {name: one for name, one in found.items() if name not in CHAIR}
    if unsuited <= set(CHAIR):
        found = {name: one for name, one in found.items() if name in CHAIR}
    out = []
    if (seat := found.get("seat_height")) is not None and (depth := found.get("seat_depth")) is not None:
        out.append(
            tr(
                "A chair: front edge {height} above the floor while one sits on it, {depth} deep, with a "
                "back. A soft seat is measured sat upon.",
                height=range_words(seat.low, seat.high, "mm", ""),
                depth=range_words(depth.low, depth.high, "mm", ""),
            )
        )
    keys, under = found.get("desk_height_keys"), found.get("desk_underside")
    if keys is not None and under is not None:
        out.append(
            tr(
                "A table to type at: top at {height}, and nothing over the thighs lower than {underside}.",
                height=range_words(
                    min(max(keys.low, under.low + THINNEST_TOP), keys.high), keys.high, "mm", ""
                ),
                underside=quantity_text(under.low, "mm"),
            )
        )
        if under.low + THINNEST_TOP > keys.high:
            out.append(
                tr(
                    "No table leaves the legs room and has its top that low: look for the thinnest top, and "
                    "for keys that lie flat."
                )
            )
    if (writing := found.get("desk_height_writing")) is not None:
        out.append(
            tr(
                "A table to write at: top at {height}.",
                height=range_words(writing.low, writing.high, "mm", ""),
            )
        )
    if (width := found.get("leg_width")) is not None and (depth := found.get("knee_depth")) is not None:
        out.append(
            tr(
                "Under it at least {width} free from side to side and {depth} for the knees: no drawers, no "
                "board across, no bar where the feet go.",
                width=quantity_text(width.low, "mm"),
                depth=quantity_text(depth.low, "mm"),
            )
        )
    return out
