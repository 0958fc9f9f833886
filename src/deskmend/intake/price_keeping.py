"""Keeping a price table: a row added or replaced, what is old in it, and two tables set side by side."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from deskmend.errors import Fault, FaultList, InputFaults
from deskmend.intake.prices import PRICE_COLUMNS, PRICES, PricedItem, PriceTable, load_prices
from deskmend.intake.reading.tables import TableReader, separator_of
from deskmend.intake.reading.text_file import read_bounded_text

__all__ = ["PriceAge", "PriceAges", "PricePair", "PricePairs", "ages_of", "pairs_of", "with_price"]


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


def pairs_of(first: PriceTable, second: PriceTable) -> PricePairs:
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
