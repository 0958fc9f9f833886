"""Plans are asked for where they are needed: prices, the plans best at them, the bound they prove, and again.

Few people: the Pareto set of each at listed prices, plans best at the prices of what is scarce, at last every
plan that could still matter, so that the answer is exact.  Many people: prices from a sample, then plans best
at these and at nearby prices for everybody, until bound and value meet closely enough.

Asking everybody for plans best at given prices, and what the answers prove of each person.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from deskmend.grants.engine.arrays import Aim, IntArray, Sheet, exact_sum, make_sheet, relief_of
from deskmend.grants.engine.branching import Branching
from deskmend.grants.engine.master import PROVEN_UP_TO, first_share, share_sheet
from deskmend.grants.engine.master import Completed as Outcome
from deskmend.grants.engine.price_search import DualSearch
from deskmend.grants.engine.prices import (
    Duals,
    Segment,
    Shared,
    Task,
    needed_packs,
    paid_out,
    pot_prices,
    scores,
    segments,
)
from deskmend.grants.people.columns import OPEN_BAND, Applicant, Asked, Band, Column, Pool
from deskmend.grants.terms import PersonalRules, Progress, Terms, Watch, personal_rules

__all__ = ["Answer", "Asking", "Found", "Search", "pot_of"]

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


FULL_UP_TO = 120
"""People up to which everybody's Pareto set at listed prices is asked for."""
SAMPLE = 24
"""People asked for their Pareto set where there are more."""
NEARBY = ((1, 6), (2, 3), (1, 1), (3, 2))
"""Prices of money tried for everybody, as parts of what the sample suggests."""
PASSES = 20
"""Most rounds of asking everybody for plans best at new prices, where no way of ordering is left open."""
MANY_PASSES = 60
"""The same where deep tiers leave many ways of ordering open; twice as many up to `QUICKLY_ASKED` people."""
QUICKLY_ASKED = 300
"""People up to which a round of asking everybody takes little."""


@dataclass(frozen=True)
class Found:
    """What came of an aim.

    Attributes
    ----------
    chosen : mapping of str to Column or None
        Plan of each person; None where nothing that keeps every limit was found.
    value, spent : int
        Sum of the aim's values, and money [minor units].
    bound : int
        Value that no allocation exceeds.
    impossible : bool
        Whether it is proven that nothing keeps every limit.
    duals : Duals or None
        Last prices.
    items : tuple of str
        Items whose packs coupled people.
    """

    chosen: Mapping[str, Column] | None
    value: int
    spent: int
    bound: int
    impossible: bool = False
    duals: Duals | None = None
    items: tuple[str, ...] = ()


