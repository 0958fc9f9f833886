"""What a letter and the page for whoever shares the fund say, each from the state it speaks of."""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from itertools import combinations
from typing import Any, get_args

import pytest
from tests.planning.cases import CATALOG, made

from deskmend.errors import DefectError
from deskmend.grants.fund import FundShared, FundWishes
from deskmend.grants.handing import hand_over
from deskmend.grants.people.check import check_plans, claim_of
from deskmend.grants.people.columns import Column
from deskmend.grants.people.plans import PersonPlans, PlanBasis
from deskmend.grants.terms import (
    Allocation,
    Hindrance,
    ItemOrder,
    MoreMoney,
    Waiting,
    packs_of,
    weighted_relief,
)
from deskmend.intake.applicants import ApplicantTable
from deskmend.intake.given_before import GivenBefore, Had
from deskmend.planning.mismatch import mismatches_in
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.score import score
from deskmend.planning.selection import sound_state, state_with
from deskmend.report.allocation import allocation_files, allocation_text
from deskmend.report.letter import letter, room_lacking
from deskmend.report.not_given import why_at_any_fund
from deskmend.workstation.state import state_of

from .fund_people import PRICES, rows

BASIS = PlanBasis(CATALOG, PRICES, every_gain=False)


@cache
def plans_of(name: str) -> PersonPlans:
    return PersonPlans(rows()[name], BASIS)


def shared_by(*given: tuple[str, int], called: str = "", **more: Any) -> FundShared:
    """A fund that gives each of some people the plan offered at a place among those offered."""
    chosen: dict[str, Column] = {name: plans_of(name).offered[place] for name, place in given}
    people = tuple(plans_of(name).applicant() for name in chosen)
    plans = check_plans(
        [claim_of(plans_of(name), column) for name, column in chosen.items()], BASIS, steps=True
    )
    priced = {name: item.price for name, item in PRICES.items.items()}
    orders = tuple(ItemOrder(item, n, n, priced[item]) for item, n in packs_of(chosen.values()).items())
    spent, relief = sum(order.cost for order in orders), weighted_relief(people, chosen)
    allocation = Allocation("most_relief", "optimal", chosen, orders, spent, relief, relief, relief, **more)
    table = ApplicantTable("people.csv", tuple(replace(rows()[name], name=called) for name in chosen))
    return FundShared(
        table,
        FundWishes(spent + 120),
        "EUR",
        PRICES,
        GivenBefore(),
        people,
        allocation,
        {plan.id: plan for plan in plans},
        hand_over(allocation, {plan.id: plan for plan in plans}, PRICES, CATALOG, {}),
    )


NO_HELP = (Waiting("ana-01", "no_help"),)


def told(text: str) -> str:
    return " ".join(text.split())


def test_who_waits_is_told_why_without_sums_and_whom_to_ask() -> None:
    shared = shared_by(("ana-01", 0), called="Ana", waiting=(Waiting("ana-01", "stock"),))
    text = told(letter(shared, "ana-01", CATALOG, "the office, room 3."))
    assert text.startswith(
        "Hello Ana, Your reference: ana-01 We could not help you with things this time. There were"
    )
    assert "Whom to ask: the office, room 3." in text
    assert "EUR" not in text
    nothing = told(letter(shared_by(("ana-01", 0), waiting=NO_HELP), "ana-01", CATALOG))
    assert nothing.startswith("Hello, Your reference: ana-01 We looked, and found nothing to buy")
    assert "Whom to ask: whoever sent you this letter." in nothing


def test_a_letter_of_a_later_round_names_what_came_before_and_counts_on_it() -> None:
    had = {"ana-01": Had(owned=(("bath_towel", 1),), sized=(("footrest", "100", 1), ("tape", "", 0)))}
    first = shared_by(("ana-01", 0), waiting=(Waiting("ana-01", "money", 100, 200),))
    assert "earlier round" not in letter(first, "ana-01", CATALOG)
    text = told(letter(replace(first, given=GivenBefore(had=had)), "ana-01", CATALOG))
    assert "We could not help you with more things this time. There was not enough money" in text
    heading = "You have from an earlier round"
    assert f"{heading} {'-' * len(heading)} - Towel - Footrest, height adjustable, 100 Keep these" in text
    assert not any(figure in text for figure in ("1.00", "2.00", "EUR"))


