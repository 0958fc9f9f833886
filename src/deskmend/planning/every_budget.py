"""One case made ready and its best plans at every budget, found once for all that ask for them."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.planning.compare import Rung, frontier_of
from deskmend.planning.prepared import NoPlan, Prepared

__all__ = ["EveryBudget"]


class EveryBudget:
    """The best plans of a case within its minutes, looked for when first asked for.

    Parameters
    ----------
    ready : Prepared
        The case.
    minutes : int or None
        Limit of the work [min].
    rungs : sequence of Rung
        The plans, where they are known already.
    """

    def __init__(self, ready: Prepared, minutes: int | None, rungs: Sequence[Rung] = ()) -> None:
        self.ready = ready
        self.minutes = minutes
        self._rungs = tuple(rungs)

    def rungs(self) -> tuple[Rung, ...]:
        """Every plan that is best at some budget, from the least cost up.

        Raises
        ------
        deskmend.planning.prepared.NoPlan
            Nothing keeps to the limits.
        """
        if not self._rungs:
            self._rungs = frontier_of(self.ready, self.minutes)
        return self._rungs

    def within(self, money: int) -> tuple[Rung, ...]:
        """The same up to a cost.

        Parameters
        ----------
        money : int
            Highest cost looked at [minor units].

        Raises
        ------
        deskmend.planning.prepared.NoPlan
            Nothing keeps to the limits; it says what hinders within that money.
        """
        try:
            kept = tuple(rung for rung in self.rungs() if rung.cost <= money)
        except NoPlan:
            kept = ()
        return kept or frontier_of(self.ready, self.minutes, money)
