"""What a page says to an employer or landlord: what needs leave, and what it does to the furniture.

The assessor's part of a page: figures, ranges, sources, proof, and what was estimated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.planning.explain import QuantityReading, readings
from deskmend.planning.plan import Plan
from deskmend.report.afterwards import add_cautions
from deskmend.report.html.blocks import Blocks
from deskmend.report.plan import ASK_FIRST, add_assessor_notes, add_proof, purchase_text
from deskmend.report.scores import add_plan_scores
from deskmend.report.steps import step_title
from deskmend.report.words import (
    money_text,
    quantity_words,
    range_words,
    source_place,
    source_title,
    strain_text,
    value_words,
)

__all__ = ["AssessorView", "LeaveView", "QuantityRow", "assessor_view", "leave_view"]

Key = tuple[str, str, str, str]


@dataclass(frozen=True)
class QuantityRow:
    """One quantity with its range.

    Attributes
    ----------
    what, now, then, wanted, sources : str
        In words.
    outside_now, outside_then : bool
        Whether it lies outside its range.
    estimated : bool
        Rests on an estimate or an assumption.
    """

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
    """The assessor's part for one plan.

    Attributes
    ----------
    outside, others : tuple of QuantityRow
        Quantities outside their range now or then, the worst first; the rest.
    sources : tuple of (str, str)
        Key and description of every source of a range.
    scores, proof, notes, cautions : Markup
        Blocks.
    """

    outside: tuple[QuantityRow, ...]
    others: tuple[QuantityRow, ...]
    sources: tuple[tuple[str, str], ...]
    scores: Markup
    proof: Markup
    notes: Markup
    cautions: Markup


def assessor_view(plan: Plan, catalog: Catalog) -> AssessorView:
    """Put one plan's figures into tables and blocks.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For titles of sources.
    """
    before = {_key(one): one for one in readings(plan.state_before)}
    after = {_key(one): one for one in readings(plan.state_after)}
    keys = list(dict.fromkeys([*before, *after]))
    keys.sort(key=lambda key: -max(_severity(before, key), _severity(after, key)))
    many = len(plan.state_after.tasks) > 1
    rows = [(key, _row(before.get(key), after.get(key), many)) for key in keys]
    both = [*before.values(), *after.values()]
    parts = {name: Blocks(headed=name != "notes") for name in ("scores", "proof", "notes", "cautions")}
    add_plan_scores(parts["scores"], plan)
    add_proof(parts["proof"], plan)
    add_assessor_notes(parts["notes"], plan, catalog)
    add_cautions(parts["cautions"])
    return AssessorView(
        tuple(row for _, row in rows if row.outside_now or row.outside_then),
        tuple(row for _, row in rows if not row.outside_now and not row.outside_then),
        tuple(_sources(both, catalog)),
        *(part.html() for part in parts.values()),
    )


def _key(one: QuantityReading) -> Key:
    return one.task, one.name, one.of, one.mode


def _severity(of: Mapping[Key, QuantityReading], key: Key) -> float:
    return of[key].severity if key in of else 0.0


def _row(now: QuantityReading | None, then: QuantityReading | None, many: bool) -> QuantityRow:
    one = now or then
    if one is None:
        raise ValueError("a quantity of neither state")
    what = quantity_words(one.name, one.of) + (f" ({one.task})" if many else "")
    if one.mode == "stand":
        what += f", {tr('standing')}"
    return QuantityRow(
        what,
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


def _sources(found: Sequence[QuantityReading], catalog: Catalog) -> list[tuple[str, str]]:
    out = []
    for key in sorted({key for one in found for key in one.source.split()}):
        known = catalog.sources[key] if key in catalog.sources else None
        if known is None:
            out.append((key, ""))
            continue
        place = f". {source_place(known)}" if known.place else ""
        out.append((key, f"{source_title(known)}{place} ({tr(known.status)})"))
    return out


NEEDS_LEAVE = ("no_leave", "may_not_alter")
"""Causes for which a fix is not offered that leave would take away."""


@dataclass(frozen=True)
class LeaveView:
    """What is asked of others for one budget.

    Attributes
    ----------
    summary : str
        What the plan does, in one sentence.
    asks : tuple of str
        Steps that need leave or touch furniture.
    nothing : str
        Said where there are none; else empty.
    shopping : tuple of str
        What is bought.
    with_leave : tuple of str
        Fixes that could be looked at too if leave were given.
    """

    summary: str
    asks: tuple[str, ...]
    nothing: str
    shopping: tuple[str, ...]
    with_leave: tuple[str, ...]


def leave_view(plan: Plan, catalog: Catalog) -> LeaveView:
    """Gather what others have to allow.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For titles.
    """
    asks = []
    for step in plan.steps:
        fix = step.option.fix
        if fix.leave == "none" and not fix.alters and fix.reversible:
            continue
        said = [step_title(step.option, plan.state_before) + "."]
        if fix.leave != "none":
            said.append(tr(ASK_FIRST[fix.leave]))
        if fix.alters:
            said.append(tr("It changes furniture or the room."))
        said.append(tr("It comes off again.") if fix.reversible else tr("It does not come off again."))
        asks.append(" ".join(said))
    return LeaveView(
        tr(
            "For {money} the plan takes strain from {before} to {after} strain-hours a day.",
            money=money_text(plan.cost, plan.currency),
            before=strain_text(plan.before.total),
            after=strain_text(plan.after.total),
        ),
        tuple(asks),
        "" if asks else tr("Nothing in this plan needs leave. All of it comes off again."),
        tuple(purchase_text(line, plan, catalog) for line in plan.bill.lines),
        tuple(_with_leave(plan)),
    )


def _with_leave(plan: Plan) -> list[str]:
    reasons: dict[str, list[str]] = {}
    for left in plan.left_out:
        if left.cause in NEEDS_LEAVE:
            reasons.setdefault(tr(left.fix.title), []).append(left.reason.rstrip("."))
    return [f"{title} ({'; '.join(dict.fromkeys(why))})" for title, why in reasons.items()]