def test_nobody_is_told_that_nothing_helps_where_money_is_short() -> None:
    """Of somebody whom nothing free helps, the letter says just that."""
    plan = shared_by(("ana-01", 0), waiting=(Waiting("ana-01", "money"),)).plans["ana-01"]
    nothing = replace(plan, options=(), steps=(), today=0, strain_after=plan.strain_before)
    shared = shared_by(("ana-01", 0), waiting=(Waiting("ana-01", "money"),))
    text = told(letter(replace(shared, plans={"ana-01": nothing}), "ana-01", CATALOG))
    assert "nothing that is free and takes more strain off" in text
    assert "found nothing to buy" not in text


def test_whoever_gets_nothing_has_a_reason_or_no_letter_is_written() -> None:
    with pytest.raises(DefectError, match="nothing says why"):
        letter(shared_by(("ana-01", 0)), "ana-01", CATALOG)


@pytest.mark.parametrize("why", [*get_args(Hindrance)])
def test_each_reason_has_a_sentence_for_the_board_and_one_for_the_person(why: Hindrance) -> None:
    shared = shared_by(("ana-01", 0), waiting=(Waiting("ana-01", why),), broken_off=why == "broken_off")
    files = allocation_files(shared, CATALOG, letters=False)
    (row,) = csv.DictReader(str(files["waiting.csv"]).splitlines())
    assert {key: cell for key, cell in row.items() if cell} == {
        "id": "ana-01",
        "reason": why,
        "why": why_at_any_fund(shared.allocation.waiting[0], shared),
    }
    at_any = why in ("no_help", "decided", "cap", "weight")
    assert row["why"].endswith("; a larger fund would not change that") == at_any
    assert "Nothing given: " in files["people.csv"]
    page = told(allocation_text(shared, CATALOG, "x"))
    assert "Who is given nothing" in page
    assert ("not looked at for the reason: ana-01" in page) == (why == "broken_off")
    text = told(letter(shared, "ana-01", CATALOG))
    told_so = {"no_help": "We looked, and found nothing"}
    sentence = told_so.get(why, "We could not help you with things this time.")
    assert sentence in text
    assert ("Ask us, and we find out" in text) == (why in ("not_asked", "broken_off"))


def test_what_nothing_given_mends_is_told_to_the_person_and_to_the_board() -> None:
    """Ana's elbow hangs at 450 + 235 = 685: a table of 770 is 85 too high, and her metal stool is hard."""
    shared = shared_by(("ana-01", 0), waiting=NO_HELP)
    for text in (letter(shared, "ana-01", CATALOG), allocation_text(shared, CATALOG, "x")):
        assert (
            "At the workplace the table is too high for the arms: 770 mm. With the seat at 450 mm "
            "(front edge, sat upon), 643 to 693 mm" in told(text)
        )
        assert "At the workplace the seat is hard." in told(text)
    assert "770 mm" in allocation_files(shared, CATALOG, letters=False)["people.csv"]
    assert mismatches_in(state_of(made())) == ()
    low = made(places__0__desk__height="520", places__0__desk__underside="500")
    assert [one.kind for one in mismatches_in(state_of(low))] == ["table_low"]


def test_sizes_stand_in_the_order_and_in_the_letter_and_a_towel_is_asked_for_first() -> None:
    """Nobody wrote whether there is a towel in the house, so it is asked before it is bought."""
    place = next(k for k, one in enumerate(plans_of("cora-03").offered) if "bath_towel" in dict(one.packs))
    assert "owns.bath_towel" not in rows()["cora-03"].plain.get("owns", {})
    shared = shared_by(("cora-03", place), ("gil-07", -1))
    files = allocation_files(shared, CATALOG, letters=False)
    assert "bath_towel,1,5.90,5.90,,piece,1,cora-03,Towel\n" in files["purchase_order.csv"]
    page = allocation_text(shared, CATALOG, "x")
    assert "- Towel: cora-03\n" in page
    assert '"ask_first": {' in files["summary.json"]


