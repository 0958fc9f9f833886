"""Loading a price table, and keeping it: what items cost, in one currency, and how old each price is."""

from __future__ import annotations

import csv
import datetime
import io
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from deskmend.errors import Fault, FaultList, InputFaults
from deskmend.intake.reading.tables import CASE_ENDINGS, TableForm, TableReader, TableRow, separator_of
from deskmend.intake.reading.text_file import is_id, read_bounded_text
from deskmend.measures import Minor, Range, format_amount


class Tier(NamedTuple):
    """A price that all packs of an order get from some number of packs on."""

    from_packs: int
    price: Minor
    """Price of one pack; `low` and `high` are its likely ends, the price itself where they are not given."""
    low: Minor
    high: Minor


@dataclass(frozen=True)
class PricedItem:
    """What one item costs."""

    pack: int
    """Units in a pack."""
    price: Minor
    """Price of one pack; `low` and `high` are its likely ends, the price itself where they are not given."""
    low: Minor
    high: Minor
    stock: int | None = None
    """Packs that can be had; None is no limit."""
    tiers: tuple[Tier, ...] = ()
    """Bulk tiers with rising `from_packs` above 1 and falling prices."""
    condition: str = ""
    """As ``new`` or ``used``."""
    as_of: datetime.date | None = None
    """Day of the price."""
    source: str = ""
    """Where the price was seen."""


@dataclass(frozen=True)
class PriceTable:
    """The prices of a place and time, in one currency."""

    items: Mapping[str, PricedItem]
    """By item id, in the order written."""
    currency: str
    """ISO 4217 code of all amounts."""
    path: str = ""
    """Path of the file as the user gave it; empty for a table made in Python."""
    unpriced: tuple[str, ...] = ()
    """Items listed with an empty price: known by name, not to be had."""
    invented: bool = False
    """Whether nobody named these prices: the shipped sample stands in for them."""

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
        """Return what an item costs; None where it has no price."""
        return self.items.get(item)

    def sold(self, item: str, size: str) -> PricedItem | None:
        """What an item costs in a size, by the row of that size, else that of all sizes; None for neither."""
        return self.items.get(sized_item(item, size)) or self.items.get(item)

    @cached_property
    def by_size(self) -> frozenset[str]:
        """Items that have a price of their own in some size."""
        return frozenset(plain_item(name) for name in self.items if BY_SIZE in name)


BY_SIZE = "@"
"""Stands between an item and the size that a price is for, as ``seat_cushion@60``."""


def sized_item(item: str, size: str) -> str:
    """Name under which a thing is sold in one size.

    >>> sized_item("seat_cushion", "60"), sized_item("tape", "")
    ('seat_cushion@60', 'tape')
    """
    return f"{item}{BY_SIZE}{size}" if size else item


def plain_item(item: str) -> str:
    """Item of the catalog that a name of a price table stands for."""
    return item.partition(BY_SIZE)[0]


def size_of_item(item: str) -> str:
    """Size that a name of a price table is for; empty for all."""
    return item.partition(BY_SIZE)[2]


