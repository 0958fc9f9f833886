"""The parts of a page for others than the worker.

For an employer or landlord what needs leave, and what it does to the furniture; for the assessor figures,
ranges, sources, proof, and what was estimated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.planning.explain import QuantityReading, exposure_rows, readings
from deskmend.planning.model.offers import LeftOut, OptionSpec, offers_for
from deskmend.planning.plan import Plan
from deskmend.planning.score import weights_of
from deskmend.planning.worth import without_health, worth_leave
from deskmend.report.assessment import add_exposures, range_sources, reading_name
from deskmend.report.html.blocks import Blocks
from deskmend.report.html.steps import Rungs, merged
from deskmend.report.plan import add_assessor_notes, add_proof
from deskmend.report.scores import add_plan_scores
from deskmend.report.steps import leave_text, purchase_text, step_title
from deskmend.report.words import (
    add_cautions,
    minutes_text,
    range_words,
    strain_text,
    total_text,
    value_words,
)
from deskmend.workstation.state import state_of

__all__ = ["AssessorView", "EmployerPart", "QuantityRow", "WorkLine", "assessor_view", "employer_part"]

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
        add_exposures(parts["exposures"], title, exposure_rows(state, weights), many)
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
class WorkLine:
    """One thing that is done: who can do it, whom it takes leave from, and how long it takes."""

    what: str
    who: str
    leave: str
    time: str


@dataclass(frozen=True)
class EmployerPart:
    """What an employer or landlord is told: nothing of the person's health.

    Figures are plain, discomfort counts for nothing; what is done stands in catalog order, since the order of
    the worker's plan hangs on what troubles them. Everything has the budgets for which it is said.
    """

    summary: list[tuple[str, Rungs]]
    work: list[tuple[WorkLine, Rungs]]
    asks: list[tuple[str, Rungs]]
    nothing: list[tuple[str, Rungs]]
    shopping: list[tuple[str, Rungs]]
    total: list[tuple[str, Rungs]]
    with_leave: list[tuple[str, Rungs]]


def employer_part(plans: Sequence[Plan], catalog: Catalog, prices: PriceTable) -> EmployerPart:
    """What others than the worker are told; all of it from the case without its health."""
    case = without_health(plans[0].case)
    left_out = offers_for(case, state_of(case), catalog, prices).left_out
    asks = [_asks(plan) for plan in plans]
    nothing = tr("Nothing in this plan needs leave. All of it comes off again.")
    return EmployerPart(
        merged([[_summary(plan)] for plan in plans]),
        merged([[_work_line(option, plan) for option in plan.stages[-1].options] for plan in plans]),
        merged(asks),
        merged([[] if told else [nothing] for told in asks]),
        merged([[purchase_text(line, plan.currency, catalog) for line in plan.bill.lines] for plan in plans]),
        merged(
            [
                [total_text(plan.cost, plan.currency, plan.invented)] if plan.bill.lines else []
                for plan in plans
            ]
        ),
        merged(_with_leave(plans, case, left_out, catalog)),
    )


def _summary(plan: Plan) -> str:
    before, after = strain_text(plan.plain_before.total), strain_text(plan.plain_after.total)
    if not plan.stages[-1].options:
        return tr(
            "Nothing is changed. The strain of this workplace is {before} strain-hours a day.", before=before
        )
    return tr(
        "For {money} the strain of this workplace goes from {before} to {after} strain-hours a day, each "
        "part of the body counted alike.",
        money=total_text(plan.cost, plan.currency, plan.invented),
        before=before,
        after=after,
    )


def _asks(plan: Plan) -> list[str]:
    """What of a plan needs leave, or changes something."""
    asks = []
    for option in plan.stages[-1].options:
        fix = option.fix
        if fix.leave == "none" and not fix.alters and fix.reversible:
            continue
        said = (
            step_title(option, plan.state_before) + ".",
            leave_text(option),
            tr("It changes furniture or the room.") if fix.alters else "",
            tr("It comes off again.") if fix.reversible else tr("It does not come off again."),
        )
        asks.append(" ".join(part for part in said if part))
    return asks


WHO = {
    1: "the worker, or anyone",
    2: "someone with some practice",
    3: "someone used to tools",
}
"""Who can do a step, by the skill it takes."""
LEAVE_OF = {"none": "nobody's", "owner": "the owner's", "employer": "the employer's"}
"""Whose leave a step takes."""


def _work_line(option: OptionSpec, plan: Plan) -> WorkLine:
    fix = option.fix
    return WorkLine(
        step_title(option, plan.state_before),
        tr("the worker, day by day") if fix.kind == "habit" else tr(WHO[fix.skill]),
        tr(LEAVE_OF[fix.leave]),
        minutes_text(fix.minutes) if fix.minutes else "",
    )


def _with_leave(
    plans: Sequence[Plan], case: Case, left_out: Sequence[LeftOut], catalog: Catalog
) -> list[list[str]]:
    planned = [plan.stages[-1].options for plan in plans]
    out = []
    for found in worth_leave(case, state_of(case), planned, left_out, catalog):
        reasons: dict[str, list[str]] = {}
        for left in found:
            reasons.setdefault(tr(left.fix.title), []).append(left.reason.rstrip("."))
        out.append([f"{title} ({'; '.join(dict.fromkeys(why))})" for title, why in reasons.items()])
    return out
