"""Measures from a picture, as text and as a document, with what seems wrong and what is better taped."""

from __future__ import annotations

from deskmend.errors import DefectError
from deskmend.language import tr
from deskmend.picture.doubts import Doubt
from deskmend.picture.measuring import PictureMeasure, PictureMeasures, ToTape
from deskmend.picture.merging import Merged
from deskmend.planning.pictured import Pictured
from deskmend.report.documents import quantity_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.other_documents import DoubtRecord, MeasureRecord, MeasuresDocument, ToTapeRecord
from deskmend.report.picture_words import CORNER_NAMES, MEASURE_NAMES, POINT_NAMES, SHEET_NAMES
from deskmend.report.posture import posture_json, posture_page
from deskmend.report.words import decimal_text, measure_words, quantity_text, strain_text

__all__ = [
    "doubt_words",
    "measured_document",
    "measured_rows",
    "measured_text",
    "measured_warnings",
    "merged_lines",
    "to_tape_lines",
]

MOST_TO_TAPE = 4
"""Most lengths asked for in text; the document lists all."""

RULES = {
    "elbow_angle": "the elbow would be bent the wrong way",
    "knee_angle": "the knee would be bent the wrong way",
    "hip_angle": "the hip would be bent the wrong way",
    "craniovertebral_angle": "the ear would lie below or behind the neck",
    "trunk_angle": "the trunk would lie flat",
}


def measured_document(found: Pictured) -> MeasuresDocument:
    """Measures, format ``deskmend-measures/1``: lengths [mm], angles [deg]; low and high bound 95 %."""
    told, merged = found.told, found.merged
    out: MeasuresDocument = {
        "format": "deskmend-measures/1",
        "pictures": list(told.names),
        "focal_length_told": told.focal_told,
        "measures": [_measure_json(one) for one in told.measures],
        "posture": posture_json(found.posture),
        "tape": [_tape_json(one) for one in told.tape],
        "faults": [_doubt_json(one) for one in told.doubts],
        "warnings": measured_warnings(told),
    }
    if merged is not None:
        out["taken"] = [{"where": where, "name": one.name} for where, one in merged.taken]
        out["kept"] = [
            {
                "where": one.where,
                "value": _figure(one.value),
                "name": one.pictured.name,
                "beyond_both": one.beyond_both,
            }
            for one in merged.kept
        ]
    if found.plan_tape is not None:
        out["tape_for_plan"] = [
            {
                "measure": row.length.key,
                "owner": row.length.owner or None,
                "sd": _figure(row.length.sd),
                "unit": row.length.unit,
                "moves": strain_json(row.moves),
            }
            for row in found.plan_tape.rows
        ]
        out["no_plan"] = found.plan_tape.no_plan or None
    return out


def _figure(value: float) -> float:
    """Give a figure with three decimals; whatever is measured is finite."""
    figure = quantity_json(value)
    if figure is None:
        raise DefectError("a measure is not finite")
    return figure


def _measure_json(one: PictureMeasure) -> MeasureRecord:
    return {
        "name": one.name,
        "value": _figure(one.value),
        "sd": _figure(one.sd),
        "low": _figure(one.low),
        "high": _figure(one.high),
        "unit": one.unit,
        "from": one.origin,
    }


def _tape_json(one: ToTape) -> ToTapeRecord:
    return {"name": one.name, "sd": quantity_json(one.sd), "missing": list(one.missing)}


def _doubt_json(one: Doubt) -> DoubtRecord:
    return {"kind": one.kind, "points": list(one.points), "text": doubt_words(one)}


def _point(name: str) -> str:
    return tr(POINT_NAMES[name])


