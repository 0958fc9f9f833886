"""Both engines against brute force on small random problems, and against CP-SAT on larger ones."""

import dataclasses
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples, seeds

from deskmend.choice import (
    Choice,
    Decision,
    Item,
    Node,
    Option,
    Problem,
    Table,
    frontier,
    solve,
    verify,
)
from deskmend.choice.program import levels as program

from .brute import Point, best, ladder
from .cpsat import cpsat_best
from .random_problems import random_problem

SEEDS = st.integers(0, 10**6)


def point_of(problem: Problem, choice: Choice) -> Point:
    positions = tuple(
        [option.name for option in decision.options].index(choice.options[decision.name])
        for decision in problem.decisions
    )
    return Point(positions, choice.value, choice.cost, choice.minutes, choice.fixes)


def check(problem: Problem, engine: str) -> None:
    wanted = best(problem)
    choice = solve(problem, engine=engine)
    assert choice.proven
    if wanted is None:
        assert choice.status == "infeasible"
        assert choice.options == {}
        assert choice.bound is None
    else:
        assert choice.status == "optimal"
        assert point_of(problem, choice) == wanted
        assert choice.bound == (wanted.cost if problem.first == "cost" else wanted.value)


@examples(150)
@given(seed=SEEDS, first=st.sampled_from(["value", "cost"]))
def test_program_is_brute_force_on_all_five_levels(seed: int, first: str) -> None:
    check(random_problem(seed, first=first), "program")


@examples(60)
@given(seed=SEEDS, first=st.sampled_from(["value", "cost"]))
def test_closing_columns_after_the_first_level_loses_nothing(seed: int, first: str) -> None:
    """Done for wide programs only; here for all."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(program, "MANY_COLUMNS", 0)
        check(random_problem(seed, first=first, spread=40), "program")


@examples(300)
@given(seed=SEEDS, first=st.sampled_from(["value", "cost"]))
def test_elimination_is_brute_force_on_all_five_levels(seed: int, first: str) -> None:
    check(random_problem(seed, first=first), "elimination")


@examples(100)
@given(seed=SEEDS)
def test_automatic_choice_of_engine_is_brute_force(seed: int) -> None:
    check(random_problem(seed, decisions=4, tables=3), "auto")


@examples(250)
@given(seed=SEEDS, spread=st.sampled_from([3, 12, 1000]))
def test_frontier_is_brute_force(seed: int, spread: int) -> None:
    problem = random_problem(seed, spread=spread)
    points = [point_of(problem, choice) for choice in frontier(problem)]
    assert points == ladder(problem)
    costs = [point.cost for point in points]
    values = [point.value for point in points]
    assert costs == sorted(set(costs))
    assert values == sorted(set(values), reverse=True)


@examples(150)
@given(seed=SEEDS)
def test_pieces_that_several_decisions_want_are_shared_out_as_brute_force_does(seed: int) -> None:
    """Most items cannot be bought, so that the best without their limit often overdraws them."""
    rng = random.Random(seed)
    problem = random_problem(seed, decisions=5, options=4, tables=4)
    items = [
        Item(i.name, None, owned=rng.choice([1, 2, 3])) if rng.random() < 0.8 else i for i in problem.items
    ]
    decisions = []
    for decision in problem.decisions:
        options = [
            dataclasses.replace(option, use={item.name: 1 for item in items if rng.random() < 0.5})
            if place
            else option
            for place, option in enumerate(decision.options)
        ]
        decisions.append(dataclasses.replace(decision, options=tuple(options)))
    shared = dataclasses.replace(problem, items=tuple(items), decisions=tuple(decisions))
    assert [point_of(shared, choice) for choice in frontier(shared)] == ladder(shared)
    check(shared, "auto")


@examples(60)
@given(seed=SEEDS)
def test_more_money_is_never_worse(seed: int) -> None:
    problem = random_problem(seed)
    values = []
    for money in (0, 2, 5, 9, 20, None):
        choice = solve(dataclasses.replace(problem, money=money), engine="elimination")
        values.append(choice.value if choice.found else None)
    known = [value for value in values if value is not None]
    # once something is allowed it stays allowed, and never gets worse
    assert values[len(values) - len(known) :] == known
    assert known == sorted(known, reverse=True)


@pytest.mark.parametrize("engine", ["auto", "elimination", "program"])
def test_what_stays_as_it_is_behind_a_closed_gate_keeps_rules_on_nodes_too(engine: str) -> None:
    """Kept at its first option, b would put the node where a rule forbids it, though no table asks for b."""
    problem = Problem(
        [Decision("gate", [Option("shut"), Option("open")]), Decision("b", [Option("keep"), Option("do")])],
        tables=[Table(("b",), np.array([4, 1]), when=("gate", "open"))],
        nodes=[Node("n", ("b",), np.array([2, 0]), 3)],
        forbidden=[{"gate": "open"}, {"n": 2}],
    )
    assert solve(problem, engine=engine).options == {"gate": "shut", "b": "do"}


@pytest.mark.parametrize("engine", ["auto", "elimination", "program"])
def test_what_only_opens_a_gate_hangs_on_the_decisions_it_is_told_by(engine: str) -> None:
    """No table and no rule asks for the node itself: it says only whether another table counts."""
    problem = Problem(
        [Decision(name, [Option("keep"), Option("do"), Option("more")]) for name in "ab"]
        + [Decision("c", [Option("keep"), Option("do")])],
        nodes=[Node("n", ("a", "c"), np.array([[0, 1], [1, 0], [0, 1]]), 2)],
        tables=[
            Table(("a",), np.array([5, 0, 2])),
            Table(("c",), np.array([0, 4])),
            Table(("b",), np.array([9, 3, 4]), when=("n", 1)),
            Table(("b",), np.array([0, 1, 5])),
        ],
    )
    assert point_of(problem, solve(problem, engine=engine)) == best(problem)
    assert solve(problem, engine=engine).options == {"a": "more", "b": "keep", "c": "keep"}


@seeds(2, 6)
def test_engines_and_an_independent_solver_agree_on_medium_problems(seed: int) -> None:
    """OR-Tools CP-SAT (a general library) is the outside source."""
    problem = random_problem(seed, decisions=10, options=5, tables=14, nodes=4, spread=2000)
    wanted = cpsat_best(problem)
    for engine in ("program", "elimination"):
        choice = solve(problem, engine=engine)
        assert (None if not choice.found else (choice.value, choice.cost)) == wanted


@seeds(1, 3)
def test_least_cost_agrees_with_an_independent_solver(seed: int) -> None:
    """OR-Tools CP-SAT (a general library) is the outside source."""
    problem = random_problem(seed, decisions=9, options=5, tables=10, nodes=3, spread=500, first="cost")
    wanted = cpsat_best(problem)
    for engine in ("program", "elimination"):
        choice = solve(problem, engine=engine)
        assert (None if not choice.found else (choice.value, choice.cost)) == wanted


@seeds(1, 4)
def test_frontier_ends_where_the_engines_do(seed: int) -> None:
    problem = random_problem(seed, decisions=9, options=5, tables=12, nodes=3, spread=2000)
    points = frontier(problem)
    choice = solve(problem, engine="program")
    assert bool(points) == choice.found
    if points:
        assert points[-1].options == choice.options
        verify(problem, points[-1])
