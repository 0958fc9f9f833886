"""The one program that a whole fund is held against is itself held against trying every combination."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import numpy as np
import pytest
from fund_in_one_piece import joined, least_value

from deskmend.choice.problem import Decision, Item, Mask, Node, Option, Problem, Table
from deskmend.choice.result import evaluate

PRICES = {"tape": 210, "screw": 130, "lamp": 900}


def drawn_person(draw: random.Random) -> Problem:
    """Three decisions of two or three options; tape is in packs of 4, which several decisions may share."""
    decisions = []
    for name in ("seat", "screen", "feet"):
        options = [Option("keep")]
        for number in range(draw.randint(1, 2)):
            use = {"tape": draw.randint(0, 5), "lamp": draw.choice([0, 0, 1]), "book": draw.randint(0, 1)}
            options.append(Option(f"take{number}", use | {"screw": draw.randint(0, 3)}, draw.randint(5, 40)))
        decisions.append(Decision(name, options))
    items = [
        Item("tape", PRICES["tape"], pack=4, owned=draw.randint(0, 3)),
        Item("screw", PRICES["screw"], pack=2),
        Item("lamp", PRICES["lamp"]),
        Item("book", None, owned=1),
    ]
    sizes = [len(decision.options) for decision in decisions]
    flat = np.random.default_rng(draw.randint(0, 10**6))
    node = Node("height", ("seat", "screen"), flat.integers(0, 2, sizes[:2]), 2)
    tables = [
        Table(("seat", "feet"), flat.integers(0, 10_000, (sizes[0], sizes[2]))),
        Table(("height", "feet"), flat.integers(0, 10_000, (2, sizes[2]))),
        Table(("screen",), flat.integers(0, 10_000, sizes[1])),
    ]
    allowed = np.ones(sizes[1:], dtype=np.bool_)
    allowed[-1, -1] = False
    return Problem(
        decisions,
        items,
        tables,
        forbidden=[{"seat": "take0", "feet": "take0"}],
        minutes=draw.choice([None, 40, 70]),
        nodes=[node],
        masks=[Mask(("screen", "feet"), allowed)],
    )


def plans(problem: Problem) -> Iterator[tuple[Counter[str], int]]:
    """Packs opened and value of everything that one person may do."""
    names = [decision.name for decision in problem.decisions]
    for options in product(*([option.name for option in decision.options] for decision in problem.decisions)):
        scored = evaluate(problem, dict(zip(names, options, strict=True)))
        if not scored.violations:
            yield Counter(scored.packs), scored.value


def order_cost(
    needed: Mapping[str, int], stock: Mapping[str, int], tiers: Mapping[str, Sequence[tuple[int, int]]]
) -> int | None:
    """Least money for at least so many packs, by trying every number of them; None where too few are left."""
    total = 0
    for item, count in needed.items():
        dearest = [
            packs * min([PRICES[item], *(price for first, price in tiers.get(item, ()) if packs >= first)])
            for packs in range(count, min(stock.get(item, 99), 99) + 1)
        ]
        if not dearest:
            return None
        total += min(dearest)
    return total


def least_by_trying(
    people: Sequence[Problem],
    fund: int,
    stock: Mapping[str, int],
    tiers: Mapping[str, Sequence[tuple[int, int]]],
) -> int:
    best = None
    for chosen in product(*(list(plans(problem)) for problem in people)):
        value = sum(value for _, value in chosen)
        if best is None or value < best:
            cost = order_cost(sum((packs for packs, _ in chosen), Counter()), stock, tiers)
            if cost is not None and cost <= fund:
                best = value
    assert best is not None
    return best


@pytest.mark.parametrize("seed", range(12))
def test_one_program_finds_what_trying_everything_finds(seed: int) -> None:
    draw = random.Random(seed)
    people = [drawn_person(draw) for _ in range(3)]
    fund = draw.choice([0, 300, 700, 1500])
    stock = {"lamp": draw.randint(0, 2)} if seed % 2 else {}
    tiers = {"tape": [(2, 170), (4, 90)], "screw": [(3, 60)], "lamp": [(2, 500)]} if seed % 3 else {}
    problem = joined({f"p{number}": one for number, one in enumerate(people)}, fund, stock, tiers)
    found = least_value(problem, None)
    assert found.value == found.bound == least_by_trying(people, fund, stock, tiers)


def test_packs_are_opened_for_each_person() -> None:
    """Two people who each take one unit of a pack of two open two packs, not one."""
    take = Decision("seat", [Option("keep"), Option("take", {"screw": 1})])
    one = Problem([take], [Item("screw", 130, pack=2)], [Table(("seat",), np.array([10, 0]))])
    people = {"a": one, "b": one}
    assert least_value(joined(people, 130, {}, {}), None).value == 10
    assert least_value(joined(people, 259, {}, {}), None).value == 10
    assert least_value(joined(people, 260, {}, {}), None).value == 0
    # from two packs on a pack costs 100, for both together
    assert least_value(joined(people, 200, {}, {"screw": [(2, 100)]}), None).value == 0
    assert least_value(joined(people, 999, {"screw": 1}, {}), None).value == 10
