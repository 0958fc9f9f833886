"""One applicant: plans are exact at any prices, the same alone as in company, and checked again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples, some

from deskmend.choice import frontier, solve
from deskmend.choice.open_prices import OpenPrices
from deskmend.errors import DefectError
from deskmend.grants.engine.share import share
from deskmend.grants.people import plans as plans_of_people
from deskmend.grants.people.columns import EVERY_COST, Column, CostBand, every_plan, pareto
from deskmend.grants.people.plans import PersonPlans, PlanBasis, every
from deskmend.grants.people.workers import InProcess
from deskmend.grants.terms import FundTerms
from deskmend.intake.given_before import Had
from deskmend.intake.prices import PriceTable
from deskmend.planning.draws import Noise
from deskmend.planning.frontier import frontier_of
from deskmend.planning.plan import plan
from deskmend.planning.reach import Goal
from deskmend.planning.ready_case import prepare
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.risk.scores.day import score_of
from deskmend.workstation.state import state_of

from .fund_people import BASE, CATALOG, PRICES, SMALL, people, plans_of, rows, told


def cost(column: Column, prices: dict[str, int]) -> int:
    return column.cost({**BASE, **prices})


@pytest.mark.parametrize("name", some(SMALL, *SMALL[::3]))
def test_columns_are_the_frontier_that_compare_shows(name: str) -> None:
    ready = prepare(plans_of(name).case, CATALOG, plans_of(name).basis.listed)
    rungs = frontier_of(ready, ready.case.means.minutes)
    columns = plans_of(name).columns({}, {})
    assert [(cost(one, {}), one.strain) for one in columns] == [(one.cost, one.strain) for one in rungs]
    assert [one.packs for one in columns] == [
        tuple((line.item, line.packs) for line in rung.bill.lines) for rung in rungs
    ]


def test_columns_at_other_prices_are_the_frontier_of_another_price_table() -> None:
    changed = {"desk_lamp": 90, "webbing": 9000, "tape": 0}
    items = {
        name: replace(item, tiers=(), stock=None, price=changed.get(name, item.price))
        for name, item in PRICES.items.items()
    }
    ready = prepare(plans_of("gil-07").case, CATALOG, replace(PRICES, items=items))
    rungs = frontier_of(ready, ready.case.means.minutes)
    columns = plans_of("gil-07").columns(changed, {})
    assert [(cost(one, changed), one.strain) for one in columns] == [(one.cost, one.strain) for one in rungs]
    assert columns != plans_of("gil-07").columns({}, {})


@examples(25)
@given(
    name=st.sampled_from(SMALL),
    tape=st.integers(0, 2000),
    cushion=st.integers(0, 4000),
    strain_weight=st.integers(0, 5000),
    money_weight=st.integers(0, 4_000_000),
)
def test_best_is_the_best_of_all_columns(
    name: str, tape: int, cushion: int, strain_weight: int, money_weight: int
) -> None:
    """Every plan that is best under some weights is on the frontier at those prices."""
    prices = {"tape": tape, "seat_cushion": cushion}

    def weighed(column: Column) -> int:
        return strain_weight * column.strain + money_weight * cost(column, prices)

    best = PersonPlans(rows()[name], PlanBasis(CATALOG, PRICES)).best(prices, strain_weight, money_weight, {})
    assert weighed(best) == min(map(weighed, plans_of(name).columns(prices, {})))


def test_weights_too_large_for_64_bits_are_weighed_exactly_all_the_same() -> None:
    plans = plans_of("cora-03")
    huge = 10**15
    best = plans.best({}, huge, huge * 2000, {})
    assert best == plans.best({}, 1, 2000, {})


def test_limits_on_packs_are_kept_and_cost_nothing_where_they_do_not_bind() -> None:
    plans = plans_of("gil-07")
    used = plans.columns({}, {})[-1].packs[0][0]
    without = plans.columns({}, {used: 0})
    assert all(dict(one.packs).get(used, 0) == 0 for one in without)
    assert without[0] == plans.columns({}, {})[0]
    assert plans.columns({}, {used: 50}) == plans.columns({}, {})
    assert dict(plans.best({}, 1, 0, {used: 0}).packs).get(used, 0) == 0


def test_money_buys_less_strain_and_nothing_bought_is_what_the_free_plan_leaves() -> None:
    for name in SMALL:
        columns = plans_of(name).columns({}, {})
        free = plans_of(name).applicant()
        assert columns[0].packs == ()
        assert columns[0].strain == free.strain_free <= free.strain_before
        assert all(one.strain > other.strain for one, other in pairwise(columns))
        assert all(cost(one, {}) < cost(other, {}) for one, other in pairwise(columns))
        base, minutes = plans_of(name).base, plans_of(name).case.means.minutes
        alone = solve(replace(base, money=0, minutes=minutes))
        assert alone.value + plans_of(name).fixed_strain == free.strain_free


@pytest.mark.thorough
def test_what_the_fund_gives_is_what_a_plan_for_that_money_gives() -> None:
    """The plan of one person at a budget is the fund's column of that cost."""
    plans = plans_of("cora-03")
    for column in plans.columns({}, {}):
        alone = plan(plans.case, CATALOG, plans.basis.listed, budget=cost(column, {}), every_gain=True)
        assert (alone.cost, alone.after.total) == (cost(column, {}), column.strain)


