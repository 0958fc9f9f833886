"""What can be chosen is found fast for many people, and is what asking each fix anew gives."""

from __future__ import annotations

import gc
import random
import weakref
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.planning.cases import CATALOG, SAMPLE, SCENARIOS, made
from tests.planning.drawn_cases import drawn_case
from tests.planning.plain_offers import plain_not_for, plain_offers
from tests.stages import NOW, draws, seeds

from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix, Predicate
from deskmend.intake.prices import PriceTable
from deskmend.language import LANGUAGES, reading
from deskmend.planning.model.offers import Offers, offers_for
from deskmend.planning.model.options import KEPT_OPTIONS
from deskmend.planning.model.rules import exclusions_of, holds
from deskmend.planning.model.tables import StateArrays, symbol_of
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import evaluate, owner_of, state_of

ON_REQUEST = [fix.id for fix in CATALOG.fixes if fix.on_request]


def _fix(**told: Any) -> Fix:
    plain = {
        "title": "Invented",
        "kind": "rearranged",
        "stage": "seat",
        "minutes": "5",
        "effects": [{"change": "seat.pad", "add": "5"}],
    }
    return Fix.model_validate(plain | {"decision": told["id"]} | told)


def _not_for(*conditions: str) -> list[dict[str, str]]:
    return [{"when": one, "why": f"since {one}"} for one in conditions]


ODD = (
    # Conditions of every level, asked for owners of every scope.
    *(
        _fix(id=f"odd_{scope}_{number}", scope=scope, not_for=_not_for(condition))
        for scope in ("person", "device", "place", "task")
        for number, condition in enumerate(
            (
                "person.eyewear is multifocal",
                "keyboard is not separate",
                "light.lux under 100",
                "task.spell over 60",
                "leg_gap over 0",
                "desk_gap at least 20",
                "clearance under 40",
            )
        )
    ),
    # Sizes with one name, of which some change nothing.
    _fix(
        id="odd_fine",
        scope="place",
        size={"low": "0", "high": "0.0000004", "step": "0.0000001"},
        effects=[{"change": "seat.pad", "set": "size"}],
    ),
    # Nothing changes at all; a thing nobody sells; a factor on owned pieces and on words of the case.
    _fix(id="odd_idle", scope="place", effects=[]),
    _fix(id="odd_paid", scope="task", kind="made", materials=[{"item": "bath_towel", "quantity": "3"}]),
    _fix(
        id="odd_pieces",
        scope="place",
        kind="made",
        decision="odd_stack",
        size={"pieces": "hardback_book", "low": "30", "high": "120"},
        materials=[{"item": "hardback_book"}, {"item": "tape", "quantity": "50"}],
        effects=[
            {"change": "seat.pad", "add": "size", "times": "0.75"},
            {"change": "task.spell", "at_most": "45"},
            {"change": "keyboard.height", "set": "size"},
        ],
        reversible="no",
        tools=["scissors"],
    ),
    _fix(
        id="odd_words",
        scope="person",
        size={"words": ["lamp", "none"], "unit": "word"},
        effects=[{"change": "light.glare", "set": "size"}],
        leave="owner",
    ),
)
# Several signs block one decision; the first of the catalog is the reason that is told.
ODD_SIGNS = tuple(
    sign.model_copy(update={"blocks": ("seat_surface", "feet", "back")}) for sign in CATALOG.signs
)
ODD_CATALOG = replace(CATALOG, fixes=(*CATALOG.fixes, *ODD), signs=ODD_SIGNS)


def _prices(seed: int) -> PriceTable | None:
    """All prices, some of them, or none asked for."""
    draw = random.Random(seed)
    if seed % 5 == 0:
        return None
    share = draw.choice([1.0, 0.8, 0.3])
    return replace(SAMPLE, items={name: one for name, one in SAMPLE.items.items() if draw.random() < share})


def _told(offers: Offers) -> list[object]:
    """All that offers say, numbers as written out: NaN is told like any other, 40 and 40.0 are not alike."""
    told: list[object] = [
        (offer.name, offer.owner, option.fix.id, option.with_name, repr(replace(option, fix=None)))  # type: ignore[arg-type]
        for offer in offers.decisions
        for option in offer.options
    ]
    return told + [(left.fix.id, left.owner, left.reason, left.cause) for left in offers.left_out]


