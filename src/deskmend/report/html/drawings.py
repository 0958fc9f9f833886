"""Drawings of a page, each once, with the budgets it holds for."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from markupsafe import Markup

from deskmend.language import told_in, tr
from deskmend.planning.plan import Plan
from deskmend.planning.score import score, weights_of
from deskmend.planning.stages import Stage
from deskmend.report.drawing.above import AboveView, above_view
from deskmend.report.drawing.person import modes_of
from deskmend.report.drawing.side import DrawnValue, SideView, StepMark, looks, side_view
from deskmend.report.drawing.svg import in_one_frame, share_shapes
from deskmend.report.stages import done_of
from deskmend.report.steps import day_start
from deskmend.report.words import region_word
from deskmend.risk.severity import curves_moved
from deskmend.workstation.state import State

__all__ = ["Drawing", "FirstDrawing", "drawings_of", "first_drawings", "shared_shapes"]

CHANGED_THINGS = {
    "feet.on": "feet",
    "feet.height": "feet",
    "seat.pad": "seat.pad",
    "seat.height": "seat.height",
    "back.depth_taken": "back.depth_taken",
    "screen.raise": "screen.raise",
    "monitor.top": "screen",
    "keyboard": "keyboard",
    "mouse": "mouse",
    "light.lux": "lamp",
    "paper.slope": "paper",
    "desk.height": "desk.height",
}
"""Thing of a drawing that a field belongs to."""


@dataclass(frozen=True)
class StageFigure:
    """One view from the side as it is now, or at a stage before the last."""

    title: str
    svg: Markup


@dataclass(frozen=True)
class SideFigure:
    """One view from the side; a title where both are drawn, sitting and standing.

    `earlier` are the same view as it is now and at each stage that looks otherwise than the one before, at
    one scale.
    """

    title: str
    svg: Markup
    dimensions: tuple[DrawnValue, ...]
    marks: tuple[str, ...]
    earlier: tuple[StageFigure, ...] = ()


@dataclass(frozen=True)
class Drawing:
    """All views of one task for some budgets, by their positions; the only task is not named."""

    rungs: tuple[int, ...]
    task: str
    sides: tuple[SideFigure, ...]
    above: Markup
    things: str
    reached: tuple[str, ...]
    comfortable: str


@dataclass(frozen=True)
class FirstDrawing:
    """One task as it is once today's steps are done, from the side, for some budgets.

    `final` says that nothing comes after today, so that this is the whole plan.
    """

    rungs: tuple[int, ...]
    task: str
    final: bool
    sides: tuple[SideFigure, ...]


def shared_shapes(
    first: Sequence[FirstDrawing], drawings: Sequence[Drawing]
) -> tuple[Markup, list[FirstDrawing], list[Drawing]]:
    """Definitions for a page that has these drawings, and the same drawings using them."""
    found: dict[str, None] = {}
    drawn = [one.sides for one in first] + [one.sides for one in drawings]
    for side in (side for views in drawn for side in views):
        found.update(dict.fromkeys([*(str(one.svg) for one in side.earlier), str(side.svg)]))
    found.update(dict.fromkeys(str(one.above) for one in drawings))
    definitions, written = share_shapes(list(found))
    short = dict(zip(found, written, strict=True))

    def sides(these: Sequence[SideFigure]) -> tuple[SideFigure, ...]:
        return tuple(
            replace(
                side,
                svg=Markup(short[str(side.svg)]),
                earlier=tuple(replace(one, svg=Markup(short[str(one.svg)])) for one in side.earlier),
            )
            for side in these
        )

    return (
        Markup(definitions),
        [replace(one, sides=sides(one.sides)) for one in first],
        [replace(one, sides=sides(one.sides), above=Markup(short[str(one.above)])) for one in drawings],
    )


def first_drawings(plans: Sequence[Plan]) -> list[FirstDrawing]:
    """Draw every task after today's steps; of a plan that does all at once, as it is in the end."""
    found: dict[tuple[str, bool, tuple[str, ...], tuple[tuple[str, StepMark], ...]], list[int]] = {}
    for number, plan in enumerate(plans):
        stage = plan.stages[0] if _has_today(plan) else plan.stages[-1]
        names = tuple(option.with_name for option in stage.options)
        for task in plan.state_after.tasks:
            marks = tuple(_step_marks(plan, stage, task).items())
            found.setdefault((task, stage is plan.stages[-1], names, marks), []).append(number)
    out = []
    for (task, final, _, marks), numbers in found.items():
        plan = plans[numbers[0]]
        state = plan.state_after if final else plan.stages[0].state
        modes = modes_of(state, task)
        sides = tuple(_side(plan, state, task, mode, len(modes) > 1, dict(marks)) for mode in modes)
        named = task if len(plan.state_after.tasks) > 1 else ""
        out.append(FirstDrawing(tuple(numbers), named, final, sides))
    return out


def _has_today(plan: Plan) -> bool:
    """Whether something is done today and something else later."""
    return len(plan.stages) > 1 and plan.stages[0].is_today and bool(plan.stages[0].changes)


