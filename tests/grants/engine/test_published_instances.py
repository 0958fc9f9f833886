"""Published knapsacks with known optima, stated as funds unchanged: profit is relief, weight is price.

A knapsack is a multiple-choice knapsack with two choices a class; put together in pairs its objects make
classes of four (neither, one, the other, both), which is the same problem again.  Sources and optima stand in
``tests/choice/test_published_knapsacks.py``.
"""

from __future__ import annotations

import pytest
from tests.choice.test_published_knapsacks import OPTIMA, SINGLE

from deskmend.grants.engine.share import share
from deskmend.grants.people.columns import WEIGHT_UNIT, Applicant, Column
from deskmend.grants.terms import FundTerms

from .listed import ListedPlans, ListedPool


def as_fund(name: str, together: int) -> tuple[list[Applicant], ListedPool, FundTerms]:
    capacity, profits, weights, _ = SINGLE[name]
    base = {f"object{k:02d}": weight for k, weight in enumerate(weights)}
    applicants, plans = [], {}
    for first in range(0, len(profits), together):
        members = range(first, min(first + together, len(profits)))
        free = sum(profits[k] for k in members)
        columns = []
        for choice in range(1 << len(members)):
            taken = [k for place, k in enumerate(members) if choice >> place & 1]
            packs = tuple((f"object{k:02d}", 1) for k in taken)
            columns.append(Column(packs, free - sum(profits[k] for k in taken)))
        one = f"class{first:02d}"
        applicants.append(Applicant(one, free, free))
        plans[one] = ListedPlans(columns, base)
    return applicants, ListedPool(plans), FundTerms(capacity, base)


@pytest.mark.parametrize("together", [1, 2, 3])
@pytest.mark.parametrize("name", SINGLE)
def test_published_optimum(name: str, together: int) -> None:
    found = share(*as_fund(name, together), questions=False)
    assert found.status == "optimal"
    assert found.relief == OPTIMA[name] * WEIGHT_UNIT
    if name != "n7":
        taken = {item for column in found.chosen.values() for item, _ in column.packs}
        assert taken == {f"object{k:02d}" for k, bit in enumerate(SINGLE[name][3]) if bit}
