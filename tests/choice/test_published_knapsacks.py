"""Published knapsack instances with known optima, stated as problems unchanged.

Sources, seen as stored copies of the published texts:

- KV: J. Burkardt, ``knapsack_values`` (MIT licence, 19 November 2024), the data of his KNAPSACK_01
  collection with the optimal selections; after Kreher & Simpson, Combinatorial Algorithms, CRC 1998.
  The instance of capacity 165 is also problem 4 of the driver of ACM Algorithm 632 (netlib toms/632).
- KP: J. Burkardt, KNAPSACK test output of 11 December 2009, for the routines of Martello & Toth, Knapsack
  Problems, Wiley 1990: test 4 (MTG, generalised assignment, profit 40) and test 5 (MTM, multiple
  knapsack, profit 333).
"""

import numpy as np
import pytest

from deskmend.choice import Bound, Decision, Item, Option, Problem, Table, frontier, solve

ENGINES = ["program", "elimination"]

# capacity, profits, weights, optimal selection (KV)
SINGLE = {
    "n5": (26, [24, 13, 23, 15, 16], [12, 7, 11, 8, 9], [0, 1, 1, 1, 0]),
    "n7": (
        170,
        [442, 525, 511, 593, 546, 564, 617],
        [41, 50, 49, 59, 55, 57, 60],
        # KV prints another selection here, worth 1652; the page of KNAPSACK_01 says "an optimal weight of
        # 169", which this one has (profit 1735)
        [0, 1, 0, 1, 0, 0, 1],
    ),
    "n10": (
        165,
        [92, 57, 49, 68, 60, 43, 67, 84, 87, 72],
        [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
        [1, 1, 1, 1, 0, 1, 0, 0, 0, 0],
    ),
    "n15": (
        750,
        [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
        [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
        [1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 0, 0, 0, 1, 1],
    ),
    "n24": (
        6404180,
        [
            *(825594, 1677009, 1676628, 1523970, 943972, 97426, 69666, 1296457, 1679693, 1902996),
            *(1844992, 1049289, 1252836, 1319836, 953277, 2067538, 675367, 853655, 1826027, 65731),
            *(901489, 577243, 466257, 369261),
        ],
        [
            *(382745, 799601, 909247, 729069, 467902, 44328, 34610, 698150, 823460, 903959),
            *(853665, 551830, 610856, 670702, 488960, 951111, 323046, 446298, 931161, 31385),
            *(496951, 264724, 224916, 169684),
        ],
        [1, 1, 0, 1, 1, 1, 0, 0, 0, 1, 1, 0, 1, 0, 0, 1, 0, 0, 0, 0, 0, 1, 1, 1],
    ),
}

# optimum as the sources print it, or as the printed selection sums to
OPTIMA = {"n5": 51, "n7": 1735, "n10": 309, "n15": 1458, "n24": 13549094}


def single(name: str) -> Problem:
    """Each object is an item of its own, its weight the price, the capacity the money."""
    capacity, profits, weights, _ = SINGLE[name]
    count = len(profits)
    return Problem(
        [Decision(f"d{k:02d}", [Option("leave"), Option("take", use={f"i{k}": 1})]) for k in range(count)],
        [Item(f"i{k}", price=weight) for k, weight in enumerate(weights)],
        [Table((f"d{k:02d}",), np.array([0, -profit])) for k, profit in enumerate(profits)],
        money=capacity,
    )


@pytest.mark.parametrize("name", SINGLE)
def test_printed_selection_has_the_printed_optimum(name: str) -> None:
    capacity, profits, weights, chosen = SINGLE[name]
    assert np.dot(chosen, weights) <= capacity
    assert np.dot(chosen, profits) == OPTIMA[name]


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("name", SINGLE)
def test_single_knapsack(name: str, engine: str) -> None:
    choice = solve(single(name), engine=engine)
    assert choice.proven
    assert choice.value == -OPTIMA[name]
    taken = [int(option == "take") for option in choice.options.values()]
    assert taken == SINGLE[name][3]


@pytest.mark.parametrize("name", ["n5", "n7", "n10", "n15"])
def test_top_of_the_frontier_is_the_published_optimum(name: str) -> None:
    points = frontier(single(name))
    assert points[0].cost == 0
    assert points[-1].value == -OPTIMA[name]


@pytest.mark.parametrize("engine", ENGINES)
def test_multiple_knapsack(engine: str) -> None:
    """KP test 5: two knapsacks of 70 and 127, each object in one of them or left; profit 333."""
    _, profits, weights, _ = SINGLE["n10"]
    problem = Problem(
        [Decision(f"d{k}", [Option("leave"), Option("first"), Option("second")]) for k in range(10)],
        tables=[Table((f"d{k}",), np.array([0, -p, -p])) for k, p in enumerate(profits)],
        bounds=[
            Bound([Table((f"d{k}",), np.array([0, w, 0])) for k, w in enumerate(weights)], 70),
            Bound([Table((f"d{k}",), np.array([0, 0, w])) for k, w in enumerate(weights)], 127),
        ],
    )
    assert solve(problem, engine=engine).value == -333


@pytest.mark.parametrize("engine", ENGINES)
def test_generalised_assignment(engine: str) -> None:
    """KP test 4: every object goes to exactly one of two knapsacks of 11 and 22; profit 40."""
    weights = [[4, 1, 2, 1, 4, 3, 8], [9, 9, 8, 1, 3, 8, 7]]
    profits = [[6, 9, 4, 2, 10, 3, 6], [4, 8, 9, 1, 7, 5, 4]]
    problem = Problem(
        [Decision(f"d{k}", [Option("first"), Option("second")]) for k in range(7)],
        tables=[Table((f"d{k}",), np.array([-profits[0][k], -profits[1][k]])) for k in range(7)],
        bounds=[
            Bound([Table((f"d{k}",), np.array([weights[0][k], 0])) for k in range(7)], 11),
            Bound([Table((f"d{k}",), np.array([0, weights[1][k]])) for k in range(7)], 22),
        ],
    )
    choice = solve(problem, engine=engine)
    assert choice.value == -40
    assert [k + 1 for k in range(7) if choice.options[f"d{k}"] == "second"] == [3, 5, 7]