PRICE_COLUMNS = (
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


def holds_applicants(columns: Sequence[str]) -> bool:
    """Tell whether columns are those of a table of applicants."""
    starts = ("person.", "seat.", "desk.", "task.")
    return "item" not in columns and ("id" in columns or any(name.startswith(starts) for name in columns))


def _elsewhere(columns: Sequence[str], file: str) -> str:
    if holds_applicants(columns):
        return "a table of applicants goes to deskmend allocate"
    case = Path(file).suffix.lower() in CASE_ENDINGS
    return "a case stands alone, as deskmend plan mine.yaml" if case else ""


PRICES = TableForm(
    "a price table",
    PRICE_COLUMNS,
    NEEDED_COLUMNS,
    f"the columns {','.join(PRICE_COLUMNS)}, of which {','.join(NEEDED_COLUMNS)} are needed",
    max_bytes=5_000_000,
    max_rows=20_000,
    elsewhere=_elsewhere,
    without_rows="holds no prices",
    named_by="item",
)

_WORKBOOKS = (".xlsx", ".xls", ".ods", ".parquet")
_PACK = Range("count", 1, 100_000)
_STOCK = Range("count", 0, 1_000_000)
_FROM_PACKS = Range("count", 1, 1_000_000)


@dataclass(frozen=True)
class _PriceRow:
    """A row whose cells could all be read."""

    line: int
    item: str
    pack: int
    amounts: tuple[Minor, Minor, Minor] | None
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
        A CSV file with the columns of `PRICE_COLUMNS`; lines that begin with ``#`` may stand above the
        header.

    Returns
    -------
    PriceTable
        Amounts [minor units] of its one currency.

    Raises
    ------
    InputFaults
        Where anything is wrong, with every fault that could be found.
    """
    if Path(path).suffix.lower() in _WORKBOOKS and Path(path).is_file():
        faults = FaultList(str(path))
        hint = "save the sheet with the prices as CSV"
        faults.add(None, "", None, "a price table in CSV, as prices.csv", hint, "is named as a workbook")
        raise InputFaults(faults)
    reader = TableReader(path, PRICES)
    rows: list[_PriceRow] = []
    spoiled: set[str] = set()
    for row in reader.rows():
        read = None if row.faults else _row(row)
        if read is None or row.faults:
            reader.faults.extend(row.faults)
            spoiled.add(row.written("item"))
        else:
            rows.append(read)
    items, unpriced = _gather(rows, spoiled, reader.faults)
    reader.faults.raise_if_any()
    return PriceTable(items, rows[0].currency, str(path), unpriced)


def _row(row: TableRow) -> _PriceRow:
    item, currency = _name(row), row.currency("currency")
    return _PriceRow(
        line=row.line,
        item=item,
        pack=row.whole("pack", _PACK, 1, needed=True) or 1,
        amounts=_amounts(row, currency),
        currency=currency or "",
        stock=row.whole("stock", _STOCK),
        from_packs=row.whole("from_packs", _FROM_PACKS, 1) or 1,
        condition=row.words("condition"),
        as_of=row.day("as_of"),
        source=row.words("source"),
    )


def _name(row: TableRow) -> str:
    """Id of an item, with the size behind it that the price is for, if any."""
    text = row.written("item")
    name, at, size = text.partition(BY_SIZE)
    if not at:
        return row.id("item")
    if not is_id(name) or not is_id(size):
        row.refuse("item", f"an id, or one with a size behind it as {sized_item('seat_cushion', '60')}")
    return text


def _amounts(row: TableRow, currency: str | None) -> tuple[Minor, Minor, Minor] | None:
    price, low, high = (row.money(column, currency) for column in ("price", "low", "high"))
    if not row.written("price"):
        for column in ("low", "high"):
            if row.written(column):
                row.refuse(column, "nothing while price is empty")
        return None
    if price is None or currency is None:
        return None
    shown = format_amount(price, currency)
    if low is not None and low > price:
        row.refuse("low", f"at most the price, {shown}")
    if high is not None and high < price:
        row.refuse("high", f"at least the price, {shown}")
    return price, price if low is None else low, price if high is None else high


def _gather(
    rows: Sequence[_PriceRow], spoiled: set[str], faults: FaultList
) -> tuple[dict[str, PricedItem], tuple[str, ...]]:
    """Put the rows of each item together; an item with an unreadable row is not judged by the rest."""
    by_item: dict[str, list[_PriceRow]] = {}
    spelling: dict[str, _PriceRow] = {}
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


def _agree(same: Sequence[_PriceRow], faults: FaultList) -> None:
    first = same[0]
    for row in same[1:]:
        for column, here, there in (("pack", row.pack, first.pack), ("stock", row.stock, first.stock)):
            if here != there:
                wanted = "empty" if there is None else str(there)
                shown = "" if here is None else str(here)
                allowed = f"{wanted}, as on line {first.line}: rows of one item agree"
                faults.add(row.line, f"{row.item}.{column}", shown, allowed, kind=column)


def _item(same: Sequence[_PriceRow], faults: FaultList) -> PricedItem | None:
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


def with_price(path: Path, row: Mapping[str, str], replaces: bool) -> str:
    """Text of a price table with one more row, in the place where rows of its item stand; the rest is kept.

    - `row`: by column; columns left out are empty. A table that is not there begins with all columns.
    - `replaces`: whether a row of the same item and number of packs may give way.
    - raises `InputFaults`: such a row is there already, the table lacks a column that is needed, or it would
      not be a sound table with the row.
    """
    told = {column: text for column, text in row.items() if text}
    if not path.exists():
        return _sound(path, f"{','.join(PRICE_COLUMNS)}\n{_line(told, PRICE_COLUMNS, ',')}")
    faults = FaultList(str(path))
    text = read_bounded_text(path, PRICES.max_bytes, faults)
    faults.raise_if_any()
    reader = TableReader(path, PRICES)
    rows = [(one.line, one.written("item"), one.written("from_packs") or "1") for one in reader.rows()]
    reader.faults.raise_if_any()
    lacking = [column for column in told if column not in reader.columns]
    for column in lacking:
        faults.add(reader.line, column, None, f"a table with a column {column}", "add it to the header")
    lines = (text or "").splitlines(keepends=True)
    packs = told.get("from_packs", "1")
    same = [line for line, item, tier in rows if item == told.get("item") and tier == packs]
    if same and not replaces:
        where = told.get("item", "")
        faults.add(same[0], where, packs, "a new row, or --replace", note="has a price from so many packs on")
    faults.raise_if_any()
    new = _line(told, reader.columns, separator_of(text or ""))
    if same:
        lines[same[0] - 1] = new
    else:
        if lines and not lines[-1].endswith(("\n", "\r")):
            lines[-1] += "\n"
        before = [line for line, item, tier in rows if item == told.get("item") and _less(tier, packs)]
        lines.insert(before[-1] if before else len(lines), new)
    return _sound(path, "".join(lines))


def _less(tier: str, packs: str) -> bool:
    """Whether one number of packs comes before another; what is no number comes last and is refused later."""
    return not (tier.isdecimal() and packs.isdecimal()) or int(tier) < int(packs)


def _line(row: Mapping[str, str], columns: Sequence[str], between: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=between, lineterminator="\n").writerow([row.get(one, "") for one in columns])
    return out.getvalue()


def _sound(path: Path, text: str) -> str:
    """The text, where it is a sound table; faults name the file that it is for."""
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "prices.csv"
        trial.write_text(text, encoding="utf-8", newline="")
        try:
            load_prices(trial)
        except InputFaults as error:
            raise InputFaults(replace(fault, file=str(path)) for fault in error.faults) from None
    return text


@dataclass(frozen=True)
class PriceAge:
    """One item and the day of its price."""

    item: str
    as_of: date
    days: int
    """Under 0 where the price is from after the day it is held against."""


@dataclass(frozen=True)
class PriceAges:
    """How old the prices of a table are: the oldest first, then those whose day nobody wrote."""

    day: date | None
    """Held against; None where no price has a day."""
    dated: tuple[PriceAge, ...]
    undated: tuple[str, ...]


def ages_of(table: PriceTable, today: date | None = None) -> PriceAges:
    """Age of each price on a day, or where it is left out beside the newest; no clock is asked."""
    days = {item: one.as_of for item, one in table.items.items() if one.as_of is not None}
    day = max(days.values(), default=None) if today is None else today
    ages = [] if day is None else [PriceAge(item, of, (day - of).days) for item, of in days.items()]
    return PriceAges(
        day,
        tuple(sorted(ages, key=lambda one: -one.days)),
        tuple(item for item in table.items if item not in days),
    )


@dataclass(frozen=True)
class PricePair:
    """One item in two tables."""

    item: str
    first: PricedItem
    second: PricedItem

    @property
    def dearer(self) -> int:
        """1 where a unit costs more in the second table, -1 where it costs less, 0 where it is the same."""
        first, second = self.first.price * self.second.pack, self.second.price * self.first.pack
        return (second > first) - (second < first)


@dataclass(frozen=True)
class PricePairs:
    """Two tables side by side: what both have, and what only one has."""

    currency: str
    both: tuple[PricePair, ...]
    only_first: tuple[str, ...]
    only_second: tuple[str, ...]


def price_pairs(first: PriceTable, second: PriceTable) -> PricePairs:
    """Set two tables side by side; `InputFaults` where they are in different currencies."""
    if first.currency != second.currency:
        allowed = f"{first.currency}, as {first.path} has it"
        raise InputFaults([Fault(second.path, None, "currency", second.currency, allowed)])
    return PricePairs(
        first.currency,
        tuple(PricePair(item, one, second[item]) for item, one in first.items.items() if item in second),
        tuple(item for item in first.items if item not in second),
        tuple(item for item in second.items if item not in first),
    )
