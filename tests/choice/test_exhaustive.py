"""Every combination scored at once, against brute force, with options taken away."""

from __future__ import annotations

from dataclasses import replace

import pytest

from deskmend.choice import Bound, Problem, Table
from deskmend.choice.open_prices import Exhaustive, TooMany

from .brute import points
from .random_problems import random_problem


def small(seed: int) -> Problem:
    return replace(random_problem(seed), bounds=(), first="value")


@pytest.mark.parametrize("seed", range(20))
def test_the_best_of_what_is_left_is_brute_force(seed: int) -> None:
    problem = small(seed)
    everything = Exhaustive(problem)
    decision = problem.decisions[0]
    for without in ({}, {decision.name: {option.name for option in decision.options[1:]}}):
        allowed = [one for one in points(problem) if not without or one.positions[0] == 0]
        found = everything.best(without)
        if not allowed:
            assert not found.found
            continue
        best = min(allowed, key=lambda one: one.key("value"))
        assert (found.value, found.cost, found.minutes) == (best.value, best.cost, best.minutes)
        assert list(found.options.values()) == [
            one.options[position].name
            for one, position in zip(problem.decisions, best.positions, strict=True)
        ]


def test_other_questions_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = small(1)
    scope = (problem.decisions[0].name,)
    bound = Bound([Table(scope, [0] * len(problem.decisions[0].options))], 1)
    for asked in (replace(problem, first="cost"), replace(problem, bounds=[bound])):
        with pytest.raises(ValueError, match="least value"):
            Exhaustive(asked)
    monkeypatch.setattr("deskmend.choice.open_prices.MOST_COMBINATIONS", 1)
    with pytest.raises(TooMany):
        Exhaustive(problem)