class Search:
    """Plans known of every person, and the search for more.

    Parameters
    ----------
    applicants : sequence of Applicant
        Sorted by id.
    pool : Pool
        Where plans come from.
    terms : Terms
        Fund, market, rules.
    watch : callable or None
        Told of progress.
    deadline : float or None
        End of the time allowed, on the monotonic clock [s].
    """

    def __init__(
        self,
        applicants: Sequence[Applicant],
        pool: Pool,
        terms: Terms,
        watch: Watch | None = None,
        deadline: float | None = None,
    ) -> None:
        self.applicants = applicants
        self.pool = pool
        self.terms = terms
        self.watch = watch
        self.deadline = deadline
        self.known: dict[str, dict[object, Column]] = {one.id: {} for one in applicants}
        for one in applicants:
            self._learn(one.id, [Column((), one.strain_free, one.score_free)])
        self.rules = PersonalRules()
        self.full = False
        self.everything: set[tuple[str, ...]] = set()
        self.exact = len(applicants) <= PROVEN_UP_TO
        self.scarce: set[str] = set()
        self.asking: Asking | None = None
        self.cheapest = True
        self.silent = False
        self.best: Found | None = None
        self.bound_under: Callable[[Terms], int] | None = None
        self.most_relief_bound: int | None = None

    @property
    def out_of_time(self) -> bool:
        """Whether the time allowed is over."""
        return self.deadline is not None and time.monotonic() >= self.deadline

    def tell(self, stage: str, value: int | None = None, bound: int | None = None) -> None:
        """Say where the search stands."""
        if self.watch is not None and not self.silent:
            self.watch(Progress(stage, value, bound))

    def _learn(self, one: str, columns: Iterable[Column]) -> bool:
        known = self.known[one]
        before = len(known)
        for column in columns:
            key = (column.packs, column.strain, column.score)
            if key not in known or known[key].choice is None:
                known[key] = column
        return len(known) > before

    def ask_everybody(self) -> None:
        """Get the Pareto set of each person at listed prices, and what cap and floor mean for them."""
        if self.full:
            return
        self.tell("plans")
        answers = self.pool.columns({}, [one.id for one in self.applicants])
        for one, columns in answers.items():
            self._learn(one, columns)
        self.rules = personal_rules(self.applicants, {one: list(answers[one]) for one in answers}, self.terms)
        self.full = True

    def sheet(self, items: Sequence[str]) -> Sheet:
        """Write all plans known into arrays."""
        plans = {one: list(columns.values()) for one, columns in self.known.items()}
        return make_sheet(self.applicants, plans, items, self.terms, self.rules)

    def market(self, items: Sequence[str]) -> dict[str, tuple[Segment, ...]]:
        """List the ways of ordering each coupling item."""
        return {item: segments(self.terms, item) for item in items}

    def solve(self, aim: Aim, cheapest: bool = True) -> Found:
        """Find the best allocation for an aim; stock that turns out scarce is taken in as needed.

        Parameters
        ----------
        aim : Aim
            What to maximise.
        cheapest : bool
            Whether, among equals, money counts.
        """
        self.cheapest = cheapest
        by_relief = aim.value is relief_of and not aim.rows
        if not by_relief or self.terms.cap is not None or self.terms.floor is not None:
            self.ask_everybody()
        elif len(self.applicants) <= FULL_UP_TO:
            self.ask_everybody()
        tiered = {item for item in self.terms.tiers if item in self.terms.base}
        items = sorted(tiered | self.scarce)
        self.best = None
        while True:
            found = self._solve_over(aim, items, by_relief)
            if found.chosen is None:
                return found
            needed = needed_packs(found.chosen.values())
            scarce = [
                item
                for item, most in self.terms.stock.items()
                if item not in items and needed.get(item, 0) > most
            ]
            if not scarce:
                if by_relief:
                    self.most_relief_bound = found.bound
                return found
            # what was scarce once is taken in from the start by later aims
            self.scarce.update(scarce)
            items = sorted(tiered | self.scarce)

    def _solve_over(self, aim: Aim, items: Sequence[str], by_relief: bool) -> Found:
        if self.full and not items:
            task = Task(self.sheet(items), aim, self.terms)
            few = self.exact or len(self.applicants) <= FULL_UP_TO
            outcome = share_sheet(task, {}, self.deadline, few, cheapest=self.cheapest)
            self.bound_under = self._bound_by(Answer(aim, outcome.duals, task.sheet, {}))
            return self._note(task, outcome, items)
        if self.full and self.exact and not by_relief:
            return self._over_everything(aim, items)
        if not self.full:
            self._from_sample(items)
        if self.exact:
            return self._by_prices(aim, items, by_relief)
        return self._by_branching(aim, items, by_relief)

    def _note(self, task: Task, outcome: Outcome, items: Sequence[str], bound: int | None = None) -> Found:
        shared = outcome.shared
        low = outcome.bound if bound is None else bound
        found = Found(
            None if shared is None else self._chosen(task, shared),
            0 if shared is None else shared.value,
            0 if shared is None else shared.spent,
            low if shared is None else max(low, shared.value),
            outcome.impossible,
            outcome.duals,
            tuple(items),
        )
        self.tell("share", None if shared is None else shared.value, found.bound)
        self._remember(found)
        return found

    def _remember(self, found: Found) -> None:
        """Keep what an interrupt should still give: the best value and the lowest bound of this aim."""
        best = self.best
        if found.chosen is None:
            return
        if best is None or found.value >= best.value:
            self.best = found if best is None else replace(found, bound=min(found.bound, best.bound))
        else:
            self.best = replace(best, bound=min(found.bound, best.bound))

    @staticmethod
    def _chosen(task: Task, shared: Shared) -> dict[str, Column]:
        sheet = task.sheet
        return {
            one.id: sheet.columns[int(number)]
            for one, number in zip(sheet.people, shared.numbers, strict=True)
        }

    def _by_prices(self, aim: Aim, items: Sequence[str], by_relief: bool) -> Found:
        """Ask for plans best at prices until known plans and true bound agree, then share."""
        market = self.market(items)
        bound: int | None = None
        proof: Answer | None = None
        search: DualSearch | None = None
        shared_value: int | None = None
        for _ in range(PASSES):
            task = Task(self.sheet(items), aim, self.terms)
            point = None if search is None else search.point
            search = DualSearch(task.sheet, aim, self.terms, market, point)
            _, duals = search.run()
            first = first_share(task, duals)
            if first is not None and (shared_value is None or first.value > shared_value):
                shared_value = first.value
            answer, fresh = self._ask(aim, duals, items, by_relief)
            proven = answer.total(self.terms) // duals.unit
            if bound is None or proven < bound:
                bound, proof = proven, answer
            if first is not None:
                chosen = self._chosen(task, first)
                self._remember(Found(chosen, first.value, first.spent, max(bound, first.value)))
            self.tell("bound", shared_value, bound)
            met = shared_value is not None and bound <= shared_value
            if not fresh or met or self.out_of_time:
                break
        if proof is not None:
            self.bound_under = self._bound_by(proof)
        task = Task(self.sheet(items), aim, self.terms)
        outcome = share_sheet(task, market, self.deadline, True, start=search)
        found = self._note(task, outcome, items, bound)
        if self.out_of_time or proof is None:
            return replace(found, impossible=False)
        if found.chosen is None:
            return self._over_everything(aim, items)
        return self._every(aim, items, found, proof)

    def _by_branching(self, aim: Aim, items: Sequence[str], by_relief: bool) -> Found:
        """Part the ways of ordering until bound and value are close, then share."""
        market = self.market(items)

        def go_on(task: Task, shared: Shared | None, bound: int | None) -> bool:
            if shared is not None and bound is not None:
                chosen = self._chosen(task, shared)
                self._remember(Found(chosen, shared.value, shared.spent, max(bound, shared.value)))
            self.tell("bound", None if shared is None else shared.value, bound)
            return not self.out_of_time

        passes = MANY_PASSES if len(self.applicants) > QUICKLY_ASKED else 2 * MANY_PASSES
        branching = Branching(
            aim,
            self.terms,
            items,
            market,
            lambda: self.sheet(items),
            lambda duals: self._ask(aim, duals, items, by_relief)[0].people_total(self.terms),
            passes,
        )
        branching.run(go_on, self.deadline)
        shared = branching.finish(self.deadline, market)
        self.bound_under = branching.bound_under
        bound = self._at_most(aim) if branching.bound is None else branching.bound
        value, spent = (0, 0) if shared is None else (shared.value, shared.spent)
        chosen = None if shared is None else self._chosen(branching.task, shared)
        # no value is negative: a bound below 0 proves that nothing keeps every limit
        found = Found(chosen, value, spent, max(bound, value), bound < 0, branching.last, tuple(items))
        self.tell("share", value if shared is not None else None, found.bound)
        self._remember(found)
        return found

    def _at_most(self, aim: Aim) -> int:
        """What no allocation exceeds whatever it costs: no strain left, or everybody counted."""
        if aim.value is relief_of:
            return sum(one.weight * one.strain_free for one in self.applicants)
        return len(self.applicants)

    @staticmethod
    def _bound_by(answer: Answer) -> Callable[[Terms], int]:
        """Let prices and everybody's best plans at them bound the value under another fund."""
        return lambda terms: answer.total(terms) // answer.duals.unit

    def bound_with(self, aim: Aim, terms: Terms, items: Sequence[str]) -> int:
        """Bound the value under other terms, asking everybody once for plans best at suitable prices."""
        market = {item: segments(terms, item) for item in items}
        _, duals = DualSearch(self.sheet(items), aim, terms, market).run()
        answer, _ = self._ask(aim, duals, items, aim.value is relief_of and not aim.rows)
        return answer.total(terms) // duals.unit

    def _ask(self, aim: Aim, duals: Duals, items: Sequence[str], by_relief: bool) -> tuple[Answer, bool]:
        """Ask everybody for plans best at prices; say whether any plan was new."""
        one_each = by_relief and self.terms.cap is None and self.terms.floor is None
        answer = self._asking(items).ask(aim, duals, one_each)
        fresh = [self._learn(one, columns) for one, columns in answer.columns.items()]
        return answer, any(fresh)

    def _asking(self, items: Sequence[str]) -> Asking:
        if self.asking is None or tuple(self.asking.items) != tuple(items):
            self.asking = Asking(self.applicants, self.pool, self.terms, items, self.rules)
        return self.asking

    def _from_sample(self, items: Sequence[str]) -> None:
        """Ask a sample for its Pareto sets and everybody for plans best at nearby prices."""
        step = max(1, len(self.applicants) // SAMPLE)
        sample = self.applicants[::step]
        self.tell("plans")
        for one, columns in self.pool.columns({}, [person.id for person in sample]).items():
            self._learn(one, columns)
        share = len(sample) / len(self.applicants)
        small = replace(
            self.terms,
            fund=round(self.terms.fund * share),
            stock={item: max(1, round(most * share)) for item, most in self.terms.stock.items()},
            tiers={
                item: tuple(
                    (max(2 + number, round(first * share)), price)
                    for number, (first, price) in enumerate(tiers)
                )
                for item, tiers in self.terms.tiers.items()
            },
        )
        plans = {person.id: list(self.known[person.id].values()) for person in sample}
        sheet = make_sheet(sample, plans, items, small, self.rules)
        aim = Aim(relief_of)
        market = {item: segments(small, item) for item in items}
        _, duals = DualSearch(sheet, aim, small, market).run()
        self.tell("prices")
        near = [replace(duals, money=max(1, duals.money * up // down)) for up, down in NEARBY]
        for one, column in self._asking(items).best_at(near):
            self._learn(one, [column])

    def _every(self, aim: Aim, items: Sequence[str], found: Found, proof: Answer) -> Found:
        """Take in every plan that could make the answer better, and prove it."""
        duals = proof.duals
        slack = proof.total(self.terms) - duals.unit * found.value
        bands = {}
        for one, most in zip(self.applicants, proof.best(self.terms).tolist(), strict=True):
            money, prices = pot_prices(duals, self.terms, items, pot_of(one, self.terms))
            weight = duals.unit * one.weight
            bands[one.id] = Band(prices, weight, money, weight * one.strain_free - most + slack)
        self.tell("prove", found.value, found.bound)
        if not self._take_in(items, bands):
            return found
        return self._shared_exactly(aim, items, found)

    def _over_everything(self, aim: Aim, items: Sequence[str]) -> Found:
        """Take in every plan there is and prove the answer."""
        key = tuple(items)
        if key not in self.everything:
            self.tell("plans")
            if not self._take_in(items, {one.id: OPEN_BAND for one in self.applicants}):
                return self._by_branching(aim, items, False)
            self.everything.add(key)
        return self._shared_exactly(aim, items, None)

    def _take_in(self, items: Sequence[str], bands: Mapping[str, Band]) -> bool:
        answers = self.pool.every(items, bands)
        for one, columns in answers.items():
            self._learn(one, columns or ())
        return all(columns is not None for columns in answers.values())

    def _shared_exactly(self, aim: Aim, items: Sequence[str], found: Found | None) -> Found:
        task = Task(self.sheet(items), aim, self.terms)
        outcome = share_sheet(task, self.market(items), self.deadline, True, cheapest=self.cheapest)
        proven = self._note(task, outcome, items)
        if found is not None and found.value > proven.value:
            return replace(found, bound=max(found.value, proven.bound))
        return proven
