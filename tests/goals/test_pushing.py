"""A limit taken apart allows exactly what the whole limit allows."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from tests.stages import seeds

from deskmend.choice import Mask
from deskmend.planning.model.tables import Grid, GridBuilder
from deskmend.planning.reach import pushed_down

SIZES = {"a": 4, "b": 3, "c": 5}


def builder() -> GridBuilder:
    made = GridBuilder()
    for name, size in SIZES.items():
        made.decision(name, size)
    return made


def states(made: GridBuilder, taken: dict[str, int]) -> dict[str, int]:
    """State of every variable for one choice, node by node."""
    known = dict(taken)
    for node in made.nodes:
        known[node.name] = int(node.index[tuple(known[v] for v in node.scope)])
    return known


def allowed(made: GridBuilder, masks: list[Mask]) -> set[tuple[int, ...]]:
    out = set()
    for picked in product(*(range(n) for n in SIZES.values())):
        known = states(made, dict(zip(SIZES, picked, strict=True)))
        if all(bool(m.allowed[tuple(known[v] for v in m.scope)]) for m in masks):
            out.add(picked)
    return out


def scored(made: GridBuilder, seed: int, combine: str) -> Grid:
    """A score of two scores of decisions, each of few values."""
    chance = np.random.default_rng(seed)
    first = made.apply(
        "first",
        lambda a, b: np.minimum(a + b, 3),
        [Grid(("a",), chance.integers(0, 3, 4)), Grid(("b",), np.arange(3))],
    )
    second = made.apply("second", lambda c: c // 2, [Grid(("c",), chance.permutation(5))])
    functions = {"greater": np.maximum, "sum": np.add}
    return made.apply("both", functions[combine], [first, second])


@pytest.mark.parametrize("combine", ["greater", "sum"])
@seeds(2, 6)
def test_parts_allow_exactly_what_the_whole_allows(combine: str, seed: int) -> None:
    made = builder()
    grid = scored(made, seed, combine)
    for most in range(6):
        whole = Mask(grid.scope, np.array(grid.values <= most))
        assert allowed(made, pushed_down(whole, made)) == allowed(made, [whole])


def test_a_limit_on_the_greater_of_two_becomes_limits_on_each() -> None:
    made = builder()
    grid = scored(made, 1, "greater")
    parts = pushed_down(Mask(grid.scope, np.array(grid.values <= 1)), made)
    assert not any("both" in part.scope for part in parts)
    assert all(set(part.scope) != {"a", "b", "c"} for part in parts)


def test_a_limit_on_a_sum_stays_whole() -> None:
    made = builder()
    grid = scored(made, 1, "sum")
    parts = pushed_down(Mask(grid.scope, np.array(grid.values <= 2)), made)
    assert len(parts) == 1
