"""A fund shared: the folder of tables that it writes, its summary as a document, and one page in plain words.

People go by their ids alone. A cell that a table program would run as a formula is written as text.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from decimal import Decimal

from deskmend.errors import visible
from deskmend.grants.fund import FundShared
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.people.columns import WEIGHT_UNIT
from deskmend.grants.terms import Progress, StrainLevel, Waiting
from deskmend.intake.case_file import Sender
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Urgency
from deskmend.intake.given_before import GIVEN_COLUMNS, Gift, units_of
from deskmend.intake.prices import plain_item
from deskmend.language import shown_number, tr, trn
from deskmend.measures import MILLION, Micro, Minor, format_amount
from deskmend.planning.model.offers import OptionSpec
from deskmend.report.documents import json_text, money_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.letter import (
    delivery_html,
    letter,
    letter_html,
    receipts_html,
    room_lacking,
    size_words,
    still_amiss,
    write_still_amiss,
)
from deskmend.report.not_given import (
    decided_text,
    hours_text,
    not_given,
    nothing_helps,
    why_at_any_fund,
    write_decided,
)
from deskmend.report.other_documents import AllocationDocument, LimitRecord
from deskmend.report.steps import step_title
from deskmend.report.words import item_title, money_text, strain_text
from deskmend.report.workbook import workbook_of

__all__ = ["allocation_document", "allocation_files", "allocation_text", "progress_text"]

FORMULA_STARTS = ("=", "+", "-", "@", "|", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What some table program runs; the last four are the full-width forms of the first."""
HEALTH = ("person.discomfort", "person.warning_signs")
"""Columns whose values are not written out again."""
MOST_LISTED = 10
"""Most people and levels named on the page; all stand in the files."""


# --- the files -----------------------------------------------------------------------------------------


def allocation_files(
    shared: FundShared,
    catalog: Catalog,
    letters: bool,
    contact: str | None = None,
    sender: Sender | None = None,
) -> dict[str, str | bytes]:
    """Every file by its path within the folder; letters need a fund that was shared with steps.

    `contact` is whom a letter says to ask, `sender` who sends it.
    """
    tables = {
        "allocation.csv": _allocation_table(shared, catalog),
        "people.csv": _people_table(shared),
        "purchase_order.csv": _order_table(shared, catalog),
        "waiting.csv": _waiting_table(shared),
    }
    if shared.table.rejected:
        tables["rejected.csv"] = _rejected_table(shared)
    files: dict[str, str | bytes] = {
        **tables,
        "summary.json": json_text(allocation_document(shared, catalog)),
        "workbook.xlsx": workbook_of({name.removesuffix(".csv"): text for name, text in tables.items()}),
        "delivery.html": delivery_html(shared, catalog, sender),
        "receipts.html": receipts_html(shared, catalog, sender),
    }
    if letters:
        for person in shared.applicants:
            name = f"letters/letter_{person.id}"
            files[f"{name}.txt"] = letter(shared, person.id, catalog, contact, sender)
            files[f"{name}.html"] = letter_html(shared, person.id, catalog, contact, sender)
    return files


def _table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([[_safe(cell) for cell in row] for row in rows])
    return out.getvalue()


def _safe(cell: str) -> str:
    shown = visible(cell, None)
    return f"'{shown}" if shown.startswith(FORMULA_STARTS) else shown


def _exact_hours(strain: Micro) -> str:
    return f"{strain // MILLION}.{strain % MILLION:06d}"


def _all_gifts(shared: FundShared) -> list[Gift]:
    """What all rounds gave, one entry for each item of a person, by id and item."""
    packs: Counter[tuple[str, str, str]] = Counter()
    costs: Counter[tuple[str, str, str]] = Counter()
    units: Counter[tuple[str, str, str]] = Counter()
    for gift in (*shared.given.gifts, *shared.handed.gifts):
        key = (gift.id, gift.item, gift.size)
        packs[key] += gift.packs
        costs[key] += gift.cost
        units[key] += units_of(gift, shared.prices)
    return [Gift(k[0], k[1], packs[k], costs[k], k[2], units[k]) for k in sorted(packs)]


