"""What must hold of every answer, whatever the engine."""

import dataclasses
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples

from deskmend.choice import Decision, Item, Mask, Node, Option, Problem, Table, frontier, solve

from .random_problems import random_problem

ENGINES = ["program", "elimination"]


def figures(problem: Problem, engine: str) -> tuple[int, int, int, int] | None:
    choice = solve(problem, engine=engine)
    return (choice.value, choice.cost, choice.minutes, choice.fixes) if choice.found else None


@examples(40)
@given(seed=st.integers(0, 10**6), engine=st.sampled_from(ENGINES))
def test_order_of_decisions_does_not_matter(seed: int, engine: str) -> None:
    problem = random_problem(seed)
    shuffled = list(problem.decisions)
    random.Random(seed).shuffle(shuffled)
    assert figures(dataclasses.replace(problem, decisions=shuffled), engine) == figures(problem, engine)


@examples(40)
@given(seed=st.integers(0, 10**6), engine=st.sampled_from(ENGINES))
def test_a_useless_free_decision_changes_nothing(seed: int, engine: str) -> None:
    problem = random_problem(seed)
    more = [*problem.decisions, Decision("idle", [Option("keep"), Option("fidget")])]
    widened = dataclasses.replace(problem, decisions=more)
    assert figures(widened, engine) == figures(problem, engine)
    choice = solve(widened, engine=engine)
    if choice.found:
        assert choice.options["idle"] == "keep"


@examples(30)
@given(seed=st.integers(0, 10**6), engine=st.sampled_from(ENGINES))
def test_a_table_split_in_two_is_the_same_table(seed: int, engine: str) -> None:
    problem = random_problem(seed)
    first, *others = problem.tables
    part = first.values // 2
    split = [
        dataclasses.replace(first, values=part),
        dataclasses.replace(first, values=first.values - part),
        *others,
    ]
    assert figures(dataclasses.replace(problem, tables=split), engine) == figures(problem, engine)


@pytest.mark.parametrize("engine", ENGINES)
def test_levels_of_preference_settle_in_order(engine: str) -> None:
    """Each option is worse than the one before it in exactly the level its name says, better in all later."""
    options = [
        Option("value", use={}),
        Option("cost", use={"coin": 3}, minutes=5),
        Option("minutes", use={"coin": 1}, minutes=10),
        Option("fixes", use={"coin": 1}, minutes=5, is_fix=True),
        Option("first", use={"coin": 1}, minutes=5, is_fix=False),
        Option("second", use={"coin": 1}, minutes=5, is_fix=False),
    ]
    problem = Problem(
        [Decision("d", options)], [Item("coin", 7)], [Table(("d",), np.array([2, 1, 1, 1, 1, 1]))]
    )
    assert solve(problem, engine=engine).options == {"d": "first"}
    assert solve(dataclasses.replace(problem, first="cost"), engine=engine).options == {"d": "value"}
    for name in ("first", "second"):
        forbidden = [*problem.forbidden, {"d": name}]
        problem = dataclasses.replace(problem, forbidden=forbidden)
    assert solve(problem, engine=engine).options == {"d": "fixes"}


