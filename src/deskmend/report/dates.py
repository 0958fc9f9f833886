"""What is bought when as money comes in: in text, as the part ``sequence`` of a plan, and what is proven."""

from __future__ import annotations

from deskmend.language import tr
from deskmend.measures import Micro
from deskmend.planning.dates import DAYS_A_MONTH, Schedule
from deskmend.planning.plan import Plan
from deskmend.report.case_documents import Sequence as SequenceDocument
from deskmend.report.documents import bought_json, money_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.words import money_text, strain_text

__all__ = ["add_schedule", "add_schedule_proof", "schedule_document"]


def schedule_document(schedule: Schedule, currency: str) -> SequenceDocument:
    """Purchases and dates: sums of strain over the days to the horizon [h]."""
    return {
        "saving_per_month": money_json(schedule.savings.a_month, currency),
        "horizon_months": schedule.savings.months,
        "spent": money_json(schedule.spent, currency),
        "strain_sum": strain_json(schedule.total),
        "strain_sum_least": strain_json(schedule.least),
        "strain_sum_bound": strain_json(schedule.bound),
        "lost_cheapest_first": strain_json(schedule.cheapest_first - schedule.least),
        "lost_biggest_first": strain_json(schedule.biggest_first - schedule.least),
        "candidates": bought_json(schedule.candidates, currency),
        "candidates_left_aside": schedule.left_aside,
        "proven_over_candidates": schedule.exact,
        "proven_over_all": schedule.exact_over_all,
    }


def add_schedule(page: Page, plan: Plan) -> None:
    """Add how much money there is when, and what it buys that serves on the way only."""
    schedule = plan.schedule
    if schedule is None:
        return
    savings, currency = schedule.savings, plan.currency
    page.heading(tr("As money comes in"))
    page.paragraph(
        tr(
            "{in_hand} in hand now, {a_month} more after each month, {months} months ahead. What is free is "
            "set anew at each date. A month counts as 30 days.",
            in_hand=money_text(savings.in_hand, currency),
            a_month=money_text(savings.a_month, currency),
            months=savings.months,
        )
    )
    if schedule.spent > plan.cost:
        unused = money_text(schedule.spent - plan.cost, currency)
        page.paragraph(tr("Things for {cost} help on the way and lie unused in the end.", cost=unused))


def add_schedule_proof(page: Page, schedule: Schedule) -> None:
    """Add what is proven of purchases and dates, and what plain orders would lose."""
    days = schedule.savings.months * DAYS_A_MONTH
    total = strain_text(schedule.total)
    many = len(schedule.candidates)
    if schedule.exact and schedule.total > schedule.least:
        page.paragraph(
            tr(
                "Proven: over {days} days no choice, order or date of the {many} purchases that the plans at "
                "any budget make leaves less than {least} strain-hours in all. This leaves {total}, since "
                "nothing is set up for a while that takes off less than can be told. Strain, cost and every "
                "rule at each date were checked again without the optimiser.",
                days=days,
                least=strain_text(schedule.least),
                total=total,
                many=many,
            )
        )
    elif schedule.exact:
        page.paragraph(
            tr(
                "Proven: over {days} days this leaves {total} strain-hours in all, and no other choice, "
                "order or date of the {many} purchases that the plans at any budget make leaves less. "
                "Strain, cost and every rule at each date were checked again without the optimiser.",
                days=days,
                total=total,
                many=many,
            )
        )
    else:
        page.paragraph(
            tr(
                "Not proven best: over {days} days this leaves {total} strain-hours in all. {many} purchases "
                "were looked at, {aside} more left aside. Each date was checked again and holds.",
                days=days,
                total=total,
                many=many,
                aside=schedule.left_aside,
            )
        )
    if schedule.exact_over_all:
        page.paragraph(tr("Nothing else for sale can do better either."))
    else:
        gap = strain_text(schedule.least - schedule.bound)
        page.paragraph(
            tr(
                "Not proven over everything for sale: no purchases can leave less than {bound}, which is "
                "{gap} less. Whether that can be reached is not known.",
                bound=strain_text(schedule.bound),
                gap=gap,
            )
        )
    page.paragraph(
        tr(
            "The same purchases cheapest first would leave {cheapest}; those with the biggest effect first "
            "{biggest}, each as soon as there is money for it.",
            cheapest=_lost(schedule.cheapest_first - schedule.least),
            biggest=_lost(schedule.biggest_first - schedule.least),
        )
    )


def _lost(more: Micro) -> str:
    return tr("{strain} strain-hours more", strain=strain_text(more)) if more else tr("as little")
