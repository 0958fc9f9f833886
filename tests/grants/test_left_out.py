"""The best that is left out where nothing is offered, and that it cannot be told."""

from __future__ import annotations

from tests.catalog.small_catalog import shipped_only

from deskmend.grants.people.plans import PersonPlans, PlanBasis
from deskmend.planning.draws import LEAST_SHARE_TOLD
from deskmend.planning.score import score

from .fund_people import BASE, CATALOG, PRICES, rows

FIXES = ("desk_edge_foam", "lamp_task", "paper_side")


def test_the_best_left_out_takes_off_no_more_than_can_be_told() -> None:
    seen = 0
    for name in ("ana-01", "dado-04", "gil-07", "mika-13", "rosa-17", "wanja-22"):
        plans = PersonPlans(rows()[name], PlanBasis(shipped_only(*FIXES), PRICES, every_gain=False))
        every = PersonPlans(rows()[name], PlanBasis(shipped_only(*FIXES), PRICES)).frontier({}, {})
        useful = [one for one in every if one.packs and one.strain < plans.free.strain]
        left = plans.left_out()
        assert (left is not None) == (len(plans.offered) == 1 and bool(useful)), name
        if left is None:
            continue
        seen += 1
        best = min(useful, key=lambda one: one.strain)
        assert (left.cost, left.relief) == (best.cost(BASE), plans.free.strain - best.strain)
        now = score(plans.member.state, plans.member.weights).total
        assert left.told_from >= now // LEAST_SHARE_TOLD
        assert left.relief <= left.told_from
    assert seen
    assert CATALOG.fixes
