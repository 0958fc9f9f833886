"""The pieces elimination is made of: packing, labels, orders, counted items, remainders, limits of work."""

import itertools
import math
import random
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import each, examples

from deskmend.choice import Decision, Item, Mask, Option, Problem, Table, solve
from deskmend.choice.elimination import labels, least_sums, tree
from deskmend.choice.elimination.labels import WORD_LIMIT, Domains, Labels, TooWide, join, pack, unbeaten
from deskmend.choice.elimination.least_sums import LeastSums
from deskmend.choice.elimination.order import InteractionGraph, KnownOrders, find_order, steps_of
from deskmend.choice.elimination.search import CaseSearch, multipliers_of
from deskmend.choice.elimination.tree import Objective, use_classes
from deskmend.choice.network import build
from deskmend.choice.problem import BoolArray
from deskmend.choice.purchases import UNAVAILABLE, SharedItem, cost_of, prices_apart

from .random_problems import random_problem


@examples(200)
@given(
    st.lists(st.integers(0, 2**40), min_size=1, max_size=8).flatmap(
        lambda most: st.tuples(
            st.just(most),
            st.tuples(*(st.integers(0, m) for m in most)),
            st.tuples(*(st.integers(0, m) for m in most)),
        )
    )
)
def test_packed_fields_compare_and_come_back(
    drawn: tuple[list[int], tuple[int, ...], tuple[int, ...]],
) -> None:
    most, left, right = drawn
    packing = pack(most)

    def packed(amounts: tuple[int, ...]) -> tuple[int, ...]:
        words = sum(packing.put(k, np.array([amount])) for k, amount in enumerate(amounts))
        return tuple(int(word) for word in words[:, 0])

    assert (packed(left) < packed(right)) == (left < right)
    assert tuple(packing.get(k, packed(left)) for k in range(len(most))) == left
    assert max(packed(tuple(most))) < WORD_LIMIT


def test_a_field_that_fits_no_word_is_refused() -> None:
    with pytest.raises(TooWide):
        pack([2**62])


@examples(200)
@given(
    seed=st.integers(0, 10**6),
    resources=st.integers(1, 3),
    words=st.integers(1, 2),
    at_once=st.sampled_from([0, 9, 1000]),
)
def test_labels_that_stay_are_those_nothing_beats(
    seed: int, resources: int, words: int, at_once: int
) -> None:
    """Against the definition: a label goes if another of its cell is no worse in everything."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 40))
    relation = Labels(
        rng.integers(0, 3, count),
        rng.integers(0, 4, (resources, count)),
        rng.integers(0, 4, (words, count)),
    )
    # the last word is unlike anywhere, as option positions make it
    relation.words = np.concatenate([relation.words, rng.permutation(count)[None, :]])
    caps = rng.integers(1, 4, resources)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(labels, "PAIRS_COMPARED_AT_ONCE", at_once)
        kept = unbeaten(relation, caps)

    def rows(of: Labels) -> set[tuple[int, tuple[int, ...], tuple[int, ...]]]:
        return {
            (int(c), tuple(t.tolist()), tuple(w.tolist()))
            for c, t, w in zip(of.cell, of.taken.T, of.words.T, strict=True)
        }

    allowed = {row for row in rows(relation) if all(np.array(row[1]) <= caps)}
    exact = {
        (cell, taken, word)
        for cell, taken, word in allowed
        if not any(
            c == cell and w < word and all(a <= b for a, b in zip(t, taken, strict=True))
            for c, t, w in allowed
        )
    }
    # more may stay where only a later word decides; none that is needed may go, and none may appear
    assert exact <= rows(kept) <= allowed
    if resources > 1:
        assert rows(kept) == exact


def _drawn_labels(rng: np.random.Generator, cells: int) -> Labels:
    """Some labels for each of some cells, for some none."""
    cell = np.sort(rng.integers(0, cells, rng.integers(0, 2 * cells)))
    words = rng.permutation(100)[: cell.size][None, :]
    return Labels(cell, rng.integers(0, 4, (1, cell.size)), words)


@each("seed", range(60))
def test_labels_of_cells_that_are_paired_add_up_each_with_each(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However many are joined at a time: what nothing beats of all pairs, in the cell they fall into."""
    rng = np.random.default_rng(seed)
    monkeypatch.setattr(labels, "PAIRS_AT_ONCE", int(rng.choice([1, 3, 1000])))
    left, right = _drawn_labels(rng, 6), _drawn_labels(rng, 5)
    if seed % 3 == 0:
        left = Labels(np.arange(6), rng.integers(0, 4, (1, 6)), rng.permutation(6)[None, :])
    pairs = rng.integers(0, 6, 9), rng.integers(0, 5, 9)
    onto = np.sort(rng.integers(0, 4, 9))
    caps = np.array([5])

    def kept(joined: Labels) -> BoolArray:
        return joined.words[0] < 120

    def rows(of: Labels) -> list[tuple[int, int, int]]:
        return sorted(zip(of.cell.tolist(), of.taken[0].tolist(), of.words[0].tolist(), strict=True))

    added = [
        (cell, taken + more, word + another)
        for cell, one, other in zip(onto.tolist(), pairs[0].tolist(), pairs[1].tolist(), strict=True)
        for at, taken, word in rows(left)
        for place, more, another in rows(right)
        if at == one and place == other and word + another < 120
    ]
    best = [
        (cell, taken, word)
        for cell, taken, word in set(added)
        if taken <= 5
        and not any(
            c == cell and t <= taken and w <= word and (t, w) != (taken, word) for c, t, w in set(added)
        )
    ]
    joined = join(left, right, pairs, Domains([]), caps, onto, kept)
    assert rows(joined) == sorted(best)
    alone = join(left, None, (pairs[0], pairs[0]), Domains([]), np.array([99]))
    single = {
        (number, taken, word)
        for number, one in enumerate(pairs[0].tolist())
        for at, taken, word in rows(left)
        if at == one
    }
    assert set(rows(alone)) <= single