def _step_marks(plan: Plan, stage: Stage, task: str) -> dict[str, StepMark]:
    """By thing the number of the step that last sets it up to a stage, and whether that is after today."""
    monitor = str(stage.state.values[("task", task), "task.screen"]) == "monitor"
    here = {("person", ""), ("device", ""), ("place", stage.state.place_of[task]), ("task", task)}
    out: dict[str, StepMark] = {}
    for one, lines in done_of(plan):
        for line in lines:
            if line.change.after is None:
                continue
            for change in line.change.after.changes:
                owner, name = change.slot
                if name == "monitor.top" and not monitor:
                    continue
                if owner in here and name in CHANGED_THINGS and line.change.after in stage.options:
                    out[CHANGED_THINGS[name]] = (line.number, not one.is_today)
        if one is stage:
            break
    return out


def drawings_of(plans: Sequence[Plan]) -> list[Drawing]:
    """Draw every task for every budget, one plan each; budgets that look the same share a drawing."""
    out: list[Drawing] = []
    tasks = plans[0].state_before.tasks
    for task in tasks:
        same: dict[Drawing, list[int]] = {}
        for number, plan in enumerate(plans):
            look = _drawing(plan, task, len(tasks) > 1)
            same.setdefault(look, []).append(number)
        out += [replace(look, rungs=tuple(numbers)) for look, numbers in same.items()]
    return out


def _drawing(plan: Plan, task: str, named: bool) -> Drawing:
    modes = modes_of(plan.state_after, task)
    marks = _step_marks(plan, plan.stages[-1], task)
    above = above_view(plan.state_before, plan.state_after, task, marks)
    return Drawing(
        (),
        task if named else "",
        tuple(_with_stages(plan, task, mode, len(modes) > 1, marks) for mode in modes),
        Markup(above.svg),
        above.things,
        _reached(above),
        above.comfortable,
    )


def _with_stages(plan: Plan, task: str, mode: str, named: bool, marks: Mapping[str, StepMark]) -> SideFigure:
    """The view of the whole plan, with those that come before it."""
    last = _side(plan, plan.state_after, task, mode, named, marks)
    final = looks(plan.state_after, task, mode)
    titles, svgs = [], []
    seen = {final}
    for title, state, steps in _before_last(plan, task):
        if mode not in modes_of(state, task):
            continue
        look = looks(state, task, mode)
        if look in seen:
            continue
        seen.add(look)
        titles.append(title)
        svgs.append(str(_side(plan, state, task, mode, named, steps).svg))
    *earlier, svg = (str(one) for one in in_one_frame([*svgs, str(last.svg)]))
    figures = tuple(StageFigure(title, Markup(one)) for title, one in zip(titles, earlier, strict=True))
    return replace(last, svg=Markup(svg), earlier=figures)


def _before_last(plan: Plan, task: str) -> Iterator[tuple[str, State, Mapping[str, StepMark]]]:
    """The workplace as it is now and at each stage but the last, with the numbers of the steps done."""
    yield tr("As it is now"), plan.state_before, {}
    for stage in plan.stages[:-1]:
        title = tr("After today's steps") if stage.is_today else day_start(stage.day)
        yield title, stage.state, _step_marks(plan, stage, task)


def _side(
    plan: Plan, state: State, task: str, mode: str, named: bool, marks: Mapping[str, StepMark]
) -> SideFigure:
    weights = tuple(weights_of(plan.case).items())
    told = told_in(), curves_moved()
    view = _drawn(plan.state_before, state, task, mode, weights, tuple(marks.items()), told)
    title = "" if not named else tr("Sitting") if mode == "sit" else tr("Standing")
    return SideFigure(title, Markup(view.svg), view.dimensions, _said_beside(view))


KEPT_VIEWS = 128
"""Views that are kept: most plans of a page begin alike."""


@lru_cache(maxsize=KEPT_VIEWS)
def _drawn(
    before: State,
    state: State,
    task: str,
    mode: str,
    weights: tuple[tuple[str, float], ...],
    marks: tuple[tuple[str, StepMark], ...],
    _: Hashable,
) -> SideView:
    now, then = (score(one, dict(weights)) for one in (before, state))
    return side_view(before, state, task, mode, now, then, dict(marks))


def _said_beside(view: SideView) -> tuple[str, ...]:
    """What the rings say, in a sentence for each kind."""
    still = ", ".join(region_word(mark.part) for mark in view.marks if mark.out_then)
    better = ", ".join(region_word(mark.part) for mark in view.marks if not mark.out_then)
    return (
        *([tr("Black points, still out of range for some time: {parts}.", parts=still)] if still else []),
        *([tr("White rings, no longer out of range: {parts}.", parts=better)] if better else []),
    )


def _reached(above: AboveView) -> tuple[str, ...]:
    return tuple(
        tr("{what}: {far}, in the comfortable area", what=one.words, far=one.far)
        if one.inside
        else tr("{what}: {far}, beyond the comfortable area", what=one.words, far=one.far)
        for one in above.reached
    )
