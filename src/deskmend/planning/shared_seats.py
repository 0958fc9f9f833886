"""Seats that several people use: what is left there must come off again, and must not shut anybody out."""

from __future__ import annotations

from collections.abc import Iterator

from deskmend.intake.case import Case
from deskmend.intake.person import Person
from deskmend.messages import tr
from deskmend.numerals import shown_length
from deskmend.workstation.body import DIMENSIONS, estimate_body
from deskmend.workstation.fields import Value
from deskmend.workstation.state import DEFAULT_SHOES, PERSON, Slot, State, evaluate

__all__ = ["shared_notes", "sharers"]

FEET_HANG_FROM = 50.0
"""Gap under the feet that is told for another user [mm]: severity 1 of the leg gap (judgement)."""


def sharers(case: Case, place: str) -> tuple[Person, ...]:
    """Further people who use the seat of a place.

    Parameters
    ----------
    case : Case
        The case.
    place : str
        Id of the place.
    """
    return next(
        (p.seat.shared_with for p in case.places if p.id == place and p.seat is not None),
        (),
    )


def shared_notes(case: Case, after: State) -> tuple[str, ...]:
    """What has to be said about shared seats once a plan stands there.

    Parameters
    ----------
    case : Case
        The case.
    after : State
        With the plan.

    Returns
    -------
    tuple of str
        That everything must come off again, and for the smallest and the largest
        of the others (by stature) whether the legs fit and the feet rest with
        what the plan puts there. Their bodies are estimated where not measured.
    """
    out: list[str] = []
    for place in after.places:
        others = sorted(sharers(case, place), key=lambda person: person.stature)
        if not others:
            continue
        out.append(
            tr(
                "The seat at {place} is shared. Only what comes off again is planned for it: take it off, or "
                "set it back, before somebody else sits down.",
                place=place,
            )
        )
        if place in after.place_of.values():
            for one in dict.fromkeys((others[0], others[-1])):
                out.extend(_misfits(one, place, after))
    return tuple(out)


def _misfits(one: Person, place: str, after: State) -> Iterator[str]:
    measured = {name: getattr(one.body, name, None) for name in DIMENSIONS}
    body = estimate_body(one.stature, one.sex, measured)
    values: dict[Slot, Value] = {(PERSON, f"body.{name}"): body[name] for name in DIMENSIONS}
    values[PERSON, "person.shoes"] = DEFAULT_SHOES if one.shoes is None else one.shoes
    task = next(task for task, at in after.place_of.items() if at == place)
    evaluation = evaluate(after.with_values(values), task, place)
    if float(evaluation("stand_share")) >= 1.0:
        return
    stature = shown_length(one.stature)
    if float(evaluation("clearance")) < 0.0:
        yield tr(
            "With this plan in place the legs of a person of {stature} do not fit under the desk at {place}.",
            stature=stature,
            place=place,
        )
    gap = float(evaluation("leg_gap"))
    if gap >= FEET_HANG_FROM:
        yield tr(
            "With this plan in place the feet of a person of {stature} hang by {gap} at {place}.",
            stature=stature,
            gap=shown_length(gap),
            place=place,
        )
