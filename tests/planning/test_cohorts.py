"""Problems of many people made together: each the same as the person's own, whoever else is there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from random import Random

import numpy as np
import pytest
from tests.planning.cases import CATALOG, ROOT, SAMPLE, quickly_solved
from tests.planning.drawn_workplaces import checked, drawn_case, drawn_options
from tests.stages import NOW

from deskmend.choice import Problem, evaluate, frontier
from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.planning.bill import bill_of, minutes_of
from deskmend.planning.model import cohorts, tables
from deskmend.planning.model import model as exact_model
from deskmend.planning.model.cohorts import Member, gathered, modelled_together, problems_together
from deskmend.planning.model.offers import Offers, OptionSpec, offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.model.tables import PEOPLE_AXIS, Grid, GridBuilder, TooManyCells
from deskmend.planning.ready_case import prepare
from deskmend.planning.score import PLAIN, score
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import Change, settle
from deskmend.workstation.state import Slot, state_of

Made = tuple[Member, Problem, int]


def member(draw: Random, books: list[str]) -> Member:
    """Draw a person of one place; region weights are everybody's, as in a fund."""
    plain = drawn_case(draw, several_places=False)
    plain["person"]["discomfort"] = {}
    plain["owns"]["hardback_book"] = books or "0"
    case = checked(plain)
    state = state_of(case)
    return Member(case, state, offers_for(case, state, CATALOG, SAMPLE), PLAIN)


def drawn(number: int) -> tuple[Member, ...]:
    draw = Random(20_270)
    return tuple(member(draw, draw.choice([["25", "38", "42"], ["30"], []])) for _ in range(number))


@cache
def members() -> tuple[Member, ...]:
    return drawn(60 if NOW.thorough else 40)


def together(people: tuple[Member, ...]) -> list[Made]:
    """Everybody's problem, made with whoever can choose among the same."""
    out: dict[int, Made] = {}
    for group in gathered(people):
        mine = [people[k] for k in group.people]
        made = modelled_together(mine, group.offers, SAMPLE)
        out.update((k, (people[k], *one)) for k, one in zip(group.people, made, strict=True))
    assert len(out) == len(people)
    return [out[k] for k in range(len(people))]


@cache
def everybody() -> tuple[Made, ...]:
    """Problems of all that were drawn, in the first stage of the first of them."""
    return tuple(together(members() if NOW.thorough else members()[:10]))


def choice_of(problem: Problem, person: Member, taken: list[OptionSpec]) -> dict[str, str] | None:
    """The choice of some fixes; None where the problem leaves one of them out as never possible."""
    names = {offer.name: o.name for offer in person.offers.decisions for o in offer.options if o in taken}
    known = {d.name: [option.name for option in d.options] for d in problem.decisions}
    if any(name not in known or option not in known[name] for name, option in names.items()):
        return None
    carried = {f"carry.{option.fix.id}": "yes" for option in taken}
    return {name: names.get(name, carried.get(name, options[0])) for name, options in known.items()}


def test_people_are_put_together_by_what_they_can_choose() -> None:
    many = drawn(60)
    groups = gathered(many)
    assert sorted(k for group in groups for k in group.people) == list(range(len(many)))
    assert max(len(group.people) for group in groups) > 5
    assert len(groups) < len(many) / 2


def test_people_who_can_get_a_seat_without_armrests_are_put_together() -> None:
    """It makes the height of armrests unknown, and what is unknown equals nothing."""
    case = load_case(ROOT / "scenarios/counter_calls/case.yaml")
    prices = load_prices(ROOT / "scenarios/counter_calls/prices.csv")
    people = [
        Member(case, state_of(case), offers_for(case, state_of(case), CATALOG, prices), PLAIN)
        for _ in range(2)
    ]
    values = [change.value for option in people[0].offers.options() for change in option.changes]
    assert any(value != value for value in values)
    assert [group.people for group in gathered(people)] == [[0, 1]]


def test_options_of_a_group_keep_the_order_of_each_member() -> None:
    for group in gathered(members()):
        decisions = {offer.name: offer for offer in group.offers.decisions}
        for k in group.people:
            own = members()[k].offers.decisions
            assert [name for name in decisions if name in {o.name for o in own}] == [o.name for o in own]
            for offer in own:
                mine = [option.name for option in offer.options]
                every = [option.name for option in decisions[offer.name].options]
                assert len(set(every)) == len(every)
                assert [name for name in every if name in mine] == mine


def test_people_of_other_decisions_are_put_together() -> None:
    mixed = [
        group
        for group in gathered(members())
        if len({tuple(o.name for o in members()[k].offers.decisions) for k in group.people}) > 1
    ]
    assert mixed


