"""Column generation: columns are asked for where prices call for them, the bound they prove, and again.

Few people: the Pareto set of each at listed prices, columns best at the prices of what is scarce, at last
every column that could still matter, so that the answer is exact.  Many people: prices from a sample, then
columns best at these and at nearby prices for everybody, until bound and value meet closely enough.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from deskmend.choice.problem import IntArray
from deskmend.grants.engine.arrays import (
    Aim,
    AllocationProblem,
    Assignment,
    ColumnArrays,
    column_arrays,
    market_of,
    most_possible,
    relief_aim,
)
from deskmend.grants.engine.branching import Branching
from deskmend.grants.engine.master import KnownShare, price_rounding, share_known
from deskmend.grants.engine.prices import (
    Duals,
    DualSearch,
    PricePoint,
    column_prices,
    net_values,
    paid_out,
    people_total,
)
from deskmend.grants.people.columns import EVERY_COST, Applicant, Column, CostBand, Pool, PriceQuery
from deskmend.grants.terms import FundTerms, PersonalRules, Progress, Watch, packs_of, personal_rules
from deskmend.measures import Minor
from deskmend.progress import Deadline

__all__ = ["FULL_UP_TO", "PROVEN_UP_TO", "AimResult", "ColumnSearch", "free_columns", "short_of"]

PROVEN_UP_TO = 40
"""People up to which answers are exact even where packs couple people."""
FULL_UP_TO = 120
"""People up to which everybody's Pareto set at listed prices is asked for."""
QUICKLY_ASKED = 300
"""People up to which a round of asking everybody takes little."""
CAPPED_UP_TO = 300
"""People up to which every column is asked for of those whose best one lies above the cap."""
SAMPLE = 24
"""People asked for their Pareto set where there are more than `FULL_UP_TO`."""
NEARBY = ((1, 6), (2, 3), (1, 1), (3, 2))
"""Prices of money tried for everybody, as parts of what the sample suggests."""
PASSES = 20
"""Most rounds of asking everybody for columns best at new prices, where no way of ordering is left open."""
MANY_PASSES = 60
"""The same where deep tiers leave many ways of ordering open; twice as many up to `QUICKLY_ASKED` people."""


@dataclass(frozen=True, eq=False)
class PricedColumns:
    """What came in when everybody was asked for columns best at some prices.

    The problem holds at least one best column of each person; those above the cap count with no less strain
    than it allows.
    """

    problem: AllocationProblem
    duals: Duals
    columns: Mapping[str, Sequence[Column]]

    @property
    def best(self) -> IntArray:
        """What each person's best column leaves when it is paid for, times `Duals.unit`."""
        best, _ = self.problem.arrays.best_of_each(net_values(self.problem, self.duals))
        return best

    @property
    def people_total(self) -> int:
        """The same for everybody together."""
        return people_total(self.problem, self.duals)

    def total_under(self, terms: FundTerms) -> int:
        """Bound of the value of every allocation under other terms of the fund, times `Duals.unit`."""
        market = market_of(terms, self.problem.arrays.items)
        return self.people_total + paid_out(self.problem.aim, terms, self.duals, market)

    def bound_under(self, terms: FundTerms) -> int:
        """The same in whole units of value."""
        return self.total_under(terms) // self.duals.unit


