"""One way to share the fund over a sheet of plans: what it needs, and whether the fund and stock allow it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from deskmend.grants.aims import Aim
from deskmend.grants.duals import kept_parts
from deskmend.grants.market import best_orders
from deskmend.grants.sheet import IntArray, Sheet, exact_sum
from deskmend.grants.terms import Order, Terms

__all__ = ["Shared", "Task"]


@dataclass(frozen=True)
class Shared:
    """A choice of one plan a person that keeps every limit.

    Attributes
    ----------
    numbers : integer array
        Plan of each person, as numbers of the sheet.
    value : int
        Sum of the aim's values.
    spent : int
        What the orders cost [minor units].
    """

    numbers: IntArray
    value: int
    spent: int


@dataclass(frozen=True, eq=False)
class Task:
    """An aim over a sheet under the terms of a fund.

    Attributes
    ----------
    sheet : Sheet
        Plans.
    aim : Aim
        What is maximised, under which further limits.
    terms : Terms
        Fund, market, shares.
    """

    sheet: Sheet
    aim: Aim
    terms: Terms

    @cached_property
    def value(self) -> IntArray:
        """Value of each plan."""
        return self.aim.value(self.sheet)

    @cached_property
    def side(self) -> list[tuple[IntArray, int]]:
        """Use and right side of each further limit."""
        return [(row.use(self.sheet), row.right) for row in self.aim.rows]

    def orders_for(self, packs: IntArray) -> tuple[Order, ...] | None:
        """Cheapest orders of so many packs of the coupling items; None where stock is too small."""
        return best_orders(self.terms, dict(zip(self.sheet.items, packs.tolist(), strict=True)))

    def check(self, numbers: IntArray) -> Shared | None:
        """Add up a choice of plans; None where it breaks a limit."""
        sheet = self.sheet
        orders = self.orders_for(sheet.packs[numbers].sum(axis=0))
        if orders is None:
            return None
        spent = exact_sum(sheet.plain[numbers]) + sum(order.cost for order in orders)
        if spent > self.terms.fund:
            return None
        if sheet.shares:
            common, kept = kept_parts(self.terms)
            listed = np.bincount(
                sheet.pot[numbers], weights=sheet.listed[numbers], minlength=1 + len(kept)
            ).astype(np.int64)
            over = sum(max(0, int(used) - part) for used, part in zip(listed[1:], kept, strict=True))
            if int(listed[0]) + over > common:
                return None
        if any(exact_sum(use[numbers]) > right for use, right in self.side):
            return None
        return Shared(numbers, exact_sum(self.value[numbers]), spent)
