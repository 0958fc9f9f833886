"""What does not fit, by how much, and what would: first lines of every output, and a block of documents."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from deskmend.language import tr
from deskmend.planning.amiss import Amiss, amiss_in
from deskmend.planning.fit import Lack, Remedy
from deskmend.planning.model.rules import ROOM_ON_DESK
from deskmend.report.case_documents import FitRecord
from deskmend.report.drawing.above import no_room_for
from deskmend.report.layout import Page
from deskmend.report.words import measure_words, quantity_text, range_words
from deskmend.workstation.state import Owner, State

__all__ = [
    "add_fit",
    "amiss_lines",
    "crowded_out",
    "crowded_text",
    "first_lines",
    "fit_document",
    "fit_lines",
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
    if lack.settable == "fitter" and lack.kind == "feet_down":
        by = quantity_text(lack.by, "mm")
        out.append(tr("Footrests can be set: ask who fitted the wheelchair to raise them by {by}.", by=by))
    elif lack.settable == "fitter":
        by = quantity_text(lack.by, "mm")
        out.append(tr("The armrests can be set: ask who fitted the wheelchair to lower them by {by}.", by=by))
    elif lack.settable == "person" and not lack.mendable:
        by = quantity_text(lack.by, "mm")
        out.append(tr("The armrests can be set: try to lower them by {by}.", by=by))
    return [*out, tr("What would fit: {would}.", would=would)] if would else out


def would_fit(lack: Lack) -> str:
    """Furniture with which the lack would be gone."""
    return tr(", or ").join(_furniture(one) for one in lack.remedies)


def _furniture(one: Remedy) -> str:
    """A whole place: what of it stands together."""
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
    if one.support is not None:
        found.append(tr("something {height} high under the feet", height=quantity_text(one.support, "mm")))
    return tr(", and with it ").join(found)


TABLE = {
    ("table_high", False): "At {place} the table is too high for the arms: {there}.",
    ("table_low", False): "At {place} the table is too low for the arms: {there}.",
    ("table_high", True): "At {place} the table is too high for the arms of who stands there: {there}.",
    ("table_low", True): "At {place} the table is too low for the arms of who stands there: {there}.",
}
"""What is said of a table by what is amiss with it, sitting and standing."""


def amiss_lines(found: Iterable[Amiss]) -> list[str]:
    """One sentence for each thing that is amiss: what, and what would suit."""
    return [_amiss_text(one) for one in found]


def _amiss_text(one: Amiss) -> str:
    if one.there is None or one.low is None or one.high is None:
        told = tr("At {place} the seat is hard.", place=one.place)
        return told + " " + tr("A padded seat would suit, or one to which a cushion can be tied.")
    there = quantity_text(one.there, "mm")
    told = tr(TABLE[one.kind, one.standing], place=one.place, there=there)
    if one.mendable is False:
        told += " " + tr("No choice here mends that, at any price.")
    suit = range_words(one.low, one.high, "mm", "")
    if one.standing:
        return told + " " + tr("Standing, {range} would suit.", range=suit)
    return told + " " + tr("At the seat there is, {range} would suit.", range=suit)


def first_lines(
    lacks: Sequence[Lack], amiss: Iterable[Amiss], before: State | None = None, money: str = ""
) -> list[str]:
    """What is said before all else: what does not fit, and tables far too high or too low for the arms.

    Both are of how a plan ends where `before` is how it was: each line on a table then says that it stays so.
    `money` names the plan where others stand beside it.
    """
    tables = [one for one in amiss if one.kind != "seat_hard"]
    lines = amiss_lines(tables)
    if money:
        lines = [tr("With the plan for {money}: {what}", money=money, what=line) for line in lines]
    elif before is not None:
        were = {(one.place, one.kind, one.standing) for one in amiss_in(before)}
        lines = [
            tr("With this plan too: {what}", what=line)
            if (one.place, one.kind, one.standing) in were
            else tr("With this plan: {what}", what=line)
            for one, line in zip(tables, lines, strict=True)
        ]
    return [*fit_lines(lacks), *lines]


def add_fit(page: Page, lacks: Sequence[Lack], amiss: Iterable[Amiss], before: State | None = None) -> None:
    """Say first what does not fit or stays far off, where anything does."""
    lines = first_lines(lacks, amiss, before)
    if lines:
        page.points(lines, mark="!")
        page.blank()


def crowded_out(before: State, after: State) -> str:
    """That the desk may have no room for something with a plan, though it had before; else empty.

    This is what the drawing from above finds where no rule refuses it: the size of the desk is only
    estimated, or there is room for all, but not where it is reckoned.
    """
    for task in after.tasks:
        things = "" if no_room_for(before, task) else no_room_for(after, task)
        if things:
            told = tr("On the desk there may be no room beside the rest for: {things}.", things=things)
            place: Owner = ("place", after.place_of[task])
            guessed = any((place, size) in after.assumed for size in ROOM_ON_DESK.values())
            return f"{told} {tr('How deep and wide it is is only estimated.')}" if guessed else told
    return ""


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
