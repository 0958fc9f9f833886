"""The ledger of a fund: what its rounds gave, what became of it, what an officer enters between rounds.

The file is lines of JSON, so that anybody can read it without us and what is written stays: entries are
added at the end, taking a round back is an entry too. Only striking a person out writes lines anew. It holds
ids, things, sizes and money, nothing that tells of a body.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from deskmend.errors import Fault, FaultList, InputFaults, Unreadable, did_you_mean, option_fault
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import Gift, GivenBefore, Had
from deskmend.intake.prices import PricedItem, PriceTable, sized_item
from deskmend.intake.reading.tables import TableForm, TableReader, TableRow
from deskmend.intake.reading.text_file import read_bounded_text
from deskmend.measures import Minor, Range, format_amount, parse_amount, parse_currency

__all__ = [
    "ENTRY_COLUMNS",
    "LEDGER_FORMAT",
    "OFFICER_KINDS",
    "STRUCK",
    "Ledger",
    "LedgerEntry",
    "LedgerState",
    "entry_amount",
    "entry_line",
    "given_by",
    "ledger_text",
    "load_entries",
    "load_ledger",
    "new_ledger",
    "not_counted",
    "open_ledger",
    "state_of_ledger",
    "struck_out",
    "with_entries",
]

LEDGER_FORMAT = "deskmend-ledger/1"
STRUCK = re.compile(r"struck-[1-9][0-9]*", re.ASCII)
"""Id of whoever was struck out."""
_MOST_BYTES = 500_000_000

EntryKind = Literal[
    "round", "order", "given", "made", "undone", "return", "lost", "transfer", "bought", "leave", "refund",
    "paid", "store",
]  # fmt: skip
OFFICER_KINDS: tuple[EntryKind, ...] = (
    "return", "lost", "transfer", "bought", "leave", "refund", "paid", "store",
)  # fmt: skip
"""Entries that people write; the others are written by rounds."""


class LedgerEntry(BaseModel):
    """One line of the ledger; which keys it has hangs on its kind."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    entry: EntryKind
    """What it is."""
    round: Annotated[int, Field(ge=1)] | None = None
    """Number of the round it belongs to, or that it takes back."""
    date: str = ""
    """Day, as 2026-03-01; empty where none was told."""
    id: str = ""
    """Whom it is about."""
    to: str = ""
    """To whom a thing goes."""
    group: str = ""
    item: str = ""
    size: str = ""
    units: int = 0
    """Units of the item, in the unit of the catalog."""
    packs: int = 0
    pack: int = 0
    """Units in a pack at that time."""
    price: str = ""
    """Price of a pack at that time [major units]."""
    amount: str = ""
    """Money [major units]; what came back is a refund, what was paid beyond the order may be negative."""
    stock: int | None = None
    """Stock that the price table named, and below, the day of that price."""
    as_of: str = ""
    by_size: bool = False
    """Whether it was bought at a price of its size alone."""
    step: str = ""
    """Step that a thing is cut for."""
    own: int = 0
    """Units among `units` that were the person's own."""
    fund: str = ""
    """The whole fund of a round [major units]."""
    policy: str = ""
    status: str = ""
    decision: str = ""
    """SHA-256 of the round's ``decision.json``."""


_ENTRY = TypeAdapter(LedgerEntry)


@dataclass(frozen=True)
class Ledger:
    """Entries of a ledger in the order written."""

    path: str
    currency: str
    entries: tuple[LedgerEntry, ...] = ()
    digest: str = ""
    """SHA-256 of the file as it was read; empty for one that is not there yet."""

    @property
    def rounds(self) -> tuple[LedgerEntry, ...]:
        """Rounds that count, in their order."""
        return tuple(one for one in self.counted if one.entry == "round")

    @property
    def next_round(self) -> int:
        """Number of the next round; that of a round taken back is not used again."""
        return 1 + max((one.round or 0 for one in self.entries if one.entry == "round"), default=0)

    @property
    def counted(self) -> Iterator[LedgerEntry]:
        """Entries without those of rounds taken back."""
        undone = {one.round for one in self.entries if one.entry == "undone"}
        return (one for one in self.entries if one.entry != "undone" and one.round not in undone)

    def money(self, text: str) -> Minor:
        """Money of an entry; below nothing where it begins with a minus."""
        if not text:
            return 0
        return (
            -parse_amount(text[1:], self.currency)
            if text.startswith("-")
            else parse_amount(text, self.currency)
        )


