"""Loading what an earlier round of a fund gave: the ``allocation.csv`` it wrote."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from deskmend.errors import did_you_mean
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.tables import TableForm, TableReader, TableRow
from deskmend.measures import Minor, Range

GIVEN_COLUMNS = ("id", "item", "packs", "cost")
"""Columns of the file, in the order written."""

_GIVEN = TableForm(
    "a table of what was given before",
    GIVEN_COLUMNS,
    GIVEN_COLUMNS,
    f"the columns {','.join(GIVEN_COLUMNS)}",
    max_bytes=100_000_000,
    max_rows=10_000_000,
)

_PACKS = Range("count", 1, 1_000_000)


@dataclass(frozen=True)
class Gift:
    """Packs of one item that one person was given, and what they cost."""

    id: str
    item: str
    packs: int
    cost: Minor


@dataclass(frozen=True)
class GivenBefore:
    """What earlier rounds gave, by id and item."""

    gifts: tuple[Gift, ...] = ()

    @property
    def spent(self) -> Minor:
        """What all cost."""
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
    """Read what was given before, of the items and in the currency of a price table.

    Raises `InputFaults` with every fault of the file.
    """
    reader = TableReader(path, _GIVEN)
    gifts: dict[tuple[str, str], Gift] = {}
    for row in reader.rows():
        gift = None if row.faults else _gift(row, prices)
        if gift is not None and not row.faults and gifts.setdefault((gift.id, gift.item), gift) is not gift:
            row.refuse("item", "one row for each item of a person")
        reader.faults.extend(row.faults)
    reader.faults.raise_if_any()
    return GivenBefore(tuple(gifts[key] for key in sorted(gifts)))


def _gift(row: TableRow, prices: PriceTable) -> Gift:
    person, item = row.id("id"), row.written("item")
    if item not in prices:
        row.refuse("item", "an item of the price table", did_you_mean(item, prices.items))
    packs = row.whole("packs", _PACKS, needed=True)
    cost = row.money("cost", prices.currency, needed=True)
    return Gift(person, item, packs or 0, cost or 0)