class PricingOracle:
    """Asks everybody for the columns best at given prices, and keeps what is known of some for good."""

    def __init__(
        self,
        people: Sequence[Applicant],
        pool: Pool,
        terms: FundTerms,
        items: Sequence[str],
        rules: PersonalRules,
    ) -> None:
        self.people = people
        self.pool = pool
        self.terms = terms
        self.items = items
        self.rules = rules
        self._all_columns: dict[str, Sequence[Column]] = {}
        self._too_many: set[str] = set()

    def ask(self, aim: Aim, duals: Duals) -> PricedColumns:
        """Ask everybody: for one best column where that is enough, otherwise for the Pareto set."""
        one_each = aim.is_relief_alone and not self.terms.bounds_one_person
        found: dict[str, Sequence[Column]] = {}
        for question in self._questions(duals):
            if one_each:
                best = self.pool.best(question.prices, question.strain_weights, question.money_weight)
                found.update((one, [column]) for one, column in best.items())
            else:
                found.update(self.pool.columns(question.prices, list(question.strain_weights)))
        priced = self._priced(aim, duals, found)
        if not self.rules.caps or len(self.people) > CAPPED_UP_TO:
            return priced
        return self._within_the_caps(priced)

    def best_at(self, duals: Sequence[Duals]) -> Iterator[tuple[str, Column]]:
        """Ask everybody for the best column at several prices at once."""
        for found in self.pool.best_at([question for one in duals for question in self._questions(one)]):
            yield from found.items()

    def _questions(self, duals: Duals) -> Iterator[PriceQuery]:
        """One question for each pot: its people see the same prices."""
        pots: dict[int, dict[str, int]] = {}
        for one in self.people:
            if one.id not in self._all_columns:
                pots.setdefault(self.terms.pot_of(one), {})[one.id] = duals.unit * one.weight
        for pot, weights in sorted(pots.items()):
            money, prices = column_prices(duals, self.terms, self.items, pot)
            yield PriceQuery(prices, weights, money)

    def _priced(self, aim: Aim, duals: Duals, columns: Mapping[str, Sequence[Column]]) -> PricedColumns:
        known = {**columns, **self._all_columns}
        arrays = column_arrays(self.people, known, self.items, self.terms, self.rules, relaxed=True)
        return PricedColumns(AllocationProblem(arrays, aim, self.terms), duals, known)

    def _within_the_caps(self, priced: PricedColumns) -> PricedColumns:
        """Take in all columns of those whose best one at these prices lies above their cap.

        A Pareto set at other than listed prices need not hold the best column within the cap; of these people
        every column is then known, once and for all prices.
        """
        arrays = priced.problem.arrays
        _, numbers = arrays.best_of_each(net_values(priced.problem, priced.duals))
        asked = {
            one.id: one
            for one, listed in zip(self.people, arrays.listed[numbers].tolist(), strict=True)
            if listed > self.rules.caps.get(one.id, listed) and one.id not in self._too_many
        }
        if not asked:
            return priced
        for one, found in self.pool.every(self.items, dict.fromkeys(asked, EVERY_COST)).items():
            if found is None:
                self._too_many.add(one)
                continue
            self._all_columns[one] = [
                column
                for column in found
                if self.rules.admitted(asked[one], column.strain, column.cost(self.terms.base)) is not None
            ]
        return self._priced(priced.problem.aim, priced.duals, priced.columns)


@dataclass(frozen=True)
class AimResult:
    """What came of an aim."""

    chosen: Mapping[str, Column] | None
    """Plan of each person; None where nothing that keeps every limit was found."""
    value: int
    spent: Minor
    bound: int
    """Value that no allocation exceeds."""
    impossible: bool
    """Whether it is proven that nothing keeps every limit."""
    duals: Duals
    """Last prices."""
    items: tuple[str, ...]
    """Items whose packs coupled people."""


def free_columns(people: Iterable[Applicant]) -> dict[str, Column]:
    """What everybody has when nothing is bought."""
    return {one.id: Column((), one.strain_free, one.score_free) for one in people}


def short_of(chosen: Mapping[str, Column], terms: FundTerms, items: Sequence[str]) -> set[str]:
    """Items whose stock these plans exceed, though their packs were not taken to couple people."""
    needed = packs_of(chosen.values())
    return {item for item, most in terms.stock.items() if item not in items and needed.get(item, 0) > most}


