"""Drawings of a page, each once, with the budgets it holds for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from deskmend.language import tr
from deskmend.planning.plan import Plan
from deskmend.report.drawing.above import AboveView, above_view
from deskmend.report.drawing.dimensions import DrawnValue
from deskmend.report.drawing.person import Mark, modes_of
from deskmend.report.drawing.side import side_view
from deskmend.report.words import region_word

__all__ = ["Drawing", "drawings_of"]


@dataclass(frozen=True)
class SideFigure:
    """One view from the side; a title where both are drawn, sitting and standing."""

    title: str
    svg: Markup
    dimensions: tuple[DrawnValue, ...]
    marks: tuple[str, ...]


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
    above = above_view(plan.state_before, plan.state_after, task)
    modes = modes_of(plan.state_after, task)
    return Drawing(
        (),
        task if named else "",
        tuple(_side(plan, task, mode, len(modes) > 1) for mode in modes),
        Markup(above.svg),
        above.things,
        _reached(above),
        above.comfortable,
    )


def _side(plan: Plan, task: str, mode: str, named: bool) -> SideFigure:
    view = side_view(plan.state_before, plan.state_after, task, mode, plan.before, plan.after)
    title = "" if not named else tr("Sitting") if mode == "sit" else tr("Standing")
    return SideFigure(title, Markup(view.svg), view.dimensions, _marks(view.marks))


def _marks(marks: Sequence[Mark]) -> tuple[str, ...]:
    """What the rings say, in a sentence for each kind."""
    still = ", ".join(region_word(mark.part) for mark in marks if mark.out_then)
    better = ", ".join(region_word(mark.part) for mark in marks if not mark.out_then)
    return (
        *([tr("Broken rings, still out of range for some time: {parts}.", parts=still)] if still else []),
        *([tr("Plain rings, no longer out of range: {parts}.", parts=better)] if better else []),
    )


def _reached(above: AboveView) -> tuple[str, ...]:
    return tuple(
        tr("{what}: {far}, in the comfortable area", what=one.words, far=one.far)
        if one.inside
        else tr("{what}: {far}, beyond the comfortable area", what=one.words, far=one.far)
        for one in above.reached
    )
