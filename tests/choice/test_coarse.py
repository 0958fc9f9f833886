"""What is let go of before anything is paired: never what is wanted, and never by a sum that is too high."""

from __future__ import annotations

import random

import numpy as np
import pytest
from tests.choice.brute import best, points
from tests.choice.random_problems import random_problem
from tests.choice.test_stock import contested
from tests.stages import seeds

from deskmend.choice import Problem, evaluate, solve
from deskmend.choice.elimination import search as coarse
from deskmend.choice.elimination.labels import Domains, TooWide
from deskmend.choice.elimination.least_sums import LeastSums
from deskmend.choice.elimination.order import steps_of
from deskmend.choice.elimination.search import CaseSearch
from deskmend.choice.elimination.tree import BucketTree, Objective
from deskmend.choice.network import build, settled
from deskmend.choice.stock import WarmStart, local_search
from deskmend.choice.variants import Incumbent


def _drawn(seed: int) -> Problem:
    return contested(seed) if seed % 2 else random_problem(seed, decisions=5, options=4)


def _positions(problem: Problem, options: dict[str, str]) -> tuple[int, ...]:
    return tuple(problem.state_of(d.name, options[d.name]) for d in problem.decisions)


@pytest.fixture(params=[1.0, 12.0])
def narrow_steps(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> float:
    """So few cells a step that variables leave in many steps."""
    monkeypatch.setattr(coarse, "COARSE_CELLS", request.param)
    return float(request.param)


@seeds(8, 1500)
def test_an_answer_is_the_same_whatever_is_hinted(seed: int, narrow_steps: float) -> None:
    problem, rng = _drawn(seed), random.Random(seed)
    starts = [
        {d.name: rng.choice(d.options).name for d in problem.decisions} for _ in range(rng.randint(0, 2))
    ]
    warm_start = WarmStart(starts, scale=rng.choice([1, 1000]), cost_price=rng.choice([0, 1, 700, 10**6]))
    found, known = solve(problem, warm_start=warm_start), best(problem)
    assert found.found == (known is not None)
    if known is not None:
        assert _positions(problem, dict(found.options)) == known.positions


@seeds(8, 1500)
def test_an_answer_is_the_same_whatever_was_asked_before(seed: int, narrow_steps: float) -> None:
    """Orders, prices and plans of other problems are at hand, whose variables have the same names."""
    start = WarmStart()
    for other in (seed + 2, seed + 4, seed + 6):
        solve(_drawn(other), warm_start=start)
    problem = _drawn(seed)
    found, known = solve(problem, warm_start=start), best(problem)
    assert found.found == (known is not None)
    if known is not None:
        assert _positions(problem, dict(found.options)) == known.positions


@seeds(8, 1500)
def test_what_reaches_the_mark_stays_ties_included(seed: int, narrow_steps: float) -> None:
    problem, rng = _drawn(seed), random.Random(seed)
    known = best(problem)
    network = build(problem)
    if known is None or settled(problem, network) is not None:
        return
    leads = known.cost if problem.first == "cost" else known.value
    mark = Incumbent(leads + rng.choice([0, 0, 5]), rng.choice([1, 64]), rng.choice([0, 1, 9, 400]))
    coarse.let_go(network, mark)
    found = settled(problem, network) or CaseSearch(problem, network).solve(mark)
    assert _positions(problem, dict(found.options)) == known.positions


@seeds(8, 1500)
def test_nothing_is_left_below_what_is_possible(seed: int) -> None:
    """A mark that nothing reaches leaves nothing, or something that is found not to reach it."""
    problem = _drawn(seed)
    known = best(problem)
    network = build(problem)
    if known is None or settled(problem, network) is not None:
        return
    leads = known.cost if problem.first == "cost" else known.value
    mark = Incumbent(leads - 1)
    coarse.let_go(network, mark)
    found = settled(problem, network) or CaseSearch(problem, network).solve(mark)
    if found.found:
        assert (found.cost if problem.first == "cost" else found.value) >= leads
    else:
        assert not found.found


@seeds(6, 800)
@pytest.mark.parametrize("cells", [1.0, 12.0, 60.0])
def test_coarse_sums_are_never_too_high_and_exact_where_nothing_is_parted(seed: int, cells: float) -> None:
    problem = _drawn(seed)
    network = build(problem)
    if settled(problem, network) is not None:
        return
    tree = BucketTree(network, 1e9, 1e9)
    amounts = tree.amounts(Objective(3, {"cost": 2}))
    scopes = [part.scope for part in tree.parts]
    exact = tree.least_sums.through(amounts)
    for most in (cells, float("inf")):
        steps = steps_of(scopes, tree.sizes, tree.links, tree.leaving, most)
        sums = LeastSums(steps, [(part.scope, part.cells) for part in tree.parts], Domains(tree.sizes))
        for own, least in zip(sums.through(amounts), exact, strict=True):
            assert (own <= least).all() if most == cells else np.array_equal(own, least)


def test_where_pairing_would_take_too_much_what_coarse_sums_told_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = random_problem(3, decisions=5, options=4)
    known = best(problem)
    assert known is not None
    calls = []

    class Paired(LeastSums):
        def __init__(self, *given: object) -> None:
            calls.append(given)
            if len(calls) == 2:
                raise TooWide("too many pairs")
            super().__init__(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(coarse, "LeastSums", Paired)
    found = solve(problem, warm_start=WarmStart(({},)))
    assert _positions(problem, dict(found.options)) == known.positions
    assert len(calls) == 2


@seeds(8, 1500)
def test_a_good_one_keeps_to_everything_and_is_no_worse_than_where_it_began(seed: int) -> None:
    problem, rng = _drawn(seed), random.Random(seed)
    start = {d.name: rng.choice(d.options).name for d in problem.decisions}
    near = local_search(problem, [start])
    if problem.first == "cost" or problem.bounds:
        assert near is None
        return
    whole = evaluate(problem, start)
    if near is None:
        assert whole.violations
        return
    assert not near.violations
    assert near.value in {one.value for one in points(problem)}
    assert whole.violations or near.value <= whole.value
