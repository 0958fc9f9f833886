"""What a round adds to the ledger: its orders, what everybody is handed, and what is cut of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date

from deskmend.grants.fund import FundShared
from deskmend.grants.people.offered import step_name
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import Had
from deskmend.intake.ledger import Ledger, LedgerEntry, entry_amount, with_entries
from deskmend.intake.prices import plain_item, sized_item
from deskmend.intake.reading.fields import Owned
from deskmend.measures import format_amount
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.options import number_text

__all__ = ["round_entries", "taken_back", "with_round"]


def round_entries(ledger: Ledger, shared: FundShared, catalog: Catalog) -> tuple[LedgerEntry, ...]:
    """What the next round ordered, handed out and cut, as entries."""
    number = ledger.next_round
    return (*_orders(shared, number), *_gifts(shared, number), *_made(shared, catalog, number))


def with_round(
    ledger: Ledger, shared: FundShared, catalog: Catalog, day: date | None, decision: str
) -> Ledger:
    """The ledger with one more round; `decision` is the SHA-256 of the record of its decision."""
    number = ledger.next_round
    told = "" if day is None else day.isoformat()
    head = LedgerEntry(
        entry="round",
        round=number,
        date=told,
        fund=format_amount(shared.wishes.fund, shared.currency),
        amount=format_amount(shared.handed.cost, shared.currency),
        policy=shared.wishes.policy,
        status=shared.allocation.status,
        decision=decision,
    )
    return with_entries(ledger, [head, *round_entries(ledger, shared, catalog)])


def _orders(shared: FundShared, number: int) -> Iterator[LedgerEntry]:
    for order in shared.handed.orders:
        if not order.packs:
            continue
        sold = sized_item(order.item, order.size)
        by_size = bool(order.size) and sold in shared.prices
        priced = shared.prices[sold if by_size else order.item]
        yield LedgerEntry(
            entry="order",
            round=number,
            item=order.item,
            size=order.size,
            packs=order.packs,
            pack=order.pack,
            price=format_amount(order.unit_price, shared.currency),
            amount=entry_amount(order.cost, shared.currency),
            stock=priced.stock,
            as_of="" if priced.as_of is None else priced.as_of.isoformat(),
            by_size=by_size,
        )


def _gifts(shared: FundShared, number: int) -> Iterator[LedgerEntry]:
    groups = {one.id: one.group or "" for one in shared.applicants}
    for gift in shared.handed.gifts:
        yield LedgerEntry(
            entry="given",
            round=number,
            id=gift.id,
            group=groups[gift.id],
            item=gift.item,
            size=gift.size,
            units=gift.units,
            packs=gift.packs,
            amount=entry_amount(gift.cost, shared.currency),
        )


def _made(shared: FundShared, catalog: Catalog, number: int) -> Iterator[LedgerEntry]:
    """What is cut for somebody: their own things first, then what they were given."""
    rows = {row.id: row for row in shared.table.people}
    served = {gift.id for gift in shared.handed.gifts} | set(shared.given.had)
    for name, plan in shared.plans.items():
        if name not in served:
            continue  # what people make of their own things is their own business
        had = shared.given.had.get(name, Had())
        own = _own(rows[name].case.owns, dict(had.used_up))
        for option in plan.options:
            if not option.is_cut:
                continue
            taken = {item: min(units, own[plain_item(item)]) for item, units in option.use.items()}
            for item, units in option.use.items():
                plain = plain_item(item)
                own[plain] -= taken[item]
                size = _size(shared, name, plain, option) if catalog.items[plain].sized else ""
                yield LedgerEntry(
                    entry="made",
                    round=number,
                    id=name,
                    step=step_name(option, plan.state.tasks),
                    item=plain,
                    size=size,
                    units=units,
                    own=taken[item],
                )


def _size(shared: FundShared, name: str, item: str, option: OptionSpec) -> str:
    """Size under which somebody has a thing that a step takes; some packs hold what two steps need."""
    size = "" if option.size is None else number_text(option.size)
    sizes = [gift.size for gift in shared.handed.gifts if (gift.id, gift.item) == (name, item)]
    return next((one for one in sizes if size in one.split()), size)


def _own(owns: Mapping[str, Owned], used_up: dict[str, int]) -> Counter[str]:
    return Counter({item: max(0, had.count - used_up.get(item, 0)) for item, had in owns.items()})


def taken_back(ledger: Ledger, day: date | None) -> tuple[Ledger, LedgerEntry | None]:
    """The ledger with its last round taken back, and that round; None where there is none.

    `InputFaults` where entries since then speak of what it gave.
    """
    rounds = ledger.rounds
    if not rounds:
        return ledger, None
    undone = LedgerEntry(entry="undone", round=rounds[-1].round, date="" if day is None else day.isoformat())
    return with_entries(ledger, [undone]), rounds[-1]
