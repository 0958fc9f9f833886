"""What things are worth, what else would do and what stays open: one line each, details to fold out."""

from __future__ import annotations

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr
from deskmend.planning.plan import Plan
from deskmend.planning.worth import ItemWorth, Worth
from deskmend.report.numbers import money_text
from deskmend.report.page_budgets import Fold
from deskmend.report.worth_text import SHOWN, SMALLEST, bought_words, open_words, substitute_words

__all__ = ["worth_folds"]


def worth_folds(worth: Worth, plan: Plan, catalog: Catalog) -> list[Fold]:
    """Put what a buyer asks next into a line each.

    Parameters
    ----------
    worth : Worth
        For the money and time of the plan.
    plan : Plan
        The plan shown first.
    catalog : Catalog
        For titles.
    """
    out = []
    if worth.bought:
        details = tuple(bought_words(one, plan, catalog) for one in worth.bought)
        out.append(Fold(_closest(worth, plan, catalog), details))
    if worth.substitutes:
        line = tr("There are plans nearly as good that do without one of the things.")
        others = tuple(substitute_words(one, worth, plan, catalog) for one in worth.substitutes[:SHOWN])
        out.append(Fold(line, others))
    left = [one for one in worth.still_open if one.term.value >= SMALLEST]
    if left:
        line = (
            tr("What stays out of range, nothing that can be bought here would change.")
            if all(one.rung is None for one in left)
            else tr("Some of what stays out of range would change with more money.")
        )
        out.append(Fold(line, tuple(open_words(one, plan) for one in left[:SHOWN])))
    return out


def _closest(worth: Worth, plan: Plan, catalog: Catalog) -> str:
    """The thing whose price is nearest to what it is worth."""

    def room(one: ItemWorth) -> int:
        return 0 if one.up_to is None else one.up_to - one.price

    limited = [one for one in worth.bought if one.up_to is not None]
    if not limited:
        return tr("Each thing you buy is worth any price within the plan.")
    one = min(limited, key=lambda each: (room(each), each.item))
    return tr(
        "Each thing you buy is worth its price. The closest is {thing}: {now}, worth up to {most}.",
        thing=tr(catalog.items[one.item].title),
        now=money_text(one.price, plan.currency),
        most=money_text(one.up_to or 0, plan.currency),
    )
