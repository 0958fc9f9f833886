"""Leaving out options that are never needed changes no answer: held against brute force over all of them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from tests.choice.brute import best, ladder
from tests.choice.random_problems import random_problem
from tests.stages import seeds

from deskmend.choice import Decision, Item, Mask, Node, Option, Problem, Table, frontier, solve
from deskmend.choice.variants import without_barred, without_variants


def with_variants(problem: Problem, seed: int) -> Problem:
    """The same problem where many options come again, of things that cost more, or of the same."""
    rng = random.Random(seed)
    dearer = {
        item.name: Item(f"{item.name}v", item.price + rng.randint(1, 3), item.pack)
        for item in problem.items
        if item.price is not None
    }
    again = {
        decision.name: [k for k in range(1, len(decision.options)) if rng.random() < 0.6]
        for decision in problem.decisions
    }

    def copy(option: Option) -> Option:
        swap = rng.random() < 0.7
        use = {dearer[n].name if swap and n in dearer else n: units for n, units in option.use.items()}
        return replace(
            option, name=f"{option.name}v", use=use, minutes=option.minutes + rng.choice([0, 0, 5])
        )

    def longer(scope: Sequence[str], values: np.ndarray, more: bool) -> np.ndarray:
        for axis, name in enumerate(scope):
            extra = np.take(values, again.get(name, []), axis=axis)
            if more and rng.random() < 0.2:
                extra = extra + rng.choice([1, 1, -1])
            values = np.concatenate([values, extra], axis=axis)
        return values

    def tables(given: Sequence[Table]) -> list[Table]:
        return [replace(one, values=longer(one.scope, one.values, True)) for one in given]

    return replace(
        problem,
        decisions=[
            Decision(d.name, [*d.options, *(copy(d.options[k]) for k in again[d.name])])
            for d in problem.decisions
        ],
        items=[*problem.items, *dearer.values()],
        tables=tables(problem.tables),
        masks=[replace(one, allowed=longer(one.scope, one.allowed, False)) for one in problem.masks],
        nodes=[Node(n.name, n.scope, longer(n.scope, n.index, False), n.size) for n in problem.nodes],
        bounds=[replace(one, tables=tables(one.tables)) for one in problem.bounds],
    )


@seeds(8, 1000)
def test_answers_stay_the_same_to_the_last_tie(seed: int) -> None:
    problem = with_variants(random_problem(seed, decisions=3, options=3), seed)
    found, known = solve(problem, engine="elimination"), best(problem)
    assert found.found == (known is not None)
    if known is not None:
        positions = tuple(problem.state_of(d.name, found.options[d.name]) for d in problem.decisions)
        assert positions == known.positions
        fewer = without_variants(problem)
        again = solve(fewer, engine="program")
        assert (again.options, again.value, again.cost) == (found.options, found.value, found.cost)


@seeds(6, 500)
def test_every_point_stays_the_same(seed: int) -> None:
    problem = with_variants(random_problem(seed, decisions=3, options=3, money=False), seed)
    known = [(point.cost, point.value) for point in ladder(problem)]
    assert [(point.cost, point.value) for point in frontier(problem)] == known


def test_many_go() -> None:
    """Were nothing left out, the checks above would hold for nothing."""
    gone = 0
    for seed in range(40):
        problem = with_variants(random_problem(seed, decisions=3, options=3), seed)
        fewer = without_variants(problem)
        gone += sum(len(d.options) for d in problem.decisions) - sum(len(d.options) for d in fewer.decisions)
    assert gone > 15


def _two_cushions(pack: int, also: bool) -> Problem:
    """A cushion of either foam; a pad may take what is left of a pack of the dearer."""
    seat = Decision("seat", [Option("keep"), Option("plain", {"foam": 1}), Option("fine", {"fine_foam": 1})])
    pad = Decision("pad", [Option("keep"), Option("cut", {"fine_foam": 1})] if also else [Option("keep")])
    items = [Item("foam", 400, pack), Item("fine_foam", 500, pack)]
    return Problem(
        [seat, pad], items, [Table(("seat",), [30, 10, 10]), Table(("pad",), [9, 2][: len(pad.options)])]
    )


@pytest.mark.parametrize(("pack", "also", "left"), [(1, False, 2), (1, True, 2), (2, False, 2), (2, True, 3)])
def test_what_is_left_of_a_pack_keeps_the_dearer_thing(pack: int, also: bool, left: int) -> None:
    """With a pack for both the dearer foam costs 500 in all, the plain one 900: worked out by hand."""
    problem = _two_cushions(pack, also)
    assert len(without_variants(problem).decisions[0].options) == left
    found = solve(problem, engine="elimination")
    assert found.cost == {(1, False): 400, (1, True): 900, (2, False): 400, (2, True): 500}[pack, also]


def test_a_forbidden_pair_keeps_the_one_that_may() -> None:
    problem = _two_cushions(1, True)
    problem = replace(problem, forbidden=({"seat": "plain", "pad": "cut"},))
    assert without_variants(problem) is problem
    assert solve(problem, engine="elimination").options == {"seat": "fine", "pad": "cut"}


@pytest.mark.parametrize(
    ("first", "other"),
    [
        (Option("dear", {"ticket": 1}), Option("plain", is_fix=False)),
        (Option("long", minutes=5), Option("plain", is_fix=False)),
        (Option("counted", is_fix=True), Option("plain", is_fix=False)),
    ],
)
def test_what_no_value_hangs_on_is_not_left_as_it_is_where_that_takes_more(
    first: Option, other: Option
) -> None:
    # by the order of preference less money, less work and fewer fixes come before the first option
    way = Decision("way", [Option("walk"), Option("bus")])
    problem = Problem(
        [way, Decision("idle", [first, other])], [Item("ticket", price=250)], [Table(("way",), [5, 3])]
    )
    for engine in ("elimination", "program"):
        assert solve(problem, engine).options == {"way": "bus", "idle": "plain"}
    assert [point.options for point in frontier(problem)] == [{"way": "bus", "idle": "plain"}]


def test_only_what_is_barred_whatever_else_is_chosen_is_left_out() -> None:
    """And where nothing of a decision would be left, all stays, so that whoever searches finds that out."""
    decisions = [Decision(name, [Option(f"{name}{k}") for k in range(3)]) for name in "ab"]
    some = np.array([[True, False, True], [False, False, False], [True, True, False]])
    narrower = without_barred(Problem(decisions, masks=[Mask(("a", "b"), some)]))
    left = {one.name: [option.name for option in one.options] for one in narrower.decisions}
    assert left == {"a": ["a0", "a2"], "b": ["b0", "b1", "b2"]}
    nothing = Problem(decisions, masks=[Mask(("b",), np.zeros(3, dtype=np.bool_))])
    assert without_barred(nothing) is nothing