def test_discomfort_counts_only_where_asked() -> None:
    row = rows()["dado-04"]
    assert row.case.person.discomfort.lower_back == 5
    plain = plans_of("dado-04").applicant()
    asked = PersonPlans(row, PlanBasis(CATALOG, PRICES, use_discomfort=True)).applicant()
    state = state_of(row.case)
    assert plain.strain_before == score(state, dict.fromkeys(weights_of(row.case), 1.0)).total
    assert asked.strain_before == score(state, weights_of(row.case)).total > plain.strain_before


def test_what_was_given_before_counts_as_owned() -> None:
    column = plans_of("dado-04").columns({}, {})[-1]
    assert column.packs
    again = PersonPlans(
        rows()["dado-04"],
        PlanBasis(CATALOG, PRICES),
        Had(owned=tuple((i, n * PRICES[i].pack) for i, n in column.packs)),
    )
    assert again.applicant().strain_free == column.strain
    assert [one.packs for one in again.columns({}, {})] == [()]


@pytest.mark.thorough
@pytest.mark.parametrize("kept", [Goal("rosa", 5), pytest.param(Goal("rula", 4), marks=pytest.mark.thorough)])
def test_the_cheapest_plan_that_keeps_a_score_is_among_the_columns(kept: Goal) -> None:
    plans = PersonPlans(rows()["ben-02"], PlanBasis(CATALOG, PRICES, kept=kept))
    columns = plans.columns({}, {})
    keeping = [one for one in columns if one.score is not None and one.score <= kept.at_most]
    cheapest = plan(plans.case, CATALOG, plans.basis.listed, goals=[kept])
    assert min(cost(one, {}) for one in keeping) == cheapest.cost
    assert plans.applicant().score_free == columns[0].score
    for one in columns:
        assert (
            score_of(state_with(plans.member.state, told(plans, one, False).options), kept.name) == one.score
        )


@pytest.mark.thorough
def test_nobody_depends_on_who_else_is_asked_about() -> None:
    together = people(SMALL)
    for name in reversed(SMALL):
        alone = people((name,))
        assert alone.columns({}, [name])[name] == together.columns({}, list(SMALL))[name]
        assert alone.applicants()[0] == next(one for one in together.applicants() if one.id == name)


@pytest.mark.parametrize("change", [{"strain": 1}, {"packs": ()}, {"choice": ()}])
def test_a_plan_that_is_not_what_it_claims_is_refused(change: dict[str, object]) -> None:
    plans = plans_of("dado-04")
    column = plans.columns({}, {})[-1]
    assert told(plans, column, False).strain_after == column.strain
    with pytest.raises(DefectError, match="worked out again"):
        told(plans, replace(column, **change), False)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", some(["dado-04", "gil-07", "nour-14"], "gil-07"))
def test_every_plan_that_matters_is_what_the_plain_search_finds(name: str) -> None:
    """Against the search that asks whole frontiers: the same plans within the band that nothing beats."""
    plans = plans_of(name)
    items = ("footrest", "keyboard", "mouse", "screen_stand", "tape")
    prices = {"footrest": 1900, "tape": 300}
    best = plans.best(prices, 1000, 1_500_000, {})
    at_most = 1000 * best.strain + 1_500_000 * cost(best, prices) + 4 * 10**9
    band = CostBand(prices, 1000, 1_500_000, at_most)

    def rest(column: Column) -> int:
        return sum(BASE[item] * count for item, count in column.packs if item not in items)

    def beats(one: Column, other: Column) -> bool:
        mine, theirs = dict(one.packs), dict(other.packs)
        figures = (rest(one), one.strain, *(mine.get(item, 0) for item in items))
        against = (rest(other), other.strain, *(theirs.get(item, 0) for item in items))
        return figures != against and all(a <= b for a, b in zip(figures, against, strict=True))

    def wanted(columns: list[Column]) -> set[tuple[object, int]]:
        within = [one for one in columns if 1000 * one.strain + 1_500_000 * cost(one, prices) <= at_most]
        return {(one.packs, one.strain) for one in within if not any(beats(two, one) for two in columns)}

    plain, ours = every_plan(plans, BASE, items, band), every(plans, BASE, items, band)
    assert plain is not None
    assert ours is not None
    assert wanted(ours) == wanted(plain)
    assert len(wanted(ours)) > 1


