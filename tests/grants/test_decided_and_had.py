"""What people decide for somebody, and what somebody has from before, as they bear on what may be given."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from deskmend.cli import deskmend as command
from deskmend.errors import InputFaults
from deskmend.grants.people.check import check_plans, claim_of
from deskmend.grants.people.offered import offers_left, step_name, with_owned
from deskmend.grants.people.plans import PersonPlans, PlanBasis
from deskmend.intake.applicants import ApplicantRow, Decided, load_applicants
from deskmend.intake.case_file import load_case
from deskmend.intake.given_before import Had
from deskmend.intake.prices import load_prices
from deskmend.planning.mismatch import not_padded
from deskmend.planning.model.offers import OptionSpec
from deskmend.workstation.state import state_of

from .fund_people import BASE, CATALOG, FOLDER, PRICES, TABLE, rows

BASIS = PlanBasis(CATALOG, PRICES, every_gain=False)


def decided(name: str, **told: object) -> ApplicantRow:
    return replace(rows()[name], decided=Decided(**told, reason="a hardship"))  # type: ignore[arg-type]


def test_what_is_fixed_is_the_cheapest_plan_that_holds_it_and_is_checked_to_hold_it() -> None:
    plans = PersonPlans(decided("gil-07", fixed=("back_strap",)), BASIS)
    free, fixed = plans.offered
    assert (free.packs, fixed.packs) == ((), (("webbing", 1),))
    person = plans.applicant()
    assert (person.ceiling, person.least) == (fixed.strain, BASE["webbing"])
    (given,) = check_plans([claim_of(plans, fixed)], BASIS, steps=False)
    assert "back_strap" in {option.fix.id for option in given.options}


def test_what_is_fixed_and_breaks_a_rule_is_told_with_the_rule() -> None:
    with pytest.raises(InputFaults, match="legs would no longer fit"):
        PersonPlans(decided("gil-07", fixed=("seat_cushion",)), BASIS).applicant()


def test_most_and_least_bound_what_is_offered() -> None:
    whole = PersonPlans(replace(rows()["cora-03"]), BASIS)
    costs = [one.cost(BASE) for one in whole.offered]
    middle = sorted(costs)[len(costs) // 2]
    text = f"{middle // 100}.{middle % 100:02d}"
    most = PersonPlans(decided("cora-03", most=text), BASIS)
    assert [one.cost(BASE) for one in most.offered] == [cost for cost in costs if cost <= middle]
    assert most.applicant().ceiling is None
    least = PersonPlans(decided("cora-03", least=text), BASIS).applicant()
    assert least.least >= middle
    with pytest.raises(InputFaults, match=r"given\.least"):
        PersonPlans(decided("cora-03", least="999.00"), BASIS).applicant()


def test_a_decision_needs_its_reason_and_names_that_mean_something(tmp_path: Path) -> None:
    note, header, *lines = TABLE.read_text(encoding="utf-8").splitlines()
    row = next(line for line in lines if line.startswith("gil-07,"))
    path = tmp_path / "people.csv"
    for cells, words in (
        (",back_strap,", "given.reason: is empty"),
        (",back_strop,why", "did you mean back_strap?"),
        (",,why", "nothing where nothing is decided"),
        (",back_strap,why,board,yesterday", 'given.on: read "yesterday"'),
    ):
        columns = "given.never,given.fixed,given.reason,given.by,given.on"
        cells += "," * (columns.count(",") - cells.count(","))
        path.write_text(f"{note}\n{header},{columns}\n{row},{cells}\n")
        with pytest.raises(InputFaults) as caught:
            load_applicants(path, CATALOG)
        assert words in str(caught.value)
    path.write_text(f"{note}\n{header},given.never,given.reason\n{row},back_towel,why\n")
    (one,) = load_applicants(path, CATALOG).people
    assert one.case.wishes.never[-1:] == ("back_towel",)
    assert one.undecided.case.wishes.never == rows()["gil-07"].case.wishes.never


def options_of(had: Had, prices: object = PRICES) -> dict[str, OptionSpec]:
    case = with_owned(rows()["cora-03"].case, had)
    state = state_of(case)
    offers = offers_left(case, state, CATALOG, prices, had=had)  # type: ignore[arg-type]
    return {step_name(option, state.tasks): option for option in offers.options()}


def test_a_thing_in_a_size_serves_that_size_alone_and_what_is_cut_is_made_already() -> None:
    plain = options_of(Had())
    cushion = next(name for name in plain if name.startswith("seat_cushion=60"))
    other = next(name for name in plain if name.startswith("seat_cushion=") and name != cushion)
    edge = "desk_edge_foam"
    had = options_of(Had(sized=(("seat_cushion", "60", 1),), made=(edge,)))
    assert "seat_cushion" in plain[cushion].use
    assert "seat_cushion" not in had[cushion].use
    assert had[other].use == plain[other].use
    assert (had[edge].use, had[edge].fix.minutes) == ({}, 0)
    assert plain[edge].fix.minutes > 0
    assert list(had) == list(plain)


def test_own_things_that_were_cut_up_are_not_owned_any_more() -> None:
    case = rows()["cora-03"].case
    owned = case.owns["hardback_book"].count if "hardback_book" in case.owns else 0
    had = with_owned(case, Had(owned=(("hardback_book", 2),), used_up=(("hardback_book", 1),)))
    assert had.owns["hardback_book"].count == owned + 1


def test_a_price_of_its_size_is_paid_for_that_size_alone(tmp_path: Path) -> None:
    text = (FOLDER / "prices.csv").read_text(encoding="utf-8")
    path = tmp_path / "prices.csv"
    path.write_text(text + "seat_cushion@60,1,9.00,,,EUR,,,new,2026-10-01,invented\n", encoding="utf-8")
    prices = load_prices(path)
    assert prices.sold("seat_cushion", "60") == prices["seat_cushion@60"]
    assert prices.sold("seat_cushion", "40") == prices["seat_cushion"]
    options = options_of(Had(), prices)
    for name, option in options.items():
        if name.startswith("seat_cushion="):
            item = "seat_cushion@60" if name == "seat_cushion=60" else "seat_cushion"
            assert item in option.use
    path.write_text(text + "seat_cushion@,1,9.00,,,EUR,,,new,2026-10-01,invented\n", encoding="utf-8")
    with pytest.raises(InputFaults, match="an id, or one with a size"):
        load_prices(path)


def test_why_a_hard_seat_gets_no_cushion_is_said_of_each_thing_for_it() -> None:
    """A stool, legs that have no room left under the desk, and a seat for which nothing stands in the way."""
    told = {}
    for name in ("ana-01", "gil-07", "dado-04"):
        case = rows()[name].case
        told[name] = {
            one.fix.id: one.against for one in not_padded(case, state_of(case), (), CATALOG, PRICES)
        }
    assert told["ana-01"]["seat_cushion"].startswith("A loose pad on a stool can slide off")
    assert told["gil-07"]["seat_cushion"] == "the legs would no longer fit under the desk"
    assert told["dado-04"] == {}  # foam is not hard
    case = rows()["fumi-06"].case
    state = state_of(case)
    assert {one.fix.id: one.against for one in not_padded(case, state, (), CATALOG, PRICES)}[
        "seat_cushion"
    ] == ""
    refusing = case.model_copy(update={"wishes": case.wishes.model_copy(update={"never": ("seat_cushion",)})})
    found = {one.fix.id: one.against for one in not_padded(refusing, state, (), CATALOG, PRICES)}
    assert found["seat_cushion"] == "it is not wanted, or decided against"


def test_a_row_is_written_as_a_case_that_says_the_same(tmp_path: Path) -> None:
    for name in ("gil-07", "fumi-06"):
        path = tmp_path / f"{name}.yaml"
        told = CliRunner().invoke(command, ["new", str(path), "--row", name, "--of", str(TABLE)])
        assert told.exit_code == 0, told.output
        assert load_case(path) == rows()[name].case
    told = CliRunner().invoke(
        command, ["new", str(tmp_path / "no.yaml"), "--row", "gil-7", "--of", str(TABLE)]
    )
    assert (told.exit_code, "did you mean gil-07" in told.output) == (2, True)
    told = CliRunner().invoke(command, ["new", str(tmp_path / "no.yaml"), "--row", "gil-07"])
    assert (told.exit_code, "go together" in told.output) == (2, True)
