"""Why a person is given what they are given, in one sentence."""

from __future__ import annotations

from deskmend.grants.fund import FundShared
from deskmend.grants.plans_told import GivenPlan
from deskmend.grants.terms import Waiting
from deskmend.messages import tr
from deskmend.report.numbers import money_text, strain_text

__all__ = ["reason_of"]


def reason_of(plan: GivenPlan, waiting: Waiting | None, cost: int, shared: FundShared) -> str:
    """Say why a person is given what they are given.

    Parameters
    ----------
    plan : GivenPlan
        What the person is given.
    waiting : Waiting or None
        The person's entry in the waiting list.
    cost : int
        What the person was given in all rounds [minor units].
    shared : FundShared
        The fund.
    """
    less = strain_text(plan.strain_free - plan.strain_after)
    if plan.bill.lines:
        return tr("Served: what is bought takes {less} strain-hours a day more off.", less=less)
    if waiting is not None:
        if waiting.fund is None:
            return tr("Not served: the rules or the stock leave nothing that would help.")
        fund = money_text(waiting.fund + shared.given.spent, shared.currency)
        if waiting.proven:
            return tr("Waiting: served from a fund of {fund}.", fund=fund)
        return tr("Waiting: served from a fund of about {fund} (estimate).", fund=fund)
    if cost:
        return tr("Served before; nothing for sale would take more off.")
    return tr("Nothing for sale would take more off than what is free.")
