"""What each thing is worth, what else would do and what stays open, as plain text."""

from __future__ import annotations

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr
from deskmend.planning.plan import Plan
from deskmend.planning.worth import ItemWorth, OpenStrain, Substitute, Worth
from deskmend.report.layout import Page
from deskmend.report.numbers import money_text, strain_text
from deskmend.report.step_words import step_title
from deskmend.report.words import exposure_words, region_word

__all__ = ["bought_words", "following_words", "open_words", "substitute_words", "worth_text"]

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
