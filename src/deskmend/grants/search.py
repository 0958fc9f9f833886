"""Plans are asked for where they are needed: prices, the plans best at them, the bound they prove, and again.

Few people: the Pareto set of each at listed prices, plans best at the prices of what is scarce, at last every
plan that could still matter, so that the answer is exact.  Many people: prices from a sample, then plans best
at these and at nearby prices for everybody, until bound and value meet closely enough.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from deskmend.grants.aims import Aim, relief_of
from deskmend.grants.asking import Answer, Asking, pot_of
from deskmend.grants.branching import Branching
from deskmend.grants.complete import PROVEN_UP_TO, Outcome, share_sheet
from deskmend.grants.dual_search import DualSearch
from deskmend.grants.duals import Duals, pot_prices
from deskmend.grants.first_share import first_share
from deskmend.grants.market import Segment, needed_packs, segments
from deskmend.grants.person import OPEN_BAND, Applicant, Band, Column, Pool
from deskmend.grants.rules import PersonalRules, personal_rules
from deskmend.grants.sharing import Shared, Task
from deskmend.grants.sheet import Sheet, make_sheet
from deskmend.grants.terms import Progress, Terms, Watch

__all__ = ["Found", "Search"]

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
            self._learn(one.id, [Column((), one.strain_free, one.rosa_free)])
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
            key = (column.packs, column.strain, column.rosa)
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
