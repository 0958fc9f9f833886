"""What is owned does where the catalog says that it does as well; nothing is bought beside it."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from pydantic import ValidationError
from tests.planning.cases import CATALOG, SAMPLE, made, plain

from deskmend.intake.catalog_records import Fix, Material
from deskmend.language import reading
from deskmend.planning.assessment import assess
from deskmend.planning.plan import plan
from deskmend.report.plan import plan_text

CARTON = dataclasses.replace(CATALOG, fixes=(CATALOG.by_id["feet_carton"],))


def case(**owned: str) -> Any:
    return made(
        places__0__seat__height="470",
        means__tools=["scissors"],
        means__budget="0.00",
        owns={"carton_box": "1", **owned},
    )


def test_string_that_is_owned_ties_where_tape_would_be_bought() -> None:
    assert plan(case(), CARTON, SAMPLE).steps == ()
    found = plan(case(cord="500"), CARTON, SAMPLE)
    (step,) = found.steps
    assert step.option.use == {"carton_box": 1, "cord": 400}
    assert (found.cost, found.bill.lines) == (0, ())
    text = " ".join(plan_text(found, CARTON, SAMPLE).split())
    assert "Strong cord" in text
    assert "parcel tape" not in text
    assert assess(case(cord="500"), CARTON, SAMPLE, [step.option.with_name]).bill.total == 0


@pytest.mark.parametrize("owned", [{"tape": "300", "cord": "500"}, {"cord": "399"}])
def test_tape_stays_where_it_is_owned_or_string_is_too_short(owned: dict[str, str]) -> None:
    found = plan(case(**owned), CARTON, SAMPLE, budget=10_000, must=["feet_carton"])
    (step,) = found.steps
    assert step.option.use["tape"] == 300


def test_what_does_as_well_needs_an_amount() -> None:
    with pytest.raises(ValidationError, match="instead_quantity"):
        Material(item="tape", quantity=300, instead="cord")


BINDING = ("tape", "string", "cord")


@pytest.mark.parametrize("fix", [one for one in CATALOG.fixes if any(m.instead for m in one.materials)])
def test_words_do_not_offer_what_the_bill_does_not(fix: Fix) -> None:
    """Which of two things is taken hangs on what is owned: the steps say neither, the list of things does."""
    for line in fix.how:
        assert not any(word in line.say.lower().split() for word in BINDING), line.say


def test_one_reel_serves_all_that_is_sewn_at_two_places() -> None:
    den = {**plain()["places"][0], "seat": {"height": "415", "base": "legs", "surface": "hard"}}
    two = made(places=[den, den | {"id": "shed"}])
    bill = assess(two, CATALOG, SAMPLE, ["den.seat_foam=40", "shed.seat_foam=40"]).bill
    assert [(line.packs, line.units) for line in bill.lines if line.item == "sewing_thread"] == [(1, 3000)]


@pytest.mark.parametrize(
    ("books", "language", "told"),
    [
        ([45, 55], "en", "slides apart under the feet"),
        ([45, 55], "es", "se desliza bajo los pies"),
        ([40, 40], "en", "if you have some"),
        ([65, 65], "en", ""),
    ],
)
def test_owned_books_bridge_a_gap_and_are_tied_where_they_are_high(
    books: list[int], language: str, told: str
) -> None:
    alone = dataclasses.replace(CATALOG, fixes=(CATALOG.by_id["feet_book"],))
    reach = 415 + sum(books) - 5
    at_it = made(places__0__seat__height=str(reach), owns={"hardback_book": [str(one) for one in books]})
    found = plan(at_it, alone, SAMPLE, 0)
    assert [step.option.size for step in found.steps] == ([sum(books)] if told else [])
    with reading(language):
        assert told in " ".join(plan_text(found, alone, SAMPLE).split())
