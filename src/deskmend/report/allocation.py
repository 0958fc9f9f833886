"""Every file that sharing a fund writes, by name.

Why a person is given what they are given, in one sentence.

The tables that sharing a fund writes: who gets what, what to order, who waits, what was set aside.

People go by their ids alone. A cell that a table program would run as a formula is written as text.

A fund shared as one JSON document, format ``deskmend-allocation/1``.

A fund shared, told in plain words on one page.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from deskmend.errors import visible
from deskmend.grants.fund import FundShared
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.people.columns import WEIGHT_UNIT
from deskmend.grants.terms import Progress, StrainLevel, Waiting
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import GIVEN_COLUMNS, Gift
from deskmend.language import shown_number, tr, trn
from deskmend.measures import format_amount
from deskmend.planning.model.offers import OptionSpec
from deskmend.report.json_text import json_text
from deskmend.report.layout import Page
from deskmend.report.letter import letter
from deskmend.report.words import money_text, strain_json, strain_text
from deskmend.risk.strain import MILLION

__all__ = [
    "allocation_document",
    "allocation_files",
    "allocation_table",
    "allocation_text",
    "order_table",
    "people_table",
    "progress_text",
    "reason_of",
    "rejected_table",
    "served",
    "waiting_table",
    "with_names",
]


def reason_of(plan: GivenPlan, waiting: Waiting | None, cost: int, shared: FundShared) -> str:
    """Say why a person is given what they are given.

    Parameters
    ----------
    plan : GivenPlan
        What the person is given.
    waiting : Waiting or None
        The person's entry in the waiting list.
    cost : int
        What the person was given in all rounds [minor units].
    shared : FundShared
        The fund.
    """
    less = strain_text(plan.strain_free - plan.strain_after)
    if plan.bill.lines:
        return tr("Served: what is bought takes {less} strain-hours a day more off.", less=less)
    if waiting is not None:
        if waiting.fund is None:
            return tr("Not served: the rules or the stock leave nothing that would help.")
        fund = money_text(waiting.fund + shared.given.spent, shared.currency)
        if waiting.proven:
            return tr("Waiting: served from a fund of {fund}.", fund=fund)
        return tr("Waiting: served from a fund of about {fund} (estimate).", fund=fund)
    if cost:
        return tr("Served before; nothing for sale would take more off.")
    return tr("Nothing for sale would take more off than what is free.")


FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
HEALTH = ("person.discomfort", "person.warning_signs")
"""Columns whose values are not written out again."""


def _table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([[_safe(cell) for cell in row] for row in rows])
    return out.getvalue()


def _safe(cell: str) -> str:
    shown = visible(cell, None)
    return f"'{shown}" if shown.startswith(FORMULA_STARTS) else shown


def _millionths(value: int) -> str:
    return f"{value // 1_000_000}.{value % 1_000_000:06d}"


def all_gifts(shared: FundShared) -> list[Gift]:
    """What all rounds gave, one entry for each item of a person, by id and item."""
    packs: Counter[tuple[str, str]] = Counter()
    costs: Counter[tuple[str, str]] = Counter()
    for gift in (*shared.given.gifts, *shared.gifts):
        packs[gift.id, gift.item] += gift.packs
        costs[gift.id, gift.item] += gift.cost
    return [Gift(*key, packs[key], costs[key]) for key in sorted(packs)]


def allocation_table(shared: FundShared) -> str:
    """Packs that each person is given, earlier rounds included; what ``--already`` takes.

    Parameters
    ----------
    shared : FundShared
        The fund shared.
    """
    rows = (
        (gift.id, gift.item, str(gift.packs), format_amount(gift.cost, shared.currency))
        for gift in all_gifts(shared)
    )
    return _table(GIVEN_COLUMNS, rows)


def with_names(shared: FundShared, name: str) -> list[str]:
    """Fixes of a person as ``assess --with`` takes them for a case with one place.

    Parameters
    ----------
    shared : FundShared
        The fund shared.
    name : str
        Id of the person.
    """
    plan = shared.plans[name]
    return [_bare_name(option, len(plan.state.tasks)) for option in plan.options]


def _bare_name(option: OptionSpec, tasks: int) -> str:
    """Name without the id of the place, and of the one task: the reader's own ids may differ."""
    level, owner = option.owner
    return option.with_name if level == "task" and tasks > 1 else option.with_name.removeprefix(f"{owner}.")