def given_what_is_told(name: str, prices: PriceTable = PRICES) -> PersonPlans:
    return PersonPlans(rows()[name], PlanBasis(CATALOG, prices, every_gain=False))


def test_money_goes_only_for_what_can_be_told_from_the_plan_offered_before() -> None:
    """A lamp at 250 lux for 16.90 cannot be told from light enough."""
    every, told = plans_of("ana-01"), given_what_is_told("ana-01")
    assert [dict(one.packs) for one in every.columns({}, {})][-1] == {"desk_lamp": 1}
    assert list(told.columns({}, {})) == [every.free]
    assert told.best({}, 10**9, 1, {}) == every.free


def test_each_plan_offered_is_told_from_those_below_and_so_is_each_thing_in_it() -> None:
    """What is left without a thing is worked out from the fixes alone."""
    held = given_what_is_told("cora-03")
    noise = Noise(held.case, held.member.state, dict(held.member.weights))
    found, every = held.columns({}, {}), plans_of("cora-03").columns({}, {})
    taken = [held.member.offers.taken(dict(one.choice)) for one in found]  # type: ignore[call-overload]
    assert found[0] == plans_of("cora-03").free
    assert 2 < len(found) < len(every)
    for number, (less, more) in enumerate(pairwise(taken)):
        assert noise.distinguishable(less, more)
        for item, _ in found[number + 1].packs:
            without = [one for one in more if all(m.item != item for m in one.fix.materials)]
            assert noise.distinguishable(without, more), item
    assert not noise.distinguishable(taken[-1], held.member.offers.taken(dict(every[-1].choice)))  # type: ignore[call-overload]


def test_where_a_scarce_thing_is_gone_the_best_told_plan_without_it_is_offered() -> None:
    few = replace(PRICES.items["pipe_foam"], stock=1)
    held = given_what_is_told("cora-03", replace(PRICES, items={**PRICES.items, "pipe_foam": few}))
    with_it = [one for one in held.offered if dict(one.packs).get("pipe_foam")]
    without = held.columns({}, {"pipe_foam": 0})
    assert with_it
    assert len(without) > 1
    assert {*with_it, *without} == set(held.offered)
    assert with_it == [one for one in given_what_is_told("cora-03").offered if one in with_it]
    assert set(given_what_is_told("cora-03").offered) < set(held.offered)


def test_all_frontiers_under_limits_come_of_one_search() -> None:
    held = given_what_is_told("pita-16")
    limits: list[dict[str, int]] = [
        {},
        {"screen_stand": 0},
        {"footrest": 0},
        {"screen_stand": 0, "footrest": 0},
    ]
    listed = {item.name: item.price or 0 for item in held.base.items}
    found = every(plans_of("pita-16"), BASE, held.basis.coupling, EVERY_COST)
    assert found is not None
    for most in limits:
        within = [one for one in found if all(n <= most.get(item, n) for item, n in one.packs)]
        assert pareto(within, listed) == list(held.frontier({}, most))


@pytest.mark.parametrize("name", some(["gil-07", "pita-16"], "pita-16"))
def test_what_is_read_off_the_list_is_what_a_search_finds(name: str) -> None:
    """Frontiers at other prices and under limits, with the same fixes, and the best at a price."""
    mine, basis = PersonPlans(rows()[name], PlanBasis(CATALOG, PRICES)), plans_of(name).basis
    minutes = mine.case.means.minutes
    assert mine.plan_list
    asked: list[tuple[dict[str, int], dict[str, int]]] = [
        ({}, {}),
        ({}, {"screen_stand": 0, "footrest": 0}),
        ({"screen_stand": 900, "keyboard": 1500}, {}),
        ({item: 1 for item in basis.coupling}, {"footrest": 0}),
    ]
    for prices, limits in asked:
        searched = frontier(replace(mine.problem(prices, limits), minutes=minutes))
        listed = mine.frontier(prices, limits)
        assert list(listed) == [mine.column(one) for one in searched]
        assert [one.choice for one in listed] == [mine.column(one).choice for one in searched]
        for weight in (40, 400, 4000):
            found = OpenPrices(mine.problem(prices, limits)).least(1, weight, minutes=minutes)
            assert found is not None
            assert mine.best(prices, 1, weight, limits) == mine.column(found)


