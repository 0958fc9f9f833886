"""The records of a price table: what items cost, in one currency."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple


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
