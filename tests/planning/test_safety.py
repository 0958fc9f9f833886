"""What blocks a fix, and what leads the output."""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, PLAIN, ROOT, SAMPLE, made, offering, plain

from deskmend.cli.program import deskmend
from deskmend.errors import InputFaults
from deskmend.intake.case_file import read_case
from deskmend.intake.prices import PriceTable
from deskmend.planning.assessment import assess
from deskmend.planning.model.offers import offers_for
from deskmend.planning.plan import NoPlan, Plan, plan
from deskmend.report.documents import failure_document, failure_text
from deskmend.workstation.state import state_of

HARD: dict[str, Any] = {
    "places__0__seat__surface": "hard",
    "places__0__seat__back": "flat",
    "places__0__desk": {"height": "700", "underside": "670", "depth": "700", "edge": "rounded"},
    "owns": {"bath_towel": "1", "webbing": "200"},
    "means__tools": ["scissors", "needle", "saw", "drill", "screwdriver"],
}


NO_BACK = {"places__0__seat__recline": None}
PADS = ("seat_blanket", "seat_foam", "seat_cushion")
ROLLS = ("back_towel", "back_cushion", "back_contoured")


def _offered(case: Any) -> set[str]:
    return {o.fix.id for o in offers_for(case, state_of(case), CATALOG, SAMPLE).options()}


def _ids(found: Plan) -> set[str]:
    return {step.option.fix.id for step in found.steps}


def test_broken_skin_blocks_every_seat_surface() -> None:
    assert _ids(plan(made(**HARD), offering(*PADS), SAMPLE)) & set(PADS)
    case = made(**HARD, person__warning_signs=["broken_or_numb_skin"])
    assert not _offered(case) & set(PADS)


@pytest.mark.parametrize("sign", ["stenosis_or_spondylolisthesis", "recent_surgery"])
def test_spine_trouble_blocks_every_roll(sign: str) -> None:
    assert "back_towel" in _offered(made(**HARD))
    assert not _offered(made(**HARD, person__warning_signs=[sign])) & {
        "back_towel",
        "back_cushion",
        "back_contoured",
        "back_strap",
    }


def test_a_warning_sign_leads_the_plan() -> None:
    """The most urgent first, whatever the order in which they were told; each sentence ends once."""
    signs = ["weight_loss", "hot_swollen_calf", "chest_arm_jaw_pain"]
    found = plan(made(**HARD, person__warning_signs=signs), offering(*PADS), SAMPLE)
    assert found.warnings[0].startswith("Get emergency care now, before any of this: Your chest hurts")
    assert found.warnings[1].startswith("Get medical advice today, before any of this: One calf")
    assert found.warnings[2].startswith("See a licensed clinician before buying or making anything:")
    assert all(told.endswith(".") and not told.endswith("..") for told in found.warnings[:3])


def test_where_no_plan_is_to_be_had_the_warning_sign_still_leads() -> None:
    case = made(person__warning_signs=["saddle_numbness"], places__0__seat__base="legs")
    with pytest.raises(NoPlan) as caught:
        plan(case, CATALOG, SAMPLE, budget=0, must=["lamp_task"])
    signs = caught.value.signs
    assert failure_text(caught.value.hinders, caught.value.would_help, signs).startswith(
        "Get emergency care now"
    )
    assert failure_document(1, "a", "b", signs)["warnings"] == list(signs)
    assert "warnings" not in failure_document(1, "a", "b")


def test_an_unknown_warning_sign_is_a_fault_not_ignored() -> None:
    with pytest.raises(InputFaults) as caught:
        plan(made(person__warning_signs=["sadle_numbness"]), CATALOG, SAMPLE)
    assert "saddle_numbness" in str(caught.value)


@pytest.mark.parametrize("key", ["places__0__desk__legs", "places__0__desk__top"])
def test_unknown_never_allows_blocks_under_a_desk(key: str) -> None:
    base = HARD | {"means__may_alter": "yes", "room__landlord_leave": "yes"}
    base = base | {"places__0__desk": {"height": "600", "depth": "700", "legs": "fixed", "top": "wood"}}
    blocks = offering("desk_blocks")
    assert "desk_blocks" in _ids(plan(made(**base), blocks, SAMPLE))
    assert "desk_blocks" not in _ids(plan(made(**(base | {key: None})), blocks, SAMPLE))


