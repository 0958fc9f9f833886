"""One short letter for each person of a fund: what they get, why, and what to do first for nothing.

A letter tells nothing of others and nothing of the person's health; warning signs are answered only by the
advice to see a clinician.
"""

from __future__ import annotations

from deskmend.grants.fund import FundShared
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.terms import Waiting
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Urgency
from deskmend.language import tr, trn
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.selection import state_with
from deskmend.report.layout import Page
from deskmend.report.steps import cautions_of, how_text, step_title
from deskmend.report.words import item_title, minutes_text, money_text, strain_text

__all__ = ["fund_to_wait_for", "letter"]

SEEN_FIRST: dict[Urgency, str] = {
    "emergency": "Please get emergency care now: call the emergency number. This letter can wait.",
    "today": "Please get medical advice today, before you change anything.",
    "soon": "Before you change anything, please see a doctor or nurse.",
}
"""First line of a letter, by the most urgent warning sign; it names none."""


def letter(shared: FundShared, name: str, catalog: Catalog) -> str:
    """Letter of the person with an id; the fund must have been shared with steps."""
    plan = shared.plans[name]
    page = Page()
    if plan.urgency is not None:
        page.paragraph(tr(SEEN_FIRST[plan.urgency]))
        page.blank()
    page.paragraph(tr("Hello {id},", id=name))
    page.blank()
    page.paragraph(_answer(plan))
    _things(page, plan, catalog)
    free, later = _today(plan)
    if free:
        page.heading(tr("Do this first. It costs nothing."))
        _steps(page, free, 1, plan)
    if later:
        page.heading(tr("Do this when your things are there."))
        _steps(page, later, len(free) + 1, plan)
    page.heading(tr("Why this"))
    page.paragraph(_why(plan))
    _next(page, shared, name)
    page.blank()
    page.paragraph(tr("Look again after two weeks. Does it feel right? If not, change it or ask us."))
    return page.text()


def _today(plan: GivenPlan) -> tuple[list[OptionSpec], list[OptionSpec]]:
    """Part the steps: those for today, and those that cost money or stand behind one that does."""
    options = [option for option, _ in plan.steps]
    paid = next((number for number, (_, cost) in enumerate(plan.steps) if cost > 0), len(options))
    return options[:paid], options[paid:]


def _steps(page: Page, options: list[OptionSpec], start: int, plan: GivenPlan) -> None:
    after = state_with(plan.state, plan.options)
    for number, option in enumerate(options, start):
        page.point(f"{number}.", step_title(option, plan.state))
        page.points(cautions_of(option, after), indent=3, mark="!")
        page.points(how_text(option, plan.state, after), indent=3)


def _answer(plan: GivenPlan) -> str:
    if plan.bill.lines:
        return tr("Good news: the fund gives you things for your workplace.")
    if plan.options:
        return tr(
            "This time the fund does not buy anything for you. But you can make your workplace better today."
        )
    return tr("This time the fund does not buy anything for you.")


def _things(page: Page, plan: GivenPlan, catalog: Catalog) -> None:
    if not plan.bill.lines:
        return
    page.heading(tr("You get"))
    for line in plan.bill.lines:
        packs = trn("{count} pack", "{count} packs", line.packs)
        page.point("-", f"{item_title(line.item, catalog)}, {packs}")


def _why(plan: GivenPlan) -> str:
    told = tr(
        "Today your work holds {before} strain-hours a day. A strain-hour is one hour in which a part of "
        "your body is bent, stretched or pressed more than is good.",
        before=strain_text(plan.strain_before),
    )
    if plan.options:
        told += " " + tr(
            "With everything in this letter it will be {after}. It takes about {time}.",
            after=strain_text(plan.strain_after),
            time=minutes_text(plan.minutes),
        )
    else:
        told += " " + tr("We found nothing that takes more off.")
    return told


def _next(page: Page, shared: FundShared, name: str) -> None:
    waiting = next((one for one in shared.allocation.waiting if one.id == name), None)
    if waiting is None:
        return
    page.heading(tr("Why not yet, and what comes next"))
    fund = fund_to_wait_for(waiting, shared)
    if fund is None:
        page.paragraph(
            tr("What would help you is not to be had now, or costs more than one person may be given.")
        )
    else:
        told = tr(
            "There is not enough money for everybody, and it goes where it helps most. You are on the "
            "waiting list. With a fund of {fund} it would be your turn.",
            fund=fund,
        )
        if not waiting.proven:
            told += " " + tr("That sum is an estimate.")
        page.paragraph(told)
    page.paragraph(tr("You need not ask again: the next round looks at your answers anew."))


def fund_to_wait_for(waiting: Waiting, shared: FundShared) -> str | None:
    """Fund from which somebody would be served, all rounds together; None where money would not help."""
    return None if waiting.fund is None else money_text(waiting.fund + shared.given.spent, shared.currency)
