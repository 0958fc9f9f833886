"""A comparison of budgets as one JSON document, format ``deskmend-comparison/1``."""

from __future__ import annotations

from typing import Any

from deskmend.money import format_amount
from deskmend.planning.compare import AtBudget, Comparison, Rung, Step, step_between
from deskmend.planning.offers import OptionSpec
from deskmend.report.case_name import case_name
from deskmend.report.numbers import quantity_json, strain_json
from deskmend.risk.posture_scores import DayScores

__all__ = ["comparison_document"]

Document = dict[str, Any]


def comparison_document(comparison: Comparison) -> Document:
    """Write a comparison as a document.

    Parameters
    ----------
    comparison : Comparison
        The comparison.

    Returns
    -------
    dict
        Money as decimal text, strain [h/day] with six decimals. ``rungs`` are the plans that differ, cost
        strictly rising; ``at`` tells for each budget asked for which plan is best within it.
    """
    currency = comparison.currency
    rungs = []
    last: Rung | None = None
    for rung in comparison.rungs:
        rungs.append(_rung(rung, currency) | {"change": _change(step_between(last, rung))})
        last = rung
    knee = comparison.knee
    return {
        "format": "deskmend-comparison/1",
        "case": case_name(comparison.case),
        "currency": currency,
        "strain_before": strain_json(comparison.before.total),
        "by_region_before": _regions(comparison.before.by_region),
        "scores_before": _scores(comparison.scores_before),
        "rungs": rungs,
        "at": [_at(one, currency) for one in comparison.at],
        "knee": None if knee is None else format_amount(knee.cost, currency),
        "proven": comparison.proven,
        "warnings": list(comparison.warnings),
    }


def _rung(rung: Rung, currency: str) -> Document:
    return {
        "cost": format_amount(rung.cost, currency),
        "strain": strain_json(rung.strain),
        "minutes": rung.minutes,
        "fixes": [option.fix.id for option in rung.options],
        "with": _names(rung.options),
        "shopping": [
            {"item": line.item, "packs": line.packs, "cost": format_amount(line.cost, currency)}
            for line in rung.bill.lines
        ],
        "by_region": _regions(rung.score.by_region),
        "scores": _scores(rung.scores),
        "proven": rung.choice.proven,
    }


def _names(options: tuple[OptionSpec, ...]) -> list[str]:
    return [option.with_name for option in options]


def _change(step: Step) -> Document:
    return {
        "enters": _names(step.enters),
        "leaves": _names(step.leaves),
        "resized": [{"from": one.before.with_name, "to": one.after.with_name} for one in step.resized],
    }


def _regions(by_region: dict[str, int]) -> Document:
    return {region: strain_json(value) for region, value in by_region.items()}


def _scores(scores: DayScores) -> Document:
    return {
        "rula": scores.rula,
        "rosa": scores.rosa,
        "rula_mean": quantity_json(scores.rula_mean),
        "rosa_mean": quantity_json(scores.rosa_mean),
    }


def _at(one: AtBudget, currency: str) -> Document:
    found = one.rung
    return {
        "budget": format_amount(one.budget, currency),
        "cost": None if found is None else format_amount(found.cost, currency),
        "strain": None if found is None else strain_json(found.strain),
        "minutes": None if found is None else found.minutes,
        "with": None if found is None else _names(found.options),
    }