def _questions() -> Iterator[tuple[Case, Catalog, PriceTable | None, bool, tuple[str, ...], str]]:
    """Cases of all kinds in a mixed order, so that one question follows on very different ones."""
    for folder in SCENARIOS:
        for catalog in (CATALOG, ODD_CATALOG):
            yield load_case(folder / "case.yaml"), catalog, SAMPLE, False, (), "en"
            yield load_case(folder / "case.yaml"), catalog, None, True, (), "es"
    for seed in draws(10, 100):
        asked = tuple(ON_REQUEST) if seed % 3 == 0 else ()
        catalog = ODD_CATALOG if seed % 2 else CATALOG
        yield drawn_case(seed), catalog, _prices(seed), seed % 4 == 0, asked, LANGUAGES[seed % 7 == 0]


@pytest.mark.both
def test_the_fast_way_offers_what_the_plain_way_offers() -> None:
    causes: Counter[str] = Counter()
    for case, catalog, prices, everything, asked, language in _questions():
        state = state_of(case)
        with reading(language):
            fast = offers_for(case, state, catalog, prices, everything, asked)
            plain = plain_offers(case, state, catalog, prices, everything, asked)
        assert _told(fast) == _told(plain)
        causes.update(left.cause for left in fast.left_out)
    # All there is to decide was decided both ways somewhere; otherwise the equality above says little.
    assert set(causes) == {
        "warning_sign",
        "not_for",
        "shared",
        "may_not_alter",
        "no_leave",
        "skill",
        "tools",
        "no_price",
        "on_request",
        "nothing_owned",
        "wheelchair",
    }


@seeds(2, 12)
def test_who_is_not_meant_is_found_as_by_evaluating_every_condition_anew(seed: int) -> None:
    state = state_of(drawn_case(seed))
    now = StateArrays([state])
    owners = [("person", ""), ("device", "")]
    owners += [("place", place) for place in state.places] + [("task", task) for task in state.tasks]
    for fix in ODD_CATALOG.fixes:
        for owner in owners:
            if owner[0] == fix.scope:
                asked = exclusions_of(fix, owner, state)  # type: ignore[arg-type]
                found = next((one.why for one in asked if one.applies(now)), None)
                assert found == plain_not_for(fix, owner, state)  # type: ignore[arg-type]


def test_a_language_is_not_kept_from_one_question_to_the_next() -> None:
    case = made(means__tools=[], means__skill="1", person__warning_signs=["broken_or_numb_skin"])
    state = state_of(case)

    def told(language: str) -> list[str]:
        with reading(language):
            return [left.reason for left in offers_for(case, state, CATALOG, SAMPLE).left_out]

    english, spanish = told("en"), told("es")
    assert all(one != other for one, other in zip(english, spanish, strict=True))
    assert (told("en"), told("es")) == (english, spanish)


def test_people_share_the_options_that_serve_them_alike() -> None:
    one, other = made(), made(person__stature="1800", places__0__desk__height="700")
    first, second = (list(offers_for(c, state_of(c), CATALOG, SAMPLE).options()) for c in (one, other))
    known = {id(option) for option in first}
    assert len(first) > 50
    assert [option.name for option in second if id(option) not in known and option in first] == []


def test_sizes_that_go_by_one_name_are_told_apart() -> None:
    case = made(means__tools=["scissors"], owns={"hardback_book": ["20", "20", "40", "60"]})
    offers = offers_for(case, state_of(case), ODD_CATALOG, SAMPLE)
    names = [
        o.name for o in offers.options() if o.owner[1] == "den" and o.fix.id in ("odd_pieces", "odd_fine")
    ]
    assert names[:4] == ["odd_fine=0", "odd_fine=0#2", "odd_fine=0#3", "odd_fine=0#4"]
    # By hand: 40, 20+20; 60, 20+40; 20+60, 20+20+40; 40+60, 20+20+60; 20+40+60. One is too low, all too high.
    assert names[4:] == [
        "odd_pieces=40",
        "odd_pieces=40#2",
        "odd_pieces=60",
        "odd_pieces=60#2",
        "odd_pieces=80",
        "odd_pieces=80#2",
        "odd_pieces=100",
        "odd_pieces=100#2",
        "odd_pieces=120",
    ]
    stacks = {o.name: (o.pieces, dict(o.use)) for o in offers.options() if o.fix.id == "odd_pieces"}
    assert stacks["odd_pieces=40"] == ((40.0,), {"hardback_book:40": 1, "tape": 50})
    assert stacks["odd_pieces=40#2"] == ((20.0, 20.0), {"hardback_book:20": 2, "tape": 50})