def _allocation_table(shared: FundShared, catalog: Catalog) -> str:
    """Packs that each person is given, earlier rounds included; what ``--already`` takes."""
    rows = (
        (
            gift.id,
            gift.item,
            str(gift.packs),
            format_amount(gift.cost, shared.currency),
            gift.size,
            _unit(gift.item, catalog),
            str(gift.units),
            str(shared.given.gone_units.get((gift.id, gift.item, gift.size), 0)),
            item_title(gift.item, catalog),
        )
        for gift in _all_gifts(shared)
    )
    return _table(GIVEN_COLUMNS, rows)


def _bare_name(option: OptionSpec, tasks: int) -> str:
    """Name without the ids of the one place and the one task, as ``assess --with`` takes it for such a case.

    The reader's own ids may differ.
    """
    level, owner = option.owner
    return option.with_name if level == "task" and tasks > 1 else option.with_name.removeprefix(f"{owner}.")


def _people_table(shared: FundShared) -> str:
    """Strain and plan of each person, and why."""
    costs, now = Counter[str](), Counter[str]()
    for gift in _all_gifts(shared):
        costs[gift.id] += gift.cost
    for gift in shared.handed.gifts:
        now[gift.id] += gift.cost
    waiting = {one.id: one for one in shared.allocation.waiting}
    decided = {row.id: decided_text(row.decided) for row in shared.table.people if row.decided is not None}
    rows = []
    for person in shared.applicants:
        plan = shared.plans[person.id]
        rows.append(
            (
                person.id,
                _exact_hours(plan.strain_before),
                _exact_hours(plan.strain_free),
                _exact_hours(plan.strain_after),
                format_amount(costs[person.id], shared.currency),
                " ".join(_bare_name(option, len(plan.state.tasks)) for option in plan.options),
                _why_given(waiting.get(person.id), costs[person.id], shared, plan),
                " ".join(still_amiss(shared, person.id)),
                decided.get(person.id, ""),
                format_amount(now[person.id], shared.currency),
                f"{Decimal(person.weight) / WEIGHT_UNIT:f}",
                f"{Decimal(person.weight * (plan.strain_free - plan.strain_after)).scaleb(-9):.9f}",
                "; ".join(step_title(option, plan.state) for option in plan.options),
            )
        )
    strains = ("strain_before", "strain_free", "strain_after")
    after = ("cost", "with", "reason", "still_amiss", "decided", "cost_now", "weight", "relief", "steps")
    return _table(("id", *strains, *after), rows)


def _why_given(waiting: Waiting | None, cost: Minor, shared: FundShared, plan: GivenPlan) -> str:
    """Why a person is given what they are given; `cost` is what they were given in all rounds."""
    less = strain_text(plan.strain_free - plan.strain_after)
    if waiting is None:
        return tr("Served: what is bought takes {less} strain-hours a day more off.", less=less)
    told = not_given(waiting, shared)
    return (
        tr("Served before, nothing now: {why}.", why=told) if cost else tr("Nothing given: {why}.", why=told)
    )


def _order_table(shared: FundShared, catalog: Catalog) -> str:
    """What to order in this round, a row a size, with the price of the tier that each order reaches."""
    asked = _asked_first(shared, catalog)
    rows = (
        (
            order.item,
            str(order.packs),
            format_amount(order.unit_price, shared.currency),
            format_amount(order.cost, shared.currency),
            order.size,
            _unit(order.item, catalog),
            str(order.pack),
            " ".join(asked.get(order.item, ())),
            item_title(order.item, catalog),
        )
        for order in shared.handed.orders
        if order.packs
    )
    columns = ("item", "packs", "unit_price", "cost", "size", "unit", "pack", "ask_first", "title")
    return _table(columns, rows)