@each("seed", range(30))
def test_what_keeps_to_one_of_some_bounds_stays_whatever_is_let_go_of(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Least sums are the same within the bounds, and none is lower, also bound by bound."""
    network = build(random_problem(seed, decisions=5, nodes=3, tables=8))
    if network.impossible:
        return
    made = tree.BucketTree(network, 1e18, 1e18)
    rng = random.Random(seed)
    every = [made.amounts(tree.Objective(value, {"cost": cost})) for value, cost in ((1, 0), (3, 2), (0, 1))]
    least = [made.least_sums.best(amounts) for amounts in every]
    if least[0] is None:
        return
    bounds = [
        (amounts, int(one[0]) + rng.choice([-1, 0, 9])) for amounts, one in zip(every, least, strict=True)
    ]
    before = [made.least_sums.through(amounts) for amounts in every]
    monkeypatch.setattr(least_sums, "SUMS_AT_ONCE", rng.choice([1, 10**6]))
    fewer, _ = made.least_sums.within(bounds)
    for (amounts, most), cells in zip(bounds, before, strict=True):
        for was, now in zip(cells, fewer.through(amounts), strict=True):
            assert (now >= was).all()
            assert (now[was <= most] == was[was <= most]).all()


@examples(100)
@given(seed=st.integers(0, 10**6))
def test_counting_a_use_in_classes_gives_the_cost_of_its_sum(seed: int) -> None:
    rng = random.Random(seed)
    uses = [np.array([rng.choice([0, 0, 1, 2, 5]) for _ in range(rng.randint(1, 3))]) for _ in range(3)]
    item = Item("i", 7, pack=rng.randint(1, 4), owned=rng.randint(0, 3), stock=rng.choice([None, 1, 2]))
    classes = use_classes(SharedItem(item, tuple(enumerate(uses))))
    assert classes[0].size <= 1
    for taken in itertools.product(*(use.tolist() for use in uses)):
        cost = cost_of(item, [sum(taken)])[0]
        sums = list(itertools.accumulate(taken, initial=0))
        reached = [layer.of.get(total) for layer, total in zip(classes, sums, strict=True)]
        if cost == UNAVAILABLE:
            assert reached[-1] is None
        else:
            assert None not in reached
            assert classes[-1].costs[reached[-1]] == cost


@each("seed", range(40))
def test_what_is_priced_apart_costs_the_same_together(seed: int) -> None:
    """Every sum of uses, by hand: priced apart where that is the cost, and only there."""
    rng = random.Random(seed)
    tiers = ((2, rng.randint(1, 9)),) if rng.random() < 0.3 else ()
    item = Item("tape", rng.randint(5, 9), rng.choice([1, 4, 10]), rng.choice([0, 0, 3]), None, tiers)
    uses = [np.array([rng.choice([0, 3, 4, 6]) for _ in range(rng.randint(1, 3))]) for _ in range(3)]
    apart = prices_apart(item, uses)
    every = list(itertools.product(*(range(len(use)) for use in uses)))
    together = cost_of(item, [sum(int(use[k]) for use, k in zip(uses, at, strict=True)) for at in every])
    least = [int(use.argmin()) for use in uses]

    def alone(number: int, option: int) -> int:
        return together.tolist()[every.index((*least[:number], option, *least[number + 1 :]))]

    base = together.tolist()[every.index(tuple(least))]
    sums = [base + sum(alone(n, k) - base for n, k in enumerate(at)) for at in every]
    assert (apart is not None) == (sums == together.tolist())
    if apart is not None:
        assert [sum(int(p[k]) for p, k in zip(apart, at, strict=True)) for at in every] == together.tolist()


def test_two_cords_are_priced_apart_and_two_ends_of_one_roll_are_not() -> None:
    ends = [np.array([0, 600]), np.array([0, 600])]
    assert prices_apart(Item("cord", 144, 1000, 0, None, ()), ends) is not None
    assert prices_apart(Item("cord", 144, 1200, 0, None, ()), ends) is None
    assert prices_apart(Item("cord", 144, 1000, 0, 1, ()), ends) is None


def test_sums_that_cost_the_same_later_are_not_told_apart() -> None:
    """One pack of 100 covers every use of up to 60: only "nothing yet" and "something" matter."""
    uses = tuple((k, np.array([0, 10, 20])) for k in range(3))
    classes = use_classes(SharedItem(Item("tape", 250, pack=100), uses))
    assert [layer.size for layer in classes] == [1, 2, 2, 2]


def test_an_order_is_the_same_each_time_and_has_every_variable() -> None:
    rng = random.Random(5)
    triples = tuple(tuple(sorted(rng.sample(range(12), 3))) for _ in range(14))
    graph = InteractionGraph((3,) * 12, triples + tuple((k,) for k in range(12)), (), (2,) * 12, 6.0)
    order = find_order(graph)
    assert sorted(order.variables) == list(range(12))
    find_order.cache_clear()
    assert find_order(graph) == order
    assert find_order(graph, tries=1).work >= order.work


def test_an_order_serves_whatever_it_holds_all_of() -> None:
    orders = KnownOrders()
    assert orders.order_of({0: "desk"}) is None
    orders.note(["lens", "desk", "seat"])
    assert orders.order_of({3: "seat", 7: "lens"}) == (7, 3)
    assert orders.order_of({3: "seat", 7: "lamp"}) is None
    orders.note(["seat", "lamp", "lens"])
    assert orders.order_of({3: "seat", 7: "lens"}) == (3, 7)


def entangled(count: int) -> Problem:
    """Every decision with every other in a table: no order helps."""
    rng = np.random.default_rng(7)
    names = [f"d{k:02d}" for k in range(count)]
    return Problem(
        [Decision(name, [Option(str(k)) for k in range(5)]) for name in names],
        tables=[Table(pair, rng.integers(0, 99, (5, 5))) for pair in itertools.combinations(names, 2)],
    )


def test_a_quick_search_takes_a_known_order_and_leaves_its_own() -> None:
    problem = entangled(5)
    orders = KnownOrders()
    drawn = tree.BucketTree(build(problem), 1e18, 1e18, quick=True, known=orders)
    names = [drawn.network.names[variable] for variable in drawn.leaving]
    assert orders.order_of(dict(enumerate(names))) == tuple(range(len(names)))
    other = KnownOrders()
    other.note(names[::-1])
    assert tree.BucketTree(build(problem), 1e18, 1e18, quick=True, known=other).leaving == drawn.leaving[::-1]


def test_tables_too_entangled_are_refused_and_not_begun() -> None:
    with pytest.raises(TooWide, match="cells"):
        solve(entangled(16), engine="elimination")


def test_automatic_choice_goes_by_size() -> None:
    assert solve(entangled(3)).engine == "elimination"
    assert solve(entangled(7)).options == solve(entangled(7), engine="program").options


def test_work_is_counted_and_stops_the_search() -> None:
    problem = random_problem(4, decisions=8, tables=10)
    with pytest.raises(TooWide, match="pairs"):
        CaseSearch(problem, build(problem), most_pairs=50).solve()


def test_another_order_is_drawn_before_a_problem_counts_as_too_wide(monkeypatch: pytest.MonkeyPatch) -> None:
    seeds_of_orders = tree.ORDER_SEEDS
    for seed in range(80):
        network = build(random_problem(seed, decisions=9, nodes=8, tables=14))
        if network.impossible:
            continue
        monkeypatch.setattr(tree, "ORDER_SEEDS", seeds_of_orders[:1])
        first = tree.BucketTree(network, 1e18, 1e18).cells
        monkeypatch.setattr(tree, "ORDER_SEEDS", seeds_of_orders)
        with suppress(TooWide):
            assert tree.BucketTree(network, first - 1, 1e18).cells < first
            return
    pytest.fail("no drawn problem has orders of different width")


@examples(60)
@given(seed=st.integers(0, 10**6))
def test_no_step_joins_more_rows_than_cells_were_counted_for_it(seed: int) -> None:
    """A node counts no cells where others determine it, also by way of nodes that have left before."""
    network = build(random_problem(seed, decisions=7, nodes=8, tables=12))
    if network.impossible:
        return
    made = tree.BucketTree(network, 1e18, 1e18)
    cells = [(part.scope, part.cells) for part in made.parts]
    paired = LeastSums(made.steps, cells, made.domains)
    rows = [stage.group.size for stage in paired.paired_steps]
    assert all(count <= step.cells for count, step in zip(rows, made.steps, strict=True))


def test_a_node_is_determined_by_what_determined_a_node_that_has_left() -> None:
    """c follows from b and b from a: once b has left, c follows from a."""
    scopes = [(0,), (0, 1), (1, 2), (2, 3), (0, 3)]
    steps = steps_of(scopes, [10, 7, 5, 3], {1: 1, 2: 2}, [1, 2, 3, 0])
    assert [step.onto for step in steps] == [(0, 2), (0, 3), (0,), (), ()]
    # b with a: 10; c with a and the fourth: 10 * 3; then what is left of them
    assert [step.cells for step in steps] == [10, 30, 30, 10, 1]


def test_an_order_whose_cells_have_no_code_counts_as_too_wide() -> None:
    """Nodes that are determined take no rows, but still a part of each cell's code."""
    scopes = [(0, node) for node in range(1, 12)]
    sizes, links = [4, *[100] * 11], {node: node - 1 for node in range(1, 12)}
    first_out, last_out = (steps_of(scopes, sizes, links, order) for order in (range(12), range(11, -1, -1)))
    assert first_out[0].cells == math.inf
    assert [step.cells for step in last_out] == [4] * 12 + [1]


def test_what_masks_leave_of_many_cells_is_told_by_pairing_them() -> None:
    """Twelve decisions that must all take the same of five: of 240 million cells five are allowed."""
    problem = entangled(12)
    same = [Mask(table.scope, np.eye(5, dtype=np.bool_)) for table in problem.tables]
    alike = replace(problem, masks=same)
    network = build(alike)
    assert tree.BucketTree(network, 1e18, 1e18).cells > tree.CERTAIN_CELLS
    found = solve(alike, engine="elimination")
    values = [sum(int(table.values[k, k]) for table in problem.tables) for k in range(5)]
    assert (found.value, set(found.options.values())) == (min(values), {str(values.index(min(values)))})


def test_cells_beyond_what_is_certain_are_refused_where_too_many_are_allowed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    network = build(entangled(6))
    tree.BucketTree(network, 1e18, 1e18)
    monkeypatch.setattr(tree, "CERTAIN_CELLS", 100.0)
    with pytest.raises(TooWide, match="pairs"):
        tree.BucketTree(network, 1e18, 1e18)


def test_passes_over_what_was_paired_are_not_counted_against_the_pairing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = entangled(6)
    same = [Mask(table.scope, np.eye(5, dtype=np.bool_)) for table in problem.tables]
    network = build(replace(problem, masks=same))
    made = tree.BucketTree(network, 1e18, 1e18)
    _ = made.least_sums
    assert made.cells > made.domains.pairs
    monkeypatch.setattr(tree, "CERTAIN_CELLS", float(made.domains.pairs))
    again = tree.BucketTree(network, 1e18, 1e18)
    best = again.best(tree.Objective())
    assert best is not None
    assert again.domains.pairs > made.domains.pairs
    assert best == made.best(tree.Objective())


@each("seed", range(40))
def test_a_network_is_reduced_until_no_rule_over_one_variable_is_left(seed: int) -> None:
    """What such a rule bars is taken out, which may bring up the next."""
    network = build(random_problem(seed, decisions=5, options=3))
    assert network.impossible or all(len(scope) > 1 for scope, _ in network.masks)


@each("seed", range(40))
def test_the_best_met_while_prices_are_looked_for_keeps_every_limit(seed: int) -> None:
    """And prices prove no more than what an assignment within the limits reaches."""
    problem = random_problem(seed, decisions=5, options=3)
    network = build(problem)
    limits = {limit.resource: limit.at_most for limit in network.limits}
    if network.impossible or not limits:
        return
    found = multipliers_of(CaseSearch(problem, network).tree, Objective(), limits)
    if found is not None and found.best is not None:
        assert all(found.best.taken[name] <= most for name, most in limits.items())
        assert found.least <= Objective().of(found.best)