def test_where_money_is_no_limit_the_best_of_the_list_is_as_good_as_any_search_finds() -> None:
    mine = PersonPlans(rows()["gil-07"], PlanBasis(CATALOG, PRICES))
    for price in (0, 300, 2000):
        prices = dict.fromkeys(BASE, 0) | dict.fromkeys(mine.basis.coupling, price)
        for weight in (1, 30, 900):
            found = OpenPrices(mine.problem(prices, {})).least(1, weight, minutes=mine.case.means.minutes)
            assert found is not None
            best, searched = mine.best(prices, 1, weight, {}), mine.column(found)
            assert (best.strain, best.cost(prices)) == (searched.strain, searched.cost(prices))
            assert best.cost(BASE) <= searched.cost(BASE)
        band = CostBand(prices, 1, 30, mine.best(prices, 1, 30, {}).strain + 40_000)
        within = every(mine, BASE, mine.basis.coupling, band)
        plain = every_plan(mine, BASE, mine.basis.coupling, band)
        assert within is not None
        assert plain is not None
        for one in plain:
            if one.strain + 30 * one.cost(prices) <= band.at_most:
                assert any(_beats(other, one, mine.basis.coupling) for other in within)


def _beats(one: Column, other: Column, items: Sequence[str]) -> bool:
    """Whether a plan is as good in strain, in packs of some items and in listed cost of the rest."""
    mine, theirs = dict(one.packs), dict(other.packs)
    rest = BASE | dict.fromkeys(items, 0)
    few = all(mine.get(item, 0) <= theirs.get(item, 0) for item in items)
    return few and one.strain <= other.strain and one.cost(rest) <= other.cost(rest)


def test_plans_of_whom_all_that_is_scarce_concerns_are_read_off_the_list(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """And nothing is searched for that."""
    plain = {name: replace(item, tiers=(), stock=None) for name, item in PRICES.items.items()}
    few = replace(PRICES, items={**plain, "screen_stand": replace(plain["screen_stand"], stock=3)})
    mine = PersonPlans(rows()["pita-16"], PlanBasis(CATALOG, few))
    assert mine.basis.coupling == ("screen_stand",)
    assert any(item.name == "screen_stand" for item in mine.base.items)
    assert mine.plan_list is not None
    every_one = [mine.column(choice) for choice in mine.plan_list.choices]
    monkeypatch.setattr(
        plans_of_people, "OpenPrices", lambda *asked: pytest.fail("nothing is to be searched")
    )
    assert every(mine, BASE, ["screen_stand"], EVERY_COST) == every_one


def test_a_list_holds_the_free_plan_and_nothing_that_leaves_more() -> None:
    mine = PersonPlans(rows()["pita-16"], PlanBasis(CATALOG, PRICES))
    found = every(mine, BASE, mine.basis.coupling, EVERY_COST)
    assert found is not None
    assert min(one.strain for one in found if not one.packs) == mine.free.strain
    assert max(one.strain for one in found) == mine.free.strain
    uncut = OpenPrices(mine.base, mine.basis.coupling)
    everything = [mine.column(one) for one in uncut.unbeaten(0, 0, None, 0, mine.case.means.minutes)]
    assert {one for one in everything if one.strain <= mine.free.strain} == set(found)
    dear = 1 + sum(int(table.values.max()) for table in mine.base.tables)
    just_met = PersonPlans(rows()["pita-16"], PlanBasis(CATALOG, PRICES))
    assert just_met.best({}, 1, dear, {}) == mine.best({}, 1, dear, {}) == mine.free
    assert just_met.best({"tape": 3}, 9, 2000, {}) == mine.best({"tape": 3}, 9, 2000, {})


def test_a_fund_shared_over_what_is_offered_is_as_good_as_trying_all_of_it() -> None:
    names = ("cora-03", "dado-04", "gil-07")
    workers = InProcess(PlanBasis(CATALOG, PRICES, every_gain=False))
    pool = people(names, workers)
    applicants = pool.applicants()
    terms = FundTerms(2900, BASE)
    found = share(applicants, pool, terms, questions=False)
    offered = [given_what_is_told(name).offered for name in names]
    free = {one.id: one.strain_free for one in applicants}
    best = max(
        sum(one.weight * (free[one.id] - plan.strain) for one, plan in zip(applicants, plans, strict=True))
        for plans in product(*offered)
        if sum(plan.cost(BASE) for plan in plans) <= terms.fund
    )
    assert (found.status, found.relief) == ("optimal", best)
    assert best > 0