class ColumnSearch:
    """Columns known of every person, and the search for more; people are sorted by id."""

    def __init__(
        self,
        people: Sequence[Applicant],
        pool: Pool,
        terms: FundTerms,
        deadline: Deadline,
        watch: Watch | None = None,
    ) -> None:
        self.people = people
        self.pool = pool
        self.terms = terms
        self.deadline = deadline
        self.watch = watch
        self.exact = len(people) <= PROVEN_UP_TO
        self.rules = PersonalRules()
        self.known: dict[str, dict[object, Column]] = {one.id: {} for one in people}
        for one, column in free_columns(people).items():
            self._learn(one, [column])
        self.best: AimResult | None = None
        """What an interrupt should still give of the aim in work."""
        self.answered: AimResult | None = None
        """What came of the last aim, within every limit."""
        self.bound_under: Callable[[FundTerms], int] | None = None
        """What no allocation for the last aim exceeds under other terms of the fund."""
        self.most_relief_bound: int | None = None
        self.silent = False
        self._full = False
        self._scarce: set[str] = set()
        self._everything: set[tuple[str, ...]] = set()
        self._oracle: PricingOracle | None = None

    def tell(self, stage: str, value: int | None = None, bound: int | None = None) -> None:
        """Say where the search stands."""
        if self.watch is not None and not self.silent:
            self.watch(Progress(stage, value, bound))

    def again(self, terms: FundTerms) -> ColumnSearch:
        """Begin a silent search with another fund, stock or shares, from all that is known."""
        other = ColumnSearch(self.people, self.pool, terms, self.deadline)
        other.known, other.rules, other._full = self.known, self.rules, self._full
        other._everything = self._everything
        other.silent = True
        return other

    def learn(self, found: Mapping[str, Sequence[Column]]) -> None:
        """Take in plans of people."""
        for one, columns in found.items():
            self._learn(one, columns)

    def _learn(self, one: str, columns: Iterable[Column]) -> bool:
        """Take in columns of a person; say whether any was new."""
        known = self.known[one]
        before = len(known)
        for column in columns:
            key = (column.packs, column.strain, column.score)
            # the free column was known without the fixes that lead to it
            if key not in known or known[key].choice is None:
                known[key] = column
        return len(known) > before

    def ask_everybody(self) -> None:
        """Get the Pareto set of each person at listed prices, and what cap and floor mean for them."""
        if self._full:
            return
        self.tell("plans")
        found = self.pool.columns({}, [one.id for one in self.people])
        for one, columns in found.items():
            self._learn(one, columns)
        self.rules = personal_rules(self.people, found, self.terms)
        self._full = True

    def arrays(self, items: Sequence[str]) -> ColumnArrays:
        """Write all columns known into arrays."""
        known = {one: list(columns.values()) for one, columns in self.known.items()}
        return column_arrays(self.people, known, items, self.terms, self.rules)

    def _problem(self, aim: Aim, items: Sequence[str]) -> AllocationProblem:
        return AllocationProblem(self.arrays(items), aim, self.terms)

    def solve(self, aim: Aim, cheapest: bool = True) -> AimResult:
        """Find the best allocation for an aim, and among equals the cheapest one where that is asked.

        Stock that turns out scarce is taken in as needed, and from the start by later aims.
        """
        if not aim.is_relief_alone or self.terms.bounds_one_person or len(self.people) <= FULL_UP_TO:
            self.ask_everybody()
        coupled = (*self.terms.tiers, *self.terms.spare)
        tiered = {item for item in coupled if item in self.terms.base}
        self.best = None
        while True:
            items = sorted(tiered | self._scarce)
            result = self._solve_over(aim, items, cheapest)
            if result.chosen is None:
                return result
            scarce = short_of(result.chosen, self.terms, items)
            if not scarce:
                if aim.is_relief_alone:
                    self.most_relief_bound = result.bound
                self.answered = result
                return result
            self._scarce |= scarce
            # what takes more than there is of something is no answer, however good
            self.best = None

    def _solve_over(self, aim: Aim, items: Sequence[str], cheapest: bool) -> AimResult:
        if self._full and not items:
            problem = self._problem(aim, items)
            # nothing couples people but money: every Pareto set at listed prices holds all that matters
            few = len(self.people) <= FULL_UP_TO
            share = share_known(problem, self.deadline, few, cheapest=cheapest)
            self.bound_under = PricedColumns(problem, share.duals, {}).bound_under
            return self._result(problem, share)
        if self._full and self.exact and not aim.is_relief_alone:
            return self._over_everything(aim, items, cheapest)
        if not self._full:
            self._from_sample(items)
        if self.exact:
            return self._by_prices(aim, items, cheapest)
        return self._by_branching(aim, items)

    def _result(self, problem: AllocationProblem, share: KnownShare) -> AimResult:
        result = self._noted(problem, share)
        self.tell("share", None if share.best is None else share.best.value, result.bound)
        return result

    def _noted(self, problem: AllocationProblem, share: KnownShare) -> AimResult:
        """Write a share as a result; of one aim the best value and the lowest bound are kept."""
        best, bound = share.best, share.bound
        rest = share.impossible, share.duals, problem.arrays.items
        if best is None:
            return AimResult(None, 0, 0, bound, *rest)
        result = AimResult(problem.chosen(best), best.value, best.spent, max(bound, best.value), *rest)
        before = self.best
        if before is None:
            self.best = result
        else:
            kept = result if result.value >= before.value else before
            self.best = replace(kept, bound=min(result.bound, before.bound))
        return result

    def _by_prices(self, aim: Aim, items: Sequence[str], cheapest: bool) -> AimResult:
        """Ask for columns best at prices until known columns and true bound agree, then share."""
        bound: int | None = None
        proof: PricedColumns | None = None
        point: PricePoint | None = None
        value: int | None = None
        for _ in range(PASSES):
            problem = self._problem(aim, items)
            search = DualSearch(problem, problem.market, point)
            duals = search.run()
            point = search.point
            first = price_rounding(problem, duals)
            if first is not None:
                # asking takes long, and may be broken off
                most = most_possible(aim, self.people) if bound is None else bound
                self._noted(problem, KnownShare(first, most, duals))
            priced, fresh = self._ask(aim, duals, items)
            proven = priced.bound_under(self.terms)
            if bound is None or proven < bound:
                bound, proof = proven, priced
            if first is not None:
                value = first.value if value is None else max(value, first.value)
                self._noted(problem, KnownShare(first, bound, duals))
            self.tell("bound", value, bound)
            met = value is not None and bound <= value
            if not fresh or met or self.deadline.over:
                break
        assert proof is not None
        assert bound is not None
        self.bound_under = proof.bound_under
        problem = self._problem(aim, items)
        share = share_known(problem, self.deadline, True, point, cheapest)
        result = self._result(problem, replace(share, bound=bound))
        if self.deadline.over:
            return replace(result, impossible=False)
        if result.chosen is None:
            return self._over_everything(aim, items, cheapest)
        return self._improved_to_proof(aim, items, result, proof, cheapest)

    def _by_branching(self, aim: Aim, items: Sequence[str]) -> AimResult:
        """Part the ways of ordering until bound and value are close, then share."""

        def tell(problem: AllocationProblem, best: Assignment | None, bound: int | None) -> None:
            if best is not None and bound is not None:
                self._noted(problem, KnownShare(best, bound, branching.duals))
            self.tell("bound", None if best is None else best.value, bound)

        branching = Branching(
            aim,
            self.terms,
            lambda: self.arrays(items),
            lambda duals: self._ask(aim, duals, items)[0].people_total,
            tell,
            MANY_PASSES if len(self.people) > QUICKLY_ASKED else 2 * MANY_PASSES,
            self.deadline,
        )
        best = branching.run()
        self.bound_under = branching.bound_under
        bound = most_possible(aim, self.people) if branching.bound is None else branching.bound
        # no value is negative: a bound below 0 proves that nothing keeps every limit
        share = KnownShare(best, max(bound, 0), branching.duals, impossible=bound < 0)
        return self._result(branching.problem, share)

    def bound_with(self, aim: Aim, terms: FundTerms, items: Sequence[str]) -> int:
        """Bound the value under other terms, asking everybody once for columns best at suitable prices."""
        problem = AllocationProblem(self.arrays(items), aim, terms)
        duals = DualSearch(problem, problem.market).run()
        return self._ask(aim, duals, items)[0].bound_under(terms)

    def _ask(self, aim: Aim, duals: Duals, items: Sequence[str]) -> tuple[PricedColumns, bool]:
        """Ask everybody for columns best at prices; say whether any was new."""
        priced = self._asker(items).ask(aim, duals)
        fresh = [self._learn(one, columns) for one, columns in priced.columns.items()]
        return priced, any(fresh)

    def _asker(self, items: Sequence[str]) -> PricingOracle:
        if self._oracle is None or tuple(self._oracle.items) != tuple(items):
            self._oracle = PricingOracle(self.people, self.pool, self.terms, items, self.rules)
        return self._oracle

    def _from_sample(self, items: Sequence[str]) -> None:
        """Ask a sample for its Pareto sets and everybody for columns best at nearby prices."""
        sample = self.people[:: max(1, len(self.people) // SAMPLE)]
        self.tell("plans")
        for one, columns in self.pool.columns({}, [person.id for person in sample]).items():
            self._learn(one, columns)
        share = len(sample) / len(self.people)
        small = replace(
            self.terms,
            fund=round(self.terms.fund * share),
            group_cap={group: round(most * share) for group, most in self.terms.group_cap.items()},
            stock={item: max(1, round(most * share)) for item, most in self.terms.stock.items()},
            spare={item: round(packs * share) for item, packs in self.terms.spare.items()},
            tiers={
                item: tuple(
                    (max(2 + number, round(first * share)), price)
                    for number, (first, price) in enumerate(tiers)
                )
                for item, tiers in self.terms.tiers.items()
            },
        )
        known = {person.id: list(self.known[person.id].values()) for person in sample}
        arrays = column_arrays(sample, known, items, small, self.rules)
        problem = AllocationProblem(arrays, relief_aim(), small)
        duals = DualSearch(problem, problem.market).run()
        self.tell("prices")
        near = [replace(duals, money=max(1, duals.money * up // down)) for up, down in NEARBY]
        for one, column in self._asker(items).best_at(near):
            self._learn(one, [column])

    def _improved_to_proof(
        self, aim: Aim, items: Sequence[str], result: AimResult, proof: PricedColumns, cheapest: bool
    ) -> AimResult:
        """Take in every column that could make the answer better, and prove it.

        In something better, what each person falls short of their best column at these prices adds up to no
        more than the gap: no column beyond the whole gap is in it.
        """
        duals = proof.duals
        gap = proof.total_under(self.terms) - duals.unit * result.value
        bands = {}
        for one, most in zip(self.people, proof.best.tolist(), strict=True):
            money, prices = column_prices(duals, self.terms, items, self.terms.pot_of(one))
            weight = duals.unit * one.weight
            bands[one.id] = CostBand(prices, weight, money, weight * one.strain_free - most + gap)
        self.tell("prove", result.value, result.bound)
        if not self._take_in(items, bands):
            return result
        proven = self._shared_exactly(aim, items, cheapest)
        if result.value > proven.value:
            return replace(result, bound=max(result.value, proven.bound))
        return proven

    def _over_everything(self, aim: Aim, items: Sequence[str], cheapest: bool) -> AimResult:
        """Take in every column there is and prove the answer."""
        if tuple(items) not in self._everything:
            self.tell("plans")
            if not self._take_in(items, dict.fromkeys(self.known, EVERY_COST)):
                return self._by_branching(aim, items)
            self._everything.add(tuple(items))
        return self._shared_exactly(aim, items, cheapest)

    def _take_in(self, items: Sequence[str], bands: Mapping[str, CostBand]) -> bool:
        """Ask for every column within bands; say whether all of them came."""
        found = self.pool.every(items, bands)
        for one, columns in found.items():
            self._learn(one, columns or ())
        return all(columns is not None for columns in found.values())

    def _shared_exactly(self, aim: Aim, items: Sequence[str], cheapest: bool) -> AimResult:
        problem = self._problem(aim, items)
        share = share_known(problem, self.deadline, True, cheapest=cheapest)
        return self._result(problem, share)