@pytest.mark.parametrize(("key", "word"), [("legs", "folding"), ("top", "glass"), ("legs", "trestle")])
def test_no_blocks_under_folding_legs_or_glass(key: str, word: str) -> None:
    desk = {"height": "600", "depth": "700", "legs": "fixed", "top": "wood"} | {key: word}
    case = made(
        **(HARD | {"means__may_alter": "yes", "room__landlord_leave": "yes", "places__0__desk": desk})
    )
    assert "desk_blocks" not in _ids(plan(case, offering("desk_blocks"), SAMPLE))


@pytest.mark.parametrize("answer", ["no", None])
def test_furniture_is_altered_only_where_somebody_said_so(answer: str | None) -> None:
    altering = {fix.id for fix in CATALOG.fixes if fix.alters}
    assert altering
    assert not _offered(made(**(HARD | {"means__may_alter": answer}))) & altering


def test_the_owners_leave_is_needed() -> None:
    asking = {fix.id for fix in CATALOG.fixes if fix.leave == "owner"}
    base = HARD | {"means__may_alter": "yes"}
    assert not _offered(made(**base)) & asking
    assert _offered(made(**base, room__landlord_leave="yes")) & asking


def test_no_loose_pad_on_a_stool() -> None:
    stool = HARD | {"places__0__seat__base": "stool", "places__0__seat__back": "none"} | NO_BACK
    assert not _ids(plan(made(**stool), offering(*PADS), SAMPLE)) & set(PADS)


def test_no_roll_without_a_backrest() -> None:
    """A wall may stand for one; without it there is nothing to put a roll against."""
    assert _ids(plan(made(**HARD), offering(*ROLLS), SAMPLE)) & set(ROLLS)
    case, few = made(**(HARD | {"places__0__seat__back": "none"} | NO_BACK)), offering("wall_back", *ROLLS)
    assert not _ids(plan(case, few, SAMPLE, never=["wall_back"])) & set(ROLLS)


def test_a_fix_without_tools_or_skill_is_left_out_with_its_reason() -> None:
    case = made(**(HARD | {"means__tools": [], "means__skill": "1"}))
    offers = offers_for(case, state_of(case), CATALOG, SAMPLE)
    reasons = {left.fix.id: left.reason for left in offers.left_out}
    assert "scissors" in reasons["screen_box"]


def test_an_item_without_a_price_makes_its_fixes_unavailable_with_a_warning() -> None:
    items = {name: item for name, item in SAMPLE.items.items() if name != "keyboard"}
    few = offering("keyboard_basic", "mouse_basic", "screen_stand")
    found = plan(made(**HARD), few, PriceTable(items, "EUR"))
    assert "keyboard_basic" not in _ids(found)
    assert any("keyboard" in warning for warning in found.warnings)
    with pytest.raises((InputFaults, NoPlan)) as caught:
        plan(made(**HARD), few, PriceTable(items, "EUR"), must=["keyboard_basic"])
    assert "keyboard" in str(caught.value)


def test_legs_that_do_not_fit_are_impossible_not_scored() -> None:
    low = {"places__0__desk": {"height": "600", "underside": "575", "depth": "700"}}
    case = made(**(HARD | low))
    assert not _ids(plan(case, offering(*PADS), SAMPLE)) & set(PADS)
    asked = assess(case, CATALOG, SAMPLE, ["seat_cushion=80"])
    assert any("legs" in b.reason for b in asked.breaches)


def test_must_and_never() -> None:
    few = offering(*PADS, *ROLLS)
    assert "back_towel" in _ids(plan(made(**HARD), few, SAMPLE))
    found = plan(made(**HARD), few, SAMPLE, must=["seat_foam=20"], never=["back_towel"])
    assert "den.seat_foam=20" in [step.option.with_name for step in found.steps]
    assert "back_towel" not in _ids(found)
    with pytest.raises(NoPlan) as caught:
        plan(made(**HARD), few, SAMPLE, budget=100, must=["seat_foam"])
    assert "money" in caught.value.hinders


@pytest.mark.parametrize("name", ["seat_fom", "attic.seat_foam", "seat_foam=21", "seat foam", "../x"])
def test_a_wish_that_names_nothing_is_a_fault(name: str) -> None:
    with pytest.raises(InputFaults):
        plan(made(**HARD), CATALOG, SAMPLE, must=[name])


def test_no_output_claims_that_harm_is_prevented() -> None:
    case = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")
    for command in (["plan", case, "--steps"], ["assess", case]):
        text = CliRunner().invoke(deskmend, command).output.lower()
        for claim in (
            "prevents pain",
            "prevents injury",
            "pain prevented",
            "injury prevented",
            "cures",
            "heals",
        ):
            assert claim not in text
    document = json.loads(CliRunner().invoke(deskmend, ["plan", case, "--json"]).stdout)
    assert document["proof"]["status"] == "optimal"


