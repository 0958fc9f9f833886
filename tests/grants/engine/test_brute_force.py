"""Small funds against every allocation there is."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.stages import seeds

from deskmend.grants.engine.share import share
from deskmend.grants.terms import ScoreLimit
from deskmend.grants.verify import allocation_faults

from .brute import best_of_all
from .instances import invented


@pytest.mark.parametrize("policy", ["most_relief", "most_people", "worst_off_first"])
@seeds(6, 24)
def test_small_funds_equal_brute_force(policy: str, seed: int) -> None:
    applicants, pool, terms = invented(
        seed,
        people=1 + seed % 6,
        plans=3 + seed % 2,
        policy=policy,
        stock=seed % 4 != 1,
        tiers=seed % 5 != 2,
        cap=seed % 3 == 0,
        floor=seed % 4 == 1,
        shares=seed % 3 == 1,
        weights=seed % 2 == 0,
        part=(0.2, 0.45, 0.8, 1.0)[seed % 4],
        spare=seed % 2 == 1,
    )
    if policy == "most_people" and seed % 2:
        terms = replace(terms, limit=ScoreLimit("rosa", 5))
    if seed % 5 == 3 and terms.cap is None:
        # somebody's plan is decided by people: at most what their second best of three leaves
        who = applicants[0]
        left = sorted(plan.strain for plan in pool.people[who.id].plans)
        terms = replace(terms, ceiling={who.id: min(left[len(left) // 2], who.strain_free)})
    best = best_of_all(applicants, pool, terms)
    found = share(applicants, pool, terms, questions=False)
    plans = {one: person.plans for one, person in pool.people.items()}
    assert allocation_faults(applicants, terms, found, plans) == []
    if best is None:
        assert found.status == "infeasible"
        return
    first: tuple[int, ...] = ()
    if policy == "most_people":
        first = (found.relief,)
    elif policy == "worst_off_first":
        first = tuple(-strain for strain in sorted((c.strain for c in found.chosen.values()), reverse=True))
    assert (first, found.weighted_relief, -found.spent) == best
    assert found.status == "optimal"
    assert found.bound == found.relief
