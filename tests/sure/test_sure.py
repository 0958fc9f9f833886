"""Counts and losses are right: against plain enumeration, a case built to flip, and plans made one by one."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest
from tests.catalog.small_catalog import shipped_only
from tests.goals.small_cases import SmallCase, small_case
from tests.planning.cases import SAMPLE, made

from deskmend.choice import solve
from deskmend.planning.bill import bill_of, minutes_of
from deskmend.planning.draws import ALL_ERRORS, Errors, Sample, case_with, draw, uncertain_lengths
from deskmend.planning.model.cohorts import Member, gathered, items_of, problems_together
from deskmend.planning.model.offers import offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.plan import plan
from deskmend.planning.ready_case import prepare
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.planning.sure import WORLDS_TOGETHER, Sure, _Replanner, fingerprint, sure_of
from deskmend.progress import listening
from deskmend.report.worth import again_words, sure_document
from deskmend.risk.severity import moved_curves

NOTHING = Errors(tape=0, estimates=0, curves=False, prices=False)
SAMPLES, SEED = 4, 3


def counter() -> SmallCase:
    return small_case("counter_calls")


@cache
def counter_sure(seed: int = SEED) -> Sure:
    small = counter()
    return sure_of(small.case, small.catalog, small.prices, 2000, None, SAMPLES, seed)


def best_by_enumeration(small: SmallCase, one: Sample, money: int) -> tuple[set[str], set[str]]:
    """Fixes with owners, and names with sizes, that some best combination of a sample holds.

    Best: least strain, then cost, minutes, number of fixes; every option of every decision is gone through,
    applied, scored, priced and held against the rules by the plain functions.
    """
    from itertools import product

    weights = weights_of(one.case)
    offers = offers_for(one.case, one.state, small.catalog, one.prices)
    found: dict[tuple[int, int, int, int], list[tuple[str, ...]]] = {}
    for picked in product(*((None, *offer.options) for offer in offers.decisions)):
        options = [option for option in picked if option is not None]
        after = state_with(one.state, options)
        bill = bill_of(options, one.case, one.prices)
        if bill.missing or bill.total > money:
            continue
        if breaches(one.state, after, [(o.fix, o.owner) for o in options]):
            continue
        rank = (score(after, weights).total, bill.total, minutes_of(options), len(options))
        found.setdefault(rank, []).append(tuple(o.with_name for o in options))
    best = found[min(found)]
    assert len(best) == 1, "a tie would leave the order of the catalog to decide"
    return {name.split("=")[0] for name in best[0]}, set(best[0])


def test_counts_are_those_of_plain_enumeration() -> None:
    small, sure = counter(), counter_sure()
    measures = uncertain_lengths(small.case)
    stays: dict[str, int] = {}
    sized: dict[str, int] = {}
    for number in range(SAMPLES):
        one = draw(small.case, small.prices, measures, ALL_ERRORS, SEED, number)
        with moved_curves(one.curves):
            fixes, names = best_by_enumeration(small, one, 2000)
        for name in fixes:
            stays[name] = stays.get(name, 0) + 1
        for name in names:
            sized[name] = sized.get(name, 0) + 1
    told = {(f"{one.owner[1]}." if one.owner[1] else "") + one.fix.id: one.stays for one in sure.fixes}
    assert {name: count for name, count in told.items() if count} == stays
    assert {name: count for one in sure.fixes for name, count in one.sizes} == sized


def test_several_processes_give_the_same_answer_as_one() -> None:
    steps: list[tuple[int, int]] = []
    small = counter()
    with listening(lambda done, whole: steps.append((done, whole))):
        sure = sure_of(small.case, small.catalog, small.prices, 2000, None, SAMPLES, SEED, processes=2)
    assert sure == counter_sure()
    assert json.dumps(sure_document(sure)) == json.dumps(sure_document(counter_sure()))
    # more worlds than one process is enough for, and each is told
    whole = SAMPLES + sum(len(effect.ends) for effect in sure.measures)
    assert whole > WORLDS_TOGETHER
    assert steps[-whole:] == [(number + 1, whole) for number in range(whole)]


@pytest.mark.thorough
def test_the_same_seed_gives_the_same_answer_and_another_one_another() -> None:
    small = counter()
    again = sure_of(small.case, small.catalog, small.prices, 2000, None, SAMPLES, SEED)
    assert again == counter_sure()
    states = [
        repr(draw(small.case, small.prices, uncertain_lengths(small.case), ALL_ERRORS, seed, 0))
        for seed in (3, 4)
    ]
    assert states[0] != states[1]


def test_without_errors_everything_stays_and_nothing_is_worth_measuring_again() -> None:
    small = counter()
    sure = sure_of(small.case, small.catalog, small.prices, 2000, None, 3, errors=NOTHING)
    assert sure.same_fixes == 3
    assert [one.stays for one in sure.fixes] == [3] * len(sure.fixes)
    assert all(one.planned is not None for one in sure.fixes)
    assert (sure.measures, sure.again, sure.flip, sure.without_plan) == ((), None, None, 0)


def test_worlds_made_together_have_the_plans_and_the_strain_of_each_alone() -> None:
    """Curves, prices and measures are each world's own."""
    small = small_case("kitchen_books")
    measures = uncertain_lengths(small.case)
    drawn = [draw(small.case, small.prices, measures, ALL_ERRORS, SEED, number) for number in range(5)]
    members = []
    for one in drawn:
        with moved_curves(one.curves):
            offers = offers_for(one.case, one.state, small.catalog, one.prices)
        members.append(Member(one.case, one.state, offers, weights_of(one.case), one.curves))
    assert len(gathered(members)) == 1
    strains = set()
    for one, own_problem in zip(drawn, problems_together(members, small.prices), strict=True):
        assert own_problem is not None
        base, fixed = own_problem
        with moved_curves(one.curves):
            alone = prepare(one.case, small.catalog, one.prices, state=one.state)
        items = items_of(base.decisions, one.case, one.prices)
        together, own = solve(replace(base, items=items, money=2000)), solve(alone.problem(2000, None))
        assert alone.offers.taken(together.options) == alone.options_of(own)
        assert together.value + fixed == own.value + alone.fixed_strain
        assert (together.cost, together.minutes) == (own.cost, own.minutes)
        strains.add(own.value + alone.fixed_strain)
    assert len(strains) == len(drawn)