@pytest.mark.both
def test_tables_hold_what_plain_numbers_give() -> None:
    draw = Random(5)
    sound = refused = left_out = 0
    for person, problem, offset in everybody():
        for most in (0, 1, 2, 4, 8):
            taken = drawn_options(draw, person.offers, person.state, most)
            after = state_with(person.state, taken)
            bad = breaches(person.state, after, [(o.fix, o.owner) for o in taken])
            choice = choice_of(problem, person, taken)
            if choice is None:
                assert bad, [o.with_name for o in taken]
                left_out += 1
                continue
            scored = evaluate(problem, choice)
            assert bool(scored.violations) == bool(bad), (scored.violations, bad)
            if bad:
                refused += 1
                continue
            sound += 1
            assert scored.value + offset == score(after, PLAIN).total
            bill = bill_of(taken, person.case, SAMPLE)
            assert (scored.cost, scored.minutes) == (bill.total, minutes_of(taken))
            assert not bill.missing
    assert min(sound, refused, left_out) > (20 if NOW.thorough else 5)


@pytest.mark.thorough
def test_tasks_that_can_move_count_where_each_person_does_them() -> None:
    """People of two places, one of whom may be able to move a task: tables stand behind gates."""
    draw = Random(31)
    people = []
    while len(people) < 12:
        plain = drawn_case(draw)
        if len(plain["places"]) == 2:
            plain["person"]["discomfort"] = {}
            case = checked(plain)
            state = state_of(case)
            people.append(Member(case, state, offers_for(case, state, CATALOG, SAMPLE), PLAIN))
    twins = [people[0], *(replace(people[0], state=state_of(turned(people[0].case, k))) for k in (15, 25))]
    moved = compared = 0
    for made in ([one for person in people for one in together((person,))], together(tuple(twins))):
        for person, problem, offset in made:
            for most in (1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 4, 6):
                taken = drawn_options(draw, person.offers, person.state, most)
                after = state_with(person.state, taken)
                choice = choice_of(problem, person, taken)
                bad = breaches(person.state, after, [(o.fix, o.owner) for o in taken])
                if choice is None or bad:
                    continue
                scored = evaluate(problem, choice)
                assert not scored.violations
                assert scored.value + offset == score(after, PLAIN).total
                moved += after.place_of != person.state.place_of
                compared += 1
    assert moved > 2
    assert compared > 10


def turned(case: Case, shoes: float) -> Case:
    """The same workplace with other shoes."""
    return case.model_copy(update={"person": case.person.model_copy(update={"shoes": shoes})})


@pytest.mark.parametrize("seed", range(8))
def test_changes_settle_for_many_as_for_one(seed: int) -> None:
    draw = Random(seed)
    slot: Slot = (("place", "den"), "seat.pad")

    def change(operation: str) -> Change:
        return Change(slot, operation, draw.choice([0.1, 0.7, 20.0, 35.5]))

    kinds = [
        [(), *(tuple(change(draw.choice(["add", "at_most", "at_least"])) for _ in range(n)) for n in (1, 2))]
        for _ in range(3)
    ]
    kinds[1].append((change("set"), change("add")))
    starts = np.array([0.3, 30.0, np.nan])
    picks = np.ix_(range(3), *(range(len(group)) for group in kinds))
    found = exact_model._settled(starts[picks[0]], kinds, picks[1:])
    for where in np.ndindex(found.shape):
        changes = [c for group, k in zip(kinds, where[1:], strict=True) for c in group[k]]
        np.testing.assert_array_equal(found[where], settle(float(starts[where[0]]), changes))


@pytest.mark.thorough
@pytest.mark.both
def test_every_budget_gives_the_same_plan_as_the_problem_of_one_person_alone() -> None:
    several = [made for made in everybody() if len(made[1].decisions) > 3][:40:4]
    wanted = 5 if NOW.thorough else 3
    several = [made for made in several if quickly_solved(made[1])][:wanted]
    assert len(several) == wanted
    for person, problem, offset in several:
        ready = prepare(person.case.model_copy(), CATALOG, SAMPLE)
        own = frontier(ready.problem(None, None))
        shared = frontier(problem)
        assert [(r.cost, r.value + ready.fixed_strain, r.minutes, r.fixes) for r in own] == [
            (r.cost, r.value + offset, r.minutes, r.fixes) for r in shared
        ]
        assert [{o for o in r.options.values() if o not in ("keep", "no")} for r in own] == [
            {o for o in r.options.values() if o not in ("keep", "no")} for r in shared
        ]
        assert len(own) > 1


