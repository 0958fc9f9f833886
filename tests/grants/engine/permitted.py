"""Cap and floor read from their definition, without the engine's code."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms


def permitted(person: Applicant, plans: Sequence[Column], terms: FundTerms) -> list[Column]:
    within = [
        plan
        for plan in plans
        if all(
            plan.cost(terms.base) <= cap for cap in (terms.cap, terms.caps.get(person.id)) if cap is not None
        )
        and plan.strain <= person.strain_free
    ]
    decided = terms.ceiling.get(person.id, person.strain_free)
    if terms.floor is None:
        return [plan for plan in within if plan.strain <= decided]
    frontier = [
        plan
        for plan in within
        if plan.strain < person.strain_free
        and not any(
            (other.cost(terms.base), other.strain) != (plan.cost(terms.base), plan.strain)
            and other.cost(terms.base) <= plan.cost(terms.base)
            and other.strain <= plan.strain
            for other in within
        )
    ]
    if not frontier:
        return [plan for plan in within if plan.strain <= decided]
    frontier.sort(key=lambda plan: plan.cost(terms.base))
    enough = [plan for plan in frontier if plan.cost(terms.base) >= terms.floor]
    least = (enough or frontier[-1:])[0]
    return [plan for plan in within if plan.strain <= min(least.strain, decided)]