def doubt_words(doubt: Doubt) -> str:
    """Say what seems wrong, and what to do about it."""
    if doubt.kind == "swapped":
        first, second = (_point(name) for name in doubt.points)
        return tr(
            "{first} and {second} seem to be changed over: as marked, no body could sit like that.",
            first=first,
            second=second,
        )
    if doubt.kind == "body":
        names = ", ".join(_point(name) for name in doubt.points)
        if doubt.other in RULES:
            return tr("Look at {points} again: {why}.", points=names, why=tr(RULES[doubt.other]))
        first, second = (_point(name) for name in doubt.points)
        if doubt.other == "above":
            return tr("{first} should lie above {second}: look at both.", first=first, second=second)
        return tr("{first} should lie in front of {second}: look at both.", first=first, second=second)
    if doubt.kind == "sheet_kind":
        words = tr(SHEET_NAMES[doubt.other])
        return tr(
            "The sheet looks like {sheet}: say which one it is. If it is the one told, it leans or is "
            "turned away from the camera, or a corner is marked wrong.",
            sheet=words,
        )
    if doubt.kind == "length":
        first, second = (_point(name) for name in doubt.points)
        return tr(
            "{first} to {second} is {found} as marked; the other parts of the body speak for {told}: one "
            "of the two points seems wrong.",
            first=first,
            second=second,
            found=quantity_text(doubt.found or 0.0, "mm"),
            told=quantity_text(doubt.told or 0.0, "mm"),
        )
    if doubt.kind in ("corner", "tilted", "camera", "focal"):
        return _sheet_words(doubt)
    if doubt.kind == "level":
        return tr("The two points on the floor do not lie level: mark them again.")
    if doubt.kind in ("tape", "stature"):
        name = tr("stature") if doubt.kind == "stature" else tr(MEASURE_NAMES[doubt.points[0]])
        told = quantity_text(doubt.told or 0.0, "mm")
        found = quantity_text(doubt.found or 0.0, "mm")
        if doubt.kind == "tape":
            return tr(
                "{name}: taped {told}, but the picture says {found}; look at both.",
                name=name,
                told=told,
                found=found,
            )
        by = quantity_text(round(abs(doubt.nearer or 0.0), -1), "mm")
        if (doubt.nearer or 0.0) > 0.0:
            return tr(
                "The body measured in the picture speaks for {found} of stature, told were {told}. Is the "
                "sheet some {by} nearer to the camera than the hip, or another one than told? Or is the "
                "stature wrong?",
                found=found,
                told=told,
                by=by,
            )
        return tr(
            "The body measured in the picture speaks for {found} of stature, told were {told}. Is the "
            "sheet some {by} further from the camera than the hip, or another one than told? Or is the "
            "stature wrong?",
            found=found,
            told=told,
            by=by,
        )
    return tr("The marks do not fit together: look at them in the drawing.")


def _sheet_words(doubt: Doubt) -> str:
    """Say what the sheet's corners speak against: one of themselves, or how sheet or camera was held."""
    if doubt.kind == "tilted" and doubt.other == "twist":
        return tr(
            "The sheet seems to be turned away from the camera: take the picture again with its face along "
            "the body, or mark its corners again."
        )
    if doubt.kind == "tilted":
        return tr(
            "The sheet seems to lean out of plumb: take the picture again with it upright, or mark its "
            "corners again."
        )
    if doubt.kind == "camera":
        return tr(
            "The camera seems to stand aslant or far from straight across: mark the sheet's corners again, "
            "or take the picture again from the side of the hip."
        )
    if doubt.kind == "focal":
        return tr(
            "The sheet does not look as this camera would show it: was the picture cut or zoomed afterwards? "
            "Measure from the whole picture, or mark the corners again."
        )
    if doubt.points:
        return tr(
            "The four corners do not make a sheet held upright. The one that stands out most is the "
            "{corner}: look at it first, then at the others.",
            corner=tr(CORNER_NAMES[doubt.points[0]]),
        )
    return tr("The corners do not make a sheet: mark them again.")


def measured_warnings(told: PictureMeasures) -> list[str]:
    """What makes every interval wider, or wrong."""
    out = []
    if not told.focal_told:
        out.append(
            tr(
                "The file does not tell its focal length, as after a messenger: intervals are wider. "
                "Two taped lengths help most."
            )
        )
    if told.cropped:
        out.append(
            tr(
                "The picture has an unusual shape. If a part was cut off, measure from the whole picture: "
                "intervals do not hold otherwise."
            )
        )
    return out


