"""What things are worth, what else would do and what stays open: one line each, details to fold out.

What each thing is worth, as the part ``worth`` of a plan's document.

What each thing is worth, what else would do and what stays open, as plain text.
"""

from __future__ import annotations

from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.measures import format_amount
from deskmend.planning.plan import Plan
from deskmend.planning.worth import ItemWorth, OpenStrain, Substitute, Worth
from deskmend.report.budgets import Fold
from deskmend.report.layout import Page
from deskmend.report.steps import step_title
from deskmend.report.words import exposure_words, money_text, region_word, strain_json, strain_text

__all__ = [
    "bought_words",
    "following_words",
    "open_words",
    "substitute_words",
    "worth_document",
    "worth_folds",
    "worth_text",
]


def worth_document(worth: Worth, currency: str) -> dict[str, Any]:
    """Write what a buyer asks next.

    Parameters
    ----------
    worth : Worth
        For the money and time of the plan.
    currency : str
        Of all amounts.

    Returns
    -------
    dict
        ``up_to`` and ``enters_at`` are prices of a pack; null: at any price, ``as_gift`` false: not even for
        nothing. Strain in h/day.
    """

    def money(minor: int | None) -> str | None:
        return None if minor is None else format_amount(minor, currency)

    def bought(one: ItemWorth) -> dict[str, Any]:
        return {
            "item": one.item,
            "packs": one.packs,
            "price": money(one.price),
            "up_to": money(one.up_to),
            "strain_without": None if one.strain_without is None else strain_json(one.strain_without),
        }

    def left_out(one: ItemWorth) -> dict[str, Any]:
        gift = one.up_to is None or one.up_to >= 0
        return {
            "item": one.item,
            "price": money(one.price),
            "as_gift": gift,
            "enters_at": money(one.up_to) if gift else None,
        }

    return {
        "money": money(worth.money),
        "within_percent": worth.within,
        "bought": [bought(one) for one in worth.bought],
        "left_out": [left_out(one) for one in worth.left_out],
        "substitutes": [
            {
                "without": one.item,
                "strain": strain_json(one.strain),
                "cost": money(one.cost),
                "with": [option.with_name for option in one.options],
                "instead": [option.with_name for option in one.instead],
            }
            for one in worth.substitutes
        ],
        "still_open": [
            {
                "task": one.term.task,
                "exposure": one.term.exposure,
                "region": one.term.region,
                "strain": strain_json(one.term.value),
                "less_from": None if one.rung is None else money(one.rung.cost),
                "then": None if one.rung is None else strain_json(one.then),
                "enters": [option.with_name for option in one.enters],
            }
            for one in worth.still_open
        ],
        "next": None
        if worth.following is None
        else {"cost": money(worth.following.cost), "strain": strain_json(worth.following.strain)},
    }


SHOWN = 5
"""Most lines of a kind; the document holds all."""
SMALLEST = 50_000
"""Strain below which what stays open gets no line: 3 minutes a day [millionths of h/day]; judgement."""


def worth_text(worth: Worth, plan: Plan, catalog: Catalog) -> str:
    """Write what a buyer asks next.

    Parameters
    ----------
    worth : Worth
        For the money and time of the plan.
    plan : Plan
        The plan.
    catalog : Catalog
        For titles.

    Returns
    -------
    str
        At most 100 characters a line.
    """
    page = Page()
    page.heading(tr("What each thing is worth here"))
    for one in worth.bought:
        page.point("-", bought_words(one, plan, catalog))
    if not worth.bought:
        page.paragraph(tr("Nothing is bought, so there is nothing to ask this of."))
    dear = [one for one in worth.left_out if one.up_to is None or one.up_to >= 0]
    if dear:
        page.heading(tr("Left out, and the price at which it would come in"))
        for one in dear[:SHOWN]:
            page.point("-", _entry_words(one, plan, catalog))
    useless = [tr(catalog.items[one.item].title) for one in worth.left_out if one.up_to == -1]
    if useless:
        page.paragraph(tr("Of no use to this plan even as a gift: {things}.", things=", ".join(useless)))
    if worth.substitutes:
        page.heading(tr("Nearly as good without one of them"))
        for other in worth.substitutes[:SHOWN]:
            page.point("-", substitute_words(other, worth, plan, catalog))
    page.heading(tr("What stays, and what would touch it"))
    page.paragraph(following_words(worth, plan))
    open_ones = [one for one in worth.still_open if one.term.value >= SMALLEST]
    for left in open_ones[:SHOWN]:
        page.point("-", open_words(left, plan))
    page.paragraph(
        tr(
            "Each price was found by planning again: at it the thing is bought, one step above it no longer. "
            "All other prices stay as they are."
        )
    )
    return page.text()


