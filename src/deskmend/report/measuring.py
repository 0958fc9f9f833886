"""What pictures show: measures, the posture beside the one expected, what seems wrong or is better taped."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from deskmend.errors import DefectError
from deskmend.language import tr
from deskmend.picture.doubts import Doubt
from deskmend.picture.measuring import Merged, PictureMeasure, PictureMeasures, ToTape
from deskmend.picture.scene import NORMAL_95
from deskmend.planning.observed import AngleBeside, ObservedPosture, ObservedRula, Pictured
from deskmend.report.documents import quantity_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.words import decimal_text, measure_words, quantity_text, strain_text, value_words
from deskmend.risk.scores.day import method_named

if TYPE_CHECKING:
    from deskmend.report.other_documents import (
        AngleBesideRecord,
        DoubtRecord,
        MeasureRecord,
        MeasuresDocument,
        ObservedPostureRecord,
        ObservedRulaRecord,
        ToTapeRecord,
        UnseenRecord,
    )

__all__ = [
    "CORNER_NAMES",
    "MEASURE_NAMES",
    "POINT_NAMES",
    "SHEET_NAMES",
    "beside_rows",
    "difference_words",
    "doubt_words",
    "measured_document",
    "measured_rows",
    "measured_text",
    "measured_warnings",
    "merged_lines",
    "posture_json",
    "posture_page",
    "rula_words",
    "to_tape_lines",
]

MEASURE_NAMES = {
    "seat_height": "front edge of the seat above the floor",
    "seat_depth": "depth of the seat",
    "desk_height": "height of the desk",
    "desk_underside": "height of the desk's underside",
    "foot_surface": "height of what the feet stand on",
    "keys_height": "height of the keys",
    "elbow_height": "height of the elbow",
    "eye_height": "height of the eye",
    "screen_top": "height of the screen's top edge",
    "screen_bottom": "height of the screen's bottom edge",
    "screen_over_desk": "top edge of the screen above the desk",
    "screen_height": "height of the picture on the screen",
    "viewing_distance": "eye to the middle of the screen",
    "seat_slope": "slope of the seat",
    "craniovertebral_angle": "neck (C7) to ear above the level",
    "neck_angle": "neck (C7) to ear forward of the trunk",
    "trunk_angle": "trunk forward of upright",
    "upper_arm_angle": "upper arm forward of hanging",
    "arm_to_trunk_angle": "upper arm forward of the trunk",
    "elbow_angle": "angle at the elbow",
    "wrist_extension": "hand bent up at the wrist",
    "hip_angle": "angle at the hip",
    "knee_angle": "angle at the knee",
}
"""Measures in words."""

POINT_NAMES = {
    "eye": "outer corner of the eye",
    "tragus": "ear (in front of its opening)",
    "c7": "lowest bump of the neck (C7)",
    "acromion": "tip of the shoulder",
    "elbow": "elbow",
    "wrist": "wrist",
    "knuckle": "knuckle of the middle finger",
    "trochanter": "hip (the bump of the thigh bone)",
    "knee": "knee",
    "ankle": "ankle",
    "seat_front": "front edge of the seat",
    "seat_back": "back end of the seat",
    "desk_edge": "front edge of the desk",
    "desk_underside": "underside of the desk",
    "screen_top": "top edge of the screen",
    "screen_bottom": "bottom edge of the screen",
    "keys": "keys",
    "foot_surface": "what the feet stand on",
    "floor_a": "first point on the floor",
    "floor_b": "second point on the floor",
}
"""Points in words."""

SHEET_NAMES = {"a4": "an A4 sheet", "letter": "a Letter sheet", "card": "a bank card"}
"""Sheets in words."""

CORNER_NAMES = {
    "top left": "upper left corner of the sheet",
    "top right": "upper right corner of the sheet",
    "bottom right": "lower right corner of the sheet",
    "bottom left": "lower left corner of the sheet",
}
"""Corners in words, in the order in which they are marked."""


HANDS = {"keys": "types", "mouse": "uses the mouse", "writing": "writes"}
EYES = {
    "screen": "looks at the screen",
    "second": "looks at the second screen",
    "paper": "looks at paper",
}

QUESTIONS = {
    ("trunk_angle", True): "Is what is looked at or worked on further away, or harder to read, than told?",
    ("trunk_angle", False): "Does the back of the seat lean further back than told?",
    ("neck_angle", True): "Is what is looked at lower, or harder to read, than told?",
    ("neck_angle", False): "Is what is looked at higher than told, or are the glasses in the way?",
    ("arm_to_trunk_angle", True): "Are keys or mouse further away than told?",
    ("arm_to_trunk_angle", False): "Are keys or mouse nearer than told?",
    ("elbow_angle", True): "Are keys or mouse lower, or further away, than told?",
    ("elbow_angle", False): "Are keys or mouse higher, or nearer, than told?",
    ("wrist_extension", True): "Does the keyboard stand on its feet, or higher than told?",
    ("wrist_extension", False): "Are the keys lower than told?",
    ("hip_angle", True): "Is the seat higher than told, or does its back lean further back?",
    ("hip_angle", False): "Is the seat lower than told, or what the feet stand on higher?",
    ("knee_angle", True): "Are the feet further forward, or is the seat higher than told?",
    ("knee_angle", False): "Are the feet drawn back, or is the seat lower than told?",
}
"""What to ask where an angle is greater (True) or less than seat and desk ask for."""

ITEM_NAMES = {
    "upper_arm": "upper arm",
    "lower_arm": "lower arm",
    "wrist": "wrist",
    "wrist_twist": "wrist twist",
    "neck": "neck",
    "trunk": "trunk",
    "legs": "legs",
    "arm_muscle_use": "muscle use",
    "arm_force": "force",
}
"""Items of RULA in words; muscle use and force count alike for arm and body."""

FLAGS = {
    "arm_raised": "shoulders raised",
    "arm_abducted": "upper arm away from the side",
    "arm_supported": "arms supported",
    "arm_out": "forearm out to the side",
    "wrist_deviated": "hands bent sideways",
    "neck_twisted": "neck turned",
    "neck_bent": "neck bent sideways",
    "trunk_twisted": "trunk turned",
    "trunk_bent": "trunk bent sideways",
}
"""What is said only where it is so."""


def posture_json(posture: ObservedPosture) -> ObservedPostureRecord:
    """Posture seen; angles [deg], scores [-]."""
    doing = posture.doing
    return {
        "task": None if doing is None else doing.task,
        "hands": None if doing is None else doing.hands,
        "looks_at": None if doing is None else doing.eyes,
        "mode": None if doing is None else doing.mode,
        "angles": [_angle_json(one) for one in posture.angles],
        "rula": None if posture.rula is None else _rula_json(posture.rula),
        "rula_lacks": list(posture.missing),
    }


def _angle_json(one: AngleBeside) -> AngleBesideRecord:
    low, high = _ends(one.seen, one.seen_sd)
    expected = (None, None) if one.expected is None else _ends(one.expected, one.expected_sd)
    return {
        "name": one.name,
        "value": quantity_json(one.seen),
        "sd": quantity_json(one.seen_sd),
        "low": quantity_json(low),
        "high": quantity_json(high),
        "unit": "deg",
        "expected": quantity_json(one.expected),
        "expected_low": quantity_json(expected[0]),
        "expected_high": quantity_json(expected[1]),
        "difference": quantity_json(one.difference),
        "beyond_both": one.beyond_both,
    }


def _ends(value: float, sd: float) -> tuple[float, float]:
    return value - NORMAL_95 * sd, value + NORMAL_95 * sd


def _rula_json(found: ObservedRula) -> ObservedRulaRecord:
    unseen: list[UnseenRecord] = [
        {"what": name, "value": value, "from": "case" if name in found.of_case else "assumed"}
        for name, value in found.unseen.items()
    ]
    return {
        "score": found.score.grand,
        "low": found.low,
        "high": found.high,
        "action_level": found.score.action_level,
        "items": dict(found.items),
        "not_seen": unseen,
    }


def posture_page(page: Page, posture: ObservedPosture) -> None:
    """Add what was seen of the posture to a page."""
    if not posture.angles:
        return
    page.heading(tr("Posture seen"))
    if posture.doing is not None:
        page.paragraph(
            tr(
                "Beside it what seat and desk ask for while somebody {hands} and {eyes}, as in {task} most "
                "of the time; both with the ends of what holds them in 95 of 100 cases. If the picture shows "
                "something else, they need not agree.",
                hands=tr(HANDS[posture.doing.hands]),
                eyes=tr(EYES[posture.doing.eyes]),
                task=posture.doing.task,
            )
        )
        head = (tr("angle, degrees"), tr("seen"), tr("asked for"))
        page.table([head, *beside_rows(posture)], head=True)
        page.points([difference_words(one) for one in posture.angles if one.beyond_both], mark="!")
    page.points(list(rula_words(posture)))


def beside_rows(posture: ObservedPosture) -> list[tuple[str, str, str]]:
    """Angles that something is expected of: as seen, and as seat and desk ask for."""
    return [
        (tr(MEASURE_NAMES[one.name]), _within(one.seen, one.seen_sd), _within(one.expected, one.expected_sd))
        for one in posture.angles
        if one.expected is not None
    ]


def _within(value: float, sd: float) -> str:
    """An angle with the ends of what holds it in 95 of 100 cases."""
    low, high = (decimal_text(end, 0) for end in _ends(value, sd))
    middle = decimal_text(value, 0)
    return middle if low == high else tr("{value} ({low} to {high})", value=middle, low=low, high=high)


def difference_words(one: AngleBeside) -> str:
    """Say by how much an angle is another than seat and desk ask for, and what that may come from."""
    by = one.difference or 0.0
    words = {"name": tr(MEASURE_NAMES[one.name]), "by": quantity_text(abs(by), "deg")}
    told = (
        tr("{name}: {by} more than seat and desk ask for.", **words)
        if by > 0
        else tr("{name}: {by} less than seat and desk ask for.", **words)
    )
    return f"{told} {tr(QUESTIONS[one.name, by > 0])}"


def rula_words(posture: ObservedPosture) -> Iterator[str]:
    """RULA of the posture seen, its items, and what was taken for it unseen; or what it lacks."""
    found = posture.rula
    if found is None:
        points = ", ".join(tr(POINT_NAMES[name]) for name in posture.missing)
        yield tr("RULA is not scored: not marked are {points}.", points=points)
        return
    action = tr(method_named("rula").action(found.score.grand))
    if found.low == found.high:
        yield tr(
            "RULA of the posture seen: {score}, in 95 of 100 cases; {action}.", score=found.low, action=action
        )
    else:
        yield tr(
            "RULA of the posture seen: {score}, in 95 of 100 cases between {low} and {high}; {action}.",
            score=found.score.grand,
            low=found.low,
            high=found.high,
            action=action,
        )
    items = ", ".join(f"{tr(ITEM_NAMES[name])} {found.items[name]}" for name in ITEM_NAMES)
    yield tr("Its parts: {items}.", items=items)
    of_case = list(_unseen_words(found, of_case=True))
    if of_case:
        yield tr("Not to be seen from the side, so taken from the case: {list}.", list="; ".join(of_case))
    assumed = list(_unseen_words(found, of_case=False))
    if assumed:
        yield tr("Not to be seen in the picture, so assumed: {list}.", list="; ".join(assumed))


def _unseen_words(found: ObservedRula, of_case: bool) -> Iterator[str]:
    taken = {name: value for name, value in found.unseen.items() if (name in found.of_case) == of_case}
    if "minutes_static" in taken:
        yield tr("held for {time}", time=quantity_text(float(taken["minutes_static"]), "min"))
    if "trunk_rests" in taken:
        yield tr("the back is supported") if taken["trunk_rests"] else tr("the back is not well supported")
    if "legs_supported" in taken:
        yield tr("the feet rest on something") if taken["legs_supported"] else tr("the feet hang")
    if "wrist_extension" in taken:
        bend = value_words(float(taken["wrist_extension"]), "deg", "wrist_extension")
        yield tr("hands {bend} at the wrist", bend=bend)
    if "hip_angle" in taken:
        yield tr("the hip open by {angle}", angle=quantity_text(float(taken["hip_angle"]), "deg"))
    flags = [name for name in FLAGS if name in taken]
    yield from (tr(FLAGS[name]) for name in flags if taken[name])
    if flags and not any(taken[name] for name in flags):
        yield tr("nothing turned, raised or bent sideways, no arm rested")
    if taken.get("wrist_twist") == 2:
        yield tr("forearm at the end of its range")
    if taken.get("repeats_per_minute"):
        yield tr("repeated {times} times a minute", times=f"{taken['repeats_per_minute']:g}")
    if taken.get("force"):
        yield tr("force {score}", score=taken["force"])


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
