"""A plan as one JSON document, format ``deskmend-plan/1``."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import EvidenceNote
from deskmend.messages import tr
from deskmend.money import format_amount
from deskmend.planning.offers import OptionSpec
from deskmend.planning.order import OrderedStep
from deskmend.planning.plan import Plan
from deskmend.report.afterwards import afterwards
from deskmend.report.case_name import case_name
from deskmend.report.cut_words import cut_documents
from deskmend.report.numbers import quantity_json, strain_json
from deskmend.report.schedule_json import schedule_document
from deskmend.report.scores_json import plan_scores
from deskmend.report.step_words import filled, place_of, task_of, when_of, why_text
from deskmend.report.words import source_title

__all__ = ["evidence_json", "plan_document"]

Document = dict[str, Any]


def plan_document(plan: Plan, catalog: Catalog) -> Document:
    """Write a plan as a document.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For what evidence cites.

    Returns
    -------
    dict
        Money as decimal text, strain [h/day] with six decimals, sizes [mm] [deg] [min] with three.
    """

    def money(minor: int | None) -> str | None:
        return None if minor is None else format_amount(minor, plan.currency)

    now, then = plan.before.by_region, plan.after.by_region
    plain_now, plain_then = plan.plain_before.by_region, plan.plain_after.by_region
    return {
        "format": "deskmend-plan/1",
        "case": case_name(plan.case),
        "currency": plan.currency,
        "budget": money(plan.budget),
        "limit": money(plan.limit),
        "cost": money(plan.cost),
        "cost_now": money(plan.cost if plan.schedule is None else plan.schedule.cost_now),
        "minutes": plan.minutes,
        "strain": {
            "before": strain_json(plan.before.total),
            "after_free": strain_json(plan.after_free.total),
            "after": strain_json(plan.after.total),
            "plain_before": strain_json(plan.plain_before.total),
            "plain_after": strain_json(plan.plain_after.total),
            "by_region": {
                region: {
                    "before": strain_json(now[region]),
                    "after": strain_json(then[region]),
                    "plain_before": strain_json(plain_now[region]),
                    "plain_after": strain_json(plain_then[region]),
                }
                for region in now
            },
        },
        "scores": plan_scores(plan),
        "steps": [
            _step(number, step, when, plan, catalog)
            for number, (step, when) in enumerate(zip(plan.steps, when_of(plan), strict=True), start=1)
        ],
        "sequence": None if plan.schedule is None else schedule_document(plan.schedule, plan.currency),
        "shopping": [
            {"item": line.item, "packs": line.packs, "cost": money(line.cost)} for line in plan.bill.lines
        ],
        "watch_for": [
            {
                "fix": reserve.option.fix.id,
                "with": reserve.option.with_name,
                "happens": filled(reserve.watch.happens, reserve.option),
                "then": filled(reserve.watch.then, reserve.option),
                "item": reserve.watch.item,
                "quantity": reserve.watch.quantity if reserve.watch.item is not None else None,
                "reserve": money(reserve.cost),
            }
            for reserve in plan.watch_for
        ],
        **afterwards(plan, catalog),
        "proof": {
            "status": "optimal" if plan.proven else "not_proven",
            "strain_bound": None if plan.strain_bound is None else strain_json(plan.strain_bound),
            "engine": plan.choice.engine,
            "engines_agree": plan.proven_twice or None,
            "tables": None if plan.sizes is None else asdict(plan.sizes),
        },
        "left_out": [
            {"fix": left.fix.id, "for": left.owner[1] or None, "cause": left.cause, "reason": left.reason}
            for left in plan.left_out
        ],
        "warnings": list(plan.warnings),
    }


def _step(number: int, step: OrderedStep, when: str, plan: Plan, catalog: Catalog) -> Document:
    option = step.option
    return {
        "order": number,
        "fix": option.fix.id,
        "title": tr(option.fix.title),
        "with": option.with_name,
        "place": place_of(option),
        "task": task_of(option),
        "size": _size(option),
        "unit": option.fix.size.unit if option.fix.size is not None else None,
        "pieces": [quantity_json(piece) for piece in option.pieces],
        "kind": option.fix.kind,
        "cost": format_amount(step.cost, plan.currency),
        "minutes": step.minutes,
        "when": when,
        "strain_after": strain_json(step.strain_after),
        "why": why_text(step),
        "cuts": cut_documents(option, plan.state_after),
        "how": [filled(line, option) for line in option.fix.how],
        "right": None if option.fix.right is None else filled(option.fix.right, option),
        "cautions": [filled(line, option) for line in option.fix.cautions],
        "side_effects": [filled(line, option) for line in option.fix.side_effects],
        "evidence": [evidence_json(note, catalog) for note in option.fix.evidence],
    }


def _size(option: OptionSpec) -> float | int | str | None:
    """Whole sizes as whole numbers, so that a size reads the same here as in the step's name."""
    if option.size is None or isinstance(option.size, str):
        return option.size
    size = quantity_json(option.size)
    return int(size) if size is not None and size == int(size) else size


def evidence_json(note: EvidenceNote, catalog: Catalog) -> Document:
    """One finding with the title of its source, the year within it."""
    source = catalog.sources[note.source]
    return {
        "source": note.source,
        "title": source_title(source),
        "where": source.place or None,
        "n": note.n,
        "finding": tr(note.finding),
        "grade": note.grade,
        "tested": note.tested,
        "verdict": note.verdict,
    }