def entry_line(entry: LedgerEntry) -> str:
    """An entry as its line."""
    return json.dumps(entry.model_dump(exclude_defaults=True), ensure_ascii=False) + "\n"


def new_ledger(path: str | Path, currency: str) -> Ledger:
    """A ledger with nothing in it."""
    return Ledger(str(path), currency)


def open_ledger(path: str | Path, currency: str) -> Ledger:
    """The ledger of a file, or a new one where nothing is there yet; `InputFaults` for another currency."""
    if not os.path.lexists(path):
        return new_ledger(path, currency)
    ledger = load_ledger(path)
    if ledger.currency != currency:
        allowed = f"a ledger in {currency}, the currency of the price table"
        raise InputFaults([option_fault("--ledger", ledger.currency, allowed)])
    return ledger


def load_ledger(path: str | Path) -> Ledger:
    """Read a ledger; `InputFaults` with every line that cannot be read or does not add up."""
    faults = FaultList(str(path))
    text = read_bounded_text(path, _MOST_BYTES, faults)
    faults.raise_if_any()
    lines = (text or "").split("\n")
    currency = _header(lines[0], faults)
    faults.raise_if_any()
    entries = []
    for number, line in enumerate(lines[1:], start=2):
        if not line:
            continue
        try:
            entries.append(_ENTRY.validate_json(line))
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            faults.add(number, where, line[:80], "an entry of a ledger", "", str(first["msg"]))
            if faults.full:
                break
    faults.raise_if_any()
    digest = hashlib.sha256(Path(path).read_bytes()).hexdigest()
    ledger = Ledger(str(path), currency, tuple(entries), digest)
    for number, entry in enumerate(entries, start=2):
        for where, amount in (("amount", entry.amount), ("price", entry.price), ("fund", entry.fund)):
            try:
                ledger.money(amount)
            except Unreadable as error:
                faults.add(number, where, amount, error.allowed, error.hint)
    faults.raise_if_any()
    state_of_ledger(ledger)
    return ledger


def _header(line: str, faults: FaultList) -> str:
    allowed = f'the line {{"format": "{LEDGER_FORMAT}", "currency": "EUR"}}'
    try:
        head = json.loads(line)
        if isinstance(head, dict) and head.get("format") == LEDGER_FORMAT and len(head) == 2:
            return parse_currency(str(head.get("currency")))
    except (ValueError, RecursionError, Unreadable):
        pass  # told below with every other line that is no header
    faults.add(1, "format", line[:80], allowed)
    return ""


def header_line(ledger: Ledger) -> str:
    """First line of a ledger."""
    return json.dumps({"format": LEDGER_FORMAT, "currency": ledger.currency}) + "\n"


# --- what it comes to ----------------------------------------------------------------------------------


@dataclass
class LedgerState:
    """What all entries come to."""

    spent: Minor = 0
    """Money of all orders and corrections, less refunds."""
    paid_for: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    """Money for each thing that was given, by id, item and size."""
    packs: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    given_units: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    """Packs and units given to each person in all rounds, whatever became of them."""
    corrected: Counter[str] = field(default_factory=Counter)
    """Money paid beyond orders, less refunds, by id; empty for nobody in particular."""
    held: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    """Units that people have, by id, item and size; what is cut is not among them."""
    store: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Units in store, by item and size."""
    away: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    """Units that people gave back, passed on or lost, by id, item and size."""
    returned: set[tuple[str, str]] = field(default_factory=set)
    """Ids of people with an item that they gave back."""
    made: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    """Steps whose pieces each person has, by id."""
    used_up: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Units of people's own things that were cut up, by id and item."""
    gone: set[str] = field(default_factory=set)
    """Who left."""
    groups: dict[str, str] = field(default_factory=dict)
    """Group in which each person was last given something, by id."""
    stock: dict[str, tuple[int | None, str, int]] = field(default_factory=dict)
    """Stock and day that the price table last named for an item as it is sold, and packs bought of it."""
    last_price: dict[str, tuple[str, int]] = field(default_factory=dict)
    """Price of a pack and its units when an item was last bought, by the name it is sold under."""