def _unit(item: str, catalog: Catalog) -> str:
    """What packs of a thing count; empty for what the catalog does not know any more."""
    return catalog.items[item].unit if item in catalog.items else ""


def _asked_first(shared: FundShared, catalog: Catalog) -> dict[str, list[str]]:
    """Whom to ask before a thing is bought for them, by item: it is mostly found at home, and nobody said."""
    rows = {row.id: row for row in shared.table.people}
    asked: dict[str, list[str]] = {}
    for name, column in shared.allocation.chosen.items():
        said = rows[name].plain.get("owns", {})
        for item, _ in column.packs:
            plain = plain_item(item)
            if catalog.items[plain].at_home and plain not in said:
                asked.setdefault(plain, []).append(name)
    return asked


def _waiting_table(shared: FundShared) -> str:
    """Everybody who is given nothing now, why, and between which funds in all they would be."""

    def whole(fund: Minor | None) -> str:
        return "" if fund is None else format_amount(fund + shared.given.spent, shared.currency)

    def best(one: Waiting) -> tuple[str, ...]:
        found = shared.left_out.get(one.id)
        if found is None:
            return ("",) * 5
        state = shared.plans[one.id].state
        tasks = len(state.tasks)
        steps = "; ".join(step_title(option, state) for option in found.options)
        named = " ".join(_bare_name(option, tasks) for option in found.options)
        cost = format_amount(found.cost, shared.currency)
        return named, cost, _exact_hours(found.relief), _exact_hours(found.told_from), steps

    rows = [
        (one.id, one.why, whole(one.not_at), whole(one.fund), *best(one), why_at_any_fund(one, shared))
        for one in shared.allocation.waiting
    ]
    left_out = ("best_left_out", "its_cost", "its_relief", "told_above", "its_steps")
    return _table(("id", "reason", "not_served_at", "served_at", *left_out, "why"), rows)


def _rejected_table(shared: FundShared) -> str:
    """Rows that were set aside, with every reason; values that tell of a person's health stay out."""
    rows = []
    for one in shared.table.rejected:
        for fault in one.faults:
            read = "" if fault.where.startswith(HEALTH) else fault.read or ""
            why = "; ".join(part for part in (fault.note, fault.hint) if part)
            rows.append((str(one.line), one.id, fault.where, visible(read), fault.allowed, why))
    return _table(("row", "id", "column", "read", "allowed", "reason"), rows)


# --- the summary ---------------------------------------------------------------------------------------


def _served(shared: FundShared) -> int:
    """How many people are given something now."""
    return sum(bool(plan.bill.lines) for plan in shared.plans.values())


def allocation_document(shared: FundShared, catalog: Catalog) -> AllocationDocument:
    """A fund shared: money as decimal text; relief and bound as weighted strain-hours a day [h/day].

    With ``most_people`` relief and bound are people. gap = (bound - relief) / relief.
    """
    given, wishes = shared.allocation, shared.wishes
    counts = wishes.policy == "most_people"

    def money(minor: Minor | None) -> str | None:
        return money_json(minor, shared.currency)

    def value(exact: int | None) -> float | int | None:
        return exact if counts or exact is None else _relief(exact)

    most_relief, most_bound = given.most_relief, given.most_relief_bound
    if wishes.policy == "most_relief":
        most_relief, most_bound = given.relief, given.bound
    limit: LimitRecord | None = None
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
        "cap_in_all": money(wishes.cap_in_all),
        "floor": money(wishes.floor),
        "group_share": {group: float(part) for group, part in sorted(wishes.group_share.items())},
        "group_cap": {
            group: money_json(most, shared.currency) for group, most in sorted(wishes.group_cap.items())
        },
        "use_discomfort": wishes.use_discomfort,
        "every_gain": wishes.every_gain,
        "ask_first": _asked_first(shared, catalog),
        "still_amiss": {one.id: lines for one in shared.applicants if (lines := still_amiss(shared, one.id))},
        "decided": (
            None
            if not any(row.decided for row in shared.table.people)
            else {
                "people": sum(row.decided is not None for row in shared.table.people),
                "less_for_others": (None if shared.decided_cost is None else _relief(shared.decided_cost)),
                "less_in_all": (
                    None if shared.decided_cost_in_all is None else _relief(shared.decided_cost_in_all)
                ),
            }
        ),
        "people": len(shared.applicants),
        "served": _served(shared),
        "waiting": sum(one.why != "no_help" for one in given.waiting),
        "not_given": dict(sorted(Counter(one.why for one in given.waiting).items())),
        "broken_off": given.broken_off,
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
        "together": {
            "saved": money(given.spent - shared.handed.cost),
            "at_most": value(given.together_at_most),
        },
        "stock_costs": [
            {"item": one.item, "at_least": value(one.at_least), "at_most": value(one.at_most)}
            for one in given.stock_costs
        ],
        "warnings": list(shared.warnings),
    }


