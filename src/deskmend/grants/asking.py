"""Asking everybody for plans best at given prices, and what the answers prove of each person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from deskmend.grants.aims import Aim
from deskmend.grants.duals import Duals, paid_out, pot_prices, scores
from deskmend.grants.market import segments
from deskmend.grants.person import OPEN_BAND, Applicant, Asked, Column, Pool
from deskmend.grants.rules import PersonalRules
from deskmend.grants.sheet import IntArray, Sheet, exact_sum, make_sheet
from deskmend.grants.terms import Terms

__all__ = ["Answer", "Asking", "pot_of"]

CAPPED_UP_TO = 300
"""People up to which every plan is asked for of those whose best plan lies above the cap."""


def pot_of(person: Applicant, terms: Terms) -> int:
    """Number of the pot that pays for a person: 1 + place of the group among shares, 0 for all others."""
    shares = sorted(terms.group_share)
    return 1 + shares.index(person.group) if person.group in shares else 0


@dataclass(frozen=True, eq=False)
class Answer:
    """Plans best at some prices.

    Attributes
    ----------
    aim : Aim
        What is maximised.
    duals : Duals
        The prices.
    sheet : Sheet
        At least one best plan of each person; plans above the cap count with no less strain than it allows.
    columns : mapping of str to sequence of Column
        All plans that came in.
    """

    aim: Aim
    duals: Duals
    sheet: Sheet
    columns: Mapping[str, Sequence[Column]]

    def best(self, terms: Terms) -> IntArray:
        """What each person's best plan leaves at most when it is paid for, times `Duals.unit`."""
        best, _ = self.sheet.best_of_each(scores(self.sheet, self.aim, terms, self.duals))
        return np.asarray(best, dtype=np.int64)

    def people_total(self, terms: Terms) -> int:
        """The same for everybody together."""
        return exact_sum(self.best(terms))

    def total(self, terms: Terms) -> int:
        """Bound of the value of every allocation under other terms of the fund, times `Duals.unit`."""
        market = {item: segments(terms, item) for item in self.sheet.items}
        return self.people_total(terms) + paid_out(self.aim, terms, self.duals, self.sheet.items, market)


class Asking:
    """Whom to ask, and what is known of some for good.

    Parameters
    ----------
    applicants : sequence of Applicant
        Sorted by id.
    pool : Pool
        Where plans come from.
    terms : Terms
        Listed prices, shares, cap and floor.
    items : sequence of str
        Coupling items.
    rules : PersonalRules
        Cap and floor of each person.
    """

    def __init__(
        self,
        applicants: Sequence[Applicant],
        pool: Pool,
        terms: Terms,
        items: Sequence[str],
        rules: PersonalRules,
    ) -> None:
        self.applicants = applicants
        self.pool = pool
        self.terms = terms
        self.items = items
        self.rules = rules
        self._all_plans: dict[str, Sequence[Column]] = {}
        self._too_many: set[str] = set()

    def ask(self, aim: Aim, duals: Duals, one_each: bool) -> Answer:
        """Ask everybody.

        Parameters
        ----------
        aim : Aim
            What is maximised.
        duals : Duals
            The prices.
        one_each : bool
            Ask for one best plan of each instead of the Pareto set: enough where weighted relief is the aim
            and neither cap nor floor binds.
        """
        answers: dict[str, Sequence[Column]] = {}
        for pot, people in self._by_pot().items():
            money, prices = pot_prices(duals, self.terms, self.items, pot)
            if one_each:
                weights = {one.id: duals.unit * one.weight for one in people}
                found = self.pool.best(prices, weights, money)
                answers.update((one, [column]) for one, column in found.items())
            else:
                answers.update(self.pool.columns(prices, [one.id for one in people]))
        answer = self._answer(aim, duals, answers)
        if self.terms.cap is None or one_each or len(self.applicants) > CAPPED_UP_TO:
            return answer
        return self._within_the_cap(answer, self.terms.cap)

    def best_at(self, duals: Sequence[Duals]) -> Iterator[tuple[str, Column]]:
        """Ask everybody for the best plan at several prices at once.

        Parameters
        ----------
        duals : sequence of Duals
            The prices.

        Yields
        ------
        (str, Column)
            Who, and a plan that is best at one of the prices.
        """
        questions = []
        for one in duals:
            for pot, people in self._by_pot().items():
                money, prices = pot_prices(one, self.terms, self.items, pot)
                questions.append(
                    Asked(prices, {person.id: one.unit * person.weight for person in people}, money)
                )
        for found in self.pool.best_at(questions):
            yield from found.items()

    def _answer(self, aim: Aim, duals: Duals, columns: Mapping[str, Sequence[Column]]) -> Answer:
        known = {**columns, **self._all_plans}
        sheet = make_sheet(self.applicants, known, self.items, self.terms, self.rules, relaxed=True)
        return Answer(aim, duals, sheet, known)

    def _by_pot(self) -> dict[int, list[Applicant]]:
        pots: dict[int, list[Applicant]] = {}
        for one in self.applicants:
            if one.id not in self._all_plans:
                pots.setdefault(pot_of(one, self.terms), []).append(one)
        return dict(sorted(pots.items()))

    def _within_the_cap(self, answer: Answer, cap: int) -> Answer:
        """Take in all plans of those whose best plan at these prices lies above the cap.

        A Pareto set at other than listed prices need not hold the best plan within the cap; of these people
        every plan is then known, once and for all prices.
        """
        _, number = answer.sheet.best_of_each(scores(answer.sheet, answer.aim, self.terms, answer.duals))
        above = (answer.sheet.listed[number] > cap).tolist()
        asked = [
            one.id
            for one, over in zip(self.applicants, above, strict=True)
            if over and one.id not in self._too_many
        ]
        if not asked:
            return answer
        people = {one.id: one for one in self.applicants}
        for one, found in self.pool.every(self.items, dict.fromkeys(asked, OPEN_BAND)).items():
            if found is None:
                self._too_many.add(one)
                continue
            self._all_plans[one] = [
                plan
                for plan in found
                if self.rules.admitted(people[one], plan.strain, plan.cost(self.terms.base)) is not None
            ]
        return self._answer(answer.aim, answer.duals, answer.columns)
