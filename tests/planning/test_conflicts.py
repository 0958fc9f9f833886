"""Fixes that exclude each other: which owners' fixes meet, by hand, and who would notice a fault.

The model and everything that asks for broken rules read conflicts in one way, the check of a plan in another
of its own. Each is held against the same list here, so that none is the other's only witness.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from deskmend.errors import DefectError
from deskmend.intake.case import Case
from deskmend.intake.catalog_records import Fix
from deskmend.planning.model import model as exact_model
from deskmend.planning.model import rules
from deskmend.planning.model.model import ruled_model
from deskmend.planning.model.offers import Offer, Offers, OptionSpec
from deskmend.planning.model.rules import breaches
from deskmend.planning.plan import plan
from deskmend.planning.plan_check import clashes
from deskmend.planning.ready_case import NoPlan
from deskmend.workstation.effects import changes_of
from deskmend.workstation.state import Owner, State, state_of

from .cases import CATALOG, PLAIN, SAMPLE, made

DEN, NOOK = ("place", "den"), ("place", "nook")
WORK, POST = ("task", "work"), ("task", "post")
PERSON, DEVICE = ("person", ""), ("device", "")
MEETING: tuple[tuple[Owner, Owner, bool], ...] = (
    (DEN, DEN, True),
    (DEN, NOOK, False),
    (WORK, WORK, True),
    (WORK, POST, False),
    (PERSON, PERSON, True),
    (DEVICE, DEVICE, True),
    (DEN, WORK, True),
    (NOOK, WORK, True),
    (PERSON, NOOK, True),
    (DEVICE, POST, True),
    (PERSON, DEVICE, True),
)
"""Owners of two fixes, and whether the fixes get in each other's way."""


def two_places() -> Case:
    """One task done at each of two places."""
    place, task = PLAIN["places"][0], PLAIN["tasks"][0]
    return made(
        places=[place, place | {"id": "nook"}],
        tasks=[task | {"hours": "3"}, task | {"id": "post", "place": "nook", "hours": "2"}],
    )


def invented(name: str, scope: str, *conflicts: str) -> Fix:
    """A fix that only sheds a little more light, so that nothing but a conflict can forbid it."""
    told: dict[str, Any] = {
        "id": name,
        "title": f"Invented {name}",
        "kind": "rearranged",
        "decision": name,
        "stage": "light",
        "scope": scope,
        "minutes": "5",
        "effects": [{"change": "light.lux", "add": "5"}],
        "conflicts": list(conflicts),
    }
    return Fix.model_validate(told)


def option(fix: Fix, owner: Owner, state: State) -> OptionSpec:
    return OptionSpec(fix.id, fix, owner, None, (), changes_of(fix, owner, None, state), None, {})


def both(owners: tuple[Owner, Owner], named_by_first: bool, state: State) -> tuple[OptionSpec, OptionSpec]:
    """Two fixes of which one names the other as its rival."""
    first = invented("first", owners[0][0], *(["second"] if named_by_first else []))
    second = invented("second", owners[1][0], *([] if named_by_first else ["first"]))
    return option(first, owners[0], state), option(second, owners[1], state)


@pytest.mark.parametrize("named_by_first", [True, False])
@pytest.mark.parametrize(("one", "other", "meet"), MEETING)
def test_who_gets_in_whose_way(one: Owner, other: Owner, meet: bool, named_by_first: bool) -> None:
    state = state_of(two_places())
    taken = both((one, other), named_by_first, state)
    told = breaches(state, state, [(o.fix, o.owner) for o in taken])
    rival = "Invented second" if named_by_first else "Invented first"
    assert [breach.reason for breach in told] == [f"it cannot go together with {rival}"] * meet
    assert len(clashes(taken)) == meet
    offers = Offers(tuple(Offer(f"{o.owner[1]}.{o.fix.id}", o.owner, (o,)) for o in taken), ())
    masks = ruled_model([state], offers).masks
    assert [mask.allowed.tolist() for mask in masks] == [[[True, True], [True, False]]] * meet


def test_a_fix_is_not_its_own_rival_but_that_of_another_owner() -> None:
    state = state_of(two_places())
    alone = option(invented("first", "place", "first"), DEN, state)
    assert breaches(state, state, [(alone.fix, alone.owner)]) == []
    assert clashes([alone]) == []


def planted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the one reading of conflicts that model and rules share see none."""

    def never(*_: object) -> bool:
        return False

    monkeypatch.setattr(rules, "at_odds", never)
    monkeypatch.setattr(exact_model, "at_odds", never)


@pytest.mark.anew
@pytest.mark.parametrize("scopes", [("place", "place"), ("place", "task"), ("device", "task")])
def test_the_check_notices_conflicts_that_the_model_does_not(
    scopes: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    fixes = (invented("first", scopes[0], "second"), invented("second", scopes[1]))
    catalog = replace(CATALOG, fixes=fixes)
    wanted = ["first", "second"]
    with pytest.raises(NoPlan, match="cannot go together"):
        plan(made(), catalog, SAMPLE, must=wanted)
    planted(monkeypatch)
    with pytest.raises(DefectError, match=r"first cannot go together with .*second"):
        plan(made(), catalog, SAMPLE, must=wanted)


def test_a_conflict_at_another_place_hinders_no_plan() -> None:
    fixes = (invented("first", "place", "second"), invented("second", "place"))
    catalog = replace(CATALOG, fixes=fixes)
    found = plan(two_places(), catalog, SAMPLE, must=["den.first", "nook.second"])
    assert {step.option.with_name for step in found.steps} >= {"den.first", "nook.second"}
    with pytest.raises(NoPlan, match="cannot go together"):
        plan(two_places(), catalog, SAMPLE, must=["nook.first", "nook.second"])


def test_every_conflict_of_the_catalog_is_read_both_ways_alike() -> None:
    state = state_of(two_places())
    named = [(fix, CATALOG.by_id[rival]) for fix in CATALOG.fixes for rival in fix.conflicts]
    assert len(named) > 20
    owners = {"person": PERSON, "device": DEVICE, "place": DEN, "task": WORK}
    for fix, rival in named:
        pair = [OptionSpec(one.id, one, owners[one.scope], None, (), (), None, {}) for one in (fix, rival)]
        assert clashes(pair)
        assert clashes(pair[::-1])
        told = breaches(state, state, [(one.fix, one.owner) for one in pair])
        assert any(breach.reason.startswith("it cannot go together with") for breach in told)
