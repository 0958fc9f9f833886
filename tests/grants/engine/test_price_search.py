"""Prices that a search has found, rounded to what a bound may be reckoned with."""

from __future__ import annotations

import pytest

from deskmend.grants.engine.prices import _lowered


@pytest.mark.parametrize(
    ("rounded", "allowed"),
    [
        ([], ()),
        ([5, 0, 3], (5, 0, 3)),
        # none above the first
        ([5, 0, 9], (5, 0, 5)),
        # two groups together at most once the first: 5 + 4 are brought down by 5 in 9
        ([5, 9, 4], (5, 2, 2)),
        ([5, 3, 2], (5, 3, 2)),
        # of three groups together twice the first
        ([5, 4, 4, 2], (5, 4, 4, 2)),
        # one group alone may cost nothing beyond the open money
        ([5, 4], (5, 0)),
        ([0, 0, 0], (0, 0, 0)),
        ([5, 0], (5, 0)),
    ],
)
def test_prices_of_pots_keep_to_what_a_bound_allows(rounded: list[int], allowed: tuple[int, ...]) -> None:
    assert _lowered(rounded) == allowed