@pytest.mark.thorough
def test_nobody_depends_on_who_else_is_there() -> None:
    people = members()[:12]
    turned = together(tuple(reversed(people)))
    alone = [together((person,))[0] for person in people]
    draw = Random(9)
    compared = 0
    for (person, first, offset), (_, second, other), (_, third, own) in zip(
        together(people), reversed(turned), alone, strict=True
    ):
        for most in (0, 2, 5, 9):
            taken = drawn_options(draw, person.offers, person.state, most)
            choices = [choice_of(problem, person, taken) for problem in (first, second, third)]
            if None in choices:
                assert choices == [None] * 3
                continue
            scored = [evaluate(p, c) for p, c in zip((first, second, third), choices, strict=True) if c]
            assert len({bool(one.violations) for one in scored}) == 1
            if not scored[0].violations:
                compared += 1
                totals = [one.value + fixed for one, fixed in zip(scored, (offset, other, own), strict=True)]
                assert len(set(totals)) == 1
    assert compared > 12


@pytest.mark.both
def test_problems_are_about_as_small_as_those_of_one_person_alone() -> None:
    def cells(problem: Problem) -> int:
        tables = sum(table.values.size for table in problem.tables)
        return int(tables + sum(node.index.size for node in problem.nodes))

    step = 1 if NOW.thorough else 3
    shared = own = 0
    for person, problem, _ in everybody()[::step]:
        shared += cells(problem)
        own += cells(prepare(person.case, CATALOG, SAMPLE).problem(None, None))
    assert shared < 2.5 * own


@pytest.mark.parametrize(
    "cells",
    [
        np.array([[3.0, 1.0, 3.0, 2.0], [7.0, 7.0, 7.0, 7.0]]),
        np.array([[0.5, np.nan, 0.25, np.nan], [1.5, 1.5, 2.0, 0.0]]),
        np.array([["b", "a", "b", "c"], ["a", "a", "a", "d"]]),
        np.array([[30_000.0, 0.0, 5.0, 5.0], [1.0, 2.0, 3.0, 4.0]]),
    ],
)
def test_distinct_values_are_ranked_row_by_row(cells: np.ndarray) -> None:
    """Held against numpy.unique, one row at a time."""
    states, rank = tables._ranked(cells)
    for row, mine, place in zip(cells, states, rank, strict=True):
        values, inverse = np.unique(row, return_inverse=True)
        np.testing.assert_array_equal(mine[: values.size], values)
        np.testing.assert_array_equal(place, inverse)
        np.testing.assert_array_equal(mine[place], row)


def test_a_node_has_states_of_its_own_for_everybody() -> None:
    builder = GridBuilder(3)
    builder.decision("seat", 3)
    builder.decision("feet", 4)
    people = np.array([100.0, 200.0, 300.0])
    own = Grid((PEOPLE_AXIS,), people)
    seat = Grid(("seat",), np.array([0.0, 10.0, 20.0]))
    feet = Grid(("feet",), np.array([0.0, 10.0, 20.0, 30.0]))
    gap = builder.apply("gap", lambda a, b, c: a + b - c, [own, seat, feet])
    node = builder.nodes[-1]
    assert gap.scope == (PEOPLE_AXIS, node.name)
    assert node.scope == (PEOPLE_AXIS, "seat", "feet")
    for k, start in enumerate(people):
        for i in range(3):
            for j in range(4):
                assert gap.values[k, node.index[k, i, j]] == start + 10.0 * i - 10.0 * j


def test_tables_that_would_be_too_large_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "LARGEST_GRID_OF_MANY", 500)
    group = max(gathered(members()), key=lambda one: len(one.people))
    mine = [members()[k] for k in group.people]
    with pytest.raises(TooManyCells, match="cells"):
        modelled_together(mine, group.offers, SAMPLE)


@pytest.mark.anew
def test_where_tables_are_too_large_for_all_they_are_made_for_fewer(monkeypatch: pytest.MonkeyPatch) -> None:
    most = 2

    def made(people: Sequence[Member], offers: Offers, prices: PriceTable) -> list[tuple[Member, int]]:
        if len(people) > most:
            raise TooManyCells(f"{len(people)} people have too many cells")
        return [(one, len(people)) for one in people]

    monkeypatch.setattr(cohorts, "modelled_together", made)
    mine = members()[:1] * 5
    # five are two and three, and three are one and two
    assert problems_together(mine, SAMPLE) == [(mine[0], size) for size in (2, 2, 1, 2, 2)]
    most = 0
    assert problems_together(mine, SAMPLE) == [None] * 5
