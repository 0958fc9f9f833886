"""What an officer enters in a ledger between rounds: a table, one row for each thing that happened."""

from __future__ import annotations

from pathlib import Path

from deskmend.errors import FaultList, InputFaults, did_you_mean
from deskmend.intake.catalog import Catalog
from deskmend.intake.ledger import OFFICER_KINDS, Ledger, LedgerEntry, amount_text, with_entries
from deskmend.intake.reading.tables import TableForm, TableReader, TableRow
from deskmend.measures import Minor, Range

__all__ = ["ENTRY_COLUMNS", "load_entries"]

ENTRY_COLUMNS = ("date", "entry", "id", "item", "size", "units", "amount", "to", "step")
"""Columns of the table, in the order shown."""

_FORM = TableForm(
    "a table of entries for a ledger",
    ENTRY_COLUMNS,
    ("entry",),
    f"the columns {','.join(ENTRY_COLUMNS)}, of which entry is needed",
    max_bytes=20_000_000,
    max_rows=200_000,
    without_rows="holds no entries",
    short_rows=True,
)
_UNITS = Range("count", 1, 1_000_000_000)

_NEEDS: dict[str, tuple[str, ...]] = {
    "return": ("id", "item", "units"),
    "lost": ("item", "units"),
    "transfer": ("id", "to", "item", "units"),
    "bought": ("id", "item", "units"),
    "leave": ("id",),
    "refund": ("amount",),
    "paid": ("amount",),
    "store": ("item", "units"),
}
"""Cells that each kind of entry needs."""
_MAY: dict[str, tuple[str, ...]] = {
    "return": ("size",),
    "lost": ("id", "size", "step"),
    "transfer": ("size",),
    "bought": ("size",),
    "leave": (),
    "refund": ("id",),
    "paid": ("id",),
    "store": ("size",),
}
"""Further cells that each may have."""


def load_entries(path: str | Path, ledger: Ledger, catalog: Catalog) -> Ledger:
    """Read a table of entries and add them; the ledger as it is then.

    `InputFaults` with every fault of the table, and where an entry stands in the ledger already or does not
    fit what is there.
    """
    reader = TableReader(path, _FORM)
    known = set(ledger.entries)
    entries: list[LedgerEntry] = []
    lines: list[int] = []
    for row in reader.rows():
        entry = None if row.faults else _entry(row, ledger, catalog)
        if entry is not None and not row.faults and entry in known:
            row.refuse("entry", "what is not in the ledger yet", note="stands there already")
        reader.faults.extend(row.faults)
        if entry is not None and not row.faults:
            entries.append(entry)
            lines.append(row.line)
            known.add(entry)
    reader.faults.raise_if_any()
    return _added(ledger, entries, lines, reader.file)


def _added(ledger: Ledger, entries: list[LedgerEntry], lines: list[int], file: str) -> Ledger:
    """Add entries; what does not fit is told by the line of the table."""
    try:
        return with_entries(ledger, entries)
    except InputFaults as error:
        told = FaultList(file)
        first = len(ledger.entries) + 2
        for fault in error.faults:
            number = None if fault.line is None else fault.line - first
            line = lines[number] if number is not None and 0 <= number < len(lines) else None
            told.add(line, fault.where, fault.read, fault.allowed, fault.hint, fault.note)
        told.raise_if_any()
        raise


def _entry(row: TableRow, ledger: Ledger, catalog: Catalog) -> LedgerEntry | None:
    kind = row.written("entry")
    if kind not in OFFICER_KINDS:
        row.refuse("entry", ", ".join(OFFICER_KINDS), did_you_mean(kind, OFFICER_KINDS))
        return None
    needs, may = _NEEDS[kind], _MAY[kind]
    if kind == "lost" and row.written("step"):
        needs, may = ("id", "step"), ()
    for column in ENTRY_COLUMNS[2:]:
        if column not in (*needs, *may) and row.written(column):
            row.refuse(column, f"nothing for {kind}")
    day = row.day("date")
    item, size = row.written("item"), row.words("size")
    if "item" in needs and item not in catalog.items:
        row.refuse("item", "an item of the catalog", did_you_mean(item, catalog.items))
    elif size and not catalog.items[item].sized:
        row.refuse("size", "nothing: this thing serves every size")
    units = row.whole("units", _UNITS, needed="units" in needs) or 0
    return LedgerEntry(
        entry=kind,
        date="" if day is None else day.isoformat(),
        id=row.id("id") if "id" in needs or row.written("id") else "",
        to=row.id("to") if "to" in needs else "",
        item=item if "item" in needs else "",
        size=size,
        units=units,
        amount=_amount(row, ledger, needed="amount" in needs, signed=kind == "paid"),
        step=row.words("step"),
    )


def _amount(row: TableRow, ledger: Ledger, *, needed: bool, signed: bool) -> str:
    """Money of an entry; only what was paid may lie below the order, and so below nothing."""
    text = row.written("amount")
    if not needed:
        return ""
    if signed and text.startswith("-"):
        inner = TableRow(ledger.path, row.line, {"amount": text[1:]})
        money: Minor | None = inner.money("amount", ledger.currency, needed=True)
        if inner.faults:
            row.refuse("amount", "an amount of money as 5.00 or -5.00")
        return amount_text(-(money or 0), ledger.currency)
    money = row.money("amount", ledger.currency, needed=True)
    return amount_text(money or 0, ledger.currency)
