"""A wish that names nothing, or contradicts another, is a fault where it was written; none goes unheard."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, SAMPLE, made
from tests.planning.test_safety import HARD

from deskmend.cli.program import deskmend
from deskmend.errors import Fault, InputFaults
from deskmend.intake.case_file import load_case
from deskmend.planning.model.offers import offers_for
from deskmend.planning.plan import plan
from deskmend.planning.selection import select
from deskmend.workstation.state import state_of

CASE = Path(__file__).resolve().parents[2] / "scenarios" / "kitchen_books" / "case.yaml"


def _faults(must: tuple[str, ...], never: tuple[str, ...]) -> tuple[Fault, ...]:
    with pytest.raises(InputFaults) as caught:
        plan(made(**HARD), CATALOG, SAMPLE, must=must, never=never)
    return caught.value.faults


@pytest.mark.parametrize(
    ("name", "allowed"),
    [
        ("seat_fom", "a fix of the catalog; did you mean seat_foam?"),
        ("den.break_timer", "break_timer without a place or task before it"),
        ("dem.seat_foam", "one of den before the point; did you mean den?"),
        ("seat_foam=thick", "seat_foam=VALUE with "),
        ("break_timer=3", "break_timer without a value"),
        ("paper_side=lefft", "paper_side=VALUE with one of left, right; did you mean left?"),
        ("a=b=c", "FIX, PLACE.FIX or TASK.FIX"),
    ],
)
def test_a_refusal_that_would_go_unheard_is_a_fault_of_its_option(name: str, allowed: str) -> None:
    (fault,) = _faults((), (name,))
    assert str(fault).startswith(f'command line: --never: read "{name}"; allowed {allowed}')


@pytest.mark.parametrize("name", ["seat_fom", "dem.seat_foam", "seat_foam=21", "den.break_timer"])
def test_a_must_names_its_option(name: str) -> None:
    (fault,) = _faults((name,), ())
    assert (fault.file, fault.line, fault.where, fault.read) == ("command line", None, "--must", name)


def test_a_fix_of_one_size_needs_no_value_and_one_of_several_does() -> None:
    case = made(**HARD)
    offers = offers_for(case, state_of(case), CATALOG, SAMPLE)

    def named(name: str) -> tuple[list[str], list[Fault]]:
        faults: list[Fault] = []
        found = select([name], offers, case, SAMPLE, CATALOG.by_id, "--with", faults)
        return [option.with_name for option in found], faults

    assert named("break_timer") == (["break_timer"], [])
    sizes = [one.with_name for one in offers.options() if one.fix.id == "seat_foam"]
    assert len(sizes) > 1
    assert named(sizes[-1]) == ([sizes[-1]], [])
    found, (fault,) = named("seat_foam")
    assert found == []
    assert fault.allowed.startswith("seat_foam=VALUE with one of ")


def test_refusing_what_is_not_on_offer_is_no_fault() -> None:
    plain, other = (
        plan(made(**HARD), CATALOG, SAMPLE, never=never)
        for never in ((), ("den.seat_foam=999", "armrest_padding"))
    )
    assert [s.option.with_name for s in plain.steps] == [s.option.with_name for s in other.steps]


def test_two_musts_of_one_decision_are_a_fault() -> None:
    (fault,) = _faults(("seat_foam", "back_towel", "den.seat_cushion"), ())
    assert fault.where == "--must"
    assert fault.read == "seat_foam and den.seat_cushion"
    assert fault.allowed == "one of them: both settle seat_surface"


def test_a_must_and_its_size_go_together() -> None:
    found = plan(made(**HARD), CATALOG, SAMPLE, must=["seat_foam", "den.seat_foam=20"])
    assert "den.seat_foam=20" in [step.option.with_name for step in found.steps]


def test_a_must_that_is_refused_is_a_fault_and_one_size_of_it_is_not() -> None:
    (fault,) = _faults(("seat_foam=20",), ("back_towel", "den.seat_foam"))
    assert (fault.where, fault.read) == ("--never", "den.seat_foam")
    assert fault.allowed == "a fix that is not a must as well (seat_foam=20)"
    found = plan(made(**HARD), CATALOG, SAMPLE, must=["seat_foam"], never=["seat_foam=20"])
    assert [s.option.size != 20 for s in found.steps if s.option.fix.id == "seat_foam"] == [True]


def test_every_wrong_wish_is_told_where_it_stands(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    text = CASE.read_text(encoding="utf-8")
    line = text.count("\n") + 1
    wishes = "wishes:\n  must: [kitchen.scren_books]\n  never:\n    - seat_foam\n    - kichen.screen_books\n"
    file.write_text(text + wishes, encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        plan(load_case(file), CATALOG, SAMPLE, must=["timer"], never=["towel"])
    assert [(f.file, f.line, f.where, f.read) for f in caught.value.faults] == [
        (str(file), line + 1, "wishes.must.1", "kitchen.scren_books"),
        ("command line", None, "--must", "timer"),
        (str(file), line + 4, "wishes.never.2", "kichen.screen_books"),
        ("command line", None, "--never", "towel"),
    ]
    checked = CliRunner().invoke(deskmend, ["check", str(file)])
    assert checked.exit_code == 2
    assert [out.split(": read")[0] for out in checked.stdout.splitlines()] == [
        f"{file}:{line + 1}: wishes.must.1",
        f"{file}:{line + 4}: wishes.never.2",
    ]
