"""The parts of a page for others than the worker.

For an employer or landlord what needs leave, and what it does to the furniture; for the assessor figures,
ranges, sources, proof, and what was estimated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.planning.explain import QuantityReading, readings
from deskmend.planning.exposures import exposure_rows
from deskmend.planning.leave import worth_leave
from deskmend.planning.plan import Plan
from deskmend.planning.score import weights_of
from deskmend.report.assessment import add_exposures, range_sources, reading_name
from deskmend.report.cautions import add_cautions
from deskmend.report.html.blocks import Blocks
from deskmend.report.plan import add_assessor_notes, add_proof, no_steps_text
from deskmend.report.scores import add_plan_scores
from deskmend.report.steps import leave_text, purchase_text, step_title
from deskmend.report.words import money_text, range_words, strain_text, value_words

__all__ = ["AssessorView", "LeaveView", "QuantityRow", "assessor_view", "leave_view"]

ReadingKey = tuple[str, str, str, str]
"""Task, name, what it is taken of, and mode."""


@dataclass(frozen=True)
class QuantityRow:
    """One quantity with its range, in words."""

    what: str
    now: str
    then: str
    wanted: str
    sources: str
    outside_now: bool
    outside_then: bool
    estimated: bool


@dataclass(frozen=True)
class AssessorView:
    """The assessor's part: quantities outside their range now or then, the worst first; the rest."""

    outside: tuple[QuantityRow, ...]
    others: tuple[QuantityRow, ...]
    sources: tuple[tuple[str, str], ...]
    scores: Markup
    proof: Markup
    notes: Markup
    cautions: Markup
    exposures: Markup


def assessor_view(plan: Plan, catalog: Catalog) -> AssessorView:
    """One plan's figures as tables and blocks."""
    before = {_key(one): one for one in readings(plan.state_before)}
    after = {_key(one): one for one in readings(plan.state_after)}
    keys = list(dict.fromkeys([*before, *after]))
    keys.sort(key=lambda key: -max(_severity(before, key), _severity(after, key)))
    many = len(plan.state_after.tasks) > 1
    rows = [(key, _row(before.get(key), after.get(key), many)) for key in keys]
    both = [*before.values(), *after.values()]
    names = ("scores", "proof", "notes", "cautions", "exposures")
    parts = {name: Blocks(headed=name != "notes") for name in names}
    add_plan_scores(parts["scores"], plan)
    add_proof(parts["proof"], plan)
    add_assessor_notes(parts["notes"], plan, catalog)
    add_cautions(parts["cautions"])
    weights = weights_of(plan.case)
    for title, state in (
        (tr("Every exposure now, with what makes its strain"), plan.state_before),
        (tr("Every exposure with this plan"), plan.state_after),
    ):
        add_exposures(parts["exposures"], title, tuple(exposure_rows(state, weights)), many)
    return AssessorView(
        tuple(row for _, row in rows if row.outside_now or row.outside_then),
        tuple(row for _, row in rows if not row.outside_now and not row.outside_then),
        tuple(range_sources(both, catalog)),
        *(part.html() for part in parts.values()),
    )


def _key(one: QuantityReading) -> ReadingKey:
    return one.task, one.name, one.of, one.mode


def _severity(of: Mapping[ReadingKey, QuantityReading], key: ReadingKey) -> float:
    return of[key].severity if key in of else 0.0


def _row(now: QuantityReading | None, then: QuantityReading | None, many: bool) -> QuantityRow:
    one = now or then
    if one is None:
        raise ValueError("a quantity of neither state")
    return QuantityRow(
        reading_name(one, many),
        _value(now),
        _value(then),
        range_words(one.low, one.high, one.unit, one.name),
        ", ".join(one.source.split()),
        now is not None and now.severity > 0,
        then is not None and then.severity > 0,
        any(reading is not None and reading.estimated for reading in (now, then)),
    )


def _value(one: QuantityReading | None) -> str:
    return "" if one is None else value_words(one.value, one.unit, one.name)


@dataclass(frozen=True)
class LeaveView:
    """What is asked of others for one budget, and what could be looked at too if they gave leave."""

    summary: str
    asks: tuple[str, ...]
    nothing: str
    shopping: tuple[str, ...]
    with_leave: tuple[str, ...]


def leave_view(plan: Plan, catalog: Catalog) -> LeaveView:
    """What others have to allow."""
    asks = []
    for step in plan.steps:
        fix = step.option.fix
        if fix.leave == "none" and not fix.alters and fix.reversible:
            continue
        said = (
            step_title(step.option, plan.state_before) + ".",
            leave_text(step.option),
            tr("It changes furniture or the room.") if fix.alters else "",
            tr("It comes off again.") if fix.reversible else tr("It does not come off again."),
        )
        asks.append(" ".join(part for part in said if part))
    return LeaveView(
        tr(
            "For {money} the plan takes strain from {before} to {after} strain-hours a day.",
            money=money_text(plan.cost, plan.currency),
            before=strain_text(plan.before.total),
            after=strain_text(plan.after.total),
        )
        if plan.steps
        else no_steps_text(plan),
        tuple(asks),
        "" if asks else tr("Nothing in this plan needs leave. All of it comes off again."),
        tuple(purchase_text(line, plan.currency, catalog) for line in plan.bill.lines),
        tuple(_with_leave(plan, catalog)),
    )


def _with_leave(plan: Plan, catalog: Catalog) -> list[str]:
    reasons: dict[str, list[str]] = {}
    planned = [step.option for step in plan.steps]
    for left in worth_leave(plan.case, plan.state_before, planned, plan.left_out, catalog):
        reasons.setdefault(tr(left.fix.title), []).append(left.reason.rstrip("."))
    return [f"{title} ({'; '.join(dict.fromkeys(why))})" for title, why in reasons.items()]
