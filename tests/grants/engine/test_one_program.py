"""Ten to forty people against one integer program for everybody, solved by a solver of another family."""

from __future__ import annotations

import pytest
from tests.stages import seeds, some

from deskmend.grants.engine.pricing import FULL_UP_TO
from deskmend.grants.engine.share import share
from deskmend.grants.verify import allocation_faults

from .instances import invented
from .one_piece import most_by_one_program


@seeds(2, 16)
def test_share_equals_one_program_for_everybody(seed: int) -> None:
    applicants, pool, terms = invented(
        100 + seed,
        people=(10, 20, 30, 40)[seed % 4],
        plans=3 + seed % 5,
        policy="most_people" if seed % 8 == 5 else "most_relief",
        cap=seed % 5 == 1,
        floor=seed % 5 == 2,
        shares=seed % 3 == 0,
        weights=seed % 2 == 0,
        part=(0.2, 0.4, 0.7)[seed % 3],
    )
    best = most_by_one_program(applicants, pool, terms)
    found = share(applicants, pool, terms, questions=False)
    plans = {one: person.plans for one, person in pool.people.items()}
    assert allocation_faults(applicants, terms, found, plans) == []
    if best is None:
        assert found.status == "infeasible"
        return
    assert found.status == "optimal"
    assert found.bound == found.relief == best[0]
    if terms.policy == "most_relief":
        assert found.spent == best[1]


@pytest.mark.parametrize("people", [60, FULL_UP_TO])
def test_without_scarcity_a_hundred_are_exact(people: int) -> None:
    """One multiplier and the plans it leaves in doubt; the other solver agrees."""
    applicants, pool, terms = invented(7, people, plans=5, stock=False, tiers=False)
    found = share(applicants, pool, terms, questions=False)
    assert found.status == "optimal"
    assert (found.relief, found.spent) == most_by_one_program(applicants, pool, terms)


@pytest.mark.parametrize("seed", some([1, 3, 6], 1))
def test_proven_bound_of_many_holds_against_one_program(seed: int) -> None:
    """With more than forty people the bound may leave a gap, but never lies below what is possible."""
    applicants, pool, terms = invented(seed, 44, plans=2, part=0.3)
    best = most_by_one_program(applicants, pool, terms)
    assert best is not None
    found = share(applicants, pool, terms, questions=False)
    assert found.relief <= best[0] <= found.bound
    assert found.gap is not None
    assert found.gap < 0.05


@pytest.mark.parametrize("seed", [20, 28])
def test_a_cap_leaves_no_wide_gap_where_many_apply(seed: int) -> None:
    """A Pareto set at scarcity prices need not hold the best plan within the cap; its bound must."""
    applicants, pool, terms = invented(seed, 60, plans=4, cap=True)
    best = most_by_one_program(applicants, pool, terms)
    assert best is not None
    found = share(applicants, pool, terms, questions=False)
    assert found.relief <= best[0] <= found.bound
    assert found.gap is not None
    assert found.gap < 0.05
