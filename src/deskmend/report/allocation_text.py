"""A fund shared, told in plain words on one page."""

from __future__ import annotations

from deskmend.grants.fund import FundShared
from deskmend.grants.person import WEIGHT_UNIT
from deskmend.grants.terms import Level, Progress
from deskmend.intake.catalog import Catalog
from deskmend.messages import tr, trn
from deskmend.numerals import shown_number
from deskmend.report.allocation_json import served
from deskmend.report.layout import Page
from deskmend.report.numbers import money_text, strain_text

__all__ = ["allocation_text", "progress_text"]

SHOWN = 10
"""Most people and levels named on the page; all stand in the files."""


def allocation_text(shared: FundShared, catalog: Catalog, folder: str) -> str:
    """Tell how a fund was shared.

    Parameters
    ----------
    shared : FundShared
        The fund shared.
    catalog : Catalog
        For the titles of things.
    folder : str
        Where the files are.
    """
    page = Page()
    given, wishes = shared.allocation, shared.wishes
    page.paragraph(
        tr(
            "{served} of {people} people are given something. Of {fund}, {spent} is spent; {left} is left.",
            served=served(shared),
            people=len(shared.applicants),
            spent=money_text(shared.spent, shared.currency),
            fund=money_text(wishes.fund, shared.currency),
            left=money_text(wishes.fund - shared.spent, shared.currency),
        )
    )
    page.paragraph(_worth(shared))
    page.paragraph(_proof(shared))
    for warning in shared.warnings:
        page.point("!", warning)
    _order(page, shared, catalog)
    _levels(page, given.levels)
    _waiting(page, shared)
    _questions(page, shared, catalog)
    page.blank()
    page.paragraph(tr("Everything stands in {folder}, one row a person.", folder=folder))
    return page.text()


def _worth(shared: FundShared) -> str:
    given = shared.allocation
    relief = _hours(given.weighted_relief)
    if shared.wishes.policy == "most_people":
        return trn(
            "{count} more person comes under the limit than with free fixes alone; {relief} weighted "
            "strain-hours a day are taken off beyond them.",
            "{count} more people come under the limit than with free fixes alone; {relief} weighted "
            "strain-hours a day are taken off beyond them.",
            given.relief,
            relief=relief,
        )
    return tr("Beyond what free fixes do, {relief} weighted strain-hours a day are taken off.", relief=relief)


def _proof(shared: FundShared) -> str:
    given = shared.allocation
    counts = shared.wishes.policy == "most_people"
    bound = str(given.bound) if counts else _hours(given.bound)
    if given.status == "optimal":
        told = tr("No other way to share the fund by these rules does better: it is proven.")
    else:
        told = tr(
            "No way to share the fund by these rules can reach more than {bound}; the gap is {gap}.",
            bound=bound,
            gap=_percent(given.gap),
        )
    if given.most_relief is not None and shared.wishes.policy != "most_relief":
        told += " " + tr(
            "Sharing for most relief alone would take {most} off: the difference is the price of fairness.",
            most=_hours(given.most_relief),
        )
    return told


def _order(page: Page, shared: FundShared, catalog: Catalog) -> None:
    orders = shared.allocation.orders
    if not orders:
        return
    page.heading(tr("What to order"))
    rows = []
    for order in orders:
        price = money_text(order.unit_price, shared.currency)
        spare = order.packs - order.needed
        note = trn("{count} more than needed: cheaper so", "{count} more than needed: cheaper so", spare)
        title = tr(catalog.items[order.item].title) if order.item in catalog.items else order.item
        cost = money_text(order.cost, shared.currency)
        rows.append((str(order.packs), "x", price, cost, f"{title}{f' ({note})' if spare else ''}"))
    page.table(rows, right=(0, 2, 3))


def _levels(page: Page, levels: tuple[Level, ...]) -> None:
    if not levels:
        return
    page.heading(tr("Who keeps most strain"))
    for level in levels[:SHOWN]:
        told = trn(
            "{count} person keeps {strain} strain-hours a day",
            "{count} people keep {strain} strain-hours a day",
            level.people,
            strain=strain_text(level.strain, 3),
        )
        if not level.proven:
            told += tr(
                "; not proven: between {least} and that, for at least {people}",
                least=strain_text(level.strain_at_least, 3),
                people=level.people_at_least,
            )
        page.point("-", f"{told}.")


def _waiting(page: Page, shared: FundShared) -> None:
    waiting = shared.allocation.waiting
    if not waiting:
        return
    page.heading(tr("Who waits"))
    for one in waiting[:SHOWN]:
        if one.fund is None:
            page.point("-", tr("{id}: the rules or the stock refuse, not the money.", id=one.id))
            continue
        fund = money_text(one.fund + shared.given.spent, shared.currency)
        told = tr("{id}: from a fund of {fund}", id=one.id, fund=fund)
        page.point("-", f"{told}{'' if one.proven else tr(' (estimate)')}.")
    if len(waiting) > SHOWN:
        page.point("-", tr("{count} more in waiting.csv.", count=len(waiting) - SHOWN))


def _questions(page: Page, shared: FundShared, catalog: Catalog) -> None:
    given = shared.allocation
    counts = shared.wishes.policy == "most_people"
    if given.more_money is None and not given.stock_costs:
        return
    page.heading(tr("What would help more"))

    def between(low: int, high: int | None) -> str:
        unit = tr("people") if counts else tr("strain-hours a day")
        least = str(low) if counts else _hours(low, 3)
        if high is None:
            return tr("at least {low} {unit}", low=least, unit=unit)
        if low == high:
            return f"{least} {unit}"
        most = str(high) if counts else _hours(high, 3)
        return tr("{low} to {high} {unit}", low=least, high=most, unit=unit)

    if given.more_money is not None:
        more = given.more_money
        page.point(
            "-",
            tr(
                "The next {extra} would bring {more} more.",
                extra=money_text(more.extra, shared.currency),
                more=between(more.at_least, more.at_most),
            ),
        )
    for one in given.stock_costs:
        title = tr(catalog.items[one.item].title) if one.item in catalog.items else one.item
        page.point(
            "-",
            tr(
                "Enough of this would bring {more} more: {item}.",
                item=title,
                more=between(one.at_least, one.at_most),
            ),
        )


def _hours(exact: int, decimals: int = 1) -> str:
    return strain_text(exact // WEIGHT_UNIT, decimals)


def _percent(gap: float | None) -> str:
    return tr("without measure") if gap is None else f"{shown_number(f'{100 * gap:.3f}')} %"


def progress_text(progress: Progress, policy: str) -> str:
    """Tell where a search stands, on one line.

    Parameters
    ----------
    progress : Progress
        Where it stands.
    policy : str
        What relief counts.
    """
    stages = {
        "plans": tr("working out plans"),
        "prices": tr("finding prices"),
        "bound": tr("proving a bound"),
        "share": tr("sharing"),
        "prove": tr("proving"),
        "questions": tr("asking what more would do"),
    }
    parts = [stages.get(progress.stage, progress.stage)]
    for name, exact in ((tr("value"), progress.relief), (tr("bound"), progress.bound)):
        if exact is not None:
            parts.append(f"{name} {exact if policy == 'most_people' else _hours(exact, 3)}")
    if progress.gap is not None:
        parts.append(f"{tr('gap')} {_percent(progress.gap)}")
    return ", ".join(parts)
