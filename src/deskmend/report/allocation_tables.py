"""The tables that sharing a fund writes: who gets what, what to order, who waits, what was set aside.

People go by their ids alone. A cell that a table program would run as a formula is written as text.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence

from deskmend.errors import visible
from deskmend.grants.fund import FundShared
from deskmend.intake.given_before import COLUMNS, Gift
from deskmend.money import format_amount
from deskmend.planning.offers import OptionSpec
from deskmend.report.allocation_reasons import reason_of

__all__ = ["allocation_table", "order_table", "people_table", "rejected_table", "waiting_table", "with_names"]

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
    return _table(COLUMNS, rows)


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
