"""Purchases and dates as the part ``sequence`` of a plan's document."""

from __future__ import annotations

from typing import Any

from deskmend.money import format_amount
from deskmend.planning.sequence import Purchase, Schedule
from deskmend.report.numbers import strain_json
from deskmend.report.step_words import day_words

__all__ = ["schedule_document"]


def schedule_document(schedule: Schedule, currency: str) -> dict[str, Any]:
    """Write purchases and dates.

    Parameters
    ----------
    schedule : Schedule
        What is bought when.
    currency : str
        Of its amounts.

    Returns
    -------
    dict
        Strain a day [h/day] for each stage; sums over the days to the horizon [h].
    """
    savings = schedule.savings

    def bought(purchase: Purchase) -> dict[str, Any]:
        return {
            "item": purchase.item,
            "packs": purchase.packs,
            "cost": format_amount(purchase.cost, currency),
        }

    return {
        "saving_per_month": format_amount(savings.a_month, currency),
        "horizon_months": savings.months,
        "spent": format_amount(schedule.spent, currency),
        "stages": [
            {
                "day": stage.day,
                "when": day_words(stage.day),
                "buy": [bought(purchase) for purchase in stage.buys],
                "spent": format_amount(stage.spent, currency),
                "with": [option.with_name for option in stage.options],
                "strain": strain_json(stage.strain),
            }
            for stage in schedule.stages
        ],
        "strain_sum": strain_json(schedule.total),
        "strain_sum_bound": strain_json(schedule.bound),
        "lost_cheapest_first": strain_json(schedule.cheapest_first - schedule.total),
        "lost_biggest_first": strain_json(schedule.biggest_first - schedule.total),
        "candidates": [bought(purchase) for purchase in schedule.candidates],
        "candidates_left_aside": schedule.left_aside,
        "proven_over_candidates": schedule.exact,
        "proven_over_all": schedule.exact_over_all,
    }