def state_of_ledger(ledger: Ledger) -> LedgerState:
    """Add all entries up; `InputFaults` where somebody gives back what they do not have."""
    state = LedgerState()
    faults = FaultList(ledger.path)
    undone = {one.round for one in ledger.entries if one.entry == "undone"}
    for number, entry in enumerate(ledger.entries, start=2):
        if entry.entry == "undone" or entry.round in undone:
            continue
        if told := _take(state, entry, ledger):
            faults.add(number, entry.entry, entry.id or entry.item, told)
    faults.raise_if_any()
    return state


def _take(state: LedgerState, one: LedgerEntry, ledger: Ledger) -> str:
    """Add one entry; says what would be allowed where it cannot be, else nothing."""
    key, place = (one.id, one.item, one.size), (one.item, one.size)
    money = ledger.money(one.amount)
    if one.entry == "order":
        state.spent += money
        state.store[place] += one.packs * one.pack
        sold = sized_item(one.item, one.size)
        state.last_price[sold] = state.last_price[one.item] = one.price, one.pack
        name = sold if one.by_size else one.item
        before = state.stock.get(name)
        same = before is not None and before[:2] == (one.stock, one.as_of)
        state.stock[name] = one.stock, one.as_of, one.packs + (before[2] if before and same else 0)
    elif one.entry == "given":
        state.paid_for[key] += money
        state.packs[key] += one.packs
        state.given_units[key] += one.units
        state.groups[one.id] = one.group
        state.held[key] += one.units
        state.store[place] -= one.units
    elif one.entry == "made":
        if one.step not in state.made[one.id]:
            state.made[one.id].append(one.step)
        state.held[key] -= one.units - one.own
        state.used_up[one.id, one.item] += one.own
    elif one.entry == "return":
        state.held[key] -= one.units
        state.away[key] += one.units
        state.returned.add((one.id, one.item))
        state.store[place] += one.units
    elif one.entry == "lost" and one.step:
        if one.step not in state.made[one.id]:
            return f"a step that is made: {', '.join(state.made[one.id]) or 'there is none'}"
        state.made[one.id].remove(one.step)
    elif one.entry == "lost" and one.id:
        state.held[key] -= one.units
        state.away[key] += one.units
    elif one.entry == "lost":
        state.store[place] -= one.units
    elif one.entry == "transfer":
        state.held[key] -= one.units
        state.away[key] += one.units
        state.held[one.to, one.item, one.size] += one.units
    elif one.entry == "bought":
        state.held[key] += one.units
    elif one.entry == "store":
        state.store[place] += one.units
    elif one.entry == "leave":
        state.gone.add(one.id)
    elif one.entry == "refund":
        state.spent -= money
        state.corrected[one.id] -= money
    elif one.entry == "paid":
        state.spent += money
        state.corrected[one.id] += money
    for units in (state.held[key], state.store[place]):
        if units < 0:
            made = ", ".join(state.made[one.id]) if one.id in state.made else ""
            cut = f"; what is cut goes with its step: {made}" if made else ""
            return f"at most {units + one.units} of {sized_item(one.item, one.size)}{cut}"
    return ""


def given_by(ledger: Ledger, prices: PriceTable, catalog: Catalog) -> tuple[GivenBefore, PriceTable]:
    """What the rounds of a ledger gave and left, and the price table with what is in store alone.

    A thing in store that is not for sale any more is had from there, at the price it had.
    """
    state = state_of_ledger(ledger)
    gifts = tuple(
        Gift(*key[:2], state.packs[key], state.paid_for[key], key[2], state.given_units[key])
        for key in sorted(state.packs)
    )
    spare, sold = _in_store(state, prices, catalog, ledger)
    off = {name: packs for name, (_, _, packs) in state.stock.items() if _same_stock(name, state, prices)}
    given = GivenBefore(
        gifts=gifts,
        had=_had(state, catalog),
        spare=spare,
        loose={item: units for (item, size), units in sorted(state.store.items()) if not size and units},
        corrections=state.spent - sum(gift.cost for gift in gifts),
        corrected={name: money for name, money in sorted(state.corrected.items()) if name and money},
        gone_units={key: units for key, units in sorted(state.away.items()) if units},
        returned=frozenset(state.returned),
        gone=frozenset(state.gone),
        groups=state.groups,
        stock_used=off,
    )
    return given, replace(prices, items=sold)


def _same_stock(name: str, state: LedgerState, prices: PriceTable) -> bool:
    """Whether the table still names the stock from which earlier rounds bought; else it was counted anew."""
    priced = prices.get(name)
    if priced is None:
        return False
    stock, day, _ = state.stock[name]
    return (priced.stock, "" if priced.as_of is None else priced.as_of.isoformat()) == (stock, day)


