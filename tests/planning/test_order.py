"""What is set up first within a day."""

from __future__ import annotations

from itertools import combinations

from tests.planning.cases import CATALOG, SAMPLE, SCENARIOS, made

from deskmend.intake.case_file import load_case
from deskmend.planning.model.offers import offers_for
from deskmend.planning.order import Outcomes, best_next, in_set_up_order
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import moves_of, sound_state, state_with
from deskmend.workstation.state import state_of


def test_a_seat_comes_before_its_padding_and_that_before_what_holds_it() -> None:
    """Common practice, no source: by name the sheet that holds would come first, and the chair last."""
    case = made(
        places__0__seat__surface="hard",
        places__0__other_seats=[
            {"id": "old", "height": "455", "depth": "430", "surface": "hard", "back": "shaped"}
        ],
        means__tools=["scissors"],
    )
    wanted = ("seat_blanket", "anti_slip_mat", "other_seat")
    offered = {o.fix.id: o for o in offers_for(case, state_of(case), CATALOG, SAMPLE).options()}
    told = [one.fix.id for one in in_set_up_order([offered[name] for name in wanted])]
    assert told == ["other_seat", "seat_blanket", "anti_slip_mat"]


def test_a_mouse_waits_for_the_keyboard_it_is_laid_beside() -> None:
    case = made()
    offers = offers_for(case, state_of(case), CATALOG, SAMPLE)
    keyboard, mouse = (
        next(o for o in offers.options() if o.fix.id == f"{name}_basic") for name in ("keyboard", "mouse")
    )
    strain = {keyboard.fix.id: 12, mouse.fix.id: 8}
    found = best_next([keyboard, mouse], 10, lambda one: strain[one.fix.id], lambda _: True)
    assert found is keyboard


def test_what_is_scored_together_is_what_each_set_of_fixes_leaves_alone() -> None:
    """Also where tasks move to another place, and where one set is asked about twice."""
    case = load_case(next(one for one in SCENARIOS if one.name == "shared_chair_papers") / "case.yaml")
    state, weights = state_of(case), weights_of(case)
    offered = offers_for(case, state, CATALOG, SAMPLE).decisions
    moving = [one for offer in offered for one in offer.options if one.moves_to is not None][:2]
    taken = [*moving, *(offer.options[-1] for offer in offered[:12])]
    every = (plan for size in range(3) for plan in combinations(taken, size))
    plans = [plan for plan in every if sound_state(state, plan) is not None]
    assert any(moves_of(plan) for plan in plans)
    assert len(plans) > 12
    outcomes = Outcomes(state, weights)
    outcomes.know([*plans, plans[3][::-1]])
    alone = [score(state_with(state, plan), weights).total for plan in plans]
    assert [outcomes.strain(plan) for plan in plans] == alone
    assert [outcomes.of(plan) for plan in plans] == [
        (state_with(state, plan), strain) for plan, strain in zip(plans, alone, strict=True)
    ]
