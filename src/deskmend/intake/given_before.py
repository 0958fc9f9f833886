"""What earlier rounds of a fund gave and left, and loading it from the ``allocation.csv`` that one wrote.

A ledger keeps more of it: see `intake.ledger`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from deskmend.errors import did_you_mean
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.tables import TableForm, TableReader, TableRow
from deskmend.measures import Minor, Range

GIVEN_COLUMNS = ("id", "item", "packs", "cost", "size", "unit", "units", "gone", "title")
"""Columns of the file, in the order written; the title is for the eye."""

_NEEDED = ("id", "item", "packs", "cost")

_GIVEN = TableForm(
    "a table of what was given before",
    GIVEN_COLUMNS,
    _NEEDED,
    f"the columns {','.join(GIVEN_COLUMNS)}",
    max_bytes=100_000_000,
    max_rows=10_000_000,
)

_PACKS = Range("count", 0, 1_000_000)
_UNITS = Range("count", 1, 1_000_000_000)
_GONE = Range("count", 0, 1_000_000_000)


@dataclass(frozen=True)
class Gift:
    """Packs of one item that one person was given, and what was paid for them."""

    id: str
    item: str
    packs: int
    cost: Minor
    size: str = ""
    """Size in which it was given; empty where it has none."""
    units: int = 0
    """Units handed over: whole packs, or a part of one that several share."""
    gone: int = 0
    """Units of them that the table says the person gave back, passed on or lost."""


@dataclass(frozen=True)
class Had:
    """What one person has from earlier rounds, each part sorted."""

    owned: tuple[tuple[str, int], ...] = ()
    """Units of items that any step may use."""
    sized: tuple[tuple[str, str, int], ...] = ()
    """Item, size and units of what serves a step of that size alone."""
    made: tuple[str, ...] = ()
    """Steps whose pieces are cut, as `grants.people.offered.step_name` names them; they stay as they are."""
    used_up: tuple[tuple[str, int], ...] = ()
    """Units of the person's own things that were cut up for what was made."""


@dataclass(frozen=True)
class GivenBefore:
    """What earlier rounds gave and left."""

    gifts: tuple[Gift, ...] = ()
    """What was paid for whom, by id, item and size."""
    had: Mapping[str, Had] = field(default_factory=dict)
    """What each person has of it now, by id."""
    spare: Mapping[str, int] = field(default_factory=dict)
    """Packs in store, by item as `PriceTable` names it."""
    loose: Mapping[str, int] = field(default_factory=dict)
    """Units in store, whole packs among them, by item."""
    corrections: Minor = 0
    """Money paid beyond the gifts, less what came back."""
    corrected: Mapping[str, Minor] = field(default_factory=dict)
    """The part of it that is in somebody's name, by id."""
    gone_units: Mapping[tuple[str, str, str], int] = field(default_factory=dict)
    """Units that people gave back, passed on or lost, by id, item and size."""
    returned: frozenset[tuple[str, str]] = frozenset()
    """Ids of people with an item that they gave back."""
    gone: frozenset[str] = frozenset()
    """Ids of people who left."""
    groups: Mapping[str, str] = field(default_factory=dict)
    """Group in which each person was last given something, by id."""
    stock_used: Mapping[str, int] | None = None
    """Packs of each item taken off its listed stock already; None: all that was given."""

    @property
    def spent(self) -> Minor:
        """What all cost."""
        return sum(gift.cost for gift in self.gifts) + self.corrections

    @cached_property
    def paid_for(self) -> Counter[str]:
        """What was paid for each person, less what came back in their name, by id."""
        paid = Counter(self.corrected)
        for gift in self.gifts:
            paid[gift.id] += gift.cost
        return paid

    @property
    def packs(self) -> Mapping[str, int]:
        """Packs of each item."""
        total: Counter[str] = Counter()
        for gift in self.gifts:
            total[gift.item] += gift.packs
        return total

    @property
    def off_stock(self) -> Mapping[str, int]:
        """Packs to take off the listed stock of each item."""
        return self.packs if self.stock_used is None else self.stock_used


def load_given(path: str | Path, prices: PriceTable) -> GivenBefore:
    """Read what was given before, of the items and in the currency of a price table.

    Raises `InputFaults` with every fault of the file.
    """
    reader = TableReader(path, _GIVEN)
    gifts: dict[tuple[str, str, str], Gift] = {}
    for row in reader.rows():
        gift = None if row.faults else _gift(row, prices)
        if (
            gift is not None
            and not row.faults
            and gifts.setdefault((gift.id, gift.item, gift.size), gift) is not gift
        ):
            row.refuse("item", "one row for each item and size of a person")
        reader.faults.extend(row.faults)
    reader.faults.raise_if_any()
    given = tuple(gifts[key] for key in sorted(gifts))
    gone = {(gift.id, gift.item, gift.size): gift.gone for gift in given if gift.gone}
    return GivenBefore(given, _had(given, prices), gone_units=gone)


def _had(gifts: tuple[Gift, ...], prices: PriceTable) -> dict[str, Had]:
    """What each person has of all that was given; where units are not told, packs are as large as now."""
    mine: dict[str, list[Gift]] = {}
    for gift in gifts:
        mine.setdefault(gift.id, []).append(gift)
    return {
        name: Had(
            owned=tuple((one.item, left) for one in given if not one.size and (left := _left(one, prices))),
            sized=tuple(
                (one.item, one.size, left) for one in given if one.size and (left := _left(one, prices))
            ),
        )
        for name, given in mine.items()
    }


def _left(gift: Gift, prices: PriceTable) -> int:
    return units_of(gift, prices) - gift.gone


def units_of(gift: Gift, prices: PriceTable) -> int:
    """Units of a gift; where they are not told, its packs are as large as now."""
    priced = prices.sold(gift.item, gift.size)
    return gift.units or gift.packs * (1 if priced is None else priced.pack)


def _gift(row: TableRow, prices: PriceTable) -> Gift:
    person, item = row.id("id"), row.written("item")
    size = row.words("size")
    if prices.sold(item, size) is None:
        row.refuse("item", "an item of the price table", did_you_mean(item, prices.items))
    packs = row.whole("packs", _PACKS, needed=True)
    units = row.whole("units", _UNITS)
    if packs == 0 and units is None:
        row.refuse("packs", "at least 1, or units of a pack that others opened")
    cost = row.money("cost", prices.currency, needed=True)
    gone = row.whole("gone", _GONE) or 0
    given = Gift(person, item, packs or 0, cost or 0, size, units or 0, gone)
    if not row.faults and gone > units_of(given, prices):
        row.refuse("gone", f"at most the {units_of(given, prices)} units that were given")
    return given
