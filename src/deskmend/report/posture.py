"""The posture seen in a picture, beside what seat and desk ask for, and RULA of it: text and document."""

from __future__ import annotations

from collections.abc import Iterator

from deskmend.language import tr
from deskmend.picture.fit import NORMAL_95
from deskmend.planning.observed import AngleBeside, ObservedPosture, ObservedRula
from deskmend.report.documents import quantity_json
from deskmend.report.layout import Page
from deskmend.report.other_documents import (
    AngleBesideRecord,
    ObservedPostureRecord,
    ObservedRulaRecord,
    UnseenRecord,
)
from deskmend.report.picture_words import MEASURE_NAMES, POINT_NAMES
from deskmend.report.words import decimal_text, quantity_text
from deskmend.risk.scores.day import method_named

__all__ = ["beside_rows", "difference_words", "posture_json", "posture_page", "rula_words"]

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
        yield tr("hands bent up by {angle}", angle=quantity_text(float(taken["wrist_extension"]), "deg"))
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
