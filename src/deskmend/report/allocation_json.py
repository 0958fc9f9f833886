"""A fund shared as one JSON document, format ``deskmend-allocation/1``."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from deskmend.grants.fund import FundShared
from deskmend.grants.person import WEIGHT_UNIT
from deskmend.money import format_amount
from deskmend.report.numbers import strain_json
from deskmend.risk.strain import MILLION

__all__ = ["allocation_document", "served"]

Document = dict[str, Any]


def served(shared: FundShared) -> int:
    """How many people are given something now [-]."""
    return sum(bool(plan.bill.lines) for plan in shared.plans.values())


def allocation_document(shared: FundShared) -> Document:
    """Write a fund shared as a document.

    Parameters
    ----------
    shared : FundShared
        The fund shared.

    Returns
    -------
    dict
        Money as decimal text; relief and bound as weighted strain-hours a day [h/day], or as people with
        ``most_people``; gap = (bound - relief) / relief.
    """
    given, wishes = shared.allocation, shared.wishes
    counts = wishes.policy == "most_people"

    def money(minor: int | None) -> str | None:
        return None if minor is None else format_amount(minor, shared.currency)

    def value(exact: int | None) -> float | int | None:
        return exact if counts or exact is None else _relief(exact)

    most_relief, most_bound = given.most_relief, given.most_relief_bound
    if wishes.policy == "most_relief":
        most_relief, most_bound = given.relief, given.bound
    limit = None
    if wishes.limit is not None:
        most = wishes.limit.most
        limit = {
            "score": wishes.limit.score,
            "value": most if wishes.limit.score == "rosa" else strain_json(most),
        }
    return {
        "format": "deskmend-allocation/1",
        "currency": shared.currency,
        "fund": money(wishes.fund),
        "already": money(shared.given.spent),
        "spent": money(shared.spent),
        "left": money(wishes.fund - shared.spent),
        "relief": value(given.relief),
        "bound": value(given.bound),
        "gap": given.gap,
        "status": given.status,
        "policy": wishes.policy,
        "limit": limit,
        "cap": money(wishes.cap),
        "floor": money(wishes.floor),
        "group_share": {group: _part(part) for group, part in sorted(wishes.group_share.items())},
        "use_discomfort": wishes.use_discomfort,
        "people": len(shared.applicants),
        "served": served(shared),
        "waiting": len(given.waiting),
        "rejected": len(shared.table.rejected),
        "fairness": {
            "relief": _relief(given.weighted_relief),
            "most_relief": None if most_relief is None else _relief(most_relief),
            "most_relief_bound": None if most_bound is None else _relief(most_bound),
        },
        "levels": [
            {
                "strain": strain_json(level.strain),
                "strain_at_least": strain_json(level.strain_at_least),
                "people": level.people,
                "people_at_least": level.people_at_least,
                "proven": level.proven,
            }
            for level in given.levels
        ],
        "more_money": (
            None
            if given.more_money is None
            else {
                "extra": money(given.more_money.extra),
                "at_least": value(given.more_money.at_least),
                "at_most": value(given.more_money.at_most),
            }
        ),
        "stock_costs": [
            {"item": one.item, "at_least": value(one.at_least), "at_most": value(one.at_most)}
            for one in given.stock_costs
        ],
        "warnings": list(shared.warnings),
    }


def _relief(exact: int) -> float:
    """Weighted strain-hours a day: the double nearest to the exact value."""
    return exact / (MILLION * WEIGHT_UNIT)


def _part(part: Fraction) -> float:
    return float(part)
