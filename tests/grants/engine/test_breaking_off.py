"""An interrupt or the end of the time allowed gives the best proven allocation so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pytest
from tests.stages import some

from deskmend.grants.engine.share import share
from deskmend.grants.people.columns import Column, CostBand
from deskmend.grants.terms import FundTerms, Progress
from deskmend.grants.verify import allocation_faults

from .instances import invented
from .listed import ListedPool
from .resolved import helping


class _Interrupted(ListedPool):
    """Breaks off at its nth question."""

    def __init__(self, pool: ListedPool, at: int) -> None:
        super().__init__(pool.people)
        self.left = at

    def _count(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise KeyboardInterrupt

    def columns(self, prices: Mapping[str, int], ids: Sequence[str]) -> Mapping[str, Sequence[Column]]:
        self._count()
        return super().columns(prices, ids)

    def best(
        self, prices: Mapping[str, int], strain_weights: Mapping[str, int], money_weight: int
    ) -> Mapping[str, Column]:
        self._count()
        return super().best(prices, strain_weights, money_weight)

    def every(
        self, items: Sequence[str], bands: Mapping[str, CostBand]
    ) -> Mapping[str, Sequence[Column] | None]:
        self._count()
        return super().every(items, bands)


@pytest.mark.parametrize("policy", ["most_relief", "most_people", "worst_off_first"])
@pytest.mark.parametrize("at", some([0, 1, 2, 3, 4, 5], 0, 3))
def test_an_interrupt_gives_what_is_proven_so_far(policy: str, at: int) -> None:
    applicants, pool, terms = invented(4, 12, policy=policy, part=0.3)
    whole = share(applicants, pool, terms, questions=False)
    if at == 0 or (at == 1 and policy == "most_people"):
        # nothing is known yet, so there is nothing to give: people under a limit take two questions
        with pytest.raises(KeyboardInterrupt):
            share(applicants, _Interrupted(pool, at), terms)
        return
    broken = share(applicants, _Interrupted(pool, at), terms)
    assert allocation_faults(applicants, terms, broken) == []
    assert broken.status in ("not_proven", "optimal")
    assert list(broken.chosen) == sorted(one.id for one in applicants)
    if policy != "worst_off_first":
        assert broken.relief <= whole.relief <= broken.bound
    # nobody is passed over: who is given nothing is told, and for what reason or that none was looked for
    assert {one.id for one in broken.waiting} == {
        one for one, plan in broken.chosen.items() if not plan.packs
    }
    assert broken.broken_off or all(one.why != "broken_off" for one in broken.waiting)


def test_no_time_gives_an_allocation_that_keeps_every_limit() -> None:
    applicants, pool, terms = invented(4, 30)
    found = share(applicants, pool, terms, seconds=0)
    assert allocation_faults(applicants, terms, found) == []
    assert found.status in ("not_proven", "optimal")
    assert found.relief <= share(applicants, pool, terms, questions=False).relief <= found.bound


def test_progress_never_turns_back() -> None:
    applicants, pool, terms = invented(9, 90)
    told: list[Progress] = []
    found = share(applicants, pool, terms, watch=told.append, questions=False)
    values = [one.relief for one in told if one.relief is not None]
    bounds = [one.bound for one in told if one.bound is not None]
    assert values == sorted(values)
    assert bounds == sorted(bounds, reverse=True)
    assert (values[-1], bounds[-1]) == (found.relief, found.bound)
    assert told[-1].gap == found.gap


def test_nobody_asks_and_nothing_is_there() -> None:
    applicants, pool, terms = invented(9, 5)
    empty = share([], ListedPool({}), terms)
    assert (empty.relief, empty.bound, empty.gap, empty.status) == (0, 0, 0.0, "optimal")
    penniless = share(applicants, pool, FundTerms(0, terms.base))
    assert (penniless.spent, penniless.relief, penniless.status) == (0, 0, "optimal")
    with pytest.raises(ValueError, match="share an id"):
        share([applicants[0], applicants[0]], pool, terms)


def test_no_question_is_asked_of_a_fund_in_which_nothing_was_found() -> None:
    """Sixty people with floors: nothing that pays them turns up, and that nothing does is not proven."""
    applicants, pool, terms = invented(22, 60, plans=3, floor=True, weights=True)
    found = share(applicants, pool, terms)
    assert (found.status, found.chosen, found.relief) == ("not_proven", {}, 0)
    assert allocation_faults(applicants, terms, found) == []


def test_reasons_of_all_people_of_a_larger_fund_are_true_and_an_interrupt_says_what_is_not_known() -> None:
    applicants, pool, terms = invented(5, 30, plans=3, part=0.3)
    seen: list[Progress] = []
    found = share(applicants, pool, terms, watch=seen.append, reasons="all")
    unserved = {one for one, plan in found.chosen.items() if not plan.packs}
    assert {one.id for one in found.waiting} == unserved != set()
    people = {one.id: one for one in applicants}
    for one in found.waiting:
        helps = helping(people[one.id], pool, terms)
        assert (one.why == "no_help") == (not helps)
        assert one.why in ("no_help", "money", "stock", "missed")
        assert (one.fund is None) == (one.not_at is None)
        assert one.fund is None or terms.fund <= (one.not_at or 0) < one.fund
        assert one.why != "money" or one.fund is not None
    counts = [(one.relief, one.bound) for one in seen if one.stage == "waiting"]
    assert len(counts) > 1
    assert counts[1:] == sorted(counts[1:])
    assert all(one.gap is None for one in seen if one.stage == "waiting")

    def interrupt(progress: Progress) -> None:
        if progress.stage == "waiting":
            raise KeyboardInterrupt

    broken = share(applicants, pool, terms, watch=interrupt, reasons="all")
    assert broken.broken_off
    assert (broken.chosen, broken.relief, broken.bound) == (found.chosen, found.relief, found.bound)
    assert {one.id: one.why for one in broken.waiting} == dict.fromkeys(unserved, "broken_off")
