"""Why people are given nothing, each reason held against every allocation there is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import Allocation, FundTerms

from .brute import every_best
from .listed import ListedPool
from .one_piece import value
from .permitted import permitted

PLENTY = 10**7


def helping(person: Applicant, pool: ListedPool, terms: FundTerms) -> list[Column]:
    """Plans that cost something and take strain off, or bring under the limit."""
    return [
        plan
        for plan in pool.people[person.id].plans
        if plan.packs
        and (
            plan.strain < person.strain_free
            or (plan.strain == person.strain_free and terms.limit is not None and value(person, plan, terms))
        )
    ]


def hold_reasons(applicants: list[Applicant], pool: ListedPool, terms: FundTerms, found: Allocation) -> None:
    """Fail where somebody unserved is left out, or where what is said of one is not so."""
    waiting = {one.id: one for one in found.waiting}
    assert set(waiting) == {one for one, column in found.chosen.items() if not column.packs}
    people = {one.id: one for one in applicants}

    def served(one: str, **other: Any) -> set[bool]:
        """Whether somebody is given something in the best allocations under other terms."""
        return {one in ids for ids in every_best(applicants, pool, replace(terms, **other))[1]}

    rich = terms.fund + PLENTY * 100
    for name, one in waiting.items():
        helps = helping(people[name], pool, terms)
        may = [plan for plan in permitted(people[name], pool.people[name].plans, terms) if plan in helps]
        assert (one.why == "no_help") == (not helps)
        assert (one.why == "cap") == (bool(helps) and not may)
        assert (one.fund is not None) == (one.why in ("money", "share") and one.not_at is not None)
        if one.why == "money" or one.fund is not None:
            assert one.fund is not None
            assert one.not_at is not None
            assert terms.fund <= one.not_at < one.fund
            assert True in served(name, fund=one.fund)
            assert False in served(name, fund=one.not_at)
        if one.why == "share" and one.fund is None:
            assert served(name, fund=rich) == {False}
            assert True in served(name, fund=rich, group_share={})
        if one.why == "share" and one.fund is not None:
            assert True in served(name, group_share={})
        others = {group: most for group, most in terms.group_cap.items() if group != people[name].group}
        if one.why == "group_cap":
            assert False in served(name, fund=rich)
            assert True in served(name, fund=rich, group_cap=others)
        if one.why == "stock":
            assert False in served(name, fund=rich, group_cap=others)
            assert True in served(name, fund=rich, group_cap=others, stock={})
        assert one.why not in ("missed", "not_asked", "broken_off", "weight")