def people_table(shared: FundShared) -> str:
    """Strain and plan of each person, and why.

    Parameters
    ----------
    shared : FundShared
        The fund shared.
    """
    costs: Counter[str] = Counter()
    for gift in all_gifts(shared):
        costs[gift.id] += gift.cost
    waiting = {one.id: one for one in shared.allocation.waiting}
    rows = []
    for person in shared.applicants:
        plan = shared.plans[person.id]
        rows.append(
            (
                person.id,
                _millionths(plan.strain_before),
                _millionths(plan.strain_free),
                _millionths(plan.strain_after),
                format_amount(costs[person.id], shared.currency),
                " ".join(with_names(shared, person.id)),
                reason_of(plan, waiting.get(person.id), costs[person.id], shared),
            )
        )
    header = ("id", "strain_before", "strain_free", "strain_after", "cost", "with", "reason")
    return _table(header, rows)


def order_table(shared: FundShared) -> str:
    """What to order in this round, with the price of the tier that each order reaches.

    Parameters
    ----------
    shared : FundShared
        The fund shared.
    """
    rows = (
        (
            order.item,
            str(order.packs),
            format_amount(order.unit_price, shared.currency),
            format_amount(order.cost, shared.currency),
        )
        for order in shared.allocation.orders
    )
    return _table(("item", "packs", "unit_price", "cost"), rows)


def waiting_table(shared: FundShared) -> str:
    """Who gets nothing now though something would help, and the fund at which they would be served.

    Parameters
    ----------
    shared : FundShared
        The fund shared.
    """
    rows = []
    for one in shared.allocation.waiting:
        fund = None if one.fund is None else one.fund + shared.given.spent
        status = "proven" if one.proven else "estimate"
        rows.append(
            (
                one.id,
                "" if fund is None else format_amount(fund, shared.currency),
                "refused by the rules" if fund is None else status,
            )
        )
    return _table(("id", "fund", "status"), rows)


def rejected_table(shared: FundShared) -> str:
    """Rows that were set aside, with every reason; values that tell of a person's health stay out.

    Parameters
    ----------
    shared : FundShared
        The fund shared.
    """
    rows = []
    for one in shared.table.rejected:
        for fault in one.faults:
            read = "" if fault.where.startswith(HEALTH) else fault.read or ""
            why = "; ".join(part for part in (fault.note, fault.hint) if part)
            rows.append((str(one.line), one.id, fault.where, visible(read), fault.allowed, why))
    return _table(("row", "id", "column", "read", "allowed", "reason"), rows)


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
            "value": strain_json(most) if wishes.limit.of_strain else most,
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


def _levels(page: Page, levels: tuple[StrainLevel, ...]) -> None:
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


def allocation_files(shared: FundShared, catalog: Catalog, letters: bool) -> dict[str, str]:
    """Write all files of a fund shared.

    Parameters
    ----------
    shared : FundShared
        The fund shared; with steps where letters are wanted.
    catalog : Catalog
        For the titles of things.
    letters : bool
        Whether to write one letter a person.

    Returns
    -------
    dict of str to str
        Text by path within the folder.
    """
    files = {
        "allocation.csv": allocation_table(shared),
        "people.csv": people_table(shared),
        "purchase_order.csv": order_table(shared),
        "waiting.csv": waiting_table(shared),
        "summary.json": json_text(allocation_document(shared)),
    }
    if shared.table.rejected:
        files["rejected.csv"] = rejected_table(shared)
    if letters:
        for person in shared.applicants:
            files[f"letters/letter_{person.id}.txt"] = letter(shared, person.id, catalog)
    return files