def test_the_plan_asked_about_is_the_plan() -> None:
    small, sure = counter(), counter_sure()
    found = plan(small.case, small.catalog, small.prices, 2000)
    planned = {one.planned.with_name for one in sure.fixes if one.planned is not None}
    assert planned == {step.option.with_name for step in found.steps}
    assert planned


# --- a case built so that one length decides ------------------------------------------------------


HANGING = made(places__0__seat__height="455", owns={"hardback_book": ["30", "40"]})
"""Feet hang by 455 - 400 - 15 = 40 mm, and books of 30 and 40 mm are at hand. With the hollow of the knee
20 mm higher they hang by 20, which counts for nothing, and a book would only be in the way; 20 mm lower, the
book of 30 misses the soles and that of 40 does not. The seat may be off by 10 and the heels by 3, which
leaves them hanging by 30 at least, where something counts from 25."""
BOOK = shipped_only("feet_book")


@cache
def hanging() -> Sure:
    return sure_of(HANGING, BOOK, SAMPLE, None, None, 1, errors=Errors(1, 0, False, False))


def test_the_length_that_decides_is_told_and_where() -> None:
    sure = hanging()
    assert [one.fix.id for one in sure.fixes if one.planned] == ["feet_book"]
    assert [effect.measure.key for effect in sure.measures if effect.flips] == [
        "person.body.popliteal_height"
    ]
    assert sure.again is not None
    assert sure.again.measure.key == "person.body.popliteal_height"
    assert sure.flip is not None
    assert 400 < sure.flip.stays_at < sure.flip.flips_at <= 420
    assert sure.flip.flips_at - sure.flip.stays_at == 1
    for value, fixes in ((sure.flip.stays_at, ["feet_book"]), (sure.flip.flips_at, [])):
        found = plan(case_with(HANGING, {sure.again.measure.path: value}), BOOK, SAMPLE, every_gain=True)
        assert [step.option.fix.id for step in found.steps] == fixes
    # leaving the book there loses just what it adds: strain with it less strain without it
    (end,) = [end for end in sure.again.ends if end.flips]
    there = plan(case_with(HANGING, {sure.again.measure.path: 420.0}), BOOK, SAMPLE)
    assert (end.value, end.strain) == (420.0, there.before.total)
    assert end.regret is not None
    assert end.regret > 0


