"""What does not fit, by how much, and what would: first lines, what suits the body, what to look for.

As the part ``suits`` of an assessment's document, as plain text, and as a line of the web page with details.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from deskmend.language import tr
from deskmend.planning.fit import Lack, Remedy, desk_lacks, lacks_of
from deskmend.planning.mismatch import Mismatch, mismatches_in
from deskmend.planning.model.rules import ROOM_ON_DESK
from deskmend.report.documents import quantity_json
from deskmend.report.layout import Fold, Page
from deskmend.report.words import measure_words, quantity_text, range_words
from deskmend.risk.severity import seen_in
from deskmend.risk.suits import THINNEST_TOP, SuitRange
from deskmend.workstation.distances import SCREEN_SHAPE_SD
from deskmend.workstation.state import DEVICES, Owner, State

if TYPE_CHECKING:
    from deskmend.report.case_documents import FitRecord, SuitRecord

__all__ = [
    "add_fit",
    "add_suits",
    "crowded_out",
    "crowded_text",
    "first_lines",
    "fit_document",
    "fit_lines",
    "mismatch_lines",
    "suits_document",
    "suits_fold",
]

WHAT = {
    "seat_low": "the seat is too low for the legs",
    "legs_under": "the legs do not go under the table",
    "armrests_under": "the armrests do not go under the table and keep the body away from it",
    "knee_room": "the knees have no room under the table",
    "leg_width": "the legs have no room from side to side under the table",
    "feet_down": "the feet reach nothing to rest on",
}
"""What does not fit, in words."""


def fit_lines(lacks: Sequence[Lack]) -> list[str]:
    """One sentence a lack: what, by how much, whether it can be mended here, and what would fit.

    What mends several lacks of one place alike is said with the first of them.
    """
    told: set[tuple[str, str]] = set()
    out = []
    for one in lacks:
        would = would_fit(one)
        out.append(" ".join((_lacking(one), *_remedy(one, "" if (one.place, would) in told else would))))
        told.add((one.place, would))
    return out


def _lacking(lack: Lack) -> str:
    by = quantity_text(lack.by, "mm")
    what = tr(WHAT[lack.kind])
    return tr("At {place} {what}: {by} are lacking.", place=lack.place, what=what, by=by)


def _remedy(lack: Lack, would: str) -> list[str]:
    out = []
    if lack.unsure:
        told = tr(
            "The body is only estimated there, and may be off by that much: measure {measure} first.",
            measure=measure_words(f"person.body.{lack.unsure}"),
        )
        out.append(told)
    if lack.mendable is False:
        out.append(tr("No choice here mends that, at any price."))
    if lack.with_leave:
        out.append(tr("With the owner's leave this would: {fix}.", fix=tr(lack.with_leave)))
    if lack.settable == "fitter" and lack.kind == "feet_down":
        out.append(_footplates(lack))
    elif lack.settable == "fitter":
        by = quantity_text(lack.by, "mm")
        out.append(tr("The armrests can be set: ask who fitted the wheelchair to lower them by {by}.", by=by))
    elif lack.settable == "person" and not lack.mendable:
        by = quantity_text(lack.by, "mm")
        out.append(tr("The armrests can be set: try to lower them by {by}.", by=by))
    return [*out, tr("What would fit: {would}.", would=would)] if would else out


def _footplates(lack: Lack) -> str:
    """Whom to ask for feet that hang from a wheelchair: nothing loose lies before one that rolls."""
    stands = max((one.support for one in lack.remedies if one.support is not None), default=lack.by)
    if stands > lack.by:
        by = quantity_text(lack.by, "mm")
        return tr("Footrests can be set: ask who fitted the wheelchair to raise them by {by}.", by=by)
    return tr("Ask who fitted the wheelchair for footplates, or for a lower seat where the feet push it.")


def would_fit(lack: Lack) -> str:
    """Furniture with which the lack would be gone."""
    return tr(", or ").join(_furniture(one, lack.settable == "fitter") for one in lack.remedies)


def _furniture(one: Remedy, fitted: bool) -> str:
    """A whole place: what of it stands together; a wheelchair's parts are `fitted` to who sits in it."""
    found = []
    if one.seat is not None:
        found.append(tr("a seat {height} high", height=range_words(*one.seat, "mm", "")))
    if one.table is not None:
        found.append(tr("a table {height} high", height=range_words(*one.table, "mm", "")))
    elif one.free_under is not None:
        found.append(tr("a table"))
    if one.free_under is not None:
        free = quantity_text(one.free_under, "mm")
        found[-1] = tr("{table} with at least {free} free under it", table=found[-1], free=free)
    if one.depth is not None:
        found.append(tr("a table open for the knees for {depth}", depth=quantity_text(one.depth, "mm")))
    if one.width is not None:
        width = quantity_text(one.width, "mm")
        found.append(tr("a table open from side to side for {width}", width=width))
    if one.armrests is not None:
        most = quantity_text(one.armrests, "mm")
        found.append(tr("armrests at most {height} above the bare seat", height=most))
    if one.support is not None and fitted:
        found.append(tr("footplates {height} above the floor", height=quantity_text(one.support, "mm")))
    elif one.support is not None:
        found.append(tr("something {height} high under the feet", height=quantity_text(one.support, "mm")))
    return tr(", and with it ").join(found)


TABLE = {
    ("table_high", False): "At {place} the table is too high for the arms: {there}.",
    ("table_low", False): "At {place} the table is too low for the arms: {there}.",
    ("table_high", True): "At {place} the table is too high for the arms of who stands there: {there}.",
    ("table_low", True): "At {place} the table is too low for the arms of who stands there: {there}.",
}
"""What is said of a table by what is amiss with it, sitting and standing."""