def bought_words(one: ItemWorth, plan: Plan, catalog: Catalog) -> str:
    """Say up to which price a thing of the plan is worth buying."""
    thing = tr(catalog.items[one.item].title)
    now = money_text(one.price, plan.currency)
    if one.up_to is None:
        text = tr("{thing}, {now}: worth any price within the plan.", thing=thing, now=now)
    else:
        text = tr(
            "{thing}, {now}: worth buying up to {most}.",
            thing=thing,
            now=now,
            most=money_text(one.up_to, plan.currency),
        )
    if one.strain_without is None:
        return text + " " + tr("Without it there is no plan.")
    more = one.strain_without - plan.after.total
    return text + " " + tr("Without it {more} more strain-hours a day stay.", more=strain_text(more, 2))


def _entry_words(one: ItemWorth, plan: Plan, catalog: Catalog) -> str:
    """Say at which price a thing left out would come in."""
    thing = tr(catalog.items[one.item].title)
    now = money_text(one.price, plan.currency)
    if one.up_to is None:
        return tr("{thing}, {now}: it would come in at any price.", thing=thing, now=now)
    if one.up_to == 0:
        return tr("{thing}, {now}: only as a gift.", thing=thing, now=now)
    return tr(
        "{thing}, {now}: it would come in at {most} or less.",
        thing=thing,
        now=now,
        most=money_text(one.up_to, plan.currency),
    )


def substitute_words(other: Substitute, worth: Worth, plan: Plan, catalog: Catalog) -> str:
    """Say how the plan would go without one thing."""
    titles = [step_title(option, plan.state_before) for option in other.instead]
    text = tr(
        "without {thing}: {strain} strain-hours a day stay, for {cost}.",
        thing=tr(catalog.items[other.item].title),
        strain=strain_text(other.strain, 2),
        cost=money_text(other.cost, plan.currency),
    )
    return text + (" " + tr("Instead: {things}.", things="; ".join(titles)) if titles else "")


def following_words(worth: Worth, plan: Plan) -> str:
    """Say what the next better plan costs and takes off."""
    if worth.following is None:
        return tr("More money would take nothing more off.")
    rung = worth.following
    return tr(
        "The next better plan costs {cost} in all, {more} more than this one, and takes off {gain} more.",
        cost=money_text(rung.cost, plan.currency),
        more=money_text(rung.cost - plan.cost, plan.currency),
        gain=strain_text(plan.after.total - rung.strain, 2),
    )


def open_words(one: OpenStrain, plan: Plan) -> str:
    """Say what strain is left, and the first better plan that has less of it."""
    of = one.term.roles.get("target") or one.term.roles.get("hand") or ""
    what = exposure_words(one.term.exposure, of)
    if len(plan.state_after.tasks) > 1 and one.term.task:
        what += f" ({one.term.task})"
    left = tr(
        "{region}, {what}: {strain} left.",
        region=region_word(one.term.region),
        what=what,
        strain=strain_text(one.term.value, 2),
    )
    if one.rung is None:
        return left + " " + tr("No plan at any budget has less of it.")
    titles = [step_title(option, plan.state_before) for option in one.enters]
    then = tr(
        "From {cost} on it falls to {then}.",
        cost=money_text(one.rung.cost, plan.currency),
        then=strain_text(one.then, 2),
    )
    return f"{left} {then}" + (" " + tr("New there: {things}.", things="; ".join(titles)) if titles else "")


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