def _relief(exact: int) -> float:
    """Weighted strain-hours a day: the double nearest to the exact value."""
    return exact / (MILLION * WEIGHT_UNIT)


# --- the page ------------------------------------------------------------------------------------------


def allocation_text(shared: FundShared, catalog: Catalog, folder: str | None) -> str:
    """How a fund was shared, in plain words; its files are in `folder`, None where none could be written."""
    page = Page()
    page.points(_to_call(shared), mark="!")
    page.blank()
    given, wishes = shared.allocation, shared.wishes
    page.paragraph(
        tr(
            "{served} of {people} people are given something. Of {fund}, {spent} is spent; {left} is left.",
            served=_served(shared),
            people=len(shared.applicants),
            spent=money_text(shared.spent, shared.currency),
            fund=money_text(wishes.fund, shared.currency),
            left=money_text(wishes.fund - shared.spent, shared.currency),
        )
    )
    page.paragraph(_worth(shared))
    page.paragraph(_proof(shared))
    if told := _together(shared):
        page.paragraph(told)
    if given.broken_off:
        page.paragraph(_broken_off(shared))
    page.points(shared.warnings, mark="!")
    _order(page, shared, catalog)
    _ask_first(page, shared, catalog)
    write_decided(page, shared)
    _levels(page, given.levels)
    _waiting(page, shared)
    write_still_amiss(page, shared, MOST_LISTED)
    _questions(page, shared, catalog)
    page.blank()
    if folder is None:
        page.paragraph(tr("The files could not be written anywhere: this page is all there is."))
    else:
        page.paragraph(tr("Everything stands in {folder}, one row a person.", folder=folder))
    return page.text()


TO_CALL: dict[Urgency, str] = {
    "emergency": "EMERGENCY: these people need emergency care now. Call them: {ids}.",
    "today": "These people need medical advice today. Call them: {ids}.",
}
"""What cannot wait for a letter, by the most urgent warning sign."""


def _to_call(shared: FundShared) -> list[str]:
    """Who has to be told before any letter goes out; the signs themselves are not written out again."""
    out = []
    for urgency in TO_CALL:
        ids = [one.id for one in shared.applicants if shared.plans[one.id].urgency == urgency]
        if ids:
            out.append(tr(TO_CALL[urgency], ids=", ".join(ids)))
    return out


def _worth(shared: FundShared) -> str:
    given = shared.allocation
    relief = hours_text(given.weighted_relief)
    if shared.wishes.policy == "most_people":
        told = trn(
            "{count} more person comes under the limit than with free fixes alone; beyond them, {relief} "
            "strain-hours a day are taken off.",
            "{count} more people come under the limit than with free fixes alone; beyond them, {relief} "
            "strain-hours a day are taken off.",
            given.relief,
            relief=relief,
        )
    else:
        told = tr("Beyond what free fixes do, {relief} strain-hours a day are taken off.", relief=relief)
    weighed = [one for one in shared.applicants if one.weight != WEIGHT_UNIT]
    if not weighed:
        return told
    names = ", ".join(
        f"{one.id} x {shown_number(f'{one.weight / WEIGHT_UNIT:g}')}" for one in weighed[:MOST_LISTED]
    )
    shown = names + (", ..." if weighed[MOST_LISTED:] else "")
    return (
        told + " " + tr("In this some count by the weight that the table gives them: {names}.", names=shown)
    )