@pytest.mark.parametrize("engine", ENGINES)
def test_catalog_order_settles_the_last_tie_lexicographically(engine: str) -> None:
    """Two fixes of three are needed; the tuple of positions that is least leaves the first decision alone."""
    names = "abc"
    problem = Problem(
        [Decision(name, [Option("keep"), Option("do")]) for name in names],
        tables=[Table(tuple(names), np.where(np.indices((2, 2, 2)).sum(axis=0) >= 2, 0, 5))],
    )
    assert solve(problem, engine=engine).options == {"a": "keep", "b": "do", "c": "do"}


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize(
    "limit",
    [
        {"money": 5},
        {"minutes": 4},
        {"forbidden": [{"d": "a"}, {"d": "b"}]},
        {"masks": [Mask(("d", "e"), np.zeros((2, 2), dtype=bool))]},
        {"items": [Item("pen", price=None, owned=1)]},
        {"items": [Item("pen", price=3, stock=1)]},
    ],
)
def test_the_impossible_is_called_infeasible(engine: str, limit: dict[str, object]) -> None:
    problem = Problem(
        [
            Decision("d", [Option("a", use={"pen": 2}, minutes=5), Option("b", use={"pen": 3}, minutes=7)]),
            Decision("e", [Option("a"), Option("b")]),
        ],
        [Item("pen", price=3)],
        [Table(("d", "e"), np.array([[4, 1], [2, 3]]))],
    )
    assert solve(problem, engine=engine).found
    narrowed = dataclasses.replace(problem, **limit)
    choice = solve(narrowed, engine=engine)
    assert (choice.status, choice.proven, choice.options) == ("infeasible", True, {})
    assert frontier(narrowed) == []


@pytest.mark.parametrize("engine", ENGINES)
def test_no_decisions_and_single_options_are_answered(engine: str) -> None:
    assert solve(Problem([]), engine=engine).value == 0
    only = Problem([Decision("d", [Option("keep")])], tables=[Table(("d",), np.array([7]))])
    choice = solve(only, engine=engine)
    assert (choice.options, choice.value, choice.proven) == ({"d": "keep"}, 7, True)
    assert [point.value for point in frontier(only)] == [7]


@pytest.mark.parametrize("engine", ENGINES)
def test_a_node_is_as_good_as_the_table_it_cuts(engine: str) -> None:
    """A table over four decisions that depends on their sum only, with and without nodes."""
    names = ("a", "b", "c", "d")
    decisions = [Decision(name, [Option(f"{name}{k}", use={"pen": k}) for k in range(4)]) for name in names]
    worth = np.array([30, 28, 27, 20, 19, 12, 12, 11, 9, 8, 8, 3, 1])
    total = np.indices((4, 4, 4, 4)).sum(axis=0)
    whole = Problem(decisions, [Item("pen", 10)], [Table(names, worth[total])], money=70)
    pair = np.add.outer(np.arange(4), np.arange(4))
    cut = Problem(
        decisions,
        [Item("pen", 10)],
        [Table(("all",), worth)],
        money=70,
        nodes=[
            Node("left", ("a", "b"), pair, 7),
            Node("right", ("c", "d"), pair, 7),
            Node("all", ("left", "right"), np.add.outer(np.arange(7), np.arange(7)), 13),
        ],
    )
    assert solve(cut, engine=engine) == solve(whole, engine=engine)
    assert frontier(cut) == frontier(whole)


@pytest.mark.parametrize("engine", ENGINES)
def test_prices_far_apart_do_not_overflow(engine: str) -> None:
    """Prices of 10**9 minor units beside values of 10**7, as some currencies have them."""
    count = 8
    decisions = [Decision(f"d{k}", [Option("keep"), Option("buy", use={f"i{k}": 1})]) for k in range(count)]
    problem = Problem(
        decisions,
        [Item(f"i{k}", 10**9 + 7 * k * k) for k in range(count)],
        [Table((f"d{k}",), np.array([10**7 + k, 0])) for k in range(count)],
        money=3 * 10**9 + 150,
    )
    choice = solve(problem, engine=engine)
    # three purchases fit; the dearest gain is that of the highest k whose squares still fit 150 // 7
    best = max(
        (sum(k for k in chosen), chosen)
        for chosen in [(i, j, k) for i in range(8) for j in range(i) for k in range(j)]
        if 7 * sum(k * k for k in chosen) <= 150
    )
    assert choice.value == count * 10**7 + sum(range(count)) - 3 * 10**7 - best[0]


def test_an_engine_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="engine must be"):
        solve(Problem([]), engine="guess")
    with pytest.raises(ValueError, match="negative"):
        solve(Problem([]), seconds=-1)
