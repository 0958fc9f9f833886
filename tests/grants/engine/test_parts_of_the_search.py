"""Each step of the search for a share alone: where an order is parted, what is asked first, what a bound is.

All people, prices and plans are invented.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from deskmend.grants.engine import master
from deskmend.grants.engine.arrays import AllocationProblem, Assignment, OrderRange, relief_aim
from deskmend.grants.engine.branching import Branching, _cut
from deskmend.grants.engine.master import MasterProgram, _Solved, share_known
from deskmend.grants.engine.prices import Duals
from deskmend.grants.engine.pricing import SAMPLE, ColumnSearch
from deskmend.grants.engine.share import Reasons, _Sharing, share
from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms
from deskmend.progress import Deadline

from .instances import Fund, invented
from .listed import ListedPlans, ListedPool
from .one_piece import most_by_one_program

WAYS = (OrderRange(0, 0, 10), OrderRange(1, 9, 10), OrderRange(10, 30, 7))
"""None of a thing, up to nine of it, or ten and more for less."""


def search_of(fund: Fund) -> ColumnSearch:
    applicants, pool, terms = fund
    return ColumnSearch(sorted(applicants, key=lambda one: one.id), pool, terms, Deadline(None))


def two_mats(fund: int = 1000, **terms: object) -> Fund:
    """Two people whom a mat helps, at 500 each."""
    rules = FundTerms(fund, {"mat": 500}, **terms)  # type: ignore[arg-type]
    people = [Applicant("first", 1000, 1000, 10**6), Applicant("second", 1000, 1000)]
    plans = ListedPlans([Column((), 1000), Column((("mat", 1),), 700)], rules.base)
    return people, ListedPool({one.id: plans for one in people}), rules


# --- parting the ways of ordering ---------------------------------------------------------------------


@pytest.mark.parametrize(("price", "inside"), [(6, range(1)), (8, range(10, 31))])
def test_an_order_is_parted_only_where_what_is_needed_lies_in_another_way(price: int, inside: range) -> None:
    """At 6 a pack buying none counts most; at 8 ten and more do, and both ends of those lie inside."""
    most = max(range(len(WAYS)), key=lambda number: WAYS[number].worth(price, False))
    for count in range(40):
        cut = _cut(WAYS, price, count, False)
        if count in inside:
            assert cut is None
        elif cut is not None:
            assert cut == (most if count < WAYS[most].low else most + 1)


def test_a_mix_is_looked_for_only_where_there_is_a_way_to_part() -> None:
    """At 11 a pack the market gains on each it sells; a need of five lies in the way that gains: no part."""
    base = {"mat": 10}
    applicants = [Applicant(f"p{number}", 10**6, 10**6) for number in range(5)]
    known = {one.id: [Column((), 10**6), Column((("mat", 1),), 0)] for one in applicants}
    terms = FundTerms(10**6, base, stock={"mat": 9})
    search = search_of((applicants, ListedPool({k: ListedPlans(v, base) for k, v in known.items()}), terms))
    search.learn(known)
    branching = Branching(
        relief_aim(),
        terms,
        lambda: search.arrays(["mat"]),
        lambda duals: 0,
        lambda *told: None,
        1,
        Deadline(None),
    )
    (leaf,) = branching.leaves
    assert [(way.low, way.high) for way in leaf.market["mat"]] == [(0, 0), (1, 9)]
    assert branching._widest_mix(leaf, Duals(1, 1, (11,))) is None


# --- proving ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("proven", [True, False])
def test_only_a_share_that_is_proven_best_is_made_cheaper(
    proven: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    applicants, pool, terms = invented(7, 6)
    search = search_of((applicants, pool, terms))
    search.ask_everybody()
    problem = AllocationProblem(search.arrays([]), relief_aim(), replace(terms, stock={}, tiers={}))
    asked: list[Assignment] = []

    def least_money(self: MasterProgram, best: Assignment, deadline: Deadline) -> Assignment:
        asked.append(best)
        return best

    def most_value(self: MasterProgram, *rest: object, known: Assignment | None = None) -> _Solved:
        assert known is not None
        return _Solved(known, known.value if proven else None)

    monkeypatch.setattr(MasterProgram, "least_money", least_money)
    monkeypatch.setattr(MasterProgram, "most_value", most_value)
    monkeypatch.setattr(master, "bound_total", lambda problem, duals, market: duals.unit * 10**15)
    found = share_known(problem, Deadline(None), exact=True)
    assert found.best is not None
    assert (found.bound == found.best.value) is proven
    assert bool(asked) is proven


def test_a_better_share_found_before_keeps_the_bound_no_lower_than_its_own_value(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    search = search_of(invented(7, 6))
    result = search.solve(relief_aim())
    duals = result.duals
    priced, _ = search._ask(relief_aim(), duals, result.items)
    for bound in (result.value - 1, result.value + 5):
        worse = replace(result, value=result.value - 1, bound=bound)
        monkeypatch.setattr(search, "_take_in", lambda items, bands: True)
        monkeypatch.setattr(search, "_shared_exactly", lambda aim, items, cheapest, worse=worse: worse)
        made = search._improved_to_proof(relief_aim(), list(result.items), result, priced, True)
        assert (made.value, made.bound) == (result.value, max(bound, result.value))


# --- many people --------------------------------------------------------------------------------------


class Listening(ListedPool):
    """A pool that keeps of whom all plans were asked, and at how many prices everybody was asked."""

    def __init__(self, pool: ListedPool) -> None:
        super().__init__(pool.people)
        self.whole: list[Sequence[str]] = []
        self.prices = 0

    def columns(self, prices: Mapping[str, int], ids: Sequence[str]) -> Mapping[str, Sequence[Column]]:
        self.whole.append(list(ids))
        return super().columns(prices, ids)

    def best_at(self, questions):  # type: ignore[no-untyped-def]
        self.prices += len(questions)
        return super().best_at(questions)


def test_of_many_people_a_sample_is_asked_for_all_plans_and_everybody_for_the_best_at_its_prices() -> None:
    applicants, pool, terms = invented(11, 130)
    listening = Listening(pool)
    search = search_of((applicants, listening, terms))
    search._solve_over(relief_aim(), ["item0"], True)
    (sample,) = listening.whole
    assert SAMPLE <= len(sample) < 2 * SAMPLE
    for one in sample:
        best = pool.people[one].columns({}, {})
        assert {column.packs for column in best} <= {packs for packs, _, _ in search.known[one]}
    assert listening.prices >= 3


def test_what_a_sample_tells_is_known_before_anybody_is_asked_at_prices() -> None:
    applicants, pool, terms = invented(11, 130)
    search = search_of((applicants, pool, terms))
    assert all(len(columns) == 1 for columns in search.known.values())
    search._from_sample(["item0"])
    sample = search.people[:: max(1, len(search.people) // SAMPLE)]
    for one in sample:
        best = pool.people[one.id].columns({}, {})
        assert {column.packs for column in best} <= {packs for packs, _, _ in search.known[one.id]}
    others = [one for one in search.people if one not in sample]
    assert any(len(search.known[one.id]) > 1 for one in others)


# --- what is asked of a share -------------------------------------------------------------------------


def test_plenty_of_money_is_plenty_for_the_smallest_part_of_it() -> None:
    """One in five thousand parts belongs to a group: even that part buys everything there is."""
    part = Fraction(1, 5000)
    applicants, pool, terms = two_mats(group_share={"small": part})
    search = search_of((applicants, pool, terms))
    search.ask_everybody()
    everything = sum(max(plan.cost(terms.base) for plan in one.plans) for one in pool.people.values())
    assert Reasons(search, lambda terms: None)._plenty() * part > everything


def test_what_somebody_waits_for_is_held_against_what_all_others_take_too() -> None:
    """One mat in stock, and the other person has it: stock is in the way, not money nor chance."""
    applicants, pool, terms = two_mats(10_000, stock={"mat": 1})
    search = search_of((applicants, pool, terms))
    search.ask_everybody()
    sharing = _Sharing(search)
    found = sharing.share()
    (waits,) = (one for one in search.people if not found.chosen[one.id].packs)
    reasons = Reasons(search, sharing._again)
    assert reasons._beside(waits, found) == "stock"
    assert reasons._beside(waits, found, replace(terms, stock={"mat": 2})) == "missed"
    assert reasons._beside(waits, found, replace(terms, stock={}, fund=900)) == "money"


def test_funds_that_people_wait_for_are_tried_in_steps_that_double() -> None:
    """Nine people at 500 each, the fund for one: a step is 500, then 1,000, 2,000 and the rest."""
    terms = FundTerms(500, {"mat": 500})
    plans = ListedPlans([Column((), 1000), Column((("mat", 1),), 700)], terms.base)
    people = [Applicant(f"p{number}", 1000, 1000, 1000 - number) for number in range(9)]
    found = share(people, ListedPool({one.id: plans for one in people}), terms)
    waits = {one.id: (one.not_at, one.fund) for one in found.waiting}
    assert waits == {
        "p1": (500, 1000),
        "p2": (1000, 2000),
        "p3": (1000, 2000),
        "p4": (2000, 4000),
        "p5": (2000, 4000),
        "p6": (2000, 4000),
        "p7": (2000, 4000),
        "p8": (4000, 4500),
    }


def test_what_more_of_a_scarce_thing_would_add_is_never_told_below_what_it_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Also where sharing again finds nothing better: the bound is then all there is to tell."""
    applicants, pool, terms = invented(61, 12, part=0.6)
    search = search_of((applicants, pool, terms))
    sharing = _Sharing(search)
    allocation = sharing.share()
    monkeypatch.setattr(sharing, "_shared_again", lambda terms, items: allocation.relief)
    costs = sharing._stock_costs(allocation)
    assert costs
    gained = []
    for one in costs:
        stock = {item: most for item, most in terms.stock.items() if item != one.item}
        plenty = most_by_one_program(applicants, pool, replace(terms, stock=stock))
        assert plenty is not None
        assert one.at_least == 0
        assert one.at_most is not None
        assert plenty[0] - allocation.relief <= one.at_most
        gained.append(plenty[0] - allocation.relief)
    assert np.any(np.array(gained) > 0)
