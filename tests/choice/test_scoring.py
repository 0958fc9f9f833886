"""Exact scoring, prices of packs and tiers, and the verifier that contradicts a wrong result."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples

from deskmend.choice import (
    Decision,
    Disagreement,
    Item,
    NothingFound,
    Option,
    Problem,
    Table,
    evaluate,
    solve,
    verify,
)
from deskmend.choice.purchases import UNAVAILABLE, cost_of
from deskmend.choice.result import Figures, packs_for

from .brute import price

ITEMS = st.builds(
    lambda price_, pack, owned, stock, tiers: Item(
        "i", price_, pack, owned, stock, sorted(tiers.items()) if price_ is not None else ()
    ),
    st.one_of(st.none(), st.integers(0, 9)),
    st.integers(1, 4),
    st.integers(0, 3),
    st.one_of(st.none(), st.integers(0, 6)),
    st.dictionaries(st.integers(1, 8), st.integers(0, 9), max_size=3),
)


def problem(**changes: object) -> Problem:
    return dataclasses.replace(
        Problem(
            [
                Decision("d", [Option("keep"), Option("take", use={"pen": 2}, minutes=5)]),
                Decision(
                    "e", [Option("keep"), Option("other", use={"pen": 9}), Option("free", is_fix=False)]
                ),
            ],
            [Item("pen", price=150, pack=1, owned=1, tiers=[(10, 120)])],
            [Table(("d", "e"), np.array([[9, 5, 8], [6, 1, 7]])), Table((), np.array(100))],
        ),
        **changes,
    )


def test_ten_may_cost_less_than_nine() -> None:
    item = Item("pen", price=150, tiers=[(10, 120)])
    assert packs_for(item, 8) == (8, 1200)
    assert packs_for(item, 9) == (10, 1200)
    assert packs_for(dataclasses.replace(item, stock=9), 9) == (9, 1350)


def test_owned_units_are_used_first_and_packs_are_whole() -> None:
    assert packs_for(Item("pen", price=150, pack=10, owned=3), 3) == (0, 0)
    assert packs_for(Item("pen", price=150, pack=10, owned=3), 4) == (1, 150)
    assert packs_for(Item("pen", price=150, pack=10, owned=3), 14) == (2, 300)


def test_what_has_no_price_or_no_stock_is_not_to_be_had() -> None:
    assert packs_for(Item("pen", price=None, owned=2), 2) == (0, 0)
    assert packs_for(Item("pen", price=None, owned=2), 3) is None
    assert packs_for(Item("pen", price=1, stock=2), 3) is None


@examples(400)
@given(item=ITEMS, use=st.integers(0, 30))
def test_three_ways_to_price_a_use_agree(item: Item, use: int) -> None:
    """The verifier's rule, the engines' vector and a search over every pack count."""
    wanted = price(item, use)
    bought = packs_for(item, use)
    assert (None if bought is None else bought[1]) == wanted
    assert cost_of(item, [use])[0] == (UNAVAILABLE if wanted is None else wanted)


@examples(200)
@given(item=ITEMS)
def test_using_more_never_costs_less(item: Item) -> None:
    costs = [price(item, use) for use in range(20)]
    known = [cost for cost in costs if cost is not None]
    assert known == sorted(known)
    assert costs[: len(known)] == known


def test_scoring_counts_everything() -> None:
    scored = evaluate(problem(), {"d": "take", "e": "other"})
    # 2 + 9 pens, one owned: ten packs at the tier's price
    assert (scored.value, scored.cost, scored.minutes, scored.fixes) == (101, 1200, 5, 2)
    assert scored.packs == {"pen": 10}
    assert scored.violations == ()
    assert evaluate(problem(), {"d": "keep", "e": "free"}).fixes == 0


def test_every_broken_limit_is_named() -> None:
    tight = problem(money=100, minutes=4, forbidden=[{"d": "take", "e": "other"}])
    broken = " ".join(evaluate(tight, {"d": "take", "e": "other"}).violations)
    assert "cost 1200 exceeds 100" in broken
    assert "minutes 5 exceed 4" in broken
    assert "forbidden together" in broken


def test_a_missing_or_unknown_decision_is_an_error() -> None:
    with pytest.raises(KeyError):
        evaluate(problem(), {"d": "take"})
    with pytest.raises(KeyError):
        evaluate(problem(), {"d": "take", "e": "keep", "f": "keep"})


@pytest.mark.parametrize("field", ["value", "cost", "minutes", "fixes"])
def test_the_verifier_contradicts_a_wrong_figure(field: str) -> None:
    choice = solve(problem())
    assert choice.figures is not None
    wrong = dataclasses.replace(choice.figures, **{field: getattr(choice.figures, field) + 1})
    with pytest.raises(Disagreement, match=field):
        verify(problem(), dataclasses.replace(choice, figures=wrong))


def test_the_verifier_contradicts_wrong_packs_and_broken_limits_and_hollow_proofs() -> None:
    choice = solve(problem())
    assert choice.figures is not None
    with pytest.raises(Disagreement, match="packs"):
        verify(problem(), dataclasses.replace(choice, figures=dataclasses.replace(choice.figures, packs={})))
    with pytest.raises(Disagreement, match="exceeds 100"):
        verify(problem(money=100), choice)
    with pytest.raises(Disagreement, match="called proven"):
        verify(problem(), dataclasses.replace(choice, bound=choice.value - 1))
    with pytest.raises(Disagreement, match="above what is reached"):
        verify(problem(), dataclasses.replace(choice, bound=choice.value + 1, proven=False))


def test_a_result_without_assignment_gives_no_figures() -> None:
    choice = solve(problem(forbidden=[{"d": "keep"}, {"d": "take"}]))
    assert choice.status == "infeasible"
    assert choice.proven
    assert not choice.found
    assert choice.options == {}
    assert verify(problem(), choice) is None
    with pytest.raises(NothingFound, match="infeasible"):
        _ = choice.value


def test_figures_default_to_no_packs() -> None:
    assert Figures(1, 2, 3, 4).packs == {}
