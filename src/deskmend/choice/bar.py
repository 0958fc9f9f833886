"""What a search over one case of a problem may learn from the cases before it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class Bar:
    """The mark that a case has to reach, and a price of money that showed well before.

    Parameters
    ----------
    at_most : int or None
        What leads the order of preference need not be looked for above this; None: anything.
    leading_weight, cost_weight : int
        Weights under which an earlier case was bounded; 0: none yet.
    """

    at_most: int | None = None
    leading_weight: int = 0
    cost_weight: int = 0

    def lower(self, leading: int) -> None:
        """Take note of an assignment found."""
        self.at_most = leading if self.at_most is None else min(self.at_most, leading)
