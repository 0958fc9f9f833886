"""The exact frontier of a case: every plan that is best at some budget, each checked again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from deskmend.choice import Choice, evaluate, frontier, solve
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.bill import Bill
from deskmend.planning.goals import Goal
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.order import in_set_up_order
from deskmend.planning.plan_check import hindered, verify_plan
from deskmend.planning.prepared import Prepared
from deskmend.planning.score import Score, scores_of_many
from deskmend.planning.selection import state_with
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.workstation.state import State

__all__ = ["Rung", "checked", "frontier_of", "priced_anew"]


@dataclass(frozen=True)
class Rung:
    """A best plan, checked; on the ladder of budgets it is best up to the next rung's cost.

    - `options`: fixes in set-up order.
    - `score`: strain left, with the person's weights.
    """

    choice: Choice
    options: tuple[OptionSpec, ...]
    bill: Bill
    state: State
    score: Score

    @property
    def cost(self) -> Minor:
        """Cost of all that is bought."""
        return self.bill.total

    @property
    def strain(self) -> Micro:
        """Strain left."""
        return self.score.total

    @property
    def minutes(self) -> Minutes:
        """All work."""
        return self.choice.minutes

    @cached_property
    def scores(self) -> DayScores:
        """Published scores with the plan."""
        return scores_of(self.state)


def checked(
    ready: Prepared,
    choice: Choice,
    money: Minor | None,
    minutes: Minutes | None,
    goals: Sequence[Goal] = (),
    reached: tuple[State, Score] | None = None,
) -> Rung:
    """Check a choice against the limits and the goals; raises `DefectError` where anything does not hold.

    `reached` as in `verify_plan`.
    """
    after, scored, bill = verify_plan(ready, choice, money, minutes, goals, reached)
    return Rung(choice, in_set_up_order(ready.options_of(choice)), bill, after, scored)


def frontier_of(ready: Prepared, minutes: Minutes | None, money: Minor | None = None) -> tuple[Rung, ...]:
    """Every plan that is best at some budget, from the least cost up to `money`.

    All are scored together; what is shown step by step is scored alone once more, as the last of its stages.
    Raises `NoPlan` where nothing keeps to the limits.
    """
    problem = ready.problem(money, minutes)
    # A limit of minutes makes the search far longer; what is best without it and keeps it is best with it.
    found = frontier(replace(problem, minutes=None))
    if minutes is not None and any(rung.minutes > minutes for rung in found):
        found = frontier(problem)
    if not found:
        raise hindered(ready, money, minutes, solve(problem))
    states = [state_with(ready.state, ready.options_of(choice)) for choice in found]
    reached = zip(states, scores_of_many(states, ready.weights), strict=True)
    return tuple(
        checked(ready, choice, choice.cost, minutes, reached=one)
        for choice, one in zip(found, reached, strict=True)
    )


def priced_anew(ready: Prepared, choice: Choice) -> Choice:
    """A choice found where some things are not for sale, with its figures at the prices there are."""
    figures = evaluate(ready.base, choice.options).figures
    return replace(choice, figures=figures, bound=figures.value)
