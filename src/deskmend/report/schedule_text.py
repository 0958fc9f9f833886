"""Purchases and dates in plain text, and what is proven of them."""

from __future__ import annotations

from deskmend.intake.catalog import Catalog
from deskmend.planning.offers import OptionSpec
from deskmend.planning.plan import Plan
from deskmend.planning.sequence import DAYS_A_MONTH, Schedule
from deskmend.report.layout import Page
from deskmend.report.numbers import money_text, strain_text
from deskmend.report.step_words import day_words, step_title

__all__ = ["add_schedule", "add_schedule_proof"]


def add_schedule(page: Page, plan: Plan, catalog: Catalog) -> None:
    """Add what is bought when, where money comes in over time.

    Parameters
    ----------
    page : Page
        Where to add it.
    plan : Plan
        The plan.
    catalog : Catalog
        For titles of things.
    """
    schedule = plan.schedule
    if schedule is None:
        return
    savings, currency = schedule.savings, plan.currency
    page.heading("As money comes in")
    page.paragraph(
        f"{money_text(savings.in_hand, currency)} in hand now, {money_text(savings.a_month, currency)} more "
        f"after each month, {savings.months} months ahead. What is free is set anew at each date."
    )
    had: dict[str, OptionSpec] = {}
    for stage in schedule.stages:
        page.blank()
        words = day_words(stage.day)
        bought = [
            f"{purchase.packs} x {catalog.items[purchase.item].title}, {money_text(purchase.cost, currency)}"
            for purchase in stage.buys
        ]
        what = f"buy {'; '.join(bought)}" if bought else "nothing to buy"
        page.paragraph(
            f"{words[0].upper()}{words[1:]}: {what}. Strain from then on {strain_text(stage.strain, 2)}; "
            f"spent so far {money_text(stage.spent, currency)}."
        )
        has = {option.with_name: option for option in stage.options}
        page.points([step_title(o, plan.state_before) for name, o in has.items() if name not in had], 2, "+")
        gone = [step_title(o, plan.state_before) for name, o in had.items() if name not in has]
        page.points(gone, 2, "-")
        had = has
    if schedule.spent > plan.cost:
        unused = money_text(schedule.spent - plan.cost, currency)
        page.paragraph(f"Things for {unused} help on the way and lie unused in the end.")
    page.paragraph("+ comes in, - is undone, perhaps for another size. A month counts as 30 days.", 2)


def add_schedule_proof(page: Page, schedule: Schedule) -> None:
    """Add what is proven of purchases and dates, and what plain orders would lose.

    Parameters
    ----------
    page : Page
        Where to add it.
    schedule : Schedule
        Purchases and dates.
    """
    days = schedule.savings.months * DAYS_A_MONTH
    total = strain_text(schedule.total)
    many = len(schedule.candidates)
    if schedule.exact:
        page.paragraph(
            f"Proven: over {days} days this leaves {total} strain-hours in all, and no other choice, order "
            f"or date of the {many} purchases that the best plans at any budget make leaves less. Strain, "
            "cost and every rule at each date were checked again without the optimiser."
        )
    else:
        page.paragraph(
            f"Not proven best: over {days} days this leaves {total} strain-hours in all. {many} purchases "
            f"were looked at, {schedule.left_aside} more left aside. Each date was checked again and holds."
        )
    if schedule.exact_over_all:
        page.paragraph("Nothing else for sale can do better either.")
    else:
        gap = strain_text(schedule.total - schedule.bound)
        page.paragraph(
            "Not proven over everything for sale: no purchases can leave less than "
            f"{strain_text(schedule.bound)}, which is {gap} less. Whether that can be reached is not known."
        )
    page.paragraph(
        f"The same purchases cheapest first would leave {_lost(schedule.cheapest_first - schedule.total)}; "
        f"those with the biggest effect first {_lost(schedule.biggest_first - schedule.total)}. Each is "
        "bought as soon as there is money for it."
    )


def _lost(more: int) -> str:
    return f"{strain_text(more)} strain-hours more" if more else "as little"
