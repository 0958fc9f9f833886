"""Owned pieces that several decisions want: answers against brute force, and what narrowing leaves."""

from __future__ import annotations

import random
from dataclasses import replace

from tests.choice.brute import best, ladder, points
from tests.choice.random_problems import random_problem
from tests.stages import seeds

from deskmend.choice import Decision, Item, Option, Problem, Table, evaluate, frontier, solve
from deskmend.choice.elimination.search import CaseSearch
from deskmend.choice.network import build, settled
from deskmend.choice.stock import ReachedValues, repaired, split, with_masks, with_stock, without_stock


def contested(seed: int, **kinds: object) -> Problem:
    """A random problem where most options take books that cannot be bought, of which there are few."""
    rng = random.Random(seed)
    problem = random_problem(seed, decisions=4, options=4, **kinds)  # type: ignore[arg-type]
    books = [Item(f"book{k}", None, owned=rng.randint(1, 3)) for k in range(rng.randint(1, 2))]
    decisions = []
    for decision in problem.decisions:
        options = [
            replace(option, use={**option.use, **{b.name: 1 for b in books if k and rng.random() < 0.7}})
            for k, option in enumerate(decision.options)
        ]
        decisions.append(replace(decision, options=options))
    return replace(problem, decisions=decisions, items=[*problem.items, *books])


@seeds(8, 1500)
def test_answers_are_those_of_brute_force_to_the_last_tie(seed: int) -> None:
    problem = contested(seed)
    found, known = solve(problem, engine="elimination"), best(problem)
    assert found.found == (known is not None)
    if known is not None:
        assert (
            tuple(problem.state_of(d.name, found.options[d.name]) for d in problem.decisions)
            == known.positions
        )


@seeds(8, 1500)
def test_every_point_is_that_of_brute_force(seed: int) -> None:
    problem = replace(contested(seed, money=False), bounds=[])
    found = [(point.cost, point.value, tuple(point.options.values())) for point in frontier(problem)]
    assert found == [
        (
            one.cost,
            one.value,
            tuple(d.options[p].name for d, p in zip(problem.decisions, one.positions, strict=True)),
        )
        for one in ladder(problem)
    ]


@seeds(6, 800)
def test_narrowing_leaves_every_assignment_up_to_its_sum_and_bars_some_above(seed: int) -> None:
    problem = replace(contested(seed), bounds=[], money=None, minutes=None, first="value")
    relaxed = without_stock(problem)
    network = build(relaxed)
    if settled(relaxed, network) is not None:
        return
    search = CaseSearch(relaxed, network)
    kept_to_stock = sorted(points(problem), key=lambda one: one.value)
    if not kept_to_stock:
        return
    most = kept_to_stock[len(kept_to_stock) // 3].value
    narrowed = with_stock(problem, search, most)
    left = {one.positions for one in points(narrowed)}
    # options that the search left out are never barred, so more may stay, and never less
    assert {one.positions for one in kept_to_stock if one.value <= most} <= left
    assert (best(narrowed), ladder(narrowed)[-1:]) == (best(problem), ladder(problem)[-1:])


@seeds(8, 800)
def test_narrowing_within_limits_leaves_all_that_keeps_them(seed: int) -> None:
    rng = random.Random(seed)
    problem = replace(
        contested(seed), bounds=[], money=rng.choice([2, 5, 9]), minutes=rng.choice([None, 15]), first="value"
    )
    relaxed = without_stock(problem)
    network = build(relaxed)
    kept = sorted(points(problem), key=lambda one: one.value)
    if settled(relaxed, network) is not None or not kept:
        return
    search = CaseSearch(relaxed, network)
    most = kept[len(kept) // 3].value
    left = {one.positions for one in points(with_stock(problem, search, most))}
    assert {one.positions for one in kept if one.value <= most} <= left


def test_narrowing_by_one_less_would_lose_the_best() -> None:
    """What is held above is tight: a sum one too low bars an assignment that is wanted."""
    lost = 0
    for seed in range(40):
        problem = replace(contested(seed), bounds=[], money=None, minutes=None, first="value")
        network, known = build(without_stock(problem)), best(problem)
        if known is None or settled(problem, network) is not None:
            continue
        search = CaseSearch(without_stock(problem), network)
        narrowed = with_stock(problem, search, known.value - 1)
        lost += known.positions not in {one.positions for one in points(narrowed)}
    assert lost > 10


@seeds(8, 1500)
def test_what_is_reached_holds_at_every_price_and_within_every_limit(seed: int) -> None:
    rng = random.Random(seed)
    problem = replace(contested(seed), first="value")
    anew = [
        Item(item.name, rng.choice([0, 1, 4, 9]), item.pack, item.owned, item.stock)
        if item.price is not None
        else item
        for item in problem.items
    ]
    other = replace(problem, items=anew, money=rng.choice([None, 2, 6, 12]))
    known = best(other)
    if known is not None:
        narrowed = with_masks(other, *ReachedValues(problem).up_to(known.value + rng.choice([0, 0, 3])))
        assert best(narrowed) == known
        assert solve(narrowed).options == solve(other).options


@seeds(8, 800)
def test_what_is_repaired_keeps_to_everything(seed: int) -> None:
    problem = contested(seed)
    relaxed = without_stock(problem)
    choice = solve(relaxed)
    if not choice.found or not split(problem, relaxed, choice):
        return
    near = repaired(problem, choice)
    if near is not None:
        again = evaluate(problem, near.options)
        assert (again.violations, again.value) == ((), near.value)
        known = best(problem)
        assert known is not None
        assert near.value >= known.value if problem.first == "value" else near.cost >= known.cost


def test_what_overdraws_is_given_up_where_it_loses_least() -> None:
    take = [Option("keep"), Option("take", {"book": 1})]
    rows = [Decision(name, take) for name in ("screen", "feet", "binder")]
    tables = [Table((name,), [gain, 0]) for name, gain in (("screen", 9), ("feet", 4), ("binder", 6))]
    problem = Problem(rows, [Item("book", None, owned=1)], tables)
    choice = solve(without_stock(problem))
    assert set(choice.options.values()) == {"take"}
    near = repaired(problem, choice)
    assert near is not None
    assert (near.options, near.value) == ({"screen": "take", "feet": "keep", "binder": "keep"}, 10)
