"""What is set up first within a day."""

from __future__ import annotations

from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.model.offers import offers_for
from deskmend.planning.order import best_next, in_set_up_order
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
