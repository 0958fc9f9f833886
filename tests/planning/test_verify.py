"""A plan is never shown that its check does not confirm."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.choice import Choice, frontier, solve
from deskmend.errors import DefectError
from deskmend.planning import frontier as frontiers
from deskmend.planning import plan as planning
from deskmend.planning.plan import plan
from deskmend.planning.plan_check import verify_plan
from deskmend.planning.ready_case import ReadyCase, prepare

HARD: dict[str, Any] = {
    "places__0__seat__surface": "hard",
    "places__0__desk": {"height": "700", "underside": "670", "depth": "700", "edge": "rounded"},
    "owns": {"bath_towel": "1"},
}


@pytest.fixture(scope="module")
def solved() -> tuple[ReadyCase, Choice]:
    ready = prepare(made(**HARD), CATALOG, SAMPLE)
    return ready, solve(ready.problem(3000, None))


def _with(choice: Choice, **figures: int) -> Choice:
    assert choice.figures is not None
    return replace(choice, figures=replace(choice.figures, **figures))


def test_a_true_plan_passes(solved: tuple[ReadyCase, Choice]) -> None:
    ready, choice = solved
    _, _, bill = verify_plan(ready, choice, 3000, None)
    assert bill.total == choice.cost > 0


@pytest.mark.parametrize(
    ("figure", "by"), [("value", -1), ("value", 1), ("cost", -1), ("cost", 1), ("minutes", 5)]
)
def test_a_figure_off_by_the_least_is_refused(solved: tuple[ReadyCase, Choice], figure: str, by: int) -> None:
    ready, choice = solved
    with pytest.raises(DefectError):
        verify_plan(ready, _with(choice, **{figure: getattr(choice, figure) + by}), 3000, None)


def test_a_plan_over_the_limits_is_refused(solved: tuple[ReadyCase, Choice]) -> None:
    ready, choice = solved
    with pytest.raises(DefectError, match="over the limit"):
        verify_plan(ready, choice, choice.cost - 1, None)
    with pytest.raises(DefectError, match="over the limit"):
        verify_plan(ready, choice, 3000, choice.minutes - 5)


def test_a_plan_that_breaks_a_rule_is_refused(solved: tuple[ReadyCase, Choice]) -> None:
    """A laptop raised without keys and mouse, with all its figures right."""
    ready, choice = solved
    names = {o.name: o.options[0].name for o in ready.offers.decisions}
    raised = next(o for o in ready.offers.options() if o.fix.id == "screen_stand" and o.size == 150.0)
    options = {name: "keep" for name in choice.options if name in names}
    options |= {name: value for name, value in choice.options.items() if name not in names}
    options["den.screen_height"] = raised.name
    with pytest.raises(DefectError, match="screen_stand"):
        verify_plan(ready, replace(choice, options=options), None, None)


@pytest.mark.anew
@pytest.mark.parametrize("every_gain", [False, True], ids=["distinct", "best"])
def test_an_engine_that_lies_reaches_nobody(monkeypatch: pytest.MonkeyPatch, every_gain: bool) -> None:
    def lying(problem: Any, **more: Any) -> Choice:
        return _with(solve(problem, **more), value=0)

    def lying_at_every_budget(problem: Any, **more: Any) -> list[Choice]:
        return [_with(rung, value=0) for rung in frontier(problem, **more)]

    monkeypatch.setattr(planning, "solve", lying)
    monkeypatch.setattr(frontiers, "frontier", lying_at_every_budget)
    with pytest.raises(DefectError):
        plan(made(**HARD), CATALOG, SAMPLE, budget=3000, every_gain=every_gain)


@pytest.mark.anew
def test_engines_that_differ_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    true = solve

    def other(problem: Any, engine: Any = "auto", **more: Any) -> Choice:
        found = true(problem, **more)
        return found if engine == "auto" else _with(found, cost=found.cost + 1)

    monkeypatch.setattr(planning, "solve", other)
    with pytest.raises(DefectError, match="differ"):
        plan(made(**HARD), CATALOG, SAMPLE, budget=3000, prove=True)