def _offered_in(catalog: Catalog) -> tuple[Offers, Offers]:
    case = made()
    state = state_of(case)
    return offers_for(case, state, catalog, SAMPLE), plain_offers(case, state, catalog, SAMPLE)


@pytest.mark.both
def test_a_catalog_is_let_go_and_none_is_taken_for_another() -> None:
    """Catalogs that come and go often lie where an earlier one lay."""
    gone = []
    for number in range(40 if NOW.thorough else 5):
        catalog = replace(CATALOG, fixes=CATALOG.fixes[number : number + 5])
        fast, plain = _offered_in(catalog)
        assert _told(fast) == _told(plain)
        gone.append(weakref.ref(catalog))
    del catalog
    gc.collect()
    assert [one for one in gone if one() is not None] == []


def test_many_layouts_and_many_books_do_not_mix_up_what_is_kept() -> None:
    draw = random.Random(7)
    catalog = replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.size and fix.size.pieces))
    assert catalog.fixes
    made_of: set[tuple[float, ...]] = set()
    for number in range(60):
        books = [f"{draw.uniform(20, 60):.1f}" for _ in range(5)]
        place = f"room{number % 11}" if number < 30 else "room"
        case = made(places__0__id=place, tasks__0__place=place, owns={"hardback_book": books})
        state = state_of(case)
        fast = offers_for(case, state, catalog, SAMPLE)
        assert _told(fast) == _told(plain_offers(case, state, catalog, SAMPLE))
        made_of |= {option.pieces for option in fast.options()}
    assert len(made_of) > KEPT_OPTIONS


@pytest.mark.parametrize("value", ["unknown", "lamp", "none", 0.0, 99.5, 100.0, float("nan")])
def test_one_plain_value_meets_what_an_array_of_it_meets(value: str | float) -> None:
    words = [("is", "lamp"), ("is not", "lamp"), ("is", "unknown"), ("is not", "unknown")]
    numbers = [("at least", 100.0), ("at most", 100.0), ("over", 99.5), ("under", 99.5)]
    for relation, wanted in words if isinstance(value, str) else numbers:
        predicate = Predicate("any", relation, wanted)  # type: ignore[arg-type]
        as_array = np.str_(value) if isinstance(value, str) else np.float64(value)
        assert bool(holds(predicate, value)) == bool(holds(predicate, as_array))
        assert holds(predicate, np.array([value] * 2)).tolist() == [bool(holds(predicate, value))] * 2


@pytest.mark.parametrize("seed", [3, 4])
def test_a_field_is_read_where_an_evaluation_finds_it(seed: int) -> None:
    state = state_of(drawn_case(seed))
    for task in state.tasks:
        for place in state.places:
            for name, field in FIELDS.items():
                value = state.values[owner_of(field.level, task, place), name]
                found = evaluate(state, task, place)(symbol_of(name)).item()
                assert found == value or (found != found and value != value)


def test_a_quantity_is_the_same_whatever_was_asked_before() -> None:
    state = state_of(drawn_case(5))
    readings = StateArrays([state])
    places = [(task, place) for task in state.tasks for place in state.places]
    for name in ("desk_gap", "leg_gap", "hip_angle", "clearance", "desk_gap"):
        for task, place in places:
            alone = evaluate(state, task, place)(name, mode="sit")
            assert readings.reading(name, task, place) == float(alone)


@pytest.mark.parametrize(
    ("there", "turned"),
    [
        ({}, True),
        ({"places__0__desk__legs": "built_in"}, False),
        ({"places__0__kind": "worktop"}, False),
        ({"places__0__kind": "bar"}, False),
    ],
)
def test_what_is_fixed_to_a_wall_is_not_turned_from_the_window(there: dict[str, str], turned: bool) -> None:
    case = made(places__0__light__glare="window_behind", **there)
    offered = offers_for(case, state_of(case), CATALOG, SAMPLE)
    assert ("desk_turn_window" in {option.fix.id for option in offered.options()}) is turned
