"""The cases that are planned whole are of every kind, and next to none has no plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, get_args

import pytest
from tests.planning.cases import quickly_solved
from tests.planning.whole_cases import HEIGHTS, MOST_CELLS, PIECES, told_case, whole_case
from tests.stages import NOW, draws

from deskmend.intake import case as records
from deskmend.intake.case import Case

WORDS = {
    "kind": records.PlaceKind,
    "posture": records.Posture,
    "feet_on": records.FeetOn,
    "glare": records.Glare,
    "surface": records.Surface,
    "slope": records.SlopeWord,
    "back": records.Back,
    "armrests": records.Armrests,
    "base": records.Base,
    "material": records.SeatMaterial,
    "top": records.Top,
    "legs": records.DeskLegs,
    "edge": records.Edge,
    "sex": records.Sex,
    "writing_hand": records.Hand,
    "mouse_hand": records.Hand,
    "eyewear": records.Eyewear,
    "weak_side": records.Side,
    "keyboard": records.Keyboard,
    "mouse": records.Mouse,
    "phone": records.Phone,
    "main": records.Tool,
    "reference": records.Reference,
    "at": records.PaperAt,
}
"""Words of records, by the field that says them."""


def said(case: Case) -> Iterator[tuple[str, Any]]:
    """What a case says in words, and what of its other kinds it has."""
    person, devices = case.person, case.devices
    told: list[Any] = [person, devices]
    for place in case.places:
        told += [place, place.seat, place.desk, place.light]
    for task in case.tasks:
        told += [task, task.paper]
        yield "hands", task.hands is not None
        yield "writing", task.writing
    for record in told:
        yield from ((field, value) for field, value in vars(record).items() if field in WORDS)
    yield "places", len(case.places)
    yield "tasks", len(case.tasks)
    yield "tall", person.stature // 150
    yield "cannot stand", person.cannot_stand
    yield "measured", bool(person.body.model_fields_set)
    yield "signs", bool(person.warning_signs)
    yield from (("owned", name) for name in case.owns)
    yield "tools", len(case.means.tools or ())
    yield "skill", case.means.skill
    yield "may alter", case.means.may_alter
    yield "must", bool(case.wishes.must)
    yield from (("hurts", region) for region in person.discomfort.model_fields_set)
    yield "settable seat", any(place.seat and place.seat.height_range for place in case.places)
    yield "settable desk", any(place.desk.height_range for place in case.places)
    yield "shared seat", any(place.seat and place.seat.shared_with for place in case.places)
    yield "other seats", any(place.other_seats for place in case.places)
    yield "monitor", devices.monitor is not None
    yield "shared room", case.room.shared


@pytest.mark.thorough
def test_every_kind_occurs_among_two_hundred_cases() -> None:
    counted = Counter(one for k in range(200) for one in said(told_case(NOW.seed + k)))
    for field, words in WORDS.items():
        for word in get_args(words):
            assert counted[field, word] >= 2, (field, word)
    for region in get_args(records.Region):
        assert counted["hurts", region] >= 2, region
    assert {name for what, name in counted if what == "owned"} == set(PIECES)
    assert set(get_args(records.PlaceKind)) == set(HEIGHTS)
    for what in {what for what, _ in counted} - {*WORDS, "owned", "hurts"}:
        kinds = [count for (one, _), count in counted.items() if one == what]
        assert len(kinds) >= 2, what
        assert min(kinds) >= 2, what


@pytest.mark.both
def test_next_to_none_is_too_large_or_has_no_plan() -> None:
    seeds = draws(4, 12)
    ready = [whole_case(seed)[1] for seed in seeds]
    assert sum(one is None for one in ready) <= len(seeds) // 20
    assert all(one is None or quickly_solved(one.problem(None, None), MOST_CELLS) for one in ready)
