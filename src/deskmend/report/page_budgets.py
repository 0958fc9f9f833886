"""What more money buys: the next purchase, how long saving for it takes, and all budgets in one table."""

from __future__ import annotations

from dataclasses import dataclass

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr, trn
from deskmend.planning.budget_plans import BudgetPlans
from deskmend.planning.compare import Rung, step_between
from deskmend.report.numbers import minutes_text, money_text, strain_text
from deskmend.report.step_words import size_text, step_title

__all__ = ["BudgetRow", "Fold", "budget_rows", "more_money"]


@dataclass(frozen=True)
class BudgetRow:
    """One budget in the table of all budgets."""

    number: int
    money: str
    left: str
    taken: str
    work: str
    comes: tuple[str, ...]
    goes: tuple[str, ...]
    anew: tuple[str, ...]


@dataclass(frozen=True)
class Fold:
    """One line in plain words, with details to fold out.

    Attributes
    ----------
    line : str
        What is said.
    details : tuple of str
        What stands behind it; empty where nothing folds out.
    """

    line: str
    details: tuple[str, ...] = ()


def budget_rows(plans: BudgetPlans) -> list[BudgetRow]:
    """Every budget at which the plan changes, with what changes.

    Parameters
    ----------
    plans : BudgetPlans
        The plans.
    """
    comparison = plans.comparison
    out = []
    last: Rung | None = None
    for number, rung in enumerate(comparison.rungs):
        change = step_between(last, rung)
        out.append(
            BudgetRow(
                number,
                money_text(rung.cost, comparison.currency),
                strain_text(rung.strain),
                strain_text(comparison.before.total - rung.strain),
                minutes_text(rung.minutes),
                tuple(step_title(option, comparison.state_before) for option in change.enters),
                tuple(step_title(option, comparison.state_before) for option in change.leaves),
                tuple(
                    tr(
                        "{thing}, until here {size}",
                        thing=step_title(one.after, comparison.state_before),
                        size=size_text(one.before),
                    )
                    for one in change.resized
                ),
            )
        )
        last = rung
    return out


def more_money(plans: BudgetPlans, number: int, catalog: Catalog) -> list[Fold]:
    """What the next purchase is after one budget, and how long saving for it takes.

    Parameters
    ----------
    plans : BudgetPlans
        The plans.
    number : int
        Position of the budget, from 0.
    catalog : Catalog
        For titles.
    """
    rungs, currency = plans.comparison.rungs, plans.comparison.currency
    if number + 1 >= len(rungs):
        if plans.comparison.at:
            return [Fold(tr("No dearer plan was asked for."))]
        return [Fold(tr("More money takes no more strain off here."))]
    here, then = rungs[number], rungs[number + 1]
    change = step_between(here, then)
    state = plans.comparison.state_before
    details = [
        *(tr("New: {thing}.", thing=step_title(option, state)) for option in change.enters),
        *(tr("Set anew: {thing}.", thing=step_title(one.after, state)) for one in change.resized),
        *(tr("No longer used: {thing}.", thing=step_title(option, state)) for option in change.leaves),
    ]
    out = [
        Fold(
            tr(
                "Next to buy: a plan for {money} in all. That is {more} more. It takes off {gain} more "
                "a day.",
                money=money_text(then.cost, currency),
                more=money_text(then.cost - here.cost, currency),
                gain=strain_text(here.strain - then.strain, 2),
            ),
            tuple(details),
        )
    ]
    waiting = _waiting(plans, number)
    return out if waiting is None else [*out, waiting]


def _waiting(plans: BudgetPlans, number: int) -> Fold | None:
    """How many months of saving each dearer plan takes, from the money in hand."""
    if not plans.saving:
        return None
    currency, saving = plans.comparison.currency, plans.saving
    in_hand = plans.budget or 0
    months = [
        (rung, max(0, -(-(rung.cost - in_hand) // saving))) for rung in plans.comparison.rungs[number + 1 :]
    ]
    each = money_text(saving, currency)
    if months[0][1] == 0:
        line = tr("You have the money for it now.")
    else:
        line = trn(
            "If you save {each} a month, you can pay for it after {count} month.",
            "If you save {each} a month, you can pay for it after {count} months.",
            months[0][1],
            each=each,
        )
    details = tuple(
        trn(
            "{money}: after {count} month; strain left {left}",
            "{money}: after {count} months; strain left {left}",
            count,
            money=money_text(rung.cost, currency),
            left=strain_text(rung.strain),
        )
        for rung, count in months
    )
    return Fold(line, details)