def measured_text(found: Pictured) -> str:
    """Measures with their intervals, what seems wrong first."""
    page, told, merged = Page(), found.told, found.merged
    if told.doubts:
        page.heading(tr("What seems wrong"))
        page.points([doubt_words(one) for one in told.doubts])
    page.points(measured_warnings(told), mark="!")
    page.heading(tr("Measured"))
    head = (tr("measure"), tr("value"), tr("95 % between"))
    page.table([head, *measured_rows(told)], right=(1,), head=True)
    posture_page(page, found.posture)
    _tape_page(page, found)
    if merged is not None:
        taken, kept = merged_lines(merged)
        page.heading(tr("In the case"))
        page.points(taken)
        for line, beyond in kept:
            page.point("!" if beyond else "-", line)
    page.blank()
    page.paragraph(
        tr(
            "No picture can show whether every mark is where it belongs: look at the drawing "
            "(--drawn FILE.png) before you rely on these."
        )
    )
    return page.text()


def _tape_page(page: Page, found: Pictured) -> None:
    """Add what to tape: by what it could change in the plan if there is one, else by what is made surer."""
    seen, missing = to_tape_lines(found.told)
    plan = found.plan_tape
    if plan is not None and not plan.no_plan:
        rows = [row for row in plan.rows if strain_text(row.moves) != strain_text(0)]
        page.heading(tr("Measure these with a tape: the plan of the case hangs on them"))
        page.numbered(
            [
                tr(
                    "{measure}: if it is {off} more or less, the plan takes off up to {by} strain-hours a "
                    "day more or less",
                    measure=measure_words(row.length.key),
                    off=quantity_text(row.length.sd, row.length.unit),
                    by=strain_text(row.moves),
                )
                for row in rows[:MOST_TO_TAPE]
            ]
        )
        if not rows:
            page.paragraph(tr("Nothing that is not taped yet moves the plan by as much as shows."))
        return
    if not (seen or missing):
        return
    page.heading(tr("Measure these with a tape"))
    if plan is None:
        page.paragraph(
            tr(
                "Ordered by how much surer they make the measures. With --case they are ordered by what they "
                "could change in the plan."
            )
        )
    else:
        page.paragraph(
            tr(
                "Ordered by how much surer they make the measures, since the case has no plan ({why}).",
                why=plan.no_plan,
            )
        )
    page.numbered(seen)
    page.points(missing)


def measured_rows(told: PictureMeasures) -> list[tuple[str, str, str]]:
    """Each measure with its value and the ends of its interval."""
    return [(_name(one), quantity_text(one.value, one.unit), _between(one)) for one in told.measures]


def to_tape_lines(told: PictureMeasures) -> tuple[list[str], list[str]]:
    """Lengths that are better taped, the first makes all others surest; and those that are not marked."""
    seen = [one for one in told.tape if not one.missing][:MOST_TO_TAPE]
    return [tr(MEASURE_NAMES[one.name]) for one in seen], [
        tr(
            "{name}: not marked ({points})",
            name=tr(MEASURE_NAMES[one.name]),
            points=", ".join(_point(name) for name in one.missing),
        )
        for one in told.tape
        if one.missing
    ]


def merged_lines(merged: Merged) -> tuple[list[str], list[tuple[str, bool]]]:
    """What went into the case; and what stayed as it was, with whether the picture speaks against it."""
    taken = [tr("{where}: {value}", where=where, value=_value(one)) for where, one in merged.taken]
    kept = []
    for one in merged.kept:
        words = {"where": one.where, "kept": quantity_text(one.value, "mm"), "value": _value(one.pictured)}
        told = (
            tr("{where}: {kept} kept; the picture says {value}: look at both", **words)
            if one.beyond_both
            else tr("{where}: {kept} kept; the picture says {value}", **words)
        )
        kept.append((told, one.beyond_both))
    return taken, kept


def _value(one: PictureMeasure) -> str:
    value, sd = quantity_text(one.value, one.unit), quantity_text(one.sd, one.unit)
    return tr("{value}, sd {sd}", value=value, sd=sd)


def _between(one: PictureMeasure) -> str:
    low = decimal_text(one.low, 0) if one.unit == "deg" else quantity_text(one.low, one.unit)
    high = quantity_text(one.high, one.unit)
    return tr("{low} and {high}", low=low, high=high)


def _name(one: PictureMeasure) -> str:
    name = tr(MEASURE_NAMES[one.name])
    return tr("{name} (taped)", name=name) if one.origin == "taped" else name
