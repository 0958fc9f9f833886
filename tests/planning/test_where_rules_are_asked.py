"""A rule about places counts where somebody works: model and check say the same of every set of fixes."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from tests.planning.cases import CATALOG, PLAIN, SAMPLE, made, prepared_or_skipped
from tests.planning.drawn_cases import drawn_case
from tests.stages import seeds

from deskmend.choice.result import evaluate
from deskmend.intake.case import Case
from deskmend.planning.model.offers import KEEP, offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.plan import NoPlan, plan
from deskmend.planning.ready_case import ReadyCase, prepare
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import TwoSets

NARROW: dict[str, Any] = PLAIN["places"][0] | {
    "id": "niche",
    "desk": PLAIN["places"][0]["desk"] | {"depth": "320", "underside": "520", "height": "555"},
}
"""A place where nothing fits: too shallow for a screen, too low for the legs."""


def with_a_niche(**changes: Any) -> Case:
    return made(places=[PLAIN["places"][0], NARROW], **changes)


@pytest.mark.parametrize("wish", ["second_hand_monitor", "den.seat_cushion"])
def test_a_place_where_nobody_works_hinders_no_wish(wish: str) -> None:
    case = with_a_niche(places__0__seat__surface="hard") if wish.startswith("den") else with_a_niche()
    # a niche can be furnished, and work would move there
    found = plan(case, CATALOG, SAMPLE, 50_000, must=[wish], never=["work.place"])
    assert wish.rpartition(".")[2] in {step.option.fix.id for step in found.steps}
    assert found.state_after.place_of == {"work": "den"}


def test_a_place_where_somebody_works_still_does() -> None:
    task = PLAIN["tasks"][0]
    case = with_a_niche(tasks=[task, task | {"id": "notes", "place": "niche", "main": "paper", "hours": "1"}])
    stays = [f"{task}.place" for task in ("work", "notes")]
    with pytest.raises(NoPlan):
        plan(case, CATALOG, SAMPLE, 50_000, must=["second_hand_monitor"], never=stays)


def allowed_by_model(ready: ReadyCase, options: dict[str, str]) -> bool:
    problem = ready.problem(None, None)
    # what serves several owners is had, whoever uses it
    had = {one.name: one.options[-1].name for one in problem.decisions if one.name not in options}
    broken = evaluate(problem, options | had).violations
    return not [one for one in broken if not one.startswith("item")]


def allowed_by_check(ready: ReadyCase, options: dict[str, str]) -> bool:
    taken = ready.offers.taken(options)
    try:
        after = state_with(ready.state, taken)
    except TwoSets:
        return False
    return not breaches(ready.state, after, [(one.fix, one.owner) for one in taken])


def test_a_cushion_where_nobody_works_any_more_keeps_no_arms_off_the_desk_there() -> None:
    """It lifts legs that nobody has there: to sit at it would be forbidden, to leave it as it is is not."""
    ready = prepare(with_a_niche(), CATALOG, SAMPLE)
    named = {
        "den.arms": "forearms_on_desk",
        "niche.desk_height": "ironing_board=700",
        "work.place": "place=niche",
        "den.seat_surface": "seat_cushion=80",
    }
    options = {offer.name: named.get(offer.name, KEEP) for offer in ready.offers.decisions}
    assert allowed_by_model(ready, options)
    assert allowed_by_check(ready, options)
    there = options | {"work.place": KEEP}
    assert not allowed_by_model(ready, there)
    assert not allowed_by_check(ready, there)


@seeds(2, 12)
def test_model_and_check_allow_the_same(seed: int) -> None:
    draw = Random(seed)
    case = drawn_case(seed)
    if len(case.places) == 1:
        case = with_a_niche(**({"tasks__0__main": "paper"} if seed % 2 else {}))
    ready = prepared_or_skipped(case)
    offers = {offer.name: [KEEP, *(o.name for o in offer.options)] for offer in ready.offers.decisions}
    moves = {o.name for o in ready.offers.decisions if any(one.moves_to for one in o.options)}
    said = set()
    for _ in range(60):
        # Few at once, or next to nothing would be allowed; and work moves often.
        share = draw.choice([0.05, 0.15])
        options = {
            name: draw.choice(names) if draw.random() < (0.5 if name in moves else share) else KEEP
            for name, names in offers.items()
        }
        told = allowed_by_check(ready, options)
        assert allowed_by_model(ready, options) == told, options
        said.add(told)
    assert True in said


@seeds(2, 8)
def test_what_the_model_leaves_out_no_single_fix_could_be(seed: int) -> None:
    """An option that no rule lets through is gone from the model; alone it never passes the check."""
    case = drawn_case(seed)
    if len(case.places) == 1:
        case = with_a_niche()
    ready = prepared_or_skipped(case)
    offers = offers_for(case, ready.state, CATALOG, SAMPLE)
    kept = {(one.owner, one.name) for one in ready.offers.options()}
    for option in offers.options():
        if (option.owner, option.name) not in kept:
            after = state_with(ready.state, [option])
            assert breaches(ready.state, after, [(option.fix, option.owner)]), option.with_name