def _had(state: LedgerState, catalog: Catalog) -> dict[str, Had]:
    found: dict[str, dict[str, list[Any]]] = defaultdict(lambda: {"owned": [], "sized": [], "used_up": []})
    for (name, item, size), units in sorted(state.held.items()):
        if units > 0:
            sized = size and item in catalog.items and catalog.items[item].sized
            mine = found[name]
            mine["sized"].append((item, size, units)) if sized else mine["owned"].append((item, units))
    for (name, item), units in sorted(state.used_up.items()):
        if units:
            found[name]["used_up"].append((item, units))
    names = sorted({*found, *(name for name, steps in state.made.items() if steps)})
    return {
        name: Had(
            tuple(found[name]["owned"]),
            tuple(found[name]["sized"]),
            tuple(sorted(state.made.get(name, ()))),
            tuple(found[name]["used_up"]),
        )
        for name in names
    }


def _in_store(
    state: LedgerState, prices: PriceTable, catalog: Catalog, ledger: Ledger
) -> tuple[dict[str, int], dict[str, PricedItem]]:
    """Whole packs in store by the name they are sold under, and prices by which all of them have one."""
    spare: dict[str, int] = {}
    sold = dict(prices.items)
    for (item, size), units in sorted(state.store.items()):
        if units <= 0 or item not in catalog.items:
            continue
        name = item
        if size and catalog.items[item].sized:
            name = sized_item(item, size)
            plain = prices.get(item)
            if name not in sold and plain is not None and (plain.tiers or plain.stock is not None):
                continue  # told as `not_counted`: its price would no longer hang on what all order
            if name not in sold and plain is not None:
                sold[name] = plain
        if name not in sold:
            price, pack = state.last_price.get(name, ("", 0))
            if not pack:
                continue
            amount = ledger.money(price)
            sold[name] = PricedItem(pack, amount, amount, amount, stock=0)
        packs = units // sold[name].pack
        if packs:
            spare[name] = spare.get(name, 0) + packs
    return spare, sold


def not_counted(ledger: Ledger, given: GivenBefore, prices: PriceTable) -> list[tuple[str, str, int]]:
    """Things in store that no round can use as they are: item, size and units."""
    out = []
    for (item, size), units in sorted(state_of_ledger(ledger).store.items()):
        name = sized_item(item, size) if sized_item(item, size) in given.spare else item
        priced = prices.get(name)
        used = given.spare.get(name, 0) * (0 if priced is None else priced.pack)
        if units > used:
            out.append((item, size, units - used))
    return out


def struck_out(ledger: Ledger, name: str) -> Ledger:
    """The ledger with a person's id replaced everywhere; all sums stay. `InputFaults` where nobody has it."""
    if not any(name in (one.id, one.to) for one in ledger.entries):
        allowed = "the id of somebody in the ledger"
        raise InputFaults([Fault(ledger.path, None, "--strike", name, allowed)])
    taken = {one.id for one in ledger.entries} | {one.to for one in ledger.entries}
    number = next(n for n in range(1, len(taken) + 2) if f"struck-{n}" not in taken)
    new = f"struck-{number}"

    def anew(entry: LedgerEntry) -> LedgerEntry:
        ids = {key: new for key in ("id", "to") if getattr(entry, key) == name}
        return entry.model_copy(update=ids) if ids else entry

    return replace(ledger, entries=tuple(map(anew, ledger.entries)))


def ledger_text(ledger: Ledger) -> str:
    """The whole file."""
    return header_line(ledger) + "".join(map(entry_line, ledger.entries))


def with_entries(ledger: Ledger, entries: Sequence[LedgerEntry]) -> Ledger:
    """The ledger with further entries; `InputFaults` where they do not fit what is there."""
    longer = replace(ledger, entries=(*ledger.entries, *entries))
    state_of_ledger(longer)
    return longer


def entry_amount(minor: Minor, currency: str) -> str:
    """Money as an entry holds it."""
    return f"-{format_amount(-minor, currency)}" if minor < 0 else format_amount(minor, currency)


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
        return entry_amount(-(money or 0), ledger.currency)
    money = row.money("amount", ledger.currency, needed=True)
    return entry_amount(money or 0, ledger.currency)
