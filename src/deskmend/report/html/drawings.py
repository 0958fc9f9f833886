"""Drawings of a page, each once, with the budgets it holds for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from deskmend.language import tr
from deskmend.planning.plan import Plan
from deskmend.report.drawing.above import AboveView, above_view
from deskmend.report.drawing.measures import Measure
from deskmend.report.drawing.person import Mark, modes_of
from deskmend.report.drawing.side import side_view
from deskmend.report.words import region_word

__all__ = ["Drawing", "drawings_of"]


@dataclass(frozen=True)
class Side:
    """One view from the side.

    Attributes
    ----------
    title : str
        ``Sitting`` or ``Standing`` where both are drawn; else empty.
    svg : Markup
        The drawing.
    measures : tuple of Measure
        Its dimensions.
    marks : tuple of str
        What the rings say.
    """

    title: str
    svg: Markup
    measures: tuple[Measure, ...]
    marks: tuple[str, ...]


@dataclass(frozen=True)
class Drawing:
    """All views of one task for some budgets.

    Attributes
    ----------
    rungs : tuple of int
        Positions of the budgets.
    task : str
        Id of the task; empty where there is one task alone.
    sides : tuple of Side
        Views from the side: sitting, standing, or both.
    above : Markup
        View from above.
    things : str
        What the figures in it stand for.
    reached : tuple of str
        What the hands work on, and whether that lies in the comfortable area.
    comfortable : str
        How far that area goes.
    """

    rungs: tuple[int, ...]
    task: str
    sides: tuple[Side, ...]
    above: Markup
    things: str
    reached: tuple[str, ...]
    comfortable: str


def drawings_of(plans: Sequence[Plan]) -> list[Drawing]:
    """Draw every task for every budget; budgets that look the same share a drawing.

    Parameters
    ----------
    plans : sequence of Plan
        One a budget.
    """
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


def _side(plan: Plan, task: str, mode: str, named: bool) -> Side:
    view = side_view(plan.state_before, plan.state_after, task, mode, plan.before, plan.after)
    title = "" if not named else tr("Sitting") if mode == "sit" else tr("Standing")
    return Side(title, Markup(view.svg), view.measures, _marks(view.marks))


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
