"""What a ledger comes to, for whoever keeps it: its rounds, the money, and what lies in store."""

from __future__ import annotations

from pathlib import Path

from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import GivenBefore, load_given
from deskmend.intake.ledger import Ledger, LedgerEntry, given_by, not_counted, open_ledger, state_of_ledger
from deskmend.intake.prices import PriceTable
from deskmend.language import tr, trn
from deskmend.report.documents import money_json
from deskmend.report.layout import Page
from deskmend.report.other_documents import LedgerDocument, LedgerRoundRecord
from deskmend.report.words import item_title, money_text

__all__ = ["ledger_document", "ledger_page", "round_taken_back", "store_notes"]


def ledger_document(ledger: Ledger) -> LedgerDocument:
    """What a ledger comes to, as a document."""
    state = state_of_ledger(ledger)
    rounds: list[LedgerRoundRecord] = [
        {
            "round": one.round or 0,
            "date": one.date,
            "policy": one.policy,
            "status": one.status,
            "fund": one.fund,
            "spent": one.amount,
            "decision": one.decision,
        }
        for one in ledger.rounds
    ]
    return {
        "format": "deskmend-ledger-state/1",
        "ledger": ledger.path,
        "currency": ledger.currency,
        "rounds": rounds,
        "spent": None if not ledger.entries else _money(state.spent, ledger.currency),
        "people": len({name for name, _, _ in state.packs}),
        "gone": sorted(state.gone),
        "store": [
            {"item": item, "size": size, "units": units}
            for (item, size), units in sorted(state.store.items())
            if units
        ],
    }


def _money(minor: int, currency: str) -> str:
    return f"-{money_json(-minor, currency)}" if minor < 0 else str(money_json(minor, currency))


def _lying(item: str, size: str, units: int, catalog: Catalog) -> str:
    """How much of a thing lies in store, in words."""
    known = item in catalog.items and catalog.items[item].unit == "cm"
    count = f"{units} cm" if known else f"{units} x"
    return f"{count} {item_title(item, catalog)}" + (f", {size}" if size else "")


def ledger_page(ledger: Ledger, catalog: Catalog) -> str:
    """The same in plain words."""
    state = state_of_ledger(ledger)
    page = Page()
    rounds = ledger.rounds
    told = trn("{count} round counts.", "{count} rounds count.", len(rounds))
    spent = money_text(max(0, state.spent), ledger.currency)
    page.paragraph(told + " " + tr("All together {spent} is spent.", spent=spent))
    for one in rounds:
        day = one.date or tr("no day told")
        amount = money_text(ledger.money(one.amount), ledger.currency)
        page.point(f"{one.round}.", tr("{day}: {amount} for things", day=day, amount=amount))
    lying = [(key, units) for key, units in sorted(state.store.items()) if units]
    if lying:
        page.heading(tr("In store"))
    page.points([_lying(item, size, units, catalog) for (item, size), units in lying])
    return page.text()


def round_taken_back(one: LedgerEntry) -> str:
    """That a round does not count any more."""
    return tr(
        "Round {number} is taken back: what it gave counts no more. The files it wrote are left as they are.",
        number=one.round or 0,
    )


def store_notes(ledger: Ledger, given: GivenBefore, prices: PriceTable, catalog: Catalog) -> list[str]:
    """What lies in store and cannot be given by the search: loose pieces, and sizes of a thing with tiers."""
    lying = [
        _lying(item, size, units, catalog)
        for item, size, units in not_counted(ledger, given, prices)
        if item not in catalog.items or not catalog.items[item].shared
    ]
    if not lying:
        return []
    return [tr("in store, but not as whole packs that can be counted on: {things}", things="; ".join(lying))]


def rounds_before(
    already: str | Path | None, ledger: str | Path | None, prices: PriceTable, catalog: Catalog
) -> tuple[GivenBefore | None, PriceTable, Ledger | None, list[str]]:
    """What earlier rounds gave, by a table of it or by a ledger, and the prices that are left with it.

    With the ledger, where there is one, and what has to be said of its store. Raises `InputFaults` where a
    file cannot be read.
    """
    if already is not None:
        return load_given(already, prices), prices, None, []
    if ledger is None:
        return None, prices, None, []
    book = open_ledger(ledger, prices.currency)
    given, left = given_by(book, prices, catalog)
    return given, left, book, store_notes(book, given, left, catalog)
