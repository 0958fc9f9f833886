"""People worked out together: everybody's answers are those of one who is asked about alone."""

from __future__ import annotations

from random import Random

import pytest

from deskmend.choice import Problem, evaluate
from deskmend.choice.result import Scored
from deskmend.grants.people.plans import PlanBasis, made_together
from deskmend.grants.people.workers import Job, JobKind, PersonCache, in_batches
from deskmend.intake.given_before import Had
from deskmend.planning.model import tables

from .fund_people import CATALOG, PRICES, SMALL, rows

BASIS = PlanBasis(CATALOG, PRICES)
PRICED = (({}, 1000, 2_000_000, {}), ({"tape": 900}, 700, 9_000_000, {}))


def tasks(question: JobKind, told: tuple[object, ...]) -> list[Job]:
    return [Job(rows()[name], Had(), question, told) for name in SMALL]


def test_everybody_is_answered_as_if_alone() -> None:
    cache = PersonCache(BASIS, 10**9)
    shuffled = tasks("applicant", ())
    Random(2).shuffle(shuffled)
    found = {one.id: one for one in cache.answers(shuffled)}
    best = dict(zip(SMALL, cache.answers(tasks("best", PRICED)), strict=True))
    for name in SMALL:
        alone = PersonCache(BASIS, 10**9)
        (own,) = alone.answers([Job(rows()[name], Had(), "applicant", ())])
        assert own == found[name]
        (mine,) = alone.answers([Job(rows()[name], Had(), "best", PRICED)])
        assert mine == best[name]
        assert [column.choice for column in mine] == [column.choice for column in best[name]]
        assert len(mine) == len(PRICED)


@pytest.mark.thorough
def test_some_of_the_people_are_made_together() -> None:
    everybody = [(row, Had()) for row in rows().values()]
    made = made_together(everybody, BASIS)
    assert 2 <= len(made) <= len(everybody)
    assert list(made_together(everybody[:1], BASIS)) == [everybody[0][0].id]


@pytest.mark.anew
@pytest.mark.thorough
def test_tables_too_large_for_many_are_made_for_fewer(monkeypatch: pytest.MonkeyPatch) -> None:
    everybody = [(row, Had()) for row in rows().values()]
    at_once = made_together(everybody, BASIS)
    monkeypatch.setattr(tables, "LARGEST_GRID_OF_MANY", 40_000)
    halved = made_together(everybody, BASIS)
    assert halved
    compared = 0
    for name, one in halved.items():
        other = at_once[name].problem
        for decision in one.problem.decisions:
            for option in decision.options:
                mine, theirs = (
                    alone(one.problem, decision.name, option.name),
                    alone(other, decision.name, option.name),
                )
                assert bool(mine.violations) == bool(theirs.violations)
                if not mine.violations:
                    compared += 1
                    assert mine.value + one.fixed_strain == theirs.value + at_once[name].fixed_strain
                    assert (mine.cost, mine.minutes) == (theirs.cost, theirs.minutes)
    assert compared > 50


def alone(problem: Problem, decision: str, option: str) -> Scored:
    """One option taken and everything else kept."""
    return evaluate(problem, {d.name: d.options[0].name for d in problem.decisions} | {decision: option})


def test_whoever_was_in_a_batch_stays_in_it() -> None:
    known: dict[str, int] = {}
    first = in_batches(tasks("applicant", ()), known, 2)
    assert sorted(number for _, numbers in first for number in numbers) == list(range(len(SMALL)))
    assert len(first) > 1
    before = dict(known)
    assert in_batches(tasks("best", PRICED), known, 2) == first
    single = in_batches(tasks("columns", ({}, {})), known, 2)
    assert [numbers for _, numbers in single] == [[number] for number in range(len(SMALL))]
    assert known == before