def test_what_a_plan_leaves_already_hangs_on_no_measure() -> None:
    """Asked of a plan without the book: what it leaves more today is not put down to lengths that are off."""
    sure = sure_of(HANGING, BOOK, SAMPLE, None, None, 1, errors=Errors(1, 0, False, False), plan=[])
    assert [(one.fix.id, one.planned) for one in sure.fixes] in ([], [("feet_book", None)])
    now = plan(HANGING, BOOK, SAMPLE, every_gain=True)
    already = now.before.total - now.after.total
    assert already > 0
    assert {effect.already for effect in sure.measures} == {already}
    for effect in sure.measures:
        regrets = [end.regret for end in effect.ends]
        assert effect.stake == (False, max(0, *(one - already for one in regrets if one is not None)))
    (higher,) = [e.ends[1] for e in sure.measures if e.measure.key == "person.body.popliteal_height"]
    # there the best plan leaves the book away as well
    assert (higher.regret, higher.leaves) == (0, (("feet_book", ("place", "den")),))


def test_the_sentence_names_the_measure_and_both_lengths() -> None:
    flip = hanging().flip
    assert flip is not None
    text = again_words(hanging(), plan(HANGING, BOOK, SAMPLE))
    assert text.startswith(
        "The most valuable thing to measure again is: height of the hollow of the knee, sitting. "
        "It is given as 400 mm; were it 420 mm, "
    )
    assert text.endswith(f" between {flip.stays_at:.0f} mm and {flip.flips_at:.0f} mm.")


@pytest.mark.thorough
@pytest.mark.parametrize("name", ["counter_calls"])
def test_what_keeping_to_the_plan_loses_is_never_negative_and_is_scored_again(name: str) -> None:
    small, sure = small_case(name), counter_sure()
    planned = [one.planned for one in sure.fixes if one.planned is not None]
    checked = 0
    for effect in sure.measures:
        for end in effect.ends:
            assert end.regret is None or end.regret >= 0
            if end.kept.how != "as_planned" or effect.measure.estimated:
                continue
            other = case_with(small.case, {effect.measure.path: end.value})
            ready = prepare(other, small.catalog, small.prices)
            same = {(o.name, o.owner): o for o in ready.offers.options()}
            after = state_with(ready.state, [same[o.name, o.owner] for o in planned])
            assert score(after, ready.weights).total == end.kept.strain
            assert plan(other, small.catalog, small.prices, 2000).after.total == end.strain
            checked += 1
            if checked > 12:
                return
    assert checked


@pytest.mark.thorough
def test_measures_with_most_at_stake_come_first() -> None:
    sure = counter_sure()
    stakes = [effect.stake for effect in sure.measures]
    assert stakes == sorted(stakes, reverse=True)
    assert sure.again is None or sure.again.measure.can_be_taken


def test_a_dearer_price_makes_a_thing_leave_in_its_share_of_samples() -> None:
    """For sale between 10.00 and 30.00, with 20.00 in hand: it stays just where it costs no more."""
    small = counter()
    catalog = replace(small.catalog, fixes=tuple(f for f in small.catalog.fixes if f.id == "phone_headset"))
    name = catalog.fixes[0].materials[0].item
    priced = replace(small.prices.items[name], price=1500, low=1000, high=3000, pack=1, tiers=())
    table = replace(small.prices, items={name: priced})
    errors = Errors(0, 0, False, True)
    sure = sure_of(small.case, catalog, table, 2000, None, 30, errors=errors)
    costs = [draw(small.case, table, (), errors, 1, n).prices.items[name].price for n in range(30)]
    (one,) = sure.fixes
    assert one.stays == sum(cost <= 2000 for cost in costs)
    assert 0 < one.stays < 30


