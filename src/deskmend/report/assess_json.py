"""An assessment as one JSON document, format ``deskmend-assessment/1``."""

from __future__ import annotations

from typing import Any

from deskmend.money import format_amount
from deskmend.planning.assessment import Assessment
from deskmend.planning.reasons import QuantityReading
from deskmend.report.case_name import case_name
from deskmend.report.numbers import quantity_json, strain_json
from deskmend.report.scores_json import assessment_scores

__all__ = ["assessment_document"]


def assessment_document(assessment: Assessment) -> dict[str, Any]:
    """Write an assessment as a document.

    Parameters
    ----------
    assessment : Assessment
        The assessment.

    Returns
    -------
    dict
        Strain [h/day] with six decimals, quantities in their unit [mm] [deg] [lux] [-] with three, money as
        decimal text.
    """
    regions = assessment.strain.by_region
    plain = assessment.plain.by_region
    return {
        "format": "deskmend-assessment/1",
        "case": case_name(assessment.case),
        "currency": assessment.currency,
        "with": [option.with_name for option in assessment.options],
        "strain": {
            "total": strain_json(assessment.strain.total),
            "by_region": {region: strain_json(value) for region, value in regions.items()},
            "plain_total": strain_json(assessment.plain.total),
            "plain_by_region": {region: strain_json(value) for region, value in plain.items()},
            "without_fixes": strain_json(assessment.now.total),
            "plain_without_fixes": strain_json(assessment.plain_now.total),
        },
        "cost": format_amount(assessment.bill.total, assessment.currency),
        "bill": [
            {"item": line.item, "packs": line.packs, "cost": format_amount(line.cost, assessment.currency)}
            for line in assessment.bill.lines
        ],
        "bill_missing": list(assessment.bill.missing),
        "quantities": [_quantity(one) for one in assessment.quantities],
        "scores": assessment_scores(assessment),
        "rules_broken": [{"fix": breach.fix.id, "reason": breach.reason} for breach in assessment.breaches],
        "warnings": list(assessment.warnings),
    }


def _quantity(one: QuantityReading) -> dict[str, Any]:
    return {
        "task": one.task,
        "name": one.name,
        "of": one.of or None,
        "mode": one.mode or None,
        "value": quantity_json(one.value),
        "unit": one.unit,
        "low": quantity_json(one.low),
        "high": quantity_json(one.high),
        "severity": quantity_json(one.severity),
        "source": one.source,
        "estimated": one.estimated,
    }
