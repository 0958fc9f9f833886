"""Loading a price table: one row an item, further rows for bulk tiers.

Read with the standard library alone: a table has a few hundred rows and every plan needs one.

The records of a price table: what items cost, in one currency.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from deskmend.errors import FaultList, InputFaults
from deskmend.intake.reading.ids import ALLOWED_ID, is_id
from deskmend.intake.reading.table_cells import refuse_header
from deskmend.intake.reading.text_file import read_bounded_text, text_fault
from deskmend.measures import (
    Range,
    UnreadableAmount,
    UnreadableQuantity,
    format_amount,
    parse_amount,
    parse_currency,
    parse_quantity,
)

__all__ = [
    "COLUMNS",
    "MAX_BYTES",
    "MAX_ROWS",
    "NEEDED_COLUMNS",
    "PriceTable",
    "PricedItem",
    "Tier",
    "load_prices",
]


class Tier(NamedTuple):
    """A price that all packs of an order get from some number of packs on.

    Attributes
    ----------
    from_packs : int
        Fewest packs of the order [-].
    price, low, high : int
        Price of one pack and its likely ends [minor units]; an end not given is the price itself.
    """

    from_packs: int
    price: int
    low: int
    high: int


@dataclass(frozen=True)
class PricedItem:
    """What one item costs.

    Attributes
    ----------
    pack : int
        Units in a pack [-].
    price, low, high : int
        Price of one pack and its likely ends [minor units]; an end not given is the price itself.
    stock : int or None
        Packs that can be had; None is no limit [-].
    tiers : tuple of Tier
        Bulk tiers with rising `from_packs` above 1 and falling prices.
    condition : str
        As ``new`` or ``used``; may be empty.
    as_of : datetime.date or None
        Day of the price.
    source : str
        Where the price was seen; may be empty.
    """

    pack: int
    price: int
    low: int
    high: int
    stock: int | None = None
    tiers: tuple[Tier, ...] = ()
    condition: str = ""
    as_of: datetime.date | None = None
    source: str = ""


@dataclass(frozen=True)
class PriceTable:
    """The prices of a place and time, in one currency.

    Attributes
    ----------
    items : mapping of str to PricedItem
        By item id, in the order written.
    currency : str
        ISO 4217 code of all amounts.
    path : str
        Path of the file as the user gave it; empty for a table made in Python.
    unpriced : tuple of str
        Items listed with an empty price: known by name, not to be had.
    """

    items: Mapping[str, PricedItem]
    currency: str
    path: str = ""
    unpriced: tuple[str, ...] = ()

    def __getitem__(self, item: str) -> PricedItem:
        """Return what an item costs; KeyError where it has no price."""
        return self.items[item]

    def __contains__(self, item: object) -> bool:
        """Tell whether an item has a price."""
        return item in self.items

    def __len__(self) -> int:
        """Return the number of items with a price."""
        return len(self.items)

    def get(self, item: str) -> PricedItem | None:
        """Return what an item costs.

        Parameters
        ----------
        item : str
            Item id.

        Returns
        -------
        PricedItem or None
            None where it has no price.
        """
        return self.items.get(item)


MAX_BYTES = 5_000_000
"""Largest price table read [bytes]."""

MAX_ROWS = 20_000
"""Most rows in a price table."""

COLUMNS = (
    "item",
    "pack",
    "price",
    "low",
    "high",
    "currency",
    "stock",
    "from_packs",
    "condition",
    "as_of",
    "source",
)
"""Columns of a price table, in the order written."""

NEEDED_COLUMNS = ("item", "pack", "price", "currency")
"""Columns that may not be left out; the others count as empty then."""

_WORKBOOKS = (".xlsx", ".xls", ".ods", ".parquet")
_CASE_FILES = (".yaml", ".yml")
_APPLICANT_COLUMNS = ("person.", "seat.", "desk.", "task.")
_PACK = Range("count", 1, 100_000)
_STOCK = Range("count", 0, 1_000_000)
_FROM_PACKS = Range("count", 1, 1_000_000)
_LONGEST = 200
_FORMULA_STARTS = ("=", "+", "-", "@", "\t")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)


@dataclass(frozen=True)
class _Row:
    """A row whose cells could all be read."""

    line: int
    item: str
    pack: int
    amounts: tuple[int, int, int] | None
    currency: str
    stock: int | None
    from_packs: int
    condition: str
    as_of: datetime.date | None
    source: str


def load_prices(path: str | Path) -> PriceTable:
    """Read a price table.

    Parameters
    ----------
    path : str or Path
        A CSV file with the columns of `COLUMNS`; lines that begin with ``#`` may stand above the header.

    Returns
    -------
    PriceTable
        Amounts [minor units] of its one currency.

    Raises
    ------
    InputFaults
        Where anything is wrong, with every fault that could be found.
    """
    file = str(path)
    faults = FaultList(file)
    if Path(path).suffix.lower() in _WORKBOOKS and Path(path).is_file():
        hint = "save the sheet with the prices as CSV"
        faults.add(None, "", None, "a price table in CSV, as prices.csv", hint, "is named as a workbook")
        raise InputFaults(faults)
    text = read_bounded_text(path, MAX_BYTES, faults)
    spoiled: set[str] = set()
    rows = [] if text is None else list(_rows(text, spoiled, faults))
    items, unpriced = _gather(rows, spoiled, faults)
    faults.raise_if_any()
    if not rows:
        raise InputFaults(_no_rows(file))
    return PriceTable(items, rows[0].currency, file, unpriced)


def _no_rows(file: str) -> FaultList:
    faults = FaultList(file)
    faults.add(None, "", None, "at least one row below the header", "", "holds no prices")
    return faults


def _rows(text: str, spoiled: set[str], faults: FaultList) -> Iterator[_Row]:
    lines = text.splitlines(keepends=True)
    above = 0
    while above < len(lines) and (lines[above].startswith("#") or not lines[above].strip()):
        above += 1
    reader = csv.reader(io.StringIO("".join(lines[above:]), newline=""), strict=True)
    header: list[str] | None = None
    line, count = above + 1, 0
    try:
        for cells in reader:
            at, line = line, above + reader.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if header is None:
                header = _header(cells, at, faults)
                if header is None:
                    return
                continue
            count += 1
            if count > MAX_ROWS:
                faults.add(at, "", None, f"at most {MAX_ROWS} rows", "", "holds too many rows")
                return
            if len(cells) != len(header):
                many = f"{len(header)} columns"
                short = len(cells) < len(header)
                hint = "an empty cell keeps its comma" if short else "put quotes around text with commas"
                faults.add(at, "", None, many, hint, f"has {len(cells)}", "columns")
                continue
            by_column = dict(zip(header, cells, strict=True))
            row = _row(by_column, at, faults)
            if row is not None:
                yield row
            else:
                spoiled.add(by_column["item"].strip())
            if faults.full:
                return
    except csv.Error:
        hint = "a quotation mark is opened and not closed, or a cell is too long"
        faults.add(line, "", None, "rows of cells separated by commas", hint, "is not readable as CSV")


def _header(cells: Sequence[str], line: int, faults: FaultList) -> list[str] | None:
    names = [cell.strip() for cell in cells]
    allowed = f"the columns {','.join(COLUMNS)}, of which {','.join(NEEDED_COLUMNS)} are needed"
    if len(names) == 1 and (";" in names[0] or "\t" in names[0]):
        faults.add(line, "", names[0], allowed, "separate the columns with commas", "is one column")
        return None
    refuse_header(
        names,
        line,
        faults,
        known=COLUMNS,
        needed=NEEDED_COLUMNS,
        allowed=allowed,
        table="a price table",
        hint=_other_file(names, faults.file),
    )
    return names if not faults else None


def _other_file(names: Sequence[str], file: str) -> str:
    """Say where a file belongs that is plainly no price table."""
    if "id" in names and any(name.startswith(_APPLICANT_COLUMNS) for name in names):
        return "a table of applicants goes to deskmend allocate"
    case = Path(file).suffix.lower() in _CASE_FILES
    return "a case stands alone, as deskmend plan mine.yaml" if case else ""


class _Cells:
    """The cells of one row, read one by one; the first fault spoils the row, the others still speak."""

    def __init__(self, cells: Mapping[str, str], line: int, faults: FaultList) -> None:
        self.cells = cells
        self.line = line
        self.faults = faults
        self.spoiled = False

    def text(self, column: str) -> str:
        return self.cells.get(column, "").strip()

    def refuse(self, column: str, allowed: str, hint: str = "", note: str = "") -> None:
        self.spoiled = True
        read = self.text(column)
        item = self.text("item")
        where = f"{item}.{column}" if column != "item" and is_id(item) else column
        if not read:
            note = note or "is empty"
        self.faults.add(self.line, where, read or None, allowed, hint, note, column)

    def whole(self, column: str, limits: Range, blank: int | None, *, needed: bool = False) -> int | None:
        text = self.text(column)
        if not text and not needed:
            return blank
        try:
            number = parse_quantity(text, "count")
        except UnreadableQuantity:
            number = -1.0
        if number not in limits:
            self.refuse(column, str(limits))
            return blank
        return int(number)

    def money(self, column: str, currency: str | None) -> int | None:
        text = self.text(column)
        if not text or currency is None:
            return None
        try:
            return parse_amount(text, currency)
        except UnreadableAmount as error:
            self.refuse(column, error.allowed, error.hint)
            return None

    def words(self, column: str) -> str:
        text = self.text(column)
        if note := text_fault(text, _LONGEST):
            self.refuse(column, f"text of at most {_LONGEST} characters", note=note)
        elif text.startswith(_FORMULA_STARTS):
            hint = "a table program would run it as a formula"
            self.refuse(column, "text that does not begin with =, +, - or @", hint)
        return text

    def day(self, column: str) -> datetime.date | None:
        text = self.text(column)
        if not text:
            return None
        try:
            if _DATE.fullmatch(text):
                return datetime.date.fromisoformat(text)
        except ValueError:
            pass
        self.refuse(column, "a day as 2024-05-31")
        return None


def _row(raw: Mapping[str, str], line: int, faults: FaultList) -> _Row | None:
    cells = _Cells(raw, line, faults)
    item = cells.text("item")
    if not is_id(item):
        cells.refuse("item", ALLOWED_ID)
    currency: str | None = None
    try:
        currency = parse_currency(cells.text("currency"))
    except UnreadableAmount as error:
        cells.refuse("currency", error.allowed, error.hint)
    row = _Row(
        line=line,
        item=item,
        pack=cells.whole("pack", _PACK, 1, needed=True) or 1,
        amounts=_amounts(cells, currency),
        currency=currency or "",
        stock=cells.whole("stock", _STOCK, None),
        from_packs=cells.whole("from_packs", _FROM_PACKS, 1) or 1,
        condition=cells.words("condition"),
        as_of=cells.day("as_of"),
        source=cells.words("source"),
    )
    return None if cells.spoiled else row


def _amounts(cells: _Cells, currency: str | None) -> tuple[int, int, int] | None:
    price, low, high = (cells.money(column, currency) for column in ("price", "low", "high"))
    if not cells.text("price"):
        for column in ("low", "high"):
            if cells.text(column):
                cells.refuse(column, "nothing while price is empty")
        return None
    if price is None or currency is None:
        return None
    shown = format_amount(price, currency)
    if low is not None and low > price:
        cells.refuse("low", f"at most the price, {shown}")
    if high is not None and high < price:
        cells.refuse("high", f"at least the price, {shown}")
    return price, price if low is None else low, price if high is None else high


def _gather(
    rows: Sequence[_Row], spoiled: set[str], faults: FaultList
) -> tuple[dict[str, PricedItem], tuple[str, ...]]:
    """Put the rows of each item together; an item with an unreadable row is not judged by the rest."""
    by_item: dict[str, list[_Row]] = {}
    spelling: dict[str, _Row] = {}
    for row in rows:
        first = spelling.setdefault(row.item.casefold(), row)
        if first.item != row.item:
            note = f"also written {first.item} on line {first.line}"
            faults.add(
                row.line, "item", row.item, "ids that differ in more than letter case", "", note, "item"
            )
        if row.currency != rows[0].currency:
            allowed = f"one currency in a table, {rows[0].currency} as on line {rows[0].line}"
            faults.add(row.line, f"{row.item}.currency", row.currency, allowed, kind="currency")
        by_item.setdefault(row.item, []).append(row)
    items: dict[str, PricedItem] = {}
    unpriced: list[str] = []
    for item, same in by_item.items():
        if item in spoiled:
            continue
        _agree(same, faults)
        priced = _item(same, faults)
        if priced is None:
            unpriced.append(item)
        else:
            items[item] = priced
    return items, tuple(unpriced)


def _agree(same: Sequence[_Row], faults: FaultList) -> None:
    first = same[0]
    for row in same[1:]:
        for column, here, there in (("pack", row.pack, first.pack), ("stock", row.stock, first.stock)):
            if here != there:
                wanted = "empty" if there is None else str(there)
                shown = "" if here is None else str(here)
                allowed = f"{wanted}, as on line {first.line}: rows of one item agree"
                faults.add(row.line, f"{row.item}.{column}", shown, allowed, kind=column)


def _item(same: Sequence[_Row], faults: FaultList) -> PricedItem | None:
    first = same[0]
    if first.from_packs != 1:
        allowed = "a first row for one pack, with from_packs empty"
        faults.add(first.line, f"{first.item}.from_packs", str(first.from_packs), allowed, kind="from_packs")
    tiers = []
    for before, row in pairwise(same):
        if row.amounts is None or before.amounts is None:
            allowed = "a price in every row of an item with tiers"
            faults.add(row.line, f"{row.item}.price", None, allowed, kind="price")
            continue
        if row.from_packs <= before.from_packs:
            allowed = f"more than {before.from_packs}, as tiers rise; line {before.line}"
            faults.add(row.line, f"{row.item}.from_packs", str(row.from_packs), allowed, kind="from_packs")
        if row.amounts[0] >= before.amounts[0]:
            allowed = f"less than {format_amount(before.amounts[0], before.currency)} on line {before.line}"
            shown = format_amount(row.amounts[0], row.currency)
            hint = "tiers are cheaper by the pack"
            faults.add(row.line, f"{row.item}.price", shown, allowed, hint, kind="price")
        tiers.append(Tier(row.from_packs, *row.amounts))
    if first.amounts is None:
        return None
    return PricedItem(
        first.pack,
        *first.amounts,
        stock=first.stock,
        tiers=tuple(tiers),
        condition=first.condition,
        as_of=first.as_of,
        source=first.source,
    )