def mismatch_lines(found: Iterable[Mismatch]) -> list[str]:
    """One sentence for each thing that is amiss: what, and what would suit."""
    return [_mismatch_text(one) for one in found]


def _mismatch_text(one: Mismatch) -> str:
    if one.there is None or one.low is None or one.high is None or one.seat is None:
        told = tr("At {place} the seat is hard.", place=one.place)
        return told + " " + tr("A padded seat would suit, or one to which a cushion can be tied.")
    there = quantity_text(one.there, "mm")
    told = tr(TABLE[one.kind, one.standing], place=one.place, there=there)
    if one.mendable is False:
        told += " " + tr("No choice here mends that, at any price.")
    suit = range_words(one.low, one.high, "mm", "")
    if one.standing:
        return told + " " + tr("Standing, {range} would suit.", range=suit)
    seat = quantity_text(one.seat, "mm")
    return (
        told
        + " "
        + tr("With the seat at {seat} (front edge, sat upon), {range} would suit.", seat=seat, range=suit)
    )


def first_lines(
    lacks: Sequence[Lack], mismatches: Iterable[Mismatch], before: State | None = None, money: str = ""
) -> list[str]:
    """What is said before all else: what does not fit, and tables far too high or too low for the arms.

    Both are of how a plan ends where `before` is how it was: each line on a table, and on what then lacks
    otherwise, says that it is so with the plan. `money` names the plan where others stand beside it.
    """
    tables = [one for one in mismatches if one.kind != "seat_hard"]
    lines, fits = mismatch_lines(tables), fit_lines(lacks)
    if before is None:
        return [*fits, *lines]
    by = {(one.place, one.kind): one.by for one in lacks_of(before)}
    fits = [
        line
        if by.get((one.place, one.kind)) == one.by
        else _with_plan(line, (one.place, one.kind) in by, money)
        for one, line in zip(lacks, fits, strict=True)
    ]
    were = {(one.place, one.kind, one.standing) for one in mismatches_in(before)}
    lines = [
        _with_plan(line, (one.place, one.kind, one.standing) in were, money)
        for one, line in zip(tables, lines, strict=True)
    ]
    return [*fits, *lines]


def _with_plan(line: str, too: bool, money: str) -> str:
    """A line on how a plan ends; `too` says that something of its kind is so already."""
    if money:
        return tr("With the plan for {money}: {what}", money=money, what=line)
    return tr("With this plan too: {what}", what=line) if too else tr("With this plan: {what}", what=line)


def add_fit(
    page: Page, lacks: Sequence[Lack], mismatches: Iterable[Mismatch], before: State | None = None
) -> None:
    """Say first what does not fit or stays far off, where anything does."""
    lines = first_lines(lacks, mismatches, before)
    if lines:
        page.points(lines, mark="!")
        page.blank()


LACKING = {
    "depth_left": "On the desk there may be too little room for what stands one behind the other: {by} of "
    "depth are lacking.",
    "width_left": "On the desk there may be too little room for what lies side by side: {by} of width are "
    "lacking.",
}
"""What is said of a desk by what it lacks."""
GUESSED = {
    "depth_left": "How deep it is is only estimated.",
    "width_left": "How wide it is is only estimated.",
}
SECOND_STANDS = ("second.angle", "second.distance", "second.used", "monitor.angle", "laptop.angle")
"""What changes where two screens stand beside each other."""


def crowded_out(before: State, after: State) -> str:
    """That the desk may have less room than a plan's things take, if more lacks than before; else empty.

    Where the size of the desk is given a rule refuses that; what rests on an estimate is only told.
    """
    for task in after.tasks:
        place: Owner = ("place", after.place_of[task])
        had = desk_lacks(before, task)
        told = []
        for name, by in desk_lacks(after, task).items():
            if by > had.get(name, 0.0):
                told.append(tr(LACKING[name], by=quantity_text(by, "mm")))
                told += [tr(GUESSED[name])] if (place, ROOM_ON_DESK[name]) in after.assumed else []
        if told := [*told, *_two_screens(before, after, task)]:
            return " ".join(told)
    return ""


def _two_screens(before: State, after: State, task: str) -> list[str]:
    """That two screens beside each other may be wider than the desk, where a plan sets them so."""
    ask = seen_in(after, task)
    left = float(ask("screens_left"))
    moved = before.place_of[task] != after.place_of[task] or any(
        # as text, for a distance that nobody told equals no number
        str(before.values[DEVICES, name]) != str(after.values[DEVICES, name])
        for name in SECOND_STANDS
    )
    if left >= 0.0 or not moved:
        return []
    wide = float(ask("second_takes"))
    return [
        tr(
            "Two screens beside each other may be wider than the desk, by {by}: the second one is counted "
            "with {wide}, give or take {sd}, from how high its picture is.",
            by=quantity_text(-left, "mm"),
            wide=quantity_text(wide, "mm"),
            sd=quantity_text(SCREEN_SHAPE_SD * wide, "mm"),
        )
    ]


def crowded_text(told: str) -> str:
    """That things may have no room on the desk, and what to do first."""
    return told + " " + tr("Lay everything out before you decide what stands where.")


def fit_document(lacks: Sequence[Lack]) -> FitRecord:
    """The block ``fit``: lengths in mm with three decimals."""
    return {
        "fits": not lacks,
        "lacks": [
            {
                "place": one.place,
                "what": tr(WHAT[one.kind]),
                "by": round(one.by, 3),
                "unit": "mm",
                "would_fit": would_fit(one),
                "can_be_mended": one.mendable,
            }
            for one in lacks
        ],
    }


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
"""Behind a value that rests on an estimate or an assumption."""
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
