"""Plans of many people checked at once: each told as if alone, and what is not so named and refused."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from random import Random
from typing import Any

import pytest
from tests.planning.drawn_workplaces import checked, drawn_case, drawn_options

from deskmend.errors import DefectError
from deskmend.grants.people.check import Claim, check_plans, claim_of
from deskmend.grants.people.columns import Column
from deskmend.grants.people.plans import PersonPlans, PlanBasis
from deskmend.intake.applicants import ApplicantRow
from deskmend.planning.bill import bill_of, minutes_of
from deskmend.planning.inputs import most_urgent
from deskmend.planning.model.offers import Offer, Offers, OptionSpec, offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.order import Outcomes, in_set_up_order, put_in_order
from deskmend.planning.reach import Goal
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.risk.scores.day import score_of
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import state_of

from .fund_people import CATALOG, PRICES, SMALL, plans_of, rows, told

BASIS = PlanBasis(CATALOG, PRICES)
SCORED = PlanBasis(CATALOG, PRICES, kept=Goal("rosa", 5))


def decision_of(claim: Claim, option: OptionSpec) -> str:
    return next(offer.name for offer in claim.offers.decisions if option in offer.options)


def claiming(claim: Claim, options: list[OptionSpec], basis: PlanBasis = BASIS) -> Claim:
    """The claim of some fixes, with figures worked out one by one, whether or not they may be done."""
    after = state_with(claim.state, options)
    bill = bill_of(options, claim.case, basis.listed)
    column = Column(
        tuple((line.item, line.packs) for line in bill.lines),
        score(after, claim.weights).total,
        None if basis.kept is None else score_of(after, basis.kept.name),
        tuple((decision_of(claim, option), option.name) for option in options),
    )
    return replace(claim, column=column)


def options_of(claim: Claim) -> list[OptionSpec]:
    assert isinstance(claim.column.choice, tuple)
    names = dict(claim.column.choice)
    offered = ((offer, option) for offer in claim.offers.decisions for option in offer.options)
    return [option for offer, option in offered if names.get(offer.name) == option.name]


def allowed(claim: Claim, options: list[OptionSpec]) -> bool:
    most = claim.case.means.minutes
    after = state_with(claim.state, options)
    return (
        not breaches(claim.state, after, [(option.fix, option.owner) for option in options])
        and not bill_of(options, claim.case, BASIS.listed).missing
        and (most is None or minutes_of(options) <= most)
    )


@cache
def honest(rosa: bool = False) -> tuple[Claim, ...]:
    """Drawn people with drawn fixes that they may have, in one case out of five none at all."""
    draw = Random(23)
    found = []
    for number in range(10 if rosa else 25):
        plain = drawn_case(draw, several_places=number % 3 == 0)
        case = checked(plain)
        state = state_of(case)
        row = ApplicantRow(f"p{number:02}", number, 1000, "", plain, "drawn")
        offers = offers_for(case, state, CATALOG, BASIS.listed)
        claim = Claim(row, case, state, offers, weights_of(case), Column((), 0, None, ()), 5 * number)
        taken: list[OptionSpec] = []
        for option in drawn_options(draw, offers, state, 12 if number % 5 else 0):
            if allowed(claim, [*taken, option]):
                taken.append(option)
        found.append(claiming(claim, taken, SCORED if rosa else BASIS))
    return tuple(found)


def test_the_drawn_people_are_given_all_sorts_of_things() -> None:
    kinds = Counter(option.fix.kind for claim in honest() for option in options_of(claim))
    assert set(kinds) == {"rearranged", "habit", "made", "bought"}
    assert any(claim.column.packs for claim in honest())
    assert any(not claim.column.choice for claim in honest())
    assert any(len(claim.state.tasks) > 1 for claim in honest())
    assert any(
        claim.state.values[("place", "den"), "stand_share"] == share
        for claim in honest()
        for share in (0.5, 1)
    )


@pytest.mark.parametrize("rosa", [False, True])
def test_what_is_told_of_everybody_is_what_the_functions_for_one_tell(rosa: bool) -> None:
    basis = SCORED if rosa else BASIS
    given = check_plans(honest(rosa), basis, steps=False)
    assert [one.id for one in given] == [claim.row.id for claim in honest(rosa)]
    for one, claim in zip(given, honest(rosa), strict=True):
        after = state_with(claim.state, options_of(claim))
        assert one.options == in_set_up_order(options_of(claim))
        assert one.strain_before == score(claim.state, claim.weights).total
        assert one.strain_after == score(after, claim.weights).total
        assert one.strain_free == claim.free_strain
        assert one.bill == bill_of(one.options, claim.case, basis.listed)
        assert one.minutes == minutes_of(one.options)
        assert one.urgency == most_urgent(claim.case, CATALOG)
        assert (one.state, one.steps) == (claim.state, ())


def test_steps_of_today_cost_nothing_and_each_lowers_the_strain_of_today() -> None:
    """Nothing that costs nothing would be better left, or done otherwise, until the things are there."""
    claims = [claim for claim in honest() if 0 < len(options_of(claim)) < 5][:4]
    for one, claim in zip(check_plans(claims, BASIS, steps=True), claims, strict=True):
        done = put_in_order(one.options, claim.case, BASIS.listed, Outcomes(claim.state, dict(claim.weights)))
        assert {option.with_name for option in one.steps} == {step.option.with_name for step in done}
        first = list(one.steps[: one.today])
        assert bill_of(first, claim.case, BASIS.listed).total == 0
        if len(first) == len(one.steps):
            continue
        assert one.steps[one.today :] == in_set_up_order(one.steps[one.today :])
        now = score(state_with(claim.state, first), claim.weights).total
        for option in first:
            others = [other for other in first if other is not option]
            assert score(state_with(claim.state, others), claim.weights).total >= now


def test_books_that_fit_the_feet_only_on_the_cushion_wait_for_it() -> None:
    plans = PersonPlans(rows()["fumi-06"], BASIS)
    taken = (("place.seat_surface", "seat_cushion=60"), ("place.feet", "feet_book=53"))
    offers = {offer.name: offer for offer in plans.member.offers.decisions}
    found = [next(o for o in offers[name].options if o.name == option) for name, option in taken]
    after = state_with(plans.member.state, found)
    strain = score(after, dict(plans.member.weights)).total
    column = Column((("seat_cushion", 1),), strain, None, taken)
    (one,) = check_plans([claim_of(plans, column)], BASIS, steps=True)
    assert [option.name for option in one.steps] == ["seat_cushion=60", "feet_book=53"]
    assert one.today == 0


def test_the_plans_of_a_table_told_at_once_are_those_told_one_by_one() -> None:
    asked = [(plans_of(name), column) for name in SMALL for column in plans_of(name).columns({}, {})[::3]]
    claims = [claim_of(plans, column) for plans, column in asked]
    together = check_plans(claims, BASIS, steps=False)
    assert together == [told(plans, column, False) for plans, column in asked]
    assert [one.strain_after for one in together] == [column.strain for _, column in asked]
    assert check_plans([], BASIS, steps=False) == []


def test_a_plan_that_was_never_asked_for_is_the_free_one() -> None:
    """The engine gives it, without a choice, where it is broken off early."""
    plans = plans_of("cora-03")
    unasked = Column((), plans.free.strain)
    assert told(plans, unasked, False) == told(plans, plans.free, False)
    assert claim_of(plans, unasked).column is plans.free


def test_warning_signs_are_told_as_for_one() -> None:
    claim = honest()[0]
    person = claim.case.person.model_copy(update={"warning_signs": ("weight_loss", "saddle_numbness")})
    warned = replace(claim, case=claim.case.model_copy(update={"person": person}))
    one, other = check_plans([warned, claim], BASIS, steps=False)
    assert (one.urgency, other.urgency) == ("emergency", None)


# --- what is not so ------------------------------------------------------------------------------


def refused(broken: Claim, match: str, basis: PlanBasis = BASIS, rosa: bool = False) -> None:
    """Refused by name, wherever it stands among honest people, who pass without it."""
    others = [claim for claim in honest(rosa) if claim.row.id != broken.row.id][:3]
    check_plans(others, basis, steps=False)
    for place in (0, 2, 3):
        with pytest.raises(DefectError, match=rf"^{broken.row.id}: .*{match}"):
            check_plans([*others[:place], broken, *others[place:]], basis, steps=False)


def buying() -> Claim:
    """Somebody for whom several things are bought."""
    return max(honest(), key=lambda claim: len(claim.column.packs))


BROKEN: dict[str, Callable[[Column], dict[str, Any]]] = {
    "a millionth more": lambda column: {"strain": column.strain + 1},
    "a millionth less": lambda column: {"strain": column.strain - 1},
    "a pack too many": lambda column: {
        "packs": ((column.packs[0][0], column.packs[0][1] + 1), *column.packs[1:])
    },
    "an item left out": lambda column: {"packs": column.packs[1:]},
    "nothing bought": lambda column: {"packs": ()},
    "a fix left out": lambda column: {"choice": column.choice[1:]},  # type: ignore[index]
    "no choice": lambda column: {"choice": None},
    "a score nobody asked for": lambda column: {"score": 4},
}


@pytest.mark.parametrize("how", BROKEN)
def test_figures_that_are_not_so_are_refused(how: str) -> None:
    column = buying().column
    refused(replace(buying(), column=replace(column, **BROKEN[how](column))), "worked out again")


def test_a_score_that_is_not_so_is_refused() -> None:
    claim = honest(rosa=True)[1]
    assert claim.column.score is not None
    wrong = replace(claim.column, score=claim.column.score + 1)
    refused(replace(claim, column=wrong), "worked out again", SCORED, rosa=True)


@pytest.mark.parametrize(
    ("pairs", "match"),
    [
        ((("den.seat_pad", "no_such_option"),), "offers no no_such_option"),
        ((("attic.seat_pad", "towel"),), "no decision is called attic.seat_pad"),
    ],
)
def test_what_is_not_offered_is_refused(pairs: tuple[tuple[str, str], ...], match: str) -> None:
    claim = buying()
    first = claim.offers.decisions[0].name
    known = tuple((first if name.startswith("den.") else name, option) for name, option in pairs)
    refused(replace(claim, column=replace(claim.column, choice=known)), match)


def test_a_decision_settled_twice_is_refused() -> None:
    claim = buying()
    assert isinstance(claim.column.choice, tuple)
    twice = (*claim.column.choice, claim.column.choice[0])
    refused(replace(claim, column=replace(claim.column, choice=twice)), "settled twice")


def test_two_fixes_that_set_the_same_thing_are_refused() -> None:
    claim = honest()[0]
    offer = next(
        offer
        for offer in claim.offers.decisions
        if len({o.changes for o in offer.options}) > 1
        and all(c.operation == "set" for o in offer.options for c in o.changes)
        and offer.options[0].changes[0].slot == offer.options[-1].changes[0].slot
    )
    split = Offers(
        (Offer("one", offer.owner, offer.options[:1]), Offer("other", offer.owner, offer.options[-1:])), ()
    )
    choice = (("one", offer.options[0].name), ("other", offer.options[-1].name))
    refused(replace(claim, offers=split, column=replace(claim.column, choice=choice)), "is set twice")


def breaking(start: str) -> Claim:
    """The first claim, true in all figures, whose fixes break rules of one kind alone: by how it is told."""
    for claim in honest():
        offers = offers_for(claim.case, claim.state, CATALOG, BASIS.listed, everything=True)
        claim = replace(claim, offers=offers)
        ends = [o for offer in claim.offers.decisions for o in (offer.options[0], offer.options[-1])]
        rivals = [[a, b] for a in ends for b in ends if b.fix.id in a.fix.conflicts]
        for options in [*([one] for one in ends), *rivals]:
            try:
                after = state_with(claim.state, options)
            except TwoSets:
                continue
            found = breaches(claim.state, after, [(option.fix, option.owner) for option in options])
            if found and all(breach.reason.startswith(start) for breach in found):
                return claiming(claim, options)
    raise AssertionError(f"nobody breaks it: {start}")


@pytest.mark.parametrize(
    "start",
    [
        "it cannot go together with",
        "the legs would no longer fit under the desk",
        "On a raised laptop its own keys and touchpad are too high",
        "The edge is rounded already",
    ],
)
def test_rules_that_are_broken_are_refused_though_all_figures_hold(start: str) -> None:
    refused(breaking(start), start)


def test_work_over_the_limit_is_refused() -> None:
    claim = buying()
    minutes = minutes_of(options_of(claim))
    assert minutes > 0
    for most, holds in ((minutes, True), (minutes - 1, False)):
        means = claim.case.means.model_copy(update={"minutes": most})
        limited = replace(claim, case=claim.case.model_copy(update={"means": means}))
        if holds:
            assert check_plans([limited], BASIS, steps=False)[0].minutes == minutes
        else:
            refused(limited, f"minutes {minutes} over the limit {most}")


def test_what_nobody_sells_is_refused() -> None:
    claim = buying()
    gone = claim.column.packs[0][0]
    items = {name: item for name, item in PRICES.items.items() if name != gone}
    basis = PlanBasis(CATALOG, replace(PRICES, items=items))
    with pytest.raises(DefectError, match=rf"{claim.row.id}: not to be had: .*{gone}"):
        check_plans([claiming(claim, options_of(claim), basis)], basis, steps=False)


@pytest.mark.parametrize(("wish", "match"), [("never", "must not be"), ("must", "must be")])
def test_wishes_that_are_not_kept_are_refused(wish: str, match: str) -> None:
    claim = buying()
    taken = {option.fix.id for option in options_of(claim)}
    other = next(o.fix.id for o in claim.offers.options() if o.fix.id not in taken)
    kept, broken = (other, min(taken)) if wish == "never" else (min(taken), other)

    def wishing(fix: str) -> Claim:
        wishes = claim.case.wishes.model_copy(update={wish: (fix,)})
        return replace(claim, case=claim.case.model_copy(update={"wishes": wishes}))

    assert check_plans([wishing(kept)], BASIS, steps=False)
    refused(wishing(broken), match)
