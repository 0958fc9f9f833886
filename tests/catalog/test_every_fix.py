"""Every fix is chosen somewhere, blocked somewhere, moves what it should, and touches nothing else."""

from __future__ import annotations

import copy
import dataclasses
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.planning.cases import CATALOG, PLAIN, SAMPLE, made
from tests.stages import each, examples

from deskmend.choice import solve
from deskmend.errors import InputFaults
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.planning.frontier import checked
from deskmend.planning.model.offers import OptionSpec, offers_for
from deskmend.planning.plan import NoPlan, plan
from deskmend.planning.ready_case import prepare
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.fields import FIELDS, SYMBOLS
from deskmend.workstation.graph import QUANTITIES, ROLES
from deskmend.workstation.state import State, evaluate, state_of

from .fix_cases import CASES, OPEN, FixCase

MOVES = {"place"}
"""Fixes that need two places; they have a test of their own."""
NAMES = [name for name in CASES if name not in MOVES]


def case_of(one: FixCase, blocked: bool = False) -> Case:
    changes = {**OPEN, **one.changes, **(one.blocked if blocked else {})}
    changes.pop("means__currency", None)
    return made(**changes)


def few(name: str, one: FixCase, blocked: bool = False) -> Catalog:
    """The fix and what it needs, so that a plan takes no time."""
    ids = {name, *one.helpers} - (set(one.never) if blocked else set())
    return dataclasses.replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in ids))


def test_every_fix_has_its_case() -> None:
    assert set(CASES) == set(CATALOG.by_id)


@each("name", NAMES)
def test_fix_is_chosen_where_it_can_be(name: str) -> None:
    one = CASES[name]
    ready = prepare(case_of(one), few(name, one), SAMPLE, must=[name])
    means = ready.case.means
    choice = solve(ready.problem(means.budget, means.minutes))
    found = checked(ready, choice, means.budget, means.minutes)
    assert name in {option.fix.id for option in found.options}


@pytest.mark.thorough
@pytest.mark.parametrize("name", NAMES)
def test_fix_is_in_a_plan_where_it_can_be(name: str) -> None:
    one = CASES[name]
    found = plan(case_of(one), few(name, one), SAMPLE, must=[name])
    assert name in {step.option.fix.id for step in found.steps}


@each("name", NAMES)
def test_fix_is_blocked_where_it_should_be(name: str) -> None:
    one = CASES[name]
    case = case_of(one, blocked=True)
    never = [other for other in one.never if other == name]
    if never:
        found = plan(case, few(name, one), SAMPLE, never=never)
        assert name not in {step.option.fix.id for step in found.steps}
        return
    with pytest.raises((NoPlan, InputFaults)):
        plan(case, few(name, one, blocked=True), SAMPLE, must=[name])


def test_a_task_moves_where_there_is_another_place_and_nowhere_else() -> None:
    good = copy.deepcopy(PLAIN["places"][0])
    bad = {**copy.deepcopy(good), "id": "cellar", "light": {"lux": "50", "glare": "window_behind"}}
    case = made(**OPEN, places=[bad, good], tasks__0__place="cellar")
    found = plan(case, few("place", CASES["place"]), SAMPLE)
    assert [step.option.with_name for step in found.steps] == ["work.place=den"]
    with pytest.raises((NoPlan, InputFaults)):
        plan(case_of(CASES["place"]), few("place", CASES["place"]), SAMPLE, must=["place"])


def options(case: Case, state: State, names: set[str]) -> list[OptionSpec]:
    """First option of each fix."""
    out: dict[str, OptionSpec] = {}
    for option in offers_for(case, state, CATALOG, None, everything=True).options():
        if option.fix.id in names:
            out.setdefault(option.fix.id, option)
    return list(out.values())


def number(state: State, text: str) -> float:
    name, _, role = text.partition("@")
    task = state.tasks[0]
    roles = {"mode": "sit"} | {kind: role for kind, words in ROLES.items() if role in words}
    return float(evaluate(state, task)(name, **roles))


def test_fix_moves_each_quantity_the_right_way() -> None:
    wrong = {}
    for name, one in CASES.items():
        if not one.signs:
            continue
        case = case_of(one)
        now = state_of(case)
        helpers = options(case, now, set(one.helpers))
        before = state_with(now, helpers)
        after = state_with(now, [*helpers, *options(case, now, {name})])
        for text in one.signs:
            quantity, _, way = text.rpartition(" ")
            change = number(after, quantity) - number(before, quantity)
            if (change > 0, change < 0) != (way == "+", way == "-"):
                wrong[name, text] = change
    assert wrong == {}


def keys() -> list[tuple[str, tuple[tuple[str, str], ...]]]:
    """Every quantity in every role it has."""
    out = set()
    for one in QUANTITIES:
        for target in ROLES["target"]:
            for hand in ROLES["hand"]:
                for mode in ROLES["mode"]:
                    roles = {"target": target, "hand": hand, "mode": mode}
                    if all(roles[kind] == word for kind, word in one.only.items()):
                        out.add((one.name, tuple(sorted(roles.items()))))
    return sorted(out)


KEYS = keys()


@examples(150)
@given(st.sampled_from(sorted(CASES)), st.sampled_from(NAMES), st.integers(0, 20), st.data())
def test_no_fix_moves_a_quantity_that_it_cannot_touch(
    name: str, workplace: str, size: int, data: st.DataObject
) -> None:
    """A quantity hangs on the fields that ``Registry.leaves`` finds, and on no others."""
    case = case_of(CASES[workplace])
    now = state_of(case)
    mine = [
        option
        for option in offers_for(case, now, CATALOG, None, everything=True).options()
        if option.fix.id == name and option.moves_to is None
    ]
    if not mine:
        return
    option = mine[size % len(mine)]
    try:
        after = state_with(now, [option])
    except TwoSets:
        return
    changed = {change.slot[1] for change in option.changes}
    touched = {FIELDS[field].symbol for field in changed}
    asked = data.draw(st.lists(st.sampled_from(KEYS), min_size=20, max_size=60))
    task = now.tasks[0]
    for quantity, roles in asked:
        named: dict[str, Any] = dict(roles)
        try:
            leaves = QUANTITIES.leaves(quantity, named)
        except KeyError:
            continue
        assert leaves <= set(SYMBOLS)
        if leaves & touched:
            continue
        first = evaluate(now, task)(quantity, **named)
        second = evaluate(after, task)(quantity, **named)
        assert first == second or (first != first and second != second), (quantity, roles)