def test_what_more_money_brings_is_told_as_far_as_it_says_something() -> None:
    for more, words in (
        (MoreMoney(10_000, 10_632_127_000, 17_764_477_000), "would bring 11 to 18 strain-hours a day more"),
        (MoreMoney(10_000, 400_000_000, 1_240_000_000), "would bring 0.4 to 1.2 strain-hours a day more"),
        (MoreMoney(10_000, 0, 0), "would bring nothing more"),
    ):
        assert words in told(allocation_text(shared_by(("ana-01", 0), more_money=more), CATALOG, "x"))


def test_weights_are_told_with_whom_they_count_for() -> None:
    """Where everybody counts alike nothing is said of weights."""
    plain = shared_by(("ana-01", 0))
    assert "weight" not in allocation_text(plain, CATALOG, "x")
    weighed = replace(plain, applicants=tuple(replace(one, weight=1500) for one in plain.applicants))
    assert "count by the weight that the table gives them: ana-01 x 1.5." in told(
        allocation_text(weighed, CATALOG, "x")
    )


def test_steps_that_serve_only_together_are_told_once_at_the_first() -> None:
    """Without one, another breaks a rule or takes off less than a hundredth; each set is scored by itself."""
    shared = shared_by(("ben-02", len(plans_of("ben-02").offered) - 1))
    plan = shared.plans["ben-02"]
    weights = dict(plans_of("ben-02").member.weights)

    def left(*gone: OptionSpec) -> int | None:
        there = sound_state(plan.state, [one for one in plan.steps if one not in gone])
        return None if there is None else score(there, weights).total

    def falls_with(one: OptionSpec, other: OptionSpec) -> bool:
        alone, both = left(other), left(one, other)
        return both is not None and (alone is None or 100 * (both - alone) <= plan.strain_before)

    mutual = {
        frozenset((one.with_name, other.with_name))
        for one, other in combinations(plan.steps, 2)
        if falls_with(one, other) and falls_with(other, one)
    }
    groups = [frozenset(one.with_name for one in group) for group in plan.together]
    assert mutual
    assert all(any(pair <= group for group in groups) for pair in mutual)
    assert set().union(*groups) == set().union(*mutual)
    text = told(letter(shared, "ben-02", CATALOG))
    names = [option.with_name for option in plan.steps]
    for group in groups:
        numbers = sorted(names.index(name) + 1 for name in group)
        assert text.count(f"Only together: steps {', '.join(map(str, numbers))}.") == 1
        # had the first of them been done today, it would help without the others until these are bought
        early = replace(shared, plans={**shared.plans, "ben-02": replace(plan, today=numbers[0])})
        assert f"When your things are there, only together: steps {', '.join(map(str, numbers))}." in told(
            letter(early, "ben-02", CATALOG)
        )


def test_who_is_given_more_than_the_desk_holds_is_told_and_so_is_the_board() -> None:
    """Side by side a keyboard of 320, 200 for the mouse and a sheet of 210 less 30 have room on 700."""
    taken = (
        ("keyboard", "keyboard_basic"),
        ("mouse", "mouse_basic"),
        ("task.paper_side", "paper_side=right"),
        ("place.screen_height", "screen_stand=160"),
    )
    plans = PersonPlans(rows()["ben-02"], BASIS)
    after = state_with(plans.member.state, plans.member.offers.taken(dict(taken)))
    strain = score(after, dict(plans.member.weights)).total
    given = Column((("keyboard", 1), ("mouse", 1), ("screen_stand", 1)), strain, None, taken)
    (plan,) = check_plans([claim_of(plans, given)], BASIS, steps=True)
    assert room_lacking(plan) == ""
    # on 690 the 700 that lie side by side lack 10
    width = {(("place", "place"), "desk.width"): 690.0}
    plan = replace(plan, state=plan.state.with_values(width))
    lacking = (
        "On the desk there may be too little room for what lies side by side: 10 mm of width are lacking."
    )
    assert room_lacking(plan) == lacking
    shared = shared_by(("ana-01", 0))
    both = replace(shared, plans={**shared.plans, "ben-02": plan})
    assert f"- ben-02: {lacking}" in told(allocation_text(both, CATALOG, "x"))
