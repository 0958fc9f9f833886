"""What is the same for everybody whose plans are worked out: fixes, prices and rules."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.planning.goals import Goal

__all__ = ["PlanBasis", "without_tiers"]


@dataclass(frozen=True)
class PlanBasis:
    """What is the same for every person.

    - `catalog`: fixes.
    - `prices`: what things cost.
    - `use_discomfort`: whether regions that trouble a person count for more.
    - `kept`: published score that is limited; None where none is.
    - `every_gain`: whether every plan may be given, not only those that can be told from less.
    """

    catalog: Catalog
    prices: PriceTable
    use_discomfort: bool = False
    kept: Goal | None = None
    every_gain: bool = True

    @cached_property
    def listed(self) -> PriceTable:
        """The price table without tiers and stock."""
        return without_tiers(self.prices)

    @cached_property
    def scarce(self) -> frozenset[str]:
        """Items of which there are only so many."""
        return frozenset(name for name, item in self.prices.items.items() if item.stock is not None)

    @cached_property
    def coupling(self) -> tuple[str, ...]:
        """Items with tiers or stock: what the fund pays for a pack of them depends on everybody."""
        priced = self.prices.items
        return tuple(name for name, item in priced.items() if item.tiers or item.stock is not None)


def without_tiers(prices: PriceTable) -> PriceTable:
    """A price table as one person meets it: every pack at its listed price, as many as wanted."""
    items = {name: replace(item, tiers=(), stock=None) for name, item in prices.items.items()}
    return replace(prices, items=items)
