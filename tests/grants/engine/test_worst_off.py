"""Worst off first among more people than all allocations can be tried for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.stages import seeds, some

from deskmend.grants.engine.share import share
from deskmend.grants.people.columns import Applicant
from deskmend.grants.terms import FundTerms

from .instances import invented
from .listed import ListedPool


def money_for(applicants: list[Applicant], pool: ListedPool, terms: FundTerms, strain: int) -> int | None:
    """What it costs to leave nobody with more than `strain`, each person taken alone."""
    total = 0
    for one in applicants:
        enough = [plan.cost(terms.base) for plan in pool.people[one.id].plans if plan.strain <= strain]
        if not enough:
            return None
        total += min(enough)
    return total


@seeds(1, 3)
@pytest.mark.parametrize("people", some([18, 30, 80], 18))
def test_first_level_is_the_least_that_money_reaches(seed: int, people: int) -> None:
    applicants, pool, terms = invented(
        seed, people, policy="worst_off_first", stock=False, tiers=False, part=0.25, plans=6
    )
    found = share(applicants, pool, terms, questions=False)
    strains = sorted({plan.strain for one in applicants for plan in pool.people[one.id].plans})
    affordable = [
        strain
        for strain in strains
        if (money := money_for(applicants, pool, terms, strain)) is not None and money <= terms.fund
    ]
    first = found.levels[0]
    assert first.proven
    assert first.strain == affordable[0] == max(column.strain for column in found.chosen.values())
    assert first.people == sum(column.strain == first.strain for column in found.chosen.values())
    assert [level.strain for level in found.levels] == sorted(
        {level.strain for level in found.levels}, reverse=True
    )


@pytest.mark.thorough
def test_levels_cover_everybody_where_few_apply() -> None:
    applicants, pool, terms = invented(6, 18, policy="worst_off_first", part=0.3)
    found = share(applicants, pool, terms, questions=False)
    assert found.status == "optimal"
    assert sum(level.people for level in found.levels) == 18
    after = sorted((column.strain for column in found.chosen.values()), reverse=True)
    assert after == [level.strain for level in found.levels for _ in range(level.people)]


@pytest.mark.thorough
@pytest.mark.parametrize("seed", [1])
def test_levels_of_many_people_with_scarcity_are_honest_intervals(seed: int) -> None:
    applicants, pool, terms = invented(seed, 42, policy="worst_off_first", part=0.2, plans=2)
    found = share(applicants, pool, terms, questions=False)
    assert found.levels
    after = sorted((column.strain for column in found.chosen.values()), reverse=True)
    settled = 0
    for level in found.levels:
        assert level.strain_at_least <= level.strain
        assert level.people_at_least <= level.people
        assert after[settled : settled + level.people] == [level.strain] * level.people
        settled += level.people
    plenty = share(applicants, pool, replace(terms, fund=10 * terms.fund, stock={}), questions=False)
    assert plenty.levels[0].strain <= found.levels[0].strain
