"""What does not fit is said first: by how much, what would, and whether anything on offer mends it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, ROOT, SAMPLE, made

from deskmend.cli.program import deskmend
from deskmend.planning.fit import lacks_of
from deskmend.planning.plan import plan
from deskmend.report.fit import fit_lines
from deskmend.workstation.state import evaluate, state_of

SOFA = ROOT / "scenarios" / "tall_sofa" / "case.yaml"


def test_a_plain_workplace_fits() -> None:
    assert lacks_of(state_of(made())) == ()
    assert plan(made(), CATALOG, SAMPLE).lacks == ()


def test_legs_that_do_not_go_under_are_told_with_what_would_fit() -> None:
    # Thighs or knees, whichever is higher; a table of 540 whose frame takes 30 lacks the rest.
    desk = {"height": "540", "underside": "510", "depth": "600"}
    case = made(places__0__desk=desk)
    ask = evaluate(state_of(case), "work")
    (lack,) = lacks_of(state_of(case))
    top = max(float(ask("thigh_top")), float(ask("knee_top")))
    assert (lack.kind, lack.by) == ("legs_under", top - 510)
    assert lack.table == 540 + top - 510
    body = state_of(case).body
    assert (lack.seat is None) == (15 + body["knee_height"] > 510)


@pytest.mark.parametrize(("leg_depth", "lacks"), [("0", True), ("250", True), ("320", False), ("600", False)])
def test_knees_without_room_are_told(leg_depth: str, lacks: bool) -> None:
    desk = {"height": "690", "underside": "650", "depth": "600", "leg_depth": leg_depth}
    found = lacks_of(state_of(made(places__0__desk=desk)))
    assert [one.kind for one in found] == (["knee_room"] if lacks else [])


def test_feet_that_reach_nothing_are_told() -> None:
    seat = {"height": "640", "depth": "420", "back": "flat", "base": "legs", "surface": "foam"}
    desk = {"height": "900", "underside": "860", "depth": "600"}
    (lack,) = lacks_of(
        state_of(made(places__0__seat=seat, places__0__desk=desk, places__0__feet_on="nothing"))
    )
    # Hollow of the knee 400 and shoes 15: 225 mm under the soles.
    assert (lack.kind, lack.by, lack.support, lack.seat) == ("feet_down", 225, 225, 415)


def test_what_cannot_be_mended_is_the_first_line_of_every_output(tmp_path: Path) -> None:
    run: Any = CliRunner().invoke
    for command in ("plan", "assess"):
        first = run(deskmend, [command, str(SOFA)]).stdout.splitlines()[0]
        assert first.startswith("! At lounge the legs do not go under the table: 255 mm are lacking.")
        fit = json.loads(run(deskmend, [command, str(SOFA), "--json"]).stdout)["fit"]
        assert fit["fits"] is False
        (lack,) = fit["lacks"]
        assert (float(lack["by"]), lack["unit"]) == (255.0, "mm")
        assert lack["would_fit"] == "a table at least 675 mm high"
    page = tmp_path / "page.html"
    assert run(deskmend, ["report", str(SOFA), "--out", str(page)]).exit_code == 0
    text = page.read_text(encoding="utf-8")
    said = text.index("the legs do not go under the table")
    assert text.index("<body>") < said < text.index("<h1>")


def test_no_step_assumes_legs_that_go_under() -> None:
    refused = ["surface_on_boxes", "ironing_board", "table_of_crates"]
    found = plan(made(places__0__kind="sofa", **_low_table()), CATALOG, SAMPLE, never=refused)
    (line,) = fit_lines(found.lacks)
    assert "No choice here mends that" in line
    assert not {s.option.fix.id for s in found.steps} & {"forearms_on_desk", "forearm_board"}


def test_a_choice_that_mends_it_is_not_denied() -> None:
    desk = {"height": "590", "underside": "560", "depth": "600", "top": "wood", "legs": "fixed"}
    case = made(
        places__0__desk=desk,
        means__may_alter="yes",
        means__budget="0.00",
        room__landlord_leave="yes",
        means__tools=["saw", "screwdriver", "drill"],
    )
    found = plan(case, CATALOG, SAMPLE)
    assert [one.kind for one in found.lacks] == ["legs_under"]
    assert found.lacks[0].mendable is True


def _low_table() -> dict[str, Any]:
    return {
        "places__0__seat": {"height": "400", "depth": "520", "surface": "foam", "back": "flat"},
        "places__0__desk": {"height": "420", "underside": "390", "depth": "600"},
    }
