"""What stands beside a plan: advice, second choices, shared seats, requests, and prices of other places."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, ROOT, SAMPLE, made

from deskmend.cli import deskmend
from deskmend.intake.prices import load_prices
from deskmend.planning.model.offers import offers_for, shared_notes
from deskmend.planning.plan import Plan, plan
from deskmend.report.plan import afterwards, plan_text
from deskmend.workstation.state import state_of

from .fix_cases import LOW_KEYS, OPEN

SHARED = {
    "places__0__seat__shared_with": [{"stature": "1500", "sex": "female"}, {"stature": "1950", "sex": "male"}]
}


def few(*ids: str) -> Any:
    return dataclasses.replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in ids))


def planned(*ids: str, **changes: Any) -> Plan:
    return plan(made(**{**OPEN, **changes}), few(*ids), SAMPLE, must=ids)


def test_a_fix_that_many_give_up_comes_with_a_second_choice() -> None:
    """Cook and Burgess-Limerick 2004 (facts: confirmed): 9 of 59 gave up resting the forearms in week one."""
    found = planned("forearms_on_desk", **LOW_KEYS)
    told = afterwards(found, CATALOG)
    assert [one["source"] for one in told["second_choices"]] == ["cook_burgess_2004"]
    assert "9 of 59" in told["second_choices"][0]["why"]
    page = plan_text(found, CATALOG, SAMPLE)
    assert "If you give it up" in page
    assert "Two weeks later" in page


def test_every_chosen_step_is_looked_at_again() -> None:
    found = planned("back_towel", "break_timer", places__0__seat__back="flat", tasks__0__spell="120")
    assert [one["with"] for one in afterwards(found, CATALOG)["recheck"]] == [
        step.option.with_name for step in found.steps
    ]


def test_advice_stands_beside_the_plan_and_changes_no_number() -> None:
    case = made(**OPEN)
    without = dataclasses.replace(few("back_towel"), advice=())
    assert plan(case, without, SAMPLE).after.total == plan(case, few("back_towel"), SAMPLE).after.total
    assert {"band_exercise", "microbreaks", "cable_tidy"} <= {one.id for one in CATALOG.advice}


def test_advice_can_be_read_in_full() -> None:
    shown = CliRunner().invoke(deskmend, ["catalog", "band_exercise"])
    assert shown.exit_code == 0
    assert "198 people" in " ".join(shown.stdout.split())


def test_a_shared_seat_takes_only_what_comes_off_again() -> None:
    for place in (False, True):
        case = made(**{**OPEN, "places__0__seat__height": "480", **(SHARED if place else {})})
        offered = {o.fix.id for o in offers_for(case, state_of(case), CATALOG, SAMPLE).options()}
        assert ("chair_legs_shorten" in offered) is not place
        kept = {fix.id for fix in CATALOG.fixes if not fix.reversible and fix.scope == "place"}
        assert not place or not kept & offered


def test_shared_seats_are_told_for_the_smallest_and_the_largest() -> None:
    case = made(**{**OPEN, **SHARED})
    notes = shared_notes(case, [state_of(case)])
    assert "shared" in notes[0]
    assert any("1950 mm do not fit" in note for note in notes)
    assert shared_notes(made(**OPEN), [state_of(made(**OPEN))]) == ()


@pytest.mark.parametrize("name", ["chair_used_adjustable", "second_hand_monitor"])
def test_what_is_for_request_only_is_named_and_not_planned_unasked(name: str) -> None:
    case = made(**OPEN)
    left = {(one.fix.id, one.cause) for one in offers_for(case, state_of(case), CATALOG, SAMPLE).left_out}
    assert (name, "on_request") in left
    offered = offers_for(case, state_of(case), CATALOG, SAMPLE, asked={name})
    assert name in {option.fix.id for option in offered.options()}


@pytest.mark.parametrize("currency", ["EUR", "JPY", "KWD"])
def test_each_invented_place_can_plan(currency: str) -> None:
    prices = load_prices(CATALOG.price_folder / f"sample_{currency.lower()}.csv")
    case = made(
        **{**OPEN, "means__currency": currency, "means__budget": "9000" if currency == "JPY" else "20"}
    )
    found = plan(case, few("keyboard_basic", "mouse_basic", "screen_box"), prices, must=["keyboard_basic"])
    assert found.currency == currency
    assert found.cost >= prices["keyboard"].price


def test_second_hand_things_say_to_look_before_paying() -> None:
    found = planned("second_hand_monitor", "keyboard_basic", "mouse_basic")
    page = " ".join(plan_text(found, CATALOG, SAMPLE).split())
    assert "second hand, look before you pay" in page


def test_the_document_of_the_catalog_holds_what_is_new() -> None:
    document = json.loads(CliRunner().invoke(deskmend, ["catalog", "--json"]).stdout)
    fixes = {one["id"]: one for one in document["fixes"]}
    assert fixes["mouse_other_hand"]["often_dropped"]["fix"] == "keyboard_no_number_pad"
    assert fixes["second_hand_monitor"]["on_request"] is True
    assert [one["id"] for one in document["advice"]] == [one.id for one in CATALOG.advice]


def test_the_facts_are_all_held() -> None:
    """Every fix of the reference facts is a fix or advice here, some under another name."""
    facts = ROOT.parent / "shared" / "facts"
    if not facts.is_dir():
        pytest.skip("the reference facts are not beside the project")
    asked = {
        fact["id"]
        for name in ("fixes.json", "fixes_extra.json")
        for fact in json.loads((facts / name).read_text(encoding="utf-8"))
    }
    renamed = {
        "paper_side_hand": "paper_side",
        "seat_lower_floor": "seat_height",
        "split_two_places": "place",
        "screen_hood_matt": "screen_hood",
        "stand_counter": "stand_by_turns",
    }
    held = {*CATALOG.by_id, *(one.id for one in CATALOG.advice)}
    assert {renamed.get(one, one) for one in asked} - held == set()
