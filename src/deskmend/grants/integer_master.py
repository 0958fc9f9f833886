"""The integer program over the plans known: who gets which, what is ordered at which tier.

Given few candidates it takes all of them and proves its answer; given many people it takes those plans that
prices leave in doubt and holds the rest fixed.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.choice.linear_model import LinearModel
from deskmend.choice.lp_backend import Backend, Outcome
from deskmend.grants.duals import kept_parts
from deskmend.grants.market import Segment
from deskmend.grants.sharing import Shared, Task
from deskmend.grants.sheet import IntArray

__all__ = ["Answer", "Master"]


@dataclass(frozen=True)
class Answer:
    """What the integer program found.

    Attributes
    ----------
    shared : Shared or None
        Best choice found, checked in whole numbers.
    bound : int or None
        Greatest value possible over the candidates; None where nothing is proven.
    impossible : bool
        Whether it is proven that no choice keeps every limit.
    """

    shared: Shared | None
    bound: int | None
    impossible: bool = False


class Master:
    """An integer program over candidates.

    Parameters
    ----------
    task : Task
        Sheet, aim and terms.
    market : mapping of str to sequence of Segment
        Ways of ordering each coupling item that are open.
    fixed : integer array
        Plan of each person without candidates.
    candidates : integer array
        Plans to choose from, sorted; people with any of them take one of them.
    """

    def __init__(
        self,
        task: Task,
        market: Mapping[str, Sequence[Segment]],
        fixed: IntArray,
        candidates: IntArray,
    ) -> None:
        self.task = task
        self.fixed = fixed
        self.candidates = candidates
        sheet = task.sheet
        self.owners = np.unique(sheet.owner[candidates])
        rest = np.setdiff1d(np.arange(len(sheet.people)), self.owners)
        self.base = fixed[rest]
        self.model = LinearModel()
        self.chosen = {int(number): self.model.column(f"plan[{number}]", 1, True) for number in candidates}
        self.money: dict[int, int] = self._terms(sheet.plain)
        self._people()
        self._market(market)
        left = task.terms.fund - int(sheet.plain[self.base].sum())
        self.model.row("fund", self.money, "<=", left)
        self._shares()
        for number, (use, right) in enumerate(task.side):
            self.model.row(f"side[{number}]", self._terms(use), "<=", right - int(use[self.base].sum()))

    def _terms(self, numbers: IntArray) -> dict[int, int]:
        return {column: int(numbers[plan]) for plan, column in self.chosen.items() if numbers[plan]}

    def _people(self) -> None:
        plans: dict[int, dict[int, int]] = {}
        for plan, column in self.chosen.items():
            plans.setdefault(int(self.task.sheet.owner[plan]), {})[column] = 1
        for person, terms in plans.items():
            self.model.row(f"person[{person}]", terms, "=", 1)

    def _market(self, market: Mapping[str, Sequence[Segment]]) -> None:
        sheet = self.task.sheet
        most = sheet.most_packs()
        for number, item in enumerate(sheet.items):
            need = self._terms(sheet.packs[:, number])
            one_of: dict[int, int] = {}
            for place, way in enumerate(market[item]):
                if way.high == 0:
                    continue
                high = max(way.low, min(way.high, int(most[number])))
                taken = self.model.column(f"tier[{item},{place}]", 1, True)
                packs = self.model.column(f"packs[{item},{place}]", high, True)
                self.model.row(f"most[{item},{place}]", {packs: 1, taken: -high}, "<=", 0)
                self.model.row(f"least[{item},{place}]", {packs: -1, taken: way.low}, "<=", 0)
                one_of[taken] = 1
                need[packs] = -1
                if way.price:
                    self.money[packs] = way.price
            if one_of:
                self.model.row(f"tier[{item}]", one_of, "<=", 1)
            self.model.row(f"need[{item}]", need, "<=", -int(sheet.packs[self.base, number].sum()))

    def _shares(self) -> None:
        sheet = self.task.sheet
        if not sheet.shares:
            return
        common, kept = kept_parts(self.task.terms)
        from_common: dict[int, int] = {}
        for pot, part in enumerate((common, *kept)):
            terms = self._terms(np.where(sheet.pot == pot, sheet.listed, 0))
            used = int(sheet.listed[self.base][sheet.pot[self.base] == pot].sum())
            if pot == 0:
                from_common = terms
                common -= used
            else:
                beyond = self.model.column(f"beyond[{pot}]", self.task.terms.fund, False)
                self.model.row(f"share[{pot}]", {**terms, beyond: -1}, "<=", part - used)
                from_common[beyond] = 1
        self.model.row("common", from_common, "<=", common)

    def most_value(
        self, deadline: float | None, gap: int = 0, nodes: int | None = None, at_least: int | None = None
    ) -> Answer:
        """Maximise the value.

        Parameters
        ----------
        deadline : float or None
            End of the time allowed, on the monotonic clock [s].
        gap : int
            Value by which the answer may fall short; 0 proves it.
        nodes : int or None
            Most branches tried.
        at_least : int or None
            Value of a choice already known; worse ones are not looked for.
        """
        value = self.task.value
        best = np.zeros(len(self.task.sheet.people), dtype=np.int64)
        np.maximum.at(best, self.task.sheet.owner[self.candidates], value[self.candidates])
        loss = {
            column: int(best[self.task.sheet.owner[plan]] - value[plan])
            for plan, column in self.chosen.items()
        }
        unit = math.gcd(*loss.values()) or 1
        objective = {column: amount // unit for column, amount in loss.items() if amount}
        top = int(best[self.owners].sum()) + int(value[self.base].sum())
        if at_least is not None:
            self.model.row("known", objective, "<=", (top - at_least) // unit + 1)
        outcome = Backend(self.model).minimise(objective, _left(deadline), max(0.5, gap / unit), nodes)
        return self._answer(outcome, top, unit)

    def _answer(self, outcome: Outcome, top: int, unit: int) -> Answer:
        if outcome.outlook == "infeasible":
            return Answer(None, None, True)
        shared = None if outcome.values is None else self._read(outcome.values)
        bound = None
        if outcome.outlook == "optimal" and outcome.bound is not None and shared is not None:
            # losses are whole units: a quarter of one is room enough for the solver's tolerance
            bound = max(shared.value, top - unit * math.ceil(outcome.bound - 0.25))
        return Answer(shared, bound)

    def least_money(self, shared: Shared, deadline: float | None, nodes: int | None = None) -> Shared:
        """Find the cheapest choice of the same value; the given one where none is cheaper."""
        value = self.task.value
        terms = {column: -int(value[plan]) for plan, column in self.chosen.items() if value[plan]}
        unit = math.gcd(*terms.values()) or 1
        right = int(value[self.base].sum()) - shared.value
        self.model.row("worth", {column: one // unit for column, one in terms.items()}, "<=", right // unit)
        outcome = Backend(self.model).minimise(self.money, _left(deadline), nodes=nodes)
        found = None if outcome.values is None else self._read(outcome.values)
        if found is None or found.value < shared.value or found.spent >= shared.spent:
            return shared
        return found

    def _read(self, values: Sequence[float]) -> Shared | None:
        numbers = self.fixed.copy()
        taken = [plan for plan, column in self.chosen.items() if values[column] > 0.5]
        numbers[self.task.sheet.owner[taken]] = taken
        return self.task.check(numbers) if len(taken) == len(self.owners) else None


def _left(deadline: float | None) -> float | None:
    return None if deadline is None else max(0.0, deadline - time.monotonic())
