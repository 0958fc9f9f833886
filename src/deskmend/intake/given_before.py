"""Loading what an earlier round of a fund gave: the ``allocation.csv`` it wrote."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from deskmend.errors import FaultList, did_you_mean
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.ids import ALLOWED_ID, is_id
from deskmend.intake.reading.text_file import read_bounded_text
from deskmend.measures import Range, UnreadableAmount, UnreadableQuantity, parse_amount, parse_quantity

__all__ = ["COLUMNS", "Gift", "GivenBefore", "load_given"]

COLUMNS = ("id", "item", "packs", "cost")
"""Columns of the file, in the order written."""

MAX_BYTES = 100_000_000
"""Largest file read [bytes]."""

_PACKS = Range("count", 1, 1_000_000)


@dataclass(frozen=True)
class Gift:
    """Packs of one item that one person was given, and what they cost [minor units]."""

    id: str
    item: str
    packs: int
    cost: int


@dataclass(frozen=True)
class GivenBefore:
    """What earlier rounds gave.

    Attributes
    ----------
    gifts : tuple of Gift
        By id and item.
    """

    gifts: tuple[Gift, ...] = field(default=())

    @property
    def spent(self) -> int:
        """What all cost [minor units]."""
        return sum(gift.cost for gift in self.gifts)

    @property
    def packs(self) -> Mapping[str, int]:
        """Packs of each item."""
        total: Counter[str] = Counter()
        for gift in self.gifts:
            total[gift.item] += gift.packs
        return total

    @property
    def by_person(self) -> dict[str, tuple[tuple[str, int], ...]]:
        """Items and packs of each person."""
        found: dict[str, list[tuple[str, int]]] = {}
        for gift in self.gifts:
            found.setdefault(gift.id, []).append((gift.item, gift.packs))
        return {name: tuple(gifts) for name, gifts in found.items()}


def load_given(path: str | Path, prices: PriceTable) -> GivenBefore:
    """Read what was given before.

    Parameters
    ----------
    path : str or Path
        A CSV file with the columns of `COLUMNS`, as ``allocate`` writes it.
    prices : PriceTable
        For the items and the currency.

    Returns
    -------
    GivenBefore
        Sorted by id and item.

    Raises
    ------
    InputFaults
        Every fault of the file.
    """
    faults = FaultList(str(path))
    text = read_bounded_text(path, MAX_BYTES, faults)
    gifts: dict[tuple[str, str], Gift] = {}
    if text is not None:
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        at = 1
        try:
            for number, cells in enumerate(reader):
                if number == 0:
                    if tuple(cell.strip() for cell in cells) != COLUMNS:
                        faults.add(1, "", ",".join(cells), f"the columns {','.join(COLUMNS)}")
                        break
                elif any(cells) and not faults.full:
                    gift = _gift([cell.strip() for cell in cells], at, prices, faults)
                    if gift is not None and (gift.id, gift.item) in gifts:
                        faults.add(at, "item", gift.item, "one row for each item of a person", kind="item")
                    elif gift is not None:
                        gifts[gift.id, gift.item] = gift
                at = reader.line_num + 1
        except csv.Error:
            faults.add(at, "", None, "rows of cells separated by commas", "", "is not readable as CSV")
    faults.raise_if_any()
    return GivenBefore(tuple(gifts[key] for key in sorted(gifts)))


def _gift(cells: list[str], line: int, prices: PriceTable, faults: FaultList) -> Gift | None:
    if len(cells) != len(COLUMNS):
        faults.add(line, "", None, f"{len(COLUMNS)} columns", "", f"has {len(cells)}", "columns")
        return None
    name, item, packs, cost = cells
    good = True
    if not is_id(name):
        faults.add(line, "id", name or None, ALLOWED_ID, kind="id")
        good = False
    if item not in prices:
        hint = did_you_mean(item, prices.items)
        faults.add(line, "item", item or None, "an item of the price table", hint, kind="item")
        good = False
    try:
        count = parse_quantity(packs, "count")
    except UnreadableQuantity:
        count = -1.0
    if count not in _PACKS:
        faults.add(line, "packs", packs or None, str(_PACKS), kind="packs")
        good = False
    try:
        amount = parse_amount(cost, prices.currency)
    except UnreadableAmount as error:
        faults.add(line, "cost", cost or None, error.allowed, error.hint, kind="cost")
        good = False
    return Gift(name, item, int(count), amount) if good else None