_TENTH = MILLION * WEIGHT_UNIT // 10


def _together(shared: FundShared) -> str:
    """What the proof leaves out: packs from which several take; empty where they could add nothing."""
    given = shared.allocation
    saved, most = given.spent - shared.handed.cost, given.together_at_most
    if not saved and most == 0:
        return ""
    told = tr("In this proof everybody opens packs of their own, also where several could take from one.")
    if saved:
        told += " " + tr(
            "Packs taken from together save {saved}, which is left.", saved=money_text(saved, shared.currency)
        )
    if not most:
        return told
    counts = shared.wishes.policy == "most_people"
    return (
        told
        + " "
        + (
            trn(
                "Had the search counted on that, at most {count} person more could come under the limit.",
                "Had the search counted on that, at most {count} people more could come under the limit.",
                most,
            )
            if counts
            else tr(
                "Had the search counted on that, at most {more} strain-hours a day more could be taken off.",
                more=hours_text(-(-most // _TENTH) * _TENTH),
            )
        )
    )


def _proof(shared: FundShared) -> str:
    given = shared.allocation
    counts = shared.wishes.policy == "most_people"
    bound = str(given.bound) if counts else hours_text(given.bound)
    if given.status == "optimal":
        told = tr("No other way to share the fund by these rules does better: it is proven.")
        if not shared.wishes.every_gain:
            told += " " + tr(
                "What is offered to each are plans that can be told from a cheaper one of theirs."
            )
    else:
        told = tr(
            "No way to share the fund by these rules can reach more than {bound}; the gap is {gap}.",
            bound=bound,
            gap=_percent(given.gap),
        )
    if given.most_relief is not None and shared.wishes.policy != "most_relief":
        told += " " + tr(
            "Sharing for most relief alone would take {most} off: the difference is the price of fairness.",
            most=hours_text(given.most_relief),
        )
    return told


def _broken_off(shared: FundShared) -> str:
    """That the search ended early, and of whom it is not known why they are given nothing."""
    told = tr("The search was broken off.")
    ids = [one.id for one in shared.allocation.waiting if one.why == "broken_off"]
    if not ids:
        return told
    shown = ", ".join(ids[:MOST_LISTED]) + (", ..." if ids[MOST_LISTED:] else "")
    return told + " " + tr("Given nothing, and not looked at for the reason: {ids}.", ids=shown)


def _order(page: Page, shared: FundShared, catalog: Catalog) -> None:
    orders = [order for order in shared.handed.orders if order.packs]
    if orders:
        page.heading(tr("What to order"))
    sizes = size_words(shared.plans.values())
    rows = []
    for order in orders:
        price = money_text(order.unit_price, shared.currency)
        spare = max(0, order.packs - order.needed)
        note = trn("{count} more than needed: cheaper so", "{count} more than needed: cheaper so", spare)
        title = item_title(order.item, catalog)
        cost = money_text(order.cost, shared.currency)
        title += f": {sizes[order.item, order.size]}" if order.size else ""
        rows.append((str(order.packs), "x", price, cost, f"{title}{f' ({note})' if spare else ''}"))
    page.table(rows, right=(0, 2, 3))
    _from_store(page, shared, catalog)


def _from_store(page: Page, shared: FundShared, catalog: Catalog) -> None:
    """What is handed out of what lies in store already."""
    taken = [
        f"{order.needed - order.packs} x {item_title(order.item, catalog)}"
        for order in shared.handed.orders
        if order.needed > order.packs
    ]
    if taken:
        page.heading(tr("What to take from the store"))
        page.points(taken)


def _ask_first(page: Page, shared: FundShared, catalog: Catalog) -> None:
    asked = _asked_first(shared, catalog)
    lacking = [(name, told) for name, plan in shared.plans.items() if (told := room_lacking(plan))]
    if not asked and not lacking:
        return
    page.heading(tr("Ask before you buy"))
    for name, told in lacking[:MOST_LISTED]:
        page.point("-", f"{name}: {told}")
    if asked:
        page.paragraph(
            tr("These are mostly found at home, and the table does not say whether they are there:")
        )
    for item, names in asked.items():
        shown = ", ".join(names[:MOST_LISTED]) + (", ..." if names[MOST_LISTED:] else "")
        page.point("-", f"{item_title(item, catalog)}: {shown}")


def _levels(page: Page, levels: tuple[StrainLevel, ...]) -> None:
    if not levels:
        return
    page.heading(tr("Who keeps most strain"))
    for level in levels[:MOST_LISTED]:
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
    waiting = [one for one in shared.allocation.waiting if one.why != "no_help"]
    helpless = len(shared.allocation.waiting) - len(waiting)
    if not waiting and not helpless:
        return
    page.heading(tr("Who is given nothing"))
    for one in waiting[:MOST_LISTED]:
        page.point("-", f"{one.id}: {not_given(one, shared)}.")
    if len(waiting) > MOST_LISTED:
        page.point("-", tr("{count} more in waiting.csv.", count=len(waiting) - MOST_LISTED))
    if helpless:
        why = nothing_helps(shared)
        page.point("-", trn("{count} person: {why}.", "{count} people: {why}.", helpless, why=why))


def _questions(page: Page, shared: FundShared, catalog: Catalog) -> None:
    given = shared.allocation
    counts = shared.wishes.policy == "most_people"
    if given.more_money is None and not given.stock_costs:
        return
    page.heading(tr("What would help more"))

    def between(low: int, high: int | None) -> str:
        unit = tr("people") if counts else tr("strain-hours a day")
        least, most = (None if one is None else str(one) if counts else _rough(one) for one in (low, high))
        if most is None:
            return tr("at least {low} {unit}", low=least, unit=unit)
        if least == most:
            return f"{least} {unit}"
        return tr("{low} to {high} {unit}", low=least, high=most, unit=unit)

    if given.more_money is not None:
        more = given.more_money
        extra = money_text(more.extra, shared.currency)
        page.point(
            "-",
            tr("The next {extra} would bring nothing more.", extra=extra)
            if not more.at_most
            else tr(
                "The next {extra} would bring {more} more.",
                extra=extra,
                more=between(more.at_least, more.at_most),
            ),
        )
    for one in given.stock_costs:
        page.point(
            "-",
            tr(
                "Enough of this would bring {more} more: {item}.",
                item=item_title(one.item, catalog),
                more=between(one.at_least, one.at_most),
            ),
        )


def _rough(exact: int) -> str:
    """Strain-hours as far as they say something: whole ones from ten on."""
    return hours_text(exact, 0 if exact >= 10 * MILLION * WEIGHT_UNIT else 1)


def _percent(gap: float | None) -> str:
    return tr("without measure") if gap is None else f"{shown_number(f'{100 * gap:.3f}')} %"


def progress_text(progress: Progress, policy: str) -> str:
    """Where a search stands, on one line."""
    if progress.stage == "waiting":
        return tr(
            "sharing again with more money: {done} of {of} would be served",
            done=progress.relief or 0,
            of=progress.bound or 0,
        )
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
            parts.append(f"{name} {exact if policy == 'most_people' else hours_text(exact, 3)}")
    if progress.gap is not None:
        parts.append(f"{tr('gap')} {_percent(progress.gap)}")
    return ", ".join(parts)