CANNOT_STAND: dict[str, Any] = HARD | {"person__cannot_stand": "yes"}
COUNTER: dict[str, Any] = {
    "id": "counter",
    "posture": "stand",
    "desk": {"height": "1000", "underside": "960", "depth": "600"},
}


def test_who_cannot_stand_is_offered_no_standing() -> None:
    assert {"stand_by_turns", "break_timer"} <= _offered(made(**HARD))
    assert not _offered(made(**CANNOT_STAND)) & {"stand_by_turns", "break_timer"}


def test_who_cannot_stand_is_sent_to_no_place_to_stand_at() -> None:
    places = {"places": [*PLAIN["places"], COUNTER]}
    found = assess(made(**places), CATALOG, SAMPLE, ["work.place=counter"])
    assert not found.breaches
    found = assess(made(**places, person__cannot_stand="yes"), CATALOG, SAMPLE, ["work.place=counter"])
    assert "cannot stand" in found.breaches[0].reason
    planned = plan(made(**places, person__cannot_stand="yes"), offering("place", *PADS), SAMPLE)
    assert "place" not in _ids(planned)


@pytest.mark.parametrize("posture", ["stand", "both"])
def test_work_done_standing_by_who_cannot_stand_is_a_fault(posture: str) -> None:
    case, faults = read_case(plain(**CANNOT_STAND, places__0__posture=posture), "test case")
    assert case is None
    assert "cannot stand" in str(faults[0])


def test_late_pregnancy_blocks_stacks_to_step_over() -> None:
    high = HARD | {"places__0__seat__height": "480", "owns": {"hardback_book": ["60"], "carton_box": "1"}}
    stacks = {"feet_book", "feet_carton"}
    assert stacks <= _offered(made(**high))
    offered = _offered(made(**high, person__warning_signs=["late_pregnancy"]))
    assert not offered & stacks
    assert "feet_rest_bought" in offered


def test_a_wheelchair_is_left_to_who_fits_it() -> None:
    chair = HARD | {"places__0__seat__base": "wheelchair", "places__0__feet_on": "120"}
    case = made(**chair)
    offered = [o.fix for o in offers_for(case, state_of(case), CATALOG, SAMPLE).options()]
    changed = {effect.change for fix in offered for effect in fix.effects}
    assert not {name for name in changed if name.partition(".")[0] in ("seat", "back", "feet")}
    assert offered


@pytest.mark.parametrize("shared", ["yes", "no", None])
def test_a_loudspeaker_is_only_for_who_is_alone_in_the_room(shared: str | None) -> None:
    case = made(devices__phone="cradled", tasks__0__phone_share="0.5", room__shared=shared)
    ids = _ids(plan(case, offering("phone_hands_free", "phone_headset"), SAMPLE, budget=0))
    assert ("phone_hands_free" in ids) == (shared == "no")


def test_what_somebody_estimated_is_told_as_an_estimate() -> None:
    def marked(height: Any) -> tuple[set[str], str]:
        found = assess(made(places__0__desk__height=height), CATALOG, SAMPLE)
        return {one.name for one in found.quantities if one.estimated}, "; ".join(found.warnings)

    measured, said = marked("650")
    assert "desk_underside" not in measured
    assert "estimated by who told it" not in said
    judged, said = marked({"value": "650", "from": "estimated"})
    assert "desk_underside" in judged
    assert "estimated by who told it, for den: desk.frame, desk.height; measure it" in said
    assert "not told, so assumed, for den: desk" not in said
    assert "desk_underside" not in marked({"value": "650", "from": "pictured", "sd": "12"})[0]


def test_that_a_child_is_estimated_by_size_marks_comes_before_other_remarks() -> None:
    small: dict[str, Any] = {"person__stature": "1305", "person__age": "9", "person__body": None}
    first = assess(made(**small), CATALOG, SAMPLE).warnings[0]
    assert "estimates from adults do not hold" in first
    assert "popliteal height" in first
    # the popliteal range of mark 3, 315 to 355 mm, as two standard deviations to either side
    assert "give or take 23 mm" in first
    body = {"popliteal_height": "330", "sitting_elbow_height": "200"}
    told = assess(made(**(small | {"person__body": body})), CATALOG, SAMPLE).warnings[0]
    assert "popliteal height" not in told