def test_a_must_that_is_not_on_offer_in_a_sample_leaves_it_without_a_plan() -> None:
    """A must names one size, which the owned book has; a desk too low for it in some samples."""
    case = made(
        places__0__seat__height="445",
        places__0__desk__underside="585",
        owns={"hardback_book": ["30"]},
        person__body__thigh_clearance="140",
    )
    sure = sure_of(
        case, shipped_only("seat_cushion", "feet_book"), SAMPLE, None, None, 4, must=["feet_book=30"]
    )
    assert [one.stays + sure.without_plan for one in sure.fixes if one.fix.id == "feet_book"] == [4]


def test_problems_that_differ_in_one_figure_are_told_apart() -> None:
    small = counter()
    first = prepare(small.case, small.catalog, small.prices)
    same = prepare(small.case, small.catalog, small.prices)
    lower = prepare(
        case_with(small.case, {("places", 0, "desk", "height"): 1039.0}), small.catalog, small.prices
    )
    assert fingerprint(first.problem(2000, None)) == fingerprint(same.problem(2000, None))
    assert fingerprint(first.problem(2000, None)) != fingerprint(first.problem(2001, None))
    assert fingerprint(first.problem(2000, None)) != fingerprint(lower.problem(2000, None))


@pytest.mark.parametrize(("samples", "seed"), [(0, 1), (1, -1)])
def test_bad_numbers_are_refused(samples: int, seed: int) -> None:
    small = counter()
    with pytest.raises(ValueError, match="samples from 1 and seed from 0"):
        sure_of(small.case, small.catalog, small.prices, 2000, None, samples, seed)


@pytest.mark.parametrize("changes_at", [1, 2, 7, 19, 20])
@pytest.mark.parametrize("side", [1, -1])
def test_the_length_at_which_the_fixes_change_is_found_to_the_millimetre_in_a_few_questions(
    changes_at: int, side: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By halving: of 20 mm no more than five lengths are asked about."""
    asked: list[int] = []

    def at(self: _Replanner, length: Any, off: int, world: object) -> Any:
        asked.append(off)
        assert len(asked) <= 5
        return SimpleNamespace(flips=off * side >= changes_at)

    monkeypatch.setattr(_Replanner, "_at", at)
    monkeypatch.setattr(_Replanner, "_told", lambda self, length, off: off)
    monkeypatch.setattr(_Replanner, "_worlds", lambda self, told: [None for _ in told])
    here, there = (SimpleNamespace(value=400.0 + off, flips=off == 20 * side) for off in (-20, 20))
    worst = here if side < 0 else there
    measure = SimpleNamespace(value=400.0, at=lambda off: 400.0 + off)
    effect: Any = SimpleNamespace(measure=measure, ends=(here, there), worst=worst)
    found = object.__new__(_Replanner)._flip(effect)
    assert found is not None
    assert (found.stays_at, found.flips_at) == (400.0 + side * (changes_at - 1), 400.0 + side * changes_at)


def test_everything_uncertain_is_so_by_its_usual_error_unless_said_otherwise() -> None:
    assert Errors() == Errors(tape=1.0, estimates=1.0, curves=True, prices=True) == ALL_ERRORS


def test_where_there_is_no_plan_nothing_is_taken_and_that_is_not_an_empty_plan(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    known: dict[str, Any] = {
        "none": None,
        "not found": SimpleNamespace(found=False, options={}),
        "found": SimpleNamespace(found=True, options={"a": "b"}),
    }
    monkeypatch.setattr(_Replanner, "_solved", lambda self, problem: known[problem])
    asked = object.__new__(_Replanner)
    offers = SimpleNamespace(taken=lambda options: tuple(options))

    def again(problem: str) -> object:
        world: Any = SimpleNamespace(problem=problem, offers=offers)
        return asked._again(world)

    assert asked._again(None) is None
    assert (again("none"), again("not found"), again("found")) == (None, None, ("a",))
