"""Many states at once: each gets to the last digit what the functions for one state give it alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import isnan
from random import Random

import pytest
from tests.stages import NOW, draws

from deskmend.intake.case_file import load_case
from deskmend.intake.catalog_records import Fix
from deskmend.planning.model.offers import offers_for
from deskmend.planning.model.rules import Breach, breaches, breaches_of_many
from deskmend.planning.score import PLAIN, score, scores_of_many, strain_of_many, weights_of
from deskmend.planning.selection import state_with
from deskmend.risk.severity import curves, moved_curves
from deskmend.workstation.state import DEVICES, Owner, State, state_of

from .cases import CATALOG, SAMPLE, SCENARIOS
from .drawn_workplaces import checked, drawn_case, drawn_options


@dataclass(frozen=True)
class People:
    """States without and with drawn fixes, the fixes, and region weights, person by person."""

    before: list[State]
    after: list[State]
    chosen: list[list[tuple[Fix, Owner]]]
    weights: list[dict[str, float]]

    def part(self, indices: Sequence[int]) -> People:
        """Some of them, in another order."""
        return People(
            [self.before[i] for i in indices],
            [self.after[i] for i in indices],
            [self.chosen[i] for i in indices],
            [self.weights[i] for i in indices],
        )

    def broken_alone(self) -> list[list[Breach]]:
        """What each one breaks, asked one by one."""
        return [breaches(*one) for one in zip(self.before, self.after, self.chosen, strict=True)]


SEEDS = [11, *(pytest.param(seed, marks=pytest.mark.thorough) for seed in draws(0, 2))]


@cache
def drawn(seed: int = 11) -> People:
    """People of drawn workplaces, and of the scenarios' larger ones."""
    draw = Random(seed)
    cases = [checked(drawn_case(draw)) for _ in range(60 if NOW.thorough else 30)]
    cases += [
        load_case(folder / "case.yaml") for folder in SCENARIOS for _ in range(4 if NOW.thorough else 1)
    ]
    people = People([], [], [], [])
    for case in cases:
        state = state_of(case)
        offers = offers_for(case, state, CATALOG, SAMPLE, everything=draw.random() < 0.5)
        options = drawn_options(draw, offers, state, draw.randrange(9))
        people.before.append(state)
        people.after.append(state_with(state, options))
        people.chosen.append([(option.fix, option.owner) for option in options])
        people.weights.append(weights_of(case))
    return people


def kinds(state: State) -> dict[str, bool]:
    """What of a workplace leaves exposures out, or sets it apart from others."""
    values, tasks = state.values, state.tasks
    standing = [values[("place", state.place_of[task]), "stand_share"] for task in tasks]
    return {
        "no monitor": isnan(float(values[DEVICES, "monitor.top"])),
        "no paper": any(values[("task", task), "look.paper"] == 0 for task in tasks),
        "no writing": any(values[("task", task), "hands.writing"] == 0 for task in tasks),
        "no telephone": any(values[("task", task), "task.phone_share"] == 0 for task in tasks),
        "second screen": any(values[("task", task), "look.second"] != 0 for task in tasks),
        "standing": 1.0 in standing,
        "by turns": 0.5 in standing,
        "two tasks": len(tasks) > 1,
        "two places": len(state.places) > 1,
    }


def test_the_draw_holds_every_kind_of_work_and_its_opposite() -> None:
    people = drawn()
    found = [kinds(state) for state in people.after]
    for kind in found[0]:
        assert {True, False} == {one[kind] for one in found}, kind
    assert any(a.place_of != b.place_of for a, b in zip(people.before, people.after, strict=True))


@pytest.mark.parametrize("seed", SEEDS)
def test_strain_is_that_of_each_state_scored_alone(seed: int) -> None:
    people = drawn(seed)
    states, weights = [*people.before, *people.after], [*people.weights, *people.weights]
    alone = [score(state, weight).total for state, weight in zip(states, weights, strict=True)]
    assert strain_of_many(states, weights) == alone
    assert len(set(alone)) > len(people.before)


@pytest.mark.parametrize("seed", SEEDS)
def test_scores_are_those_of_each_state_scored_alone_term_by_term(seed: int) -> None:
    states = drawn(seed).after
    found = scores_of_many(states, PLAIN)
    assert found == [score(state, PLAIN) for state in states]
    assert len({len(one.terms) for one in found}) > 2, "some leave exposures out that others have"


def test_strain_follows_curves_that_are_moved_for_a_while() -> None:
    states = drawn().after
    usual = strain_of_many(states, [PLAIN] * len(states))
    curve = curves()["lordosis_lost"]
    with moved_curves({"lordosis_lost": replace(curve, one_at=curve.one_at + 37.0)}):
        moved = strain_of_many(states, [PLAIN] * len(states))
        assert moved == [score(state, PLAIN).total for state in states]
    assert moved != usual


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_broken_is_what_each_set_of_fixes_breaks_alone(seed: int) -> None:
    people = drawn(seed)
    assert breaches_of_many(people.before, people.after, people.chosen) == people.broken_alone()


@pytest.mark.thorough
def test_every_kind_of_rule_is_broken_by_somebody_and_kept_by_others() -> None:
    people = [drawn(seed) for seed in (11, 12, 13)]
    found = [broken for group in people for broken in group.broken_alone()]
    told = [(breach.fix, breach.reason) for one in found for breach in one]
    assert any(reason == "the legs would no longer fit under the desk" for _, reason in told)
    assert any(reason.startswith("it cannot go together with") for _, reason in told)
    assert any(reason in [need.why for need in fix.needs] for fix, reason in told)
    assert any(reason in [caveat.why for caveat in fix.not_for] for fix, reason in told)
    chosen = [one for group in people for one in group.chosen]
    assert sum(bool(one) and not broken for one, broken in zip(chosen, found, strict=True)) > 10


@pytest.mark.thorough
def test_nothing_depends_on_who_else_is_asked_about() -> None:
    people = drawn()
    strain = strain_of_many(people.after, people.weights)
    broken = breaches_of_many(people.before, people.after, people.chosen)
    order = Random(3).sample(range(len(strain)), len(strain))
    for size in (1, 7):
        for start in range(0, len(order), size):
            asked = order[start : start + size]
            part = people.part(asked)
            assert strain_of_many(part.after, part.weights) == [strain[i] for i in asked]
            assert breaches_of_many(part.before, part.after, part.chosen) == [broken[i] for i in asked]


def test_one_state_may_come_many_times_and_nobody_may_come_at_all() -> None:
    state, weights = drawn().before[0], drawn().weights[0]
    assert strain_of_many([state] * 5, [weights] * 5) == [score(state, weights).total] * 5
    assert strain_of_many([], []) == []
    assert breaches_of_many([], [], []) == []


def test_lists_of_unequal_length_are_refused() -> None:
    state, weights = drawn().before[0], drawn().weights[0]
    with pytest.raises(ValueError, match="2 of them for 1 states"):
        strain_of_many([state], [weights, weights])
    with pytest.raises(ValueError, match="1 states before, 2 after and 1 sets of fixes"):
        breaches_of_many([state], [state, state], [[]])
